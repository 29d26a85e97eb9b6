"""One option opened: its views at a larger scale, the print in section, the foils, every figure with its trail."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from urllib.parse import urlencode

from landwise.evidence import all_formulas, all_sources
from landwise.evidence.figures import Figure, Step
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.printing.window import print_window
from landwise.quantities import show
from landwise.results.printjson import print_lines
from landwise.results.verdict import verdict_of, word_of
from landwise.sheets.cards import candidate_of, figure_title, why_of
from landwise.sheets.marks import mm_rule, scale_text
from landwise.sheets.plan import PART, top_view
from landwise.sheets.profile import SCHEMATIC, side_view
from landwise.sheets.section import section_of, weakest
from landwise.sheets.svg import Picture, write_svg
from landwise.sheets.windowchart import window_picture
from landwise.workbench.asked import Asked
from landwise.workbench.row import PX_PER_MM, SCALES
from landwise.workbench.units import shown

MOST_WIDE_MM, MOST_HIGH_MM = 170.0, 90.0
LEAST_PX = 380.0
EDGE_MM = 1.5
SECTION_SCALES = (200.0, 150.0, 120.0, 100.0, 80.0, 60.0, 50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 10.0)
REDUCTIONS_UM = tuple(range(0, 61, 4))
WINDOW_MARGIN_MM = 44.0  # for the axis and the names of the limits
NUMERALS_MM = 12.0  # for the terminals' numbers at both sides


def all_opened(
    options: Sequence[OptionResult], part: PartResult, result: StudyResult, asked: Asked, room_px: float
) -> list[dict[str, object]]:
    """What the page shows of the options opened, each in half of the room, all at one scale."""
    if not options:
        return []
    most = min(max(room_px / 2, LEAST_PX) / PX_PER_MM, MOST_WIDE_MM)
    sizes = [option.geometry.pattern.courtyard_mm for option in options]
    wide, high = max(size[0] for size in sizes), max(size[1] for size in sizes)
    m = next((s for s in SCALES if wide * s <= most - NUMERALS_MM and high * s <= MOST_HIGH_MM), SCALES[-1])
    return [_opened(option, part, result, asked, number, most, m) for number, option in enumerate(options)]


def _opened(
    option: OptionResult, part: PartResult, result: StudyResult, asked: Asked, number: int, most: float, m: float
) -> dict[str, object]:
    """One of them; `number` keeps the drawings' ids apart, `most` is the width for its drawings. [mm]"""
    one = candidate_of(option, part, result)
    prefix = f"open{number}"
    wide = one.pattern.courtyard_mm[0]
    top = top_view(one.outline, one.pattern, one.print_, magnification=m, layers=(*PART, "numerals"))
    rule = mm_rule(int(wide) or 1.0, m).moved(-wide * m / 2, top.box[3] + 3.0)
    side = side_view(one.outline, one.pattern, one.print_, magnification=m, solder=one.solder)
    title = f"{option.name} from above, drawn {scale_text(m)}"
    return {
        "name": option.name,
        "verdict": verdict_of(option),
        "why": why_of(option),
        "is_choice": option is part.chosen,
        "scale": scale_text(m),
        "top": _framed(top + rule, title, _top_words(option), f"{prefix}-top"),
        "side": _framed(
            side.picture, f"{option.name} from the side, drawn {scale_text(m)}", _side_words(option), f"{prefix}-side"
        ),
        "solder": SCHEMATIC if side.schematic else "solder as computed, to scale",
        "section": _section(option, most, f"{prefix}-section"),
        "window": _window(option, result, most, f"{prefix}-window"),
        "process": option.geometry.rates is not None,
        "printed": option.geometry.printed.why,
        "print": print_lines(option.geometry),
        "foils": [
            (f"{um:g}\u2009µm", verdict, um == result.line.foil_um) for um, verdict in option.geometry.window.verdicts
        ],
        "figures": [_figure(figure, result, asked) for figure in option.figures.values()],
        "close_query": asked.query(opened=tuple(name for name in asked.opened if name != option.name)),
        "lands_query": asked.query(opened=(option.name,)),
    }


def _framed(picture: Picture, title: str, description: str, prefix: str) -> str:
    """The picture as SVG in its own size, so that its scale is true on the page."""
    x1, y1, x2, y2 = picture.box
    box = (x1 - EDGE_MM, y1 - EDGE_MM, x2 + EDGE_MM, y2 + EDGE_MM)
    return write_svg(picture, box, title=title, description=description, prefix=prefix)


def _section(option: OptionResult, most_mm: float, prefix: str) -> str | None:
    """The weakest land's print in section, at the largest usual scale that fits."""
    printed = option.geometry.printed
    if not printed.apertures:
        return None
    terminal = weakest(printed)
    for m in SECTION_SCALES:
        picture = section_of(option.geometry.pattern, printed, terminal, magnification=m)
        if picture.width <= most_mm or m == SECTION_SCALES[-1]:
            title = f"{option.name}: print of terminal {terminal} in section, drawn {scale_text(m)}"
            return _framed(picture, title, printed.why, prefix)
    return None


def _window(option: OptionResult, result: StudyResult, most_mm: float, prefix: str) -> str | None:
    """Where foil and reduction print the part; None where nothing is printed."""
    geometry, line, content = option.geometry, result.line, result.content
    window = print_window(geometry.pattern, REDUCTIONS_UM, line.technology, line.powder, outline=geometry.outline)
    if window is None or content.line.reduction > window.reductions_um[-1]:
        return None
    picture = window_picture(
        window, line.foils_um, (content.line.reduction, line.foil_um), wide_mm=min(most_mm, 120.0) - WINDOW_MARGIN_MM
    )
    ends = f"at 0 µm it holds up to {window.holds_um[0]:.0f} µm and fails above {window.works_um[0]:.0f} µm"
    stays = "" if window.moved else "; a maker's own apertures, which no reduction changes"
    return _framed(picture, f"{option.name}: foils and reductions that print it", ends + stays, prefix)


def _top_words(option: OptionResult) -> str:
    width, length = option.geometry.pattern.courtyard_mm
    return f"{option.geometry.outline.terminals} terminals, courtyard {width:g} × {length:g} mm"


def _side_words(option: OptionResult) -> str:
    height = option.geometry.outline.height_mm
    return f"height up to {height.max:g} mm on its lands"


def _figure(figure: Figure, result: StudyResult, asked: Asked) -> dict[str, object]:
    told = shown(figure, asked.units)
    money = result.content.costs.unit
    unit = "" if told.unit == "money" else told.unit
    text = told.text() if told.unit != "money" else f"{told.text('')} {money}"
    limit = "" if told.limit is None else show(told.limit, unit)
    margin = "" if told.margin is None else show(told.margin, unit)
    title = figure_title(figure, result)
    return {
        "key": figure.key,
        "title": title[:1].upper() + title[1:],
        "text": text,
        "limit": limit,
        "limit_source": _source_title(figure.limit_source),
        "margin": margin,
        "verdict": word_of(figure),
        "why": figure.why,
        "steps": [_step(step, money) for step in figure.trail],
    }


def _step(step: Step, money: str) -> dict[str, object]:
    sources = all_sources()
    value = (
        ""
        if step.value is None
        else f"{show(step.value, '')} {money}"
        if step.unit == "money"
        else show(step.value, step.unit)
    )
    return {
        "says": step.says,
        "inputs": [f"{name}: {text}" for name, text in step.inputs.items()],
        "value": value,
        "formula": step.formula if step.formula in all_formulas() else "",
        "formula_query": _formula_query(step),
        "valid": step.valid,
        "sources": [(key, sources[key].title, sources[key].mark) for key in step.sources if key in sources],
    }


def _formula_query(step: Step) -> str:
    """Those of a step's inputs that the formula takes by the same name, so that its page opens filled in."""
    entry = all_formulas().get(step.formula or "")
    if entry is None:
        return ""
    names = {item.name for item in entry.inputs}
    given: Mapping[str, str] = {name: text for name, text in step.inputs.items() if name in names}
    return urlencode(given)


def _source_title(key: str) -> str:
    sources = all_sources()
    return sources[key].title if key in sources else ("the study" if key == "study" else "")
