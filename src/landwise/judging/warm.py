"""Figure of the junction temperature."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from landwise.errors import LandwiseError
from landwise.evidence.figures import Figure, Step, Verdict
from landwise.judging.boardcase import FILM, heat_board_of, places_of
from landwise.judging.heatbench import heat_at, supply_of
from landwise.outlines import find
from landwise.outlines.choice import proposals
from landwise.service.board_heat import HeatBoard, Source, board_heat, via_resistance
from landwise.service.families import SOURCE as FAMILY_SOURCE
from landwise.service.families import family_of, outputs_in
from landwise.service.heat import highest_power, logic_power
from landwise.service.heatfield import over_board, sheet_spread
from landwise.service.resistances import WARNING, Resistance, Sheet, best_sheet, spread_of

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import Board, PartTable, StudyFile

TITLE = "junction temperature"
# Sheets imply 1.1 to 1.8 times what the conduction model gives for a standard test board (docs/service_board.md).
BOARD_DOUBT = 1.8
BOARD_SOURCES = ("board-conduction", "film-practice", "copper-share-practice")


def heat_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Junction temperature of one option."""
    outline, use = geometry.outline, bench.content.use
    spread, sheet = spread_of(outline.name), _sheet(part, bench)
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
    theta, low, high, steps, basis = _theta(geometry, part, bench, row, sheet)
    around = [
        heat_at(bench.content, bench.own, part, end, lambda one: power_of(one, bench.content)[0]) or 0.0
        for end in range(3)
    ]
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
    least, value, most = (
        use.ambient + rise + each * power_ for rise, each, power_ in zip(around, (low, theta, high), power, strict=True)
    )
    verdict: Verdict = "holds" if most <= use.junction_limit else "fails" if least > use.junction_limit else "marginal"
    if room == 0.0:
        verdict = "fails"
    why = (
        f"{power_says} over {use.ambient:g} °C air{f' and {others:.1f} K of the rest of the board' if others else ''},"
        f" {basis}; {allowed}"
    )
    return (
        Figure(
            key="junction-temperature",
            title=TITLE,
            value=value,
            unit="degC",
            low=least,
            high=most,
            better="less",
            limit=use.junction_limit,
            limit_source="junction-limit-memory",
            verdict=verdict,
            why=why,
            trail=(*power_step, *steps),
        ),
    )


def _sheet(part: PartTable, bench: Bench) -> Sheet | None:
    """The one sheet that all of a part's options are compared by."""
    if isinstance(part.options, list):
        names = [_name(option.outline, bench) for option in part.options]
    else:
        names = [outline.name for outline in proposals(part.terminals or 0, bench.own)] if part.terminals else []
    if part.package:
        names.append(_name(part.package, bench))
    return best_sheet([name for name in names if name], part.terminals or 0)


def _name(outline: str, bench: Bench) -> str:
    try:
        return find(outline, bench.own).name
    except LandwiseError:
        return ""


def power_of(part: PartTable, content: StudyFile) -> tuple[tuple[float, float, float] | None, str, tuple[Step, ...]]:
    """Power of a part, low, taken and high [W], in words, and its trail; None where it can't be known."""
    if part.power is not None:
        return (part.power,) * 3, f"{part.power * 1e3:.3g} mW as stated", ()
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
    step = Step(
        says=f"at rest {middle.static_w * 1e3:.3g}, inside {middle.internal_w * 1e3:.3g}, into the load"
        f" {middle.load_w * 1e3:.3g} mW",
        inputs={
            "outputs": str(outputs),
            "Cpd": f"{low:g}…{high:g} pF",
            "load": f"{part.load:g} pF",
            "supply": f"{supply:g} V",
        },
        value=middle.total_w,
        unit="W",
        formula="logic-power",
        valid="all outputs switch at the stated frequency",
        sources=("ti-cmos-power", FAMILY_SOURCE),
    )
    says = (
        f"{middle.total_w * 1e3:.3g} mW of {outputs} output{'s' if outputs > 1 else ''} at {part.frequency / 1e6:g} MHz"
    )
    return (first.total_w, middle.total_w, last.total_w), says, (step,)


def _theta(
    geometry: Geometry, part: PartTable, bench: Bench, row: Resistance | None, sheet: Sheet | None
) -> tuple[float, float, float, tuple[Step, ...], str]:
    """Junction to air, taken, low and high [K/W], with trail and words."""
    outline, board = geometry.outline, bench.content.board
    spread = spread_of(outline.name)
    assert spread is not None  # the caller has looked
    all_sheets = Step(
        says=f"{len(spread.found)} sheet{'s' if len(spread.found) > 1 else ''} print {spread.low:g} to {spread.high:g} K/W"
        f" for {outline.name}; {WARNING}",
        value=spread.high / spread.low,
        formula="published-theta",
        sources=tuple(dict.fromkeys(_source(key) for key, _ in spread.found)),
    )
    if row is None or sheet is None:
        middle = (spread.low * spread.high) ** 0.5
        return (
            middle,
            spread.low,
            spread.high,
            (all_sheets,),
            "by other parts' sheets: no rank against the other options",
        )
    if board.length is None or board.width is None:
        says = f"{row.ja:g} K/W on the test board of the {sheet.device} sheet"
        step = Step(
            says=f"{sheet.device}: {row.ja:g} K/W", value=row.ja, unit="K/W", valid=WARNING, sources=(sheet.source,)
        )
        band = sheet_spread(row.ja)
        return row.ja, min(spread.low, band.low), max(spread.high, band.high), (all_sheets, step), says
    over = over_board(row.ja, row.to_board)
    under = [_board_rise(geometry, part, bench, film) for film in (FILM[2], FILM[1], FILM[0])]
    known = "by" if row.to_board is not None else "as a share of θJA of"
    step = Step(
        says=f"board under the part {under[1]:.0f} K/W by conduction in its copper, junction over it {over.value:.0f}"
        f" ({over.low:.0f}…{over.high:.0f}) K/W {known} the {sheet.device} sheet",
        inputs={"film": f"{FILM[0]:g} to {FILM[2]:g} W/m²K", "layers": str(board.layers)},
        value=under[1] + over.value,
        unit="K/W",
        formula="board-heat",
        valid="even copper, even films; sheets imply 1.1 to 1.8 times the model's board, and differ twofold themselves",
        sources=(sheet.source, *BOARD_SOURCES),
    )
    high = max(under[2], BOARD_DOUBT * under[1]) + over.high
    says = f"{under[1] + over.value:.0f} K/W on this board"
    return under[1] + over.value, under[0] + over.low, high, (all_sheets, step), says


def _source(key: str) -> str:
    from landwise.service.resistances import sheets

    return sheets()[key].source


def source_of(
    geometry: Geometry, part: PartTable, board: Board, power_w: float, place: tuple[float, float]
) -> Source | None:
    """A part as a heat source on the board; None where it is larger than the board."""
    outline = geometry.outline
    if board.length is None or board.width is None:
        return None
    width = max(r.nom for r in (outline.body_width_mm, outline.span_mm, outline.row_spacing_mm) if r is not None)
    length = outline.body_length_mm.nom
    if width >= board.length or length >= board.width:
        return None
    x = min(max(place[0], width / 2), board.length - width / 2)
    y = min(max(place[1], length / 2), board.width - length / 2)
    return Source(x, y, width, length, power_w, part.thermal_vias, via_resistance(0.3, 25.0, board.thickness))


def _board_rise(geometry: Geometry, part: PartTable, bench: Bench, film: float) -> float:
    """Rise of the board under the part for one watt, at its warmest stated place, else in the middle. [K/W]"""
    board = bench.content.board
    middle = ((board.length or 0.0) / 2, (board.width or 0.0) / 2)
    found = []
    for place in places_of(part) or [middle]:
        source = source_of(geometry, part, board, 1.0, place)
        if source is not None:
            found.append(_rise(heat_board_of(board, film), source))
    return max(found, default=1 / (2 * film * middle[0] * middle[1] * 4e-6))


@lru_cache(maxsize=8192)
def _rise(board: HeatBoard, source: Source) -> float:
    """The one number of a field that a junction needs, so that fields need not be kept."""
    return board_heat(board, (source,)).under(source)
