"""The board with each option of one part, the others held: the shared decision it comes with, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from landwise.board.draws import Drawn
from landwise.board.model import BoardModel
from landwise.choosing.optimum.model import Array, Mask, Problem, Solution, slack

SAME = 1e-9  # share of a cost within which two decisions cost the same: the proposed one is then taken


@dataclass(frozen=True)
class Rivals:
    """What each option of each part is compared as, every other part held at the proposed board.

    Parameters
    ----------
    decisions : tuple of tuple of int
        The shared decision that each option of each part comes with; -1 where none holds it.
    mean : array (parts, options)
        What the board costs on average with each option under it; infinite where none holds it. [money per board]
    """

    decisions: tuple[tuple[int, ...], ...]
    mean: Array

    def near(self, best: Solution) -> tuple[int, ...]:
        """The decisions that occur, the proposed one first."""
        used = sorted({d for part in self.decisions for d in part if d >= 0})
        return tuple(dict.fromkeys((best.decision, *used)))


def rivals_of(model: BoardModel, best: Solution, lost: Array, ahead: Array | None = None) -> Rivals:
    """The decision that each option of each part comes with, and what the board then costs.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        The board that the others of each part are held at.
    lost : array, broadcastable to (decisions, parts, options)
        What the study's weights count beside money. [money per board]
    ahead : array (decisions,), optional
        What each decision is ahead by, as `proposed_ahead` gives it; the proposed option then stands under the proposed
        decision. Without it each option comes with the decision that is the cheapest with it.
    """
    problem, at = model.problem, np.arange(model.problem.parts)
    cost = np.where(_holds(problem, best), _costs(problem, best, lost), np.inf)
    weighed = cost - (0.0 if ahead is None else ahead[:, None, None])
    # What costs the same but for rounding is no reason for another decision.
    there = np.isfinite(cost[best.decision])
    weighed[best.decision, there] -= SAME * np.abs(cost[best.decision, there])
    taken = weighed.argmin(axis=0)
    if ahead is not None:
        taken[at, list(best.choice)] = best.decision
    mean = np.take_along_axis(cost, taken[None], axis=0)[0]
    taken = np.where(np.isfinite(mean), taken, -1)
    decisions = tuple(tuple(taken[p, : len(names)].tolist()) for p, names in enumerate(model.names))
    return Rivals(decisions, mean)


def drawn_rivals(model: BoardModel, best: Solution, rivals: Rivals, drawn: Drawn, p: int, lost: Array) -> Array:
    """What the board costs with each option of one part in every draw (draws, options); infinite where none holds it.

    Charges are those of the whole board. The mean is known exactly; the draws say how far from it a board may come out,
    and with which others.
    """
    problem = model.problem
    others = np.flatnonzero(np.arange(problem.parts) != p)
    choice = np.array(best.choice)[others]
    lost = np.broadcast_to(lost, problem.cost.shape)
    rest = {
        d: drawn.cost[:, n, others, choice].sum(axis=1) + lost[d, others, choice].sum() + drawn.shared[:, n]
        for n, d in enumerate(drawn.decisions)
        if d in rivals.decisions[p]
    }
    opened = _opened(problem, best)[:, p]
    found = np.full((drawn.draws, problem.cost.shape[2]), np.inf)
    for k, d in enumerate(rivals.decisions[p]):
        if d >= 0:
            own = drawn.cost[:, drawn.decisions.index(d), p, k] + lost[d, p, k]
            whole = rest[d] + own + drawn.due @ opened[:, k]
            found[:, k] = whole + (rivals.mean[p, k] - whole.mean())
    return found


def under_of(model: BoardModel, best: Solution, rivals: Rivals, p: int) -> Mapping[str, str]:
    """What the board takes otherwise with each option of a part than it is proposed to, in words; where it does."""
    proposed = model.decisions[best.decision]
    named = zip(model.names[p], rivals.decisions[p], strict=True)
    return MappingProxyType(
        {name: model.decisions[d].beside(proposed) for name, d in named if d >= 0 and d != best.decision}
    )


def _swapped(table: Array, best: Solution) -> Array:
    """Sums over the board with each option of each part in turn, the others held: (decisions, parts, options)."""
    taken = table[:, np.arange(table.shape[1]), list(best.choice)]
    rest = taken.sum(axis=1, keepdims=True) - taken
    return np.asarray(table + rest[:, :, None])


def _opened(problem: Problem, best: Solution) -> Mask:
    """Which charges are due with each option of each part, the others held: (charges, parts, options)."""
    found = np.zeros((len(problem.charges), *problem.exists.shape), dtype=bool)
    at = np.arange(problem.parts)
    for n, charge in enumerate(problem.charges):
        taken = charge.mask[at, list(best.choice)]
        found[n] = charge.mask | (taken.sum() > taken)[:, None]
    return found


def _costs(problem: Problem, best: Solution, lost: Array) -> Array:
    """What the board costs with each option of each part under each decision: (decisions, parts, options)."""
    whole = _swapped(problem.cost + lost, best) + problem.shared_cost[:, None, None]
    return np.asarray(whole + np.tensordot(problem.due, _opened(problem, best), 1))


def _holds(problem: Problem, best: Solution) -> Mask:
    """Whether the board with each option of each part keeps every limit: (decisions, parts, options)."""
    shape = problem.cost.shape
    holds = _swapped(np.where(problem.allowed, 0.0, 1.0), best) < 0.5
    for row in problem.rows:
        whole = _swapped(np.array(np.broadcast_to(row.use, shape)), best)
        if row.shared is not None:
            whole += row.shared[:, None, None]
        if row.charged is not None:
            whole += np.tensordot(row.charged, _opened(problem, best), 1)
        holds &= whole <= row.limit + slack(row.limit)
    for p in range(shape[1]):
        for k in range(shape[2]):
            if not problem.holds_outlines((*best.choice[:p], k, *best.choice[p + 1 :])):
                holds[:, p, k] = False
    return np.asarray(holds)
