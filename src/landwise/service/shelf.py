"""Before service: reflow passes, shelf time, flexure of the board, and the classes a data sheet states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError

MOST_PASSES = 3  # reflows of one part (read in a maker's data sheets, after J-STD-020)
BAG_MONTHS = 12.0  # least shelf life of a sealed bag from its sealing (J-STD-033)
OPEN_DAYS = 120.0  # within which leads that passed a solderability test are used (guidance after MIL-STD-2000)
DATE_CODE_MONTHS = 24.0  # beyond which buyers ask for a solderability test (common practice)
FLEX_MM, FLEX_SPAN_MM = 2.0, 90.0  # of the board-flex test of small parts (AEC-Q200-005, recalled)
SOURCES = ("three-passes", "bag-twelve-months", "open-120-days", "date-code-practice", "aec-q200-005-memory")


@dataclass(frozen=True)
class Passes:
    """Reflow passes a part sees, and how many are allowed."""

    seen: int
    allowed: int
    verdict: Literal["holds", "marginal", "fails"]


def passes(sides: int, reworks: int, second_of_two: bool = False) -> Passes:
    """Reflow passes of one part: the board's sides, and rework at its place, two each (off and on).

    Parameters
    ----------
    sides : int
        Sides that are printed; a part on the side that goes first sees both.
    reworks : int
        How often a neighbour or it is taken off and put on.
    second_of_two : bool
        Whether it sits on the side that goes last.

    Examples
    --------
    >>> passes(1, 1).verdict, passes(2, 1).verdict, passes(1, 0).seen
    ('marginal', 'fails', 1)
    """
    if sides not in (1, 2) or reworks < 0:
        raise InputError("a board has one or two sides, reworks aren't negative", found=f"{sides}, {reworks}")
    seen = (1 if sides == 1 or second_of_two else 2) + 2 * reworks
    verdict: Literal["holds", "marginal", "fails"] = (
        "holds" if seen < MOST_PASSES else "marginal" if seen == MOST_PASSES else "fails"
    )
    return Passes(seen, MOST_PASSES, verdict)


def storage(
    sealed_months: float, open_days: float, retested: bool = False
) -> Literal["holds", "marginal", "not known"]:
    """Whether terminals are sure to take solder after a shelf.

    Parameters
    ----------
    sealed_months, open_days : float
        In the sealed bag, and out of it.
    retested : bool
        Whether a solderability test (J-STD-002) was passed since.

    Notes
    -----
    No standard gives a shelf life of terminals: what lies beyond the guidance is *not known*, and a test shows it.

    Examples
    --------
    >>> storage(6, 10), storage(20, 10), storage(30, 10), storage(30, 10, retested=True)
    ('holds', 'marginal', 'not known', 'holds')
    """
    if min(sealed_months, open_days) < 0:
        raise InputError("times can't be negative", found=f"{sealed_months:g} months, {open_days:g} days")
    if open_days > OPEN_DAYS:
        return "not known"
    if retested or sealed_months <= BAG_MONTHS:
        return "holds"
    return "marginal" if sealed_months <= DATE_CODE_MONTHS else "not known"


def flex_strain(deflection_mm: float, span_mm: float, thickness_mm: float) -> float:
    """Surface strain of a board bent in three points, 6·t·δ/L². [-]

    The usual flex test of small parts, 2 mm over 90 mm on 1.6 mm:

    >>> print(f"{flex_strain(2.0, 90.0, 1.6) * 1e6:.0f}")
    2370
    """
    if min(deflection_mm, span_mm, thickness_mm) <= 0:
        raise InputError("deflection, span and thickness must be positive")
    return 6 * thickness_mm * deflection_mm / span_mm**2


# Electrostatic classes: least withstand voltage of each, human body (JS-001) and charged device (JS-002), recalled. [V]
HBM_CLASSES: Mapping[str, float] = MappingProxyType(
    {"0Z": 0, "0A": 50, "0B": 125, "1A": 250, "1B": 500, "1C": 1000, "2": 2000, "3A": 4000, "3B": 8000}
)
CDM_CLASSES: Mapping[str, float] = MappingProxyType(
    {"C0a": 0, "C0b": 125, "C1": 250, "C2a": 500, "C2b": 750, "C3": 1000}
)
HANDLING_HBM_V, HANDLING_CDM_V = 500.0, 250.0  # what areas with basic control of charge are run for (recalled)
ESD_SOURCES = ("esd-classes-memory",)


def esd_class(volts: float, kind: Literal["hbm", "cdm"]) -> str:
    """Class of a withstand voltage from a data sheet.

    >>> esd_class(2000, "hbm"), esd_class(1000, "cdm"), esd_class(249, "hbm")
    ('2', 'C3', '0B')
    """
    if volts < 0:
        raise InputError("a voltage can't be negative", found=f"{volts:g} V")
    table = HBM_CLASSES if kind == "hbm" else CDM_CLASSES
    return max((name for name, least in table.items() if volts >= least), key=lambda name: table[name])


def esd_verdict(volts: float | None, kind: Literal["hbm", "cdm"]) -> Literal["holds", "marginal", "not known"]:
    """Whether a part can be handled where charge is controlled as usual; unknown where the sheet says nothing.

    >>> esd_verdict(2000, "hbm"), esd_verdict(200, "cdm"), esd_verdict(None, "hbm")
    ('holds', 'marginal', 'not known')
    """
    if volts is None:
        return "not known"
    least = HANDLING_HBM_V if kind == "hbm" else HANDLING_CDM_V
    return "holds" if volts >= least else "marginal"


def latch_up_verdict(level_ma: float | None, hot: bool | None) -> Literal["holds", "marginal", "not known"]:
    """Latch-up by JESD78 as a sheet states it: 100 mA at the highest temperature is level A of class II (recalled).

    >>> latch_up_verdict(100, True), latch_up_verdict(100, False), latch_up_verdict(None, None)
    ('holds', 'marginal', 'not known')
    """
    if level_ma is None or hot is None:
        return "not known"
    return "holds" if level_ma >= 100 and hot else "marginal"
