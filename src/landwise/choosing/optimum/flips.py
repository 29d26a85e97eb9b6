"""The first value of each input at which another board becomes the best: exact, not scanned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from landwise.choosing.optimum.explain import without_option
from landwise.choosing.optimum.market import Input, Market, Prices
from landwise.choosing.optimum.model import Array, Ban, Problem, Solution
from landwise.choosing.optimum.solve import solve

WIDEST_FACTOR = 10.0
MOST_STEPS = 80
MOST_FORCED = 400  # options put in by force to find the price at which they would win
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Flip:
    """The nearest value of one input at which other options become the best.

    Parameters
    ----------
    name : str
        The input; for a price empty, and `part` and `option` say whose.
    now, at : float
    to : Solution
        The board that is best from there on.
    part, option : int
        -1 unless the input is a price or a print.
    """

    name: str
    now: float
    at: float
    to: Solution
    part: int = -1
    option: int = -1

    @property
    def factor(self) -> float:
        """How far the input must move, as a factor of at least 1."""
        if self.now <= 0 or self.at <= 0:
            return float("inf")
        return max(self.at / self.now, self.now / self.at)


def rate_flips(problem: Problem, best: Solution, market: Market, *, stop: Stop | None = None) -> tuple[Flip, ...]:
    """The flip of each input, from a tenth to ten times today's value, nearest first.

    Examples
    --------
    The second option is cheaper while the rate stays below 2:

    >>> from landwise.choosing.optimum.market import Term
    >>> problem = Problem(np.array([[[3.0, 2.0]]]), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]))
    >>> market = Market((Input("rate", 1.0, 1.0, 4.0),), (Term({"rate": 1}, np.array([[[1.0, 2.0]]]), np.zeros(1)),))
    >>> rate_flips(problem, solve(problem), market)[0].at
    2.0
    """
    found = []
    for one in market.inputs:
        if stop is not None and stop():
            break
        flip = flip_of(problem, best, market, one)
        if flip is not None:
            found.append(flip)
    return tuple(sorted(found, key=lambda flip: flip.factor))


def flip_of(problem: Problem, best: Solution, market: Market, one: Input) -> Flip | None:
    """The nearest value, from a tenth to ten times today's, at which the recommended options stop being best.

    Notes
    -----
    The cost of the best board is concave and piecewise linear in one input (in its inverse, for the volume),
    between price breaks. From the far end, the line of the board best there is cut with the line of today's;
    the board best at the cut is tried next, until at a cut today's board is as good as any: that is the exact
    end of its range (Eisner and Severance's method).
    """
    ends = (one.value / WIDEST_FACTOR, one.value * WIDEST_FACTOR)
    found = [flip for end in ends if (flip := _outward(problem, best, market, one, end)) is not None]
    return min(found, key=lambda flip: flip.factor, default=None)


def _outward(problem: Problem, best: Solution, market: Market, one: Input, end: float) -> Flip | None:
    breaks: Sequence[float] = ()
    if market.prices is not None and market.prices.volume == one.name:
        breaks = market.prices.breaks
    power = market.power(one.name)
    down = end < one.value
    between = sorted((b for b in breaks if min(one.value, end) < b < max(one.value, end)), reverse=down)
    corners = [one.value, *between, end]
    for near, far in pairwise(corners):
        stretch = market.stretch((near + far) / 2)
        inverse = power < 0

        def moved(u: float, stretch: int = stretch, inverse: bool = inverse) -> Problem:
            return market.at(problem, one.name, 1 / u if inverse else u, stretch)

        u_near, u_far = (1 / near, 1 / far) if inverse else (near, far)
        if near != one.value:
            other = solve(moved(u_near))
            here = moved(u_near).value(best.decision, best.choice)
            if other.found and other.choice != best.choice and other.value < here - _tiny(here):
                return Flip(one.name, one.value, near, other)
        if power == 0:
            continue
        hit = _towards(moved, best, u_near, u_far)
        if hit is not None:
            return Flip(one.name, one.value, 1 / hit[0] if inverse else hit[0], hit[1])
    return None


def _towards(
    moved: Callable[[float], Problem], best: Solution, near: float, end: float
) -> tuple[float, Solution] | None:
    """First place from `near` to `end` at which other options win, and the board that does; cost is linear between."""
    ends = moved(near), moved(end)

    def line(found: Solution) -> tuple[float, float]:
        value = ends[0].value(found.decision, found.choice)
        return value, (ends[1].value(found.decision, found.choice) - value) / (end - near)

    holder = best
    for _ in range(MOST_STEPS):
        mine = line(holder)
        u, last = end, None
        for _ in range(MOST_STEPS):
            other = solve(moved(u))
            here = mine[0] + mine[1] * (u - near)
            if not other.found or other.value >= here - _tiny(here):
                break
            theirs = line(other)
            slope = theirs[1] - mine[1]
            if abs(slope) < 1e-15:
                break
            last, u = other, near + (mine[0] - theirs[0]) / slope
        if last is None:
            return None
        if last.choice != best.choice:
            return u, last
        holder = last  # the same options under another shared decision: go on from there
    return None


def _tiny(value: float) -> float:
    return 1e-9 * max(1.0, abs(value))


def price_flips(
    problem: Problem, best: Solution, market: Market, counts: Sequence[int], *, stop: Stop | None = None
) -> tuple[Flip, ...]:
    """For each part, the nearest price at which it comes in another option; nearest first.

    Either the chosen option gets dearer, or another one cheaper (not below nothing). Each value is the difference
    of two exact choices: with the option left out, and with the other put in.
    """
    prices = market.prices
    if prices is None:
        return ()
    table = prices.cost[market.stretch(_volume(market, prices))]
    found = []
    forced = int(problem.exists.sum()) <= MOST_FORCED
    for p in range(problem.parts):
        if stop is not None and stop():
            break
        flip = _price_flip(problem, best, table, market.factor, p, counts[p], forced)
        if flip is not None:
            found.append(flip)
    return tuple(sorted(found, key=lambda flip: flip.factor))


def _volume(market: Market, prices: Prices) -> float:
    return next((one.value for one in market.inputs if one.name == prices.volume), 1.0)


def _price_flip(
    problem: Problem, best: Solution, table: Array, factor: float, p: int, count: int, forced: bool
) -> Flip | None:
    mine = best.choice[p]
    other = without_option(problem, p, mine)
    if not other.found:
        return None
    flips = []
    if table[p, mine] > 0:
        more = (other.value - best.value) / factor
        price = float(table[p, mine])
        flips.append(Flip("", price / count, float(price + more) / count, other, p, mine))
    places = np.flatnonzero(problem.exists[p] & (table[p] > 0)) if forced else [other.choice[p]]
    for k in places:
        if k == mine:
            continue
        there = other if k == other.choice[p] else _with_option(problem, p, int(k))
        less = (there.value - best.value) / factor
        price = float(table[p, k])
        if there.found and less < price:
            flips.append(Flip("", price / count, float(price - less) / count, there, p, int(k)))
    return min(flips, key=lambda flip: flip.factor, default=None)


def _with_option(problem: Problem, part: int, option: int) -> Solution:
    mask = np.zeros(problem.cost.shape, dtype=bool)
    mask[:, part] = True
    mask[:, part, option] = False
    return solve(replace(problem, bans=(*problem.bans, Ban("put in", mask))))


def print_flip(problem: Problem, best: Solution, lean_needed: Array) -> Flip | None:
    """How far the line may lean to its bad side until an option of the board no longer prints.

    The flip's values are leans: 0 today, -1 the bad end of the transfer band; none if the board prints all the way.
    """
    needed = lean_needed[best.decision, np.arange(problem.parts), list(best.choice)]
    p = int(needed.argmax())
    at = float(needed[p])
    if at <= -1.0:
        return None
    gone = np.asarray(lean_needed >= at - 1e-12)
    other = solve(replace(problem, bans=(*problem.bans, Ban("no longer prints", gone))))
    if not other.found or other.choice == best.choice:
        return None
    return Flip("lean", 0.0, at, other, p, best.choice[p])
