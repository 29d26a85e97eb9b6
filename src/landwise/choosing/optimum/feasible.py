"""Whether limits of a board can be kept together: shown by prices or by a choice, searched for only where neither does.

Prices on the limits at which even the parts' least comes to more than the limits are worth show that no choice keeps
them (Farkas' lemma); they are the dual of a small linear model, one column for each choice met on the way. A choice
that keeps the limits shows the opposite. Both are remembered, so that one question spares many others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from landwise.choosing.optimum.merging import Merged, merge
from landwise.choosing.optimum.milp import quiet_solver
from landwise.choosing.optimum.model import GROUPS, OUTLINES, Array, Index, Mask, Problem, slack
from landwise.choosing.optimum.solve import solve
from landwise.untyped import Untyped

Names = frozenset[str]

ROUNDS = 200  # choices tried for the prices of one shared decision
CLOSE = 1e-9  # of a whole limit: prices that could raise the bound by less are not asked for
REPAIRS = 200  # single changes tried on a choice that breaks a limit
OPEN = 2  # shared decisions that may stay open before they are searched


@dataclass(frozen=True)
class _Shown:
    """What one shared decision shows: a choice that keeps the limits, or prices that none can meet; else neither."""

    choice: Index | None
    prices: Array | None


class Together:
    """Answers which limits of a board can be kept together, again and again.

    Parameters
    ----------
    problem : Problem

    Examples
    --------
    >>> from landwise.choosing.optimum.model import Row
    >>> rows = (Row("area", np.array([[[9.0, 4.0]]]), 5.0), Row("height", np.array([[[1.0, 2.0]]]), 1.5))
    >>> board = Problem(np.zeros((1, 1, 2)), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]), rows)
    >>> limits = Together(board)
    >>> limits.possible(["area", "height"]), limits.possible(["height"])
    (False, True)
    """

    def __init__(self, problem: Problem):
        self.problem = problem
        self.names: Names = frozenset(problem.limits)
        self.kept: list[Names] = []  # sets that some choice keeps
        self._choices: list[tuple[int, Index]] = []  # the shared decision and the choice that keeps each of them
        self.against: list[Names] = []  # sets that no choice keeps
        self.searches = 0
        self._tables: dict[Names, _Tables] = {}
        single = {ban.name for ban in problem.bans} | {GROUPS}
        self._single: Names = self.names & single

    def possible(self, names: Iterable[str]) -> bool:
        """Whether some choice keeps all of these limits."""
        some = frozenset(names)
        if any(some <= kept for kept in self.kept):
            return True
        if any(against <= some for against in self.against):
            return False
        shown = self._shown(some)
        if shown is None:
            shown = self._searched(some)
        return shown

    def choice(self, names: Iterable[str]) -> tuple[int, Index] | None:
        """A shared decision and a choice that keep these limits, where one is met without a search; else None."""
        some = frozenset(names)
        if not any(some <= kept for kept in self.kept):
            self._shown(some)
        there = (at for kept, at in zip(self.kept, self._choices, strict=True) if some <= kept)
        return next(there, None)

    def conflicting(self, names: Iterable[str]) -> bool:
        """Whether it was shown already that no choice keeps all of these limits."""
        some = frozenset(names)
        return any(against <= some for against in self.against)

    def _searched(self, some: Names) -> bool:
        """By a search over all choices."""
        self.searches += 1
        bare = self.problem.without(self.names - some)
        free = replace(bare, cost=np.zeros_like(bare.cost), shared_cost=np.zeros(bare.decisions), charged=None)
        found = solve(free)
        if found.found:
            self.kept.append(self._keeps(found.decision, found.choice) | some)
            self._choices.append((found.decision, np.array(found.choice)))
        else:
            self.against.append(some)
        return found.found

    def _shown(self, some: Names) -> bool | None:
        """By prices or a choice; None if neither shows it."""
        tables = self._tables_for(some)
        rows = tables.rows(some)
        single = some & self._single
        live, broken = tables.live(rows)
        needed = {tables.names[r] for r in broken}
        order = live[tables.tightness(rows, live).argsort(kind="stable")]
        unsure = 0
        while order.size:
            at = int(order[0])
            shown = tables.ask(at, rows)
            if shown.choice is not None:
                choice = tables.merged.expand(shown.choice)
                keeps = self._keeps(at, choice)
                if some <= keeps:
                    self.kept.append(keeps)
                    self._choices.append((at, np.array(choice)))
                    return True
            if shown.prices is None:
                unsure += 1
                if unsure > OPEN:
                    return None
                order = order[1:]
                continue
            above = tables.above(order, rows, shown.prices)
            needed |= {tables.names[r] for r, price in zip(rows, shown.prices, strict=True) if price > 0}
            left = above <= 0
            left[0] = False
            order = order[left][above[left].argsort(kind="stable")]
        if unsure:
            return None
        self.against.append(frozenset(single | (needed & self.names)))
        return False

    def _tables_for(self, some: Names) -> _Tables:
        single = some & self._single
        if single not in self._tables:
            gone = (self._single - single) | {OUTLINES}
            self._tables[single] = _Tables(self.problem, merge(self.problem.without(gone)))
        return self._tables[single]

    def _keeps(self, decision: int, choice: tuple[int, ...]) -> Names:
        """The limits that a choice keeps; none if it breaks what is no limit that could be lifted."""
        problem = self.problem
        at, picked = np.arange(problem.parts), np.array(choice)
        broken = {
            row.name for row in problem.rows if problem.total(row, decision, choice) > row.limit + slack(row.limit)
        }
        if any(row.tied and row.name in broken for row in problem.rows) or not problem.exists[at, picked].all():
            return frozenset()
        for ban in problem.bans:
            if np.broadcast_to(ban.mask, problem.cost.shape)[decision, at, picked].any():
                broken.add(ban.name)
        outlines = problem.outline[at, picked]
        if any(len(np.unique(outlines[list(group)])) > 1 for group in problem.groups):
            broken.add(GROUPS)
        if problem.most_outlines is not None and len(np.unique(outlines)) > problem.most_outlines:
            broken.add(OUTLINES)
        return self.names - broken


class _Tables:
    """The sums of a board under one set of bans and groups."""

    def __init__(self, problem: Problem, merged: Merged):
        self.merged = merged
        self.tied = [row.tied for row in problem.rows]
        self.names = [row.name for row in problem.rows]
        self.there = np.flatnonzero(np.all(merged.allowed.any(axis=2), axis=1))
        self.slack = np.array([[slack(float(most)) for most in row] for row in merged.capacity])
        self.slack = self.slack.reshape(merged.capacity.shape)

    @cached_property
    def least(self) -> Array:
        """The least that each sum can come to (rows, decisions)."""
        merged = self.merged
        found = np.zeros(merged.capacity.shape)
        for r, use in enumerate(merged.use):
            for d in self.there.tolist():
                found[r, d] = np.where(merged.allowed[d], use[d], np.inf).min(axis=1).sum()
        return found

    @cached_property
    def size(self) -> Array:
        """What each sum is measured in (rows,)."""
        most = [float(np.abs(use[0]).max(axis=1).sum()) for use in self.merged.use]
        found: Array = np.maximum(1e-12, np.maximum(most, np.abs(self.merged.capacity).max(axis=1)))
        return found

    def rows(self, some: Names) -> list[int]:
        """The rows among these limits, and those that can't be lifted."""
        return [r for r, name in enumerate(self.names) if self.tied[r] or name in some]

    def live(self, rows: list[int]) -> tuple[Index, list[int]]:
        """Decisions under which every sum alone can be kept, and the rows that ruled out others."""
        left, broken = self.there, []
        for r in rows:
            fits = self.least[r, left] <= self.merged.capacity[r, left] + 10 * self.slack[r, left]
            if not fits.all():
                broken.append(r)
                left = left[fits]
        return left, broken

    def tightness(self, rows: list[int], live: Index) -> Array:
        """How near to its limit the tightest sum stands at its least, the loosest decision first."""
        if not rows:
            return np.zeros(len(live))
        left = (self.least - self.merged.capacity)[rows][:, live] / self.size[rows][:, None]
        found: Array = left.max(axis=0)
        return found

    def above(self, live: Index, rows: list[int], prices: Array) -> Array:
        """By how much the parts' least at these prices is more than the limits are worth (decisions,); shown if > 0."""
        found = np.empty(len(live))
        for n, d in enumerate(live.tolist()):
            priced = np.where(self.merged.allowed[d], 0.0, np.inf)
            for r, price in zip(rows, prices.tolist(), strict=True):
                if price:
                    priced += price * self.merged.use[r][d]
            found[n] = float(priced.min(axis=1).sum()) - self._worth(d, rows, prices)
        return found

    def _worth(self, decision: int, rows: list[int], prices: Array) -> float:
        """What the limits are worth, slack and rounding included."""
        capacity, spare = self.merged.capacity[rows, decision], self.slack[rows, decision]
        rounding = 1e-12 * float(prices @ (np.abs(capacity) + self.size[rows]))
        return float(prices @ capacity) + 10 * float(prices @ spare) + rounding

    def ask(self, decision: int, rows: list[int]) -> _Shown:
        """What one decision shows about these rows."""
        allowed = self.merged.allowed[decision]
        if not rows:
            return _Shown(np.asarray(allowed.argmax(axis=1)), None)
        size = self.size[rows]
        tables = np.stack([self.merged.use[r][decision] for r in rows]) / size[:, None, None]
        capacity = self.merged.capacity[rows, decision] / size
        spare = self.slack[rows, decision] / size
        return _Priced(tables, allowed, capacity, spare).shown(size)


class _Priced:
    """Prices of one decision's limits, sharpened choice by choice (Dantzig and Wolfe's columns, one sum for all)."""

    def __init__(self, tables: Array, allowed: Mask, capacity: Array, spare: Array):
        self.tables, self.capacity, self.spare = tables, capacity, spare
        self.flat = tables.reshape(len(tables), -1)
        self.out = np.where(allowed, 0.0, np.inf)
        self.at = np.arange(len(allowed))

    def shown(self, size: Array) -> _Shown:
        """Prices per unit of each sum, or a choice."""
        rows = len(self.tables)
        solver: Untyped = quiet_solver()
        # How far all limits are broken at most, then a share of each choice met; the shares come to one.
        nothing = np.zeros(0)
        solver.addRows(
            rows + 1,
            np.append(np.full(rows, -1e30), 1.0),
            np.append(np.zeros(rows), 1.0),
            0,
            np.zeros(rows + 1, dtype=np.int32),
            nothing.astype(np.int32),
            nothing,
        )
        solver.addCol(1.0, -1e30, 1e30, rows, np.arange(rows, dtype=np.int32), -np.ones(rows))
        starts = [*np.eye(rows), np.full(rows, 1.0 / rows)] if rows > 1 else [np.ones(1)]
        tried: list[Index] = []
        prices = starts[0]
        for turn in range(ROUNDS):
            pick, over, bound = self._cheapest(prices)
            if (over <= self.spare).all():
                return _Shown(pick, None)
            if bound > 0:
                return _Shown(None, prices / size)
            tried.append(pick)
            entries = np.arange(rows + 1, dtype=np.int32)
            solver.addCol(0.0, 0.0, 1e30, rows + 1, entries, np.append(over, 1.0))
            if turn + 1 < len(starts):
                prices = starts[turn + 1]
                continue
            solver.run()
            found = solver.getSolution()
            least = float(found.col_value[0])
            if least <= 0:
                mended = self._mended(self._rounded(tried, np.array(found.col_value)[1:]))
                if mended is not None:
                    return _Shown(mended, None)
            if least - float(prices @ over) < CLOSE and turn >= len(starts):
                break
            prices = np.maximum(0.0, -np.array(found.row_dual)[:rows])
            prices = prices / max(float(prices.sum()), 1e-300)
        return _Shown(None, None)

    def _cheapest(self, prices: Array) -> tuple[Index, Array, float]:
        """The cheapest choice at prices, by how much it breaks each limit, and how far that is beyond doubt."""
        priced = (prices @ self.flat).reshape(self.out.shape) + self.out
        pick = np.asarray(priced.argmin(axis=1))
        over = self.tables[:, self.at, pick].sum(axis=1) - self.capacity
        doubt = 10 * self.spare + 1e-12 * (np.abs(self.capacity) + 1.0)
        return pick, over, float(prices @ (over - doubt))

    def _rounded(self, tried: list[Index], shares: Array) -> Index:
        """The option of each part that has the largest share."""
        total = np.zeros(self.out.shape)
        for n in np.flatnonzero(shares > 0).tolist():
            total[self.at, tried[n]] += shares[n]
        return np.asarray(total.argmax(axis=1))

    def _mended(self, pick: Index) -> Index | None:
        """The choice with single options changed until every limit is kept; None if that leads nowhere."""
        pick = pick.copy()
        over = self.tables[:, self.at, pick].sum(axis=1) - self.capacity
        change = self.tables - self.tables[:, self.at, pick][:, :, None] + self.out
        for _ in range(REPAIRS):
            broken = np.maximum(over, 0.0).sum()
            if (over <= self.spare).all():
                return pick
            then = np.maximum(over[:, None, None] + change, 0.0).sum(axis=0)
            part, option = divmod(int(then.argmin()), then.shape[1])
            if not then[part, option] < broken:
                return None
            pick[part] = option
            over = self.tables[:, self.at, pick].sum(axis=1) - self.capacity
            change[:, part] = self.tables[:, part] - self.tables[:, part, option][:, None] + self.out[part]
        return None
