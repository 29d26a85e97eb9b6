"""Where defects are likeliest to come from: the design points around which rare ones are sampled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.rare import Facing, bridge_chances, open_chances
from landwise.designing.curves import Curve, prior_curve
from landwise.designing.frame import Frame, Table
from landwise.designing.stacked import Line, first_of, stacked

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Centres:
    """Where defects are likeliest to come from: design points of bridging and of opening, standard normal numbers."""

    bridge: tuple[float, ...]
    open: tuple[float, ...]


# Which way the shared and own numbers run towards a defect: a start, from where the gradient leads on. In the order of
# `mechanisms.COMMON`, `mechanisms.OWN` and the joint's own.
TOWARDS_BRIDGE = np.array([0, 0, 0.6, 0.4, 0, 0, 0, -0.5, 0, 0, 0.1, 0.3, 0.3, 0])
TOWARDS_OPEN = np.array([0, 0, 0, -0.7, 0, 0, 0, 0.3, 0, 0.2, 0, -0.6, 0, 0])
FURTHEST = 9.0  # standard deviations looked along
ROUNDS, NEAR_ROUNDS, NUDGE, CLOSE = 12, 3, 0.05, 0.02
STEPS = np.array([0.03, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9])  # of the way to the next point


def centres_of(
    frame: Frame, table: Table, foil_um: float, line: Line, paste: Curve | None = None, start: Centres | None = None
) -> Centres:
    """Design points of the first design of a table: the likeliest way to a bridge, and to an open.

    `start` are those of a like case, from which these are found in a few steps.

    Notes
    -----
    The point of largest log P(defect | z) − z²/2, by steps towards z = ∇ log P, each as long as serves best: a
    first-order reliability method in which the last number of each joint is integrated in closed form.
    """
    model = stacked(frame, first_of(table), foil_um, line, [paste or prior_curve(line.technology, line.powder)])

    def opened(numbers: Array) -> Array:
        return open_chances(model, m.shared(numbers[: m.SHARED], model), numbers[m.SHARED])[0]

    # The kind that bridges most readily stands for all: the others' design points lie near its own.
    towards = TOWARDS_BRIDGE if start is None else np.array(start.bridge)
    ray = (towards / max(float(np.linalg.norm(towards)), 1e-9))[:, None] * np.linspace(0.0, FURTHEST, 10)
    worst, kept = -np.inf, model.geometry.pair_classes[:1]
    facing = Facing(model, m.shared(ray[: m.SHARED], model), ray[m.SHARED :])
    for one in model.geometry.pair_classes:
        chance = one[1] * facing.chance(model.pairs[one[0]])
        heights = np.log(np.maximum(chance, 1e-290)) - (ray**2).sum(axis=0) / 2
        if float(np.max(heights)) > worst:
            worst, kept = float(np.max(heights)), (one,)
    likeliest = replace(model, geometry=replace(model.geometry, pair_classes=kept))

    def bridge(numbers: Array) -> Array:
        return bridge_chances(likeliest, m.shared(numbers[: m.SHARED], likeliest), numbers[m.SHARED :])[0]

    found = [
        _design_point(bridge, towards, near=start is not None),
        _design_point(opened, TOWARDS_OPEN if start is None else np.array(start.open), near=start is not None),
    ]
    return Centres(*(tuple(float(v) for v in one) for one in found))


def _design_point(chance: Callable[[Array], Array], towards: Array, *, near: bool = False) -> Array:
    def log_chance(numbers: Array) -> Array:
        found = np.broadcast_to(chance(numbers), (1, 1, numbers.shape[1]))[0, 0]
        return np.asarray(np.log(np.maximum(found, 1e-290)))

    ray = towards / max(float(np.linalg.norm(towards)), 1e-9)
    far = np.linspace(0.0, FURTHEST, 19)
    z = ray * far[int(np.argmax(log_chance(ray[:, None] * far) - far**2 / 2))]
    size = len(z)
    nudges = NUDGE * np.hstack([np.eye(size), -np.eye(size)])
    best = -np.inf
    for _ in range(NEAR_ROUNDS if near else ROUNDS):
        values = log_chance(z[:, None] + nudges)
        gradient = (values[:size] - values[size:]) / (2 * NUDGE)
        way = np.clip(gradient, -FURTHEST, FURTHEST) - z
        tried = z[:, None] + way[:, None] * STEPS
        heights = log_chance(tried) - (tried**2).sum(axis=0) / 2
        k = int(np.argmax(heights))
        if heights[k] < best + CLOSE:
            break
        z, best = tried[:, k], float(heights[k])
    return np.asarray(z)
