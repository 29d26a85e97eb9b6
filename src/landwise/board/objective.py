"""What the whole board is chosen for: money, weighted value, or one thing after another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from landwise.board.model import AREA, RISK, BoardModel
from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.model import Array, Problem, Row, Solution
from landwise.choosing.optimum.solve import Progress, solve
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError

SAME = 1e-9
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
    """

    name: str
    unit: str
    problem: Problem
    then: tuple[Axis, ...] = ()
    money: float | None = 1.0


def objective_of(model: BoardModel) -> Objective:
    """The study's objective.

    Raises
    ------
    InputError
        For an unknown axis, or an empty list.

    Notes
    -----
    "value" adds up, by the study's weights: money as a share of the cheapest board, area as a share of the
    smallest, and what is missing to full value of the other criteria, averaged over the placements.
    """
    want, money = model.bench.content.want, model.bench.content.costs.unit
    if isinstance(want.objective, list):
        axes = [axis_named(model, name) for name in want.objective or [""]]
        name = "first " + ", then ".join(want.objective)
        first = axes[0]
        paid = first.name == "cost"
        problem = model.problem if paid else with_axis(model.problem, first)
        return Objective(name, unit_of(first, money), problem, tuple(axes[1:]), 1.0 if paid else None)
    if want.objective == "cost":
        return Objective("cost per good board", f"{money} per board", model.problem)
    weights = model.bench.weights
    cheapest = solve(model.problem)
    smallest = solve(with_axis(model.problem, model.area))
    money_scale = max(cheapest.value, 1e-9) if cheapest.found else 1.0
    area_scale = max(smallest.value, 1e-9) if smallest.found else 1.0
    lost: Array = np.zeros(model.problem.cost.shape)
    places = sum(part.count for part in model.parts)
    for (d, p, k), option in model.judged.items():
        for criterion in CRITERIA.values():
            if criterion.name not in ("cost", "area"):
                value = option.figures[criterion.figure].value
                worth = 1.0 if value is None else float(criterion.value(np.array([value]))[0])
                lost[d, p, k] += weights[criterion.name] * (1 - worth) * model.parts[p].count / places
    factor = weights["cost"] / money_scale
    cost = factor * model.problem.cost + weights["area"] * model.area.use / area_scale + lost
    shared = factor * model.problem.shared_cost
    return Objective(
        "weighted value", "of value lost", replace(model.problem, cost=cost, shared_cost=shared), money=factor
    )


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
    return replace(problem, cost=np.array(axis.use), shared_cost=axis.shared)


def total(problem: Problem, axis: Axis, found: Solution) -> float:
    """What a choice adds up to on an axis."""
    shape = problem.cost.shape
    use = np.broadcast_to(axis.use, shape)[found.decision, np.arange(shape[1]), list(found.choice)]
    return float(use.sum() + axis.shared[found.decision])


def best_of(
    objective: Objective, *, seconds: float = float("inf"), stop: Stop | None = None, progress: Progress | None = None
) -> Solution:
    """The best choice; where things are listed, each is held at its least while the next is minimised.

    The value and the bound are those of the first.
    """
    problem = objective.problem
    best = first = solve(problem, seconds=seconds, stop=stop, progress=progress)
    held = problem
    axes = (Axis("first", problem.cost, problem.shared_cost), *objective.then)
    for before, axis in pairwise(axes):
        if best.status != "optimal":
            break
        reached = total(problem, before, best)
        held = held.with_rows(
            Row(f"{before.name} as low as it gets", before.use, reached + SAME * max(1.0, abs(reached)), before.shared)
        )
        better = solve(with_axis(held, axis), seconds=seconds, stop=stop, known=(best,))
        if not better.found:
            break  # rounding: what was found is kept
        best = better
    if not best.found:
        return best
    value = problem.value(best.decision, best.choice)
    return replace(best, value=value, bound=min(first.bound, value))
