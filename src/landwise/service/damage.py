"""Damage a year of cycling does to a joint, at the values of its inputs or in every draw of them.

Leadless joints and balls tire by the strain that the mismatch asks of them. Leaded joints tire by two mechanisms whose
damage adds: the lead's spring, as far as the solder creeps within the dwells, and the foot's own mismatch with the
board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.service.attachment import LEAD_GPA, LEAD_PPM_K, UNKNOWN_METAL, Attachment
from landwise.service.bands import SEED, SIGMAS_90, Band, scores
from landwise.service.creep import MARGIN, crept_share
from landwise.service.environments import Cycles, Environment
from landwise.service.thermal_cycling import FATIGUE_SETS, LARGEST_STRAIN, STRESS_MPA, fatigue_exponent

Array = NDArray[np.float64]
MODEL_SPREAD = 3.0  # 90 % of lives within this factor of the method, either way
LEAST_MISMATCH_PPM_K = 2.0  # smaller ones can't be told from zero
LEAST_TERM = 1e-9  # of damage: below it a life has no meaning and no number either
# What is drawn, one row of scores each. The spread of the method is one for each kind of joint: what a method misses of
# leads says nothing of balls, and is common to all parts of a kind.
INPUTS = (
    "board-expansion",
    "part-expansion",
    "height",
    "factor",
    "method-leadless",
    "method-ball",
    "method-leaded",
    "stiffness",
    "shape",
    "area",
    "creep",
    "foot-expansion",
    "surroundings",
    "lead-metal",
    "own-heat",
)


@lru_cache(maxsize=1)
def draws() -> Array:
    """Standard normal scores of all inputs, (len(INPUTS), draws), the same for every study.

    Notes
    -----
    All but the last are one even set. The last, own heat, is an even set by itself in an order of its own, so that
    lives without it stand on the same draws as ever.

    >>> draws().shape
    (15, 1024)
    """
    rest = scores(len(INPUTS) - 1)
    heat = np.random.default_rng(SEED).permutation(scores(1)[0])
    found = np.vstack([rest, heat])
    found.setflags(write=False)
    return found


@dataclass(frozen=True, eq=False)
class Damage:
    """Damage of a year, one value a draw.

    Parameters
    ----------
    per_year : array
        Sum over the kinds of cycle; its reciprocal is the median life. [1/years]
    by_line : tuple of array
        Of each kind of cycle.
    worst_term : float
        Largest damage term of the first draw (strain range or energy term).
    foot_share, crept : float
        In the first draw: the foot's share of the damage, and the share of the slip that creeps in the worst cycle.
    """

    per_year: Array
    by_line: tuple[Array, ...]
    worst_term: float
    foot_share: float
    crept: float


def damage_of(joint: Attachment, place: Environment, board_ppm_k: Band, z: Array, sets: Sequence[str]) -> Damage:
    """Damage of a year of the place's cycles.

    Parameters
    ----------
    z : array, (len(INPUTS), draws)
        Standard normal scores; zeros give the values.
    sets : sequence of str
        Keys of `FATIGUE_SETS`; the draws take turns.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> joint = Attachment("ball", 5, 0.56, Band(0.14, 0.15, 0.16), Band(2.6, 2.6, 2.8))
    >>> still = np.zeros((len(INPUTS), 1))
    >>> one = damage_of(joint, environment("consumer"), Band(12, 15, 20), still, ("snpb",))
    >>> one.per_year.shape, one.foot_share
    ((1,), 0.0)
    """
    row = dict(zip(INPUTS, z, strict=True))
    lines, terms, crept, feet = [], [], [], 0.0
    spread = MODEL_SPREAD ** (row[f"method-{joint.kind}"] / SIGMAS_90)
    factor_of_life = np.maximum(joint.life_factor.at(row["surroundings"]), 1e-3)
    metals = _metals(joint, row["lead-metal"])
    for line in place.cycles:
        main, share = _main_term(joint, line, board_ppm_k, row, metals)
        foot = _foot_term(joint, line, board_ppm_k, row, metals)
        scale = line.per_year / (spread * factor_of_life)
        by_main = scale / _cycles(main, line, sets)
        by_foot = scale / _cycles(foot, line, sets) if foot is not None else np.zeros_like(by_main)
        lines.append(np.asarray(by_main + by_foot))
        terms.append(float(max(main[0], foot[0] if foot is not None else 0.0)))
        crept.append(float(share[0]))
        feet += float(by_foot[0])
    total = np.sum(lines, axis=0)
    worst = max(range(len(lines)), key=lambda n: float(lines[n][0]))
    return Damage(total, tuple(lines), terms[worst], feet / float(total[0]), crept[worst])


def _metals(joint: Attachment, score: Array) -> Array:
    """Which draws take alloy 42: all, none, or half of them where the metal is not known (the value is copper's)."""
    if joint.lead_metal != UNKNOWN_METAL:
        return np.full(score.shape, joint.lead_metal == "alloy 42")
    return np.asarray(score > 0)


def _main_term(
    joint: Attachment, line: Cycles, board_ppm_k: Band, row: dict[str, Array], metals: Array
) -> tuple[Array, Array]:
    """Damage term of the outermost joint by the mismatch of the part, and the share of the slip that creeps.

    The leaded method takes the lead to be compliant. A stiff one would strain the solder more than no lead at
    all, which it can't: the solder can't slip further than the mismatch. So the leadless strain bounds it.
    """
    board, part = board_ppm_k.at(row["board-expansion"]), joint.expansion_ppm_k.at(row["part-expansion"])
    # The part expands over the board's swing and its own rise besides: α_b·ΔT − α_p·(ΔT + rise).
    apart = np.abs(board * line.swing_k - part * (line.swing_k + line.rise_k))
    heat = line.heat_factor ** (row["own-heat"] / SIGMAS_90)
    apart = heat * np.maximum(apart, LEAST_MISMATCH_PPM_K * (line.swing_k + line.rise_k))
    height = np.maximum(joint.height_mm.at(row["height"]), 0.2 * joint.height_mm.value)
    factor = np.clip(joint.factor.at(row["factor"]), 0.5, 1.5)
    slip_mm = joint.relief * joint.dnp_mm * apart * 1e-6
    bare = np.asarray(factor * slip_mm / height)
    if joint.stiffness_n_mm is None or joint.area_mm2 is None:
        stretch = np.maximum(joint.stretch_ppm_k.at(row["surroundings"]), 0.0) * 1e-6 * heat * line.swing_k
        # Shear that tires as much as shear and stretch together (von Mises).
        return np.asarray(np.hypot(bare, np.sqrt(3.0) * stretch)), np.ones_like(bare)
    stiffness = np.maximum(joint.stiffness_n_mm.at(row["stiffness"]), 0.1 * joint.stiffness_n_mm.value)
    stiffness = stiffness * np.where(metals, LEAD_GPA["alloy 42"] / LEAD_GPA["copper"], 1.0)
    area = np.maximum(joint.area_mm2.at(row["area"]), 0.2 * joint.area_mm2.value)
    stress = stiffness * slip_mm / area
    margin = np.exp(np.log(MARGIN) * row["creep"] / SIGMAS_90)
    ends = (line.top_c - line.swing_k, line.top_c)
    share = crept_share(stress, stiffness * height / area, ends, line.dwell_min * 60, margin)
    energy = factor * stress / STRESS_MPA * slip_mm / height * share
    return np.asarray(np.maximum(np.minimum(energy, bare), LEAST_TERM)), share


def _foot_term(
    joint: Attachment, line: Cycles, board_ppm_k: Band, row: dict[str, Array], metals: Array
) -> Array | None:
    """Strain of the solder under a foot by the mismatch of lead metal and board over half the foot."""
    if joint.foot_mm <= 0:
        return None
    height = np.maximum(joint.height_mm.at(row["height"]), 0.2 * joint.height_mm.value)
    factor = np.clip(joint.factor.at(row["factor"]), 0.5, 1.5)
    board = board_ppm_k.at(row["board-expansion"])
    copper, alloy = (LEAD_PPM_K[name].at(row["foot-expansion"]) for name in ("copper", "alloy 42"))
    mismatch = np.maximum(np.abs(np.where(metals, alloy, copper) - board), LEAST_MISMATCH_PPM_K)
    heat = line.heat_factor ** (row["own-heat"] / SIGMAS_90)
    return np.asarray(factor * joint.foot_mm / 2 * mismatch * 1e-6 * heat * line.swing_k / height)


def _cycles(damage: Array, line: Cycles, sets: Sequence[str]) -> Array:
    """Median cycles for every draw; the sets take turns."""
    # Draws beyond the method's strain are held at its edge: they lie at the short end of the interval anyway.
    held = np.minimum(damage, LARGEST_STRAIN)
    cycles = np.empty_like(held)
    for number, name in enumerate(sets):
        turn = slice(number, None, len(sets))
        exponent = fatigue_exponent(line.mean_c, line.dwell_min, name)
        cycles[turn] = 0.5 * (2 * FATIGUE_SETS[name].ductility / held[turn]) ** (-1 / exponent)
    return cycles
