"""The report's tables as a spreadsheet, one sheet a table, for those who sort and filter."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from landwise.board.result import BoardResult
from landwise.extras import SPREADSHEETS
from landwise.judging.results import OptionResult, PartResult
from landwise.results.answer import board_sure, sure_line
from landwise.results.inputwords import input_says
from landwise.results.verdict import verdict_of, word_of
from landwise.sheets.frontpage import sentences
from landwise.sheets.sourcelist import used_sources
from landwise.untyped import Untyped

Cell = str | float | int | None
WIDEST = 60  # characters of a column
# A spreadsheet states when it was made; a fixed day keeps the same input to the same bytes.
MADE = datetime(2000, 1, 1)


@dataclass(frozen=True)
class Sheet:
    """One table: its name, its heads with units, its rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def workbook(result: BoardResult) -> bytes:
    """Every table of the report as an `.xlsx` file.

    Raises
    ------
    ExtraError
        Where the extra that writes it is not installed.

    Notes
    -----
    Whatever came from a bill or a study is written as text, never as a formula, a link or a number: a reference such
    as `=1+1` stands there as it was read. Numbers are ours alone.
    """
    return _written(sheets_of(result))


def sheets_of(result: BoardResult) -> list[Sheet]:
    """The tables as plain data."""
    return [
        Sheet("answer", ("question", "answer"), sentences(result)),
        _parts(result),
        _options(result),
        _figures(result),
        _rates(result),
        *_choice(result),
        *_scenarios(result),
        Sheet(
            "sources",
            ("source", "where", "how far it was read"),
            [(one.title, one.where, one.mark) for one in used_sources(result)],
        ),
    ]


def _scenarios(result: BoardResult) -> list[Sheet]:
    found, unit = result.scenarios, result.content.costs.unit
    if found is None:
        return []
    heads = (
        "scenario",
        "differs",
        "its own best",
        "shares on it",
        f"its cost [{unit}]",
        f"least worst regret costs [{unit}]",
        "shares",
        f"regret [{unit}]",
        f"regret of cheapest on average [{unit}]",
    )
    rows: list[list[Cell]] = [
        [
            row.name,
            ", ".join(row.differs),
            ", ".join(f"{ref} {name}" for ref, name in row.own.items()),
            row.own_decision,
            row.own_cost,
            row.cost,
            row.decision,
            row.regret,
            row.expected,
        ]
        for row in found.rows
    ]
    return [Sheet("scenarios", heads, rows)]


def _parts(result: BoardResult) -> Sheet:
    unit = result.content.costs.unit
    answers = {one.part: one for one in (result.choice.answer.parts if result.choice and result.choice.answer else ())}
    rows: list[list[Cell]] = []
    for part in result.parts:
        was, now = part.present, part.chosen
        answer = answers.get(part.part.refs[0])
        rows.append(
            [
                ", ".join(part.part.refs),
                part.count,
                part.part.number,
                part.part.function,
                part.terminals,
                was.name if was else "",
                now.name if now else "",
                was.area_mm2 * part.count if was else None,
                now.area_mm2 * part.count if now else None,
                verdict_of(now) if now else "not known",
                answer.kind if answer else "",
                answer.probability if answer else None,
                sure_line(answer, part, unit) if answer else "",
                part.says,
                part.runner_up,
            ]
        )
    heads = (
        "references",
        "count",
        "number",
        "function",
        "terminals",
        "today",
        "choice",
        "area today, mm²",
        "area after, mm²",
        "print",
        "answer",
        "cheapest in, share of draws",
        "how sure",
        "why",
        "runner-up",
    )
    return Sheet("parts", heads, rows)


def _options(result: BoardResult) -> Sheet:
    rows: list[list[Cell]] = []
    for part in result.parts:
        standing = part.standing
        for option in part.options:
            outline = option.geometry.outline
            rows.append(
                [
                    part.part.refs[0],
                    option.name,
                    "choice" if option is part.chosen else "today" if option is part.present else "",
                    verdict_of(option),
                    option.area_mm2,
                    outline.height_mm.max,
                    outline.pitch_mm,
                    option.price,
                    option.cost.total,
                    standing.more.get(option.name) if standing else None,
                    standing.low.get(option.name) if standing else None,
                    standing.high.get(option.name) if standing else None,
                    standing.wins.get(option.name) if standing else None,
                    standing.under.get(option.name, "") if standing else "",
                    option.supply.state,
                    "; ".join(f"{one.limit}: {one.says}" for one in option.rejections),
                ]
            )
    unit = result.content.costs.unit
    heads = (
        "part",
        "outline",
        "role",
        "verdict",
        "area, mm²",
        "height, mm",
        "pitch, mm",
        f"price of one, {unit}",
        f"cost on one board, {unit}",
        f"board costs more by, {unit}",
        "more, 5 %",
        "more, 95 %",
        "cheapest in, share of draws",
        "compared with",
        "supply",
        "out by",
    )
    return Sheet("options", heads, rows)


def _figures(result: BoardResult) -> Sheet:
    rows: list[list[Cell]] = [
        [
            part.part.refs[0],
            option.name,
            figure.key,
            figure.title,
            figure.value,
            figure.low,
            figure.high,
            figure.text(),
            figure.limit,
            word_of(figure) or "",
            figure.why,
        ]
        for part in result.parts
        for option in _figured(part)
        for figure in option.figures.values()
    ]
    heads = ("part", "outline", "key", "figure", "value", "5 %", "95 %", "with unit", "limit", "verdict", "why")
    return Sheet("figures", heads, rows)


def _figured(part: PartResult) -> list[OptionResult]:
    """Options whose figures are listed: the choice, the one in use, and all that keep the limits."""
    first = [option for option in (part.chosen, part.present) if option is not None]
    return list({one.name: one for one in (*first, *(one for one in part.options if one.feasible))}.values())


def _rates(result: BoardResult) -> Sheet:
    rows: list[list[Cell]] = [
        [rate.name, rate.value, rate.low, rate.high, rate.unit, "assumption" if rate.assumed else "stated", rate.reason]
        for rate in result.rates.values()
    ]
    return Sheet("rates", ("rate", "value", "low", "high", "unit", "origin", "reason"), rows)


def _choice(result: BoardResult) -> list[Sheet]:
    choice = result.choice
    if choice is None:
        return []
    answer, unit = choice.answer, result.content.costs.unit
    names = [part.name for part in choice.model.parts]
    steps = Sheet(
        "changes",
        ("changes", "parts", f"saved, {unit}", "shared by all"),
        [
            [
                step.changes,
                ", ".join(names[p] for p in step.changed),
                step.saved,
                choice.model.says(step.found.decision),
            ]
            for step in choice.steps
        ],
    )
    points: list[list[Cell]] = [
        [number, *point.values, ", ".join(choice.differences(point.found)) or "the choice"]
        for number, point in enumerate(choice.points, start=1)
    ]
    curve = Sheet("trade-off", ("no.", *choice.axes, "otherwise than the choice"), points)
    known: list[list[Cell]] = []
    if answer is not None:
        known.append(["the board", board_sure(result), answer.everything, None])
        known += [
            [one.part, input_says(w.input, w.part), w.saves, w.over_run] for one in answer.parts for w in one.inputs
        ]
    worth = Sheet("worth knowing", ("part", "input", f"saves, {unit} a board", "over the run"), known)
    return [steps, curve, worth]


def _written(sheets: Sequence[Sheet]) -> bytes:
    SPREADSHEETS.need()
    import xlsxwriter

    target = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(target, options)
    book.set_properties({"created": MADE})
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    for sheet in sheets:
        page = book.add_worksheet(sheet.name)
        page.freeze_panes(1, 1)
        for column, head in enumerate(sheet.heads):
            page.write_string(0, column, head, bold)
            widest = max((len(_said(row[column])) for row in sheet.rows), default=0)
            page.set_column(column, column, min(WIDEST, max(10, widest + 2)))
        for number, row in enumerate(sheet.rows, start=1):
            for column, cell in enumerate(row):
                _put(page, number, column, cell)
        if sheet.rows:
            page.autofilter(0, 0, len(sheet.rows), len(sheet.heads) - 1)
    book.close()
    return target.getvalue()


def _said(cell: Cell) -> str:
    return f"{cell:.6g}" if isinstance(cell, float) else "" if cell is None else str(cell)


def _put(page: Untyped, row: int, column: int, cell: Cell) -> None:
    if cell is None or cell == "":
        return
    if isinstance(cell, str):
        page.write_string(row, column, cell)
    elif math.isfinite(cell):
        page.write_number(row, column, float(cell))
    else:
        page.write_string(row, column, str(cell))
