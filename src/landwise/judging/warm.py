"""Figure of the junction temperature."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from landwise.errors import LandwiseError
from landwise.evidence.figures import Figure, Step, Verdict, figure
from landwise.evidence.trails import Given, earlier, stated, taken, worked
from landwise.judging.boardcase import FILM, heat_board_of, places_of
from landwise.judging.heatbench import heat_at, supply_of
from landwise.judging.leaves import of_outline, of_part, of_rule, of_study, part_step
from landwise.outlines import Outline, find
from landwise.outlines.choice import proposals
from landwise.quantities import several
from landwise.service.board_heat import HeatBoard, Source, board_heat, via_resistance
from landwise.service.families import SOURCE as FAMILY_SOURCE
from landwise.service.families import family_of, outputs_in
from landwise.service.heat import highest_power, logic_power
from landwise.service.heatfield import over_board, sheet_spread
from landwise.service.resistances import WARNING, Resistance, Sheet, Spread, best_sheet, spread_of

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import Board, PartTable, StudyFile

Band = tuple[float, float, float]  # low, value, high
TITLE = "junction temperature"
# Sheets imply 1.1 to 1.8 times what the conduction model gives for a standard test board (docs/service_board.md).
BOARD_DOUBT = 1.8
BOARD_SOURCES = ("board-conduction", "film-practice", "copper-share-practice")


def heat_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Junction temperature of one option."""
    outline, use = geometry.outline, bench.content.use
    spread, sheet = spread_of(outline.name), sheet_of(part, bench.own)
    if spread is None:
        why = "no data sheet at hand prints a thermal resistance of this package"
        return (
            Figure(
                key="junction-temperature",
                title=TITLE,
                value=None,
                unit="degC",
                better="less",
                limit=use.junction_limit,
                verdict="not known",
                why=why,
            ),
        )
    row = sheet.rows.get(outline.name) if sheet else None
    (low, theta, high), steps, basis = _theta(geometry, part, bench, row, sheet)
    around = _heat_around(bench.content, bench.own, part)
    others, hottest = around[1], use.ambient + around[2]
    room = highest_power(use.junction_limit, hottest, high) if use.junction_limit > hottest else 0.0
    allowed = f"it may dissipate {room * 1e3:.0f} mW at the cautious end"
    power, power_says, power_step = power_of(part, bench.content)
    if power is None:
        why = f"{power_says}; {allowed}, {basis}"
        return (
            Figure(
                key="junction-temperature",
                title=TITLE,
                value=None,
                unit="degC",
                better="less",
                limit=use.junction_limit,
                limit_source="junction-limit-memory",
                verdict="not known",
                why=why,
                trail=steps,
            ),
        )
    least, _, most = junction_band(use.ambient, around, (low, theta, high), power)
    verdict: Verdict = "holds" if most <= use.junction_limit else "fails" if least > use.junction_limit else "marginal"
    if room == 0.0:
        verdict = "fails"
    why = (
        f"{power_says} over {use.ambient:g} °C air{f' and {others:.1f} K of the rest of the board' if others else ''},"
        f" {basis}; {allowed}"
    )
    ends = worked(
        "air, rise of the rest of the board, and resistance times power, at each end and in the middle",
        junction_band,
        {
            "ambient": of_study(bench.content, "use.ambient", "degC"),
            "around": earlier(_around_step(bench, part, around)),
            "theta": earlier(steps[-1]),
            "power": earlier(power_step[-1]),
        },
        unit="degC",
    )
    return (
        figure(
            ends,
            key="junction-temperature",
            title=TITLE,
            better="less",
            limit=use.junction_limit,
            limit_source="junction-limit-memory",
            verdict=verdict,
            why=why,
            trail=(*power_step, *steps, ends),
        ),
    )


def junction_band(ambient: float, around: Band, theta: Band, power: Band) -> Band:
    """Junction temperature: low, value, high. [°C]"""
    low, value, high = (ambient + rise + each * watts for rise, each, watts in zip(around, theta, power, strict=True))
    return low, value, high


def heat_around(study: StudyFile, part: str, own: tuple[Outline, ...]) -> Band:
    """Rise of the board by everything else at a part's warmest place: low, taken, high. [K]"""
    return _heat_around(study, own, next(one for one in study.part if part in one.refs))


def _heat_around(study: StudyFile, own: Sequence[Outline], part: PartTable) -> Band:
    low, value, high = (heat_at(study, own, part, end, lambda one: power_of(one, study)[0]) or 0.0 for end in range(3))
    return low, value, high


def _around_step(bench: Bench, part: PartTable, result: Band) -> Step:
    return worked(
        "rise by the rest of the board",
        heat_around,
        {
            "study": earlier(bench.study_step),
            "part": stated(part.refs[0], "[[part]] refs"),
            "own": stated(tuple(bench.own), "outlines"),
        },
        result=result,
        unit="K",
        sources=BOARD_SOURCES,
    )


def logic_watts(
    cpd: tuple[float, float], supply: float, frequency: float, outputs: int, load: float, static_ua: float
) -> Band:
    """Power of a part whose outputs switch: low, value, high. [W]"""
    low, high = cpd
    least, value, most = (
        logic_power(each, supply, frequency, outputs, load, static_ua * 1e-6).total_w
        for each in (low, (low + high) / 2, high)
    )
    return least, value, most


def sheet_of(part: PartTable, own: Sequence[Outline]) -> Sheet | None:
    """The one sheet that all of a part's options are compared by."""
    if isinstance(part.options, list):
        names = [_name(option.outline, own) for option in part.options]
    else:
        names = [outline.name for outline in proposals(part.terminals or 0, own)] if part.terminals else []
    if part.package:
        names.append(_name(part.package, own))
    return best_sheet([name for name in names if name], part.terminals or 0)


def _name(outline: str, own: Sequence[Outline]) -> str:
    try:
        return find(outline, own).name
    except LandwiseError:
        return ""


def power_of(part: PartTable, content: StudyFile) -> tuple[tuple[float, float, float] | None, str, tuple[Step, ...]]:
    """Power of a part, low, taken and high [W], in words, and its trail; None where it can't be known."""
    if part.power is not None:
        step = taken("power as stated", of_part(part, "power", "W", (part.power,) * 3))
        return (part.power,) * 3, f"{part.power * 1e3:.3g} mW as stated", (step,)
    if part.frequency is None:
        return None, "neither its power nor how often it switches is stated", ()
    family = family_of(part.family)
    if family is None and (part.cpd is None or supply_of(part, content) is None):
        return None, "the family is not known, and neither are supply and power-dissipation capacitance", ()
    supply = supply_of(part, content) or 0.0
    low, high = (part.cpd, part.cpd) if part.cpd is not None else (family.cpd_pf if family else (0.0, 0.0))
    outputs = part.outputs or outputs_in(part.function, part.terminals or 5)[0]
    static = (family.static_ua if family else 0.0) * 1e-6
    first, middle, last = (
        logic_power(cpd, supply, part.frequency, outputs, part.load, static) for cpd in (low, (low + high) / 2, high)
    )
    step = worked(
        f"at rest {middle.static_w * 1e3:.3g}, inside {middle.internal_w * 1e3:.3g}, into the load"
        f" {middle.load_w * 1e3:.3g} mW",
        logic_watts,
        {
            "cpd": of_part(part, "cpd", "pF", (low, high))
            if part.cpd is not None
            else of_rule((low, high), f"family {part.family}", FAMILY_SOURCE, unit="pF"),
            "supply": _supply_given(part, content, supply),
            "frequency": of_part(part, "frequency", "Hz"),
            "outputs": of_part(part, "outputs") if part.outputs else _counted(part),
            "load": of_part(part, "load", "pF"),
            "static_ua": of_rule(
                family.static_ua if family else 0.0, f"family {part.family}", FAMILY_SOURCE, unit="uA"
            ),
        },
        result=(first.total_w, middle.total_w, last.total_w),
        inputs={
            "outputs": str(outputs),
            "Cpd": f"{low:g}…{high:g} pF",
            "load": f"{part.load:g} pF",
            "supply": f"{supply:g} V",
        },
        unit="W",
        formula="logic-power",
        valid="all outputs switch at the stated frequency",
        sources=("ti-cmos-power", FAMILY_SOURCE),
    )
    says = f"{middle.total_w * 1e3:.3g} mW of {several(outputs, 'output')} at {part.frequency / 1e6:g} MHz"
    return (first.total_w, middle.total_w, last.total_w), says, (step,)


def counted_outputs(function: str, terminals: int | None) -> int:
    """Outputs that a function has, from its name and its terminals."""
    return outputs_in(function, terminals or 5)[0]


def _counted(part: PartTable) -> Given:
    given = {"function": of_part(part, "function"), "terminals": of_part(part, "terminals")}
    return earlier(worked("outputs of its function", counted_outputs, given))


def _supply_given(part: PartTable, content: StudyFile, supply: float) -> Given:
    """Where the supply comes from: the part, the study's voltage, or the family."""
    if part.supply is not None:
        return of_part(part, "supply", "V")
    family = family_of(part.family)
    if family is None or supply != family.supply_v:
        return of_study(content, "use.voltage", "V")
    return of_rule(supply, f"family {part.family}", FAMILY_SOURCE, unit="V")


def sheets_factor(outline: str) -> float:
    """Highest over lowest of what all sheets print for a package."""
    return _spread(outline).factor


def sheets_band(outline: str) -> Band:
    """Resistance by all sheets: lowest, middle, highest. [K/W]"""
    spread = _spread(outline)
    return spread.low, (spread.low * spread.high) ** 0.5, spread.high


def sheet_theta(outline: str, sheet: Sheet) -> Band:
    """Resistance on the sheet's own test board, with the spread between sheets. [K/W]"""
    spread, row = _spread(outline), sheet.rows[outline]
    band = sheet_spread(row.ja)
    return min(spread.low, band.low), row.ja, max(spread.high, band.high)


def board_theta(outline: Outline, part: PartTable, board: Board, sheet: Sheet) -> Band:
    """Resistance on the study's board: board by conduction, junction over it by the sheet. [K/W]"""
    row = sheet.rows[outline.name]
    over = over_board(row.ja, row.to_board)
    under = [board_rise(outline, part, board, film) for film in (FILM[2], FILM[1], FILM[0])]
    return under[0] + over.low, under[1] + over.value, max(under[2], BOARD_DOUBT * under[1]) + over.high


def _spread(outline: str) -> Spread:
    spread = spread_of(outline)
    if spread is None:
        raise ValueError(f"no sheet prints a resistance of {outline}")
    return spread


def _theta(
    geometry: Geometry, part: PartTable, bench: Bench, row: Resistance | None, sheet: Sheet | None
) -> tuple[Band, tuple[Step, ...], str]:
    """Junction to air: low, taken, high [K/W], with trail, the step that gives it last, and words."""
    outline, board = geometry.outline, bench.content.board
    spread = _spread(outline.name)
    printed = tuple(dict.fromkeys(_source(key) for key, _ in spread.found))
    named = of_rule(outline.name, "data sheets at hand", *printed)
    all_sheets = worked(
        f"{several(len(spread.found), 'sheet')} print {spread.low:g} to {spread.high:g} K/W"
        f" for {outline.name}; {WARNING}",
        sheets_factor,
        {"outline": named},
        formula="published-theta",
        sources=printed,
    )
    if row is None or sheet is None:
        says = "by other parts' sheets: no rank against the other options"
        step = worked("middle of all sheets", sheets_band, {"outline": named}, unit="K/W", sources=printed)
        return step.result, (all_sheets, step), says
    one_sheet = of_rule(sheet, f"sheet of {sheet.device}", sheet.source)
    if board.length is None or board.width is None:
        says = f"{row.ja:g} K/W on the test board of the {sheet.device} sheet"
        step = worked(
            f"{sheet.device}: {row.ja:g} K/W",
            sheet_theta,
            {"outline": named, "sheet": one_sheet},
            unit="K/W",
            valid=WARNING,
            sources=(sheet.source,),
        )
        return step.result, (all_sheets, step), says
    over = over_board(row.ja, row.to_board)
    middle = board_rise(outline, part, board, FILM[1])
    known = "by" if row.to_board is not None else "as a share of θJA of"
    step = worked(
        f"board under the part {middle:.0f} K/W by conduction in its copper, junction over it {over.value:.0f}"
        f" ({over.low:.0f}…{over.high:.0f}) K/W {known} the {sheet.device} sheet",
        board_theta,
        {
            "outline": of_outline(outline),
            "part": earlier(part_step(part)),
            "board": earlier(bench.board_step),
            "sheet": one_sheet,
        },
        inputs={"film": f"{FILM[0]:g} to {FILM[2]:g} W/m²K", "layers": str(board.layers)},
        unit="K/W",
        formula="board-heat",
        valid="even copper, even films; sheets imply 1.1 to 1.8 times the model's board, and differ twofold themselves",
        sources=(sheet.source, *BOARD_SOURCES),
    )
    return step.result, (all_sheets, step), f"{middle + over.value:.0f} K/W on this board"


def _source(key: str) -> str:
    from landwise.service.resistances import sheets

    return sheets()[key].source


def source_of(
    geometry: Geometry, part: PartTable, board: Board, power_w: float, place: tuple[float, float]
) -> Source | None:
    """A part as a heat source on the board; None where it is larger than the board."""
    return source_at(geometry.outline, part, board, power_w, place)


def source_at(
    outline: Outline, part: PartTable, board: Board, power_w: float, place: tuple[float, float]
) -> Source | None:
    """An outline as a heat source on the board; None where it is larger than the board."""
    if board.length is None or board.width is None:
        return None
    width = max(r.nom for r in (outline.body_width_mm, outline.span_mm, outline.row_spacing_mm) if r is not None)
    length = outline.body_length_mm.nom
    if width >= board.length or length >= board.width:
        return None
    x = min(max(place[0], width / 2), board.length - width / 2)
    y = min(max(place[1], length / 2), board.width - length / 2)
    return Source(x, y, width, length, power_w, part.thermal_vias, via_resistance(0.3, 25.0, board.thickness))


def board_rise(outline: Outline, part: PartTable, board: Board, film: float) -> float:
    """Rise of the board under the part for one watt, at its warmest stated place, else in the middle. [K/W]"""
    middle = ((board.length or 0.0) / 2, (board.width or 0.0) / 2)
    found = []
    for place in places_of(part) or [middle]:
        source = source_at(outline, part, board, 1.0, place)
        if source is not None:
            found.append(_rise(heat_board_of(board, film), source))
    return max(found, default=1 / (2 * film * middle[0] * middle[1] * 4e-6))


@lru_cache(maxsize=8192)
def _rise(board: HeatBoard, source: Source) -> float:
    """The one number of a field that a junction needs, so that fields need not be kept."""
    return board_heat(board, (source,)).under(source)
