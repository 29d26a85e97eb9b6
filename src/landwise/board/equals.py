"""What is taken among equals: today's package and the usual print stay, and all else is weighed around that board."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from landwise.board.alike import board_alike, proposed_ahead
from landwise.board.answer import BoardAnswer, answered
from landwise.board.model import BoardModel
from landwise.board.objective import Objective, best_of
from landwise.board.rivals import rivals_of
from landwise.choosing.optimum.model import Problem, Solution

MOST_ROUNDS = 4  # each changes which parts are equal; two were enough on every board seen


@dataclass(frozen=True)
class Settled:
    """The board that is taken, what is known of it, and the objective for its reasons.

    In that objective today's packages are ahead among equals, and so is what a decision keeps of the proposed one: a
    reason for the choice counts from there, as the comparison of each part's options does.
    """

    best: Solution
    answer: BoardAnswer
    aim: Objective


def among_equals(
    model: BoardModel, aim: Objective, best: Solution, *, seconds: float, stop: Callable[[], bool] | None
) -> Settled:
    """The board that is taken among those that are equal within what is known, with the answer around it.

    The answer for a part holds the others where the board takes them. Keeping one part's package may change what
    another is weighed against (the plan of inspection, a package that both would share), so that the answer is worked
    again around the board that is taken, until it is that of the answer.

    Parameters
    ----------
    model : BoardModel
    aim : Objective
    best : Solution
        Best on average, by the search.
    seconds : float
        Time for each search among equals.
    stop : callable, optional
    """
    taken, kept = best, aim.problem
    for_money = aim.money is not None and not aim.then
    if for_money and best.status == "optimal":
        taken, kept = _kept(model, aim, best, seconds=seconds, stop=stop)
    ahead = proposed_ahead(model, taken)
    rivals = rivals_of(model, taken, aim.lost, ahead)
    answer = answered(model, taken, aim.lost, rivals, proposed=for_money)
    if for_money:
        # No decision is ahead by more than the proposed one, so that what was best still is, and its bound holds.
        kept = replace(kept, shared_cost=kept.shared_cost - proposed_ahead(model, taken, usual=True))
        value = kept.value(taken.decision, taken.choice)
        taken = replace(taken, value=value, bound=taken.bound + value - taken.value)
    return Settled(taken, answer, replace(aim, problem=kept))


def _kept(
    model: BoardModel, aim: Objective, best: Solution, *, seconds: float, stop: Callable[[], bool] | None
) -> tuple[Solution, Problem]:
    """The board that is taken, and what is minimised with today's packages ahead among equals.

    What is equal is told by what each option costs under the decision that is the cheapest with it.
    """
    taken, kept = best, aim.problem
    answer = answered(model, best, aim.lost, rivals_of(model, best, aim.lost))
    for _ in range(MOST_ROUNDS):
        if stop is not None and stop():
            break
        favoured = keeping_equals(model, aim.problem, answer)
        found = best_of(replace(aim, problem=keeping_print(model, favoured, best)), seconds=seconds)
        if found.status != "optimal":
            break
        same = (found.decision, found.choice) == (taken.decision, taken.choice)
        taken, kept = found, favoured
        if same:
            break
        answer = answered(model, taken, aim.lost, rivals_of(model, taken, aim.lost))
    return taken, kept


def keeping_equals(model: BoardModel, problem: Problem, answer: BoardAnswer) -> Problem:
    """What is minimised, with today's package ahead by what its part's equals may differ by.

    So a package is changed only where that saves more than is known, and every reason given for the choice (prices,
    flips, other decisions) counts from there.

    Parameters
    ----------
    model : BoardModel
    problem : Problem
        What was minimised.
    answer : BoardAnswer
    """
    cost = problem.cost.copy()
    for p, part in enumerate(answer.parts):
        present = model.present[p]
        if part.kind == "equal" and present >= 0 and model.names[p][present] in part.options:
            cost[:, p, present] -= part.alike
    return replace(problem, cost=cost)


def keeping_print(model: BoardModel, problem: Problem, best: Solution) -> Problem:
    """What is minimised, with the line's usual print ahead by what two boards may differ by and still be alike.

    A foil, its technology and the powder print every part of the board, also those that the study does not see. So
    another than the line's own is taken only where the parts seen save more by it than is worth deciding, or than a
    twentieth of what they cost.

    Parameters
    ----------
    model : BoardModel
    problem : Problem
        What was minimised.
    best : Solution
        Of least cost on average.
    """
    usual = np.array([one.prints_like(model.decisions[0]) for one in model.decisions])
    return replace(problem, shared_cost=problem.shared_cost - board_alike(model, best) * usual)
