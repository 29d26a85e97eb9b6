"""Cases handed to an existing Dask cluster: the same cases, the same rows.

A worker of the cluster needs the same landwise; the studies and the files they name travel with the cases. What a
worker was at when it was lost goes to another.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

from landwise.errors import FileError, LandwiseError
from landwise.extras import CLUSTER
from landwise.sweeping.cases import FAULT, Given, Row, Worker
from landwise.sweeping.plan import Case
from landwise.untyped import Untyped

Batch = tuple[Case, ...]
WAITING = 4  # batches handed out for each thread of a worker
SECONDS = 10  # to reach the scheduler

_held = threading.local()  # a worker's threads work side by side: each keeps its own geometry


def work_batch(given: Given, batch: Batch) -> list[tuple[int, Row]]:
    """The rows of a batch, in a worker of the cluster."""
    token = (given.version, tuple(source.digest for source in given.sources), given.axes)
    if getattr(_held, "token", None) != token:
        _held.worker, _held.token = Worker(given), token
    worker: Worker = _held.worker
    return worker.work(batch)


def run_cluster(
    given: Given, batches: Iterator[Batch], address: str, stop: Callable[[], bool]
) -> Iterator[tuple[int, Row]]:
    """The row of every case, with its number, as they are done.

    Raises
    ------
    ExtraError
        If the extra [cluster] is not installed.
    InputError
        If a worker holds another landwise.
    FileError
        If no scheduler answers.
    """
    CLUSTER.need("--on")
    from distributed import Client, as_completed

    try:
        client = Client(address, timeout=SECONDS, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise FileError(
            "no scheduler answers", file=address, found=str(error) or type(error).__name__, expected="tcp://host:8786"
        ) from None
    try:
        yield from _run(client, as_completed, given, batches, stop)
    finally:
        client.close(timeout=SECONDS)


def _run(
    client: Untyped, as_completed: Untyped, given: Given, batches: Iterator[Batch], stop: Callable[[], bool]
) -> Iterator[tuple[int, Row]]:
    left: dict[object, Batch] = {}
    done = as_completed(loop=client.loop, with_results=False, raise_errors=False)
    singles: list[Batch] = []

    def hand_out() -> None:
        threads = max(1, sum(client.nthreads().values()))
        while len(left) < threads * WAITING:
            batch = singles.pop() if singles else next(batches, None)
            if batch is None:
                return
            future = client.submit(work_batch, given, batch, pure=False)
            left[future] = batch
            done.add(future)

    hand_out()
    while left and not stop():
        future = next(done)
        batch = left.pop(future)
        if future.status == "finished":
            yield from future.result()
        else:
            error = future.exception()
            if isinstance(error, LandwiseError):
                raise error
            if len(batch) == 1:
                yield batch[0].number, {"answer": FAULT, "message": f"lost on the cluster: {error}"}
            singles += [(case,) for case in batch] if len(batch) > 1 else []
        hand_out()
    client.cancel(list(left))
