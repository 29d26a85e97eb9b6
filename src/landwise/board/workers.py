"""Judging the options of a large board in several processes: the same work, the same numbers, sooner."""

from __future__ import annotations

import copyreg
import signal
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from landwise.errors import LandwiseError

if TYPE_CHECKING:
    from landwise.board.build import Builder, Judged
    from landwise.judging.results import StudyResult

WORTH = 4000  # judgements below which starting processes takes longer than it saves

_builder: Builder | None = None


def _proxy(content: dict[Any, Any]) -> Mapping[Any, Any]:
    return MappingProxyType(content)


def _reduced(content: Any) -> tuple[Callable[[dict[Any, Any]], Mapping[Any, Any]], tuple[dict[Any, Any]]]:
    return _proxy, (dict(content),)


def _send_read_only_mappings() -> None:
    """Read-only mappings travel between processes as what they hold; Python itself does not send them."""
    copyreg.pickle(MappingProxyType, _reduced)  # type: ignore[arg-type]


def _start(result: StudyResult) -> None:
    global _builder  # one builder a process: its caches are what makes it quick
    from landwise.board.build import Builder

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that was started by hand
    _send_read_only_mappings()
    _builder = Builder(result)


def _judge(p: int) -> tuple[int, Judged | None]:
    """All judgements of one part; None if there is an error, which then shows where it is wanted."""
    assert _builder is not None
    try:
        return p, _builder.judgements(p)
    except LandwiseError:
        return p, None


def judged_apart(
    result: StudyResult, parts: int, jobs: int, stop: Callable[[], bool]
) -> Iterator[tuple[int, Judged | None]]:
    """The judgements of every part, in the order in which they are done.

    Parameters
    ----------
    result : StudyResult
    parts : int
        How many parts the builder has.
    jobs : int
        How many processes.
    stop : callable
        True ends it early.

    Notes
    -----
    Processes are started afresh, so a script that uses this keeps its work under `if __name__ == "__main__"`.
    """
    from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
    from multiprocessing import get_context

    _send_read_only_mappings()
    pool = ProcessPoolExecutor(jobs, get_context("spawn"), _start, (result,))
    try:
        left = {pool.submit(_judge, p) for p in range(parts)}
        while left and not stop():
            done, left = wait(left, timeout=0.2, return_when=FIRST_COMPLETED)
            for one in done:
                yield one.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
