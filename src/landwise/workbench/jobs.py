"""Work that takes longer than an answer may: one piece at a time, with progress, and a way to stop it.

One worker thread does the pieces in order, so that two long runs never share the machine's memory. What a
piece made is kept in memory only, the oldest let go.
"""

from __future__ import annotations

import queue
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

from landwise.errors import LandwiseError
from landwise.untyped import Fields

State = Literal["waiting", "running", "done", "failed", "stopped"]
OVER: tuple[State, ...] = ("done", "failed", "stopped")
MOST_KEPT = 8
MOST_WAITING = 8


class Stopped(Exception):  # noqa: N818 (not an error: somebody asked for it)
    """Raised inside a piece of work that was asked to stop and has nothing to show."""


@dataclass
class Job:
    """One piece of work. `result` is set once it is done; `says` is what it does now, or why it failed."""

    id: str
    key: str
    state: State = "waiting"
    says: str = "waiting"
    part: int = 0
    whole: int = 0
    # what the work returns; who started it knows what
    result: Any = None
    error: LandwiseError | None = None
    stop_asked: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)

    def progress(self, part: int, whole: int, says: str) -> None:
        """Tell how far it is.

        Raises
        ------
        Stopped
            Once somebody asked to stop; a piece that keeps what it has found asks `stop_asked` itself.
        """
        self.part, self.whole, self.says = part, whole, says
        if self.stop_asked.is_set():
            raise Stopped

    def told(self) -> Fields:
        """The state as plain data."""
        return {"id": self.id, "state": self.state, "says": self.says, "part": self.part, "whole": self.whole}


class Jobs:
    """The queue and its one worker.

    Examples
    --------
    >>> jobs = Jobs()
    >>> job = jobs.start("sum", lambda job: 1 + 1)
    >>> job.over.wait(5), job.state, job.result
    (True, 'done', 2)
    """

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._waiting: queue.Queue[tuple[Job, Callable[[Job], object]]] = queue.Queue()
        self._worker: threading.Thread | None = None

    # what the work returns; who started it knows what
    def start(self, key: str, work: Callable[[Job], Any]) -> Job:
        """Begin a piece of work, or join the one of the same key that is under way or done.

        Raises
        ------
        LandwiseError
            If too many wait already.
        """
        with self._turn:
            for job in self._jobs.values():
                if job.key == key and job.state not in ("failed", "stopped"):
                    self._jobs.move_to_end(job.id)
                    return job
            if self._waiting.qsize() >= MOST_WAITING:
                raise LandwiseError("too much work waits already", found=f"{MOST_WAITING} runs", expected="stop one")
            job = Job(secrets.token_hex(8), key)
            self._jobs[job.id] = job
            for other in [one for one in self._jobs.values() if one.state in OVER][
                : max(0, len(self._jobs) - MOST_KEPT)
            ]:
                del self._jobs[other.id]
            if self._worker is None or not self._worker.is_alive():
                self._worker = threading.Thread(target=self._run, name="landwise-work", daemon=True)
                self._worker.start()
        self._waiting.put((job, work))
        return job

    def find(self, name: str) -> Job | None:
        """A job by its id."""
        with self._turn:
            return self._jobs.get(name)

    def of(self, key: str) -> Job | None:
        """The last job of a key."""
        with self._turn:
            return next((job for job in reversed(self._jobs.values()) if job.key == key), None)

    def stop(self, job: Job) -> None:
        """Ask a job to stop."""
        job.stop_asked.set()

    def _run(self) -> None:
        while True:
            job, work = self._waiting.get()
            if job.stop_asked.is_set():
                job.state, job.says = "stopped", "stopped before it began"
                job.over.set()
                continue
            job.state = "running"
            try:
                job.result = work(job)
                job.state = "done"
            except Stopped:
                job.state, job.says = "stopped", "stopped"
            except LandwiseError as error:
                job.state, job.says, job.error = "failed", str(error), error
            except Exception as error:
                job.state, job.says = "failed", f"a fault of landwise: {type(error).__name__}: {error}"
            job.over.set()
