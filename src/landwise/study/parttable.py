"""[[part]] of the study file: one part number with its places, and the packages in which it is offered."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from landwise.study.fields import Capacitance, Frequency, Length, Power, Table, Voltage, require_number


class OptionTable(Table):
    """A package in which a part is offered."""

    outline: str
    price: float | None = Field(default=None, ge=0)
    prices: dict[str, float] = Field(default_factory=dict)
    price_spread: float | None = Field(
        default=None, ge=0, lt=1, description="how far the price may move, as a share of it; else costs.price_spread"
    )
    sources: int | None = Field(default=None, ge=0, description="makers that offer it")
    lead_weeks: float | None = Field(default=None, ge=0, description="lead time, weeks")


class PartTable(Table):
    """One part number and every place on the board where it sits."""

    refs: list[str] = Field(min_length=1)
    number: str = ""
    family: str = ""
    function: str = ""
    terminals: int | None = Field(default=None, gt=0, le=2000)
    package: str = Field(default="", description="the outline in use today")
    options: Literal["any"] | list[OptionTable] = "any"
    price: float | None = Field(default=None, ge=0, description="price of the part in use today")
    also_bought: int = Field(
        default=0, ge=0, description="pieces of it that other products buy with it: price breaks count them too"
    )
    locked: bool = Field(default=False, description="keep the package in use, judge it only")
    socketed: bool = Field(
        default=False,
        description="it stands in a socket today: another package is asked about, as it can't be exchanged",
    )
    group: str = Field(default="", description="parts of one group come in the same outline")
    gates: int | None = Field(
        default=None, gt=0, le=64, description="gates, or bits, of one place that are used; all unless stated"
    )
    timing: str = Field(
        default="", description="parts whose gates must match in delay: never split, joined only with each other"
    )
    apart: list[str] = Field(default_factory=list, description="references that it must not share a package with")
    alternates: list[str] = Field(default_factory=list, description="only these outlines, if any are named")
    moisture_level: Literal["", "1", "2", "2a", "3", "4", "5", "5a", "6"] = Field(
        default="", description="moisture sensitivity level printed on the bag"
    )
    at: dict[str, tuple[Length, Length]] = Field(
        default_factory=dict, description="where references sit, from the board's lower left corner"
    )
    supply: Voltage | None = Field(default=None, description="its supply; the family's own where not stated")
    power: Power | None = Field(default=None, ge=0, description="what it dissipates, if known as a whole")
    frequency: Frequency | None = Field(default=None, ge=0, description="how often its outputs switch")
    outputs: int | None = Field(default=None, gt=0, description="outputs that switch together; read from the function")
    load: Capacitance = Field(default=50.0, gt=0, description="load of one output; 50 pF is the usual test load")
    cpd: Capacitance | None = Field(default=None, ge=0, description="power-dissipation capacitance of one output")
    ground: list[str] = Field(default_factory=list, description="its ground terminals; the usual ones where not stated")
    switched: float | None = Field(
        default=None, description="how often a year its own load comes and goes; else as the product is switched"
    )
    thermal_vias: int = Field(default=0, ge=0, le=400, description="plated holes under its exposed pad")
    hbm: Voltage | None = Field(default=None, description="human-body withstand voltage from its data sheet")
    cdm: Voltage | None = Field(default=None, description="charged-device withstand voltage from its data sheet")
    latch_up: float | None = Field(default=None, ge=0, description="latch-up current from its data sheet, mA")
    fitted: bool = True
    guesses: list[str] = Field(default_factory=list, description="what was guessed, and why")

    @model_validator(mode="after")
    def _makes_sense(self) -> PartTable:
        """Its supply is positive where it is stated, its switching not negative."""
        require_number(self, "supply", zero=False)
        require_number(self, "switched", zero=True)
        return self
