"""The exact choice: bounds for all shared decisions, then a small search for each that a bound does not settle.

For a fixed shared decision the rest is a multiple-choice knapsack. Prices on its rows give a bound; an option
whose own price lifts the bound above the best choice known can't be in a better one and is dropped. What is
left is enumerated where it is small, or given to the integer solver.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.bounds import bounds
from landwise.choosing.optimum.milp import ROW_SCALE, minimise
from landwise.choosing.optimum.model import Array, Index, Mask, Problem, Solution, Status, slack

ENUMERATE_BELOW = 20_000
EXACT = 1e-9
Progress = Callable[[float, float], None]


@dataclass(frozen=True)
class _Merged:
    """The choice with each group of parts as one part, so that groups need no further care."""

    cost: Array
    base: Array
    allowed: Mask
    outline: Index
    use: list[Array]
    capacity: Array
    members: tuple[tuple[int, ...], ...]
    picks: tuple[Index, ...]  # per merged part: (members, options) option number of each member

    def expand(self, choice: Index) -> tuple[int, ...]:
        count = sum(len(group) for group in self.members)
        whole = np.zeros(count, dtype=np.int64)
        for group, pick, option in zip(self.members, self.picks, choice, strict=True):
            whole[list(group)] = pick[:, option]
        return tuple(int(i) for i in whole)


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
    merged = _merge(problem)
    decisions = problem.decisions
    possible = _possible(merged)
    if not possible.size:
        return Solution("infeasible", (), -1, float("inf"), float("inf"), 0, decisions)
    cost = np.where(merged.allowed[possible], merged.cost[possible], np.inf)
    use = [row[possible] for row in merged.use]
    limit = problem.most_outlines

    def accept(choice: Index) -> bool:
        return limit is None or len(np.unique(merged.outline[np.arange(len(choice)), choice])) <= limit

    start = min(
        (one for one in known if one.decision in possible and problem.holds(one.decision, one.choice)),
        key=lambda one: problem.value(one.decision, one.choice),
        default=None,
    )
    ceiling = float("inf") if start is None else problem.value(start.decision, start.choice)
    found = bounds(cost, merged.base[possible], use, merged.capacity[:, possible], accept, ceiling=ceiling)
    best = int(found.best_value.argmin())
    value, choice, decision = float(found.best_value[best]), found.best_choice[best], best
    whole: tuple[int, ...] | None = None  # a known choice, as long as nothing better is met
    if start is not None and ceiling <= value:
        value, decision, whole = ceiling, int(np.flatnonzero(possible == start.decision)[0]), start.choice
    # A feasible choice of a decision whose bound it meets settles that decision.
    floor = np.minimum(found.value, found.best_value)
    solved, status = 0, "optimal"
    for place in np.argsort(floor, kind="stable"):
        if floor[place] >= value - max(EXACT, gap) * abs(value):
            continue
        left = deadline - time.monotonic()
        if left <= 0 or (stop is not None and stop()):
            status = "stopped"
            break
        solved += 1
        core = _Core(
            cost[place],
            float(merged.base[possible][place]),
            [row[place] for row in use],
            merged.capacity[:, possible][:, place],
            found.prices[:, place],
            merged.outline,
            limit,
        )
        better, bound, finished = core.search(value, gap, left, stop, enumerate_below)
        if better is not None:
            candidate = float(cost[place][np.arange(len(better)), better].sum() + merged.base[possible][place])
            if candidate < value:
                value, choice, decision, whole = candidate, better, int(place), None
        floor[place] = max(floor[place], bound)
        if not finished:
            status = "stopped"
        if progress is not None:
            progress(value, min(value, float(floor.min())))
    if not np.isfinite(value):
        ended: Status = "infeasible" if status == "optimal" else "stopped"
        return Solution(
            ended,
            (),
            -1,
            float("inf"),
            float("inf") if ended == "infeasible" else float(floor.min()),
            solved,
            decisions - solved,
        )
    bound = min(value, float(floor.min()))
    return Solution(
        "optimal" if status == "optimal" else "stopped",
        whole or merged.expand(choice),
        int(possible[decision]),
        value,
        bound,
        solved,
        decisions - solved,
    )


def _merge(problem: Problem) -> _Merged:
    shape, allowed = problem.cost.shape, problem.allowed
    uses = [np.broadcast_to(row.use, shape) for row in problem.rows]
    base = problem.shared_cost
    capacity = np.array(
        [row.limit - (np.zeros(shape[0]) if row.shared is None else row.shared) for row in problem.rows]
    ).reshape(len(problem.rows), shape[0])
    if not problem.groups:
        alone = tuple((part,) for part in range(problem.parts))
        picks = tuple(np.arange(shape[2])[None, :] for _ in alone)
        return _Merged(problem.cost, base, allowed, problem.outline, uses, capacity, alone, picks)
    grouped = {part for group in problem.groups for part in group}
    single: tuple[tuple[int, ...], ...] = tuple((part,) for part in range(problem.parts) if part not in grouped)
    members = problem.groups + single
    options: list[Index] = []
    outlines: list[Index] = []
    for group in members:
        pick, outline = _common(problem, group)
        options.append(pick)
        outlines.append(outline)
    width = max([1, *(pick.shape[1] for pick in options)])
    new = (shape[0], len(members), width)
    cost, ok, outline_of = np.zeros(new), np.zeros(new, dtype=bool), np.full(new[1:], -1, dtype=np.int64)
    use = [np.zeros(new) for _ in uses]
    for place, (group, pick, outline) in enumerate(zip(members, options, outlines, strict=True)):
        count = pick.shape[1]
        rows = np.array(group)[:, None]
        ok[:, place, :count] = allowed[:, rows, pick].all(axis=1)
        outline_of[place, :count] = outline
        cost[:, place, :count] = problem.cost[:, rows, pick].sum(axis=1)
        for target, source in zip(use, uses, strict=True):
            target[:, place, :count] = source[:, rows, pick].sum(axis=1)
    return _Merged(cost, base, ok, outline_of, use, capacity, members, tuple(options))


def _common(problem: Problem, group: tuple[int, ...]) -> tuple[Index, Index]:
    """Option numbers of each member (members, common options), and the outlines they stand for."""
    if len(group) == 1:
        count = int(problem.exists.shape[1])
        return np.arange(count)[None, :], problem.outline[group[0]]
    lists = [{int(o): k for k, o in enumerate(problem.outline[part]) if problem.exists[part, k]} for part in group]
    shared = [outline for outline in lists[0] if all(outline in other for other in lists[1:])]
    pick = np.array([[options[outline] for outline in shared] for options in lists], dtype=np.int64)
    return pick.reshape(len(group), len(shared)), np.array(shared, dtype=np.int64)


def _possible(merged: _Merged) -> Index:
    """Decisions under which each part has an option and no single row is broken by its least use."""
    ok: Mask = np.all(merged.allowed.any(axis=2), axis=1)
    for row, capacity in zip(merged.use, merged.capacity, strict=True):
        least = np.where(merged.allowed, row, np.inf).min(axis=2).sum(axis=1)
        ok &= least <= capacity + np.array([slack(float(c)) for c in capacity])
    return np.flatnonzero(ok)


class _Core:
    """What is left of one shared decision once prices have ruled options out."""

    def __init__(
        self,
        cost: Array,
        base: float,
        use: list[Array],
        capacity: Array,
        prices: Array,
        outline: Index,
        most_outlines: int | None,
    ):
        self.cost, self.base, self.use, self.capacity, self.outline = cost, base, use, capacity, outline
        self.most_outlines = most_outlines
        priced = cost + sum((p * u for p, u in zip(prices, use, strict=True)), np.zeros_like(cost))
        least = priced.min(axis=1)
        self.bound = float(least.sum() + base - (prices * capacity).sum())
        self.extra = priced - least[:, None]

    def search(
        self, value: float, gap: float, seconds: float, stop: Callable[[], bool] | None, enumerate_below: int
    ) -> tuple[Index | None, float, bool]:
        """A choice below `value` if there is one, a bound on all of them, and whether the search was finished."""
        room = value - self.bound + EXACT * max(1.0, abs(value)) if np.isfinite(value) else np.inf
        keep = np.isfinite(self.cost) & (self.extra <= room)
        if not keep.any(axis=1).all():
            return None, value, True
        options = [np.flatnonzero(row) for row in keep]
        combinations = 1
        for row in options:
            combinations *= len(row)
            if combinations > max(1, enumerate_below):
                return self._model(options, value, gap, seconds, stop)
        return self._enumerate(options, value)

    def _enumerate(self, options: list[Index], value: float) -> tuple[Index | None, float, bool]:
        total = np.array([self.base])
        uses = [np.zeros(1) for _ in self.use]
        for part, row in enumerate(options):
            total = (total[:, None] + self.cost[part, row]).ravel()
            uses = [(u[:, None] + row_use[part, row]).ravel() for u, row_use in zip(uses, self.use, strict=True)]
        fits = np.ones(len(total), dtype=bool)
        for used, capacity in zip(uses, self.capacity, strict=True):
            fits &= used <= capacity + slack(float(capacity))
        for place in np.argsort(np.where(fits, total, np.inf), kind="stable"):
            if not fits[place] or total[place] >= value:
                break
            choice = _unpacked(int(place), options)
            if self._few(choice):
                return choice, float(total[place]), True
        return None, value, True

    def _few(self, choice: Index) -> bool:
        if self.most_outlines is None:
            return True
        return len(np.unique(self.outline[np.arange(len(choice)), choice])) <= self.most_outlines

    def _model(
        self, options: list[Index], value: float, gap: float, seconds: float, stop: Callable[[], bool] | None
    ) -> tuple[Index | None, float, bool]:
        # A part with one option left is settled: what it costs and uses is taken off beforehand.
        free = [part for part, row in enumerate(options) if len(row) > 1]
        part_of = np.concatenate([np.full(len(options[part]), part) for part in free])
        option_of = np.concatenate([options[part] for part in free])
        fixed = np.array([row[0] for row in options])
        settled = np.ones(len(options), dtype=bool)
        settled[free] = False
        place = np.flatnonzero(settled)
        base = self.base + float(self.cost[place, fixed[place]].sum())
        # Costs relative to each part's cheapest keep the numbers small; the rest is a constant.
        own = self.cost[part_of, option_of]
        least = np.array([self.cost[part, options[part]].min() for part in free])
        base += float(least.sum())
        own = own - np.repeat(least, [len(options[part]) for part in free])
        scale = max(float(own.max(initial=0.0)), 1e-12)
        matrix = _Rows()
        column = 0
        for part in free:
            count = len(options[part])
            matrix.add(np.arange(column, column + count), np.ones(count), 1.0, 1.0)
            column += count
        for use, capacity in zip(self.use, self.capacity, strict=True):
            used = use[part_of, option_of]
            left = capacity - float(use[place, fixed[place]].sum())
            top = max(float(np.abs(used).max(initial=0.0)), 1e-12) / ROW_SCALE
            matrix.add(np.arange(column), used / top, -np.inf, (left + slack(float(capacity)) / 2) / top)
        costs = [own / scale]
        if self.most_outlines is not None:
            already = set(self.outline[place, fixed[place]].tolist())
            names = [int(o) for o in np.unique(self.outline[part_of, option_of]) if int(o) not in already]
            where = {name: column + n for n, name in enumerate(names)}
            for col, (part, option) in enumerate(zip(part_of, option_of, strict=True)):
                name = int(self.outline[part, option])
                if name in where:
                    matrix.add(np.array([col, where[name]]), np.array([1.0, -1.0]), -np.inf, 0.0)
            matrix.add(
                np.array(list(where.values()), dtype=np.int64),
                np.ones(len(where)),
                -np.inf,
                float(self.most_outlines - len(already)),
            )
            costs.append(np.zeros(len(where)))
        cost = np.concatenate(costs)
        # The gap is promised on the whole value, most of which is the constant.
        absolute = gap * abs(value) if np.isfinite(value) else gap * abs(base)
        answer = minimise(
            cost, matrix.packed(), *matrix.limits(), absolute_gap=absolute / scale, seconds=seconds, stop=stop
        )
        bound = answer.bound * scale + base
        if answer.values is None:
            return None, value if answer.finished else max(self.bound, bound), answer.finished
        choice = fixed.copy()
        column = 0
        for part in free:
            count = len(options[part])
            choice[part] = options[part][int(answer.values[column : column + count].argmax())]
            column += count
        for use, capacity in zip(self.use, self.capacity, strict=True):
            if use[np.arange(len(choice)), choice].sum() > capacity + slack(float(capacity)):
                return None, max(self.bound, bound), False  # outside by rounding: not proven, and said so
        return choice, max(self.bound, bound), answer.finished


def _unpacked(place: int, options: list[Index]) -> Index:
    """The options of one combination, the last part counting fastest (numpy's own does not take so many axes)."""
    choice = np.zeros(len(options), dtype=np.int64)
    for part in range(len(options) - 1, -1, -1):
        place, number = divmod(place, len(options[part]))
        choice[part] = options[part][number]
    return choice


class _Rows:
    """A matrix put together row by row."""

    def __init__(self) -> None:
        self.columns: list[Index] = []
        self.values: list[Array] = []
        self.lower: list[float] = []
        self.upper: list[float] = []

    def add(self, columns: Index, values: Array, lower: float, upper: float) -> None:
        self.columns.append(columns)
        self.values.append(values)
        self.lower.append(lower)
        self.upper.append(upper)

    def packed(self) -> tuple[Index, Index, Array]:
        starts = np.concatenate([[0], np.cumsum([len(row) for row in self.columns])])
        return starts, np.concatenate(self.columns), np.concatenate(self.values)

    def limits(self) -> tuple[Array, Array]:
        return np.array(self.lower), np.array(self.upper)
