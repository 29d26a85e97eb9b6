"""Coverage guidance for the fuzz targets without any package: which steps from line to line an input makes anew.

Only the modules named are followed (`sys.settrace`), so that the libraries below them run at full speed. An input that
makes a step, or gets a refusal, that none before it did is worth changing further.
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from types import CodeType, FrameType, ModuleType
from typing import Any

Step = tuple[CodeType, int, int]
MOST_KEPT = 4000  # inputs
MOST_BYTES = 4096  # of one: longer ones are cut, they only cost time


class Guide:
    """Steps and refusals seen so far in some modules.

    Parameters
    ----------
    modules : iterable of module
        Those whose lines count.
    """

    def __init__(self, modules: Iterable[ModuleType]) -> None:
        self.files = {str(Path(one.__file__)) for one in modules if one.__file__}
        self.steps: set[Step] = set()
        self.refusals: set[str] = set()
        self._made: set[Step] = set()

    def _called(self, frame: FrameType, event: str, _: Any) -> Callable[..., Any] | None:
        code = frame.f_code
        if event != "call" or code.co_filename not in self.files:
            return None
        made, last = self._made, [0]

        def line(inner: FrameType, what: str, _: Any) -> Any:
            if what == "line":
                made.add((code, last[0], inner.f_lineno))
                last[0] = inner.f_lineno
            return line

        return line

    def new(self, run: Callable[[bytes], str], data: bytes) -> bool:
        """Run an input; whether it made a step or got a refusal that no input before it did.

        Parameters
        ----------
        run : callable
            Works the input and returns the refusal it got, empty if it was read.
        """
        self._made = set()
        before = sys.gettrace()
        sys.settrace(self._called)
        try:
            said = run(data)
        finally:
            sys.settrace(before)
        kind = re.sub(r"[\W\d_]+", " ", said.split(";")[0])[:80]
        fresh = not self._made <= self.steps or kind not in self.refusals
        self.steps |= self._made
        self.refusals.add(kind)
        return fresh


class Pool:
    """Inputs worth changing: the seeds, and what reached something new. Newer ones are taken more often."""

    def __init__(self, seeds: Iterable[bytes], rng: random.Random) -> None:
        self.rng, self.seeds = rng, list(seeds)
        self.kept: list[bytes] = []

    def pick(self) -> bytes:
        """One of them: half of the time the latest hundred, else any."""
        every = self.seeds + self.kept
        return self.rng.choice(self.kept[-100:] if self.kept and self.rng.random() < 0.5 else every)

    def keep(self, data: bytes) -> None:
        """Add an input; the oldest that is no seed goes when there are too many."""
        self.kept.append(data[:MOST_BYTES])
        del self.kept[:-MOST_KEPT]

    def changed(self, words: tuple[bytes, ...], statement: re.Pattern[bytes]) -> bytes:
        """An input changed by chance.

        Half of the time only whole statements and numbers are changed, so that most of it is still read; else also
        single bytes, pieces of other inputs, and words anywhere.

        Parameters
        ----------
        words : tuple of bytes
            Of the format.
        statement : pattern
            Finds the statements of the format.
        """
        rng = self.rng
        data, rough = self.pick(), rng.random() < 0.5
        for _ in range(rng.choice((1, 1, 2, 3, 5))):
            way = rng.random()
            if way < 0.35:
                data = self._renumbered(data)
            elif way < 0.7 or not rough:
                data = self._rearranged(data, words, statement)
            else:
                data = self._roughened(data, words)
        return data[:MOST_BYTES]

    def _renumbered(self, data: bytes) -> bytes:
        numbers = list(re.finditer(rb"-?\d+\.?\d*", data))
        if not numbers:
            return data
        one = self.rng.choice(numbers)
        return data[: one.start()] + _number(self.rng, one.group()) + data[one.end() :]

    def _rearranged(self, data: bytes, words: tuple[bytes, ...], statement: re.Pattern[bytes]) -> bytes:
        rng, parts, other = self.rng, statement.findall(data), statement.findall(self.pick())
        at, its = rng.randrange(len(parts) + 1), rng.randint(1, 3)
        cut = rng.randrange(len(other) + 1)
        old, way = parts[at : at + its], rng.random()
        if way < 0.35:
            parts[at:at] = [rng.choice(words)]
        elif way < 0.5:
            parts[at : at + its] = []
        elif way < 0.65:
            parts[at : at + its] = old * 2
        elif way < 0.75:
            to = rng.randrange(len(parts) + 1)
            parts[at : at + its] = []
            parts[to:to] = old
        else:
            parts[at:at] = other[cut : cut + its]
        return b"".join(parts)

    def _roughened(self, data: bytes, words: tuple[bytes, ...]) -> bytes:
        rng, changed = self.rng, bytearray(data)
        at, way = rng.randrange(len(changed) + 1), rng.random()
        if way < 0.3:
            changed[at : at + rng.randint(0, 1)] = rng.choice(words)
        elif way < 0.6:
            changed[at : at + 1] = bytes([rng.randrange(256)])
        elif way < 0.85:
            other = self.pick()
            cut = rng.randrange(len(other) + 1)
            changed[at : at + rng.randint(0, 9)] = other[cut : cut + rng.randint(0, 30)]
        else:
            del changed[at : at + rng.randint(1, 40)]
        return bytes(changed)


def _number(rng: random.Random, old: bytes) -> bytes:
    way = rng.random()
    if way < 0.4:
        return rng.choice((b"0", b"1", b"-1", b"-0", b"3", b"7", b"90", b"0.0000001", b"99999999", b"1.", b".5", b"00"))
    if way < 0.7:
        return str(int(float(old)) + rng.choice((-1, 1, 10, -10, 1000))).encode()
    return old + bytes([rng.choice(b"0123456789")]) if way < 0.85 else b"-" + old.lstrip(b"-")
