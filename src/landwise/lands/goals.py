"""Toe, heel and side: from a terminal's limits to the span, gap and width of its lands.

The method of the surface-mount land-pattern standards: each land dimension is a component limit plus the
goal for the solder fillet plus the root of the summed squares of component, fabrication and placement
tolerance. Scalars and arrays both work.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

import numpy as np

from landwise.errors import InputError
from landwise.lands.model import LEVELS, Level
from landwise.outlines.model import LEADED, Outline
from landwise.untyped import Number, Table

FINE_PITCH_MM = 0.625  # at and below it the side goal of gull-wings shrinks


@dataclass(frozen=True)
class Goals:
    """Fillet goals of one terminal form at one level. [mm]"""

    form: str
    toe_mm: float
    heel_mm: float
    side_mm: float
    courtyard_mm: float
    source: str


@cache
def _table() -> Mapping[str, Table]:
    text = resources.files("landwise.lands").joinpath("goals.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


def goals(form: str, level: Level = "nominal") -> Goals:
    """The goals of a terminal form (a table of `goals.toml`) at a density level.

    Raises
    ------
    InputError
        For an unknown form or level.

    Examples
    --------
    >>> goals("gull-wing").toe_mm, goals("leadless", "least").toe_mm
    (0.35, 0.2)
    """
    if level not in LEVELS:
        raise InputError("unknown density level", found=str(level), expected=" | ".join(LEVELS))
    if form not in _table():
        raise InputError("unknown terminal form", found=form, expected=" | ".join(_table()))
    row, at = _table()[form], LEVELS.index(level)
    pick = {key: row[key][at] if key in row else 0.0 for key in ("toe_mm", "heel_mm", "side_mm", "courtyard_mm")}
    return Goals(form=form, source=row["source"], **pick)


def form_of(outline: Outline) -> str:
    """Which row of the goals table an outline's terminals follow."""
    if outline.family in LEADED:
        if outline.family == "flat-lead dual":
            return "flat lead"
        if outline.family.startswith("J-lead"):
            return "J-lead"
        return "gull-wing fine" if outline.pitch_mm <= FINE_PITCH_MM else "gull-wing"
    if outline.family.startswith("leadless"):
        return "leadless pulled back" if outline.pull_back_mm > 0 else "leadless"
    return "drilled" if outline.drilled else outline.family


def inner_gap_limits(
    span_min: Number, span_max: Number, foot_min: Number, foot_max: Number, *, rms: bool = True
) -> tuple[Number, Number]:
    r"""Smallest and largest gap between opposite terminals. [mm]

    Parameters
    ----------
    span_min, span_max, foot_min, foot_max : float or array
        Limits of tip-to-tip span and of one foot. [mm]
    rms : bool, default True
        Relieve the worst case by root sum of squares.

    Notes
    -----
    Worst case: :math:`S_{min} = L_{min} - 2T_{max}`, :math:`S_{max} = L_{max} - 2T_{min}`. With relief the
    range shrinks to :math:`\sqrt{C_L^2 + 2 C_T^2}`, half of the difference at each end: two feet enter,
    because both ends have one. Recalled from IPC-SM-782A (`from memory`).

    Examples
    --------
    >>> low, high = inner_gap_limits(5.8, 6.2, 0.40, 1.27)
    >>> print(f"{low:.3f} {high:.3f}")
    3.683 4.977
    """
    low, high = span_min - 2 * foot_max, span_max - 2 * foot_min
    if not rms:
        return low, high
    relieved = np.hypot(span_max - span_min, np.sqrt(2) * (foot_max - foot_min))
    relief = (high - low - relieved) / 2
    return low + relief, high - relief


def outer_span(span_min: Number, span_max: Number, toe: Number, fabrication: Number, placement: Number) -> Number:
    r"""Outer distance over opposite lands, :math:`Z = L_{min} + 2J_T + \sqrt{C_L^2 + F^2 + P^2}`. [mm]

    >>> print(f"{outer_span(5.8, 6.2, 0.35, 0.10, 0.10):.3f}")
    6.924
    """
    return span_min + 2 * toe + np.sqrt((span_max - span_min) ** 2 + fabrication**2 + placement**2)


def inner_gap(gap_min: Number, gap_max: Number, heel: Number, fabrication: Number, placement: Number) -> Number:
    r"""Inner distance between opposite lands, :math:`G = S_{max} - 2J_H - \sqrt{C_S^2 + F^2 + P^2}`. [mm]

    >>> print(f"{inner_gap(3.683, 4.977, 0.35, 0.10, 0.10):.3f}")
    2.975
    """
    return gap_max - 2 * heel - np.sqrt((gap_max - gap_min) ** 2 + fabrication**2 + placement**2)


def land_width(width_min: Number, width_max: Number, side: Number, fabrication: Number, placement: Number) -> Number:
    r"""Width of a land, :math:`X = W_{min} + 2J_S + \sqrt{C_W^2 + F^2 + P^2}`. [mm]

    >>> print(f"{land_width(0.31, 0.51, 0.03, 0.10, 0.10):.3f}")
    0.615
    """
    return width_min + 2 * side + np.sqrt((width_max - width_min) ** 2 + fabrication**2 + placement**2)
