"""A neighbour in a process of its own: works what a question will need, and what may be asked next, onto the disk.

It only fills the cache that every command fills (`landwise.memory`), so answers are the same with it and without.
A process, not a thread: a slider's picture must not wait for Python to take turns with heavy arithmetic.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Literal

from landwise.disk import Disk
from landwise.errors import LandwiseError
from landwise.graphs import send_read_only_mappings
from landwise.judging.bench import Bench
from landwise.judging.buying import outlines_of
from landwise.memory import Memory, keep_on_disk
from landwise.outlines import Outline, find
from landwise.study.file import PartTable, Study

Word = tuple[Literal["help", "ahead"], list[Study]]
NICE = 10  # what is worked ahead gives way to what is asked


class Neighbour:
    """Starts its process when it is first spoken to.

    Parameters
    ----------
    folder : Path
        The cache's folder, which the asker reads.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._turn = threading.Lock()
        self._line: Connection | None = None

    def help(self, study: Study) -> None:
        """Work at this question from its other end: what the asker comes to last."""
        self._say("help", [study])

    def ahead(self, studies: Iterable[Study]) -> None:
        """When nothing else is to be done, work at these, the first ones first; the list before is dropped."""
        self._say("ahead", list(studies))

    def idle(self, seconds: float) -> bool:
        """Wait until it has nothing left to do; whether that came in time."""
        line = self._line
        return line is not None and line.poll(seconds) and bool(line.recv())

    def _say(self, word: Literal["help", "ahead"], studies: list[Study]) -> None:
        with self._turn, contextlib.suppress(OSError):  # a neighbour who is gone is no reason not to answer
            if self._line is None:
                send_read_only_mappings()
                context = get_context("spawn")
                self._line, far = context.Pipe()
                context.Process(target=_live, args=(far, str(self.folder)), name="landwise-ahead", daemon=True).start()
                far.close()
            while self._line.poll():
                self._line.recv()
            self._line.send((word, studies))


def _live(line: Connection, folder: str) -> None:
    """The other process: listens in a thread, works in the main one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that was started by hand
    if hasattr(os, "nice"):
        os.nice(NICE)
    keep_on_disk(Disk(Path(folder)))
    words: queue.Queue[Word | None] = queue.Queue()
    threading.Thread(target=_listen, args=(line, words), daemon=True).start()
    memory = Memory()
    now: deque[Callable[[], object]] = deque()
    later: Iterator[Callable[[], object]] = iter(())
    words.put(words.get())
    while True:
        while not words.empty():
            word = words.get()
            if word is None:
                return
            work = _quietly(pieces(one, memory) for one in word[1])
            if word[0] == "help":
                now = deque(reversed(list(work)))
            else:
                later = work
        piece = now.popleft() if now else next(later, None)
        if piece is not None:
            with contextlib.suppress(LandwiseError):  # who asks for it will be told
                piece()
            continue
        with contextlib.suppress(OSError):
            line.send("idle")
        words.put(words.get())  # nothing to do until somebody speaks


def _listen(line: Connection, words: queue.Queue[Word | None]) -> None:
    with contextlib.suppress(EOFError, OSError):
        while True:
            words.put(line.recv())
    words.put(None)


def _quietly(work: Iterable[Iterator[Callable[[], object]]]) -> Iterator[Callable[[], object]]:
    """Piece after piece; a study that is wrong is left to who asks for it."""
    for one in work:
        with contextlib.suppress(LandwiseError):
            yield from one


def pieces(study: Study, memory: Memory) -> Iterator[Callable[[], object]]:
    """The dear work of a question: every package on every foil, today's foil first."""
    bench = Bench.of(study, memory)
    foils = dict.fromkeys((bench.line.foil_um, *bench.line.foils_um))
    outlines = houses(study.content.part[0], bench)
    for um in foils:
        there = replace(bench, line=replace(bench.line, foil_um=um, steps_allowed=False), _worked={})
        for outline in outlines:
            yield partial(there.geometry, outline)


def houses(part: PartTable, bench: Bench) -> tuple[Outline, ...]:
    """The outlines that a part will be judged in; empty where the study will say what is missing."""
    present = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present.terminals if present else None)
    return outlines_of(part, terminals, present, bench) if terminals else ()
