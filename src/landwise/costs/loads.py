"""What a board pays for, as products of rates: the one form in which money is counted, shown, drawn and flipped.

A load is so many units of a product of rates, such as 0.012 expected defects × the rework rate, or one feeder ÷ the
boards of the run. Money is the sum over loads; since each rate acts to the first power, the mean of the money over
independent draws of the rates is the money at their means.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from landwise.costs.rates import Rate

RUN = "run"  # boards to be built: a load of power -1 is spread over them


class Line(StrEnum):
    """The lines of a cost, by key; words for them stand with the pages."""

    PART = "part"
    ATTRITION = "attrition"
    AREA = "area"
    PANEL = "panel"
    PLACEMENT = "placement"
    INSERTION = "insertion"
    HOLES = "holes"
    OPTICAL = "optical"
    SIDE_VIEW = "side-view"
    XRAY = "x-ray"
    PASTE = "paste-inspection"
    IN_CIRCUIT = "in-circuit"
    REWORK = "rework"
    REWORK_HIDDEN = "rework-hidden"
    LATE = "late"
    REPRINT = "reprint"
    SCRAP = "scrap"
    ESCAPES = "escapes"
    FIELD = "field-failures"
    STEP = "stepped-foil"
    BETTER_FOIL = "better-foil"
    POWDER = "finer-powder"
    OUTLINE = "outline"
    FEEDER = "feeder"
    CHANGE = "change"
    SECOND_PROCESS = "second-process"
    PRINTING = "printing"
    SECOND_SIDE = "second-side"
    DECOUPLING = "decoupling"
    TIE_OFF = "tie-off"
    TRACKS = "tracks"


TITLES: Mapping[Line, str] = MappingProxyType(
    {
        Line.PART: "part",
        Line.ATTRITION: "parts lost",
        Line.AREA: "board area",
        Line.PANEL: "board, by the panel",
        Line.PLACEMENT: "placement",
        Line.INSERTION: "insertion",
        Line.HOLES: "holes",
        Line.OPTICAL: "optical inspection",
        Line.SIDE_VIEW: "side view",
        Line.XRAY: "X-ray",
        Line.PASTE: "paste inspection",
        Line.IN_CIRCUIT: "electrical test of every net",
        Line.REWORK: "rework",
        Line.REWORK_HIDDEN: "rework under bodies",
        Line.LATE: "defects found at test",
        Line.REPRINT: "prints washed off",
        Line.SCRAP: "boards scrapped",
        Line.ESCAPES: "defects that reach the customer",
        Line.FIELD: "joints that fail in the field",
        Line.STEP: "stepped foil",
        Line.BETTER_FOIL: "better foil",
        Line.POWDER: "finer powder",
        Line.OUTLINE: "another outline",
        Line.FEEDER: "feeder set-up",
        Line.CHANGE: "change of package",
        Line.SECOND_PROCESS: "second soldering process",
        Line.PRINTING: "a print for these parts alone",
        Line.SECOND_SIDE: "second side",
        Line.DECOUPLING: "decoupling capacitors",
        Line.TIE_OFF: "unused gates tied off",
        Line.TRACKS: "longer tracks",
    }
)


@dataclass(frozen=True)
class Load:
    """So many units of a product of rates.

    Parameters
    ----------
    line : Line
        The line of the cost it belongs to.
    rates : tuple of str
        Names of the rates that multiply it.
    units : float
        How many, per board.
    per_run : bool
        Whether it is paid once a run, so that the run divides it.
    """

    line: Line
    rates: tuple[str, ...]
    units: float
    per_run: bool = False

    def money(self, rates: Mapping[str, Rate], run: int) -> float:
        """What it costs per board at the rates' own values.

        >>> from landwise.costs.rates import default_rates
        >>> Load(Line.OUTLINE, ("outline",), 1.0, per_run=True).money(default_rates(), 1000)
        0.06
        """
        return self.units * math.prod(rates[name].value for name in self.rates) / (run if self.per_run else 1)

    def range(self, rates: Mapping[str, Rate], run: int) -> tuple[float, float]:
        """What it costs with all its rates at their low ends, and at their high ends."""
        share = self.units / (run if self.per_run else 1)
        low = share * math.prod(rates[name].low for name in self.rates)
        high = share * math.prod(rates[name].high for name in self.rates)
        return low, high

    def times(self, count: float) -> Load:
        """The same load so many times."""
        return Load(self.line, self.rates, self.units * count, self.per_run)


def money(loads: Iterable[Load], rates: Mapping[str, Rate], run: int) -> float:
    """What loads cost per board at the rates' own values."""
    return sum(load.money(rates, run) for load in loads)
