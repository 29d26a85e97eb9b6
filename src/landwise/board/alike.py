"""What two choices may differ by and still count as equal, and what the proposed decision is ahead by because of it."""

from __future__ import annotations

import numpy as np

from landwise.board.model import BoardModel
from landwise.choosing.optimum.model import Array, Solution

SHARE_ALIKE = 0.05  # of what a part, or a board, costs: two that differ by less are alike


def worth_of(model: BoardModel) -> float:
    """What knowing must save before a choice counts as not decided. [money per board]

    The study's own figure; otherwise what finding out costs, spread over the run.
    """
    stated = model.bench.content.want.worth_deciding
    if stated is not None:
        return stated
    return model.bench.rates["finding_out"].value / model.bench.content.costs.run


def part_alike(model: BoardModel, p: int, k: int) -> float:
    """What two options of a part may differ by and still count as equal. [money per board, all its places]

    No more than is worth deciding, and at most a twentieth of what the part costs in one of them: on few boards too, an
    option that is plainly dearer is not an equal.
    """
    part, name = model.parts[p], model.names[p][k]
    option = next(one for one in part.options if one.name == name)
    return min(worth_of(model), SHARE_ALIKE * option.cost.total * part.count)


def board_alike(model: BoardModel, best: Solution) -> float:
    """What two boards may differ by and still count as equal, by the same rule. [money per board]"""
    return min(worth_of(model), SHARE_ALIKE * model.problem.value(best.decision, best.choice))


def proposed_ahead(model: BoardModel, best: Solution, *, usual: bool = False) -> Array:
    """What each shared decision is ahead by, (decisions,), for what it keeps of the proposed one. [money per board]

    A foil, its technology and the powder print every part, also those that the study does not see: others than proposed
    are taken only where that saves more than two boards may differ by. A step, a further inspection or another class of
    board is taken only where it saves more than two options of a part may differ by, of the part in which that is
    least. To leave out what the proposed decision takes for the sake of another option is nobody's loss, and counts as
    it costs. With `usual` the line's usual print is ahead as the proposed one is: what keeps the board off it is told.
    """
    proposed = model.decisions[best.decision]
    least = min(part_alike(model, p, k) for p, k in enumerate(best.choice))
    kept = (proposed, model.decisions[0]) if usual else (proposed,)
    prints = np.array([any(one.prints_like(print_) for print_ in kept) for one in model.decisions])
    adds = np.array([one.adds_to(proposed) for one in model.decisions])
    return np.where(prints, board_alike(model, best), 0.0) + np.where(adds, 0.0, least)
