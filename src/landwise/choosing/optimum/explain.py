"""Why the choice is what it is: prices of limits and parts, the runner-up, steps from today's board, conflicts.

Every number here is the difference of two exact choices, never an estimate.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.optimum.model import GROUPS, OUTLINES, Array, Ban, Problem, Row, Solution
from landwise.choosing.optimum.solve import solve

LEAST_SAVING = 1e-9
SETTLED = 1e-6  # share of a sum within which its least is settled; four digits of it are shown
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Price:
    """What the board would save if one limit, or one part's hold on the shared decision, were lifted.

    `freed` is the choice that would then be best.
    """

    name: str
    saved: float
    freed: Solution


@dataclass(frozen=True)
class Step:
    """The best board that differs from today's in at most `changes` parts; `changed` are those parts."""

    changes: int
    changed: tuple[int, ...]
    found: Solution
    saved: float


@dataclass(frozen=True)
class Relaxation:
    """The least change of one limit of a conflict that makes the board possible with the others kept.

    For a sum or a number of outlines: the limit `needed` instead of `limit`. For a ban: `needed` options at least
    must break it. For groups: so many of them must be untied, those of `parts`. `least` is what no change can fall
    below; it lies under `needed` where the search ended before it was settled.
    """

    name: str
    needed: float
    limit: float | None
    unit: str
    parts: tuple[int, ...] = ()
    least: float | None = None


@dataclass(frozen=True)
class Rival:
    """The best board under another shared decision: what it costs more; infinite, and why, if there is none.

    `choice` are its options. `kept_out` are the parts that no option fits there, `limits` what stops their nearest
    options; both empty if it is the limits together that rule it out.
    """

    decision: int
    more: float
    kept_out: tuple[int, ...] = ()
    limits: tuple[str, ...] = ()
    choice: tuple[int, ...] = ()


def rivals(problem: Problem, best: Solution, *, stop: Stop | None = None) -> tuple[Rival, ...]:
    """Every other shared decision at its best, the nearest first.

    Examples
    --------
    >>> foil = Ban("foil", np.array([[[True]], [[False]], [[False]]]))
    >>> problem = Problem(np.array([[[1.0]], [[2.0]], [[5.0]]]), np.zeros(3), np.ones((1, 1), bool),
    ...                   np.array([[0]]), (), (foil,))
    >>> [(rival.decision, rival.more, rival.kept_out) for rival in rivals(problem, solve(problem))]
    [(2, 3.0, ()), (0, inf, (0,))]
    """
    found = []
    for d in range(problem.decisions):
        if d == best.decision:
            continue
        if stop is not None and stop():
            break
        out = tuple(int(p) for p in np.flatnonzero(~problem.allowed[d].any(axis=1)))
        there = None if out else solve(problem.only(d))
        more = float("inf") if there is None else there.value - best.value
        found.append(Rival(d, more, out, _stopping(problem, d, out), () if there is None else there.choice))
    return tuple(sorted(found, key=lambda rival: (rival.more, len(rival.kept_out))))


def _stopping(problem: Problem, decision: int, parts: Sequence[int]) -> tuple[str, ...]:
    """The bans that stop the option of each part that the fewest of them stop."""
    names: dict[str, None] = {}
    for p in parts:
        stops = [
            [ban.name for ban in problem.bans if np.broadcast_to(ban.mask, problem.cost.shape)[decision, p, k]]
            for k in np.flatnonzero(problem.exists[p])
        ]
        names |= dict.fromkeys(sorted(stops, key=len)[0])
    return tuple(names)


def limit_prices(
    problem: Problem, best: Solution, *, names: Sequence[str] | None = None, stop: Stop | None = None
) -> tuple[Price, ...]:
    """What each limit costs the board: the dearest first, limits that cost nothing left out.

    Examples
    --------
    >>> cost = np.array([[[1.0, 3.0]]])
    >>> small = Row("area", np.array([[[9.0, 4.0]]]), 5.0)
    >>> problem = Problem(cost, np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]), (small,))
    >>> [(price.name, price.saved) for price in limit_prices(problem, solve(problem))]
    [('area', 2.0)]
    """
    found = []
    for name in problem.limits if names is None else names:
        if stop is not None and stop():
            break
        freed = solve(problem.without([name]))
        if freed.value < best.value - LEAST_SAVING * max(1.0, abs(best.value)):
            found.append(Price(name, best.value - freed.value, freed))
    return tuple(sorted(found, key=lambda price: -price.saved))


def part_price(problem: Problem, best: Solution, part: int, name: str = "") -> Price:
    """What the board would save if one part did not care about the shared decision.

    The part then costs, uses and is allowed what its best decision gives it, whatever the others choose.
    """
    cost = problem.cost.copy()
    allowed = problem.allowed[:, part]
    dear = np.where(allowed, problem.cost[:, part], np.inf)
    least = dear.min(axis=0)
    at = dear.argmin(axis=0)
    open_ = np.isfinite(least)
    cost[:, part] = np.where(open_, least, problem.cost[:, part])
    rows = []
    for row in problem.rows:
        use = np.broadcast_to(row.use, problem.cost.shape).copy()
        use[:, part] = np.where(open_, use[at, part, np.arange(len(at))], use[:, part])
        rows.append(replace(row, use=use))
    banned = ~problem.allowed
    banned[:, part] = ~open_
    freed = solve(replace(problem, cost=cost, rows=tuple(rows), bans=(Ban("all", banned),)))
    return Price(name, best.value - freed.value, freed)


def runner_up(problem: Problem, best: Solution) -> Solution:
    """The best choice that differs from the best one in at least one part, under any shared decision."""
    use = np.zeros((1, *problem.exists.shape))
    use[0, np.arange(problem.parts), list(best.choice)] = 1.0
    return solve(problem.with_rows(Row("differs", use, problem.parts - 1.0)))


def without_option(problem: Problem, part: int, option: int) -> Solution:
    """The best choice in which a part does not come in an option."""
    mask = np.zeros((1, *problem.exists.shape), dtype=bool)
    mask[0, part, option] = True
    return solve(replace(problem, bans=(*problem.bans, Ban("left out", np.broadcast_to(mask, problem.cost.shape)))))


def migration(
    problem: Problem, present: Sequence[int], today: float, *, most: int | None = None, stop: Stop | None = None
) -> tuple[Step, ...]:
    """The best boards that change at most one, two, … parts from today's; each the best of all such boards.

    Parameters
    ----------
    problem : Problem
    present : sequence of int
        Today's option of each part, -1 where it has none: such a part must change and is not counted.
    today : float
        What today's board costs.
    most : int, optional
        Up to how many changes.

    Notes
    -----
    Boards that need more changes to keep the limits at all are left out, so the first step may change several.
    """
    use = np.ones((1, *problem.exists.shape))
    counted = 0
    for part, option in enumerate(present):
        if option < 0:
            use[0, part] = 0.0
        else:
            use[0, part, option] = 0.0
            counted += 1
    steps: list[Step] = []
    final = solve(problem)
    for changes in range(min(counted, most or counted) + 1):
        if stop is not None and stop():
            break
        found = solve(problem.with_rows(Row("changes", use, float(changes))))
        if not found.found:
            continue
        if steps and found.value >= steps[-1].found.value - LEAST_SAVING * max(1.0, abs(found.value)):
            continue
        changed = tuple(
            p for p, (k, was) in enumerate(zip(found.choice, present, strict=True)) if was >= 0 and k != was
        )
        steps.append(Step(len(changed), changed, found, today - found.value))
        if found.value <= final.value + LEAST_SAVING * max(1.0, abs(final.value)):
            break
    return tuple(steps)


def _possible(problem: Problem) -> bool:
    free = replace(problem, cost=np.zeros_like(problem.cost), shared_cost=np.zeros(problem.decisions), charged=None)
    return solve(free).found


def relaxations(problem: Problem, names: Sequence[str], *, seconds: float = float("inf")) -> tuple[Relaxation, ...]:
    """For each limit of a conflict, the least change of it alone that makes the whole board possible.

    Limits whose lifting alone does not help (another conflict remains) are left out, and those for which `seconds` in
    all were too few to find a board. A sum is settled to a share of `SETTLED`, less than is shown.
    """
    found = []
    end = time.monotonic() + seconds
    for n, name in enumerate(names):
        freed = problem.without([name])
        share = max(0.0, end - time.monotonic()) / (len(names) - n)
        rows = [row for row in problem.rows if row.name == name]
        bans = [ban for ban in problem.bans if ban.name == name]
        if rows:
            row = rows[0]
            use = np.broadcast_to(row.use, problem.cost.shape)
            shared = np.zeros(problem.decisions) if row.shared is None else row.shared
            summed = replace(freed, cost=np.array(use), shared_cost=shared, charged=row.charged)
            best = solve(summed, gap=SETTLED, seconds=share)
            if best.found:
                found.append(Relaxation(name, best.value, row.limit, row.unit, least=best.bound))
        elif bans:
            broken: Array = np.any([np.broadcast_to(ban.mask, problem.cost.shape) for ban in bans], axis=0).astype(
                float
            )
            counted = replace(freed, cost=broken, shared_cost=np.zeros(problem.decisions), charged=None)
            best = solve(counted, gap=SETTLED, seconds=share)
            if best.found:
                parts = tuple(p for p, k in enumerate(best.choice) if broken[best.decision, p, k])
                found.append(Relaxation(name, best.value, None, "options", parts, best.bound))
        elif name == OUTLINES and problem.most_outlines is not None:
            for most in range(problem.most_outlines + 1, problem.parts + 1):
                if solve(replace(problem, most_outlines=most)).found:
                    found.append(Relaxation(name, float(most), float(problem.most_outlines), "outlines"))
                    break
        elif name == GROUPS and solve(freed).found:
            untied = [group for group in problem.groups if solve(_untied(problem, group)).found]
            parts = untied[0] if untied else tuple(p for group in problem.groups for p in group)
            found.append(Relaxation(name, float(1 if untied else len(problem.groups)), None, "groups", parts))
    return tuple(found)


def _untied(problem: Problem, group: tuple[int, ...]) -> Problem:
    return replace(problem, groups=tuple(other for other in problem.groups if other != group))
