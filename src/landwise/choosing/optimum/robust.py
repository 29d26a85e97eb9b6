"""How firm a whole-board choice is: shares of wins when inputs and weights are drawn, and what flips it first.

A board's money is a sum of products of rates times loads, so a draw changes the cost table and nothing else.
Thousands of draws are settled by passing over them together: where the cheapest option of every part keeps the
limits, it is the optimum of that draw. Only the other draws are searched, each starting from the boards that
won before it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.market import Market
from landwise.choosing.optimum.model import Array, Ban, Index, Problem, Solution
from landwise.choosing.optimum.solve import solve
from landwise.choosing.optimum.streams import stream

SEED = 20260101
CHUNK_ELEMENTS = 2_000_000
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Robustness:
    """What many draws of the uncertain inputs say.

    Parameters
    ----------
    draws, searched : int
        How many boards were chosen, and how many of them wanted a search of their own.
    impossible : int
        Draws in which no board keeps the limits; they count as lost.
    confidence : float
        Share of draws in which exactly the recommended options win (under any shared decision).
    wins : array (parts, options)
        Share of draws in which each option is part of the best board.
    decisions : array (decisions,)
    central : array (axes,) or None
        Where weights were drawn: their average over the draws that the recommended board wins; None if none.
    """

    draws: int
    searched: int
    impossible: int
    confidence: float
    wins: Array
    decisions: Array
    central: Array | None = None


def robustness(
    problem: Problem,
    best: Solution,
    market: Market,
    *,
    lean_needed: Array | None = None,
    axes: Sequence[tuple[Axis, float]] = (),
    draws: int = 1000,
    seed: int = SEED,
    stop: Stop | None = None,
) -> Robustness:
    """Draw all inputs within their ranges and choose the board anew each time (stochastic acceptability).

    Parameters
    ----------
    problem : Problem
        What is minimised, at today's inputs.
    best : Solution
        The choice whose firmness is asked.
    market : Market
        What the money depends on.
    lean_needed : array (decisions, parts, options), optional
        How far the line must lean to its good side (-1 to 1, drawn uniformly) for an option to print at all.
    axes : sequence of (Axis, span), optional
        If given, weights on these are drawn too, uniform over all weightings, each axis counted in its span;
        the first is the money that the market moves. Without them the problem's own cost is minimised.
    draws, seed : int
    stop : callable, optional
        True ends the drawing; what was drawn until then counts.

    Notes
    -----
    Rates are drawn within their ranges with their value as the mean, prices uniformly within their spread, each by
    itself.

    Examples
    --------
    The second option is cheaper while the rate stays below 2:

    >>> from landwise.choosing.optimum.market import Input, Term
    >>> problem = Problem(np.array([[[3.0, 2.0]]]), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]))
    >>> term = Term({"rate": 1}, np.array([[[1.0, 2.0]]]), np.zeros(1))
    >>> market = Market((Input("rate", 1.0, 0.5, 4.0),), (term,))
    >>> round(robustness(problem, solve(problem), market).confidence, 2)
    0.9
    """
    weigher, leaner = stream(seed, "weights"), stream(seed, "lean")
    weights = weigher.dirichlet(np.ones(len(axes)), size=draws) if axes else None
    lean = leaner.uniform(-1.0, 1.0, draws)
    wins, decisions = np.zeros(problem.exists.shape), np.zeros(problem.decisions)
    central = np.zeros(len(axes))
    parts, wanted = np.arange(problem.parts), np.array(best.choice)
    drawn, won, searched, impossible = 0, 0, 0, 0
    moves = market.draw(problem, draws, seed, CHUNK_ELEMENTS)
    for choice, decision, own in _choices(problem, best, moves, lean_needed, lean, axes, weights):
        drawn += 1
        searched += own
        if decision < 0:
            impossible += 1
        else:
            wins[parts, choice] += 1
            decisions[decision] += 1
            if (choice == wanted).all():
                won += 1
                if weights is not None:
                    central += weights[drawn - 1]
        if stop is not None and stop():
            break
    middle = central / won if weights is not None and won else None
    return Robustness(drawn, searched, impossible, won / drawn, wins / drawn, decisions / drawn, middle)


def _choices(
    problem: Problem,
    best: Solution,
    moves: Iterator[tuple[Array, Array, Array]],
    lean_needed: Array | None,
    lean: Array,
    axes: Sequence[tuple[Axis, float]],
    weights: Array | None,
) -> Iterator[tuple[Index, int, bool]]:
    """(choice, decision, searched) of each draw; decision -1 where no board is possible in it."""
    allowed = problem.allowed
    free = not (problem.rows or problem.groups or problem.charges) and problem.most_outlines is None
    known = [best]
    start = 0
    for moved, moved_shared, moved_due in moves:
        count = len(moved)
        here = slice(start, start + count)
        drawn_weights = None if weights is None else weights[here]
        cost, shared = _tables(problem, moved, moved_shared, axes, drawn_weights)
        due = _due(problem, moved_due, axes, drawn_weights)
        out = ~allowed[None]
        if lean_needed is not None:
            out = out | (lean_needed > lean[here, None, None, None])
        cost = np.where(out, np.inf, cost)
        start += count
        pick = cost.argmin(axis=3)
        least = np.take_along_axis(cost, pick[..., None], 3)[..., 0].sum(axis=2) + shared
        for n in range(count):
            d = int(least[n].argmin())
            choice: Index = pick[n, d]
            if not np.isfinite(least[n, d]):
                yield choice, -1, False
                continue
            if free or (not problem.charges and problem.holds(d, choice)):
                yield choice, d, False
                continue
            gone = ~np.isfinite(cost[n])
            drawn = replace(
                problem,
                cost=np.where(gone, 0.0, cost[n]),
                shared_cost=np.array(shared[n]),
                charged=due[n] if problem.charges else None,
                bans=(Ban("out in this draw", gone),),
            )
            found = solve(drawn, known=known)
            if found.found and found.choice not in {one.choice for one in known}:
                known = [best, *known[1:][-6:], found]
            yield np.array(found.choice, dtype=np.int64), found.decision, True


def _tables(
    problem: Problem, moved: Array, moved_shared: Array, axes: Sequence[tuple[Axis, float]], weights: Array | None
) -> tuple[Array, Array]:
    """What is minimised in each draw: (draws, decisions, parts, options) and (draws, decisions)."""
    if weights is None:
        return problem.cost + moved, problem.shared_cost + moved_shared
    (money, span), *others = axes
    factor = weights[:, 0] / span
    cost = factor[:, None, None, None] * (money.use + moved)
    shared = factor[:, None] * (money.shared + moved_shared)
    for place, (axis, width) in enumerate(others, start=1):
        factor = weights[:, place] / width
        cost = cost + factor[:, None, None, None] * axis.use
        shared = shared + factor[:, None] * axis.shared
    return cost, shared


def _due(problem: Problem, moved: Array, axes: Sequence[tuple[Axis, float]], weights: Array | None) -> Array:
    """What each charge costs in each draw (draws, charges)."""
    if weights is None:
        return np.maximum(problem.due + moved, 0.0)
    found = np.zeros_like(moved)
    for place, (axis, span) in enumerate(axes):
        once = np.zeros(moved.shape[1]) if axis.charged is None else axis.charged
        found = found + weights[:, [place]] / span * (once + (moved if place == 0 else 0.0))
    return np.maximum(found, 0.0)
