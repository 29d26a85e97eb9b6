"""On what terms a search over shared decisions runs, and what it has found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from landwise.choosing.optimum.core import EXACT, opened
from landwise.choosing.optimum.linear import Case
from landwise.choosing.optimum.model import Array, Index, slack

Progress = Callable[[float, float], None]


@dataclass(frozen=True)
class Terms:
    """On what terms the search runs: gap, seconds left (a call), whether it is over, and what is listed outright."""

    gap: float
    left: Callable[[], float]
    over: Callable[[], bool]
    enumerate_below: int
    outline: Index
    most_outlines: int | None


@dataclass
class Found:
    """The best choice so far, and what each decision can't fall below."""

    value: float
    floor: Array
    choice: Index | None = None
    place: int = -1
    solved: int = 0
    finished: bool = True
    settled: set[int] = field(default_factory=set)

    def take(self, value: float, place: int, choice: Index) -> None:
        """A choice that is kept if it is better than the best so far."""
        if value < self.value:
            self.value, self.place, self.choice = value, place, choice

    def open(self, gap: float) -> list[int]:
        """Decisions that may still hold something better, the most promising first."""
        near = self.value - max(EXACT, gap) * abs(self.value) if np.isfinite(self.value) else np.inf
        return [int(n) for n in np.argsort(self.floor, kind="stable") if self.floor[n] < near and n not in self.settled]


def worth(case: Case, choice: Index, terms: Terms) -> float:
    """What a choice costs; infinite where it breaks a limit."""
    at = np.arange(len(choice))
    outlines = terms.outline[at, choice]
    if terms.most_outlines is not None and len(np.unique(outlines)) > terms.most_outlines:
        return float("inf")
    due = opened(case.once.masks, choice)
    for use, on_top, most in zip(case.use, case.once.uses, case.capacity, strict=True):
        if use[at, choice].sum() + on_top @ due > most + slack(float(most)):
            return float("inf")
    return float(case.cost[at, choice].sum() + case.base + case.once.due @ due)
