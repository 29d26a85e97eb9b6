"""The linear relaxation of one shared decision, by columns and links made as they are wanted: the sharpest price bound.

Each part takes shares of its options that add up to one. A charge is due to the largest share that any one part has in
options that need it (the strong form of the plant location problem). Only a few options of each part can matter at the
best prices, and few links hold, so both are added while the solution asks for them: a board of 2,000 parts needs some
three columns a part. The bound is worked from the prices over all options, never read from the solver, so that it holds
whatever the solver's tolerances.

Column generation: Gilmore & Gomory, Operations Research 9 (1961) 849; strong links of a fixed charge: Erlenkotter,
Operations Research 26 (1978) 992; both from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.milp import quiet_solver
from landwise.choosing.optimum.model import Array, Index, Mask
from landwise.untyped import Untyped

ROUNDS = 60
CLOSE = 1e-10  # relative: columns that could lower the relaxation by less are not asked for
FIRST = 2  # options of each part to start from
MORE = 2  # options a part gets at once
NEAR = 0.01  # of what a part costs on average
DEAR = 50.0  # price of a broken limit, in sums of all that the parts could cost, per whole limit
WHOLE = 1e-6  # how far a share may lie from nothing or one
Over = Callable[[], bool]


@dataclass(frozen=True)
class Once:
    """What is paid once.

    Parameters
    ----------
    masks : list of bool array (parts, options)
    due : array (charges,)
    uses : list of array (charges,)
        Per row what each charge uses.
    """

    masks: list[Mask]
    due: Array
    uses: list[Array]


@dataclass(frozen=True)
class Prices:
    """Prices of the limits, and the share of every charge that each part carries.

    Parameters
    ----------
    rows : array (rows,)
        Per unit of a limited sum; not negative.
    shares : array (charges, parts)
        Not negative.
    """

    rows: Array
    shares: Array

    @classmethod
    def none(cls, rows: int, charges: int, parts: int) -> Prices:
        """Nothing has a price."""
        return cls(np.zeros(rows), np.zeros((charges, parts)))


@dataclass(frozen=True)
class Case:
    """One shared decision: (parts, options) tables; the cost is infinite where an option is out."""

    cost: Array
    base: float
    use: Sequence[Array]
    capacity: Array
    once: Once

    def priced(self, prices: Prices) -> Array:
        """What each option costs at these prices (parts, options)."""
        found = self.cost
        for price, use in zip(prices.rows, self.use, strict=True):
            if price:
                found = found + price * use
        for mask, share in zip(self.once.masks, prices.shares, strict=True):
            if share.any():
                found = found + mask * share[:, None]
        return found

    def constant(self, prices: Prices) -> float:
        """What comes to the parts' cheapest options in the bound at these prices."""
        found = self.base - float(prices.rows @ self.capacity)
        if self.once.masks:
            # A charge that the parts carry more than whole would be bought for nothing but the difference.
            left = self.once.due - prices.shares.sum(axis=1)
            for price, on_top in zip(prices.rows, self.once.uses, strict=True):
                left = left + price * on_top
            found += float(np.minimum(left, 0.0).sum())
        return found

    def bound(self, prices: Prices) -> float:
        """What no choice of this decision can fall below: weak duality, at whatever prices."""
        return float(self.priced(prices).min(axis=1).sum()) + self.constant(prices)


@dataclass(frozen=True)
class Relaxed:
    """The relaxation of a decision.

    Parameters
    ----------
    bound : float
        What no choice of the decision can fall below.
    prices : Prices
        Those of the bound.
    choice : int array (parts,)
        The option with the largest share of each part.
    made : bool array (parts, options)
        Options that came into question and are near enough to the cheapest at these prices.
    broken : bool
        Whether it breaks a limit in spite of its price.
    """

    bound: float
    prices: Prices
    choice: Index
    made: Mask
    broken: bool


class Relaxer:
    """Relaxes one decision after another: options, links and the solver's basis of one serve the next.

    Examples
    --------
    Half of each option would keep the limit, so the bound lies midway; no whole choice does that:

    >>> none = Once([], np.zeros(0), [np.zeros(0)])
    >>> case = Case(np.array([[1.0, 3.0]]), 0.0, [np.array([[2.0, 0.0]])], np.array([1.0]), none)
    >>> round(Relaxer(case).relax(case, lambda: False).bound, 6)
    2.0
    """

    def __init__(self, case: Case):
        self.prices = Prices.none(len(case.use), len(case.once.masks), len(case.cost))
        self._master: _Master | None = None

    def relax(self, case: Case, over: Over, *, enough: float = float("inf")) -> Relaxed:
        """The best prices of one decision.

        Parameters
        ----------
        case : Case
        over : callable
            True ends it; the prices so far give a bound all the same.
        enough : float
            A bound at which it may end.
        """
        best, value = self.prices, case.bound(self.prices)
        if self._master is None:
            self._master = _Master(case)
        else:
            self._master.move(case)
        master = self._master
        master.add(_cheapest(case.priced(best), FIRST))
        for _ in range(ROUNDS):
            if value >= enough or over():
                break
            now, carried = master.solve()
            bound = case.bound(now)
            if bound > value:
                best, value = now, bound
            wanted = _wanting(case.priced(now), carried, CLOSE * max(1.0, abs(value)))
            added = master.add(wanted) if wanted[0].size else 0
            if not added + master.link():
                break
        broken = master.broken()
        if not broken:
            self.prices = best
        return Relaxed(value, best, master.rounded(), _near(case, best, master.made, value), broken)


def _near(case: Case, prices: Prices, made: Mask, value: float) -> Mask:
    priced = case.priced(prices)
    above = priced - priced.min(axis=1, keepdims=True)
    found: Mask = made & (above <= NEAR * abs(value) / len(priced))
    return found


def _cheapest(priced: Array, count: int) -> tuple[Index, Index]:
    """The cheapest options of every part, as parts and options."""
    count = min(count, priced.shape[1])
    order = np.argsort(priced, axis=1, kind="stable")[:, :count]
    parts = np.repeat(np.arange(len(priced)), count)
    options = order.ravel()
    there = np.isfinite(priced[parts, options])
    return parts[there], options[there]


def _wanting(priced: Array, carried: Array, least: float) -> tuple[Index, Index]:
    """Options that would lower the relaxation: cheaper at these prices than what their part pays."""
    parts, options = _cheapest(priced, MORE)
    cheaper = priced[parts, options] < carried[parts] - least / len(priced)
    return parts[cheaper], options[cheaper]


class _Master:
    """The relaxation over the columns and links made so far."""

    def __init__(self, case: Case):
        self.case = case
        self.parts, options = case.cost.shape
        self.made: Mask = np.zeros((self.parts, options), dtype=bool)
        self.column_parts: Index = np.zeros(0, dtype=np.int64)
        self.column_options: Index = np.zeros(0, dtype=np.int64)
        self.links: dict[tuple[int, int], int] = {}  # charge and part of each link, to its row
        masks = case.once.masks
        self.needs: Mask = np.stack(masks) if masks else np.zeros((0, self.parts, options), dtype=bool)
        finite = np.where(np.isfinite(case.cost), case.cost, 0.0)
        self.scale = max(float(np.abs(finite).max()), float(case.once.due.max(initial=0.0))) or 1.0
        self.size = np.array([max(float(np.abs(use).max()), 1e-12) for use in case.use])
        self.solver: Untyped = quiet_solver()
        # A row for each part, then the limits; a column for each charge, then one for each broken limit.
        rows = len(case.use)
        self.limits: Index = self.parts + np.arange(rows)
        self.add_rows(np.ones(self.parts), np.ones(self.parts))
        self.add_rows(np.full(rows, -1e30), case.capacity / self.size)
        charges = len(masks)
        on_top = np.array(case.once.uses).reshape(rows, charges)
        lines = [np.flatnonzero(on_top[:, c]) for c in range(charges)]
        self.add_columns(
            case.once.due / self.scale,
            np.ones(charges),
            [self.parts + line for line in lines],
            [on_top[line, c] / self.size[line] for c, line in enumerate(lines)],
        )
        spread = float((finite.max(axis=1) - finite.min(axis=1)).sum()) + float(case.once.due.sum())
        dear = DEAR * max(spread, self.scale) / self.scale
        each = [np.array([self.parts + r]) for r in range(rows)]
        price = dear / np.maximum(np.abs(case.capacity / self.size), 1.0)
        self.add_columns(price, np.full(rows, 1e30), each, [-np.ones(1)] * rows)
        self.first = charges + rows
        self.values = np.zeros(self.first)

    def move(self, case: Case) -> None:
        """To another decision: costs, what is out, and the limits; all else stays as it is."""
        self.case = case
        columns = np.arange(self.first, self.first + len(self.column_parts), dtype=np.int32)
        cost = case.cost[self.column_parts, self.column_options]
        there = np.isfinite(cost)
        self.solver.changeColsCost(len(columns), columns, np.where(there, cost, 0.0) / self.scale)
        self.solver.changeColsBounds(len(columns), columns, np.zeros(len(columns)), np.where(there, 1e30, 0.0))
        if not len(self.limits):
            return
        self.solver.deleteRows(len(self.limits), self.limits.astype(np.int32))
        gone = int(self.limits[0])
        self.links = {pair: row - len(self.limits) * (row > gone) for pair, row in self.links.items()}
        self.limits = self.parts + len(self.links) + np.arange(len(self.limits))
        charges = len(self.needs)
        for r, (use, on_top) in enumerate(zip(case.use, case.once.uses, strict=True)):
            used = use[self.column_parts, self.column_options]
            values = np.concatenate([on_top / self.size[r], [-1.0], used / self.size[r]])
            entries = np.concatenate([np.arange(charges), [charges + r], columns]).astype(np.int32)
            self.solver.addRow(-1e30, float(case.capacity[r] / self.size[r]), len(entries), entries, values)

    def add_rows(self, lower: Array, upper: Array) -> None:
        """Rows without an entry."""
        if len(lower):
            none = np.zeros(0)
            self.solver.addRows(
                len(lower), lower, upper, 0, np.zeros(len(lower), dtype=np.int32), none.astype(np.int32), none
            )

    def add_columns(self, cost: Array, upper: Array, rows: Sequence[Index], values: Sequence[Array]) -> None:
        """Columns between nothing and `upper` with their entries."""
        if len(cost):
            lengths = np.array([len(row) for row in rows])
            starts = np.concatenate([[0], np.cumsum(lengths)[:-1]]).astype(np.int32)
            entries = np.concatenate(rows).astype(np.int32)
            self.solver.addCols(
                len(cost), cost, np.zeros(len(cost)), upper, len(entries), starts, entries, np.concatenate(values)
            )

    def add(self, wanted: tuple[Index, Index]) -> int:
        """Columns for options, with their entries in the links made so far; how many are new."""
        new = ~self.made[wanted]
        parts, options = wanted[0][new], wanted[1][new]
        if not parts.size:
            return 0
        self.made[parts, options] = True
        rows, values = [], []
        limits = self.limits
        used = np.array([use[parts, options] for use in self.case.use]).reshape(len(limits), len(parts)).T / self.size
        for n, (p, k) in enumerate(zip(parts.tolist(), options.tolist(), strict=True)):
            linked = [self.links[c, p] for c in np.flatnonzero(self.needs[:, p, k]).tolist() if (c, p) in self.links]
            rows.append(np.concatenate([[p], limits, linked]).astype(np.int64))
            values.append(np.concatenate([[1.0], used[n], np.ones(len(linked))]))
        self.add_columns(self.case.cost[parts, options] / self.scale, np.full(len(parts), 1e30), rows, values)
        self.values = np.concatenate(
            [self.values, np.zeros(len(parts))]
        )  # none of them is taken before the next solution
        self.column_parts = np.concatenate([self.column_parts, parts])
        self.column_options = np.concatenate([self.column_options, options])
        return int(parts.size)

    def solve(self) -> tuple[Prices, Array]:
        """Prices, and what each part pays at them."""
        self.solver.run()
        found = self.solver.getSolution()
        self.values = np.array(found.col_value)
        dual = np.array(found.row_dual)
        shares = np.zeros((len(self.needs), self.parts))
        for (c, p), row in self.links.items():
            shares[c, p] = max(0.0, -dual[row] * self.scale)
        prices = np.maximum(0.0, -dual[self.limits] * self.scale / self.size)
        return Prices(prices, shares), dual[: self.parts] * self.scale

    def link(self) -> int:
        """Links that the solution breaks: a part has a larger share in what needs a charge than the charge is due."""
        if not len(self.needs):
            return 0
        due, share = self.values[: len(self.needs)], self.values[self.first :]
        held = np.zeros((len(self.needs), self.parts))
        for c, need in enumerate(self.needs[:, self.column_parts, self.column_options]):
            held[c] = np.bincount(self.column_parts[need], share[need], minlength=self.parts)
        return self.tie(held > due[:, None] + WHOLE)

    def tie(self, pairs: Mask) -> int:
        """Links for pairs of charge and part (charges, parts); how many are new."""
        new = [(c, p) for c, p in np.argwhere(pairs).tolist() if (c, p) not in self.links]
        by_part: dict[int, list[int]] = {}
        for n, p in enumerate(self.column_parts.tolist() if new else ()):
            by_part.setdefault(p, []).append(n)
        starts: list[int] = []
        entries: list[int] = []
        values: list[float] = []
        for c, p in new:
            self.links[c, p] = self.parts + len(self.size) + len(self.links)
            own = [n for n in by_part.get(p, ()) if self.needs[c, p, self.column_options[n]]]
            starts.append(len(entries))
            entries += [c, *(self.first + n for n in own)]
            values += [-1.0, *([1.0] * len(own))]
        if new:
            self.solver.addRows(
                len(new),
                np.full(len(new), -1e30),
                np.zeros(len(new)),
                len(entries),
                np.array(starts, dtype=np.int32),
                np.array(entries, dtype=np.int32),
                np.array(values),
            )
        return len(new)

    def rounded(self) -> Index:
        """The option with the largest share of each part."""
        share = np.where(self.made, 0.0, -1.0)
        share[self.column_parts, self.column_options] = self.values[self.first :]
        found: Index = share.argmax(axis=1)
        return found

    def broken(self) -> bool:
        """Whether the relaxation could not keep every limit at the prices it was given."""
        rows = slice(len(self.needs), self.first)
        return bool((self.values[rows] > WHOLE).any())
