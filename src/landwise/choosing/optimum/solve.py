"""The exact choice: bounds for all shared decisions, then a small search for each that a bound does not settle.

For a fixed shared decision the rest is a multiple-choice knapsack. Prices on its rows give a bound; an option
whose own price lifts the bound above the best choice known can't be in a better one and is dropped. What is
left is enumerated where it is small, or given to the integer solver.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from landwise.choosing.optimum.bounds import SMALL, Bounds, bounds
from landwise.choosing.optimum.branch import branch, settle
from landwise.choosing.optimum.core import EXACT, opened
from landwise.choosing.optimum.linear import Case, Once, Prices
from landwise.choosing.optimum.merging import Merged, merge
from landwise.choosing.optimum.model import Array, Index, Mask, Problem, Solution, slack
from landwise.choosing.optimum.terms import Found, Progress, Terms

ENUMERATE_BELOW = 20_000


def solve(
    problem: Problem,
    *,
    gap: float = EXACT,
    seconds: float = float("inf"),
    stop: Callable[[], bool] | None = None,
    progress: Progress | None = None,
    enumerate_below: int = ENUMERATE_BELOW,
    known: Sequence[Solution] = (),
) -> Solution:
    """The cheapest choice of an option for every part and of the shared decision.

    Parameters
    ----------
    problem : Problem
    gap : float
        Relative gap at which the search may end; the default is exact up to rounding.
    seconds : float
        Time after which it ends with the best found and its gap.
    stop : callable, optional
        Asked now and then; true ends the search in the same way.
    progress : callable, optional
        Called with (best value so far, bound).
    enumerate_below : int
        Up to how many combinations the last step lists them all.
    known : sequence of Solution
        Choices of a like problem to start from; those that don't keep this one's limits are passed over.

    Examples
    --------
    Two parts, two foils. The second part prints only on the thin foil, so both go there:

    >>> import numpy as np
    >>> from landwise.choosing.optimum.model import Ban, Problem
    >>> cost = np.array([[[3.0, 2.0], [4.0, 9.0]], [[3.0, 2.5], [4.0, 9.0]]])
    >>> thick_fails = np.zeros((2, 2, 2), dtype=bool)
    >>> thick_fails[0, 1] = True
    >>> found = solve(Problem(cost, np.zeros(2), np.ones((2, 2), bool), np.array([[0, 1], [2, 3]]),
    ...                       bans=(Ban("foil", thick_fails),)))
    >>> found.decision, found.choice, found.value
    (1, (1, 0), 6.5)
    """
    deadline = time.monotonic() + seconds
    problem = _without_idle(problem)
    merged = merge(problem)
    decisions = problem.decisions
    possible = _possible(merged)
    if not possible.size:
        return Solution("infeasible", (), -1, float("inf"), float("inf"), 0, decisions)
    cost = np.where(merged.allowed[possible], merged.cost[possible], np.inf)
    use = [row[possible] for row in merged.use]
    limit = problem.most_outlines
    uses = [np.zeros(len(merged.charges)) if row.charged is None else row.charged for row in problem.rows]
    once = Once(merged.charges, problem.due, uses)
    capacity = merged.capacity[:, possible]
    base = merged.base[possible]
    start = min(
        (one for one in known if one.decision in possible and problem.holds(one.decision, one.choice)),
        key=lambda one: problem.value(one.decision, one.choice),
        default=None,
    )
    ceiling = float("inf") if start is None else problem.value(start.decision, start.choice)
    cases = [Case(cost[n], float(base[n]), [row[n] for row in use], capacity[:, n], once) for n in range(len(possible))]
    terms = Terms(
        gap,
        lambda: deadline - time.monotonic(),
        lambda: time.monotonic() >= deadline or (stop is not None and stop()),
        enumerate_below,
        merged.outline,
        limit,
    )
    if cost.size > SMALL and (len(use) > 1 or merged.charges):
        found = branch(cases, ceiling, terms, progress)
    else:
        extra = _on_top(merged, use, capacity, once, limit)
        found = _listed(cases, bounds(cost, base, use, capacity, extra, ceiling=ceiling), ceiling, terms, progress)
    lowest = float(found.floor.min())
    pruned = decisions - found.solved
    if not np.isfinite(found.value):
        if found.finished:
            return Solution("infeasible", (), -1, float("inf"), float("inf"), found.solved, pruned)
        return Solution("stopped", (), -1, float("inf"), lowest, found.solved, pruned)
    if found.choice is None and start is not None:
        choice, decision = start.choice, start.decision
    elif found.choice is not None:
        choice, decision = merged.expand(found.choice), int(possible[found.place])
    return Solution(
        "optimal" if found.finished else "stopped",
        choice,
        decision,
        found.value,
        min(found.value, lowest),
        found.solved,
        pruned,
    )


def _listed(cases: Sequence[Case], bound: Bounds, ceiling: float, terms: Terms, progress: Progress | None) -> Found:
    """The best choice over all decisions where the prices of the limits come from `bounds`."""
    # A feasible choice of a decision whose bound it meets settles that decision.
    found = Found(ceiling, np.minimum(bound.value, bound.best_value))
    best = int(bound.best_value.argmin())
    if bound.best_value[best] < ceiling:
        found.take(float(bound.best_value[best]), best, bound.best_choice[best])
    none = np.zeros((len(cases[0].once.masks), len(cases[0].cost)))
    for n in np.argsort(found.floor, kind="stable").tolist():
        if found.floor[n] >= found.value - max(EXACT, terms.gap) * abs(found.value):
            continue
        if terms.over():
            found.finished = False
            break
        settle(cases[n], n, Prices(bound.prices[:, n], none), found, terms)
        if progress is not None:
            progress(found.value, min(found.value, float(found.floor.min())))
    return found


def _on_top(
    merged: Merged, use: Sequence[Array], capacity: Array, once: Once, most_outlines: int | None
) -> Callable[[int, Index], float]:
    """From a decision's place and a choice what it pays in charges; infinite if it breaks a limit on them."""
    plain = not any(row.any() for row in once.uses)

    def extra(place: int, choice: Index) -> float:
        at = np.arange(len(choice))
        if most_outlines is not None and len(np.unique(merged.outline[at, choice])) > most_outlines:
            return float("inf")
        due_now = opened(once.masks, choice)
        if not plain:
            for row, on_top, most in zip(use, once.uses, capacity[:, place], strict=True):
                if row[place, at, choice].sum() + on_top @ due_now > most + slack(float(most)):
                    return float("inf")
        return float(once.due @ due_now)

    return extra


def _without_idle(problem: Problem) -> Problem:
    """The choice without the charges that cost and use nothing."""
    uses = [row.charged != 0 for row in problem.rows if row.charged is not None]
    busy = np.any([problem.due != 0, *uses], axis=0)
    if busy.all():
        return problem
    kept = np.flatnonzero(busy)
    rows = tuple(row if row.charged is None else replace(row, charged=row.charged[kept]) for row in problem.rows)
    return replace(problem, rows=rows, charges=tuple(problem.charges[c] for c in kept), charged=problem.due[kept])


def _possible(merged: Merged) -> Index:
    """Decisions under which each part has an option and no single row is broken by its least use."""
    ok: Mask = np.all(merged.allowed.any(axis=2), axis=1)
    for row, capacity in zip(merged.use, merged.capacity, strict=True):
        least = np.where(merged.allowed, row, np.inf).min(axis=2).sum(axis=1)
        ok &= least <= capacity + np.array([slack(float(c)) for c in capacity])
    return np.flatnonzero(ok)
