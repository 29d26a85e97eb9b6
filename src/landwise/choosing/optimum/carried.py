"""Charges carried by the parts, raised part after part for many boards at once: a sharp bound without a solver.

With prices on the limited sums what is left of a decision is a plant location problem: a charge is paid once, and
each part takes its cheapest option of those whose charges are paid. Every part carries shares of the charges that its
options need; no charge may be carried more than whole. The sum over the parts of the cheapest option, shares on it, is
a lower bound whatever the shares. A part takes back what it carries, raises its cheapest option as far as what is left
of the charges allows, and then carries no more of each than that needs: no such step can lower the bound.

Tables have the boards last: what is worked for one part is then a few rows as long as there are boards.

Dual ascent: Erlenkotter, Operations Research 26 (1978) 992, from memory; here for options with several charges each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.choosing.optimum.model import Array, Index, Mask

SEED = 20_26  # of the orders in which the parts take their turns


@dataclass(frozen=True)
class Needs:
    """The charges that the options of one part need. Options that need the same are one: the cheapest counts.

    Parameters
    ----------
    charges : int array (charges of the part,)
        First those that stand in `layers`, then the further ones; one past the last charge stands for none at all.
    alike : sequence of int array
        For each row of the part's table the options that it stands for.
    layers : tuple of int
        Rows in layers: the rows of each need the first so many of `charges`, one each in that order.
    further : sequence of (place, int array of rows)
        Charges that some rows need on top.
    """

    charges: Index
    alike: tuple[Index, ...]
    layers: tuple[int, ...]
    further: tuple[tuple[int, Index], ...]


def needs_of(masks: Sequence[Mask]) -> tuple[Needs, ...]:
    """What the options of every part need, from masks (parts, options) of each charge."""
    return tuple(_needs(np.stack([mask[part] for mask in masks])) for part in range(len(masks[0])))


def _needs(table: Mask) -> Needs:
    """Of one part, from a table (charges, options)."""
    left = table.copy()
    beside: list[int] = []
    while left.sum(axis=0).max() > 1:
        # The charge that stands beside others most often is set by itself; what is left is one charge an option.
        charge = int((left & (left.sum(axis=0) > 1)).sum(axis=1).argmax())
        beside.append(charge)
        left[charge] = False
    own = np.where(left.any(axis=0), left.argmax(axis=0), len(table))
    rows: dict[tuple[int, ...], list[int]] = {}
    for option, charge in enumerate(own.tolist()):
        rows.setdefault((charge, *np.flatnonzero(table[beside, option]).tolist()), []).append(option)
    variants: dict[int, list[tuple[int, ...]]] = {}
    for key in rows:
        variants.setdefault(key[0], []).append(key)
    kinds = sorted(variants, key=lambda charge: (-len(variants[charge]), charge))
    layers, ordered = [], list[tuple[int, ...]]()
    for depth in range(max(map(len, variants.values()))):
        there = [charge for charge in kinds if len(variants[charge]) > depth]
        layers.append(len(there))
        ordered += [variants[charge][depth] for charge in there]
    further = tuple(
        (len(kinds) + n, np.array([row for row, key in enumerate(ordered) if n in key[1:]], dtype=np.int64))
        for n in range(len(beside))
    )
    return Needs(
        np.array([*kinds, *beside], dtype=np.int64),
        tuple(np.array(rows[key], dtype=np.int64) for key in ordered),
        tuple(layers),
        further,
    )


def cheapest_alike(needs: Sequence[Needs], priced: Array) -> list[Array]:
    """Of each part what the cheapest of its like options cost, (rows of its needs, decisions).

    Parameters
    ----------
    needs : sequence of Needs
    priced : array (decisions, parts, options)
        At the prices of the limits, without charges; infinite where out.
    """
    return [np.stack([priced[:, part, options].min(axis=1) for options in one.alike]) for part, one in enumerate(needs)]


@dataclass(frozen=True)
class Boards:
    """Boards to bound: a decision each, with some charges settled.

    Parameters
    ----------
    decision : int array (boards,)
    settled : int array (charges, boards)
        1 for a charge that is paid, -1 for one whose options are out, 0 where both are open.
    shares : array (parts, most charges of a part, boards)
        What each part carries of its charges, in the order of its `Needs`.
    sought : array (charges, boards)
        How much settling a charge promises: by how many parts it is carried, and how much of it; -1 where settled.
    left : array (charges, boards)
        What is left of each charge; of one that is settled it says nothing.
    """

    decision: Index
    settled: Index
    shares: Array
    sought: Array
    left: Array


class Carrier:
    """Raises what the parts carry.

    Examples
    --------
    Two parts share a charge of 3 or go without it for 2 more each; whole choices cost 6, and so does the bound:

    >>> priced = np.array([[[1.0, 3.0], [2.0, 4.0]]])
    >>> mask = np.array([[True, False], [True, False]])
    >>> needs = needs_of([mask])
    >>> carrier = Carrier(needs, 100.0)
    >>> bound, _ = carrier.raised(cheapest_alike(needs, priced), np.zeros(1), np.array([[3.0]]), carrier.none(1, 1))
    >>> float(bound[0])
    6.0
    """

    def __init__(self, needs: Sequence[Needs], dear: float):
        self.needs, self.dear = needs, dear
        self.width = max(len(one.charges) for one in needs)
        chance = np.random.default_rng(SEED)
        self.turn = chance.permutation(len(needs)).tolist()

    def none(self, count: int, charges: int) -> Boards:
        """Boards of the decisions 0 … with nothing settled and nothing carried."""
        none = np.zeros((charges, count))
        shares = np.zeros((len(self.needs), self.width, count))
        return Boards(np.arange(count), none.astype(np.int64), shares, none, none)

    def packed(self, shares: Array) -> Array:
        """Shares (charges, parts) as (parts, most charges of a part)."""
        found = np.zeros((len(self.needs), self.width))
        whole = np.vstack([shares, np.zeros((1, shares.shape[1]))])
        for part, one in enumerate(self.needs):
            found[part, : len(one.charges)] = whole[one.charges, part]
        return found

    def raised(self, tables: Sequence[Array], constant: Array, due: Array, boards: Boards) -> tuple[Array, Boards]:
        """Bounds (boards,), and the boards with what the parts then carry.

        Parameters
        ----------
        tables : sequence of array (rows, decisions)
            What the options cost at the prices of the limits, without charges: `cheapest_alike`; infinite where out.
        constant : array (decisions,)
            What comes on top of the parts.
        due : array (charges, decisions)
            What each charge costs at those prices.
        boards : Boards
        """
        decision, settled = boards.decision, boards.settled
        count = len(settled)
        shares = boards.shares.copy()
        whole = due[:, decision]
        paid = settled == 1
        # One row more, for what needs no charge: nothing is left of it and nothing carried.
        left = np.zeros((count + 1, len(decision)))
        left[:count] = whole
        open_ = np.vstack([~paid, np.zeros((1, len(decision)), dtype=bool)]).astype(np.float64)
        for part, one in enumerate(self.needs):
            own = shares[part, : len(one.charges)]
            own *= open_[one.charges]
            left[one.charges] -= own
        left[count] = 0.0
        # A charge that is out may be carried without end: its options then never are the cheapest.
        np.copyto(left[:count], self.dear, where=settled == -1)
        np.copyto(left[:count], 0.0, where=paid)
        total = np.zeros(len(decision))
        many = np.zeros(left.shape)
        for part in self.turn:
            one = self.needs[part]
            own = shares[part, : len(one.charges)]
            total += self._raise(np.take(tables[part], decision, axis=1), left, own, one)
            left[count] = 0.0
            many[one.charges] += own > 0.0
        bound = total + constant[decision] + np.where(paid, whole, 0.0).sum(axis=0)
        left, many = left[:count], many[:count]
        sought = np.where(settled == 0, many * (whole - left) / np.maximum(whole, 1e-300), -1.0)
        return bound + np.minimum(left, 0.0).sum(axis=0), Boards(decision, settled, shares, sought, left)

    @staticmethod
    def _raise(base: Array, left: Array, shares: Array, needs: Needs) -> Array:
        """One part on every board: raises its cheapest option and gives what that then costs (boards,)."""
        free = left[needs.charges]
        free += shares
        kinds = needs.layers[0]
        own, total = free[:kinds], base
        at = 0
        for rows in needs.layers:
            total[at : at + rows] += own[:rows]
            at += rows
        for place, more in needs.further:
            total[more] += free[place]
        top: Array = total.min(axis=0)
        for place, more in needs.further:
            # What others carry too much leaves less than nothing here: a share below nothing would be no bound.
            most = np.maximum(free[place], 0.0)
            cut = np.minimum(most, (total[more] - top).min(axis=0))
            shares[place] = most - cut
            total[more] -= cut
        # What each row would carry of its own charge to come up to the cheapest; the most that one of them does.
        total -= top
        wanted, at = shares[:kinds], kinds
        np.subtract(own, total[:kinds], out=wanted)
        for rows in needs.layers[1:]:
            np.maximum(wanted[:rows], own[:rows] - total[at : at + rows], out=wanted[:rows])
            at += rows
        np.maximum(wanted, 0.0, out=wanted)
        left[needs.charges] = free - shares
        return top
