"""What is taken among equals: today's package and the usual print stay, and all else is weighed around that board."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from landwise.board.answer import SHARE_ALIKE, BoardAnswer, answered
from landwise.board.model import BoardModel
from landwise.board.objective import Objective, best_of
from landwise.choosing.optimum.model import Problem, Solution

MOST_ROUNDS = 4  # each changes which parts are equal; two were enough on every board seen


@dataclass(frozen=True)
class Settled:
    """The board that is taken, what is known of it, and the objective with what there is today ahead among equals."""

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
    answer = answered(model, best, aim.lost)
    taken, favoured = best, aim
    if aim.money is None or aim.then or best.status != "optimal":
        return Settled(taken, answer, favoured)
    for _ in range(MOST_ROUNDS):
        if stop is not None and stop():
            break
        favoured = replace(aim, problem=keeping_print(model, keeping_equals(model, aim.problem, answer), best, answer))
        found = best_of(favoured, seconds=seconds)
        if found.status != "optimal":
            break
        same = (found.decision, found.choice) == (taken.decision, taken.choice)
        taken = found
        if same:
            break
        answer = answered(model, taken, aim.lost)
    return Settled(taken, answer, favoured)


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


def keeping_print(model: BoardModel, problem: Problem, best: Solution, answer: BoardAnswer) -> Problem:
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
    answer : BoardAnswer
    """
    usual = np.array([one.prints_like(model.decisions[0]) for one in model.decisions])
    alike = min(answer.worth, SHARE_ALIKE * model.problem.value(best.decision, best.choice))
    return replace(problem, shared_cost=np.where(usual, problem.shared_cost - alike, problem.shared_cost))
