"""How firm a whole-board choice is: shares of wins when inputs are drawn, and the first value that flips it.

A board's cost is linear in its rates, so a draw changes the cost table and nothing else. Thousands of draws are
settled by passing over them together: where the cheapest option of every part keeps the limits, it is the
optimum of that draw; only the other draws are searched, each from its own bounds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.board.model import Array, Ban, Index, Problem, Solution
from landwise.choosing.board.solve import solve

SEED = 20260101
CHUNK_ELEMENTS = 4_000_000
WIDEST_FACTOR = 10.0
MOST_STEPS = 60


@dataclass(frozen=True)
class Input:
    """An uncertain input: its value, its range, and what each option and decision pays per unit of it."""

    name: str
    value: float
    low: float
    high: float
    load: Array
    shared: Array


@dataclass(frozen=True)
class Flip:
    """The nearest value of one input at which another choice becomes the best."""

    name: str
    now: float
    at: float
    to: Solution

    @property
    def factor(self) -> float:
        """How far the input must move, as a factor of at least 1."""
        if self.now <= 0 or self.at <= 0:
            return float("inf")
        return max(self.at / self.now, self.now / self.at)


@dataclass(frozen=True)
class Robustness:
    """What many draws of the uncertain inputs say.

    Parameters
    ----------
    draws, searched : int
        How many boards were chosen, and how many of them wanted a search of their own.
    confidence : float
        Share of draws in which exactly the recommended options win (under any shared decision).
    wins : array (parts, options)
        Share of draws in which each option is part of the best board.
    decisions : array (decisions,)
    flips : tuple of Flip
        Nearest first.
    """

    draws: int
    searched: int
    confidence: float
    wins: Array
    decisions: Array
    flips: tuple[Flip, ...]


def robustness(
    problem: Problem, best: Solution, inputs: Sequence[Input], *, lean_needed: Array | None = None, draws: int = 1000,
    seed: int = SEED,
) -> Robustness:  # fmt: skip
    """Draw all inputs log-uniformly within their ranges and choose the board anew each time.

    Parameters
    ----------
    problem : Problem
        Its cost must be the sum of a fixed part and of value × load over the inputs.
    best : Solution
        The choice whose firmness is asked.
    inputs : sequence of Input
    lean_needed : array (decisions, parts, options), optional
        How far the line must lean to its good side (-1 to 1, drawn uniformly) for an option to print at all.
    draws, seed : int

    Examples
    --------
    The second option is cheaper while the rate stays below 2:

    >>> load = np.array([[[1.0, 2.0]]])
    >>> problem = Problem(np.array([[[3.0, 2.0]]]), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]))
    >>> rate = Input("rate", 1.0, 1.0, 4.0, load, np.zeros(1))
    >>> found = robustness(problem, solve(problem), [rate])
    >>> round(found.confidence, 2), found.flips[0].at
    (0.49, 2.0)
    """
    generator = np.random.Generator(np.random.SFC64(seed))
    values = np.stack([_draw(one, generator, draws) for one in inputs], axis=1) if inputs else np.zeros((draws, 0))
    lean = generator.uniform(-1.0, 1.0, draws)
    wins = np.zeros(problem.exists.shape)
    decisions = np.zeros(problem.decisions)
    won, searched = 0, 0
    wanted = np.array(best.choice)
    parts = np.arange(problem.parts)
    for choice, decision, own in _choices(problem, inputs, values, lean_needed, lean):
        searched += own
        if decision < 0:
            continue
        wins[parts, choice] += 1
        decisions[decision] += 1
        won += bool((choice == wanted).all())
    flips = [flip for one in inputs if (flip := flip_of(problem, best, one)) is not None]
    return Robustness(
        draws, searched, won / draws, wins / draws, decisions / draws, tuple(sorted(flips, key=lambda f: f.factor))
    )


def _draw(one: Input, generator: np.random.Generator, draws: int) -> Array:
    if one.low <= 0:
        return generator.uniform(one.low, one.high, draws)
    drawn: Array = np.exp(generator.uniform(np.log(one.low), np.log(one.high), draws))
    return drawn


def _choices(
    problem: Problem, inputs: Sequence[Input], values: Array, lean_needed: Array | None, lean: Array
) -> Iterator[tuple[Index, int, bool]]:  # fmt: skip
    """(choice, decision, searched) of each draw; decision -1 where no board is possible in it."""
    allowed = problem.allowed
    middle = np.array([one.value for one in inputs])
    loads = np.stack([np.broadcast_to(one.load, problem.cost.shape).ravel() for one in inputs]) if inputs else None
    shares = np.stack([one.shared for one in inputs]) if inputs else None
    base = np.where(allowed, problem.cost, np.inf).reshape(1, -1)
    size = max(1, CHUNK_ELEMENTS // base.shape[1])
    free = not problem.rows and not problem.groups and problem.most_outlines is None
    for start in range(0, len(values), size):
        moved = values[start : start + size] - middle
        cost = base + (moved @ loads if loads is not None else 0.0)
        cost = cost.reshape(len(moved), *problem.cost.shape)
        if lean_needed is not None:
            cost = np.where(lean_needed > lean[start : start + size, None, None, None], np.inf, cost)
        shared = problem.shared_cost + (moved @ shares if shares is not None else 0.0)
        shared = np.broadcast_to(shared, (len(moved), problem.decisions))
        pick = cost.argmin(axis=3)
        least = np.take_along_axis(cost, pick[..., None], 3)[..., 0].sum(axis=2) + shared
        for n in range(len(moved)):
            d = int(least[n].argmin())
            choice: Index = pick[n, d]
            if not np.isfinite(least[n, d]):
                yield choice, -1, False
                continue
            if free or problem.holds(d, choice):
                yield choice, d, False
                continue
            out = ~np.isfinite(cost[n])
            drawn = replace(
                problem, cost=np.where(out, problem.cost, cost[n]), shared_cost=np.array(shared[n]),
                bans=(Ban("out in this draw", out),),
            )  # fmt: skip
            found = solve(drawn)
            yield np.array(found.choice, dtype=np.int64), found.decision, True


def at_value(problem: Problem, one: Input, value: float) -> Problem:
    """The choice with one input moved."""
    move = value - one.value
    return replace(problem, cost=problem.cost + move * one.load, shared_cost=problem.shared_cost + move * one.shared)


def flip_of(problem: Problem, best: Solution, one: Input) -> Flip | None:
    """The nearest value, from a tenth to ten times today's, at which the recommended options stop being best.

    Notes
    -----
    The cost of the best board is concave and piecewise linear in one input. From the far end, the line of the
    board best there is cut with the line of today's; the board best at the cut is tried next, until at a cut
    today's board is as good as any: that is the exact end of its range (Eisner and Severance's method).
    """
    found = []
    span = (one.value / WIDEST_FACTOR, one.value * WIDEST_FACTOR) if one.value > 0 else (one.low, one.high)
    for end in span:
        flip = _towards(problem, best, one, end)
        if flip is not None:
            found.append(flip)
    return min(found, key=lambda flip: flip.factor, default=None)


def _towards(problem: Problem, best: Solution, one: Input, end: float) -> Flip | None:
    mine = _line(problem, best, one)
    value, last = end, None
    for _ in range(MOST_STEPS):
        other = solve(at_value(problem, one, value))
        here = mine[0] + mine[1] * (value - one.value)
        if not other.found or other.value >= here - 1e-9 * max(1.0, abs(here)):
            break
        theirs = _line(problem, other, one)
        slope = theirs[1] - mine[1]
        if abs(slope) < 1e-15:
            break
        last = other
        value = one.value + (mine[0] - theirs[0]) / slope
    if last is None or last.choice == best.choice:
        return None
    return Flip(one.name, one.value, value, last)


def _line(problem: Problem, found: Solution, one: Input) -> tuple[float, float]:
    """Cost today and its slope in one input."""
    parts = np.arange(problem.parts)
    load = np.broadcast_to(one.load, problem.cost.shape)[found.decision, parts, list(found.choice)].sum()
    return problem.value(found.decision, found.choice), float(load + one.shared[found.decision])


def weight_wins(
    problem: Problem, points: Sequence[tuple[float, ...]], choices: Sequence[Sequence[int]],
    *, draws: int = 1000, seed: int = SEED,
) -> Array:  # fmt: skip
    """Share of all weightings of the axes under which each option wins, over the points of a complete trade-off.

    Whatever the weights, the best board lies on the trade-off, so no search is needed: each axis is scaled by its
    span over the points, weights are drawn uniformly, and the best point is looked up.
    """
    table = np.array(points)
    span = np.maximum(np.ptp(table, axis=0), 1e-12)
    scaled = (table - table.min(axis=0)) / span
    generator = np.random.Generator(np.random.SFC64(seed))
    weights = generator.dirichlet(np.ones(table.shape[1]), size=draws)
    winner = (weights @ scaled.T).argmin(axis=1)
    shares = np.zeros(problem.exists.shape)
    parts = np.arange(problem.parts)
    for place, count in enumerate(np.bincount(winner, minlength=len(points))):
        shares[parts, list(choices[place])] += count / draws
    return shares
