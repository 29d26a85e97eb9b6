"""From field to test: how many cycles of a chamber stand for the product's life, by several published constants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import LandwiseError
from landwise.service.environments import Cycles, Environment
from landwise.service.thermal_cycling import Repeated, acceleration_factor

DAYS_A_YEAR = 365.25
# Sets that are no default are those whose numbers are recalled with low confidence.
DEFAULT_SETS = ("snpb", "csp-2007", "sac-2005-recalled")
USUAL_CYCLES = 1000  # the middle of the usual requirements
SOURCES = ("norris-landzberg-pch", "yang-csp", "pan-2005-memory", "smt007-tc-profile")


@dataclass(frozen=True)
class Chamber:
    """A thermal-cycling test: ends [°C], dwell [min] and cycles a day."""

    low_c: float
    high_c: float
    dwell_min: float
    per_day: float

    @property
    def swing_k(self) -> float:
        """Peak to peak. [K]"""
        return self.high_c - self.low_c

    @property
    def as_environment(self) -> Environment:
        """A year in the chamber, to the first of a hundred."""
        line = Cycles(self.swing_k, self.dwell_min, self.per_day * DAYS_A_YEAR, self.high_c)
        return Environment("chamber", f"{self.low_c:g}/{self.high_c:g} °C", (line,), 1.0, 0.01)


USUAL_TEST = Chamber(0.0, 100.0, 10.0, 36.0)  # 10 min ramps and dwells


@dataclass(frozen=True)
class ChamberCycles:
    """Cycles by each set that covers the case, and the reasons of those that don't."""

    by_set: Mapping[str, float]
    left_out: Mapping[str, str]


def chamber_cycles(
    place: Environment, chamber: Chamber = USUAL_TEST, sets: tuple[str, ...] = DEFAULT_SETS
) -> ChamberCycles:
    """Chamber cycles that do the damage of the years wanted.

    Parameters
    ----------
    place : Environment
        Its cycles of all years are converted one kind at a time and added.
    chamber : Chamber
    sets : tuple of str
        Keys of `thermal_cycling.ACCELERATION_SETS`.

    Notes
    -----
    How often a cycle comes is that of the cycle itself, one in two dwells, not the year's average: a car that is driven
    little does not cycle slowly. A set that does not cover a cycle of the environment is left out with its reason, not
    stretched. What is left differs by several times: that spread is the honest interval.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> found = chamber_cycles(environment("industrial"))
    >>> sorted(found.by_set), sorted(found.left_out)
    (['sac-2005-recalled', 'snpb'], ['csp-2007'])
    """
    found: dict[str, float] = {}
    left: dict[str, str] = {}
    test = Repeated(chamber.swing_k, chamber.per_day / 86400, chamber.high_c, chamber.dwell_min)
    for name in sets:
        total = 0.0
        try:
            for line in place.cycles:
                field = Repeated(line.swing_k, 1 / (2 * line.dwell_min * 60), line.top_c, line.dwell_min)
                factor = acceleration_factor(field, test, name)
                total += place.years * line.per_year / factor
        except LandwiseError as reason:
            left[name] = f"{reason.message} ({reason.place}: {reason.found})" if reason.place else reason.message
            continue
        found[name] = total
    return ChamberCycles(MappingProxyType(found), MappingProxyType(left))


@dataclass(frozen=True)
class Wanted:
    """Test cycles to be held: the larger of the usual requirement and what the field life is worth.

    Parameters
    ----------
    cycles : float
    by : str
        "usual", or the set of constants whose worth decides.
    worth : mapping
        Cycles by each set that covers the field; recalled sets are shown and decide only where no other covers it.
    """

    cycles: float
    by: str
    worth: Mapping[str, float]


def cycles_wanted(place: Environment, chamber: Chamber = USUAL_TEST, usual: float = USUAL_CYCLES) -> Wanted:
    """How many cycles of a chamber a part has to stand for this place and these years.

    Examples
    --------
    Under the hood a year is worth some 880 cycles of 0/100 °C, so five years ask for more than the usual thousand:

    >>> from landwise.service.environments import environment
    >>> found = cycles_wanted(environment("under-hood"))
    >>> round(found.cycles, -2), found.by
    (4400.0, 'snpb')
    >>> cycles_wanted(environment("consumer")).by
    'usual'
    """
    found = chamber_cycles(place, chamber).by_set
    read = {name: worth for name, worth in found.items() if not name.endswith("-recalled")} or dict(found)
    if not read:
        return Wanted(float(usual), "usual", found)
    by = max(read, key=read.__getitem__)
    return Wanted(read[by], by, found) if read[by] > usual else Wanted(float(usual), "usual", found)
