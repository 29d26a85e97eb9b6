"""Charges carried by the parts, raised part after part for many boards at once: a sharp bound without a solver.

With prices on the limited sums what is left of a decision is a plant location problem: a charge is paid once, and
each part takes its cheapest option of those whose charges are paid. Every part carries shares of the charges that its
options need; no charge may be carried more than whole. The sum over the parts of the cheapest option, shares on it, is
a lower bound whatever the shares. A part takes back what it carries, raises its cheapest option as far as what is left
of the charges allows, and then carries no more of each than that needs: no such step can lower the bound.

Dual ascent: Erlenkotter, Operations Research 26 (1978) 992, from memory; here for options with several charges each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.optimum.model import Array, Index, Mask

SEED = 20_26  # of the orders in which the parts take their turns


@dataclass(frozen=True)
class Needs:
    """The charges that the options of one part need.

    Parameters
    ----------
    charges : int array (charges of the part,)
    own : int array (options,)
        Place among them of the one charge of each option that is set last; one past the end where it has none.
    order, starts, kinds : int arrays
        Options ordered by `own`, where each of them starts, and which it is.
    further : sequence of (place, int array of options)
        Charges that some option needs on top of another.
    """

    charges: Index
    own: Index
    order: Index
    starts: Index
    kinds: Index
    further: tuple[tuple[int, Index], ...]


def needs_of(masks: Sequence[Mask]) -> tuple[Needs, ...]:
    """What the options of every part need, from masks (parts, options) of each charge."""
    return tuple(_needs(np.stack([mask[part] for mask in masks])) for part in range(len(masks[0])))


def _needs(table: Mask) -> Needs:
    """Of one part, from a table (charges, options)."""
    charges = np.flatnonzero(table.any(axis=1))
    left = table[charges].copy()
    further = []
    while len(left) and left.sum(axis=0).max() > 1:
        # The charge that stands beside others most often is set by itself; what is left is one charge an option.
        beside = (left & (left.sum(axis=0) > 1)).sum(axis=1)
        place = int(beside.argmax())
        further.append((place, np.flatnonzero(left[place])))
        left[place] = False
    own = np.where(left.any(axis=0), left.argmax(axis=0), len(charges)) if len(left) else np.zeros(table.shape[1], int)
    order = np.argsort(own, kind="stable")
    kinds, starts = np.unique(own[order], return_index=True)
    return Needs(charges, own, order, starts, kinds, tuple(further))


@dataclass(frozen=True)
class Boards:
    """Boards to bound: a decision each, with some charges settled.

    Parameters
    ----------
    decision : int array (boards,)
    settled : int array (boards, charges)
        1 for a charge that is paid, -1 for one whose options are out, 0 where both are open.
    shares : array (parts, boards, most charges of a part)
        What each part carries of its charges, in the order of its `Needs`.
    sought : array (boards, charges)
        How much settling a charge promises: by how many parts it is carried, and how much of it; -1 where settled.
    """

    decision: Index
    settled: Index
    shares: Array
    sought: Array


class Carrier:
    """Raises what the parts carry.

    Examples
    --------
    Two parts share a charge of 3 or go without it for 2 more each; whole choices cost 6, and so does the bound:

    >>> priced = np.array([[[1.0, 3.0], [2.0, 4.0]]])
    >>> mask = np.array([[True, False], [True, False]])
    >>> carrier = Carrier(needs_of([mask]), 100.0)
    >>> none = carrier.none(1, 1)
    >>> bound, _ = carrier.raised(priced, np.zeros(1), np.array([[3.0]]), none)
    >>> float(bound[0])
    6.0
    """

    def __init__(self, needs: Sequence[Needs], dear: float):
        self.needs, self.dear = needs, dear
        self.width = max(len(one.charges) for one in needs)
        chance = np.random.default_rng(SEED)
        self.turn = chance.permutation(len(needs))

    def none(self, count: int, charges: int) -> Boards:
        """Boards of the decisions 0 … with nothing settled and nothing carried."""
        shares = np.zeros((len(self.needs), count, self.width))
        none = np.zeros((count, charges))
        return Boards(np.arange(count), none.astype(np.int64), shares, none)

    def packed(self, shares: Array) -> Array:
        """Shares (charges, parts) as (parts, most charges of a part)."""
        found = np.zeros((len(self.needs), self.width))
        for part, one in enumerate(self.needs):
            found[part, : len(one.charges)] = shares[one.charges, part]
        return found

    def unpacked(self, shares: Array, charges: int) -> Array:
        """The way back: shares (charges, parts)."""
        found = np.zeros((charges, len(self.needs)))
        for part, one in enumerate(self.needs):
            found[one.charges, part] = shares[part, : len(one.charges)]
        return found

    def carried(self, boards: Boards) -> Array:
        """How much of each charge all parts carry together (boards, charges)."""
        found = np.zeros(boards.settled.shape)
        for part, one in enumerate(self.needs):
            found[:, one.charges] += boards.shares[part, :, : len(one.charges)]
        return found

    def raised(self, priced: Array, constant: Array, due: Array, boards: Boards) -> tuple[Array, Boards]:
        """Bounds (boards,), and the boards with what the parts then carry.

        Parameters
        ----------
        priced : array (decisions, parts, options)
            What the options cost at the prices of the limits, without charges; infinite where out.
        constant : array (decisions,)
            What comes on top of the parts.
        due : array (decisions, charges)
            What each charge costs at those prices.
        boards : Boards
        """
        decision, settled = boards.decision, boards.settled
        shares = boards.shares.copy()
        paid = settled == 1
        for part, one in enumerate(self.needs):
            shares[part, :, : len(one.charges)][paid[:, one.charges]] = 0.0
        left = due[decision] - self.carried(replace(boards, shares=shares))
        # A charge that is out may be carried without end: its options then never are the cheapest.
        left = np.where(settled == -1, self.dear, np.where(paid, 0.0, left))
        total = np.zeros(len(decision))
        many = np.zeros(settled.shape)
        for part in self.turn:
            one = self.needs[part]
            total += self._raise(priced[decision, part], left, shares[part], one)
            many[:, one.charges] += shares[part, :, : len(one.charges)] > 0.0
        bound = total + constant[decision] + np.where(paid, due[decision], 0.0).sum(axis=1)
        whole = due[decision]
        sought = np.where(settled == 0, many * (whole - left) / np.maximum(whole, 1e-300), -1.0)
        return bound + np.minimum(left, 0.0).sum(axis=1), Boards(decision, settled, shares, sought)

    @staticmethod
    def _raise(base: Array, left: Array, shares: Array, needs: Needs) -> Array:
        """One part on every board: raises its cheapest option and gives what that then costs (boards,)."""
        count = len(needs.charges)
        if not count:
            least: Array = base.min(axis=1)
            return least
        free = np.empty((len(base), count + 1))
        np.add(left[:, needs.charges], shares[:, :count], out=free[:, :count])
        free[:, count] = 0.0
        own = free[:, needs.own]
        total = base + own
        for place, options in needs.further:
            total[:, options] += free[:, place, None]
        top: Array = total.min(axis=1)
        now = np.zeros_like(free)
        for place, options in needs.further:
            # What others carry too much leaves less than nothing here: a share below nothing would be no bound.
            most = np.maximum(free[:, place], 0.0)
            cut = np.minimum(most, (total[:, options] - top[:, None]).min(axis=1))
            now[:, place] = most - cut
            total[:, options] -= cut[:, None]
        wanted = top[:, None] - (total - own)
        now[:, needs.kinds] = np.maximum(np.maximum.reduceat(wanted[:, needs.order], needs.starts, axis=1), 0.0)
        left[:, needs.charges] = free[:, :count] - now[:, :count]
        shares[:, :count] = now[:, :count]
        return top
