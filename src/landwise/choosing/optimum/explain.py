"""Why the choice is what it is: prices of limits and parts, the runner-up, steps from today's board, conflicts.

Every number here is the difference of two exact choices, never an estimate.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.optimum.feasible import Together
from landwise.choosing.optimum.model import GROUPS, OUTLINES, Array, Ban, Index, Problem, Row, Solution
from landwise.choosing.optimum.solve import solve

LEAST_SAVING = 1e-9
SETTLED = 1e-6  # share of a sum within which its least is settled; four digits of it are shown
Stop = Callable[[], bool]
Choice = tuple[int, Index]  # a shared decision and the option of each part


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
    below; it lies under `needed` where the search ended before it was settled. `needed` is None where no change that
    is enough was met in the time, or where none `helps`: other limits conflict as well.
    """

    name: str
    needed: float | None
    limit: float | None
    unit: str
    parts: tuple[int, ...] = ()
    least: float | None = None
    helps: bool = True


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


def relaxations(problem: Problem, names: Sequence[str], *, seconds: float = float("inf")) -> tuple[Relaxation, ...]:
    """For each limit of a conflict, the least change of it alone that makes the whole board possible.

    Limits whose lifting alone does not help, since another conflict remains, are told as such. A choice that keeps the
    other limits, where one is met without a search, gives a change that is enough at once; `seconds` in all are then
    spent on less. A sum is settled to a share of `SETTLED`, less than is shown.

    Examples
    --------
    >>> low = Row("area", np.array([[[9.0, 4.0]]]), 3.0)
    >>> tight = Problem(np.zeros((1, 1, 2)), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]), (low,))
    >>> relaxations(tight, ["area"])[0].needed
    4.0
    """
    found = []
    end = time.monotonic() + seconds
    limits = Together(problem)
    for n, name in enumerate(names):
        left = max(0.0, end - time.monotonic()) / (len(names) - n)
        rest = [other for other in problem.limits if other != name]
        enough = limits.choice(rest)
        one = None if limits.conflicting(rest) else _least(problem, name, enough, time.monotonic() + left)
        found.append(Relaxation(name, None, None, "", helps=False) if one is None else one)
    return tuple(found)


def _least(problem: Problem, name: str, enough: Choice | None, end: float) -> Relaxation | None:
    """The least change of one limit, or what could be told of it by then; None where no change of it alone helps."""
    bans = [ban for ban in problem.bans if ban.name == name]
    row = next((row for row in problem.rows if row.name == name), None)
    if row is not None:
        return _least_sum(problem, row, enough, end)
    if bans:
        return _least_broken(problem, name, bans, enough, end)
    if name == OUTLINES:
        return _least_outlines(problem, enough, end)
    return _least_groups(problem, enough, end)


def _least_sum(problem: Problem, row: Row, enough: Choice | None, end: float) -> Relaxation | None:
    use = np.array(np.broadcast_to(row.use, problem.cost.shape))
    shared = np.zeros(problem.decisions) if row.shared is None else row.shared
    freed = problem.without([row.name])
    summed = replace(freed, cost=use, shared_cost=shared, charged=row.charged)
    below, each = _each_alone(summed)
    found, least = _narrowed(freed, row, (enough, each), max(row.limit, below), end)
    best = _searched(summed, end)
    if best is not None and best.status == "infeasible":
        return None
    found, least = _lesser(freed, row, found, best), _below(best, least)
    needed = None if found is None else problem.total(row, *found)
    return Relaxation(row.name, needed, row.limit, row.unit, least=least)


def _least_broken(
    problem: Problem, name: str, bans: Sequence[Ban], enough: Choice | None, end: float
) -> Relaxation | None:
    shape = problem.cost.shape
    broken: Array = np.any([np.broadcast_to(ban.mask, shape) for ban in bans], axis=0).astype(float)
    freed = problem.without([name])
    counted = replace(freed, cost=broken, shared_cost=np.zeros(problem.decisions), charged=None)
    below, each = _each_alone(counted)
    row = Row(name, broken, 0.0)
    found, least = _narrowed(freed, row, (enough, each), max(1.0, below), end, within=1 - SETTLED)
    best = _searched(counted, end)
    if best is not None and best.status == "infeasible":
        return None
    found, least = _lesser(freed, row, found, best), _below(best, least)
    parts = () if found is None else tuple(_broken_by(broken, found).tolist())
    return Relaxation(name, None if found is None else float(len(parts)), None, "options", parts, least)


def _narrowed(
    freed: Problem, row: Row, told: Sequence[Choice | None], least: float, end: float, within: float = 0.0
) -> tuple[Choice | None, float]:
    """The choice of the least sum among those told, and others met by halving what is open; and the least by then."""
    known = [one for one in told if one is not None]
    if not known:
        return None, least
    found = min(known, key=lambda one: freed.total(row, *one))
    needed = freed.total(row, *found)
    while needed - least > max(within, SETTLED * abs(needed)) and time.monotonic() < end:
        half = (needed + least) / 2
        asked = freed.with_rows(replace(row, limit=half))
        limits = Together(asked)
        better = limits.choice(asked.limits)
        if better is not None and freed.total(row, *better) < needed:
            found, needed = better, freed.total(row, *better)
        elif limits.conflicting(asked.limits):
            least = half
        else:
            break
    return found, min(least, needed)


def _each_alone(problem: Problem) -> tuple[float, Choice | None]:
    """What no choice costs less than, each part at its own least; and that choice where it keeps the limits."""
    cost = np.where(problem.allowed, problem.cost, np.inf)
    sums = cost.min(axis=2).sum(axis=1) + problem.shared_cost
    decision = int(sums.argmin())
    picked = np.asarray(cost[decision].argmin(axis=1))
    holds = bool(np.isfinite(sums[decision])) and problem.holds(decision, picked.tolist())
    return float(sums[decision]), (decision, picked) if holds else None


def _broken_by(broken: Array, choice: Choice) -> Index:
    """The parts that break a limit in a choice."""
    decision, picked = choice
    found: Index = np.flatnonzero(broken[decision, np.arange(len(picked)), picked])
    return found


def _least_outlines(problem: Problem, enough: Choice | None, end: float) -> Relaxation | None:
    now = problem.most_outlines or 0
    most = problem.parts
    if enough is not None:
        most = len(np.unique(problem.outline[np.arange(problem.parts), enough[1]]))
    for count in range(now + 1, most + 1):
        best = _searched(replace(problem, most_outlines=count), end)
        if best is not None and best.found:
            return Relaxation(OUTLINES, float(count), float(now), "outlines")
        if best is None or best.status == "stopped":
            needed = None if enough is None else float(most)
            return Relaxation(OUTLINES, needed, float(now), "outlines", least=float(count))
    return None


def _least_groups(problem: Problem, enough: Choice | None, end: float) -> Relaxation | None:
    if enough is None:
        freed = _searched(problem.without([GROUPS]), end)
        if freed is None or (freed.status == "stopped" and not freed.found):
            return Relaxation(GROUPS, None, None, "groups")
        if not freed.found:
            return None
    for group in problem.groups:
        best = _searched(_untied(problem, group), end)
        if best is None:
            break
        if best.found:
            return Relaxation(GROUPS, 1.0, None, "groups", group)
    parts = tuple(p for group in problem.groups for p in group)
    return Relaxation(GROUPS, float(len(problem.groups)), None, "groups", parts)


def _searched(problem: Problem, end: float) -> Solution | None:
    """The least of a problem by a moment; None where that is past."""
    left = end - time.monotonic()
    return solve(problem, gap=SETTLED, seconds=left) if left > 0 else None


def _lesser(freed: Problem, row: Row, found: Choice | None, best: Solution | None) -> Choice | None:
    """Of what was met and what a search found the choice of the lesser sum."""
    if best is None or not best.found:
        return found
    searched = best.decision, np.array(best.choice)
    there = [one for one in (searched, found) if one is not None]
    return min(there, key=lambda one: freed.total(row, *one))


def _below(best: Solution | None, least: float) -> float:
    """What no change falls below."""
    return least if best is None else max(least, best.bound)


def _untied(problem: Problem, group: tuple[int, ...]) -> Problem:
    return replace(problem, groups=tuple(other for other in problem.groups if other != group))
