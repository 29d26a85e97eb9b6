"""A whole part at once: the chance that all of its joints are good, each with its own draws.

Deposits' volumes are drawn one by one. Of their edges every second one is drawn; the others, none of which face each
other, are integrated in closed form over all their neighbours together, so that two bridges of one deposit hang
together as they do on a board.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.geometry import PairGeometry
from landwise.assembly.partmodel import Joint, PartModel
from landwise.untyped import Fields

Array = NDArray[np.float64]


def joined_chances(model: PartModel, at: m.Shared, rng: np.random.Generator) -> tuple[Array, Array]:
    """Chance that a part has any defect, and its expected defects, at each point of what its joints share.

    Both come from the same draws of what each joint has of its own; their means over many points are those of plain
    counting.
    """
    count = np.shape(at.remaining_um)[0]
    joints = stacked(model.joints)
    volume = m.relative_volume(model, joints, at, rng.standard_normal((len(model.joints), count)))
    up = m.floats(model, at)
    opened = np.where(up | ~joints.counts, 0.0, m.lifted_chance(model, joints, at, volume))
    opened = np.where(joints.counts & ~up & (volume < joints.flux_share), 1.0, opened)
    good = np.prod(1 - opened, axis=0)
    kept, bridges = _bridging(model, joints, at, volume, rng)
    skew = m.skewed(model, at)
    tilt = m.tilted(model, volume)
    good = good * kept * ~(up | skew | tilt)
    return 1 - good, opened.sum(axis=0) + bridges + up + skew.astype(float) + tilt


def _bridging(
    model: PartModel, joints: Joint, at: m.Shared, volume: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Chance of no bridge, and expected bridges, at each point."""
    from scipy.special import ndtr

    count = volume.shape[1]
    kept, expected = np.ones(count), np.zeros(count)
    if not model.pairs:
        return kept, expected
    spread = m.spread_mm(model, joints, at, volume)
    noise = np.broadcast_to(m.noise_mm(model, joints), (len(model.joints), 1))[:, 0]
    inner, around, between = _halves(model.geometry.pairs, len(model.joints))
    edges = noise[:, None] * rng.standard_normal(volume.shape)
    edges[list(inner)] = 0.0
    edges += spread
    for number in between:
        left = _left(model, number, at, edges)
        touch = np.minimum(np.minimum(left[0], left[1]), left[2]) <= 0
        chance = _stays(model, number, volume, touch)
        kept, expected = kept * (1 - chance), expected + chance
    for joint, numbers in around:
        limits, chances = [], []
        for number in numbers:
            left = _left(model, number, at, edges)
            mine, other = (1, 2) if model.pairs[number].first == joint else (2, 1)
            # What this edge may still move before it touches; it has touched where the other one reached metal.
            limit = np.where(left[other] <= 0, -np.inf, np.minimum(left[0], left[mine])) / noise[joint]
            limits.append(limit)
            chances.append(_stays(model, number, volume, limit < -m.FAINT))
        none, some = _over_edge(np.array(limits), np.array(chances), ndtr)
        kept, expected = kept * none, expected + some
    return kept, expected


def _over_edge(limits: Array, chances: Array, ndtr: Callable[[Array], Array]) -> tuple[Array, Array]:
    """No bridge, and expected bridges, of one edge over its own normal number; both arrays (neighbours, points)."""
    beyond = ndtr(-limits)
    expected: Array = np.sum(beyond * chances, axis=0)
    if len(limits) == 1:
        return 1 - expected, expected
    order = np.argsort(limits, axis=0)
    beyond = np.take_along_axis(beyond, order, axis=0)
    kept = np.cumprod(1 - np.take_along_axis(chances, order, axis=0), axis=0)
    # Between two limits the neighbours with the lower ones are touched: Σ kept_k · P(limit_k < edge < limit_k+1).
    steps = beyond - np.vstack([beyond[1:], np.zeros(beyond.shape[1])])
    none: Array = 1 - beyond[0] + np.sum(kept * steps, axis=0)
    return none, expected


def _left(model: PartModel, number: int, at: m.Shared, spread: Array) -> tuple[Array, Array, Array]:
    pair = model.pairs[number]
    ends = model.joints[pair.first], model.joints[pair.second]
    return m.left_apart_mm(pair, ends, at, spread[pair.first], spread[pair.second])


def _stays(model: PartModel, number: int, volume: Array, where: NDArray[np.bool_]) -> Array:
    """Chance that solder of two deposits stays between them, where they may meet; none elsewhere."""
    from scipy.special import ndtr

    pair = model.pairs[number]
    ends = model.joints[pair.first], model.joints[pair.second]
    near = np.flatnonzero(where)
    found = np.zeros(where.shape)
    if near.size:
        first, second = volume[pair.first].take(near), volume[pair.second].take(near)
        with np.errstate(divide="ignore"):
            found[near] = ndtr(np.log(m.fullness(pair, ends, first, second)) / model.scatter["take_back_spread"])
    return found


def stacked(joints: tuple[Joint, ...]) -> Joint:
    """All joints of a part as one, its fields (joints, 1)."""
    columns: Fields = {
        one.name: np.array([getattr(joint, one.name) for joint in joints])[:, None] for one in fields(Joint)
    }
    return Joint(**columns)


@lru_cache(maxsize=512)
def _halves(
    pairs: tuple[PairGeometry, ...], joints: int
) -> tuple[frozenset[int], tuple[tuple[int, tuple[int, ...]], ...], tuple[int, ...]]:
    """Joints of which no two face each other, each with its pairs, and the pairs between the others."""
    near: dict[int, list[int]] = {k: [] for k in range(joints)}
    for number, pair in enumerate(pairs):
        near[pair.first].append(number)
        near[pair.second].append(number)
    inner: set[int] = set()
    taken: set[int] = set()
    for joint in sorted(near, key=lambda k: (len(near[k]), k)):
        if near[joint] and joint not in taken:
            inner.add(joint)
            taken.update(k for number in near[joint] for k in (pairs[number].first, pairs[number].second))
    around = tuple((joint, tuple(near[joint])) for joint in sorted(inner))
    between = tuple(number for number, pair in enumerate(pairs) if pair.first not in inner and pair.second not in inner)
    return frozenset(inner), around, between
