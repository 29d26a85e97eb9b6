"""Which terminals do not touch their deposit: coplanarity and warpage against paste and molten solder.

A part stands on its lowest terminals. A terminal that stands higher than its paste is tall is not touched when
the part is placed; if it also stands higher than the molten deposit's dome, less what the part sinks, it stays
open. One that paste touches is taken to be wetted: its joint is stretched, not open.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from landwise.errors import InputError
from landwise.joints.section import arc_height
from landwise.printing.paste import ROBUST_SHARE

Array = NDArray[np.float64]
Bow = Literal["corners up", "corners down"]
BOWS: tuple[Bow, ...] = ("corners up", "corners down")
ROBUST_SOURCE = "wassink-height"


@dataclass(frozen=True)
class Contact:
    """Terminals against their deposits.

    Parameters
    ----------
    rise_mm : array
        Of each terminal over the plane the part stands on. [mm]
    misses_paste : tuple of str
        Terminals that don't touch the printed paste.
    stays_open : tuple of str
        Terminals that neither the paste nor the molten solder reaches.
    margin_mm : float
        Height of the lowest dome less the rise of its terminal, the least of all. [mm]
    robust : bool
        Whether every rise stays below 75 % of the molten height, the trade's rule for a robust process.
    """

    rise_mm: Array
    misses_paste: tuple[str, ...]
    stays_open: tuple[str, ...]
    margin_mm: float
    robust: bool


def dome_height(land_length_mm: float, land_width_mm: float, solder_mm3: float) -> float:
    """Height of molten solder that stands on its land alone, at its middle. [mm]

    Notes
    -----
    The circular arc over the land's width, times the ratio of peak to mean that the linear membrane has on the
    rectangle over that on a strip (1.5). Exact for a long land, and for a flat dome on any rectangle; within a
    tenth of the meshed surface in between.

    Examples
    --------
    Solder 50 µm thick on 0.8 × 0.25 mm stands 87 µm high in the middle:

    >>> print(f"{dome_height(0.8, 0.25, 0.010) * 1000:.0f}")
    87
    """
    long, short = max(land_length_mm, land_width_mm), min(land_length_mm, land_width_mm)
    if not (short > 0 and solder_mm3 >= 0):
        raise InputError("land must be positive, solder not negative", found=f"{short:g} mm, {solder_mm3:g} mm³")
    if solder_mm3 == 0:
        return 0.0
    mean = solder_mm3 / (long * short)
    return arc_height(short, mean * short) * peak_over_mean(long / short) / 1.5


def peak_over_mean(ratio: float) -> float:
    """Peak over mean height of a membrane under pressure on a rectangle of that side ratio.

    >>> round(peak_over_mean(1.0), 3), round(peak_over_mean(20.0), 2)
    (2.096, 1.55)
    """
    peak, mean = 1.0, 1 / 3
    for n in range(1, 40, 2):
        arm = n * math.pi * ratio / 2
        sign = 1 if n % 4 == 1 else -1
        peak -= 32 / math.pi**3 * sign / n**3 / math.cosh(min(arm, 300.0))
        mean -= 64 / math.pi**5 / ratio * math.tanh(arm) / n**5
    return peak / 8 / (mean / 4)


def warped(x_mm: ArrayLike, y_mm: ArrayLike, bow_mm: float, bow: Bow) -> Array:
    """Rise of terminals over the lowest one when the part is bowed like a shallow bowl. [mm]

    Parameters
    ----------
    x_mm, y_mm : array
        Places of the terminals from the body's middle. [mm]
    bow_mm : float
        Between the terminal nearest the middle and the farthest. [mm]
    bow : {"corners up", "corners down"}
    """
    squared = np.asarray(x_mm, dtype=float) ** 2 + np.asarray(y_mm, dtype=float) ** 2
    span = float(np.ptp(squared))
    share = (squared - squared.min()) / span if span > 0 else np.zeros_like(squared)
    return np.asarray(bow_mm * (share if bow == "corners up" else 1 - share))


def contact(
    numbers: tuple[str, ...], rise_mm: ArrayLike, paste_mm: ArrayLike, dome_mm: ArrayLike, sink_mm: float = 0.0
) -> Contact:
    """Which terminals miss their paste, and which stay open after melting.

    Parameters
    ----------
    numbers : tuple of str
        Terminals.
    rise_mm : array
        Of each terminal over the plane the part stands on. [mm]
    paste_mm, dome_mm : array
        Height of the wet paste, and of its molten dome. [mm]
    sink_mm : float
        How far the whole part comes down when the solder melts: the collapse of balls. [mm]

    Examples
    --------
    >>> found = contact(("1", "2"), [0.0, 0.12], [0.10, 0.10], [0.08, 0.08])
    >>> found.misses_paste, found.stays_open, round(found.margin_mm, 3)
    (('2',), ('2',), -0.04)
    """
    rise, paste, dome = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (rise_mm, paste_mm, dome_mm)))
    if rise.shape != (len(numbers),):
        raise InputError("one rise for each terminal", found=f"{rise.shape}", expected=f"{len(numbers)}")
    reach = dome + sink_mm - rise
    return Contact(
        rise,
        tuple(n for n, miss in zip(numbers, rise > paste, strict=True) if miss),
        tuple(n for n, miss in zip(numbers, (reach < 0) & (rise > paste), strict=True) if miss),
        float(reach.min()),
        bool(np.all(rise <= ROBUST_SHARE * (dome + sink_mm))),
    )
