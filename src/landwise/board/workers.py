"""Work shared between several processes: the same work, the same numbers, sooner."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterable, Iterator
from types import TracebackType
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from landwise.disk import Disk
from landwise.graphs import send_read_only_mappings
from landwise.memory import keep_on_disk, kept_on

if TYPE_CHECKING:  # loaded where processes are started
    from concurrent.futures import Future, ProcessPoolExecutor

S = TypeVar("S")
P = TypeVar("P")
T = TypeVar("T")

_held: list[object] = []  # what this process was prepared to work with


# what a caller's own functions take, in another process
def _start(prepare: Callable[[Any], object], given: object, disk: Disk | None) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that was started by hand
    send_read_only_mappings()
    keep_on_disk(disk)
    _held[:] = [prepare(given)]  # prepared once a process: its caches are what makes it quick


# what a caller's own functions take, in another process
def _run(work: Callable[[Any, P], T], piece: P) -> T:
    return work(_held[0], piece)


class Helpers(Generic[S]):
    """Processes that work beside this one: started when they are first asked, ended with their `with` block.

    At its end what one of them is at is waited for; what none has begun is dropped.

    Parameters
    ----------
    prepare : callable
        Makes what each of them works with, from what is given; a function of a module.
    given : object
        What travels to them.
    count : int
        How many, beside this process; with none, nothing can be asked of them.

    Notes
    -----
    Processes are started afresh, so a script that uses this keeps its work under `if __name__ == "__main__"`.
    """

    # what a caller's own function takes, in another process
    def __init__(self, prepare: Callable[[Any], S], given: object, count: int) -> None:
        self.count = count
        self._started = prepare, given
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Helpers[S]:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def at_most(self, count: int) -> None:
        """Fewer of them, where there is too little for all; said before the first is asked."""
        self.count = min(self.count, count)

    @property
    def there(self) -> bool:
        """Whether they were asked before: another piece then costs no start."""
        return self._pool is not None

    def begin(self, work: Callable[[S, P], T], piece: P) -> Future[T]:
        """One of them works a piece; `work` is a function of a module."""
        if self._pool is None:
            from concurrent.futures import ProcessPoolExecutor
            from multiprocessing import get_context

            send_read_only_mappings()
            given = *self._started, kept_on()
            self._pool = ProcessPoolExecutor(self.count, get_context("spawn"), _start, given)
        return self._pool.submit(_run, work, piece)

    def shared_out(
        self, work: Callable[[S, P], T], pieces: Iterable[P], own: S, stop: Callable[[], bool]
    ) -> Iterator[tuple[P, T]]:
        """Every piece and its outcome, in the order in which they are done; this process works its share of them.

        Parameters
        ----------
        work : callable
            Does one piece; a function of a module.
        pieces : iterable
            Taken in their order; this process takes one whenever no other is done.
        own : object
            What this process works with.
        stop : callable
            True ends it early.
        """
        from concurrent.futures import FIRST_COMPLETED, wait

        begun = {self.begin(work, piece): piece for piece in pieces}
        try:
            while begun and not stop():
                done = [one for one in begun if one.done()]
                for one in done:
                    yield begun.pop(one), one.result()
                if done:
                    continue
                # What can still be taken back no helper has looked at yet.
                taken = next((one for one in begun if one.cancel()), None)
                if taken is None:
                    wait(begun, timeout=0.2, return_when=FIRST_COMPLETED)
                else:
                    piece = begun.pop(taken)
                    yield piece, work(own, piece)
        finally:
            for one in begun:
                one.cancel()
