"""Searches on several foils side by side: what all of them ask for next is worked at once, as rows of one model.

A search is a generator. It holds its own state, yields what it needs worked (an `Around` or a `Rated`) and goes on
with the answer; one that has ended drops out. NumPy's work on few numbers costs nearly as much as on many, so rows of
several foils together take less than one after the other. What a search is given does not depend on those beside it.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from landwise.designing.curves import Curve
from landwise.designing.frame import Frame, Table, measured
from landwise.designing.margins import Rates, worked
from landwise.designing.points import Centres, centres_of
from landwise.designing.stacked import Line

Array = NDArray[np.float64]
T = TypeVar("T")
ALIKE = 1.5  # times the fewest designs asked for, up to which others go with them: all are filled up to the most


@dataclass(frozen=True)
class Around:
    """Asks for design points of one design on one foil, a `Centres` for each curve; `near` are those of a like case."""

    foil_um: float
    design: Array
    pastes: tuple[Curve, ...]
    near: tuple[Centres, ...] = ()

    @property
    def designs(self) -> Array:
        """The design as a table of one."""
        return self.design[None]


@dataclass(frozen=True)
class Rated:
    """Asks for the defects of designs on one foil, under curves with their design points: their table and rates."""

    foil_um: float
    balance: float
    designs: Array
    cases: tuple[tuple[Curve, Centres], ...]

    @property
    def pastes(self) -> tuple[Curve, ...]:
        """The curves."""
        return tuple(paste for paste, _ in self.cases)


Ask = Around | Rated
Search = Generator[Ask, Any, T]  # answers are `tuple[Centres, ...]` to `Around`, `tuple[Table, Rates]` to `Rated`


def alone(frame: Frame, line: Line, search: Search[T]) -> T:
    """What one search comes to."""
    (found,) = together(frame, line, [search])
    return found


def together(frame: Frame | None, line: Line, searches: Sequence[Search[T]]) -> list[T]:
    """What searches of one option on one line come to, in their order; without a frame none may ask for anything."""
    waiting: dict[int, Ask] = {}
    ended: dict[int, T] = {}

    def go_on(number: int, answer: object) -> None:
        try:
            waiting[number] = searches[number].send(answer)
        except StopIteration as end:
            waiting.pop(number, None)
            ended[number] = end.value

    for number in range(len(searches)):
        go_on(number, None)
    while waiting:
        assert frame is not None
        turn = _turn(waiting)
        for number, answer in zip(turn, _answered(frame, line, list(turn.values())), strict=True):
            go_on(number, answer)
    return [ended[number] for number in range(len(searches))]


def _turn(waiting: Mapping[int, Ask]) -> dict[int, Ask]:
    """Who is answered next: those with few designs, so that the others wait for them to catch up; `Around` last."""
    rated = {number: ask for number, ask in waiting.items() if isinstance(ask, Rated)}
    if not rated:
        return dict(waiting)
    most = ALIKE * min(len(ask.designs) for ask in rated.values())
    return {number: ask for number, ask in rated.items() if len(ask.designs) <= most}


def _answered(frame: Frame, line: Line, asks: Sequence[Ask]) -> Sequence[object]:
    if isinstance(asks[0], Around):
        return _around(frame, line, [ask for ask in asks if isinstance(ask, Around)])
    return _rated(frame, line, [ask for ask in asks if isinstance(ask, Rated)])


def _around(frame: Frame, line: Line, asks: Sequence[Around]) -> list[tuple[Centres, ...]]:
    found: dict[int, tuple[Centres, ...]] = {}
    # From a like case fewer rounds are gone.
    for near in (True, False):
        its = {number: ask for number, ask in enumerate(asks) if bool(ask.near) == near}
        if its:
            some = list(its.values())
            starts = [one for ask in some for one in ask.near]
            centres = centres_of(
                frame, _table(frame, some), _foils(some), line, [p for ask in some for p in ask.pastes], starts
            )
            found |= {number: centres[rows] for number, rows in zip(its, _rows(some), strict=True)}
    return [found[number] for number in range(len(asks))]


def _rated(frame: Frame, line: Line, asks: Sequence[Rated]) -> list[tuple[Table, Rates]]:
    table = _table(frame, asks)
    cases = [case for ask in asks for case in ask.cases]
    balance = asks[0].balance if len(asks) == 1 else _each(asks, [ask.balance for ask in asks])[..., None]
    rates = worked(frame, table, _foils(asks), line, cases, balance=balance)
    if len(asks) == 1:
        return [(table, rates)]
    found = []
    for ask, rows in zip(asks, _rows(asks), strict=True):
        count = len(ask.designs)
        found.append((_own(table, rows.start, count), rates.of_rows(rows, count)))
    return found


def _own(table: Table, row: int, count: int) -> Table:
    """What one ask's designs measure."""
    return table.taken(lambda values: values[row, :count])


def _rows(asks: Sequence[Ask]) -> list[slice]:
    """Which rows of all curves are an ask's."""
    ends = np.cumsum([len(ask.pastes) for ask in asks]).tolist()
    return [slice(end - len(ask.pastes), end) for ask, end in zip(asks, ends, strict=True)]


def _each(asks: Sequence[Ask], values: Sequence[float]) -> Array:
    """A value of every ask as a column over all curves."""
    return np.repeat(np.array(values), [len(ask.pastes) for ask in asks])[:, None]


def _foils(asks: Sequence[Ask]) -> float | Array:
    return asks[0].foil_um if len(asks) == 1 else _each(asks, [ask.foil_um for ask in asks])


def _table(frame: Frame, asks: Sequence[Ask]) -> Table:
    """What the designs of each ask measure, a row for each of its curves; fewer designs are filled up by the last."""
    if len(asks) == 1:
        return measured(frame, asks[0].designs)
    number: dict[bytes, int] = {}
    kept: list[Array] = []
    most = max(len(ask.designs) for ask in asks)
    places = np.empty((len(asks), most), dtype=np.int64)
    for k, ask in enumerate(asks):
        for j, design in enumerate(ask.designs):
            key = design.tobytes()
            if key not in number:
                number[key] = len(kept)
                kept.append(design)
            places[k, j] = number[key]
        places[k, len(ask.designs) :] = places[k, len(ask.designs) - 1]
    # The same design is often asked for on several foils, and measures the same.
    every = measured(frame, np.array(kept))
    at = np.repeat(places, [len(ask.pastes) for ask in asks], axis=0)
    return every.taken(lambda values: values[at])
