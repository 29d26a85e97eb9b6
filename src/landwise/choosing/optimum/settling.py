"""Branch and bound on the charges of large boards: all shared decisions in one tree, many boards bounded at a time.

The relaxation of a board with many charges leaves most of them half paid, and an integer solver takes minutes to settle
them under one decision. Here a charge is settled as paid or as out, the parts carry the rest (`carried`), and whatever
reaches the best choice known is done with. The prices of the limits are the middle of those of a few decisions: they
need not be the best of each to settle most of it. Where nothing is left to settle at these prices, the charges of such
an end are fixed, its own prices found, and what remains, a knapsack with several rows, goes to the solver.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from landwise.choosing.optimum.carried import Boards, Carrier, cheapest_alike, needs_of
from landwise.choosing.optimum.core import EXACT, Core
from landwise.choosing.optimum.linear import Case, Once, Prices, Relaxed, Relaxer
from landwise.choosing.optimum.model import Array, Index, Mask
from landwise.choosing.optimum.opening import Opener
from landwise.choosing.optimum.terms import Found, Progress, Terms, worth

LARGE = 100_000  # options under all decisions, from which on charges are settled in a tree
FURTHER = 3  # decisions that are relaxed besides the first, to begin with
AT_ONCE = 128  # boards bounded together: more would wait for bounds that fewer could have made needless
PROMISING = 6  # decisions in which charges are exchanged for others
TRIED = 3  # of which so many are worked to a choice at once
REFINED = 3  # times that prices and charges of a choice follow each other, at most
CLOSE = 2e-5  # gap at which what is left of an end is first good enough
ROOMS = (1e-5, 3e-5, 1e-4, 1e-3)  # shares of an end's bound above it within which a choice is looked for
PRIOR = 4.0  # settlings that a charge's own raises weigh as many as against the mean of both ways
MEMORY = 400_000_000  # bytes of boards waiting, beyond which the tree is given up


@dataclass(frozen=True)
class _Board:
    """A board with some charges settled: 1 paid, -1 out, 0 open; what its parts carry; the charge to settle next."""

    decision: int
    settled: Index
    shares: Array
    next: int


@dataclass
class _End:
    """A board with nothing left to settle at the prices of the tree: its case, and how far it has been worked."""

    decision: int
    case: Case
    relaxed: Relaxed | None = None
    searched: bool = False


@dataclass
class Tree:
    """The boards that may still hold something better, by their bounds.

    Parameters
    ----------
    carrier : Carrier
    tables : sequence of array (rows, decisions)
        What the options cost at the prices of the limits, as `cheapest_alike` has it; infinite where out.
    constant : array (decisions,)
    due : array (charges, decisions)
    """

    carrier: Carrier
    tables: Sequence[Array]
    constant: Array
    due: Array
    waiting: list[tuple[float, int, _Board]] = field(default_factory=list)
    bounded: int = 0
    _born: int = 0

    def __post_init__(self) -> None:
        charges = len(self.due)
        self.raises = np.zeros((2, charges))  # how far settling each charge, paid or out, has lifted bounds so far
        self.times = np.zeros((2, charges))

    def start(self, shares: Array, lowest: Array, enough: float) -> None:
        """Every decision with nothing settled, from shares (parts, most charges of a part) and bounds known."""
        count = self.due.shape[1]
        boards = self.carrier.none(count, len(self.due))
        boards = replace(boards, shares=np.repeat(shares[:, :, None], count, axis=2))
        for _ in range(2):
            bounds, boards = self.carrier.raised(self.tables, self.constant, self.due, boards)
            lowest = np.maximum(lowest, bounds)
        self._keep(boards, lowest, bounds, enough)

    def step(self, enough: float) -> list[tuple[float, _Board]]:
        """Settle one charge more on the boards with the lowest bounds; gives those that have come to an end."""
        taken: list[tuple[float, _Board]] = []
        ends: list[tuple[float, _Board]] = []
        while self.waiting and self.waiting[0][0] < enough and len(taken) < AT_ONCE // 2:
            bound, _, board = heapq.heappop(self.waiting)
            (taken if board.next >= 0 else ends).append((bound, board))
        if taken:
            count = len(taken)
            settled = np.tile(np.stack([board.settled for _, board in taken], axis=1), 2)
            next_ = np.array([board.next for _, board in taken])
            settled[np.tile(next_, 2), np.arange(2 * count)] = np.repeat([1, -1], count)
            decision = np.tile([board.decision for _, board in taken], 2)
            shares = np.tile(np.stack([board.shares for _, board in taken], axis=-1), 2)
            none = np.zeros(settled.shape)
            bounds, boards = self.carrier.raised(
                self.tables, self.constant, self.due, Boards(decision, settled, shares, none, none)
            )
            self.bounded += 2 * count
            before = np.tile([bound for bound, _ in taken], 2)
            self._learn(next_, np.minimum(bounds, enough) - before)
            self._keep(boards, np.maximum(bounds, before), bounds, enough)
        return ends

    def _learn(self, charges: Index, lifted: Array) -> None:
        for way, part in enumerate(np.split(np.maximum(lifted, 0.0), 2)):
            np.add.at(self.raises[way], charges, part)
            np.add.at(self.times[way], charges, 1.0)

    def _promise(self, sought: Array) -> Array:
        """What settling each charge next promises (charges, boards); not above nothing where there is no use."""
        """The mean of what each way has raised bounds by, as a product: both must, or little is settled by it."""
        if not self.times.any():
            return sought
        known = self.raises.sum(axis=1) / np.maximum(self.times.sum(axis=1), 1.0)
        mean = (self.raises + PRIOR * known[:, None]) / (self.times + PRIOR)
        worth = np.sqrt(np.maximum(mean.prod(axis=0), 0.0)) + 1e-12
        found: Array = np.where(sought > 0, sought * worth[:, None], sought)
        return found

    def _keep(self, boards: Boards, bounds: Array, own: Array, enough: float) -> None:
        # Paying a charge of which so much is left would lift the board past what is looked for: it is out.
        dear = (boards.settled == 0) & (own + boards.left >= enough)
        settled = np.where(dear, -1, boards.settled)
        sought = self._promise(np.where(dear, -1.0, boards.sought))
        following = np.where(sought.max(axis=0) > 0.0, sought.argmax(axis=0), -1)
        for n in np.flatnonzero(bounds < enough).tolist():
            shares = boards.shares[:, :, n].copy()
            board = _Board(int(boards.decision[n]), settled[:, n].copy(), shares, int(following[n]))
            self._born += 1
            heapq.heappush(self.waiting, (float(bounds[n]), self._born, board))

    @property
    def size(self) -> int:
        """Bytes of the boards waiting."""
        return len(self.waiting) * self.carrier.width * len(self.carrier.needs) * 8


class Settler:
    """Settles the charges of all decisions, from the relaxation of a few of them."""

    def __init__(self, cases: Sequence[Case], first: int, one: Relaxed, relaxer: Relaxer, found: Found, terms: Terms):
        self.cases, self.found, self.terms = cases, found, terms
        self.first = first
        self.live = found.open(terms.gap)
        few = [one.prices, *self._further(relaxer)]
        self.prices: Array = np.mean([prices.rows for prices in few], axis=0)
        self.shares: Array = np.mean([prices.shares for prices in few], axis=0)
        once = cases[0].once
        bare = Prices(self.prices, np.zeros_like(self.shares))
        self.priced = np.stack([cases[n].priced(bare) for n in self.live])
        self.constant = np.array([cases[n].base - float(self.prices @ cases[n].capacity) for n in self.live])
        due = once.due + np.array(once.uses).reshape(len(self.prices), len(once.due)).T @ self.prices
        self.due = np.repeat(due[:, None], len(self.live), axis=1)
        self.ends: list[tuple[float, int, _End]] = []
        self.given_up: list[tuple[float, int]] = []  # bounds and decisions of ends that the solver left open
        self._born = 0

    def _further(self, relaxer: Relaxer) -> list[Prices]:
        """Prices of some decisions more: the middle of several serves all better than those of one."""
        others = [n for n in self.live if n != self.first]
        found = []
        for n in others[:: max(1, -(-len(others) // FURTHER))]:
            if self.terms.over():
                break
            one = relaxer.relax(self.cases[n], self.terms.over)
            self.found.floor[n] = max(self.found.floor[n], one.bound)
            if not one.broken:
                found.append(one.prices)
        return found

    @property
    def enough(self) -> float:
        """A bound at which nothing better is left."""
        value = self.found.value
        return value - max(EXACT, self.terms.gap) * abs(value) if np.isfinite(value) else value

    def run(self, progress: Progress | None) -> None:
        """To the end, or until the terms say that it is over."""
        needs = needs_of(self.cases[0].once.masks)
        tables = cheapest_alike(needs, self.priced)
        most = np.where(np.isfinite(self.priced), np.abs(self.priced), 0.0).max(axis=(0, 2)).sum()
        dear = 10 * float(most + np.abs(self.constant).max() + np.abs(self.due).max(axis=0).sum())
        opener = Opener(needs, tables, self.constant, self.due, dear)
        self.propose(opener)
        if not np.isfinite(self.found.value):
            return
        tree = Tree(Carrier(needs, dear), tables, self.constant, self.due)
        tree.start(tree.carrier.packed(self.shares), self.found.floor[self.live], self.enough)
        while not self.terms.over() and tree.size < MEMORY:
            low = min(tree.waiting[0][0] if tree.waiting else np.inf, self.ends[0][0] if self.ends else np.inf)
            if low >= self.enough:
                break
            if self.ends and self.ends[0][0] <= low:
                self._work(*heapq.heappop(self.ends)[::2])
            else:
                for bound, board in tree.step(self.enough):
                    self._end(bound, self.live[board.decision], board.settled)
            self._floors(tree)
            if progress is not None:
                progress(self.found.value, min(self.found.value, float(self.found.floor.min())))

    def _floors(self, tree: Tree) -> None:
        floor = np.full(len(self.cases), self.enough)
        for bound, _, board in tree.waiting:
            at = self.live[board.decision]
            floor[at] = min(floor[at], bound)
        for bound, decision in [(bound, end.decision) for bound, _, end in self.ends] + self.given_up:
            floor[decision] = min(floor[decision], bound)
        for n in self.live:
            self.found.floor[n] = max(self.found.floor[n], floor[n])

    def propose(self, opener: Opener) -> None:
        """Choices to begin with: good sets of charges in the decisions that promise most."""
        charges, decisions = opener.due.shape
        first = np.array([self.live.index(self.first) if self.first in self.live else 0])
        one = opener.exchanged(opener.improved(np.ones((charges, 1), dtype=bool), first))
        every = opener.improved(np.repeat(one.paid, decisions, axis=1), np.arange(decisions))
        best = opener.exchanged(every.best(PROMISING)).best(TRIED)
        for paid, at, value in zip(best.paid.T, best.decision.tolist(), best.value.tolist(), strict=True):
            if value < min(self.enough, opener.dear) and not self.terms.over():
                self._choice(opener, self.live[at], paid)

    def _fixed(self, case: Case, settled: Index) -> Case:
        """A decision with its settled charges: paid whatever is taken, or their options out."""
        masks = case.once.masks
        out: Mask = np.zeros(case.cost.shape, dtype=bool)
        for c in np.flatnonzero(settled == -1).tolist():
            out |= masks[c]
        paid = np.flatnonzero(settled == 1)
        left = np.flatnonzero(settled == 0)
        once = Once([masks[c] for c in left], case.once.due[left], [each[left] for each in case.once.uses])
        on_top = np.array([float(each[paid].sum()) for each in case.once.uses])
        return Case(
            np.where(out, np.inf, case.cost),
            case.base + float(case.once.due[paid].sum()),
            case.use,
            case.capacity - on_top,
            once,
        )

    def _end(self, bound: float, decision: int, settled: Index) -> None:
        self._later(bound, _End(decision, self._fixed(self.cases[decision], settled)))

    def _later(self, bound: float, end: _End) -> None:
        if bound < self.enough:
            self._born += 1
            heapq.heappush(self.ends, (bound, self._born, end))

    def _work(self, bound: float, end: _End) -> None:
        """One step with an end: its own prices, then a choice and a search to a small gap, then to its end."""
        if not np.isfinite(end.case.cost).any(axis=1).all():
            return
        if end.relaxed is None:
            end.relaxed = Relaxer(end.case).relax(end.case, self.terms.over, enough=self.enough)
            self._later(max(bound, end.relaxed.bound), end)
            return
        if not end.searched:
            self._near(end.decision, end.case, end.relaxed)
        gap = max(self.terms.gap, EXACT if end.searched else CLOSE)
        core = Core(end.case, end.relaxed.prices, self.terms.outline, self.terms.most_outlines)
        better, low, finished = core.search(
            self.found.value, gap, self.terms.left(), self.terms.over, self.terms.enumerate_below
        )
        if better is not None:
            self.found.take(worth(self.cases[end.decision], better, self.terms), end.decision, better)
        if not end.searched:
            self._later(max(bound, low), replace(end, searched=True))
        elif not finished:
            self.given_up.append((max(bound, low), end.decision))

    def _choice(self, opener: Opener, decision: int, paid: Mask) -> None:
        """A choice with about these charges (charges,), near the bound of what is left once they are fixed."""
        whole = self.cases[decision]
        for _ in range(REFINED):
            case = self._fixed(whole, np.where(paid, 1, -1))
            if not np.isfinite(case.cost).any(axis=1).all():
                return
            one = Relaxer(case).relax(case, self.terms.over, enough=self.found.value)
            if one.broken or one.bound >= self.enough:
                return
            # At the prices that the limits have with these charges, others may do better.
            rows = Prices(one.prices.rows, np.zeros((len(paid), len(whole.cost))))
            due = whole.once.due + np.array(whole.once.uses).reshape(len(rows.rows), len(paid)).T @ rows.rows
            tables = cheapest_alike(opener.needs, whole.priced(rows)[None])
            constant = np.array([whole.base - float(rows.rows @ whole.capacity)])
            own = replace(opener, tables=tables, constant=constant, due=due[:, None])
            there = own.exchanged(own.improved(paid[:, None], np.zeros(1, dtype=np.int64)))
            if (there.paid[:, 0] == paid).all():
                break
            paid = there.paid[:, 0]
        self._near(decision, case, one)

    def _near(self, decision: int, case: Case, one: Relaxed) -> None:
        """A choice of a decision with its charges fixed: among few options first, they are many times faster solved."""
        core = Core(case, one.prices, self.terms.outline, self.terms.most_outlines)
        scale = abs(one.bound) or 1.0
        for room in ROOMS:
            aim = one.bound + room * scale
            if self.terms.over() or one.bound >= self.enough:
                return
            near = np.isfinite(case.cost) & (core.extra <= room * scale)
            seconds = 0.1 * self.terms.left()
            better, _, _ = core.among(near, aim, CLOSE, seconds, self.terms.over, self.terms.enumerate_below)
            if better is not None:
                self.found.take(worth(self.cases[decision], better, self.terms), decision, better)
                return
