"""The choice that no scenario makes one regret much: the smallest worst regret, with proof.

The options are settled once, for all scenarios; what the parts share is settled anew in each, as far as it may be.
The regret of a scenario is what the choice costs in it above that scenario's own best. One integer model has a variable
for every option, one for every decision of every scenario, and one for each pair of them: then the relaxation of a
scenario is that of its decisions side by side, and no large constant weakens it. What a bound shows to exceed the best
regret known is left out beforehand.

Longer than other modules: the rows of the model are one list, read from top to bottom.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from landwise.choosing.optimum.milp import ROW_SCALE, Answer, minimise
from landwise.choosing.optimum.model import Array, Ban, Index, Mask, Problem, Solution, Status, slack
from landwise.choosing.optimum.rows import Rows
from landwise.choosing.optimum.solve import solve
from landwise.errors import InputError

LEAST_REGRET = "least worst regret"
EXACT = 1e-9
MOST_COLUMNS = 300_000  # beyond it the model is not built: what was found is then told with no proof
ROUNDS = 20  # of exchanging one part's option after another
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Scenario:
    """One way things may turn out.

    Parameters
    ----------
    name : str
    problem : Problem
        Parts and options as in every other scenario; decisions, costs and limits its own.
    kept : tuple of int
        For each decision the number of what is settled together with the options, for all scenarios alike: the board
        class. All the same where there is nothing of the kind.
    """

    name: str
    problem: Problem
    kept: tuple[int, ...]


@dataclass(frozen=True)
class Regret:
    """The choice with the smallest worst regret.

    Parameters
    ----------
    status : "optimal", "stopped" or "infeasible"
    choice : tuple of int
        Empty if none was found.
    decisions : tuple of int
        The decision of each scenario.
    worst, bound : float
        The largest regret over the scenarios, and what no choice can bring it below.
    costs, regrets : tuple of float
        In each scenario.
    own : tuple of Solution
        Each scenario's own best choice.
    alone : str
        Name of a scenario in which no choice at all keeps the limits; empty if there is none.
    """

    status: Status
    choice: tuple[int, ...]
    decisions: tuple[int, ...]
    worst: float
    bound: float
    costs: tuple[float, ...]
    regrets: tuple[float, ...]
    own: tuple[Solution, ...]
    alone: str = ""


@dataclass(frozen=True)
class Cost:
    """What one choice costs in every scenario, under the decision that is best there for it."""

    decisions: tuple[int, ...]
    costs: tuple[float, ...]


def least_regret(
    scenarios: Sequence[Scenario],
    *,
    known: Sequence[tuple[int, ...]] = (),
    seconds: float = float("inf"),
    stop: Stop | None = None,
) -> Regret:
    """The choice whose largest regret over all scenarios is smallest; among equals the one of least regret in sum.

    Parameters
    ----------
    scenarios : sequence of Scenario
        At least one.
    known : sequence of tuple of int
        Choices to start from.
    seconds : float
        Time after which it ends with the best found and its bound.
    stop : callable, optional
        True ends it in the same way.

    Raises
    ------
    InputError
        Where scenarios differ in parts, options or groups, or none is given.

    Examples
    --------
    One part, three options. Each of the first two is best in one scenario and bad in the other; the third is never
    best, and never regretted by more than 1:

    >>> def scenario(name, costs):
    ...     table = np.array([[costs]])
    ...     return Scenario(name, Problem(table, np.zeros(1), np.ones((1, 3), bool), np.arange(3)[None, :]), (0,))
    >>> found = least_regret([scenario("few", [1.0, 9.0, 2.0]), scenario("many", [9.0, 1.0, 2.0])])
    >>> found.choice, found.worst, found.regrets
    ((2,), 1.0, (1.0, 1.0))
    """
    _require_alike(scenarios)
    deadline = time.monotonic() + seconds
    over: Stop = lambda: time.monotonic() >= deadline or (stop is not None and stop())  # noqa: E731
    own = []
    for one in scenarios:
        found = solve(one.problem, seconds=deadline - time.monotonic(), stop=stop)
        own.append(found)
        if not found.found:
            alone = one.name if found.status == "infeasible" else ""
            return Regret(found.status, (), (), float("inf"), 0.0, (), (), tuple(own), alone)
    # Of a scenario that was not searched to its end, its bound counts: a regret is then never told too small.
    least = np.array([one.bound if one.status == "stopped" else one.value for one in own])
    proven = all(one.status == "optimal" for one in own)
    work = _Work(scenarios, least, over)
    start = work.started([one.choice for one in own] + list(known))
    model = _Model(scenarios, least, float("inf") if start is None else work.worst(start), work)
    best, bound, finished = start, 0.0, False
    if model.columns <= MOST_COLUMNS and not over():
        answer, choice = model.searched(deadline - time.monotonic(), over)
        finished, bound = answer.finished, max(0.0, answer.bound * model.scale)
        if choice is not None:
            best = work.better(best, choice)
        if best is None and answer.finished:
            return Regret("infeasible", (), (), float("inf"), float("inf"), (), (), tuple(own))
    if best is None:
        return Regret("stopped", (), (), float("inf"), 0.0, (), (), tuple(own))
    worst = work.worst(best)
    if finished:
        bound = min(bound, worst)
        second = model.least_sum(worst, deadline - time.monotonic(), over) if not over() else None
        best = work.better(best, second) if second is not None else best
    cost = work.cost(best)
    assert cost is not None
    regrets = tuple(float(value) for value in np.array(cost.costs) - least)
    status: Status = "optimal" if finished and proven and max(regrets) - bound <= 1e-6 * _size(least) else "stopped"
    return Regret(status, best, cost.decisions, max(regrets), bound, cost.costs, regrets, tuple(own))


def pinned(problem: Problem, choice: Sequence[int]) -> Problem:
    """The same problem with every option out that a choice does not take."""
    out: Mask = np.ones(problem.exists.shape, dtype=bool)
    out[np.arange(problem.parts), list(choice)] = False
    return replace(problem, bans=(*problem.bans, Ban(LEAST_REGRET, np.broadcast_to(out, problem.cost.shape))))


def costs_of(scenarios: Sequence[Scenario], choice: tuple[int, ...]) -> Cost | None:
    """What a choice costs in every scenario; None where it breaks a limit in one."""
    return _Work(scenarios, np.zeros(len(scenarios)), lambda: False).cost(choice)


def _size(least: Array) -> float:
    return max(1e-9, float(np.abs(least).max()))


def _require_alike(scenarios: Sequence[Scenario]) -> None:
    if not scenarios:
        raise InputError("a regret needs at least one scenario")
    first = scenarios[0].problem
    for one in scenarios:
        same = one.problem.exists.shape == first.exists.shape and one.problem.groups == first.groups
        if not same or len(one.kept) != one.problem.decisions:
            raise InputError("scenarios differ in their parts or options", found=one.name)


@dataclass
class _Work:
    """Weighing whole choices."""

    scenarios: Sequence[Scenario]
    least: Array
    over: Stop

    def cost(self, choice: tuple[int, ...]) -> Cost | None:
        """Under the class of board that serves the choice best, and each scenario's best decision of it."""
        best: tuple[float, float, Cost] | None = None
        tables = [self._by_decision(one, choice) for one in self.scenarios]
        for kept in sorted(set.intersection(*(set(one.kept) for one in self.scenarios))):
            picked = []
            for one, values in zip(self.scenarios, tables, strict=True):
                inside = [(value, d) for d, value in values.items() if one.kept[d] == kept]
                if not inside:
                    break
                picked.append(min(inside))
            else:
                above = np.array([value for value, _ in picked]) - self.least
                made = Cost(tuple(d for _, d in picked), tuple(value for value, _ in picked))
                if best is None or (float(above.max()), float(above.sum())) < best[:2]:
                    best = (float(above.max()), float(above.sum()), made)
        return None if best is None else best[2]

    @staticmethod
    def _by_decision(one: Scenario, choice: tuple[int, ...]) -> dict[int, float]:
        problem = one.problem
        return {d: problem.value(d, choice) for d in range(problem.decisions) if problem.holds(d, choice)}

    def worst(self, choice: tuple[int, ...]) -> float:
        cost = self.cost(choice)
        return float("inf") if cost is None else float((np.array(cost.costs) - self.least).max())

    def _rank(self, choice: tuple[int, ...]) -> tuple[float, float]:
        cost = self.cost(choice)
        if cost is None:
            return float("inf"), float("inf")
        above = np.array(cost.costs) - self.least
        # Rounding alone makes no choice better than another.
        return round(float(above.max()) / _size(self.least), 12), float(above.sum())

    def better(self, one: tuple[int, ...] | None, other: tuple[int, ...]) -> tuple[int, ...]:
        return other if one is None or self._rank(other) < self._rank(one) else one

    def started(self, known: Sequence[tuple[int, ...]]) -> tuple[int, ...] | None:
        """The best of some choices, with single options exchanged as long as that helps."""
        whole = [choice for choice in dict.fromkeys(known) if self.cost(choice) is not None]
        if not whole:
            return None
        best = min(whole, key=self._rank)
        if any(one.problem.groups for one in self.scenarios):
            return best  # options of a group move together only
        exists = self.scenarios[0].problem.exists
        for _ in range(ROUNDS):
            before = best
            for p in range(len(best)):
                for k in np.flatnonzero(exists[p]).tolist():
                    if self.over():
                        return best
                    if k != best[p]:
                        best = self.better(best, (*best[:p], k, *best[p + 1 :]))
            if best == before:
                break
        return best


class _Model:
    """The integer model: options x, decisions y, their pairs w, charges z, kept classes v, and the regret t."""

    def __init__(self, scenarios: Sequence[Scenario], least: Array, known: float, work: _Work) -> None:
        self.scenarios, self.least, self.work = scenarios, least, work
        first = scenarios[0].problem
        self.parts = first.parts
        room = known + EXACT * _size(least) if np.isfinite(known) else np.inf
        self.open = [_open(one.problem, float(low), room) for one, low in zip(scenarios, least, strict=True)]
        usable = np.logical_and.reduce([mask.any(axis=0) for mask in self.open])
        self.open = [mask & usable for mask in self.open]
        self.pairs = [np.nonzero(mask) for mask in self.open]
        self.x_at = -np.ones(usable.shape, dtype=np.int64)
        self.x_at[usable] = np.arange(int(usable.sum()))
        self.options = np.nonzero(usable)
        self.columns = int(usable.sum()) + sum(len(one[0]) for one in self.pairs)
        # Regret is counted in shares of the largest that can matter, so that its column runs from 0 to 1.
        self.scale = max(known, 1e-6 * _size(least)) if np.isfinite(known) else self._largest()

    def _largest(self) -> float:
        """No regret that any choice can have is larger."""
        whole = []
        for one, low, mask in zip(self.scenarios, self.least, self.open, strict=True):
            dear = np.where(mask, one.problem.cost, 0.0).max(axis=2).sum(axis=1) + one.problem.shared_cost
            whole.append(float(dear.max()) + float(one.problem.due.sum()) - float(low))
        return max(1e-6 * _size(self.least), *whole)

    def searched(self, seconds: float, over: Stop) -> tuple[Answer, tuple[int, ...] | None]:
        """The model solved for the smallest worst regret."""
        cost = np.zeros(self._built())
        cost[self.t] = 1.0
        return self._run(cost, 1.0, seconds, over)

    def least_sum(self, worst: float, seconds: float, over: Stop) -> tuple[int, ...] | None:
        """The same for the smallest sum of regrets, the worst held."""
        cost = np.zeros(self._built())
        for columns, values, _ in self.money:
            cost[columns] += values
        top = max(float(np.abs(cost).max()), 1e-12)
        return self._run(cost / top, (worst + 1e-9 * _size(self.least)) / self.scale, seconds, over)[1]

    def _run(self, cost: Array, most: float, seconds: float, over: Stop) -> tuple[Answer, tuple[int, ...] | None]:
        self.rows.add(np.array([self.t]), np.ones(1), -np.inf, min(1.0, most))
        integer = np.zeros(
            len(cost), dtype=np.int64
        )  # with options and decisions whole, their pairs and the charges are whole too
        integer[self.whole] = 1
        answer = minimise(
            cost,
            self.rows.packed(),
            *self.rows.limits(),
            integer=integer,
            absolute_gap=1e-9,
            seconds=seconds,
            stop=over,
        )
        if answer.values is None:
            return answer, None
        taken = answer.values[: len(self.options[0])] > 0.5
        choice = np.zeros(self.parts, dtype=np.int64)
        choice[self.options[0][taken]] = self.options[1][taken]
        return answer, tuple(int(k) for k in choice)

    def _built(self) -> int:
        """All rows anew; the number of columns."""
        self.rows, self.money = Rows(), list[tuple[Index, Array, float]]()
        column = len(self.options[0])
        self.whole = list(range(column))
        for p in range(self.parts):
            own = self.x_at[p][self.x_at[p] >= 0]
            self.rows.add(own, np.ones(len(own)), 1.0, 1.0)
        kept = sorted(set.intersection(*(set(one.kept) for one in self.scenarios)))
        v = {name: column + n for n, name in enumerate(kept)}
        column += len(v)
        self.whole += v.values()
        self.rows.add(np.array(list(v.values())), np.ones(len(v)), 1.0, 1.0)
        self.t = column
        column += 1
        for one, low, pairs in zip(self.scenarios, self.least, self.pairs, strict=True):
            column = self._scenario(one, float(low), pairs, column, v)
        self._groups()
        return column

    def _scenario(self, one: Scenario, low: float, pairs: tuple[Index, ...], column: int, v: dict[int, int]) -> int:
        problem, (d, p, k) = one.problem, pairs
        y = column + np.arange(problem.decisions)
        self.whole += y.tolist()
        column += problem.decisions
        w = column + np.arange(len(d))
        column += len(d)
        # An option is taken under exactly one decision of the scenario, and every part under the decision taken.
        self._paired(self.x_at[p, k], w)
        for place in range(problem.decisions):
            mine = d == place
            for part in range(self.parts):
                own = w[mine & (p == part)]
                self.rows.add(np.append(own, y[place]), np.append(np.ones(len(own)), -1.0), 0.0, 0.0)
        for name, at in v.items():
            own = y[[n for n, kept in enumerate(one.kept) if kept == name]]
            self.rows.add(np.append(own, at), np.append(np.ones(len(own)), -1.0), 0.0, 0.0)
        z = column + np.arange(len(problem.charges))
        column += len(z)
        for charge, paid in zip(problem.charges, z.tolist(), strict=True):
            for part in range(self.parts):
                own = self.x_at[part][charge.mask[part] & (self.x_at[part] >= 0)]
                if len(own):
                    self.rows.add(np.append(own, paid), np.append(np.ones(len(own)), -1.0), -np.inf, 0.0)
        columns = np.concatenate([y, w, z])
        money = np.concatenate([problem.shared_cost, problem.cost[d, p, k], problem.due]) / self.scale
        self.money.append((columns, money, low))
        self.rows.add(np.append(columns, self.t), np.append(money, -1.0), -np.inf, low / self.scale)
        for row in problem.rows:
            use = np.broadcast_to(row.use, problem.cost.shape)[d, p, k]
            shared = np.zeros(len(y)) if row.shared is None else row.shared
            once = np.zeros(len(z)) if row.charged is None else row.charged
            whole = np.concatenate([shared, use, once])
            top = max(float(np.abs(whole).max(initial=0.0)), 1e-12) / ROW_SCALE
            self.rows.add(columns, whole / top, -np.inf, (row.limit + slack(row.limit) / 2) / top)
        return self._outlines(problem, column)

    def _paired(self, x: Index, w: Index) -> None:
        """Each option is as much as its pairs with the decisions of one scenario."""
        order = np.argsort(x, kind="stable")
        for block in np.split(order, np.flatnonzero(np.diff(x[order])) + 1):
            self.rows.add(np.append(w[block], x[block[0]]), np.append(np.ones(len(block)), -1.0), 0.0, 0.0)

    def _outlines(self, problem: Problem, column: int) -> int:
        """How many different outlines a board may carry."""
        if problem.most_outlines is None:
            return column
        parts, options = self.options
        names = np.unique(problem.outline[parts, options])
        at = {int(name): column + n for n, name in enumerate(names)}
        for x, name in enumerate(problem.outline[parts, options].tolist()):
            self.rows.add(np.array([x, at[name]]), np.array([1.0, -1.0]), -np.inf, 0.0)
        self.rows.add(np.array(list(at.values())), np.ones(len(at)), -np.inf, float(problem.most_outlines))
        self.whole += at.values()
        return column + len(at)

    def _groups(self) -> None:
        """Parts of a group come in the same outline."""
        problem = self.scenarios[0].problem
        for group in problem.groups:
            for first, other in pairwise(group):
                names = np.unique(np.concatenate([problem.outline[one][self.x_at[one] >= 0] for one in (first, other)]))
                for name in names.tolist():
                    mine, its = (
                        self.x_at[one][(self.x_at[one] >= 0) & (problem.outline[one] == name)] for one in (first, other)
                    )
                    values = np.concatenate([np.ones(len(mine)), -np.ones(len(its))])
                    self.rows.add(np.concatenate([mine, its]), values, 0.0, 0.0)


def _open(problem: Problem, low: float, room: float) -> Mask:
    """Options under decisions with which a regret within reach is possible: (decisions, parts, options)."""
    allowed = problem.allowed
    cost = np.where(allowed, problem.cost, np.inf)
    least = cost.min(axis=2)
    whole = least.sum(axis=1) + problem.shared_cost
    with np.errstate(invalid="ignore"):
        reach = whole[:, None, None] + (cost - least[:, :, None])
    within: Mask = np.nan_to_num(reach, nan=np.inf) <= low + room
    return allowed & within
