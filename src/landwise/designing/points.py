"""Where defects are likeliest to come from: the design points around which rare ones are sampled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.rare import Facing, open_chances
from landwise.designing.curves import Curve
from landwise.designing.frame import Frame, Table
from landwise.designing.stacked import Line, stacked

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
    frame: Frame,
    table: Table,
    foil_um: float | Array,
    line: Line,
    pastes: Sequence[Curve],
    starts: Sequence[Centres] = (),
) -> tuple[Centres, ...]:
    """Design points of one design under each curve of transfer: the likeliest way to a bridge, and to an open.

    The table holds that design, or one for each curve; foils as of `stacked`.
    `starts` are those of like cases, one for each curve, from which these are found in a few steps.

    Notes
    -----
    The point of largest log P(defect | z) − z²/2, by steps towards z = ∇ log P, each as long as serves best: a
    first-order reliability method in which the last number of each joint is integrated in closed form. All curves are
    worked at once, each by its own numbers: what one comes to does not depend on the others.
    """
    model = stacked(frame, table, foil_um, line, pastes)
    count, near = len(pastes), bool(starts)

    def opened(numbers: Array) -> Array:
        return open_chances(model, m.shared(numbers[: m.SHARED], model), numbers[m.SHARED])[0]

    def facing(numbers: Array) -> Facing:
        return Facing(model, m.shared(numbers[: m.SHARED], model), numbers[m.SHARED :])

    # The kind that bridges most readily stands for all: the others' design points lie near its own.
    towards = [np.array(one.bridge) for one in starts] or [TOWARDS_BRIDGE] * count
    ray = np.stack([_unit(one) for one in towards], axis=1)[:, :, None, None] * np.linspace(0.0, FURTHEST, 10)
    along, kinds = facing(ray), model.geometry.pair_classes
    heights = [
        np.broadcast_to(
            np.log(np.maximum(often * along.chance(model.pairs[number]), 1e-290)) - (ray**2).sum(axis=0) / 2,
            ray.shape[1:],
        ).max(axis=(1, 2))
        for number, often, _ in kinds
    ]
    likeliest = np.argmax(heights, axis=0) if kinds else np.zeros(count, dtype=np.int64)

    def bridge(numbers: Array) -> Array:
        found: Array = np.zeros(numbers.shape[1:])
        at = facing(numbers)
        for kind in np.unique(likeliest) if kinds else ():
            number, often, _ = kinds[kind]
            chance = np.broadcast_to(often * at.chance(model.pairs[number]), found.shape)
            found = np.where((likeliest == kind)[:, None, None], chance, found)
        return found

    bridges = _design_points(bridge, towards, near=near)
    opens = _design_points(opened, [np.array(one.open) for one in starts] or [TOWARDS_OPEN] * count, near=near)
    return tuple(
        Centres(tuple(float(v) for v in one), tuple(float(v) for v in other))
        for one, other in zip(bridges, opens, strict=True)
    )


def _unit(way: Array) -> Array:
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-9))


def _design_points(chance: Callable[[Array], Array], towards: Sequence[Array], *, near: bool = False) -> Array:
    """The design point of every curve, (curves, numbers); `chance` takes numbers (numbers, curves, 1, points)."""
    size, count = len(towards[0]), len(towards)

    def log_chance(numbers: Array) -> Array:
        found = np.broadcast_to(chance(numbers[:, :, None]), (count, 1, numbers.shape[2]))[:, 0]
        return np.asarray(np.log(np.maximum(found, 1e-290)))

    ray = np.stack([_unit(one) for one in towards], axis=1)  # (numbers, curves)
    far = np.linspace(0.0, FURTHEST, 19)
    z = ray * far[np.argmax(log_chance(ray[:, :, None] * far) - far**2 / 2, axis=1)]
    nudges = NUDGE * np.hstack([np.eye(size), -np.eye(size)])
    best, going = np.full(count, -np.inf), np.ones(count, dtype=bool)
    for _ in range(NEAR_ROUNDS if near else ROUNDS):
        values = log_chance(z[:, :, None] + nudges[:, None])
        gradient = (values[:, :size] - values[:, size:]).T / (2 * NUDGE)
        way = np.clip(gradient, -FURTHEST, FURTHEST) - z
        tried = z[:, :, None] + way[:, :, None] * STEPS
        heights = log_chance(tried) - (tried**2).sum(axis=0) / 2
        k = np.argmax(heights, axis=1)
        height = heights[np.arange(count), k]
        going &= height >= best + CLOSE
        if not going.any():
            break
        z = np.where(going, tried[:, np.arange(count), k], z)
        best = np.where(going, height, best)
    return np.asarray(z.T)
