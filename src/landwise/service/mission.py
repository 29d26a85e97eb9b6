"""A mission as users have it: hours at temperatures, cycles by swing and dwell, own heat, storage; presets with marks.

Joints see the cycles (`environment_of_mission`), the die sees the hours (`device`). What was assumed is named, and
what contradicts itself is asked about.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError, UnknownNameError
from landwise.service.environments import ENVIRONMENTS, HOURS_A_YEAR, Cycles, Environment

Where = Literal["junction", "ambient"]
MINER_LIMITS = (0.5, 2.0)  # sums of damage at which parts have failed under mixed cycles (recalled)
MINER_SOURCE = "miner-memory"
LEAST_SWING_K = 0.1
LONGEST_DWELL_MIN = 720.0  # the longest of the guidelines' table


@dataclass(frozen=True)
class Mission:
    """One product's life.

    Parameters
    ----------
    name, source : str
        Its key, and the key of its source.
    hours : float
        Powered, in the whole life. [h]
    histogram : tuple of (temperature, share)
        Where those hours pass; shares sum to one. [°C]
    where : {"junction", "ambient"}
        Whose temperature that is.
    cycles : tuple of Cycles
        Empty where the source has none: joints then take those of the environment beside it.
    stored, off : tuple of (temperature, hours)
        On a shelf before, and unpowered in service. [°C, h]
    """

    name: str
    source: str
    hours: float
    histogram: tuple[tuple[float, float], ...]
    where: Where
    cycles: tuple[Cycles, ...] = ()
    stored: tuple[tuple[float, float], ...] = ()
    off: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if self.hours <= 0 or any(hours < 0 for _, hours in (*self.stored, *self.off)):
            raise InputError("hours must be positive", place=self.name, found=f"{self.hours:g} h")
        shares = [share for _, share in self.histogram]
        if not shares or min(shares) < 0 or abs(sum(shares) - 1) > 1e-6:
            raise InputError(
                "shares of a histogram must sum to one", place=self.name, found=f"{sum(shares):g}", expected="1"
            )

    @property
    def off_h(self) -> float:
        """Unpowered in service. [h]"""
        return sum(hours for _, hours in self.off)

    @property
    def storage_h(self) -> float:
        """On a shelf before service. [h]"""
        return sum(hours for _, hours in self.stored)

    @property
    def mean_c(self) -> float:
        """Mean temperature. [°C]"""
        return sum(temperature * share for temperature, share in self.histogram)

    @property
    def hottest_c(self) -> float:
        """Highest temperature with any hours. [°C]"""
        return max(temperature for temperature, share in self.histogram if share > 0)

    def at_junction(self, rise_k: float) -> Mission:
        """The same with the part's own rise added where the histogram is of the air.

        >>> mission("cabin").at_junction(10.0).hottest_c, mission("maker-automotive").at_junction(10.0).hottest_c
        (90.0, 125)
        """
        if rise_k < 0:
            raise InputError("a part can't cool itself", found=f"{rise_k:g} K")
        if self.where == "junction":
            return self
        warmer = tuple((temperature + rise_k, share) for temperature, share in self.histogram)
        return replace(self, where="junction", histogram=warmer)


def _parts(*rows: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    return tuple((temperature, per_cent / 100) for temperature, per_cent in rows)


MISSIONS: Mapping[str, Mission] = MappingProxyType(
    {
        row.name: row
        for row in (
            Mission(
                "maker-automotive",
                "mission-maker-automotive",
                20_000,
                _parts((-40, 6), (70, 25), (85, 25), (100, 25), (115, 14), (125, 5)),
                "junction",
            ),
            Mission(
                "maker-industrial",
                "mission-maker-industrial",
                60_000,
                _parts((50, 25), (70, 25), (100, 25), (125, 25)),
                "junction",
            ),
            Mission(
                "engine-compartment",
                "mission-memory",
                8_000,
                _parts((-40, 6), (23, 20), (85, 65), (115, 8), (120, 1)),
                "ambient",
            ),
            Mission(
                "cabin", "mission-memory", 8_000, _parts((-40, 6), (23, 20), (40, 65), (75, 8), (80, 1)), "ambient"
            ),
            Mission("automotive-average", "aec-appendix-7-memory", 12_000, ((87.0, 1.0),), "junction"),
        )
    }
)


def mission(name: str) -> Mission:
    """A preset by name.

    Raises
    ------
    UnknownNameError

    Examples
    --------
    >>> mission("maker-automotive").mean_c
    83.7
    """
    if name not in MISSIONS:
        raise UnknownNameError("no such mission", found=name, expected=" | ".join(MISSIONS))
    return MISSIONS[name]


@dataclass(frozen=True)
class OwnHeat:
    """What a part warms when it is switched on.

    Parameters
    ----------
    board_k : float
        Of the board under it, by all that is switched with it. [K]
    over_k : float
        Of the part over that board. [K]
    per_year : float
        How often a year.
    factor : float
        90 % of such rises lie within this factor, either way. [-]
    """

    board_k: float
    over_k: float
    per_year: float
    factor: float = 1.0

    def cycle(self, air_c: float) -> Cycles:
        """The cycle that its joints see, from air of so many degrees. [°C]

        Notes
        -----
        It dwells half the time between two switchings at either end, the mean of on and off, as the fatigue formula's
        half-cycle dwell; half a day at most, beyond which the formula gains nothing.

        >>> line = OwnHeat(10.0, 15.0, 2000.0).cycle(40.0)
        >>> line.swing_k, line.rise_k, round(line.dwell_min), line.top_c
        (10.0, 15.0, 131, 50.0)
        """
        if min(self.board_k, self.over_k) < 0 or not self.per_year > 0:
            raise InputError(
                "rises can't be negative, switching must be positive",
                found=f"{self.board_k:g} K, {self.over_k:g} K, {self.per_year:g} a year",
            )
        # A tenth of a kelvin keeps a cycle one where the board hardly moves: the part's rise then does the work.
        swing = max(self.board_k, LEAST_SWING_K)
        dwell = min(HOURS_A_YEAR * 60 / (2 * self.per_year), LONGEST_DWELL_MIN)
        return Cycles(swing, dwell, self.per_year, air_c + swing, self.over_k, own=True, heat_factor=self.factor)


def with_own_heat(place: Environment, heat: OwnHeat, air_c: float) -> Environment:
    """A place's cycles and those of a part's own heat: damage of all kinds adds (Miner).

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> more = with_own_heat(environment("consumer"), OwnHeat(10.0, 15.0, 2000.0), 40.0)
    >>> len(more.cycles), more.cycles[-1].own
    (2, True)
    """
    return replace(place, cycles=(*place.cycles, heat.cycle(air_c)))


def environment_of_mission(
    found: Mission, beside: Environment, rise_k: float = 0.0, per_year: float = 0.0
) -> Environment:
    """What a mission's joints see: its own cycles, and those that the part's own heat makes on top.

    Parameters
    ----------
    found : Mission
    beside : Environment
        Whose cycles are taken where the mission has none, and whose years and failures hold.
    rise_k, per_year : float
        The part's rise over its board when it is switched on [K], and how often a year.

    Notes
    -----
    The extra cycle is the part's own rise alone, with the board still: its whole expansion strains the joint
    (`with_own_heat` takes the board's rise too). Damage of all kinds adds (Miner); sums of 0.5 to 2 at failure are
    usual (recalled), order and healing are not in it.

    Examples
    --------
    >>> from landwise.service.environments import environment
    >>> more = environment_of_mission(mission("cabin"), environment("consumer"), rise_k=15.0, per_year=2000)
    >>> len(more.cycles), more.cycles[-1].rise_k
    (2, 15.0)
    """
    if rise_k < 0 or per_year < 0:
        raise InputError("rise and switching can't be negative", found=f"{rise_k:g} K, {per_year:g} a year")
    cycles = found.cycles or beside.cycles
    if rise_k > 0 and per_year > 0:
        cycles = (*cycles, OwnHeat(0.0, rise_k, per_year).cycle(beside.cycles[0].top_c))
    says = f"{found.name} beside {beside.name}" if not found.cycles else found.name
    return Environment(found.name, says, cycles, beside.years, beside.failures)


Question = Literal[
    "indoors-but-damp", "air-hotter-than-place", "grade-below-air", "hours-exceed-years", "junction-over-limit"
]
INDOORS = frozenset({"consumer", "computer"})


@dataclass(frozen=True)
class Stated:
    """What a study says of where its product lives; None for what it leaves open."""

    environment: str
    assumed: bool
    air: str = "dry"
    ambient_c: float | None = None
    grade_high_c: float | None = None
    junction_limit_c: float | None = None
    mission: Mission | None = None
    years: float | None = None


def contradictions(stated: Stated) -> tuple[Question, ...]:
    """What in a study's statements can't both be true: to be asked, never settled silently.

    Examples
    --------
    A greenhouse whose air is damp, kept as an indoor consumer product because nobody said otherwise:

    >>> contradictions(Stated("consumer", True, air="humid"))
    ('indoors-but-damp',)
    """
    if stated.environment not in ENVIRONMENTS:
        raise UnknownNameError("no such environment", found=stated.environment, expected=" | ".join(ENVIRONMENTS))
    row, found = ENVIRONMENTS[stated.environment], list[Question]()
    if stated.environment in INDOORS and stated.air != "dry":
        found.append("indoors-but-damp")
    top = PLACE_TOP_C[stated.environment]
    if stated.ambient_c is not None and stated.ambient_c > top + 1e-9:
        found.append("air-hotter-than-place")
    if stated.grade_high_c is not None and stated.ambient_c is not None and stated.ambient_c > stated.grade_high_c:
        found.append("grade-below-air")
    if stated.mission is not None:
        years = stated.years if stated.years is not None else row.years
        if stated.mission.hours + stated.mission.off_h > 1.02 * years * HOURS_A_YEAR:
            found.append("hours-exceed-years")
        if stated.junction_limit_c is not None and stated.mission.hottest_c > stated.junction_limit_c:
            found.append("junction-over-limit")
    return tuple(found)


# Hottest air of each place in the guidelines' table (recalled, as the table). [°C]
PLACE_TOP_C: Mapping[str, float] = MappingProxyType(
    {
        "consumer": 60.0,
        "computer": 60.0,
        "telecom": 85.0,
        "commercial-aircraft": 95.0,
        "industrial": 95.0,
        "military-ground": 95.0,
        "space-low-orbit": 95.0,
        "military-avionics": 95.0,
        "under-hood": 125.0,
    }
)
