"""[use] of the study file: the product's life."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from landwise.errors import InputError
from landwise.study.fields import (
    Acceleration,
    Density,
    Frequency,
    Stress,
    Table,
    Temperature,
    TemperatureSwing,
    Time,
    Voltage,
    default,
    require_number,
)


class CycleTable(Table):
    """One kind of temperature cycle of the product's life."""

    swing: TemperatureSwing = Field(description="peak to peak at the board")
    dwell: Time = Field(description="time at each end")
    per_year: float = Field(gt=0, description="cycles a year")
    top: Temperature = Field(description="highest temperature")
    rise: TemperatureSwing = Field(default=0.0, ge=0, description="what parts warm over the board in it, by own power")


class HoursTable(Table):
    """Hours of the product's life at one temperature."""

    temperature: Temperature = Field(description="of the junctions or of the air, as `hours_of` says; else of the air")
    hours: Time = Field(gt=0, description="in the whole life")


class OwnTestTable(Table):
    """A thermal-cycling test of your own: it narrows the lives of all parts of its kind."""

    package: str = Field(description="the outline that was tested")
    cycles: float = Field(gt=0, description="cycles at which failures were counted")
    samples: int = Field(gt=0, description="parts in the chamber")
    failures: int = Field(ge=0, description="of them, failed by then")
    low: Temperature = Field(description="cold end")
    high: Temperature = Field(description="hot end")
    dwell: Time = Field(default=600.0, description="time at each end")
    per_day: float = Field(default=36.0, gt=0, description="cycles a day")

    @model_validator(mode="after")
    def _makes_sense(self) -> OwnTestTable:
        """The ends are apart, and no more failed than were tested."""
        if self.high <= self.low:
            raise InputError("the hot end is no hotter than the cold one", place="tests", found=f"{self.high:g} °C")
        if self.failures > self.samples:
            raise InputError("more failures than samples", place="tests", found=f"{self.failures} of {self.samples}")
        return self


class Use(Table):
    """The product's life."""

    environment: str = default(
        "consumer",
        "a row of the guideline's table of use environments, such as consumer, telecom, industrial, under-hood",
        "the mildest place most products live in",
        "use-table-memory",
    )
    cycles: list[CycleTable] = default([], "your own temperature cycles instead of that row's", "from the environment")
    years: float | None = default(None, "years wanted", "from the environment")
    failures: float | None = default(
        None, "share of products whose part may have failed by then", "from the environment"
    )
    tests: list[OwnTestTable] = default(
        [], "thermal-cycling tests of your own", "none unless stated; a test of your own outweighs every formula"
    )
    profile: str = default(
        "",
        "hours at temperatures, by name: maker-automotive, maker-industrial, engine-compartment, cabin",
        "none unless stated; a grade is a limit of the air, no profile",
        "mission-memory",
    )
    hours: list[HoursTable] = default(
        [], "your own hours at temperatures in the place of a profile", "none unless stated"
    )
    hours_of: Literal["junction", "air"] = default(
        "junction",
        "whose temperature your own hours are: with air each package adds its own rise",
        "as makers list them",
    )
    off: list[HoursTable] = default(
        [],
        "hours without power in service, at each temperature of the air, in the whole life",
        "none unless stated",
    )
    stored: list[HoursTable] = default(
        [], "hours on the shelf after assembly, at each temperature of the air", "none unless stated"
    )
    switched: float | None = default(
        None,
        "how often a year the product is switched on and off: its own heat then makes cycles",
        "not stated: its own heat makes none",
    )
    sealed: float | None = default(None, "months that parts lie in their sealed bags before assembly", "not stated")
    open_days: float | None = default(None, "days that they lie out of them", "not stated")
    retested: bool = default(False, "are they tested for solderability (J-STD-002) after that", "most lots are not")
    fatigue: list[str] = default(
        [],
        "sets of solder constants: the first gives the life, all together its interval",
        "tin-lead's, advised by their author for lead-free too, and the published tin-silver row",
        "engelmaier-sac-advice",
    )
    grade: Literal["", "commercial", "industrial", "automotive-3", "automotive-2", "automotive-1", "automotive-0"] = (
        default("", "temperature grade to be qualified for", "none unless stated")
    )
    underfill: bool = default(False, "are the gaps under grids filled", "logic seldom is")
    potting: bool = default(False, "is the board cast in", "most boards are not")
    mirrored: bool = default(False, "do like parts sit back to back on both sides", "parts on both sides seldom match")
    voids: float = default(
        0.0, "largest share of a joint's section that voids take", "none counted; X-ray of your joints tells"
    )
    finish: str = default(
        "",
        "finish of terminals, for whiskers: matte tin, matte tin on nickel, nickel-palladium-gold, tin-lead, …",
        "its maker's to say",
    )
    product_class: Literal["1A", "1", "2", "3"] = default(
        "1",
        "class of product for whiskers: 1A short-lived consumer, 1 industrial, 2 business-critical, 3 life-critical",
        "what most electronics are",
        "jesd201-memory",
    )
    gas: Literal["", "G1", "G2", "G3", "GX"] = default(
        "", "gas class of its air, from coupons", "not known until coupons tell it", "isa-71-04-memory"
    )
    reworks: int = default(0, "how often a part at its place is taken off and put on", "none planned")
    handling: float | None = default(
        None, "board strain at the parts where panels are parted and boards screwed down, in µε", "not measured"
    )
    land_bond: Stress | None = default(
        None, "tensile bond of lands to your laminate, from pull tests", "no trustworthy figure was found"
    )
    voltage: Voltage = default(5.0, "highest voltage between neighbouring terminals", "logic supplies end at 5 V")
    ambient: Temperature = default(
        60.0,
        "air around the board",
        "the upper end of the consumer environment in the guidelines' table",
        "use-table-memory",
    )
    junction_limit: Temperature = default(
        125.0, "highest junction temperature", "the usual limit of plastic logic", "junction-limit-memory"
    )
    random: list[tuple[Frequency, Density]] = default(
        [], "corners of a random vibration level; one corner is a flat level", "a board at rest unless stated"
    )
    sine: Acceleration | None = default(
        None, "sine level at the board's own frequencies", "a board at rest unless stated"
    )
    vibrated: Time | None = default(
        None, "how long the vibration lasts in the whole life", "must be stated with a level"
    )
    shock: Acceleration | None = default(None, "peak of a half-sine shock", "no shock unless stated")
    shock_shape: Literal["half-sine", "sawtooth", "trapezoid"] = default(
        "half-sine", "shape of that shock", "the usual one"
    )
    shock_pulse: list[tuple[Time, Acceleration]] = default(
        [], "a shock as it was measured, in the place of those three: time and acceleration", "none unless stated"
    )
    shock_time: Time = default(
        0.011, "length of the shock", "the usual pulse for equipment (recalled)", "shock-pulse-memory"
    )
    air: Literal["dry", "humid", "wet"] = default(
        "dry", "air at the board: dry, humid (damp, no water), wet (condensation or splash)", "indoors"
    )
    coat: Literal["none", "acrylic", "epoxy", "urethane", "silicone", "vapour"] = default(
        "none", "conformal coat", "most boards have none"
    )

    @model_validator(mode="after")
    def _makes_sense(self) -> Use:
        """Levels and times are positive where they are stated."""
        for name in ("sine", "vibrated", "shock", "shock_time"):
            require_number(self, name, zero=False)
        require_number(self, "switched", zero=True)
        if self.hours and self.profile:
            raise InputError("hours are stated twice", place="hours", found="profile and hours", expected="one of them")
        for name in ("reworks", "handling", "sealed", "open_days"):
            require_number(self, name, zero=True)
        if not 0 <= self.voids < 1:
            raise InputError("no share of voids", place="voids", found=f"{self.voids:g}", expected="0 to below 1")
        return self
