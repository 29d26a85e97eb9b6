"""Life of mounted parts: cycles of a year summed as damage, Weibull shares, the first failures of a whole board."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.service.attachment import Attachment
from landwise.service.bands import DRAWS, Band, interval
from landwise.service.damage import INPUTS, LEAST_MISMATCH_PPM_K, MODEL_SPREAD, damage_of, draws
from landwise.service.environments import Environment
from landwise.service.thermal_cycling import FATIGUE_SETS, LARGEST_STRAIN

__all__ = [
    "DEFAULT_SETS",
    "LEAST_MISMATCH_PPM_K",
    "MODEL_SPREAD",
    "SOURCES",
    "Life",
    "board_failed",
    "life",
    "parts_of",
]

Array = NDArray[np.float64]
# Where no alloy is stated the board is lead-free: the tin-lead constants, which their author advised for lead-free
# field life with a safety factor of about 3, beside the published tin-silver row. Neither is from memory.
DEFAULT_SETS = ("snpb", "snag-2008")
SOURCES = (
    "engelmaier-dfr",
    "engelmaier-2008-notebook",
    "engelmaier-sac-advice",
    "weibull-dfr",
    "least-mismatch-memory",
)
COMMON_DRAWS = 256  # of the draws, as many as a search over boards takes: the first ones, even in themselves


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
    foot_share : float
        Share of the damage done by the foot's own mismatch; 0 without leads.
    crept : float
        Share of the slip that creeps in the severest cycle; 1 without leads.
    weights : array or None
        Of the draws, where tests of the user's own have told them apart; None for even ones.
    """

    median_years: float
    shape: float
    damage: tuple[float, ...]
    strain: float
    cycles: float
    by_set: Mapping[str, float]
    draws_years: Array
    draws_shape: Array
    foot_share: float = 0.0
    crept: float = 1.0
    weights: Array | None = None

    def years_to(self, share: float) -> Band:
        """Years until that share of such parts has failed, with its 90 % interval. [years]"""
        ratio = _ratio(share)
        value = self.median_years * ratio ** (1 / self.shape)
        low, high = interval(self.draws_years * ratio ** (1 / self.draws_shape), self.weights)
        return Band(min(low, value), value, max(high, value))

    def failed(self, years: float) -> Band:
        """Share failed after so many years, with its 90 % interval."""
        value = -math.expm1(-math.log(2) * (years / self.median_years) ** self.shape)
        drawn = -np.expm1(-math.log(2) * (years / self.draws_years) ** self.draws_shape)
        low, high = interval(drawn, self.weights)
        return Band(min(low, value), value, max(high, value))

    def failing(self, years: float, count: int = DRAWS) -> Array:
        """Share failed after so many years, in so many draws whose order all parts share.

        Raises
        ------
        InputError
            For more draws than there are.
        """
        at = self._taken(count)
        return np.asarray(-np.expm1(-math.log(2) * (years / self.draws_years[at]) ** self.draws_shape[at]))

    def _taken(self, count: int) -> NDArray[np.intp]:
        """Which draws stand for all, in the common order: weighted ones in proportion to their weights."""
        if not 1 <= count <= DRAWS:
            raise InputError("no such number of draws", found=str(count), expected=f"1 to {DRAWS}")
        if self.weights is None:
            return np.arange(count)
        below = np.cumsum(self.weights) / self.weights.sum()
        at = np.searchsorted(below, (np.arange(count) + 0.5) / count)
        return np.minimum(at, len(self.draws_years) - 1)

    def common(self, share: float, count: int = COMMON_DRAWS) -> Array:
        """Years until that share has failed, in so many draws whose order all parts share. [years]

        Draws of weighted lives are taken in proportion to their weights, in the common order, so that those of two
        parts belong together.

        Raises
        ------
        InputError
            For more draws than there are.
        """
        at = self._taken(count)
        return np.asarray(self.draws_years[at] * _ratio(share) ** (1 / self.draws_shape[at]))

    def over(self, other: Life, share: float) -> Band:
        """This life over another's at a share failed, draw by draw. [-]

        What both share (board, method of their kind, constants) moves them together, so that the ratio is known far
        better than either life.
        """
        r = _ratio(share)
        value = self.years_to(share).value / other.years_to(share).value
        drawn = (self.draws_years * r ** (1 / self.draws_shape)) / (other.draws_years * r ** (1 / other.draws_shape))
        weights = self.weights if self.weights is not None else other.weights
        low, high = interval(drawn, weights)
        return Band(min(low, value), value, max(high, value))

    def weighed(self, weights: Array) -> Life:
        """The same life with its draws weighed; its middle and shape are then those of the weighed draws.

        Raises
        ------
        InputError
            For weights that don't fit the draws, or are all zero.
        """
        if weights.shape != self.draws_years.shape or not float(weights.sum()) > 0 or float(weights.min()) < 0:
            raise InputError("weights must fit the draws, and some be positive")
        share = weights / weights.sum()
        middle = math.exp(float(share @ np.log(self.draws_years)))
        return replace(self, median_years=middle, shape=float(share @ self.draws_shape), weights=weights)


def _ratio(share: float) -> float:
    if not 0 < share < 1:
        raise InputError("a share lies between 0 and 1", found=f"{share:g}")
    return math.log1p(-share) / math.log(0.5)


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
    Life is that of the part's outermost joint, as tests count it. The interval draws `damage.INPUTS` and the set of
    constants; the value of leads of unknown metal is that of copper. Miner's sum knows no order of the cycles and no
    healing: sums of 0.5 to 2 at failure are usual (recalled), within the method's spread.
    What it leaves out: creep under steady load, defects, and the barrel of vias.

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
    z = draws()
    still = np.zeros((len(INPUTS), 1))
    nominal = damage_of(joint, place, board_ppm_k, still, sets[:1])
    strain = float(nominal.worst_term)
    if not 0 < strain <= LARGEST_STRAIN:
        raise ValidityError(
            "outside the range of the method", place="strain", found=f"{strain:.3g}", expected="above 0, up to 0.5"
        )
    drawn = damage_of(joint, place, board_ppm_k, z, sets)
    by_set = {}
    for name in FATIGUE_SETS:
        alone = nominal if name == sets[0] else damage_of(joint, place, board_ppm_k, still, (name,))
        by_set[name] = float(1 / alone.per_year[0])
    rate = float(nominal.per_year[0])
    shares = tuple(float(each[0]) / rate for each in nominal.by_line)
    worst = max(range(len(shares)), key=shares.__getitem__)
    return Life(
        1 / rate,
        joint.shape.value,
        shares,
        strain,
        place.cycles[worst].per_year / float(nominal.by_line[worst][0]),
        MappingProxyType(by_set),
        1 / drawn.per_year,
        np.maximum(joint.shape.at(z[INPUTS.index("shape")]), 1.0),
        nominal.foot_share,
        nominal.crept,
    )


def parts_of(
    joint: Attachment, place: Environment, board_ppm_k: Band, share: float, sets: tuple[str, ...] = DEFAULT_SETS
) -> Mapping[str, float]:
    """What makes the interval: its width with one input drawn and all others at their value. [decades]

    Parameters
    ----------
    share : float
        Of parts failed.

    Notes
    -----
    By the first set of constants; the widths add about as squares. Largest first.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> joint = Attachment("ball", 5, 0.56, Band(0.14, 0.15, 0.16), Band(2.6, 2.6, 2.8))
    >>> next(iter(parts_of(joint, environment("consumer"), Band(12, 15, 20), 0.01)))
    'method-ball'
    """
    z, r = draws(), _ratio(share)
    found = {}
    for number, name in enumerate(INPUTS):
        alone = np.zeros_like(z)
        alone[number] = z[number]
        years = 1 / damage_of(joint, place, board_ppm_k, alone, sets[:1]).per_year
        shape = np.maximum(joint.shape.at(alone[INPUTS.index("shape")]), 1.0)
        low, high = interval(np.log10(years * r ** (1 / shape)))
        if high - low > 1e-9:
            found[name] = high - low
    return MappingProxyType(dict(sorted(found.items(), key=lambda item: -item[1])))


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
    weights = next((one.weights for one, _ in parts if one.weights is not None), None)
    shares = -np.expm1(-math.log(2) * drawn)
    low, high = np.array([interval(row, weights) for row in shares]).T
    middle = -np.expm1(-math.log(2) * value)
    return middle, np.minimum(low, middle), np.maximum(high, middle)
