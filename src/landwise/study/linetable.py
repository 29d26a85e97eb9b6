"""[line] of the study file: the assembler's line, as far as it differs from its preset."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from landwise.errors import InputError
from landwise.printing.model import Powder, Technology
from landwise.study.fields import Length, Table, Temperature, ThinLength, Time, default


class OwnRateTable(Table):
    """What a line counts on one family of packages, per million joints."""

    family: str
    bridge: float = Field(ge=0, le=1e6)
    open: float = Field(ge=0, le=1e6)
    least_pitch: Length = 0.0
    most_pitch: Length | None = None


class SpreadTable(Table):
    """How much paste you transfer and how far your deposits spread at one area ratio, as `calibrate` measured it."""

    area_ratio: float = Field(ge=0.3, le=100, description="of the openings measured")
    spread: list[float] = Field(
        min_length=3, max_length=3, description="standard deviation over mean: [low, value, high], a 90 % interval"
    )
    mean: list[float] | None = Field(
        default=None,
        min_length=3,
        max_length=3,
        description="mean transfer, share of the opening's volume: [low, value, high], a 90 % interval",
    )
    technology: Technology | None = Field(default=None, description="of the foil measured; the line's where not said")
    powder: Powder | None = Field(default=None, description="of the paste measured; the line's where not said")


class CountTable(Table):
    """Defects that your own line counted on one package: they narrow what is known of it, and of the line."""

    package: str = Field(description="the outline that was counted")
    kind: Literal["bridge", "open"] = Field(description="bridge or open")
    defects: int = Field(ge=0, description="how many")
    joints: int = Field(gt=0, description="of how many joints inspected")

    @model_validator(mode="after")
    def _makes_sense(self) -> CountTable:
        """No more defects than joints."""
        if self.defects > self.joints:
            raise InputError("more defects than joints", place="counts", found=f"{self.defects} of {self.joints}")
        return self


class LineTable(Table):
    """The assembler's line: a preset, and what differs from it."""

    preset: str = default("ordinary", "ordinary | fine | bench", "most boards go to such a line", "line-practice")
    foils: list[ThinLength] | None = default(None, "foils on hand", "from the preset")
    foil: ThinLength | None = default(
        None,
        "the foil that the board is printed with; stated, it binds",
        "one of the foils on hand, as the choice finds",
    )
    technology: str | None = default(None, "how apertures are made", "from the preset")
    powder: str | None = default(None, "powder type of the paste", "from the preset")
    reduction: ThinLength = default(
        0.0,
        "taken off every edge of a land for its aperture, where a maker prints none of its own",
        "makers' drawings print as large as the land; reductions are the assembler's habit",
        "ti-house-leadless",
    )
    print: Literal["designed", "as lands"] = default(
        "designed",
        "designed | as lands: openings that suit each package best on each foil, or as large as the lands;"
        " a stated reduction prints as the lands too",
        "nobody who prints fine parts takes openings as large as the lands; see docs/designed_print.md",
    )
    technologies: list[str] = default(
        [], "foil technologies to be had beside that one, for the whole board's choice", "only what the line uses"
    )
    powders: list[str] = default(
        [], "powder types to be had beside that one, for the whole board's choice", "only what the line uses"
    )
    most_step_zones: int = default(
        2, "step-down zones a foil may have, where steps are allowed", "each zone is a place where the blade skips"
    )
    steps_allowed: bool | None = default(None, "may the foil have step-down zones", "from the preset")
    least_pitch: Length | None = default(None, "finest pitch of rows", "from the preset")
    least_ball_pitch: Length | None = default(None, "finest pitch of grids", "from the preset")
    inspection: list[str] | None = default(
        None, 'what can be looked at: "optical", "side view", "x-ray", "paste"', "from the preset"
    )
    test: Literal["functional", "in-circuit", "none"] = default(
        "functional",
        "the test that every board goes through after assembly",
        "nearly every board is switched on once before it leaves (common practice, no source)",
        "control-memory",
    )
    drilled_parts: bool | None = default(None, "does the line solder drilled parts", "from the preset")
    drilled_soldering: Literal["process", "by hand"] | None = default(
        None, "how drilled parts are soldered: by a second process, set up once a run, or by hand", "from the preset"
    )
    exposure: Time = default(
        72 * 3600.0,
        "longest time between opening a bag and the last reflow",
        "a reel opened on Friday goes on on Monday (common practice, no source)",
        "bag-time-practice",
    )
    peak: Temperature = default(
        245.0,
        "hottest part's body in reflow",
        "lead-free joints want 235 °C and bodies differ by some 10 K (common practice, no source)",
        "reflow-peak-practice",
    )
    print_offset: Length | None = default(None, "what 99.7 % of prints stay within", "from the preset")
    placement_offset: Length | None = default(None, "what 99.7 % of placements stay within", "from the preset")
    scatter: dict[str, float | str | list[float | str]] = default(
        {},
        "your own terms of scatter, by name, each a value or [low, value, high]; see docs/assembly.md",
        "the shipped terms, each with its reason",
    )
    transfer: list[float] | None = default(
        None,
        "where your paste stands in the transfer band, [low, value, high] in standard deviations of the band;"
        " `landwise calibrate` finds it",
        "the middle of the band, as uncertain as the band is wide",
    )
    spread: list[SpreadTable] = default(
        [],
        "how far your deposits spread, by area ratio; `landwise calibrate` finds it",
        "the shipped spread, which also stands where none was measured near",
    )
    file: str | None = default(
        None,
        "a line file beside this file, as `landwise calibrate` writes it; what the study states stands before it",
        "no line file",
    )
    rates: list[OwnRateTable] = default(
        [], "rates your own line counts, by family, instead of the worked ones", "no house's rates are known to us"
    )
    counts: list[CountTable] = default(
        [],
        "defects your own line counted, by package: they narrow the worked rates, where `rates` stand in their place",
        "none unless stated; `landwise calibrate` writes them",
    )
    target: float = Field(
        default=100.0,
        gt=0,
        description="bridges and opens, each per million joints, that a process window keeps under",
        json_schema_extra={
            "reason": "half of the level a good assembler reported over all kinds of defect",
            "source": "dpmo-levels",
        },
    )
