"""Life of mounted parts: cycles of a year summed as damage, Weibull shares, the first failures of a whole board."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.service.attachment import Attachment
from landwise.service.bands import SIGMAS_90, Band, interval, scores
from landwise.service.environments import Cycles, Environment
from landwise.service.thermal_cycling import (
    FATIGUE_SETS,
    LARGEST_STRAIN,
    STRESS_MPA,
    fatigue_exponent,
    leaded_energy_term,
    leadless_strain,
    median_cycles,
)

Array = NDArray[np.float64]
# Where no alloy is stated the board is lead-free: the tin-lead constants, which their author advised for lead-free
# field life with a safety factor of about 3, beside the published tin-silver row. Neither is from memory.
DEFAULT_SETS = ("snpb", "snag-2008")
MODEL_SPREAD = 3.0  # 90 % of lives within this factor of the method, either way
LEAST_MISMATCH_PPM_K = 2.0  # smaller ones can't be told from zero
SOURCES = (
    "engelmaier-dfr",
    "engelmaier-2008-notebook",
    "engelmaier-sac-advice",
    "weibull-dfr",
    "least-mismatch-memory",
)


@dataclass(frozen=True, eq=False)
class Life:
    """Life of one part in one environment.

    Parameters
    ----------
    median_years : float
        Years at which half of such parts have failed, by the first set of constants. [years]
    shape : float
        Weibull shape.
    damage : tuple of float
        Share of the damage that each kind of cycle does; sums to one.
    strain, cycles : float
        Damage term of the severest kind of cycle (strain range, or the leaded method's energy term), and the
        median cycles it would take alone.
    by_set : mapping
        Median years by every set of constants there is, side by side. [years]
    draws_years, draws_shape : array
        The same with every uncertain input drawn from its band, in an order common to all parts.
    """

    median_years: float
    shape: float
    damage: tuple[float, ...]
    strain: float
    cycles: float
    by_set: Mapping[str, float]
    draws_years: Array
    draws_shape: Array

    def years_to(self, share: float) -> Band:
        """Years until that share of such parts has failed, with its 90 % interval. [years]"""
        if not 0 < share < 1:
            raise InputError("a share lies between 0 and 1", found=f"{share:g}")
        ratio = math.log1p(-share) / math.log(0.5)
        value = self.median_years * ratio ** (1 / self.shape)
        low, high = interval(self.draws_years * ratio ** (1 / self.draws_shape))
        return Band(min(low, value), value, max(high, value))

    def failed(self, years: float) -> Band:
        """Share failed after so many years, with its 90 % interval."""
        value = -math.expm1(-math.log(2) * (years / self.median_years) ** self.shape)
        low, high = interval(-np.expm1(-math.log(2) * (years / self.draws_years) ** self.draws_shape))
        return Band(min(low, value), value, max(high, value))


@lru_cache(maxsize=4096)
def life(joint: Attachment, place: Environment, board_ppm_k: Band, sets: tuple[str, ...] = DEFAULT_SETS) -> Life:
    """How long a part's joints last where the product lives.

    Parameters
    ----------
    joint : Attachment
    place : Environment
        Its kinds of cycles are summed as damage (Miner).
    board_ppm_k : Band
        Expansion of the board. [ppm/K]
    sets : tuple of str
        Names of `thermal_cycling.FATIGUE_SETS`: the first gives the value, all together the interval.

    Raises
    ------
    ValidityError
        Outside the method: dwells below a minute, temperatures outside −55 to 150 °C, strains above 50 %.

    Notes
    -----
    Life is that of the part's outermost joint, as tests count it. The interval draws the two expansions, the
    height, F, the lead's stiffness and area, the Weibull shape, the set of constants, and a spread of the method
    itself. What it leaves out: bending of thin boards, creep under steady load, defects, and the barrel of vias.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> joint = Attachment("ball", 5, 0.56, Band(0.14, 0.15, 0.16), Band(2.6, 2.6, 2.8))
    >>> mild = life(joint, environment("consumer"), Band(12, 15, 20))
    >>> hard = life(joint, environment("under-hood"), Band(12, 15, 20))
    >>> mild.median_years > 10 * hard.median_years
    True
    """
    if not sets or any(name not in FATIGUE_SETS for name in sets):
        raise InputError(
            "no fatigue constants of that name", found=", ".join(sets) or "none", expected=" | ".join(FATIGUE_SETS)
        )
    z = scores(8)
    board, part = board_ppm_k.at(z[0]), joint.expansion_ppm_k.at(z[1])
    mismatch = np.maximum(np.abs(board - part), LEAST_MISMATCH_PPM_K)
    nominal_mismatch = max(abs(board_ppm_k.value - joint.expansion_ppm_k.value), LEAST_MISMATCH_PPM_K)
    spread = MODEL_SPREAD ** (z[4] / SIGMAS_90)
    total, nominal = np.zeros_like(mismatch), []
    for line in place.cycles:
        damage = _terms(joint, line, mismatch, z)
        cycles = _cycles(damage, line, sets) * spread
        total += line.per_year / cycles
        term = _term(joint, line, nominal_mismatch)
        nominal.append((line.per_year / median_cycles(term, _exponent(line, sets[0]), sets[0]), term))
    rate = sum(share for share, _ in nominal)
    terms = [(line, _term(joint, line, nominal_mismatch)) for line in place.cycles]
    by_set = {
        name: 1 / sum(line.per_year / median_cycles(term, _exponent(line, name), name) for line, term in terms)
        for name in FATIGUE_SETS
    }
    worst = max(range(len(nominal)), key=lambda n: nominal[n][0])
    return Life(
        1 / rate,
        joint.shape.value,
        tuple(share / rate for share, _ in nominal),
        nominal[worst][1],
        place.cycles[worst].per_year / nominal[worst][0],
        MappingProxyType(by_set),
        1 / total,
        np.maximum(joint.shape.at(z[6]), 1.0),
    )


def _exponent(line: Cycles, name: str) -> float:
    return fatigue_exponent(line.mean_c, line.dwell_min, name)


def _term(joint: Attachment, line: Cycles, mismatch: float) -> float:
    """Damage term of the outermost joint.

    The leaded method takes the lead to be compliant. A stiff one would strain the solder more than no lead at
    all, which it can't: the solder can't slip further than the mismatch. So the leadless strain bounds it.
    """
    bare = joint.relief * leadless_strain(
        joint.dnp_mm, mismatch, line.swing_k, joint.height_mm.value, joint.factor.value
    )
    if joint.stiffness_n_mm is None or joint.area_mm2 is None:
        return bare
    energy = leaded_energy_term(
        joint.stiffness_n_mm.value,
        joint.dnp_mm,
        mismatch,
        line.swing_k,
        joint.area_mm2.value,
        joint.height_mm.value,
        joint.factor.value,
    )
    return min(energy, bare)


def _terms(joint: Attachment, line: Cycles, mismatch: Array, z: Array) -> Array:
    """The same for every draw."""
    height = np.maximum(joint.height_mm.at(z[2]), 0.2 * joint.height_mm.value)
    factor = np.clip(joint.factor.at(z[3]), 0.5, 1.5)
    slip_mm = joint.relief * joint.dnp_mm * mismatch * 1e-6 * line.swing_k
    bare = factor * slip_mm / height
    if joint.stiffness_n_mm is None or joint.area_mm2 is None:
        return np.asarray(bare)
    stiffness = np.maximum(joint.stiffness_n_mm.at(z[5]), 0.1 * joint.stiffness_n_mm.value)
    area = np.maximum(joint.area_mm2.at(z[7]), 0.2 * joint.area_mm2.value)
    return np.asarray(np.minimum(factor * stiffness * slip_mm**2 / (STRESS_MPA * area * height), bare))


def _cycles(damage: Array, line: Cycles, sets: Sequence[str]) -> Array:
    """Median cycles for every draw; the sets take turns."""
    # Draws beyond the method's strain are held at its edge: they lie at the short end of the interval anyway.
    held = np.minimum(damage, LARGEST_STRAIN)
    cycles = np.empty_like(held)
    for number, name in enumerate(sets):
        turn = slice(number, None, len(sets))
        cycles[turn] = 0.5 * (2 * FATIGUE_SETS[name].ductility / held[turn]) ** (-1 / _exponent(line, name))
    return cycles


def board_failed(parts: Sequence[tuple[Life, int]], years: Array) -> tuple[Array, Array, Array]:
    """Share of boards with at least one failed part: value, low and high ends of the 90 % interval.

    Parameters
    ----------
    parts : sequence of (Life, int)
        Lives with how many such parts the board carries.
    years : array
        [years]

    Notes
    -----
    Parts compete: a board survives if all survive, Π(1 − F). The draws are common to all parts, so what they
    share (board, constants) moves them together.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> joint = Attachment("ball", 5, 0.56, Band(0.14, 0.15, 0.16), Band(2.6, 2.6, 2.8))
    >>> one = life(joint, environment("under-hood"), Band(12, 15, 20))
    >>> years = np.array([5.0, 10.0])
    >>> alone, crowd = board_failed([(one, 1)], years)[0], board_failed([(one, 50)], years)[0]
    >>> bool(np.all(crowd > alone))
    True
    """
    if not parts:
        raise InputError("a board needs parts", found="none")
    value = np.zeros(len(years))
    drawn = np.zeros((len(years), parts[0][0].draws_years.size))
    for one, count in parts:
        value += count * (years / one.median_years) ** one.shape
        drawn += count * (years[:, None] / one.draws_years) ** one.draws_shape
    low, high = np.quantile(-np.expm1(-math.log(2) * drawn), (0.05, 0.95), axis=1)
    middle = -np.expm1(-math.log(2) * value)
    return middle, np.minimum(low, middle), np.maximum(high, middle)
