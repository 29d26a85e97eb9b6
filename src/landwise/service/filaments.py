"""Partial inductance of bent leads: straight pieces of bar or wire anywhere in space, each with every other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

ORDER = 10  # points of Gauss and Legendre along each piece
Array = NDArray[np.float64]
Point = tuple[float, float, float]


@dataclass(frozen=True)
class Piece:
    """A straight piece of conductor: bar, or wire where width and thickness are equal and `round` is set. [mm]"""

    start: Point
    end: Point
    width_mm: float
    thickness_mm: float
    round: bool = False

    @property
    def length_mm(self) -> float:
        """Length. [mm]"""
        return math.dist(self.start, self.end)


def self_inductance(piece: Piece) -> float:
    """Partial inductance of one piece, also where it is short against its section. [nH]

    Notes
    -----
    0.2·l·[asinh(l/g) − √(1 + g²/l²) + g/l] with the section's mean distance from itself g: e^(−1/4)·d/2 for a wire,
    0.2235·(w + t) for a bar (both recalled; the short forms of the formula book are its limits for long pieces).

    >>> print(f"{self_inductance(Piece((0, 0, 0), (10, 0, 0), 1, 0.1)):.3f}")
    6.846
    """
    length = piece.length_mm
    if min(length, piece.width_mm, piece.thickness_mm) <= 0:
        raise InputError("sizes of a conductor must be positive")
    if piece.round:
        mean = math.exp(-0.25) * piece.width_mm / 2
    else:
        mean = 0.2235 * (piece.width_mm + piece.thickness_mm)
    x = length / mean
    return 0.2 * length * (math.asinh(x) - math.sqrt(1 + 1 / x**2) + 1 / x)


def inductance_matrix(paths: Sequence[Sequence[Piece]]) -> Array:
    """Partial inductances of conductors made of pieces in series, each counted in the direction of its pieces. [nH]

    Parameters
    ----------
    paths : sequence of sequence of Piece
        Each conductor's pieces in order.

    Notes
    -----
    Neumann's double integral along the pieces' middles, 100 nH/m times cos ÷ distance, by Gauss and Legendre;
    pieces nearer than their sections are thick see each other over the mean distance of a section from itself.

    Examples
    --------
    Two filaments 10 mm long at 2.54 mm, against the closed form 2.6031 nH:

    >>> a, b = (Piece((0, y, 0), (10, y, 0), 0.1, 0.1) for y in (0, 2.54))
    >>> print(f"{inductance_matrix([[a], [b]])[0, 1]:.4f}")
    2.6031
    """
    pieces = [piece for path in paths for piece in path]
    owner = np.array([number for number, path in enumerate(paths) for _ in path])
    start = np.array([piece.start for piece in pieces], dtype=float)
    run = np.array([piece.end for piece in pieces], dtype=float) - start
    nodes, weights = np.polynomial.legendre.leggauss(ORDER)
    at = [start + run * (node + 1) / 2 for node in nodes]
    near = np.array([0.2235 * (piece.width_mm + piece.thickness_mm) for piece in pieces])
    # Pieces that touch at an angle meet in a point: keep them a section apart.
    least = np.maximum.outer(near, near)
    found = np.zeros((len(pieces), len(pieces)))
    for j in range(ORDER):
        for k in range(j, ORDER):
            x, y, z = (at[j][:, None, axis] - at[k][None, :, axis] for axis in range(3))
            part = weights[j] * weights[k] / 4 / np.maximum(np.sqrt(x * x + y * y + z * z), least)
            found += part if j == k else part + part.T
    found *= 0.1
    found *= run @ run.T
    np.fill_diagonal(found, [self_inductance(piece) for piece in pieces])
    gather = (owner[None, :] == np.arange(len(paths))[:, None]).astype(float)
    whole: Array = gather @ ((found + found.T) / 2) @ gather.T
    return whole


def shared_inductance(matrix: Array, grounds: Sequence[int], signals: Sequence[int]) -> float:
    """Voltage of the die's ground per rate of current of one signal, signals returning through all grounds. [nH]

    The current of each signal comes in along its own lead and goes out along the grounds; they share it so that
    all show one voltage, and the signals' own fields, running the other way, take some of it back.

    Examples
    --------
    One ground and one signal as a pair: L − M.

    >>> matrix = np.array([[5.0, 2.0], [2.0, 5.0]])
    >>> shared_inductance(matrix, [0], [1])
    3.0
    """
    if not grounds or not signals or set(grounds) & set(signals):
        raise InputError("grounds and signals must be named, and apart")
    ground, between = matrix[np.ix_(grounds, grounds)], matrix[np.ix_(grounds, signals)]
    induced = between.mean(axis=1)  # by one unit of current, spread over the signals
    # ground·i − induced = v for each ground, Σi = 1
    size = len(grounds)
    system = np.zeros((size + 1, size + 1))
    system[:size, :size] = ground
    system[:size, size] = -1.0
    system[size, :size] = 1.0
    solved = np.linalg.solve(system, np.concatenate([induced, [1.0]]))
    return float(solved[size])
