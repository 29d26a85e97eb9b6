"""What the whole board is chosen for: money, weighted value, or one thing after another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from landwise.board.model import AREA, RISK, BoardModel
from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.model import Array, Problem, Row, Solution
from landwise.choosing.optimum.solve import solve
from landwise.choosing.optimum.terms import Progress
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError

SAME = 1e-9
LEAST_COST_WEIGHT = 0.05  # money never counts for less beside what is weighed, or prices would not be seen at all
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Objective:
    """What is minimised.

    Parameters
    ----------
    name, unit : str
    problem : Problem
        The choice with it as cost.
    then : tuple of Axis
        What is minimised next among the boards that are equal in it.
    money : float or None
        What a unit of money counts in it; None where money does not come first, so that moving prices say little.
    lost : array, broadcastable to (decisions, parts, options)
        What the study's weights count beside money. [money per board]
    counts : mapping of str to float
        What a unit of each weighed criterion counts: area per mm², the others per full value of one part.
    """

    name: str
    unit: str
    problem: Problem
    then: tuple[Axis, ...] = ()
    money: float | None = 1.0
    lost: Array = field(default_factory=lambda: np.zeros((1, 1, 1)))
    counts: Mapping[str, float] = field(default_factory=dict)


def objective_of(model: BoardModel, counts: Mapping[str, float] | None = None) -> Objective:
    """The study's objective.

    Parameters
    ----------
    model : BoardModel
    counts : mapping of str to float, optional
        What a unit of each weighed criterion counts, where that is known from today's board.

    Raises
    ------
    InputError
        For an unknown axis, or an empty list.

    Notes
    -----
    Cost is expected cost: rates and prices stand at their means, and money is linear in each. Weights that the study
    states say what else is worth how much: with a weight w on area and c on cost, a board of the smallest area again
    counts w/c of the cheapest board; a part that lacks all of another criterion's value counts its share of that. The
    rest of the weights, up to one, is the cost's own. "value" takes the default weights for all that is not stated.
    """
    want, money = model.bench.content.want, model.bench.content.costs.unit
    if isinstance(want.objective, list):
        axes = [axis_named(model, name) for name in want.objective or [""]]
        name = "first " + ", then ".join(want.objective)
        first = axes[0]
        paid = first.name == "cost"
        problem = model.problem if paid else with_axis(model.problem, first)
        return Objective(name, unit_of(first, money), problem, tuple(axes[1:]), 1.0 if paid else None)
    weights = model.bench.weights if want.objective == "value" else stated_weights(want.weights)
    unit = f"{money} per board"
    if not any(weight for name, weight in weights.items() if name != "cost"):
        return Objective("cost per good board", unit, model.problem)
    counts = _counts(model, weights) if counts is None else counts
    lost = lost_by(model, counts)
    return Objective(
        "cost per good board and what is weighed beside it",
        unit,
        replace(model.problem, cost=model.problem.cost + lost),
        lost=lost,
        counts=counts,
    )


def stated_weights(stated: Mapping[str, float]) -> dict[str, float]:
    """Only what a study weighs itself; the rest, up to one, is the cost's.

    >>> stated_weights({"area": 0.6})
    {'area': 0.6, 'cost': 0.4}
    """
    others = sum(weight for name, weight in stated.items() if name != "cost")
    return dict(stated) | {"cost": stated.get("cost", max(LEAST_COST_WEIGHT, round(1 - others, 12)))}


def _counts(model: BoardModel, weights: Mapping[str, float]) -> dict[str, float]:
    """What a unit of each weighed criterion counts. [money per board]"""
    cheapest = solve(model.problem)
    smallest = solve(with_axis(model.problem, model.area))
    scale = max(cheapest.value, 1e-9) if cheapest.found else 1.0
    least = max(smallest.value, 1e-9) if smallest.found else 1.0
    paid = max(weights["cost"], LEAST_COST_WEIGHT)
    places = sum(part.count for part in model.parts)
    return {
        name: scale * weight / paid / (least if name == "area" else places)
        for name, weight in weights.items()
        if weight and name != "cost"
    }


def lost_by(model: BoardModel, counts: Mapping[str, float]) -> Array:
    """What weights count beside money, from what a unit counts: (decisions, parts, options). [money per board]"""
    lost: Array = np.zeros(model.problem.cost.shape)
    if "area" in counts:
        lost += counts["area"] * model.area.use
    for (d, p, k), option in model.judged.items():
        for name, count in counts.items():
            if name != "area":
                criterion = CRITERIA[name]
                value = option.figures[criterion.figure].value
                worth = 1.0 if value is None else float(criterion.value(np.array([value]))[0])
                lost[d, p, k] += count * (1 - worth) * model.parts[p].count
    return lost


def unit_of(axis: Axis, money: str) -> str:
    """An axis' unit in words."""
    return {"cost": f"{money} per board", AREA: "mm²", RISK: "at risk"}.get(axis.name, axis.unit)


def axis_named(model: BoardModel, name: str) -> Axis:
    """Cost, area or risk.

    Raises
    ------
    InputError
        For any other name.
    """
    axes = {"cost": model.cost, AREA: model.area, RISK: model.risk}
    if name not in axes:
        raise InputError("no such objective", place="want, objective", found=name, expected=" | ".join(axes))
    return axes[name]


def with_axis(problem: Problem, axis: Axis) -> Problem:
    """The same choice with an axis as its cost."""
    return replace(problem, cost=np.array(axis.use), shared_cost=axis.shared, charged=axis.charged)


def total(problem: Problem, axis: Axis, found: Solution) -> float:
    """What a choice adds up to on an axis."""
    shape = problem.cost.shape
    use = np.broadcast_to(axis.use, shape)[found.decision, np.arange(shape[1]), list(found.choice)]
    once = 0.0 if axis.charged is None else float(axis.charged @ problem.opened(found.choice))
    return float(use.sum() + axis.shared[found.decision]) + once


def best_of(
    objective: Objective, *, seconds: float = float("inf"), stop: Stop | None = None, progress: Progress | None = None
) -> Solution:
    """The best choice; where things are listed, each is held at its least while the next is minimised.

    The value and the bound are those of the first.
    """
    problem = objective.problem
    best = first = solve(problem, seconds=seconds, stop=stop, progress=progress)
    held = problem
    axes = (Axis("first", problem.cost, problem.shared_cost, charged=problem.charged), *objective.then)
    for before, axis in pairwise(axes):
        if best.status != "optimal":
            break
        reached = total(problem, before, best)
        held = held.with_rows(
            Row(
                f"{before.name} as low as it gets",
                before.use,
                reached + SAME * max(1.0, abs(reached)),
                before.shared,
                charged=before.charged,
            )
        )
        better = solve(with_axis(held, axis), seconds=seconds, stop=stop, known=(best,))
        if not better.found:
            break  # rounding: what was found is kept
        best = better
    if not best.found:
        return best
    value = problem.value(best.decision, best.choice)
    return replace(best, value=value, bound=min(first.bound, value))
