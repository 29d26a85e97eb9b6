"""Lengths in millimetres or in mils, as the person at the screen wants them; nothing else changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from landwise.evidence.figures import Figure, text_of
from landwise.quantities import INCH_MM, significant

Units = Literal["mm", "mil"]
UNITS: tuple[Units, ...] = ("mm", "mil")
_TO_MIL = {
    "mm": (1000 / INCH_MM, "mil"),
    "um": (1 / INCH_MM, "mil"),
    "mm2": (1 / INCH_MM**2, "in²"),
    "mm3": (1e9 / INCH_MM**3, "mil³"),
}


@dataclass(frozen=True)
class Shown:
    """The numbers of a figure in the unit in which they are shown."""

    value: float | None
    low: float | None
    high: float | None
    limit: float | None
    margin: float | None
    unit: str

    def text(self, unit: str | None = None) -> str:
        """The value with its interval; in another unit's words where one is named."""
        return text_of(self.value, self.unit if unit is None else unit, self.low, self.high)


def shown(figure: Figure, units: Units) -> Shown:
    """The figure's numbers, lengths in the wanted unit.

    >>> from landwise.evidence.figures import figure
    >>> from landwise.evidence.trails import drawn, taken
    >>> gap = taken("gap", drawn((0.254, 0.254, 0.508), "a drawing", ("landwise-rule",), "mm"))
    >>> shown(figure(gap, key="gap", title="gap"), "mil").text() == "10 (10…20)\u2009mil"
    True
    """
    same = (1.0, figure.unit)
    factor, unit = same if units == "mm" else _TO_MIL.get(figure.unit, same)

    def scaled(number: float | None) -> float | None:
        return None if number is None else number * factor

    return Shown(
        value=scaled(figure.value),
        low=scaled(figure.low),
        high=scaled(figure.high),
        limit=scaled(figure.limit),
        margin=scaled(figure.margin),
        unit=unit,
    )


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
