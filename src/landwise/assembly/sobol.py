"""Scrambled Sobol points: evenly spread random numbers whose error falls faster than with plain ones.

The library that has them takes half a second to load, more than a whole part needs; the sequence itself is
short. Tests hold the unscrambled points to that library's.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.random import SFC64
from numpy.typing import NDArray

from landwise.errors import InputError

Array = NDArray[np.float64]
BITS = 32
# Primitive polynomials and first direction numbers of Joe and Kuo (2008), dimensions 2 to 16: degree, inner
# coefficients, first numbers.
_JOE_KUO: tuple[tuple[int, int, tuple[int, ...]], ...] = (
    (1, 0, (1,)),
    (2, 1, (1, 3)),
    (3, 1, (1, 3, 1)),
    (3, 2, (1, 1, 1)),
    (4, 1, (1, 1, 3, 3)),
    (4, 4, (1, 3, 5, 13)),
    (5, 2, (1, 1, 5, 5, 17)),
    (5, 4, (1, 1, 5, 5, 5)),
    (5, 7, (1, 1, 7, 11, 19)),
    (5, 11, (1, 1, 5, 1, 1)),
    (5, 13, (1, 1, 1, 3, 11)),
    (5, 14, (1, 3, 5, 5, 31)),
    (6, 1, (1, 3, 3, 9, 7, 49)),
    (6, 13, (1, 1, 1, 15, 21, 21)),
    (6, 16, (1, 3, 1, 13, 27, 49)),
)
MOST_DIMENSIONS = len(_JOE_KUO) + 1


def _directions(dimensions: int) -> NDArray[np.uint32]:
    """Direction numbers, (dimensions, BITS), the most significant first."""
    found = np.zeros((dimensions, BITS), dtype=np.uint32)
    found[0] = [1 << (BITS - 1 - k) for k in range(BITS)]
    for d in range(1, dimensions):
        degree, inner, first = _JOE_KUO[d - 1]
        row = [m << (BITS - 1 - k) for k, m in enumerate(first)]
        for k in range(degree, BITS):
            value = row[k - degree] ^ (row[k - degree] >> degree)
            for j in range(1, degree):
                if (inner >> (degree - 1 - j)) & 1:
                    value ^= row[k - j]
            row.append(value)
        found[d] = row
    return found


def _scrambled(directions: NDArray[np.uint32], rng: np.random.Generator) -> NDArray[np.uint32]:
    """Direction numbers under a random lower-triangular matrix for each dimension (Matoušek's scramble)."""
    count = directions.shape[0]
    bits = (directions[:, :, None] >> np.arange(BITS - 1, -1, -1, dtype=np.uint32)) & np.uint32(1)
    matrix = np.tril(rng.integers(0, 2, (count, BITS, BITS), dtype=np.uint32), -1)
    matrix += np.eye(BITS, dtype=np.uint32)
    mixed = np.einsum("dij,dkj->dki", matrix, bits) & np.uint32(1)
    weights = np.uint64(1) << np.arange(BITS - 1, -1, -1, dtype=np.uint64)
    numbers: NDArray[np.uint32] = (mixed.astype(np.uint64) @ weights).astype(np.uint32)
    return numbers


class Sobol:
    """A scrambled sequence that can be entered anywhere: any block of it is the same, whoever asks.

    Parameters
    ----------
    dimensions : int
        1 to 16.
    seed : int or None
        Of the scramble; None for the plain sequence (which begins at zero).

    Raises
    ------
    InputError

    Examples
    --------
    >>> print(Sobol(2, None).block(0, 4))
    [[0.   0.5  0.25 0.75]
     [0.   0.5  0.75 0.25]]
    """

    def __init__(self, dimensions: int, seed: int | None) -> None:
        if not 1 <= dimensions <= MOST_DIMENSIONS:
            raise InputError(
                "no Sobol sequence so wide", found=str(dimensions), expected=f"1 to {MOST_DIMENSIONS} dimensions"
            )
        self._numbers = _directions(dimensions)
        self._shift = np.zeros(dimensions, dtype=np.uint32)
        self._middle = 0.0
        if seed is not None:
            rng = np.random.default_rng([seed, dimensions])
            self._numbers = _scrambled(self._numbers, rng)
            self._shift = rng.integers(0, 2**BITS, dimensions, dtype=np.uint32)
            self._middle = 0.5  # keeps points off zero, where a normal number would be infinite

    def block(self, start: int, count: int) -> Array:
        """Points `start` to `start + count`, (dimensions, count), each in 0…1.

        `count` must be a power of two and divide `start`.
        """
        if count < 1 or count & (count - 1) or start % count or start + count > 2**BITS:
            raise InputError("a block of a Sobol sequence is a power of two and starts at a multiple of its length")
        shares: Array = (self.bits(start, count).astype(np.float64) + self._middle) / 2.0**BITS
        return shares

    def bits(self, start: int, count: int) -> NDArray[np.uint32]:
        """The same points as whole numbers of 32 bits."""
        found = np.empty((len(self._shift), count), dtype=np.uint32)
        origin = self._shift.copy()
        for k in range(BITS):
            if (start >> k) & 1:
                origin ^= self._numbers[:, k]
        found[:, 0] = origin
        done, k = 1, 0
        while done < count:
            np.bitwise_xor(found[:, :done], self._numbers[:, k : k + 1], out=found[:, done : 2 * done])
            done, k = 2 * done, k + 1
        return found


@lru_cache(maxsize=256)
def _kept_bits(dimensions: int, scramble: int, start: int, count: int) -> NDArray[np.uint32]:
    found = Sobol(dimensions, scramble).bits(start, count)
    found.setflags(write=False)
    return found


def shifted_normals(dimensions: int, scramble: int, seeds: Sequence[int], start: int, count: int) -> Array:
    """Standard normal numbers of one scrambled sequence under random digital shifts, (dimensions, seeds, count).

    A shift alone makes every point uniform, so that different seeds are independent repetitions; the scramble under it
    is one of few, whose points are kept. The numbers are read-only: who asks again gets the same.
    """
    return _shifted(dimensions, scramble, tuple(seeds), start, count)


@lru_cache(maxsize=128)  # some 60 kB each; all the prints of a process window are worked at the same numbers
def _shifted(dimensions: int, scramble: int, seeds: tuple[int, ...], start: int, count: int) -> Array:
    from scipy.special import ndtri

    bits = _kept_bits(dimensions, scramble, start, count)[:, None] ^ _shifts(dimensions, seeds)[:, :, None]
    shares = bits.astype(np.float64)
    shares += 0.5
    shares /= 2.0**BITS
    found: Array = ndtri(shares, out=shares)
    found.setflags(write=False)
    return found


@lru_cache(maxsize=64)  # a sequence that goes on asks for the same again
def _shifts(dimensions: int, seeds: tuple[int, ...]) -> NDArray[np.uint32]:
    """The digital shift of each seed, (dimensions, seeds)."""
    found = np.array([SFC64(seed).random_raw(dimensions) >> np.uint64(BITS) for seed in seeds], dtype=np.uint32).T
    found.setflags(write=False)
    return found


def normal_block(sequence: Sobol, start: int, count: int) -> Array:
    """The same points as standard normal numbers."""
    from scipy.special import ndtri

    found: Array = ndtri(sequence.block(start, count))
    return found
