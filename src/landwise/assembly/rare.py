"""Rates of rare defects: only what joints share is sampled, and from wider scatter; the rest is integrated exactly.

Given what all joints of an assembly share, a bridge or an open depends on a few normal numbers of its own. The last
of them is integrated in closed form, so that even one sample tells a rate of 1e-9. The shared numbers are
scrambled Sobol points, drawn from a wider normal density than their own and weighted back (importance sampling).
Several scrambles give the interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.partmodel import PartModel
from landwise.assembly.sobol import Sobol, normal_block

Array = NDArray[np.float64]
LOCAL = 3  # of a pair or joint: two volumes, and the difference of two edges
# How many times wider than its own density each number is drawn: print, slump, volume; placement, turn, remaining
# height, float, bow, edge; then the joint's own.
WIDER_COMMON = (1.3, 1.3, 2.0, 1.2)
WIDER_OWN = (1.3, 1.3, 1.1, 1.3, 1.3, 1.2, 1.1, 1.4, 1.4, 1.2)
LEAST_RATE = 1e-15  # below it a rate is printed as zero: nothing here is known so far out
_T90 = {1: 6.314, 2: 2.920, 3: 2.353, 5: 2.015, 7: 1.895, 11: 1.796, 15: 1.753}  # Student's t, 90 % two-sided


@dataclass(frozen=True)
class Estimate:
    """A rate with its 90 % interval from sampling alone."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Estimate:
        """Scaled."""
        return Estimate(self.value * factor, self.low * factor, self.high * factor)


@dataclass(frozen=True)
class Rates:
    """Expected defects of one part per assembly, by mechanism, with sampling intervals.

    Parameters
    ----------
    bridges, opens, floated, skewed, tilted, defects : Estimate
        Expected number per part; `defects` is their sum.
    first_pass : Estimate
        Share of parts without any defect.
    hidden : float
        Expected number that can't be seen from above.
    joints, pairs : int
        Opportunities behind the rates.
    good : array
        Share of good parts at each point of what the board shares, replicates × points, for the board's yield.
    weights : array
        Their weights; each row sums to about one.
    """

    bridges: Estimate
    opens: Estimate
    floated: Estimate
    skewed: Estimate
    tilted: Estimate
    defects: Estimate
    first_pass: Estimate
    hidden: float
    joints: int
    pairs: int
    good: Array
    weights: Array

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Rates) and self.defects == other.defects and np.array_equal(self.good, other.good)

    __hash__ = None  # type: ignore[assignment]


def rates(model: PartModel, *, boards: int = 128, parts: int = 4, replicates: int = 4, seed: int = 1) -> Rates:
    """Expected defects of a part and its first-pass yield.

    Parameters
    ----------
    model : PartModel
    boards, parts : int
        Points of what the board shares, and assemblies at each; powers of two. More of them narrow the interval.
    replicates : int
        Independent scrambles, 2 or more.
    seed : int

    Examples
    --------
    >>> from landwise.assembly.partmodel import part_model
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> part = find("TVSOP-14")
    >>> lands = land_pattern(part)
    >>> model = part_model(part, lands, print_part(lands, Foil(100), outline=part), scatter(0.03, 0.05))
    >>> found = rates(model, boards=1024)
    >>> found.bridges.low < found.bridges.value < found.bridges.high < 0.02
    True
    """
    rows = [_replicate(model, boards, parts, replicate, seed) for replicate in range(replicates)]
    by = {name: _estimate([row[name] for row in rows]) for name in ("bridges", "opens", "floated", "skewed", "tilted")}
    total = _estimate([row["defects"] for row in rows])
    bad = _estimate([row["bad"] for row in rows])
    return Rates(
        **by,
        defects=total,
        first_pass=Estimate(*(min(1.0, max(0.0, 1 - one)) for one in (bad.value, bad.high, bad.low))),
        hidden=float(np.mean([row["hidden"] for row in rows])),
        joints=sum(joint.counts for joint in model.joints),
        pairs=len(model.pairs),
        good=np.array([row["good"] for row in rows]),
        weights=np.array([row["weights"] for row in rows]),
    )


def _estimate(values: list[float]) -> Estimate:
    found = np.asarray(values)
    mean, count = float(found.mean()), found.size
    if mean < LEAST_RATE:
        return Estimate(0.0, 0.0, 0.0)
    half = _T90.get(count - 1, 1.7) * float(found.std(ddof=1)) / math.sqrt(count) if count > 1 else math.nan
    return Estimate(mean, max(0.0, mean - half), mean + half)


@lru_cache(maxsize=32)
def points_of(boards: int, parts: int, replicate: int, seed: int) -> tuple[Array, Array, Array, Array]:
    """Common and own numbers, drawn wide, and their weights: (4, N), (10, N), (boards,), (N,)."""
    # One sequence for all: two would be tied to each other through their common index.
    drawn = normal_block(Sobol(m.SHARED + LOCAL, 1000 * seed + replicate), 0, boards * parts)
    common, own = drawn[: len(m.COMMON), :boards].copy(), drawn[len(m.COMMON) :]
    weighted = []
    for numbers, wider in ((common, WIDER_COMMON), (own, WIDER_OWN)):
        factor = np.array(wider)[:, None]
        numbers *= factor
        weight = np.prod(factor * np.exp(-0.5 * numbers**2 * (1 - factor**-2)), axis=0)
        weighted.append(weight / weight.mean())  # so that what always happens happens with chance one
    # Each run of `boards` points is an even net over all dimensions; the points of one board are brought together.
    dealt = own.reshape(own.shape[0], parts, boards).transpose(0, 2, 1).reshape(own.shape[0], -1)
    inner = weighted[1].reshape(parts, boards).T.reshape(-1)
    for array in (common, dealt, inner, weighted[0]):
        array.setflags(write=False)
    return common, dealt, weighted[0], inner


def _replicate(model: PartModel, boards: int, parts: int, replicate: int, seed: int) -> dict[str, Any]:
    common, own, board_weight, weight = points_of(boards, parts, replicate, seed)
    numbers = np.vstack([np.repeat(common, parts, axis=1), own])
    at = m.shared(numbers[: m.SHARED], model)
    local = numbers[m.SHARED :]
    full = np.repeat(board_weight, parts) * weight
    full /= full.mean()
    up = np.where(m.floats(model, at), 1.0, 0.0)
    bridge, hidden = bridge_chances(model, at, local)
    opened, hidden_opens = open_chances(model, at, local[0])
    opened, hidden_opens = opened * (1 - up), hidden_opens * (1 - up)
    skew = m.skew_chance(model, at)
    tilt = _tilt_chance(model)
    every = bridge + opened + up + skew + tilt
    # Given what is shared, defects of different joints are independent: none of them happens with exp(−sum).
    bad = -np.expm1(-every)
    per_board = 1 - (bad * weight).reshape(boards, parts).mean(axis=1)
    all_hidden = bool(model.joints) and all(joint.hidden for joint in model.joints)
    return {
        "bridges": float(np.mean(full * bridge)),
        "opens": float(np.mean(full * opened)),
        "floated": float(np.mean(full * up)),
        "skewed": float(np.mean(full * skew)),
        "tilted": tilt,
        "defects": float(np.mean(full * (bridge + opened + up + skew))) + tilt,
        "bad": float(np.mean(full * bad)),
        "hidden": float(np.mean(full * (hidden + hidden_opens + (up if all_hidden else 0.0)))),
        "good": np.clip(per_board, 0.0, 1.0),
        "weights": board_weight / boards,
    }


def expected(model: PartModel, points: int, *, seed: int = 1) -> tuple[float, float, float]:
    """Bridges, opens, and both with floats, from one scramble: for changes, not for levels.

    Parameters
    ----------
    model : PartModel
    points : int
        A power of two.
    """
    common, own, board_weight, weight = points_of(points, 1, 0, seed)
    numbers = np.vstack([common, own])
    at, full = m.shared(numbers[: m.SHARED], model), board_weight * weight
    full = full / full.mean()
    up = np.where(m.floats(model, at), 1.0, 0.0)
    local = numbers[m.SHARED :]
    bridge, _ = bridge_chances(model, at, local)
    opened, _ = open_chances(model, at, local[0])
    opened = opened * (1 - up)
    return float(np.mean(full * bridge)), float(np.mean(full * opened)), float(np.mean(full * (bridge + opened + up)))


def bridge_chances(model: PartModel, at: m.Shared, local: Array) -> tuple[Array, Array]:
    """Expected bridges of a part at given shared numbers, and those of them that are hidden.

    `local` holds two relative volumes and the difference of two edges, as standard normal numbers.
    """
    from scipy.special import ndtr

    total, hidden = np.zeros(at.volume.shape), np.zeros(at.volume.shape)
    for number, count, unseen in model.pair_classes:
        pair = model.pairs[number]
        a, b = model.joints[pair.first], model.joints[pair.second]
        one, other = m.relative_volume(model, a, at, local[0]), m.relative_volume(model, b, at, local[1])
        paste, to_other, to_one = m.left_apart_mm(
            model, pair, at, m.spread_mm(model, a, at, one), m.spread_mm(model, b, at, other)
        )
        # Two edges of noise, taken as alike: their sum is integrated, their difference is drawn.
        noise = np.sqrt((m.noise_mm(model, a) ** 2 + m.noise_mm(model, b) ** 2) / 2)
        apart = noise * local[2] / math.sqrt(2)
        least = np.minimum(paste, np.minimum(2 * (to_other - apart), 2 * (to_one + apart)))
        touch = ndtr(-least / (noise * math.sqrt(2)))
        with np.errstate(divide="ignore"):
            stay = ndtr(np.log(m.fullness(model, pair, one, other)) / model.scatter["take_back_spread"])
        chance = touch * stay
        total, hidden = total + count * chance, hidden + unseen * chance
    return total, hidden


def open_chances(model: PartModel, at: m.Shared, local: Array) -> tuple[Array, Array]:
    """Expected opens of a part at given shared numbers, and those of them that are hidden."""
    from scipy.special import ndtr

    total, hidden = np.zeros(at.volume.shape), np.zeros(at.volume.shape)
    for number, count, unseen in model.joint_classes:
        joint = model.joints[number]
        volume = m.relative_volume(model, joint, at, local)
        allowed = m.lift_allowed_um(model, joint, at, volume)
        chance = ndtr((joint.lift_um + at.bow_um * joint.bow - allowed) / joint.lift_sd_um)
        total, hidden = total + count * chance, hidden + unseen * chance
    return total, hidden


def _tilt_chance(model: PartModel) -> float:
    from scipy.special import ndtr

    return float(2 * ndtr(-1 / model.tilt_sd)) if model.tilt_sd > 0 else 0.0
