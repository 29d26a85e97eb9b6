"""Plain simulation: assemble a part many times, joint by joint, and count what goes wrong.

Assemblies are worked in chunks of a fixed size, each with its own random numbers, so that memory stays bounded
and the same seed gives the same counts whatever the number of cores. What the joints share are scrambled Sobol
points; what each joint has of its own are plain random numbers, of which there are too many for a sequence.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.normals import Normals
from landwise.assembly.partmodel import Joint, PartModel
from landwise.assembly.rare import Estimate
from landwise.assembly.sobol import Sobol, normal_block
from landwise.errors import InputError
from landwise.untyped import Fields, Number

CHUNK = 8192  # assemblies of a small simulation: one vector of them fits the nearest cache
LARGE_CHUNK = 32_768  # of a large one: long enough that two threads seldom wait for each other
MOST = 2**31
MECHANISMS = ("bridges", "opens", "floated", "skewed", "tilted", "bad parts")


@dataclass(frozen=True)
class Counts:
    """What a simulation counted.

    Parameters
    ----------
    assemblies : int
    found : mapping of str to int
        Defects by mechanism, and parts with any of them.
    """

    assemblies: int
    found: dict[str, int] = field(default_factory=dict)

    def rate(self, mechanism: str) -> Estimate:
        """Expected number per assembly with its exact (Clopper-Pearson) 90 % interval, taking the counts as Poisson.

        >>> Counts(1000, {"bridges": 0}).rate("bridges").high < 0.0031
        True
        """
        from scipy.special import gammaincinv

        count = self.found[mechanism]
        low = float(gammaincinv(count, 0.05)) if count else 0.0
        return Estimate(
            count / self.assemblies, low / self.assemblies, float(gammaincinv(count + 1, 0.95)) / self.assemblies
        )


def simulate(model: PartModel, assemblies: int, *, seed: int = 1, cores: int | None = None) -> Counts:
    """Assemble a part many times and count its defects.

    Parameters
    ----------
    model : PartModel
    assemblies : int
        Rounded up to whole chunks: of 8192 below 131,072, of 32,768 above.
    seed : int
        The same seed gives the same counts, whatever the number of cores.
    cores : int, optional
        Threads to work in; all there are by default.

    Raises
    ------
    InputError
        For no assemblies, or more than the sequence has.

    Examples
    --------
    >>> from landwise.assembly.partmodel import part_model
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> part = find("TSSOP-14")
    >>> lands = land_pattern(part)
    >>> model = part_model(part, lands, print_part(lands, Foil(50), outline=part), scatter(0.03, 0.05))
    >>> counts = simulate(model, 20_000)
    >>> counts.assemblies, counts.found["opens"] > 0
    (24576, True)
    """
    if not 1 <= assemblies <= MOST:
        raise InputError("no such number of assemblies", found=str(assemblies), expected=f"1 to {MOST}")
    size = CHUNK if assemblies < 4 * LARGE_CHUNK else LARGE_CHUNK
    chunks = range(-(-assemblies // size))
    sequence = Sobol(m.SHARED, seed)
    workers = max(1, min(len(chunks), cores or os.cpu_count() or 1))

    def share(worker: int) -> NDArray[np.int64]:
        run = _Chunks(model, sequence, seed, size)
        return sum((run.count(k) for k in chunks[worker::workers]), start=np.zeros(len(MECHANISMS), dtype=np.int64))

    if workers == 1:
        total = share(0)
    else:
        with ThreadPoolExecutor(workers) as pool:
            total = sum(pool.map(share, range(workers)), start=np.zeros(len(MECHANISMS), dtype=np.int64))
    return Counts(len(chunks) * size, {name: int(n) for name, n in zip(MECHANISMS, total, strict=True)})


class _Chunks:
    """One worker's arrays, used again for every chunk."""

    def __init__(self, model: PartModel, sequence: Sobol, seed: int, size: int) -> None:
        self.model, self.sequence, self.seed, self.size = model, sequence, seed, size
        joints = len(model.joints)
        self.volume = np.empty((joints, size), dtype=np.float32)
        self.spread = np.empty((joints, size), dtype=np.float32)
        self.normals = Normals(3, size)

    def count(self, chunk: int) -> NDArray[np.int64]:
        """Defects of one chunk, in the order of `MECHANISMS`."""
        model = self.model
        bits = np.random.SFC64(np.random.SeedSequence([self.seed, chunk]))
        at = m.shared(normal_block(self.sequence, chunk * self.size, self.size).astype(np.float32), model)
        up = m.floats(model, at)
        bad = up.copy()
        opens = 0
        for number, joint in enumerate(model.joints):
            drawn = self.normals.fill(bits)
            volume = m.relative_volume(model, joint, at, drawn[0])
            self.volume[number] = volume
            self.spread[number] = m.spread_mm(model, joint, at, volume) + m.noise_mm(model, joint) * drawn[1]
            if joint.counts:
                lift = joint.lift_um + joint.lift_sd_um * drawn[2] + at.bow_um * joint.bow
                missed = (lift > m.lift_allowed_um(model, joint, at, volume)) | (volume < joint.flux_share)
                missed &= ~up
                opens += int(np.count_nonzero(missed))
                bad |= missed
        rng = np.random.Generator(bits)
        bridges = sum(self._bridges(number, at, rng, bad) for number in range(len(model.pairs)))
        skewed, tilted = m.skewed(model, at), m.tilted(model, self.volume)
        bad |= skewed | tilted
        return np.array([bridges, opens, *(np.count_nonzero(one) for one in (up, skewed, tilted, bad))], dtype=np.int64)

    def _bridges(self, number: int, at: m.Shared, rng: np.random.Generator, bad: NDArray[np.bool_]) -> int:
        """Bridges of one pair; few deposits touch, and only those are melted."""
        model = self.model
        pair = model.pairs[number]
        ends = model.joints[pair.first], model.joints[pair.second]
        left = m.left_apart_mm(pair, ends, at, self.spread[pair.first], self.spread[pair.second])
        touching = np.flatnonzero(np.minimum(np.minimum(left[0], left[1]), left[2]) <= 0)
        if not touching.size:
            return 0
        full = m.fullness(pair, ends, self.volume[pair.first][touching], self.volume[pair.second][touching])
        drawn = rng.standard_normal(touching.size, dtype=np.float32)
        with np.errstate(divide="ignore"):
            stays = np.log(full) > model.scatter["take_back_spread"] * drawn
        bad[touching[stays]] = True
        return int(np.count_nonzero(stays))


def simulate_one_by_one(model: PartModel, assemblies: int, *, seed: int = 1) -> Counts:
    """The same simulation as a plain loop over assemblies, each worked with NumPy over its joints.

    Kept as the baseline that the benchmark compares with, and for tests: its counts agree with `simulate`
    within their intervals, not number by number.
    """
    rng = np.random.default_rng(seed)
    columns: Fields = {
        one.name: np.array([getattr(joint, one.name) for joint in model.joints]) for one in fields(Joint)
    }
    joints = Joint(**columns)
    pairs = _Pairs.of(model)
    found = np.zeros(len(MECHANISMS), dtype=np.int64)
    for _ in range(assemblies):
        found += _assemble(model, joints, pairs, rng)
    return Counts(assemblies, {name: int(n) for name, n in zip(MECHANISMS, found, strict=True)})


@dataclass(frozen=True)
class _Pairs:
    """All pairs of a part as one: its fields are arrays over pairs."""

    first: Number
    second: Number
    gap_mm: Number
    nx: Number
    ny: Number
    capacity_mm3: Number
    terminal_beyond: Number
    land_beyond: Number

    @classmethod
    def of(cls, model: PartModel) -> _Pairs:
        """Those of a part."""
        plain = ("first", "second", "gap_mm", "nx", "ny", "capacity_mm3")
        ends = {
            name: np.array([getattr(p, name) for p in model.pairs]).T for name in ("terminal_beyond", "land_beyond")
        }
        return cls(**{name: np.array([getattr(pair, name) for pair in model.pairs]) for name in plain}, **ends)


def _taken(joints: Joint, numbers: NDArray[np.int64]) -> Joint:
    return Joint(**{one.name: getattr(joints, one.name)[numbers] for one in fields(Joint)})


# all pairs in columns (`_Pairs`), which stand where mechanisms take one
def _assemble(model: PartModel, joints: Joint, pairs: Any, rng: np.random.Generator) -> NDArray[np.int64]:
    at = m.shared(rng.standard_normal((m.SHARED, 1)), model)
    local = rng.standard_normal((3, len(model.joints)))
    volume = m.relative_volume(model, joints, at, local[0])
    spread = m.spread_mm(model, joints, at, volume) + m.noise_mm(model, joints) * local[1]
    up = bool(m.floats(model, at)[0])
    lift = joints.lift_um + joints.lift_sd_um * local[2] + at.bow_um * joints.bow
    missed = (lift > m.lift_allowed_um(model, joints, at, volume)) | (volume < joints.flux_share)
    opens = 0 if up else int((missed & joints.counts).sum())
    bridges = 0
    if model.pairs:
        ends = _taken(joints, pairs.first), _taken(joints, pairs.second)
        left = m.left_apart_mm(pairs, ends, at, spread[pairs.first], spread[pairs.second])
        touching = np.minimum(np.minimum(left[0], left[1]), left[2]) <= 0
        if touching.any():
            full = m.fullness(pairs, ends, volume[pairs.first], volume[pairs.second])
            drawn = rng.standard_normal(len(model.pairs))
            bridges = int((touching & (full > np.exp(model.scatter["take_back_spread"] * drawn))).sum())
    skewed, tilted = bool(m.skewed(model, at)[0]), bool(m.tilted(model, volume[:, None])[0])
    bad = bool(bridges or opens or up or skewed or tilted)
    return np.array([bridges, opens, up, skewed, tilted, bad], dtype=np.int64)
