"""The study file: what a board, its line, its use and its wishes are. TOML, read once, checked whole.

Every quantity carries its unit (`"80 um"`); every field has a default with a reason, or is required. The
JSON Schema of this model ships as `landwise.schema.json` so that editors can check and complete.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, WithJsonSchema, model_validator

from landwise.errors import FileError, InputError, LandwiseError
from landwise.quantities import parse

FORMAT = 1
MICRON_MM = 0.001  # the placement check counts in whole micrometres
LARGEST_BOARD_MM = 2000.0  # larger than any board that is printed with paste
LARGEST_FILE_BYTES = 5_000_000  # a study of a thousand parts is below 500 kB


def _reader(dimension: str) -> BeforeValidator:
    return BeforeValidator(lambda text: parse(text, dimension))


def _text_schema(dimension: str, example: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "description": f"a {dimension} with its unit, such as {example}"})


Length = Annotated[float, _reader("length"), _text_schema("length", "0.5 mm")]
ThinLength = Annotated[float, _reader("thin length"), _text_schema("thickness", "80 um")]
AreaMm2 = Annotated[float, _reader("area"), _text_schema("area", "1200 mm2")]
Temperature = Annotated[float, _reader("temperature"), _text_schema("temperature", "85 degC")]
TemperatureSwing = Annotated[float, _reader("temperature difference"), _text_schema("temperature difference", "40 K")]
Time = Annotated[float, _reader("time"), _text_schema("time", "30 min")]
Expansion = Annotated[float, _reader("expansion"), _text_schema("thermal expansion", "15 ppm/K")]
Stress = Annotated[float, _reader("pressure"), _text_schema("stress", "40 MPa")]
Frequency = Annotated[float, _reader("frequency"), _text_schema("frequency", "10 MHz")]
Acceleration = Annotated[float, _reader("acceleration"), _text_schema("acceleration", "50 g")]
Density = Annotated[float, _reader("acceleration density"), _text_schema("acceleration density", "0.04 g2/Hz")]
Power = Annotated[float, _reader("power"), _text_schema("power", "20 mW")]
Capacitance = Annotated[float, _reader("capacitance"), _text_schema("capacitance", "50 pF")]
Mass = Annotated[float, _reader("mass"), _text_schema("mass", "40 g")]
Voltage = Annotated[float, _reader("voltage"), _text_schema("voltage", "3.3 V")]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


def _default(value: Any, says: str, reason: str, source: str = "landwise-rule") -> Any:
    """A field with a default that can be listed with its reason."""
    return Field(default=value, description=says, json_schema_extra={"reason": reason, "source": source})


class BoardClass(_Table):
    """A kind of board that can be bought: how fine, how many layers, at what price."""

    name: str
    layers: int = Field(default=2, gt=0)
    track: Length = 0.15
    space: Length = 0.15
    rate: float = Field(default=1.0, gt=0, description="its price per area, as a multiple of the board_area rate")


class BoardKeepout(_Table):
    """A rectangle of the board that no courtyard may enter: a screw, a connector, an antenna."""

    name: str = "keep-out"
    x: Length = Field(
        description="its left edge, from the board's left edge; the board's length runs from left to right"
    )
    y: Length = Field(description="its lower edge, from the board's lower edge")
    length: Length = Field(description="along the board's length")
    width: Length = Field(description="along the board's width")
    side: Literal["both", "top", "bottom"] = "both"


class Board(_Table):
    """The board."""

    name: str = _default("board", "what the board is called in reports", "only a label")
    length: Length | None = _default(None, "longer edge", "not needed while parts are judged one by one")
    width: Length | None = _default(None, "shorter edge", "not needed while parts are judged one by one")
    layers: int = _default(2, "copper layers", "the cheapest board that carries logic on both sides", "line-practice")
    track: Length = _default(
        0.15, "narrowest track", "what every board maker offers without extra charge", "line-practice"
    )
    space: Length = _default(0.15, "narrowest gap between copper", "as for the track", "line-practice")
    xray_anyway: bool = _default(
        False, "do other parts call for X-ray already", "unless the bill shows a part with hidden joints, nothing does"
    )
    sides: Literal[1, 2] = _default(1, "sides that carry these parts", "a second side means a second print")
    thickness: Length = _default(1.6, "board thickness", "the common board", "line-practice")
    copper: ThinLength = _default(35.0, "copper of each layer", "one ounce, the common board", "line-practice")
    copper_share: list[float] = _default(
        [],
        "share of connected copper on each layer from the top, for heat",
        "0.3 on outer layers, 0.8 on inner ones, 0.4 on both of two",
        "copper-share-practice",
    )
    modulus: Stress | None = _default(
        None,
        "Young's modulus in bending, for vibration",
        "2.0e6 psi for plain epoxy glass, 3.0e6 with planes; 10 to 30 GPa were measured",
        "board-material",
    )
    parts_mass: Mass | None = _default(
        None, "mass of all parts together", "half the bare board's, from a tenth to twice", "board-parts-practice"
    )
    edges: str = _default(
        "ffff", "how the edges are held, from the left clockwise: s supported, x fixed, f free", "held by screws only"
    )
    screws: list[tuple[Length, Length]] | None = _default(
        None, "screws, from the lower left corner", "four, 4 mm from the edges, where no edge is held"
    )
    other_power: Power = _default(0.0, "heat of everything that is not a part of this study", "none unless stated")
    expansion: Expansion | None = _default(
        None,
        "thermal expansion in the plane",
        "15 (12.5 to 18) ppm/K: a handbook's value for epoxy glass, and what was measured on boards",
        "mil-217-expansion",
    )
    edge_clearance: Length = _default(
        0.5,
        "distance courtyards keep from the board's edge, in the placement check",
        "what a routed edge asks; clamps and conveyors ask for several mm more",
        "line-practice",
    )
    keepouts: list[BoardKeepout] = _default(
        [], "rectangles that no courtyard may enter, in the placement check", "none unless stated"
    )
    reserved: AreaMm2 = _default(
        0.0,
        "area for all else on the board, over all its sides, in the placement check",
        "none unless stated: the check then takes the board to carry these parts only",
    )
    classes: list[BoardClass] = _default(
        [], "kinds of board to choose from, beside the one described here", "only the board as it is"
    )

    @model_validator(mode="after")
    def _makes_sense(self) -> Board:
        """The placement check's inputs agree with the board's size."""
        for name in ("edge_clearance", "reserved", "parts_mass", "other_power"):
            _require_number(self, name, zero=True)
        for name in ("thickness", "copper", "modulus"):
            _require_number(self, name, zero=False)
        for name, size in (("length", self.length), ("width", self.width)):
            if size is not None and not MICRON_MM <= size <= LARGEST_BOARD_MM:
                limits = f"more than 0, at most {LARGEST_BOARD_MM:g} mm"
                raise InputError("no size of a board", place=name, found=f"{size:g} mm", expected=limits)
        if self.length is None or self.width is None:
            if self.keepouts:
                wanted = "length and width of [board]"
                raise InputError("keep-outs need the board's size", place="keepouts", expected=wanted)
            return self
        if 2 * self.edge_clearance >= min(self.length, self.width):
            raise InputError(
                "the clearance from the edge leaves no board",
                place="edge_clearance",
                found=f"{self.edge_clearance:g} mm",
                expected=f"less than {min(self.length, self.width) / 2:g} mm",
            )
        for number, out in enumerate(self.keepouts, start=1):
            _require_on_board(out, f"keepouts, number {number} ({out.name})", self.length, self.width)
        return self


def _require_on_board(out: BoardKeepout, place: str, length: float, width: float) -> None:
    if min(out.length, out.width) < MICRON_MM:
        size = f"{out.length:g} by {out.width:g} mm"
        raise InputError("a keep-out needs a length and a width", place=place, found=size)
    right, top = out.x + out.length, out.y + out.width
    if min(out.x, out.y) < 0 or right > length + MICRON_MM / 2 or top > width + MICRON_MM / 2:
        raise InputError(
            "leaves the board",
            place=place,
            found=f"x {out.x:g} to {right:g} mm, y {out.y:g} to {top:g} mm",
            expected=f"within 0 to {length:g} mm and 0 to {width:g} mm",
        )


class OwnRateTable(_Table):
    """What a line counts on one family of packages, per million joints."""

    family: str
    bridge: float = Field(ge=0, le=1e6)
    open: float = Field(ge=0, le=1e6)
    least_pitch: Length = 0.0
    most_pitch: Length | None = None


def _require_number(table: _Table, name: str, *, zero: bool) -> None:
    """A stated number must be positive, or at least not negative where zero makes sense."""
    value = getattr(table, name)
    if value is not None and (value < 0 or (value == 0 and not zero)):
        says, expected = ("can't be negative", "0 or more") if zero else ("must be positive", "more than 0")
        raise InputError(says, place=name, found=f"{value:g}", expected=expected)


class LineTable(_Table):
    """The assembler's line: a preset, and what differs from it."""

    preset: str = _default("ordinary", "ordinary | fine | bench", "most boards go to such a line", "line-practice")
    foils: list[ThinLength] | None = _default(None, "foils on hand", "from the preset")
    foil: ThinLength | None = _default(
        None,
        "the foil that the board is printed with; stated, it binds",
        "one of the foils on hand, as the choice finds",
    )
    technology: str | None = _default(None, "how apertures are made", "from the preset")
    powder: str | None = _default(None, "powder type of the paste", "from the preset")
    reduction: ThinLength = _default(
        0.0,
        "taken off every edge of a land for its aperture, where a maker prints none of its own",
        "makers' drawings print as large as the land; reductions are the assembler's habit",
        "ti-house-leadless",
    )
    technologies: list[str] = _default(
        [], "foil technologies to be had beside that one, for the whole board's choice", "only what the line uses"
    )
    powders: list[str] = _default(
        [], "powder types to be had beside that one, for the whole board's choice", "only what the line uses"
    )
    most_step_zones: int = _default(
        2, "step-down zones a foil may have, where steps are allowed", "each zone is a place where the blade skips"
    )
    steps_allowed: bool | None = _default(None, "may the foil have step-down zones", "from the preset")
    least_pitch: Length | None = _default(None, "finest pitch of rows", "from the preset")
    least_ball_pitch: Length | None = _default(None, "finest pitch of grids", "from the preset")
    inspection: list[str] | None = _default(
        None, 'what can be looked at: "optical", "side view", "x-ray"', "from the preset"
    )
    drilled_parts: bool | None = _default(None, "does the line solder drilled parts", "from the preset")
    exposure: Time = _default(
        72 * 3600.0,
        "longest time between opening a bag and the last reflow",
        "a reel opened on Friday goes on on Monday (common practice, no source)",
        "bag-time-practice",
    )
    peak: Temperature = _default(
        245.0,
        "hottest part's body in reflow",
        "lead-free joints want 235 °C and bodies differ by some 10 K (common practice, no source)",
        "reflow-peak-practice",
    )
    print_offset: Length | None = _default(None, "what 99.7 % of prints stay within", "from the preset")
    placement_offset: Length | None = _default(None, "what 99.7 % of placements stay within", "from the preset")
    scatter: dict[str, float | str] = _default(
        {}, "your own terms of scatter, by name; see docs/assembly.md", "the shipped terms, each with its reason"
    )
    rates: list[OwnRateTable] = _default(
        [], "rates your own line counts, by family, instead of the worked ones", "no house's rates are known to us"
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


class CycleTable(_Table):
    """One kind of temperature cycle of the product's life."""

    swing: TemperatureSwing = Field(description="peak to peak at the board")
    dwell: Time = Field(description="time at each end")
    per_year: float = Field(gt=0, description="cycles a year")
    top: Temperature = Field(description="highest temperature")


class Use(_Table):
    """The product's life."""

    environment: str = _default(
        "consumer",
        "a row of the guideline's table of use environments, such as consumer, telecom, industrial, under-hood",
        "the mildest place most products live in",
        "use-table-memory",
    )
    cycles: list[CycleTable] = _default([], "your own temperature cycles instead of that row's", "from the environment")
    years: float | None = _default(None, "years wanted", "from the environment")
    failures: float | None = _default(
        None, "share of products whose part may have failed by then", "from the environment"
    )
    fatigue: list[str] = _default(
        [],
        "sets of solder constants: the first gives the life, all together its interval",
        "tin-lead's, advised by their author for lead-free too, and the published tin-silver row",
        "engelmaier-sac-advice",
    )
    grade: Literal["", "commercial", "industrial", "automotive-3", "automotive-2", "automotive-1", "automotive-0"] = (
        _default("", "temperature grade to be qualified for", "none unless stated")
    )
    underfill: bool = _default(False, "are the gaps under grids filled", "logic seldom is")
    land_bond: Stress | None = _default(
        None, "tensile bond of lands to your laminate, from pull tests", "no trustworthy figure was found"
    )
    voltage: Voltage = _default(5.0, "highest voltage between neighbouring terminals", "logic supplies end at 5 V")
    ambient: Temperature = _default(
        60.0,
        "air around the board",
        "the upper end of the consumer environment in the guidelines' table",
        "use-table-memory",
    )
    junction_limit: Temperature = _default(
        125.0, "highest junction temperature", "the usual limit of plastic logic", "junction-limit-memory"
    )
    random: list[tuple[Frequency, Density]] = _default(
        [], "corners of a random vibration level; one corner is a flat level", "a board at rest unless stated"
    )
    sine: Acceleration | None = _default(
        None, "sine level at the board's own frequencies", "a board at rest unless stated"
    )
    vibrated: Time | None = _default(
        None, "how long the vibration lasts in the whole life", "must be stated with a level"
    )
    shock: Acceleration | None = _default(None, "peak of a half-sine shock", "no shock unless stated")
    shock_time: Time = _default(
        0.011, "length of the shock", "the usual pulse for equipment (recalled)", "shock-pulse-memory"
    )
    air: Literal["dry", "humid", "wet"] = _default(
        "dry", "air at the board: dry, humid (damp, no water), wet (condensation or splash)", "indoors"
    )
    coat: Literal["none", "acrylic", "epoxy", "urethane", "silicone", "vapour"] = _default(
        "none", "conformal coat", "most boards have none"
    )

    @model_validator(mode="after")
    def _makes_sense(self) -> Use:
        """Levels and times are positive where they are stated."""
        for name in ("sine", "vibrated", "shock", "shock_time"):
            _require_number(self, name, zero=False)
        return self


class Want(_Table):
    """Limits and weights."""

    max_height: Length | None = _default(None, "tallest part allowed", "no limit unless stated")
    max_area: float | None = _default(None, "largest courtyard allowed for one part, mm2", "no limit unless stated")
    least_gap: Length = _default(
        0.10, "narrowest gap between lands", "what board makers hold without extra charge", "line-practice"
    )
    hidden_joints: Literal["as the line sees", "never", "any"] = _default(
        "as the line sees",
        "are joints allowed that the line's inspection can't judge",
        "a joint nobody can judge is only taken on purpose",
    )
    terminals: Literal["either", "exposed", "hidden"] = _default(
        "either", "should terminals be open to a probe, or hidden from one", "most products don't mind"
    )
    probe_access: bool = _default(
        False, "must every net be reached by a test probe", "functional test is the usual minimum"
    )
    supply: Literal["usual", "any"] = _default(
        "usual",
        "only package styles in which the logic family is usually offered, or any",
        "a package that nobody sells the part in is no option",
    )
    drilled: bool = _default(True, "may parts be drilled", "the line decides")
    weights: dict[str, float] = _default({}, "weight of each criterion", "see the criteria's own reasons")
    objective: Literal["cost", "value"] | list[str] = _default(
        "cost",
        'what the whole board is chosen for: "cost", "value" (by the weights), or a list such as ["cost", "area"]',
        "in volume the cost per good board decides",
    )
    limits: dict[str, float | str] = _default(
        {}, "limit of any figure, held by each option, by the figure's key", "no limit unless stated"
    )
    board_limits: dict[str, float | str] = _default(
        {},
        "limit of a sum over the board: area (mm2 of a side, with packing), hidden-joints, risk, or any figure",
        "no limit unless stated",
    )
    packing: float = Field(
        default=0.3,
        ge=0,
        description="area lost between courtyards, as a share of them, when a board area is given",
        json_schema_extra={"reason": "courtyards never tile a board; a rule of ours", "source": "landwise-rule"},
    )
    most_outlines: int | None = _default(None, "how many different outlines the board may carry", "no limit")
    least_sources: int | None = _default(None, "makers an option must have, where the study counts them", "no limit")
    most_lead_weeks: float | None = _default(None, "longest lead time, where the study gives it, weeks", "no limit")
    most_price_spread: float | None = _default(
        None, "how far an offer's price may move at most, as a share of it", "no limit"
    )
    coplanarity: bool = _default(
        True,
        "must the foil be as thick as the leads' coplanarity limit",
        "paste lower than the highest lead leaves it open (makers' rule, limits recalled)",
        "jedec-coplanarity-memory",
    )


class CostsTable(_Table):
    """Money, in the study's own unit."""

    unit: str = _default("units", "name of the money unit", "rates are ratios until you say what they are in")
    run: int = Field(
        default=1000,
        gt=0,
        description="boards to be built",
        json_schema_extra={
            "reason": "a small series; charges per run are spread over it",
            "source": "landwise-rule",
        },
    )
    rates: dict[str, float] = _default(
        {}, "your own rates; see `landwise defaults`", "the shipped rates are assumptions"
    )
    price_spread: float = Field(
        default=0.1,
        ge=0,
        lt=1,
        description="how far a part price may move between asking and ordering, as a share of it",
        json_schema_extra={
            "reason": "quotes are rarely held for longer; an assumption that only the robustness uses",
            "source": "landwise-rule",
        },
    )


class OptionTable(_Table):
    """A package in which a part is offered."""

    outline: str
    price: float | None = Field(default=None, ge=0)
    prices: dict[str, float] = Field(default_factory=dict)
    price_spread: float | None = Field(
        default=None, ge=0, lt=1, description="how far the price may move, as a share of it; else costs.price_spread"
    )
    sources: int | None = Field(default=None, ge=0, description="makers that offer it")
    lead_weeks: float | None = Field(default=None, ge=0, description="lead time, weeks")


class PartTable(_Table):
    """One part number and every place on the board where it sits."""

    refs: list[str] = Field(min_length=1)
    number: str = ""
    family: str = ""
    function: str = ""
    terminals: int | None = Field(default=None, gt=0, le=2000)
    package: str = Field(default="", description="the outline in use today")
    options: Literal["any"] | list[OptionTable] = "any"
    price: float | None = Field(default=None, ge=0, description="price of the part in use today")
    locked: bool = Field(default=False, description="keep the package in use, judge it only")
    group: str = Field(default="", description="parts of one group come in the same outline")
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
    thermal_vias: int = Field(default=0, ge=0, le=400, description="plated holes under its exposed pad")
    fitted: bool = True
    guesses: list[str] = Field(default_factory=list, description="what was guessed, and why")

    @model_validator(mode="after")
    def _makes_sense(self) -> PartTable:
        """Its supply is positive where it is stated."""
        _require_number(self, "supply", zero=False)
        return self


class StudyFile(_Table):
    """A whole study."""

    landwise: int = FORMAT
    board: Board = Field(default_factory=Board)
    line: LineTable = Field(default_factory=LineTable)
    use: Use = Field(default_factory=Use)
    want: Want = Field(default_factory=Want)
    costs: CostsTable = Field(default_factory=CostsTable)
    outlines: list[str] = Field(default_factory=list, description="TOML files with your own outlines, beside this file")
    part: list[PartTable] = Field(default_factory=list)


@dataclass(frozen=True)
class Study:
    """A study file with the place it came from."""

    content: StudyFile
    file: str
    folder: Path


def read_study(path: str | Path) -> Study:
    """Read and check a study file.

    Raises
    ------
    FileError
        If it can't be read, is a folder, is empty, or is too large.
    InputError
        Naming file, table and field: not TOML, unknown or missing field, bad unit, duplicate reference.
    """
    path = Path(path)
    text = read_text(path, LARGEST_FILE_BYTES)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError("not a TOML file", file=path.name, found=str(error), expected="a study file") from None
    return study_from(data, file=path.name, folder=path.parent)


def read_text(path: Path, limit: int) -> str:
    """The text of a small UTF-8 file, or one clear message."""
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a file")
        size = path.stat().st_size
        if size > limit:
            raise FileError(
                "too large",
                file=str(path),
                found=f"{size / 1e6:.1f} MB",
                expected=f"at most {limit / 1e6:g} MB",
            )
        if size == 0:
            raise FileError("the file is empty", file=str(path))
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError("not UTF-8 text", file=str(path), place=f"byte {error.start}", expected="a text file") from None
    except LandwiseError:
        raise
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None


def study_from(data: dict[str, Any], *, file: str = "study", folder: Path = Path()) -> Study:
    """A study from plain data, checked as a file would be."""
    version = data.get("landwise", FORMAT)
    if version != FORMAT:
        raise InputError(
            "a study of another format",
            file=file,
            place="landwise",
            found=repr(version),
            expected=f"landwise = {FORMAT}",
        )
    try:
        content = StudyFile.model_validate(data)
    except ValidationError as error:
        raise _first_problem(error, data, file) from None
    _require_unique_references(content, file)
    return Study(content, file, folder)


def _first_problem(error: ValidationError, data: dict[str, Any], file: str) -> InputError:
    # Of a field that may be one of two kinds, the deepest complaint is the one that helps.
    problem = max(error.errors(include_url=False), key=lambda found: len(found["loc"]))
    place = ", ".join(_places(problem["loc"], data))
    cause = problem.get("ctx", {}).get("error")
    if isinstance(cause, LandwiseError):
        inner = cause.within(file=file, place=place)
        return InputError(inner.message, file=file, place=inner.place, found=inner.found, expected=inner.expected)
    found = problem.get("input")
    kind = problem["type"]
    if kind == "extra_forbidden":
        return InputError(
            "unknown field",
            file=file,
            place=place,
            expected="a field of the study file (see `landwise defaults`)",
        )
    if kind == "missing":
        return InputError("a field is missing", file=file, place=place)
    shown = repr(found) if not isinstance(found, (dict, list)) else type(found).__name__
    return InputError("not a valid value", file=file, place=place, found=shown, expected=problem["msg"])


def _places(loc: tuple[int | str, ...], data: dict[str, Any]) -> Iterator[str]:
    node: Any = data
    for step in loc:
        if isinstance(step, int) and isinstance(node, list) and step < len(node):
            node = node[step]
            refs = node.get("refs") if isinstance(node, dict) else None
            name = f" ({refs[0]}…)" if isinstance(refs, list) and refs else ""
            yield f"number {step + 1}{name}"
            continue
        if isinstance(node, dict) and step in node:
            node = node[step]
        elif not (isinstance(node, dict) and step not in node and isinstance(step, str)):
            continue
        if str(step).startswith(("literal[", "list[")):
            continue
        yield f"[[{step}]]" if step == "part" else str(step)


def _require_unique_references(content: StudyFile, file: str) -> None:
    seen: dict[str, int] = {}
    for number, part in enumerate(content.part, start=1):
        for ref in part.refs:
            if ref in seen:
                raise InputError(
                    "a reference stands in two parts",
                    file=file,
                    place=f"[[part]], number {number}, refs",
                    found=ref,
                    expected=f"each reference once; it is also in part number {seen[ref]}",
                )
            seen[ref] = number


def schema() -> dict[str, Any]:
    """JSON Schema of the study file.

    >>> schema()["title"]
    'StudyFile'
    """
    return StudyFile.model_json_schema()


@dataclass(frozen=True)
class Default:
    """One default of the study file: where it stands, its value, what it means, why, and its source."""

    place: str
    value: str
    says: str
    reason: str
    source: str


def defaults() -> tuple[Default, ...]:
    """Every default of the study file with its reason."""
    found = []
    for name, table in (
        ("board", Board),
        ("line", LineTable),
        ("use", Use),
        ("want", Want),
        ("costs", CostsTable),
    ):
        for field, info in table.model_fields.items():
            extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
            found.append(
                Default(
                    f"{name}.{field}",
                    _shown(info.default),
                    info.description or "",
                    str(extra.get("reason", "")),
                    str(extra.get("source", "")),
                )
            )
    return tuple(found)


def _shown(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "true" if value else "false"
    return "–" if value in ({}, []) else f"{value:g}" if isinstance(value, float) else str(value)
