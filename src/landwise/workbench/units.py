"""Lengths in millimetres or in mils, as the person at the screen wants them; nothing else changes."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from landwise.evidence.figures import Figure
from landwise.quantities import INCH_MM, significant

Units = Literal["mm", "mil"]
UNITS: tuple[Units, ...] = ("mm", "mil")
_TO_MIL = {
    "mm": (1000 / INCH_MM, "mil"),
    "um": (1 / INCH_MM, "mil"),
    "mm2": (1 / INCH_MM**2, "in²"),
    "mm3": (1e9 / INCH_MM**3, "mil³"),
}


def shown(figure: Figure, units: Units) -> Figure:
    """The figure with its lengths in the wanted unit.

    >>> figure = Figure("gap", "gap", 0.254, "mm", 0.254, 0.508)
    >>> shown(figure, "mil").text() == "10 (10…20)\\u2009mil"
    True
    """
    if units == "mm" or figure.unit not in _TO_MIL:
        return figure
    factor, unit = _TO_MIL[figure.unit]
    scaled = {
        name: None if value is None else value * factor
        for name, value in (
            ("value", figure.value),
            ("low", figure.low),
            ("high", figure.high),
            ("limit", figure.limit),
        )
    }
    return replace(figure, unit=unit, **scaled)  # type: ignore[arg-type]


def length_text(value: float, unit: Literal["mm", "um"], units: Units) -> str:
    """A length as it is shown.

    >>> length_text(100, "um", "mm") == "100\\u2009µm", length_text(100, "um", "mil") == "3.94\\u2009mil"
    (True, True)
    """
    if units == "mil":
        return f"{significant(value * _TO_MIL[unit][0])}\u2009mil"
    return f"{significant(value, 4)}\u2009{'µm' if unit == 'um' else 'mm'}"


def area_text(value_mm2: float, units: Units) -> str:
    """An area as it is shown."""
    if units == "mil":
        return f"{significant(value_mm2 * _TO_MIL['mm2'][0])}\u2009in²"
    return f"{significant(value_mm2)}\u2009mm²"
