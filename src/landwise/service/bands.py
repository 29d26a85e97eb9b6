"""Quantities known only within a band, and even draws from several bands at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

Array = NDArray[np.float64]
SIGMAS_90 = 1.6448536269514722  # half-width of the 90 % interval of a normal distribution
DRAWS = 1024
PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)


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
    Halton's sequence: the counting numbers mirrored at the point in one prime base for each kind. A thousand such
    points give the ends of a 90 % interval to a few per cent, and the same study gives the same result every time.

    Raises
    ------
    InputError
        For more kinds than primes at hand.

    Examples
    --------
    >>> z = scores(3)
    >>> z.shape, bool(np.all(np.abs(z.mean(axis=1)) < 0.02))
    ((3, 1024), True)
    """
    from scipy.special import ndtri

    if not 1 <= kinds <= len(PRIMES):
        raise InputError("too many uncertain inputs", found=str(kinds), expected=f"1 to {len(PRIMES)}")
    rows = []
    for base in PRIMES[:kinds]:
        left, row, place = np.arange(1, draws + 1), np.zeros(draws), 1 / base
        while left.any():
            row += place * (left % base)
            left //= base
            place /= base
        rows.append(row)
    z = np.asarray(ndtri(np.array(rows)), dtype=np.float64)
    z.setflags(write=False)
    return z


def interval(draws: Array) -> tuple[float, float]:
    """Ends of the 90 % interval of draws."""
    low, high = np.quantile(draws, (0.05, 0.95))
    return float(low), float(high)
