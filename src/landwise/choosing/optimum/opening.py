"""Which charges a good board pays, and what its limits are worth then: for all shared decisions side by side.

With the prices of the limits fixed a set of paid charges costs those charges and each part's cheapest option among
what they allow; paying one more or one less is tried until nothing helps. With the charges fixed the best prices of the
limits are those of a knapsack with several rows: found by Newton's method on the bound with each part's cheapest option
blurred, less and less. Either only proposes: what a set is worth as a choice and what prices are worth as a bound is
always worked anew from the costs themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.model import Array, Mask

MOVES = 60  # at most, in each decision
NEEDED = 1e9  # what a charge is worth to a part that has no option without it
HELPS = 1e-12  # share of the value below which a move counts for nothing
BLURS = (0.1, 0.03, 0.01, 0.003, 0.001)  # widths of the blur, as shares of what a part costs on average
STEPS = 4  # of Newton at each width
DAMPING = 1e-9


@dataclass(frozen=True)
class Opened:
    """Sets of paid charges (decisions, charges), and what each costs with its parts (decisions,)."""

    paid: Mask
    value: Array


class Opener:
    """Looks for good sets of charges.

    Examples
    --------
    A charge of 3 saves two parts 2 each:

    >>> priced = np.array([[[1.0, 3.0], [2.0, 4.0]]])
    >>> opener = Opener([np.array([[True, False], [True, False]])])
    >>> found = opener.improved(priced, np.array([[3.0]]), np.zeros((1, 1), dtype=bool))
    >>> found.paid.tolist(), found.value.tolist()
    ([[True]], [6.0])
    """

    def __init__(self, masks: Sequence[Mask]):
        self.masks = np.stack(masks)  # (charges, parts, options)
        self.options = [np.flatnonzero(mask.ravel()) for mask in masks]
        self.parts, self.starts = [], []
        for found in self.options:
            parts, starts = np.unique(found // masks[0].shape[1], return_index=True)
            self.parts.append(parts)
            self.starts.append(starts)

    def missing(self, paid: Mask) -> Array:
        """How many charges each option still needs (decisions, parts, options)."""
        flat = self.masks.reshape(len(self.masks), -1).astype(np.float32)
        found: Array = ((~paid).astype(np.float32) @ flat).reshape(len(paid), *self.masks.shape[1:]).astype(np.float64)
        return found

    def open(self, paid: Mask) -> Mask:
        """The options that the paid charges allow (decisions, parts, options)."""
        found: Mask = self.missing(paid) < 0.5
        return found

    def value(self, priced: Array, due: Array, paid: Mask) -> Array:
        """What sets of charges cost with their parts (decisions,); infinite where a part is left without an option."""
        least = np.where(self.open(paid), priced, np.inf).min(axis=2).sum(axis=1)
        found: Array = least + (due * paid).sum(axis=1)
        return found

    def improved(self, priced: Array, due: Array, paid: Mask) -> Opened:
        """Each decision's set, better by single charges as long as one helps.

        Parameters
        ----------
        priced : array (decisions, parts, options)
        due : array (decisions, charges)
        paid : bool array (decisions, charges)
            To start from; each part must have an option there.
        """
        paid = paid.copy()
        value = self.value(priced, due, paid)
        live = np.arange(len(paid))
        for _ in range(MOVES):
            gain = self._gains(priced[live], due[live], paid[live])
            best = gain.argmax(axis=1)
            good = gain[np.arange(len(live)), best] > HELPS * np.maximum(np.abs(value[live]), 1e-300)
            live, best = live[good], best[good]
            if not live.size:
                break
            paid[live, best] ^= True
            value[live] = self.value(priced[live], due[live], paid[live])
        return Opened(paid, value)

    def exchanged(self, priced: Array, due: Array, start: Mask) -> Opened:
        """One decision's set (charges,), better also by two charges at once."""
        best = self.improved(priced[None], due[None], start[None])
        for _ in range(MOVES):
            pairs = [(a, b) for a in np.flatnonzero(best.paid[0]) for b in np.flatnonzero(~best.paid[0])]
            # What giving up one charge saves is known exactly; what another then brings is worked with it given up.
            top, found = best.value[0], None
            for a in dict.fromkeys(a for a, _ in pairs):
                without = best.paid.copy()
                without[0, a] = False
                base = self.value(priced[None], due[None], without)[0]
                gain = self._gains(priced[None], due[None], without, base=base)[0]
                gain[best.paid[0]] = -np.inf
                b = int(gain.argmax())
                whole = without.copy()
                whole[0, b] = True
                value = self.value(priced[None], due[None], whole)[0] if np.isfinite(gain[b]) or gain[b] > 0 else np.inf
                if value < top - HELPS * abs(top):
                    top, found = value, whole
            if found is None:
                break
            best = self.improved(priced[None], due[None], found)
        return best

    def _gains(self, priced: Array, due: Array, paid: Mask, base: float | None = None) -> Array:
        """What one more or one less charge saves (decisions, charges)."""
        decisions = len(paid)
        missing = self.missing(paid).reshape(decisions, -1)
        flat = priced.reshape(decisions, -1)
        open_ = np.where(missing < 0.5, flat, np.inf)
        least = open_.reshape(priced.shape).min(axis=2)
        one_short = np.where((missing > 0.5) & (missing < 1.5), flat, np.inf)
        gain = np.full(paid.shape, -np.inf)
        for c, (options, parts, starts) in enumerate(zip(self.options, self.parts, self.starts, strict=True)):
            has = paid[:, c]
            if (~has).any():
                rows = np.flatnonzero(~has)
                there = np.minimum.reduceat(one_short[np.ix_(rows, options)], starts, axis=1)
                now = least[np.ix_(rows, parts)]
                with np.errstate(invalid="ignore"):
                    saved = np.where(np.isinf(now), np.where(np.isinf(there), 0.0, NEEDED), np.maximum(now - there, 0))
                gain[rows, c] = saved.sum(axis=1) - due[rows, c]
            if has.any():
                rows = np.flatnonzero(has)
                at = (parts[:, None] * priced.shape[2] + np.arange(priced.shape[2])[None, :]).ravel()
                others = np.where(self.masks[c, parts].ravel(), np.inf, open_[np.ix_(rows, at)])
                then = others.reshape(len(rows), len(parts), priced.shape[2]).min(axis=2)
                now = least[np.ix_(rows, parts)]
                with np.errstate(invalid="ignore"):
                    lost = np.where(np.isinf(now), 0.0, then - now)
                gain[rows, c] = due[rows, c] - lost.sum(axis=1)
        return gain


def limit_prices_at(cost: Array, use: Sequence[Array], capacity: Array, start: Array) -> Array:
    """Prices of the limits (decisions, rows), near the best, where each part takes any of its finite options.

    Parameters
    ----------
    cost : array (decisions, parts, options)
        Infinite where an option is out.
    use : sequence of array (decisions, parts, options)
    capacity : array (rows, decisions)
    start : array (decisions, rows)
        Prices to start from.

    Examples
    --------
    Half of the dear option keeps the limit; at a price of 1 for each unit the part takes either:

    >>> cost, use = np.array([[[1.0, 3.0]]]), [np.array([[[2.0, 0.0]]])]
    >>> limit_prices_at(cost, use, np.array([[1.0]]), np.zeros((1, 1))).round(3).tolist()
    [[1.0]]
    """
    rows, decisions = len(use), len(cost)
    if not rows:
        return start
    size = np.maximum(np.abs(capacity).T, 1e-12)  # (decisions, rows)
    scaled = [each / size[:, n, None, None] for n, each in enumerate(use)]
    prices = start * size
    least = np.where(np.isfinite(cost), cost, np.inf).min(axis=2)
    level = np.maximum(np.abs(least).mean(axis=1), 1e-12)
    best = np.full(decisions, -np.inf)
    kept = prices.copy()

    def keep(priced: Array) -> None:
        bound = priced.min(axis=2).sum(axis=1) - (prices * capacity.T / size).sum(axis=1)
        better = bound > best
        best[better], kept[better] = bound[better], prices[better]

    for blur in BLURS:
        width = (blur * level)[:, None, None]
        for _ in range(STEPS):
            priced = cost
            for n in range(rows):
                priced = priced + prices[:, n, None, None] * scaled[n]
            keep(priced)
            share = np.exp(-(priced - priced.min(axis=2, keepdims=True)) / width)
            share /= share.sum(axis=2, keepdims=True)
            means = [(share * each).sum(axis=2) for each in scaled]
            over = np.stack([mean.sum(axis=1) for mean in means], axis=1) - capacity.T / size
            curve = np.empty((decisions, rows, rows))
            for i in range(rows):
                weighted = share * scaled[i]
                for j in range(i, rows):
                    both = (weighted * scaled[j]).sum(axis=(1, 2)) - (means[i] * means[j]).sum(axis=1)
                    curve[:, i, j] = curve[:, j, i] = both
            curve /= width
            curve += np.eye(rows) * (DAMPING + 1e-6 * np.trace(curve, axis1=1, axis2=2)[:, None, None] / rows)
            step = np.linalg.solve(curve, over[:, :, None])[:, :, 0]
            most = 0.5 * prices + 0.5 * level[:, None]
            prices = np.maximum(0.0, prices + np.clip(step, -most, most))
    priced = cost
    for n in range(rows):
        priced = priced + prices[:, n, None, None] * scaled[n]
    keep(priced)
    return kept / size
