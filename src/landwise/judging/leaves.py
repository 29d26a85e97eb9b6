"""Where trails end: what the study states, defaults with their reasons, drawings, and rates with their sources."""

from __future__ import annotations

from collections.abc import Callable

from pydantic import BaseModel

from landwise.assembly.lines import REASONS, Line, preset
from landwise.costs.rates import Rate
from landwise.evidence.trails import Given, Step, by_default, chosen, drawn, earlier, rule, stated, taken, worked
from landwise.outlines import Outline
from landwise.study.file import Board, PartTable, StudyFile, Use

# A line's value to its field in the study and its reason.
LINE_FIELDS = {
    "foils_um": ("foils", "um"),
    "foil_um": ("foil", "um"),
    "technology": ("technology", ""),
    "powder": ("powder", ""),
    "steps_allowed": ("steps_allowed", ""),
    "least_pitch_mm": ("least_pitch", "mm"),
    "least_ball_pitch_mm": ("least_ball_pitch", "mm"),
    "inspection": ("inspection", ""),
    "drilled_parts": ("drilled_parts", ""),
    "drilled_soldering": ("drilled_soldering", ""),
    "print_offset_mm": ("print_offset", "mm"),
    "placement_offset_mm": ("placement_offset", "mm"),
}
RULE = "landwise-rule"


def of_study(content: StudyFile, place: str, unit: str = "", value: object = None) -> Given:
    """A field of the study by its place, such as `use.voltage`: stated, or its default with the reason.

    `value` is given where the engine takes the field in another unit or form.
    """
    table, field = place.split(".")
    return _of_table(getattr(content, table), field, place, unit, value)


def of_part(part: PartTable, field: str, unit: str = "", value: object = None) -> Given:
    """A field of a part's table."""
    return _of_table(part, field, f"part {part.refs[0]}, {field}", unit, value)


def _of_table(table: BaseModel, field: str, place: str, unit: str, value: object) -> Given:
    found = getattr(table, field) if value is None else value
    if field in table.model_fields_set:
        return stated(found, place, unit)
    info = type(table).model_fields[field]
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    reason = str(extra.get("reason") or info.description or "not stated")
    return by_default(found, place, reason, str(extra.get("source") or RULE), unit)


def of_line(line: Line, content: StudyFile, own: Line, name: str) -> Given:
    """A value of the line: a shared decision of the board, stated by the study, or of the preset with its reason.

    `own` is the line as the study has it, before the board decided anything.
    """
    field, unit = LINE_FIELDS[name]
    value = getattr(line, name)
    if value != getattr(own, name):
        return chosen(value, f"line.{field}", unit)
    if getattr(content.line, field) is not None:
        return stated(value, f"line.{field}", unit)
    if value != getattr(preset(content.line.preset), name):
        return stated(value, "line.foils", unit)  # the nearest of the foils on hand that the study states
    reason, source = REASONS[field]
    return by_default(value, f"line {line.name}.{field}", reason, source, unit)


def of_outline(outline: Outline) -> Given:
    """A whole outline: its drawing."""
    return drawn(outline, outline.name, outline.sources)


def dimension(outline: Outline, says: str, value: float | tuple[float, float, float], unit: str = "mm") -> Step:
    """A dimension as the drawing has it: a number, or (least, shown, most)."""
    return taken(says, drawn(value, outline.name, outline.sources, unit))


def of_rate(rate: Rate) -> Given:
    """A cost rate with its range."""
    value = (rate.low, rate.value, rate.high)
    if not rate.assumed:
        return stated(value, f"costs.rates.{rate.name}", rate.unit)
    return by_default(value, f"costs.rates.{rate.name}", rate.reason, rate.source, rate.unit)


def of_rule(value: object, name: str, *sources: str, unit: str = "", reason: str = "") -> Given:
    """A constant or a rule of the trade."""
    return rule(value, name, sources or (RULE,), unit, reason)


def board_table(stated_fields: tuple[str, ...], **fields: object) -> Board:
    """The board as the study has it, from its fields."""
    return Board.model_construct(_fields_set=set(stated_fields), **fields)


def use_table(stated_fields: tuple[str, ...], **fields: object) -> Use:
    """The product's life as the study has it, from its fields."""
    return Use.model_construct(_fields_set=set(stated_fields), **fields)


def part_table(stated_fields: tuple[str, ...], **fields: object) -> PartTable:
    """A part as the study has it, from its fields."""
    return PartTable.model_construct(_fields_set=set(stated_fields), **fields)


def study_tables(board: Board, use: Use, parts: tuple[PartTable, ...]) -> StudyFile:
    """A study's board, use and parts, for what follows from these alone."""
    return StudyFile.model_construct(board=board, use=use, part=list(parts))


def board_step(content: StudyFile) -> Step:
    """Every field of the board with its origin."""
    return _table_step(content.board, "board", board_table)


def use_step(content: StudyFile) -> Step:
    """Every field of the product's life with its origin."""
    return _table_step(content.use, "use", use_table)


def study_step(content: StudyFile, board: Step, use: Step) -> Step:
    """The study as figures of service take it."""
    given = {
        "board": earlier(board),
        "use": earlier(use),
        "parts": stated(tuple(content.part), "[[part]]"),
    }
    return worked("the study's board, use and parts", study_tables, given, key="study")


def part_step(part: PartTable) -> Step:
    """Every field of a part with its origin but its price, from which nothing follows that is worked from a part."""
    fields = {name: of_part(part, name) for name in type(part).model_fields if name != "price"}
    values = {name: getattr(part, name) for name in fields}
    unpriced = PartTable.model_construct(_fields_set=part.model_fields_set - {"price"}, **values)
    return _whole(unpriced, f"part {part.refs[0]}", "part", part_table, fields)


def _table_step(table: BaseModel, name: str, by: Callable[..., object]) -> Step:
    fields = {field: _of_table(table, field, f"{name}.{field}", "", None) for field in type(table).model_fields}
    return _whole(table, f"[{name}] of the study", name, by, fields)


def _whole(table: BaseModel, says: str, key: str, by: Callable[..., object], fields: dict[str, Given]) -> Step:
    told = stated(tuple(sorted(table.model_fields_set)), "fields that the study states")
    return worked(says, by, {"stated_fields": told, **fields}, result=table, key=key)
