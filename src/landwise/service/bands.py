"""Quantities known only within a band, and even draws from several bands at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.sobol import MOST_DIMENSIONS, Sobol, normal_block
from landwise.errors import InputError
from landwise.memory import known

Array = NDArray[np.float64]
SIGMAS_90 = 1.6448536269514722  # half-width of the 90 % interval of a normal distribution
DRAWS = 1024
SEED = 20090  # of the one scramble that all lives share


@dataclass(frozen=True)
class Band:
    """A value with its 90 % interval, in the unit its name ends with.

    Drawn as two half normals that meet at the value, so that a lopsided band keeps both its ends.

    >>> Band(12.0, 15.0, 20.0).at(np.array([-SIGMAS_90, 0.0, SIGMAS_90]))
    array([12., 15., 20.])
    """

    low: float
    value: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise InputError(
                "ends of a band out of order",
                found=f"{self.low:g}, {self.value:g}, {self.high:g}",
                expected="low ≤ value ≤ high",
            )

    @classmethod
    def exact(cls, value: float) -> Band:
        """A value without spread."""
        return cls(value, value, value)

    def at(self, z: Array) -> Array:
        """Values at standard normal scores."""
        half = np.where(z >= 0, self.high - self.value, self.value - self.low)
        return np.asarray(self.value + half / SIGMAS_90 * z, dtype=np.float64)

    def times(self, factor: float) -> Band:
        """The band multiplied by a positive number."""
        return Band(self.low * factor, self.value * factor, self.high * factor)


@lru_cache(maxsize=16)
def scores(kinds: int, draws: int = DRAWS) -> Array:
    """Standard normal scores that fill a space of `kinds` dimensions evenly, (kinds, draws); never random.

    Notes
    -----
    One scramble of Sobol's sequence, the same for every study. A thousand such points give the ends of a 90 % interval
    to a few per cent; any first power of two of them is as even in itself.

    Raises
    ------
    InputError
        For more kinds than the sequence has dimensions.

    Examples
    --------
    >>> z = scores(3)
    >>> z.shape, bool(np.all(np.abs(z.mean(axis=1)) < 0.02))
    ((3, 1024), True)
    """
    if not 1 <= kinds <= MOST_DIMENSIONS:
        raise InputError("too many uncertain inputs", found=str(kinds), expected=f"1 to {MOST_DIMENSIONS}")
    z = known(lambda: normal_block(Sobol(kinds, SEED), 0, draws), "scores", SEED, kinds, draws)
    z.setflags(write=False)
    return z


def interval(draws: Array, weights: Array | None = None) -> tuple[float, float]:
    """Ends of the 90 % interval of draws, each counted by its weight.

    >>> interval(np.arange(101.0)), interval(np.array([1.0, 2.0, 9.0]), np.array([1.0, 1.0, 0.0]))
    ((5.0, 95.0), (1.0, 2.0))
    """
    if weights is None:
        low, high = np.quantile(draws, (0.05, 0.95))
    else:
        low, high = quantiles(draws, (0.05, 0.95), weights)
    return float(low), float(high)


def quantiles(draws: Array, shares: tuple[float, ...], weights: Array) -> Array:
    """Quantiles of weighted draws: the smallest draw at which the weight below reaches the share."""
    order = np.argsort(draws)
    below = np.cumsum(weights[order])
    at = np.searchsorted(below, np.asarray(shares) * below[-1] * (1 - 1e-12))
    return np.asarray(draws[order][np.minimum(at, len(draws) - 1)])
