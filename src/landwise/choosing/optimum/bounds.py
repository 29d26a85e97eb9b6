"""Lower bounds for all shared decisions at once, by pricing the limits that couple the parts.

With a price on each limited sum the parts fall apart: each takes its cheapest option at those prices. The sum
is a lower bound whatever the prices (weak Lagrangian duality); good prices make it tight. Choices met on the
way that keep every limit are upper bounds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.model import SLACK, Array, Index

HALVINGS = 34
ASCENTS = 60
SMALL = 2000  # options in all; below it what the bound leaves open is listed quicker than the bound is sharpened
SMALL_HALVINGS = 8


@dataclass(frozen=True)
class Bounds:
    """Bound, prices (rows, decisions) and the best feasible choice of each decision (infinite value if none)."""

    value: Array
    prices: Array
    best_value: Array
    best_choice: Index


class _State:
    """Evaluates prices and keeps the best bound and the best feasible choice of each decision."""

    def __init__(
        self, cost: Array, base: Array, use: list[Array], capacity: Array, extra: Callable[[int, Index], float]
    ):
        self.cost, self.base, self.use, self.capacity, self.extra = cost, base, use, capacity, extra
        decisions, parts, _ = cost.shape
        self.bound = np.full(decisions, -np.inf)
        self.prices = np.zeros((len(use), decisions))
        self.best_value = np.full(decisions, np.inf)
        self.best_choice = np.zeros((decisions, parts), dtype=np.int64)

    def at(self, prices: Array, live: Index) -> Array:
        """Use minus capacity (rows, live decisions) of the cheapest choice at these prices."""
        whole = len(live) == len(self.cost)
        cost = self.cost if whole else self.cost[live]
        priced = cost
        uses = [use if whole else use[live] for use in self.use]
        for price, use in zip(prices, uses, strict=True):
            if price.any():
                priced = priced + price[:, None, None] * use
        pick = priced.argmin(axis=2)[:, :, None]
        total = np.take_along_axis(priced, pick, 2)[:, :, 0].sum(axis=1)
        bound = total + self.base[live] - (prices * self.capacity[:, live]).sum(axis=0)
        over = (
            np.stack([np.take_along_axis(use, pick, 2)[:, :, 0].sum(axis=1) for use in uses])
            if uses
            else np.zeros((0, len(live)))
        )
        over = over - self.capacity[:, live]
        better = bound > self.bound[live]
        self.bound[live[better]] = bound[better]
        self.prices[:, live[better]] = prices[:, better]
        fits = (over <= SLACK * np.maximum(1.0, np.abs(self.capacity[:, live]))).all(axis=0)
        if fits.any():
            value = np.take_along_axis(cost, pick, 2)[:, :, 0].sum(axis=1) + self.base[live]
            for place in np.flatnonzero(fits & (value < self.best_value[live])):
                whole_value = value[place] + self.extra(int(live[place]), pick[place, :, 0])
                if whole_value < self.best_value[live[place]]:
                    self.best_value[live[place]] = whole_value
                    self.best_choice[live[place]] = pick[place, :, 0]
        return over


def bounds(
    cost: Array,
    base: Array,
    use: list[Array],
    capacity: Array,
    extra: Callable[[int, Index], float],
    *,
    ceiling: float = float("inf"),
) -> Bounds:
    """Bounds and feasible choices of all decisions.

    Parameters
    ----------
    cost : array (decisions, parts, options)
        Infinite where an option is out; each part has at least one finite option.
    base : array (decisions,)
        Cost of the decision itself.
    use : list of arrays (decisions, parts, options)
        One per limited sum, finite everywhere.
    capacity : array (rows, decisions)
    extra : callable
        From a decision's place and a choice what comes on top of the sums (charges); infinite where the choice breaks
        a limit that is not a plain sum.
    ceiling : float
        Cost of a choice known already: a decision whose bound reaches it is left.

    Notes
    -----
    One row: the bound is concave in its price with the excess as slope, so halving the interval finds the best
    price. More rows: halving row by row, then subgradient steps towards the best choice known.
    """
    state = _State(cost, base, use, capacity, extra)
    live = np.arange(len(cost))
    over = state.at(np.zeros((len(use), len(cost))), live)
    live = live[(over > 0).any(axis=0) & (state.bound < min(ceiling, float(state.best_value.min())))]
    if len(live):
        small = cost.size <= SMALL
        _halve_each(state, live, over[:, live] > 0, ceiling, SMALL_HALVINGS if small else HALVINGS)
        live = live[state.bound[live] < min(ceiling, float(state.best_value.min()))]
        if len(use) > 1 and not small and len(live):
            _ascend(state, live, ceiling)
    return Bounds(state.bound, state.prices, state.best_value, state.best_choice)


def _halve_each(state: _State, live: Index, violated: np.ndarray, ceiling: float, halvings: int) -> None:
    rows = len(state.use)
    prices = np.zeros((rows, len(live)))
    with np.errstate(invalid="ignore"):
        spread = np.where(np.isfinite(state.cost), np.abs(state.cost), 0.0).max()
    for row in range(rows):
        if not violated[row].any() and row > 0 and not prices.any():
            continue
        top = max(float(np.abs(state.use[row]).max()), 1e-12)
        low, high = np.zeros(len(live)), np.full(len(live), max(spread, 1e-9) / top)
        for _ in range(24):  # a price at which the row is kept, for every decision
            prices[row] = high
            short = state.at(prices, live)[row] > 0
            if not short.any():
                break
            low = np.where(short, high, low)
            high = np.where(short, high * 4, high)
        for _ in range(halvings):
            prices[row] = (low + high) / 2
            short = state.at(prices, live)[row] > 0
            low, high = np.where(short, prices[row], low), np.where(short, high, prices[row])
            # A decision whose bound reaches the best choice known is done with.
            open_ = state.bound[live] < min(ceiling, float(state.best_value.min()))
            if not open_.any() or np.all(high - low <= 1e-12 * np.maximum(high, 1e-300)):
                break
            if not open_.all():
                live, prices, low, high = live[open_], prices[:, open_], low[open_], high[open_]
        prices[row] = high


def _ascend(state: _State, live: Index, ceiling: float) -> None:
    prices = state.prices[:, live].copy()
    pace = np.ones(len(live))
    for _ in range(ASCENTS):
        known = min(ceiling, float(state.best_value.min()))
        before = state.bound[live].copy()
        over = state.at(prices, live)
        aim = known if np.isfinite(known) else float(np.abs(before).max()) * 1.1 + 1.0
        scale = np.maximum(np.abs(state.capacity[:, live]), 1e-12)
        step = over / scale
        length = np.maximum((step**2).sum(axis=0), 1e-30)
        pace = np.where(state.bound[live] > before, pace, pace * 0.9)
        move = pace * np.maximum(aim - state.bound[live], 0.0) / length
        prices = np.maximum(0.0, state.prices[:, live] * 0.3 + prices * 0.7 + move * step / scale)
        still = state.bound[live] < known
        if not still.any():
            return
        live, prices, pace = live[still], prices[:, still], pace[still]
