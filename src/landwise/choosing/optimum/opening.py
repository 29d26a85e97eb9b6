"""Which charges a good board pays: many sets of charges, under many shared decisions, bettered side by side.

With the prices of the limits fixed a set of paid charges costs those charges and each part's cheapest option among
what they allow. Paying one more or one less, then one in place of another, is tried until nothing helps. It only
proposes: what a set is worth as a choice is always worked anew from the costs themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.carried import Needs
from landwise.choosing.optimum.model import Array, Index, Mask

MOVES = 100  # at most, of each set
EXCHANGES = 20  # at most, of the best sets
HELPS = 1e-12  # share of the value below which a move counts for nothing


@dataclass(frozen=True)
class Opened:
    """Sets of paid charges (charges, sets), the decision of each, and what each costs with its parts (sets,)."""

    paid: Mask
    decision: Index
    value: Array

    def best(self, count: int) -> Opened:
        """The cheapest of them."""
        order = np.argsort(self.value, kind="stable")[:count]
        return Opened(self.paid[:, order], self.decision[order], self.value[order])


@dataclass(frozen=True)
class Opener:
    """Looks for good sets of charges.

    Parameters
    ----------
    needs : sequence of Needs
        What the options of each part need.
    tables : sequence of array (rows, decisions)
        What the options cost at the prices of the limits, as `cheapest_alike` has it; infinite where out.
    constant : array (decisions,)
    due : array (charges, decisions)
    dear : float
        What a part without an option counts.

    Examples
    --------
    A charge of 3 saves two parts 2 each:

    >>> from landwise.choosing.optimum.carried import cheapest_alike, needs_of
    >>> needs = needs_of([np.array([[True, False], [True, False]])])
    >>> tables = cheapest_alike(needs, np.array([[[1.0, 3.0], [2.0, 4.0]]]))
    >>> opener = Opener(needs, tables, np.zeros(1), np.array([[3.0]]), 100.0)
    >>> found = opener.improved(np.zeros((1, 1), dtype=bool), np.zeros(1, dtype=int))
    >>> found.paid.tolist(), found.value.tolist()
    ([[True]], [6.0])
    """

    needs: Sequence[Needs]
    tables: Sequence[Array]
    constant: Array
    due: Array
    dear: float

    def gains(self, paid: Mask, decision: Index) -> tuple[Array, Array]:
        """What each set costs (sets,), and what one more or one less charge saves (charges, sets).

        Where two options of a part cost the same to the last digit what one less saves may come out too small.
        """
        count, states = paid.shape
        whole = self.due[:, decision]
        # One row more, for what needs no charge.
        short = np.vstack([~paid, np.zeros((1, states), dtype=bool)])
        saved = np.zeros((count + 1, states))
        lost = np.zeros((count + 1, states))
        total = np.zeros(states)
        for one, table in zip(self.needs, self.tables, strict=True):
            base = table[:, decision]
            without = short[one.charges]
            kinds = one.layers[0]
            missing = np.concatenate([without[:rows] for rows in one.layers]).astype(np.int8)
            for place, more in one.further:
                missing[more] += without[place]
            open_ = np.where(missing == 0, base, self.dear)
            near = np.where(missing == 1, base, self.dear)
            of_kind, at = open_[:kinds], kinds
            wanted = near[:kinds]
            for rows in one.layers[1:]:
                of_kind = of_kind.copy()
                wanted = wanted.copy()
                np.minimum(of_kind[:rows], open_[at : at + rows], out=of_kind[:rows])
                np.minimum(wanted[:rows], near[at : at + rows], out=wanted[:rows])
                at += rows
            least = of_kind.min(axis=0)
            total += least
            cheapest = of_kind == least
            second = np.where(cheapest, self.dear, of_kind).min(axis=0)
            own = one.charges[:kinds]
            saved[own] += np.where(without[:kinds], np.maximum(least - wanted, 0.0), 0.0)
            lost[own] += np.where(cheapest, second - least, 0.0)
            for place, more in one.further:
                charge = one.charges[place]
                saved[charge] += np.where(without[place], np.maximum(least - near[more].min(axis=0), 0.0), 0.0)
                others = open_.copy()
                others[more] = self.dear
                lost[charge] += others.min(axis=0) - least
        gain = np.where(paid, whole - lost[:count], saved[:count] - whole)
        return total + self.constant[decision] + (whole * paid).sum(axis=0), gain

    def improved(self, paid: Mask, decision: Index) -> Opened:
        """Each set bettered by single charges as long as one helps; of sets (charges, sets) under a decision each."""
        paid = paid.copy()
        live = np.arange(paid.shape[1])
        value, gain = self.gains(paid, decision)
        for _ in range(MOVES):
            best = gain.argmax(axis=0)
            good = gain[best, np.arange(len(live))] > HELPS * np.maximum(np.abs(value[live]), 1e-300)
            live, best = live[good], best[good]
            if not live.size:
                break
            paid[best, live] ^= True
            there, gain = self.gains(paid[:, live], decision[live])
            better = there < value[live]
            paid[best[~better], live[~better]] ^= True
            live, gain = live[better], gain[:, better]
            value[live] = there[better]
        return Opened(paid, decision, value)

    def exchanged(self, found: Opened) -> Opened:
        """The same sets bettered by one charge in place of another as well."""
        for _ in range(EXCHANGES):
            places = np.nonzero(found.paid.T)  # set and charge of all that could be given up
            without = found.paid[:, places[0]].copy()
            without[places[1], np.arange(len(places[0]))] = False
            value, gain = self.gains(without, found.decision[places[0]])
            gain = np.where(found.paid[:, places[0]], -np.inf, gain)
            added = gain.argmax(axis=0)
            then = value - gain[added, np.arange(len(added))]
            paid = found.paid.copy()
            moved = False
            for one in range(paid.shape[1]):
                mine = np.flatnonzero(places[0] == one)
                best = mine[then[mine].argmin()] if mine.size else -1
                if best >= 0 and then[best] < found.value[one] - HELPS * abs(found.value[one]):
                    paid[places[1][best], one], paid[added[best], one], moved = False, True, True
            if not moved:
                break
            better = self.improved(paid, found.decision)
            worse = better.value >= found.value
            found = Opened(
                np.where(worse, found.paid, better.paid), found.decision, np.minimum(better.value, found.value)
            )
        return found
