"""The search over shared decisions: relax the most promising one, look for a choice near its bound, settle it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from landwise.choosing.optimum.core import Core
from landwise.choosing.optimum.linear import Case, Prices, Relaxed, Relaxer
from landwise.choosing.optimum.model import slack
from landwise.choosing.optimum.settling import LARGE, Settler
from landwise.choosing.optimum.terms import Found, Progress, Terms, worth

ROOMS = (1e-4, 1e-3, 1e-2)  # shares of the bound above it within which a first choice is looked for
FIRST_GAP = 1e-4  # gap at which the first choice is good enough to cut off other decisions with
SHARE_OF_TIME = 0.1  # of what is left that one attempt at a first choice may take


def branch(cases: Sequence[Case], value: float, terms: Terms, progress: Progress | None) -> Found:
    """The best choice over all decisions.

    Parameters
    ----------
    cases : sequence of Case
        One for each decision.
    value : float
        Of a choice known already; infinite if there is none.
    terms : Terms
    progress : callable, optional
        Called with (best value so far, bound).
    """
    relaxer, stopping = Relaxer(cases[0]), _Stopping(cases[0])
    found = Found(value, np.array([case.bound(relaxer.prices) for case in cases]))
    relaxed: dict[int, Relaxed] = {}
    large = bool(cases[0].once.masks) and len(cases) * cases[0].cost.size >= LARGE
    while waiting := found.open(terms.gap):
        if terms.over():
            found.finished = False
            break
        n = waiting[0]
        if n not in relaxed:
            if stopping.stops(cases[n]):
                found.floor[n] = np.inf
                continue
            one = relaxer.relax(cases[n], terms.over, enough=found.value)
            if one.broken and stopping.learns(cases[n], terms.over):
                found.floor[n] = np.inf
                continue
            found.floor[n] = max(found.floor[n], one.bound)
            found.take(worth(cases[n], one.choice, terms), n, one.choice)
            if not relaxed:
                # What the first decision's limits and charges are worth says much of the others.
                found.floor = np.maximum(found.floor, [case.bound(relaxer.prices) for case in cases])
            relaxed[n] = one
            if large and len(relaxed) == 1 and found.open(terms.gap):
                Settler(cases, n, one, relaxer, found, terms).run(progress)
            if not np.isfinite(found.value):
                _first(cases[n], n, one, found, terms)
        else:
            settle(cases[n], n, relaxed[n].prices, found, terms)
        if progress is not None and np.isfinite(found.value):
            progress(found.value, min(found.value, float(found.floor.min())))
    return found


class _Stopping:
    """Prices that show that a decision can't keep its limits, kept for the next decision."""

    def __init__(self, case: Case):
        self.known = Prices.none(len(case.use), len(case.once.masks), len(case.cost))

    def stops(self, case: Case) -> bool:
        """Whether the prices known show it."""
        return bool(self.known.rows.any()) and _bare(case).bound(self.known) > _tiny(case, self.known)

    def learns(self, case: Case, over: Callable[[], bool]) -> bool:
        """Whether some prices show it: what is left of the relaxation without any money."""
        bare = _bare(case)
        one = Relaxer(bare).relax(bare, over)
        if one.bound > _tiny(case, one.prices):
            self.known = one.prices
            return True
        return False


def _bare(case: Case) -> Case:
    """The decision without money: what its limits alone allow."""
    none = np.zeros(len(case.once.due))
    return replace(
        case, cost=np.where(np.isfinite(case.cost), 0.0, np.inf), base=0.0, once=replace(case.once, due=none)
    )


def _tiny(case: Case, prices: Prices) -> float:
    """What the slack of the limits is worth at prices, and rounding on top."""
    return 10 * float(sum(p * slack(float(c)) for p, c in zip(prices.rows, case.capacity, strict=True))) + 1e-12


def _first(case: Case, n: int, one: Relaxed, found: Found, terms: Terms) -> None:
    """A choice near the bound, to measure the other decisions by."""
    core = Core(case, one.prices, terms.outline, terms.most_outlines)
    scale = abs(one.bound) or 1.0
    gap = max(terms.gap, FIRST_GAP)
    for room in ROOMS:
        if terms.over():
            return
        seconds = SHARE_OF_TIME * terms.left()
        aim = one.bound + room * scale
        near = np.isfinite(case.cost) & (core.extra <= room * scale)
        keep = near & one.made if room == ROOMS[0] and (near & one.made).any(axis=1).all() else near
        better, _, finished = core.among(keep, aim, gap, seconds, terms.over, terms.enumerate_below)
        if better is not None:
            found.take(worth(case, better, terms), n, better)
            return
        if finished and keep is near:
            found.floor[n] = max(found.floor[n], aim)


def settle(case: Case, n: int, prices: Prices, found: Found, terms: Terms) -> None:
    """Search a decision to its end."""
    found.solved += 1
    core = Core(case, prices, terms.outline, terms.most_outlines)
    better, bound, finished = core.search(found.value, terms.gap, terms.left(), terms.over, terms.enumerate_below)
    found.settled.add(n)
    found.floor[n] = max(found.floor[n], bound)
    if better is not None:
        found.take(worth(case, better, terms), n, better)
    found.finished = found.finished and finished
