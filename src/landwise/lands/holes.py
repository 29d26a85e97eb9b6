"""Holes and rings of drilled terminals, by the rigid-board standards' three producibility levels."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError
from landwise.lands.model import Level

SOURCE = "ipc-2222-holes"
# Added to the largest lead: least hole of levels most, nominal, least (A, B, C of the standard). [mm]
HOLE_OVER_LEAD_MM: Mapping[str, float] = MappingProxyType({"most": 0.25, "nominal": 0.20, "least": 0.15})
# Fabrication allowance of the land at the same levels. [mm]
ALLOWANCE_MM: Mapping[str, float] = MappingProxyType({"most": 0.60, "nominal": 0.50, "least": 0.40})
RING_MM = 0.05  # least annular ring of a plated hole on an outer layer
DRILL_STEP_MM = 0.05


@dataclass(frozen=True)
class HoleSize:
    """Least hole, the hole drilled (the next drill), and the land around it. [mm]"""

    least_hole_mm: float
    hole_mm: float
    land_mm: float


def lead_diagonal(width_mm: float, thickness_mm: float) -> float:
    """Largest dimension of a rectangular lead's section. [mm]

    >>> round(lead_diagonal(0.56, 0.36), 3)
    0.666
    """
    return math.hypot(width_mm, thickness_mm)


def hole_size(lead_mm: float, level: Level = "nominal") -> HoleSize:
    """Hole and land for a lead of that diameter or diagonal.

    Parameters
    ----------
    lead_mm : float
        Largest lead diameter or diagonal. [mm]
    level : {"most", "nominal", "least"}
        Producibility level A, B or C: A is the easiest to make.

    Raises
    ------
    InputError
        For a lead that isn't positive, or an unknown level.

    Notes
    -----
    Least hole = lead + 0.25 / 0.20 / 0.15, rounded up to the next 0.05 drill; land = hole + twice the ring
    of 0.05 + 0.60 / 0.50 / 0.40. IPC-2222 and IPC-2221, read second-hand.

    Examples
    --------
    >>> size = hole_size(lead_diagonal(0.56, 0.36))
    >>> print(f"{size.hole_mm:.2f} {size.land_mm:.2f}")
    0.90 1.50
    """
    if not (math.isfinite(lead_mm) and lead_mm > 0):
        raise InputError("a lead needs a positive size", found=f"{lead_mm:g} mm", expected="> 0")
    if level not in HOLE_OVER_LEAD_MM:
        raise InputError("unknown level", found=str(level), expected=" | ".join(HOLE_OVER_LEAD_MM))
    least = lead_mm + HOLE_OVER_LEAD_MM[level]
    hole = round(math.ceil(least / DRILL_STEP_MM - 1e-9) * DRILL_STEP_MM, 6)
    return HoleSize(least, hole, round(hole + 2 * RING_MM + ALLOWANCE_MM[level], 6))
