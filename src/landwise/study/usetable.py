"""[use] of the study file: the product's life."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

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
        return self
