"""Several boards that pay for some things together: each is a choice of its own, tied by charges paid once for all.

The price of what is shared is split between the boards; with any split, the sum of the boards' own optima is a bound on
the best choice together (Lagrangian decomposition; from memory: Guignard and Kim, Mathematical Programming 39, 1987).
The split that lifts the bound most is sought by subgradients, and what it leaves open is settled by branching on
whether a shared thing may be had at all.
"""

from __future__ import annotations

import heapq
import itertools
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from landwise.choosing.optimum.core import EXACT
from landwise.choosing.optimum.model import Array, Ban, Mask, Problem, Solution, Status
from landwise.choosing.optimum.solve import solve
from landwise.errors import InputError

ROUNDS = 12  # of splitting prices anew at the root; below it a third as many
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Family:
    """Boards that are chosen together.

    Parameters
    ----------
    problems : tuple of Problem
        One a board; its money is per board.
    boards : tuple of float
        How many of each are built: what one board's money is multiplied by.
    once : tuple of float
        What each shared thing costs, once for all boards. [money]
    places : tuple of tuple of int
        For each board, which of its own charges stands for each shared thing; -1 where it has none. What the board's
        own problem charges for it is not counted.
    """

    problems: tuple[Problem, ...]
    boards: tuple[float, ...]
    once: tuple[float, ...]
    places: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        if not self.problems or not len(self.problems) == len(self.boards) == len(self.places):
            raise InputError(
                "a family wants a number of boards, and the places of what is shared, for each of its boards"
            )
        if any(count <= 0 for count in self.boards) or any(price < 0 for price in self.once):
            raise InputError("a family wants numbers of boards above nothing, and prices not below it")

    def opened(self, choices: Sequence[Solution]) -> Mask:
        """Which shared things each board uses: (boards, shared)."""
        found = np.zeros((len(self.problems), len(self.once)), dtype=bool)
        for b, (problem, places, one) in enumerate(zip(self.problems, self.places, choices, strict=True)):
            own = problem.opened(one.choice)
            found[b] = [place >= 0 and bool(own[place]) for place in places]
        return found

    def own(self, choices: Sequence[Solution]) -> Array:
        """What each board costs beside what is shared: (boards,). [money per board]"""
        return np.array(
            [
                self.problem(b, np.zeros(len(self.once)), frozenset()).value(one.decision, one.choice)
                for b, one in enumerate(choices)
            ]
        )

    def value(self, choices: Sequence[Solution]) -> float:
        """What a choice for every board costs together. [money]"""
        shared = float(np.array(self.once) @ self.opened(choices).any(axis=0))
        return float(self.own(choices) @ np.array(self.boards)) + shared

    def problem(self, b: int, prices: Array, closed: frozenset[int]) -> Problem:
        """One board's choice where it pays its share of each shared thing, and some are not to be had.

        Parameters
        ----------
        b : int
        prices : array (shared,)
            This board's share of each. [money]
        closed : frozenset of int
        """
        problem, places = self.problems[b], self.places[b]
        due = np.array(problem.due, dtype=float)
        gone = np.zeros(problem.exists.shape, dtype=bool)
        for shared, place in enumerate(places):
            if place >= 0:
                due[place] = prices[shared] / self.boards[b]
                if shared in closed:
                    gone |= problem.charges[place].mask
        bans = (*problem.bans, Ban("closed", np.broadcast_to(gone, problem.cost.shape))) if gone.any() else problem.bans
        return replace(problem, charged=due, bans=bans)


@dataclass(frozen=True)
class Together:
    """The outcome for a family.

    Parameters
    ----------
    status : {"optimal", "stopped", "infeasible"}
    choices : tuple of Solution
        One a board; empty if none was found. Their values are those of the board's own share and say nothing here.
    value, bound : float
        Cost of the choice, and what no choice can fall below. [money]
    nodes : int
        How many cases of open and closed were looked at.
    """

    status: Status
    choices: tuple[Solution, ...]
    value: float
    bound: float
    nodes: int


@dataclass
class _Search:
    family: Family
    over: Stop
    value: float = float("inf")
    choices: tuple[Solution, ...] = ()
    known: dict[tuple[object, ...], Solution] = field(default_factory=dict)

    def solved(self, b: int, prices: Array, closed: frozenset[int]) -> Solution:
        places = self.family.places[b]
        mine = frozenset(one for one in closed if places[one] >= 0)
        key = (b, mine, tuple(prices[one] for one in range(len(prices)) if places[one] >= 0 and one not in mine))
        if key not in self.known:
            start = () if not self.choices else (self.choices[b],)
            self.known[key] = solve(self.family.problem(b, prices, mine), stop=self.over, known=start)
        return self.known[key]

    def offer(self, choices: tuple[Solution, ...]) -> None:
        """Keep a choice if it is the best so far."""
        value = self.family.value(choices)
        if value < self.value:
            self.value, self.choices = value, choices


def solve_family(family: Family, *, seconds: float = float("inf"), stop: Stop | None = None) -> Together:
    """The cheapest choice for all boards of a family.

    Parameters
    ----------
    family : Family
    seconds : float
        Time after which it ends with the best found and its bound.
    stop : callable, optional
        Asked now and then; true ends the search in the same way.

    Examples
    --------
    Two boards of ten, one part each, two outlines at 5 each for all boards together. Alone each would take its own
    cheaper outline (1 × 10 + 5); together one outline serves both:

    >>> from landwise.choosing.optimum.model import Charge, Problem
    >>> def board(*cost):
    ...     masks = (np.array([[True, False]]), np.array([[False, True]]))
    ...     return Problem(np.array([[cost]]), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]),
    ...                    charges=(Charge("a", masks[0]), Charge("b", masks[1])), charged=np.array([0.5, 0.5]))
    >>> family = Family((board(1.0, 1.2), board(1.2, 1.0)), (10, 10), (5.0, 5.0), ((0, 1), (0, 1)))
    >>> found = solve_family(family)
    >>> found.status, round(found.value, 6)
    ('optimal', 27.0)
    """
    deadline = time.monotonic() + seconds
    search = _Search(family, lambda: time.monotonic() >= deadline or (stop is not None and stop()))
    count, shared = len(family.problems), len(family.once)
    has = np.array([[place >= 0 for place in places] for places in family.places], dtype=bool).reshape(count, shared)
    once = np.array(family.once, dtype=float)
    even = np.where(has, once / np.maximum(has.sum(axis=0), 1), 0.0)
    order = itertools.count()
    heap: list[tuple[float, int, frozenset[int], frozenset[int], Array]] = []

    def look(opened: frozenset[int], closed: frozenset[int], prices: Array, rounds: int, least: float) -> None:
        """Bound one case, and put it aside for branching unless that settles it."""
        bound, split = _bounded(search, has, (opened, closed, prices), rounds)
        bound = max(bound, least)
        if bound < search.value - _slack(search.value) and split is not None:
            heapq.heappush(heap, (bound, next(order), opened, closed, split))

    look(frozenset(), frozenset(), even, ROUNDS, -np.inf)
    if search.choices:
        _without_each(search)
    nodes = 1
    while heap and not search.over():
        bound, _, opened, closed, prices = heapq.heappop(heap)
        if bound >= search.value - _slack(search.value):
            heap.clear()
            break
        at = _most_disputed(search, (opened, closed, prices), has)
        nodes += 2
        look(opened | {at}, closed, prices, ROUNDS // 3, bound)
        look(opened, closed | {at}, prices, ROUNDS // 3, bound)
    if not search.choices:
        return Together("stopped" if search.over() else "infeasible", (), float("inf"), float("inf"), nodes)
    finished = not heap and not search.over()
    lowest = search.value if finished else min((search.value, *(one[0] for one in heap)))
    return Together("optimal" if finished else "stopped", search.choices, search.value, lowest, nodes)


def _slack(value: float) -> float:
    return EXACT * max(abs(value), 1.0) if np.isfinite(value) else 0.0


Node = tuple[frozenset[int], frozenset[int], Array]


def _shares(node: Node) -> Array:
    """What each board is charged: nothing for what is open in any case, which is paid beside."""
    opened, _, prices = node
    shares = np.array(prices)
    shares[:, list(opened)] = 0.0
    return shares


def _bounded(search: _Search, has: Mask, node: Node, rounds: int) -> tuple[float, Array | None]:
    """The best bound of one case over several splits of the prices, and that split; none where nothing is possible."""
    family = search.family
    opened, closed, prices = node
    free = np.array([one not in opened and one not in closed for one in range(len(family.once))], dtype=bool)
    paid = sum(family.once[one] for one in opened)
    best, kept, reach = -np.inf, prices, 1.0
    for _ in range(rounds):
        shares = _shares((opened, closed, prices))
        found = tuple(search.solved(b, shares[b], closed) for b in range(len(family.problems)))
        if any(one.status == "infeasible" for one in found):
            return np.inf, None
        if all(one.found for one in found):
            search.offer(found)
        bound = paid + sum(count * one.bound for count, one in zip(family.boards, found, strict=True))
        if bound > best:
            best, kept = bound, prices
        else:
            reach /= 2
        if search.over() or best >= search.value - _slack(search.value) or not all(one.found for one in found):
            break
        uses: Array = family.opened(found).astype(float)
        mean: Array = uses.sum(axis=0) / np.maximum(has.sum(axis=0), 1)
        step: Array = np.where(has & free, uses - mean, 0.0)
        length = float((step**2).sum())
        if length == 0:
            break
        prices = _onto(prices + reach * (search.value - bound) / length * step, has, np.array(family.once))
    return best, kept


def _onto(prices: Array, has: Mask, once: Array) -> Array:
    """The nearest split: not negative, and each shared thing's shares sum to its price.

    Projection on a simplex (from memory: Held, Wolfe and Crowder, Mathematical Programming 6, 1974).
    """
    found = np.zeros(prices.shape)
    for one, price in enumerate(once):
        rows = np.flatnonzero(has[:, one])
        if not rows.size:
            continue
        ranked = np.sort(prices[rows, one])[::-1]
        above = np.cumsum(ranked) - price
        last = np.flatnonzero(ranked - above / np.arange(1, len(rows) + 1) > 0)[-1] if price > 0 else 0
        level = above[last] / (last + 1)
        found[rows, one] = np.maximum(prices[rows, one] - level, 0.0) if price > 0 else 0.0
    return found


def _most_disputed(search: _Search, node: Node, has: Mask) -> int:
    """The shared thing to branch on: the dearest that some boards take at its split price and others don't."""
    opened, closed, _ = node
    shares = _shares(node)
    found = tuple(search.solved(b, shares[b], closed) for b in range(len(search.family.problems)))
    uses = search.family.opened(found)
    asked: Array = uses.sum(axis=0) / np.maximum(has.sum(axis=0), 1)
    score: Array = np.array(search.family.once, dtype=float) * np.minimum(asked, 1 - asked)
    taken = list(opened | closed)
    score[taken] = -1.0
    return int(score.argmax())


def _without_each(search: _Search) -> None:
    """Try to do without each shared thing that the best choice has, one after the other."""
    family = search.family
    shared = range(len(family.once))
    for one in sorted(shared, key=lambda n: -family.once[n]):
        used: Mask = np.asarray(family.opened(search.choices).any(axis=0))
        if not used[one] or search.over():
            continue
        closed = frozenset(n for n in shared if not used[n]) | {one}
        found = tuple(search.solved(b, np.zeros(len(family.once)), closed) for b in range(len(family.problems)))
        if all(option.found for option in found):
            search.offer(found)
