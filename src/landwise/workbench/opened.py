"""One option opened: its views at a larger scale, the print in section, the foils, every figure with its trail."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from landwise.evidence import all_formulas, all_sources
from landwise.evidence.figures import Figure, Step
from landwise.quantities import show
from landwise.sheets.cards import candidate_of, figure_title, why_of
from landwise.sheets.chart import chart_svg
from landwise.sheets.marks import mm_rule, scale_text
from landwise.sheets.pictures import section_svg
from landwise.sheets.plan import PART, top_view
from landwise.sheets.profile import SCHEMATIC, side_view
from landwise.studies import OptionResult, PartResult, StudyResult
from landwise.verdicts import verdict_of
from landwise.workbench.asked import Asked
from landwise.workbench.row import PX_PER_MM, SCALES
from landwise.workbench.units import shown

MOST_WIDE_MM, MOST_HIGH_MM = 170.0, 90.0
NUMERALS_MM = 12.0  # for the terminals' numbers at both sides


def opened(
    option: OptionResult, part: PartResult, result: StudyResult, asked: Asked, number: int, room_px: float
) -> dict[str, Any]:
    """What the page shows of one opened option in half of the room; `number` keeps the drawings' ids apart."""
    one = candidate_of(option, part, result)
    prefix = f"open{number}"
    wide, high = one.pattern.courtyard_mm
    most = min(room_px / 2 / PX_PER_MM - NUMERALS_MM, MOST_WIDE_MM)
    m = next((s for s in SCALES if wide * s <= most and high * s <= MOST_HIGH_MM), SCALES[-1])
    top = top_view(one.outline, one.pattern, one.print_, magnification=m, layers=(*PART, "numerals"))
    rule = mm_rule(int(wide) or 1.0, m).moved(-wide * m / 2, top.box[3] + 3.0)
    side = side_view(one.outline, one.pattern, one.print_, magnification=m, solder=one.solder)
    window = option.geometry.window
    return {
        "name": option.name,
        "verdict": verdict_of(option),
        "why": why_of(option),
        "is_choice": option is part.chosen,
        "scale": scale_text(m),
        "top": chart_svg(top + rule, f"{option.name} from above, drawn {scale_text(m)}", _top_words(option), f"{prefix}-top"),
        "side": chart_svg(side.picture, f"{option.name} from the side, drawn {scale_text(m)}", _side_words(option), f"{prefix}-side"),
        "solder": SCHEMATIC if side.schematic else "solder as computed, to scale",
        "section": section_svg(option, f"{prefix}-section"),
        "printed": option.geometry.printed.why,
        "foils": [(f"{um:g}\u2009µm", verdict, um == result.line.foil_um) for um, verdict in window.verdicts],
        "figures": [_figure(figure, result, asked) for figure in option.figures.values()],
        "close_query": asked.query(opened=tuple(name for name in asked.opened if name != option.name)),
        "lands_query": asked.query(opened=(option.name,)),
    }  # fmt: skip


def _top_words(option: OptionResult) -> str:
    width, length = option.geometry.pattern.courtyard_mm
    return f"{option.geometry.outline.terminals} terminals, courtyard {width:g} × {length:g} mm"


def _side_words(option: OptionResult) -> str:
    height = option.geometry.outline.height_mm
    return f"height up to {height.max:g} mm on its lands"


def _figure(figure: Figure, result: StudyResult, asked: Asked) -> dict[str, Any]:
    told = shown(figure, asked.units)
    money = result.content.costs.unit
    unit = "" if told.unit == "money" else told.unit
    text = told.text() if told.unit != "money" else _money(told, money)
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
        "verdict": figure.verdict,
        "why": figure.why,
        "steps": [_step(step, money) for step in figure.trail],
    }


def _money(figure: Figure, unit: str) -> str:
    from dataclasses import replace

    return f"{replace(figure, unit='').text()} {unit}"


def _step(step: Step, money: str) -> dict[str, Any]:
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
