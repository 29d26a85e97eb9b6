"""Rates of rare defects: only what joints share is sampled, where it matters; the rest is integrated exactly.

Given what all joints of an assembly share, a bridge or an open depends on a few normal numbers of its own. The last
of them is integrated in closed form, so that even one sample tells a rate of 1e-9. The shared numbers are
scrambled Sobol points from densities fitted to each mechanism, weighted back (importance sampling). Independent
scrambles give the interval, and sampling goes on until it is as tight as asked.
"""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.joined import joined_chances
from landwise.assembly.partmodel import Pair, PartModel, Value
from landwise.assembly.points import Mixture, fitted, seed_of, wide

Array = NDArray[np.float64]
LOCAL = 3  # of a pair or joint: two volumes, and the difference of two edges
NUMBERS = m.SHARED + LOCAL
# How many times wider than its own density each number is drawn in the wide part of the mixture: print, slump, volume;
# placement, turn, remaining height, float, bow, edge; then the joint's own.
WIDER = (1.3, 1.3, 2.0, 1.2, 1.3, 1.3, 1.1, 1.3, 1.3, 1.2, 1.1, 1.4, 1.4, 1.2)
REPLICATES = 16
FIRST_POINTS, MOST_POINTS = 32, 2048  # of each density of each replicate
JOINED_POINTS, LEAST_JOINED = 64, 4  # of each density of each replicate, whose joints are all drawn one by one
MOST_JOINED = 150_000  # joints drawn for that in all: parts of hundreds of balls get fewer points
LEAST_RATE = 1e-15  # below it a rate is zero: nothing here is known so far out
FLOOR = 1e-9  # defects per part: what lies below need not be known any better, and is called practically none
ASKED = 0.2  # relative half width of the 90 % sampling interval
T90 = 1.753  # Student's t, 90 % two-sided, for REPLICATES
COUNTED = ("bridges", "opens", "floated", "skewed", "tilted")


@dataclass(frozen=True)
class Estimate:
    """A rate with its 90 % interval; of sampling alone, or of what is known, as the place says."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Estimate:
        """Scaled."""
        return Estimate(self.value * factor, self.low * factor, self.high * factor)

    @property
    def half(self) -> float:
        """Half width over the value; 0 for a rate of none."""
        return (self.high - self.low) / 2 / self.value if self.value > 0 else 0.0


@dataclass(frozen=True)
class Sampling:
    """How far sampling went.

    Parameters
    ----------
    points : int
    asked : float
        Relative half width wished for.
    slow : tuple of str
        Mechanisms whose interval stayed wider when the most points were spent; empty where all is as asked.
    """

    points: int
    asked: float
    slow: tuple[str, ...] = ()


@dataclass(frozen=True)
class Rates:
    """Expected defects of one part per assembly, by mechanism, with sampling intervals.

    Parameters
    ----------
    bridges, opens, floated, skewed, tilted, defects : Estimate
        Expected number per part; `defects` is their sum.
    first_pass : Estimate
        Share of parts without any defect.
    hidden_bridges, hidden_opens, hidden_floats : float
        Expected numbers that can't be seen from above.
    joints, pairs : int
        Opportunities behind the rates.
    sampling : Sampling
    """

    bridges: Estimate
    opens: Estimate
    floated: Estimate
    skewed: Estimate
    tilted: Estimate
    defects: Estimate
    first_pass: Estimate
    hidden_bridges: float
    hidden_opens: float
    hidden_floats: float
    joints: int
    pairs: int
    sampling: Sampling = field(default_factory=lambda: Sampling(0, ASKED))

    @property
    def hidden(self) -> float:
        """Expected number of all that can't be seen from above."""
        return self.hidden_bridges + self.hidden_opens + self.hidden_floats


def rates(
    model: PartModel,
    *,
    asked: float = ASKED,
    floor: float = FLOOR,
    most: int = MOST_POINTS,
    seed: int | None = None,
    mixture: Mixture | None = None,
    yields: bool = True,
) -> Rates:
    """Expected defects of a part and its first-pass yield, as tightly as asked.

    Parameters
    ----------
    model : PartModel
    asked : float
        Relative half width of the 90 % sampling interval at which sampling stops.
    floor : float
        Defects per part below which no interval is narrowed any further.
    most : int
        Points of each density and replicate that are spent at most, a power of two.
    seed : int, optional
        Follows from the part's content where none is given.
    mixture : Mixture, optional
        Where its defects come from, where that was found before.
    yields : bool
        Whether to work how many defects fall on one part; without, the first-pass yield is that of defects on a part
        each, which is the least it can be.

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
    >>> found = rates(model)
    >>> found.bridges.half < 0.2, found.sampling.slow
    (True, ())
    """
    own = seed_of(model.geometry, model.scatter.seeding) if seed is None else seed
    mixture = mixture or mixture_of(model, own)
    sums: dict[str, Array] = {}
    done = 0
    while True:
        count = max(FIRST_POINTS, done)
        for name, rows in _block(model, mixture, own, done, count).items():
            sums[name] = sums.get(name, 0.0) + rows * count
        done += count
        means = {name: rows / done for name, rows in sums.items()}
        by = {name: _estimate(means[name]) for name in COUNTED}
        slow = tuple(name for name in COUNTED if by[name].value > floor and by[name].half > asked)
        if not slow or done >= most:
            break
    total = _estimate(means["defects"])
    share, share_error = joined_share(model, mixture, own) if yields and total.value > floor else (1.0, 0.0)
    bad = total.value * share
    half = math.hypot(total.half, share_error) * bad
    return Rates(
        **by,
        defects=total,
        first_pass=Estimate(1 - min(1.0, bad), max(0.0, 1 - bad - half), min(1.0, 1 - bad + half)),
        hidden_bridges=float(means["hidden bridges"].mean()),
        hidden_opens=float(means["hidden opens"].mean()),
        hidden_floats=float(means["floated"].mean()) if all(joint.hidden for joint in model.geometry.joints) else 0.0,
        joints=model.counted,
        pairs=len(model.pairs),
        sampling=Sampling(done * REPLICATES * len(mixture.densities), asked, slow),
    )


def mixture_of(model: PartModel, seed: int) -> Mixture:
    """Where a part's defects come from: a wide density, and one for bridges and opens each where there are any."""
    start = wide(WIDER)
    found = {
        "wide": start,
        "bridges": fitted(lambda points: _bridges_at(model, points), start, seed) if model.pairs else None,
        "opens": fitted(lambda points: _opens_at(model, points), start, seed + 1),
    }
    kept = {way: one for way, one in found.items() if one is not None}
    return Mixture(tuple(kept.values()), tuple(kept))


def _bridges_at(model: PartModel, points: Array) -> Array:
    return bridge_chances(model, m.shared(points[: m.SHARED], model), points[m.SHARED :])[0]


def _opens_at(model: PartModel, points: Array) -> Array:
    at = m.shared(points[: m.SHARED], model)
    found: Array = open_chances(model, at, points[m.SHARED])[0] + m.float_chance(model, at, points[FLOAT])
    return found


FLOAT = len(m.COMMON) + m.OWN.index("float")


def chances(model: PartModel, points: Array) -> dict[str, Array]:
    """Expected defects of a part by mechanism at points of what is drawn, (NUMBERS, points)."""
    at = m.shared(points[: m.SHARED], model, faint=False)
    bridges, hidden = bridge_chances(model, at, points[m.SHARED :])
    found = {"bridges": bridges, "hidden bridges": hidden, **other_chances(model, at, points)}
    found["defects"] = sum((found[name] for name in COUNTED), start=np.zeros(np.shape(bridges)))
    return found


def other_chances(model: PartModel, at: m.Shared, points: Array) -> dict[str, Array]:
    """The same without bridges; `at` is what the joints share at those points."""
    up = m.floats(model, at)
    opens, hidden_opens = open_chances(model, at, points[m.SHARED])
    return {
        "opens": np.where(up, 0.0, opens),
        "hidden opens": np.where(up, 0.0, hidden_opens),
        "floated": m.float_chance(model, at, points[FLOAT]),
        "skewed": m.skew_chance(model, at),
        "tilted": np.broadcast_to(m.tilt_chance(model), np.shape(opens)),
    }


def _block(model: PartModel, mixture: Mixture, seed: int, start: int, count: int) -> dict[str, Array]:
    """Mean of each mechanism over one block of every replicate, (REPLICATES,)."""
    points, weights = mixture.drawn([seed_of(seed, row) for row in range(REPLICATES)], start, count)
    found = {}
    for name, values in chances(model, points).items():
        found[name] = np.mean(weights * np.broadcast_to(values, points.shape[1]).reshape(weights.shape), axis=1)
    found["tilted"] = np.full(REPLICATES, float(np.mean(m.tilt_chance(model))))
    return found


def _estimate(rows: Array) -> Estimate:
    mean = float(rows.mean())
    if mean < LEAST_RATE:
        return Estimate(0.0, 0.0, 0.0)
    half = T90 * float(rows.std(ddof=1)) / math.sqrt(rows.size)
    return Estimate(mean, max(0.0, mean - half), mean + half)


def joined_share(model: PartModel, mixture: Mixture, seed: int) -> tuple[float, float]:
    """Bad parts over expected defects, and the relative half width of its 90 % interval.

    Every joint has its own draws here: joints that fail together on one part make fewer parts bad than defects are
    counted. Bad parts and defects come from the same points, so what both scatter with drops out of their ratio.
    """
    count = JOINED_POINTS
    while count > LEAST_JOINED and count * REPLICATES * len(model.joints) * len(mixture.densities) > MOST_JOINED:
        count //= 2
    points, weights = mixture.drawn([seed_of(seed, "joined", row) for row in range(REPLICATES)], 0, count)
    bad, defects = joined_chances(model, m.shared(points[: m.SHARED], model), np.random.default_rng(seed))
    bad_rows, all_rows = (np.mean(weights * found.reshape(weights.shape), axis=1) for found in (bad, defects))
    whole = float(all_rows.mean())
    if whole < LEAST_RATE:
        return 1.0, 0.0
    share = float(bad_rows.mean()) / whole
    error = T90 * float((bad_rows - share * all_rows).std(ddof=1)) / math.sqrt(REPLICATES) / whole
    return min(1.0, share), error / max(share, 1e-12)


def bridge_chances(model: PartModel, at: m.Shared, local: Array) -> tuple[Array, Array]:
    """Expected bridges of a part at given shared numbers, and those of them that are hidden.

    `local` holds two relative volumes and the difference of two edges, as standard normal numbers.
    """
    total: Array = np.zeros(np.shape(at.remaining_um))
    hidden = total
    facing = Facing(model, at, local)
    for number, count, unseen in model.bridge_classes:
        chance = facing.chance(model.pairs[number])
        total = total + count * chance
        if unseen:
            hidden = hidden + unseen * chance
    return total, hidden


class Facing:
    """What the pairs of a part have in common at given shared numbers: each deposit's size and edge, worked once.

    Arguments as of `bridge_chances`.
    """

    def __init__(self, model: PartModel, at: m.Shared, local: Array) -> None:
        self.model, self.at, self.local = model, at, local
        self._edges: dict[tuple[int, int], tuple[Array, Array]] = {}
        self._noises: dict[tuple[int, int], tuple[Array, Array]] = {}
        self._solder: dict[Hashable, Array] = {}
        self._stays: dict[Hashable, Array] = {}

    def chance(self, pair: Pair) -> Array:
        """Chance that one pair bridges, over both edges' sum and what the joints take back."""
        from scipy.special import ndtr

        score = self._met(pair)
        if self.at.faint or score.size < m.FEW:
            everywhere: Array = ndtr(score) * self._stay(pair)
            return everywhere
        near = np.flatnonzero(score > m.FAINT)
        found = np.zeros(score.size)
        if near.size:
            found[near] = ndtr(score.take(near)) * self._stay_near(pair, near, score.shape)
        return found.reshape(score.shape)

    def _met(self, pair: Pair) -> Array:
        """How readily two deposits meet, over both edges' sum: below which score of a standard normal number."""
        model, same = self.model, self.model.geometry.same_pastes
        ends = model.joints[pair.first], model.joints[pair.second]
        first, second = same[pair.first], same[pair.second]
        edge, other_edge = self._edge(first, 0)[1], self._edge(second, 1)[1]
        paste, to_other, to_one = m.left_apart_mm(pair, ends, self.at, edge, other_edge)
        noise, apart = self._noise(first, second)
        least = np.minimum(paste, np.minimum(2 * (to_other - apart), 2 * (to_one + apart)))
        score: Array = -least / (noise * math.sqrt(2))
        return score

    def _stay(self, pair: Pair) -> Array:
        """Chance that solder of two deposits that met stays between them; worked once for all pairs alike."""
        from scipy.special import ndtr

        key, full, spread = self._full(pair)
        if key not in self._stays:
            with np.errstate(divide="ignore"):
                self._stays[key] = ndtr(np.log(full) / spread)
        return self._stays[key]

    def _stay_near(self, pair: Pair, near: NDArray[np.int64], shape: tuple[int, ...]) -> Array:
        """The same at some places of the whole shape, counted through it; elsewhere nothing is worked."""
        from scipy.special import ndtr

        key, full, spread = self._full(pair)
        if key not in self._stays:
            self._stays[key] = np.full(math.prod(shape), np.nan)
        stays = self._stays[key]
        unknown = near[np.isnan(stays.take(near))]
        if unknown.size:
            here, spread = (np.broadcast_to(one, shape).take(unknown) for one in (full, spread))
            with np.errstate(divide="ignore"):
                stays[unknown] = ndtr(np.log(here) / spread)
        return stays.take(near)

    def _full(self, pair: Pair) -> tuple[Hashable, Array, Value]:
        """What tells two joints apart from others, their solder over what they take back, and the spread of that."""
        model, same = self.model, self.model.geometry.same_pastes
        first, second, capacity = same[pair.first], same[pair.second], pair.capacity_mm3
        key = (first, second, id(capacity) if isinstance(capacity, np.ndarray) else capacity)
        if key not in self._solder:
            ends = model.joints[pair.first], model.joints[pair.second]
            self._solder[key] = m.fullness(pair, ends, self._edge(first, 0)[0], self._edge(second, 1)[0])
        return key, self._solder[key], model.scatter["take_back_spread"]

    def _edge(self, joint: int, side: int) -> tuple[Array, Array]:
        """Relative volume of a deposit, and how far its edge has moved; `side` tells whose own number it takes."""
        if (joint, side) not in self._edges:
            one = self.model.joints[joint]
            volume = m.relative_volume(self.model, one, self.at, self.local[side])
            self._edges[joint, side] = volume, m.spread_mm(self.model, one, self.at, volume)
        return self._edges[joint, side]

    def _noise(self, first: int, second: int) -> tuple[Array, Array]:
        """Two edges' noise, taken as alike: their sum is integrated, their difference is drawn."""
        if (first, second) not in self._noises:
            ends = self.model.joints[first], self.model.joints[second]
            noise = np.sqrt(sum(np.square(m.noise_mm(self.model, one)) for one in ends) / 2)
            self._noises[first, second] = noise, noise * self.local[2] / math.sqrt(2)
        return self._noises[first, second]


def open_chances(model: PartModel, at: m.Shared, local: Array) -> tuple[Array, Array]:
    """Expected opens of a part at given shared numbers, and those of them that are hidden; `local` is the volume's."""
    total: Array = np.zeros(np.shape(at.remaining_um))
    hidden = total
    same = model.geometry.same_pastes
    worked: dict[int, tuple[Array, Array, Array]] = {}
    for number, count, unseen in model.joint_classes:
        joint = model.joints[number]
        if same[number] not in worked:
            volume = m.relative_volume(model, joint, at, local)
            allowed = m.lift_allowed_um(model, joint, at, volume)
            worked[same[number]] = m.bare_chance(model, joint, at), volume, allowed
        bare, volume, allowed = worked[same[number]]
        chance = bare + m.lifted_chance(model, joint, at, volume, allowed)
        total = total + count * chance
        if unseen:
            hidden = hidden + unseen * chance
    return total, hidden
