"""Cases worked on the local cores: a process that dies takes no other case with it."""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence

from landwise.graphs import send_read_only_mappings
from landwise.sweeping.cases import FAULT, Given, Row, Worker
from landwise.sweeping.plan import Case

Batch = tuple[Case, ...]
Stop = Callable[[], bool]
WAITING = 3  # batches handed out for each process
DIED = {"answer": FAULT, "message": "the process that worked it ended, twice"}

_worker: list[Worker] = []


def _start(given: Given) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that was started by hand
    send_read_only_mappings()
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _worker[:] = [Worker(given)]


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however it went."""
    from multiprocessing import connection, parent_process

    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _work(batch: Batch) -> list[tuple[int, Row]]:
    return _worker[0].work(batch)


def run_local(given: Given, batches: Iterator[Batch], jobs: int, stop: Stop) -> Iterator[tuple[int, Row]]:
    """The row of every case, with its number, as they are done.

    Parameters
    ----------
    given : Given
    batches : iterator of tuples of Case
        Read as they are needed.
    jobs : int
        Processes; with one, the cases are worked in this process.
    stop : callable
        True ends it after the cases at work.
    """
    if jobs == 1:
        worker = Worker(given)
        for batch in batches:
            for case in batch:
                if stop():
                    return
                yield from worker.work((case,))
        return
    suspects: deque[Batch] = deque()
    while not stop():
        lost = yield from _pool(given, batches, jobs, stop)
        suspects.extend((case,) for batch in lost for case in batch)
        if not suspects:
            return
        # One of them ended its process, nobody knows which: each alone, so that it is known.
        while suspects and not stop():
            one = suspects.popleft()
            if (yield from _pool(given, iter([one]), 1, stop)) and (yield from _pool(given, iter([one]), 1, stop)):
                yield one[0].number, dict(DIED)


def _pool(
    given: Given, batches: Iterator[Batch], jobs: int, stop: Stop
) -> Generator[tuple[int, Row], None, list[Batch]]:
    """Rows from a pool until all is done or one process ends; returns the batches that were lost with it."""
    from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    send_read_only_mappings()
    pool = ProcessPoolExecutor(jobs, get_context("spawn"), _start, (given,))
    left: dict[Future[list[tuple[int, Row]]], Batch] = {}
    lost: list[Batch] = []
    try:
        while not stop():
            while len(left) < jobs * WAITING and not lost:
                batch = next(batches, None)
                if batch is None:
                    break
                try:
                    left[pool.submit(_work, batch)] = batch
                except BrokenProcessPool:
                    lost.append(batch)
            if not left:
                break
            done, _ = wait(left, timeout=0.2, return_when=FIRST_COMPLETED)
            for one in done:
                batch = left.pop(one)
                try:
                    rows: Sequence[tuple[int, Row]] = one.result()
                except BrokenProcessPool:
                    lost.append(batch)
                else:
                    yield from rows
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
    return lost
