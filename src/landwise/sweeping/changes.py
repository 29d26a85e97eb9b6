"""Where the choice changes: which input moves which part, between which of its values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.sweeping.journal import Journal
from landwise.sweeping.plan import Plan
from landwise.sweeping.tables import parts_of

MOST_MAPPED = 1_000_000  # cases of one study that are read for the map
ANSWERS = ("decided", "equal", "not decided")
Codes = NDArray[np.int16]


@dataclass(frozen=True)
class Chosen:
    """The choices of one study's cases, as numbers.

    Parameters
    ----------
    parts, packages : tuple of str
        First references, and every package that is chosen anywhere.
    codes : array of int, (cases, parts)
        Which package; -1 where the case is not finished or has no choice.
    answers : array of int, (cases, parts)
        Place in `ANSWERS`; -1 where there is none.
    read, whole : int
        Cases that were read, of how many.
    costs : array of float, (cases,)
        Money per board; nan where there is no choice.
    """

    parts: tuple[str, ...]
    packages: tuple[str, ...]
    codes: Codes
    answers: Codes
    read: int
    whole: int
    costs: NDArray[np.float64]

    @property
    def moving(self) -> tuple[int, ...]:
        """The parts whose package is not the same in every case."""
        return tuple(p for p in range(len(self.parts)) if len(set(self.codes[:, p].tolist()) - {-1}) > 1)


@dataclass(frozen=True)
class Move:
    """A part that takes another package between two neighbouring values of one input.

    `times` of `of` neighbouring pairs of cases; `equal` of those lie between choices that are both equal within what is
    known, so that the money hardly differs.
    """

    part: str
    axis: int
    before: str
    after: str
    low: str
    high: str
    times: int
    of: int
    equal: int


def chosen_of(plan: Plan, journal: Journal, source: int) -> Chosen:
    """Read the choices of one study's cases back."""
    parts = parts_of(plan, source)
    whole = plan.per_source
    read = min(whole, MOST_MAPPED)
    codes = np.full((read, len(parts)), -1, np.int16)
    answers = np.full((read, len(parts)), -1, np.int16)
    packages: dict[str, int] = {}
    costs = np.full(read, np.nan)
    for at in range(read):
        row = journal.row(plan.key(plan.case(source * whole + at)))
        if row is None:
            continue
        costs[at] = np.nan if row.get("cost") is None else row["cost"]
        for p, ref in enumerate(parts):
            name = row.get(ref)
            if name:
                codes[at, p] = packages.setdefault(name, len(packages))
                kind = row.get(f"{ref} answer")
                answers[at, p] = ANSWERS.index(kind) if kind in ANSWERS else -1
    return Chosen(parts, tuple(packages), codes, answers, read, whole, costs)


def influence(plan: Plan, chosen: Chosen) -> tuple[float, ...]:
    """For each input, how often the choice of the board changes with it, 0 to 1.

    On a grid: the share of neighbouring pairs of cases along that input whose boards differ. For spread points: how
    much of the mixture of boards one cut through that input separates, at its best cut (Gini's measure).
    """
    if plan.points is not None:
        return tuple(_separated(plan, chosen, n) for n in range(len(plan.axes)))
    if chosen.read < chosen.whole:
        return (0.0,) * len(plan.axes)
    cube = chosen.codes.reshape(*plan.shape, len(chosen.parts))
    found = []
    for n in range(len(plan.axes)):
        one, two = _pairs(cube, n)
        known = (one >= 0).any(-1) & (two >= 0).any(-1)
        differs = (one != two).any(-1) & known
        found.append(float(differs.sum() / known.sum()) if known.any() else 0.0)
    return tuple(found)


def idle(plan: Plan, chosen: Chosen) -> tuple[int, ...]:
    """Inputs that change neither a package nor the money in any case: overridden by another, or idle in this study."""
    if plan.points is not None or chosen.read < chosen.whole or not np.isfinite(chosen.costs).any():
        return ()
    cube, costs = chosen.codes.reshape(*plan.shape, len(chosen.parts)), chosen.costs.reshape(plan.shape)
    found = []
    for n in range(len(plan.axes)):
        if plan.shape[n] < 2:
            continue
        same = (cube == cube.take([0], n)).all() and np.allclose(costs, costs.take([0], n), rtol=1e-12, equal_nan=True)
        found += [n] if same else []
    return tuple(found)


def _pairs(cube: Codes, axis: int) -> tuple[Codes, Codes]:
    count = cube.shape[axis]
    return cube.take(range(count - 1), axis), cube.take(range(1, count), axis)


def _at(cube: Codes, axis: int, place: int) -> Codes:
    """The cases at one value of an axis, one row a case."""
    return cube[(slice(None),) * axis + (place,)].reshape(-1, cube.shape[-1])


def _separated(plan: Plan, chosen: Chosen, axis: int) -> float:
    assert plan.points is not None
    keep = (chosen.codes >= 0).any(axis=1)
    _, boards = np.unique(chosen.codes[keep], axis=0, return_inverse=True)
    boards = boards.ravel()
    if len(boards) < 2:
        return 0.0
    order = np.argsort(plan.points[: chosen.read][keep, axis], kind="stable")
    counts = np.zeros((len(boards), int(boards.max()) + 1))
    counts[np.arange(len(boards)), boards[order]] = 1.0
    left = counts.cumsum(axis=0)[:-1]
    whole = counts.sum(axis=0)
    right = whole - left
    size = np.arange(1, len(boards))
    mixed = size - (left**2).sum(1) / size + (len(boards) - size) - (right**2).sum(1) / (len(boards) - size)
    before = len(boards) - (whole**2).sum() / len(boards)
    return float(1 - mixed.min() / before) if before > 0 else 0.0


def moves_of(plan: Plan, chosen: Chosen) -> tuple[Move, ...]:
    """Every change of a part's package between neighbouring values on the grid, the most frequent first."""
    if plan.points is not None or chosen.read < chosen.whole:
        return ()
    cube = chosen.codes.reshape(*plan.shape, len(chosen.parts))
    sure = chosen.answers.reshape(*plan.shape, len(chosen.parts))
    found: list[Move] = []
    for n, axis in enumerate(plan.axes):
        for at in range(plan.shape[n] - 1):
            one, two = _at(cube, n, at), _at(cube, n, at + 1)
            first, second = _at(sure, n, at), _at(sure, n, at + 1)
            for p in chosen.moving:
                differs = (one[:, p] != two[:, p]) & (one[:, p] >= 0) & (two[:, p] >= 0)
                if not differs.any():
                    continue
                alike = (first[:, p] == ANSWERS.index("equal")) & (second[:, p] == ANSWERS.index("equal"))
                pairs: dict[tuple[int, int], list[int]] = defaultdict(lambda: [0, 0])
                pick = np.flatnonzero(differs)
                for a, b, same in zip(
                    one[pick, p],
                    two[pick, p],
                    alike[pick],
                    strict=True,
                ):
                    pairs[int(a), int(b)][0] += 1
                    pairs[int(a), int(b)][1] += int(same)
                for (a, b), (times, equal) in pairs.items():
                    low, high = axis.values[at].says, axis.values[at + 1].says
                    names = chosen.packages
                    found.append(
                        Move(chosen.parts[p], n, names[a], names[b], low, high, times, int(differs.size), equal)
                    )
    return tuple(sorted(found, key=lambda move: (-move.times / move.of, move.part, move.axis, move.low)))


def move_says(plan: Plan, move: Move) -> str:
    """A move in a sentence."""
    place = f"between {plan.axes[move.axis].path} {move.low} and {move.high}"
    often = "" if move.of == 1 else f", in {move.times} of {move.of} such pairs"
    equal = "; equal within what is known on both sides" if move.equal == move.times else ""
    return f"{move.part} goes from {move.before} to {move.after} {place}{often}{equal}"


def rank_axes(told: Sequence[float]) -> tuple[int, ...]:
    """Axes by their influence, the most first."""
    return tuple(sorted(range(len(told)), key=lambda n: (-told[n], n)))
