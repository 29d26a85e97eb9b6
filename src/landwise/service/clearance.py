"""Spacing between conductors by voltage: the generic board-design standard's table.

Safety standards and local codes override this table. Circuits on mains, or whose failure can hurt someone,
want licensed practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError, ValidityError

SOURCE = "ipc-2221b-table-6-1"
# Upper end of each voltage row, DC or AC peak. [V]
VOLTAGES: tuple[float, ...] = (15, 30, 50, 100, 150, 170, 250, 300, 500)
# Least spacing by condition, one column a voltage row. [mm]
SPACING_MM: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "b1": (0.05, 0.05, 0.1, 0.1, 0.2, 0.2, 0.2, 0.2, 0.25),
        "b2": (0.1, 0.1, 0.6, 0.6, 0.6, 1.25, 1.25, 1.25, 2.5),
        "b3": (0.1, 0.1, 0.6, 1.5, 3.2, 3.2, 6.4, 12.5, 12.5),
        "b4": (0.05, 0.05, 0.13, 0.13, 0.4, 0.4, 0.4, 0.4, 0.8),
        "a5": (0.13, 0.13, 0.13, 0.13, 0.4, 0.4, 0.4, 0.4, 0.8),
        "a6": (0.13, 0.25, 0.4, 0.5, 0.8, 0.8, 0.8, 0.8, 1.5),
        "a7": (0.13, 0.13, 0.13, 0.13, 0.4, 0.4, 0.4, 0.8, 0.8),
    }
)
# Added per volt above 500 V. [mm/V]
PER_VOLT_MM: Mapping[str, float] = MappingProxyType(
    {"b1": 0.0025, "b2": 0.005, "b3": 0.025, "b4": 0.00305, "a5": 0.00305, "a6": 0.00305, "a7": 0.00305}
)
CONDITIONS: Mapping[str, str] = MappingProxyType(
    {
        "b1": "inner layers",
        "b2": "outer layers, bare, up to 3050 m",
        "b3": "outer layers, bare, above 3050 m",
        "b4": "outer layers under a permanent coating such as solder mask",
        "a5": "outer layers of a coated assembly",
        "a6": "leads and terminations, bare, up to 3050 m",
        "a7": "leads and terminations, coated",
    }
)
HIGHEST_V = 10_000.0  # beyond this, corona and creepage rule, not this table


def spacing(voltage_v: float, condition: str) -> float:
    """Least spacing for a voltage under a condition. [mm]

    Parameters
    ----------
    voltage_v : float
        DC or AC peak. [V]
    condition : str
        A key of `CONDITIONS`.

    Raises
    ------
    InputError
        Unknown condition.
    ValidityError
        Negative voltage, or above 10 kV.

    Notes
    -----
    Above 500 V the slope is added to the value of the 301–500 V row: B1 at 600 V is 0.25 + 100 × 0.0025 =
    0.50 mm. Some public tools multiply the slope by the whole voltage, which is wrong.

    Examples
    --------
    >>> spacing(5, "a6"), spacing(600, "b1")
    (0.13, 0.5)
    """
    if condition not in SPACING_MM:
        raise InputError("unknown condition", found=condition, expected=" | ".join(SPACING_MM))
    if not 0 <= voltage_v <= HIGHEST_V:
        raise ValidityError("no spacing is tabulated", found=f"{voltage_v:g} V", expected=f"0 to {HIGHEST_V:g} V peak")
    row = SPACING_MM[condition]
    for limit, value in zip(VOLTAGES, row, strict=True):
        if voltage_v <= limit:
            return value
    return round(row[-1] + (voltage_v - VOLTAGES[-1]) * PER_VOLT_MM[condition], 9)


HAZARD_V = 42.4  # peak voltage above which touch can hurt; lower where people are wet (recalled)
HAZARD_SOURCE = "touch-voltage-memory"
STANDARDS = "IEC 62368-1, IEC 60664-1 and local codes"


@dataclass(frozen=True)
class SpacingFinding:
    """A gap held against the table for everything that faces across it.

    Parameters
    ----------
    gap_mm, voltage_v : float
    leads_mm, copper_mm : float
        Least spacing of leads (A6, coated A7) and of outer copper (B2 or B3, coated A5). [mm]
    verdict : {"holds", "marginal", "fails"}
        Of the board-design table, which is no safety standard: it holds only where both rows do.
    hazardous : bool
        Whether the voltage can hurt: then this table decides nothing, whatever the verdict.
    """

    gap_mm: float
    voltage_v: float
    leads_mm: float
    copper_mm: float
    verdict: Literal["holds", "marginal", "fails"]
    hazardous: bool

    @property
    def wanted_mm(self) -> float:
        """The larger of both rows. [mm]"""
        return max(self.leads_mm, self.copper_mm)

    @property
    def short_mm(self) -> float:
        """How much the gap lacks of it, zero where it lacks nothing. [mm]"""
        return max(0.0, self.wanted_mm - self.gap_mm)


def judge_spacing(
    voltage_v: float, gap_mm: float, *, high_altitude: bool = False, coated: bool = False
) -> SpacingFinding:
    """Hold a gap between lands against the table's rows of leads and copper, bare or under a conformal coat.

    Parameters
    ----------
    voltage_v : float
        DC or AC peak across the gap. [V]
    gap_mm : float
        Between the nearest coppers. [mm]
    high_altitude : bool
        Above 3050 m, where the air between stands less; under a coat there is no air between.
    coated : bool
        Whether a conformal coat covers leads and lands (rows A7 and A5), which it can't under a body.

    Raises
    ------
    InputError, ValidityError
        A gap that isn't positive, a voltage outside the table.

    Notes
    -----
    Lands are bare copper or solder, so the row of copper under a mask doesn't apply. A safety standard asks
    for more at mains: basic insulation on a 230 V supply about 1.5 mm of clearance and 2.5 mm of creepage (recalled).

    Examples
    --------
    >>> found = judge_spacing(325, 0.2)
    >>> found.verdict, found.hazardous, found.wanted_mm, round(found.short_mm, 2)
    ('fails', True, 2.5, 2.3)
    >>> judge_spacing(5, 0.2).verdict
    'holds'
    >>> judge_spacing(48, 0.2).verdict, judge_spacing(48, 0.2, coated=True).verdict
    ('fails', 'holds')
    """
    if gap_mm <= 0:
        raise InputError("a gap must be positive", found=f"{gap_mm:g} mm")
    rows = ("a7", "a5") if coated else ("a6", "b3" if high_altitude else "b2")
    leads, copper = (spacing(voltage_v, row) for row in rows)
    least, most = min(leads, copper), max(leads, copper)
    verdict: Literal["holds", "marginal", "fails"] = (
        "holds" if gap_mm >= most - 1e-9 else "marginal" if gap_mm >= least - 1e-9 else "fails"
    )
    return SpacingFinding(gap_mm, voltage_v, leads, copper, verdict, voltage_v > HAZARD_V)
