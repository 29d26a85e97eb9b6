"""Work shared between several processes: the same work, the same numbers, sooner."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from typing import Any, Generic, TypeVar

from landwise.disk import Disk
from landwise.graphs import send_read_only_mappings
from landwise.memory import keep_on_disk, kept_on

S = TypeVar("S")
T = TypeVar("T")


class _Held(Generic[S, T]):
    """What one process holds between two pieces of work."""

    work: Callable[[S, int], T]
    state: S


# what a caller's own functions prepare and return, in another process
_held: _Held[Any, Any] = _Held()


# what a caller's own functions prepare and return, in another process
def _start(prepare: Callable[[Any], S], given: object, work: Callable[[S, int], T], disk: Disk | None) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that was started by hand
    send_read_only_mappings()
    keep_on_disk(disk)
    _held.work, _held.state = work, prepare(given)  # prepared once a process: its caches are what makes it quick


# what a caller's own functions prepare and return, in another process
def _run(number: int) -> Any:
    return _held.work(_held.state, number)


def shared_out(
    # what a caller's own functions prepare and return, in another process
    prepare: Callable[[Any], S],
    given: object,
    work: Callable[[S, int], T],
    pieces: int,
    jobs: int,
    stop: Callable[[], bool],
) -> Iterator[T]:
    """The outcome of every piece of work, in the order in which they are done.

    Parameters
    ----------
    prepare : callable
        Makes what each process works with, from what is given; a function of a module.
    given : object
        What travels to the processes.
    work : callable
        Does one piece, by its number; a function of a module.
    pieces, jobs : int
        How many pieces, and how many processes.
    stop : callable
        True ends it early.

    Notes
    -----
    Processes are started afresh, so a script that uses this keeps its work under `if __name__ == "__main__"`.
    """
    from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
    from multiprocessing import get_context

    send_read_only_mappings()
    pool = ProcessPoolExecutor(jobs, get_context("spawn"), _start, (prepare, given, work, kept_on()))
    try:
        left = {pool.submit(_run, number) for number in range(pieces)}
        while left and not stop():
            done, left = wait(left, timeout=0.2, return_when=FIRST_COMPLETED)
            for one in done:
                yield one.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
