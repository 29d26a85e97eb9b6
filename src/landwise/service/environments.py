"""Where a product lives: temperature cycles of a year, the years wanted, the share of failures accepted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError, UnknownNameError

SOURCE = "use-table-memory"
HOURS_A_YEAR = 8766.0


@dataclass(frozen=True)
class Cycles:
    """One kind of temperature cycle that comes many times a year.

    Parameters
    ----------
    swing_k : float
        Peak to peak at the board. [K]
    dwell_min : float
        Time at each end. [min]
    per_year : float
        Cycles a year.
    top_c : float
        Highest temperature of the cycle. [°C]
    rise_k : float
        What the part warms over the board in that cycle, by its own power. [K]
    own : bool
        Whether it comes of the part's own heat: such cycles run while the place's others do and take no hours of
        their own; swing and rise are then known within `heat_factor` only.
    heat_factor : float
        90 % of own swings and rises lie within this factor of what is stated, either way. [-]
    """

    swing_k: float
    dwell_min: float
    per_year: float
    top_c: float
    rise_k: float = 0.0
    own: bool = False
    heat_factor: float = 1.0

    def __post_init__(self) -> None:
        if not self.heat_factor >= 1:
            raise InputError("a factor of spread is one or more", found=f"{self.heat_factor:g}")
        if self.rise_k < 0:
            raise InputError("a part can't cool itself", found=f"{self.rise_k:g} K")
        if not (self.swing_k > 0 and self.dwell_min > 0 and self.per_year > 0):
            raise InputError(
                "swing, dwell and cycles a year must be positive",
                found=f"{self.swing_k:g} K, {self.dwell_min:g} min, {self.per_year:g} a year",
                about="swing",
            )

    @property
    def mean_c(self) -> float:
        """Middle of the cycle. [°C]"""
        return self.top_c - self.swing_k / 2


@dataclass(frozen=True)
class Environment:
    """A year's cycles, the years wanted, and the share of products that may have failed by then."""

    name: str
    says: str
    cycles: tuple[Cycles, ...]
    years: float
    failures: float

    def __post_init__(self) -> None:
        if not self.cycles:
            raise InputError("an environment needs cycles", place=self.name, about="environment")
        if not (self.years > 0 and 0 < self.failures < 1):
            raise InputError(
                "years must be positive, accepted failures between 0 and 1",
                place=self.name,
                found=f"{self.years:g} years, {self.failures:g}",
                about="years",
            )
        # Cycles of the place come one after another; those of the part's own heat run beside them.
        busy = max(
            sum(line.per_year * 2 * line.dwell_min / 60 for line in self.cycles if line.own is own)
            for own in (False, True)
        )
        # The table's rows of 12 h half cycles fill the year exactly; its sums run over by a few days.
        if busy > 1.05 * HOURS_A_YEAR:
            raise InputError(
                "a year has no room for so many cycles",
                place=self.name,
                found=f"{busy:.0f} h of dwells a year",
                expected=f"at most {HOURS_A_YEAR:.0f} h",
                about="environment",
            )


def _row(
    name: str,
    says: str,
    top_c: float,
    low_c: float,
    lines: Sequence[tuple[float, float, float]],
    years: float,
    failures: float,
) -> Environment:
    # The table prints the extremes of a place and the swing of one cycle; a cycle is set in the middle of the place.
    middle = (top_c + low_c) / 2
    cycles = tuple(Cycles(swing, dwell_h * 60, per_year, middle + swing / 2) for swing, dwell_h, per_year in lines)
    return Environment(name, says, cycles, years, failures)


# Upper ends of the years printed as ranges. Military avionics prints three kinds of cycle at 365 a year each, of
# which the middle one is taken; space in low orbit prints 3 to 100 K, of which 35 is taken.
ENVIRONMENTS: Mapping[str, Environment] = MappingProxyType(
    {
        row.name: row
        for row in (
            _row("consumer", "indoors, 0 to 60 °C", 60, 0, [(35, 12, 365)], 3, 0.01),
            _row("computer", "indoors, 15 to 60 °C", 60, 15, [(20, 2, 1460)], 5, 0.001),
            _row("telecom", "in street cabinets, −40 to 85 °C", 85, -40, [(35, 12, 365)], 20, 1e-4),
            _row("commercial-aircraft", "−55 to 95 °C", 95, -55, [(20, 12, 365)], 20, 1e-5),
            _row(
                "industrial",
                "industrial and car cabin, −55 to 95 °C",
                95,
                -55,
                [(20, 12, 185), (40, 12, 100), (60, 12, 60), (80, 12, 20)],
                10,
                0.001,
            ),
            _row(
                "military-ground", "ground and ship, −55 to 95 °C", 95, -55, [(40, 12, 100), (60, 12, 265)], 10, 0.001
            ),
            _row(
                "space-low-orbit",
                "−55 to 95 °C, one cycle an orbit of which 35 K is taken",
                95,
                -55,
                [(35, 0.5, 8760)],
                5,
                1e-5,
            ),
            _row("military-avionics", "−55 to 95 °C", 95, -55, [(60, 2, 365), (20, 1, 365)], 10, 1e-4),
            _row(
                "under-hood",
                "car, under the hood, −55 to 125 °C",
                125,
                -55,
                [(60, 1, 1000), (100, 1, 300), (140, 2, 40)],
                5,
                0.001,
            ),
        )
    }
)


def environment(name: str) -> Environment:
    """A row of the guideline's table, by name.

    Raises
    ------
    UnknownNameError

    Examples
    --------
    >>> row = environment("consumer")
    >>> row.cycles[0].swing_k, row.years, row.failures
    (35, 3, 0.01)
    """
    if name not in ENVIRONMENTS:
        raise UnknownNameError("no such environment", found=name, expected=" | ".join(ENVIRONMENTS))
    return ENVIRONMENTS[name]
