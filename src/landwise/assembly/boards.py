"""Whole boards of modelled parts: the share without a defect, with what a board's parts share.

Print offset, slump and a part of the paste volume are one for all parts of a board. At every sampled state of these
each part is put together with its own placement and each of its joints with its own draws, and the chances of all of
them being good are multiplied: no average is raised to a power, so nothing is biased by how many parts there are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.joined import joined_chances
from landwise.assembly.partmodel import PartModel
from landwise.assembly.points import Density, Mixture, seed_of, wide
from landwise.assembly.rare import ASKED, REPLICATES, T90, WIDER, Estimate

Array = NDArray[np.float64]
FIRST_BOARDS = 32  # of each density of each replicate; with 8, in hard cases 70 % of 90 % intervals held the count
MOST_JOINTS = 6_000_000  # joints drawn for one board's yield
CHUNK = 400_000  # joints worked at once
LEAST_BAD = 1e-6  # share of bad boards below which no interval is narrowed


@dataclass(frozen=True)
class Kind:
    """One kind of part on a board.

    Parameters
    ----------
    model : PartModel
    count : int
        How many of it the board carries.
    bad : Estimate
        Share of bad parts, with its sampling interval.
    """

    model: PartModel
    count: int
    bad: Estimate


def good_boards(kinds: Sequence[Kind], *, asked: float = ASKED, seed: int | None = None) -> Estimate:
    """Share of boards without a modelled defect, with the 90 % interval of sampling.

    Parameters
    ----------
    kinds : sequence of Kind
    asked : float
        Relative half width of the share of bad boards at which sampling stops.
    seed : int, optional
        Follows from the content where none is given.

    Notes
    -----
    Bad boards B are corrected by the sum S of the parts' bad shares at the same states, whose mean is known far better:
    B − β (S − E[S]), with the β that leaves least scatter.
    """
    if not kinds:
        return Estimate(1.0, 1.0, 1.0)
    alike = [seed_of(kind.model.geometry, kind.count) for kind in kinds]
    own = seed_of(sorted(alike), kinds[0].model.scatter.seeding) if seed is None else seed
    # Which of several alike: their draws are their own, and follow from what they are, not from their places.
    each = [(one, alike[:number].count(one)) for number, one in enumerate(alike)]
    known = sum(kind.count * kind.bad.value for kind in kinds)
    error = math.sqrt(sum((kind.count * (kind.bad.high - kind.bad.low) / 2) ** 2 for kind in kinds))
    common = len(m.COMMON)
    mixture = Mixture((Density(np.zeros(common), np.ones(common)), wide(WIDER[:common])))
    size = sum(kind.count * len(kind.model.joints) for kind in kinds) * len(mixture.densities) * REPLICATES
    rows: list[tuple[Array, Array, Array]] = []
    done = 0
    while True:
        count = max(FIRST_BOARDS, done)
        rows.append(_block(list(zip(kinds, each, strict=True)), mixture, own, done, count))
        done += count
        found = _corrected(rows, known, error)
        bad = 1 - found.value
        if bad < LEAST_BAD or found.high - found.low <= 2 * asked * bad or 2 * done * size > MOST_JOINTS:
            return found


def _block(
    kinds: Sequence[tuple[Kind, tuple[int, int]]], mixture: Mixture, seed: int, start: int, count: int
) -> tuple[Array, Array, Array]:
    """Weights, chance of a bad board, and the sum of its parts' bad shares: (REPLICATES, points) each."""
    states, weights = mixture.drawn([seed_of(seed, "board", row) for row in range(REPLICATES)], start, count)
    good, total = np.ones(states.shape[1]), np.zeros(states.shape[1])
    for kind, own in kinds:
        rng = np.random.Generator(np.random.SFC64(np.random.SeedSequence([seed % 2**63, start, *own])))
        step = max(1, CHUNK // (kind.count * len(kind.model.joints)))
        for first in range(0, states.shape[1], step):
            taken = slice(first, first + step)
            bad = _parts(kind, states[:, taken], rng)
            good[taken] *= np.prod(1 - bad, axis=1)
            total[taken] += bad.sum(axis=1)
    return weights, 1 - good.reshape(weights.shape), total.reshape(weights.shape)


def _parts(kind: Kind, states: Array, rng: np.random.Generator) -> Array:
    """Chance of each part being bad at each state, (states, count)."""
    repeated = np.repeat(states, kind.count, axis=1)
    own = rng.standard_normal((m.SHARED - len(states), repeated.shape[1]))
    at = m.shared(np.vstack([repeated, own]), kind.model)
    bad, _ = joined_chances(kind.model, at, rng)
    return bad.reshape(states.shape[1], kind.count)


def _corrected(rows: list[tuple[Array, Array, Array]], known: float, error: float) -> Estimate:
    weights, bad, total = (np.concatenate([one[k] for one in rows], axis=1) for k in range(3))
    share = weights / weights.sum()
    spread = total - float(np.sum(share * total))
    variance = float(np.sum(share**2 * spread**2))
    slope = float(np.sum(share**2 * spread * (bad - float(np.sum(share * bad))))) / variance if variance > 0 else 1.0
    # Each row by its own weights, so that what happens on every board happens with chance one.
    left = np.sum(weights * (bad - slope * total), axis=1) / weights.sum(axis=1) + slope * known
    value = min(1.0, max(0.0, float(left.mean())))
    half = math.hypot(T90 * float(left.std(ddof=1)) / math.sqrt(REPLICATES), slope * error)
    return Estimate(1 - value, max(0.0, 1 - value - half), min(1.0, 1 - value + half))
