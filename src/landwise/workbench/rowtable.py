"""The table under the row: the deciding figures and the verdict of each candidate, as plain values for the template."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.evidence.figures import Figure, Verdict
from landwise.sheets.cards import SHOWN, area_text, figure_text, figure_title, why_of
from landwise.studies import OptionResult, PartResult, StudyResult
from landwise.verdicts import verdict_of
from landwise.workbench.asked import Asked
from landwise.workbench.units import area_text as area_in
from landwise.workbench.units import shown

ALWAYS = ("height", *SHOWN)
MOST_MORE = 5  # further figures that tell the candidates apart


@dataclass(frozen=True)
class Cell:
    """One figure of one candidate."""

    text: str
    verdict: Verdict
    why: str


@dataclass(frozen=True)
class Column:
    """One candidate as the table shows it."""

    name: str
    is_choice: bool
    is_present: bool
    feasible: bool
    verdict: Verdict
    why: str
    area: str
    support: str
    open_query: str
    is_open: bool


@dataclass(frozen=True)
class Table:
    """Columns, and rows of (title, cells)."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]


def table_of(options: Sequence[OptionResult], part: PartResult, result: StudyResult, asked: Asked) -> Table:
    """The table of the candidates in the row."""
    columns = tuple(_column(option, part, asked) for option in options)
    rows = []
    for key in _keys(options):
        title = figure_title(options[0].figures[key], result)
        rows.append((title[:1].upper() + title[1:], tuple(_cell(option.figures[key], asked) for option in options)))
    return Table(columns, tuple(rows))


def _keys(options: Sequence[OptionResult]) -> list[str]:
    """The card's figures, and the others in which a candidate does not hold: those decide."""
    keys = list(options[0].figures)
    wanted = set(ALWAYS)
    telling = [key for key in keys if key not in wanted and any(o.figures[key].verdict == "fails" for o in options)]
    telling += [
        key
        for key in keys
        if key not in wanted and key not in telling and any(o.figures[key].verdict == "marginal" for o in options)
    ]
    wanted |= set(telling[:MOST_MORE])
    return [key for key in keys if key in wanted and all(key in option.figures for option in options)]


def _column(option: OptionResult, part: PartResult, asked: Asked) -> Column:
    support = part.ranking.support.get(option.name) if part.ranking else None
    area = area_text(option, part.present)
    if asked.units == "mil":
        area = area_in(option.area_mm2, "mil") + (area.partition(",")[1] + area.partition(",")[2])
    return Column(
        name=option.name,
        is_choice=option is part.chosen,
        is_present=option is part.present,
        feasible=option.feasible,
        verdict=verdict_of(option),
        why=why_of(option),
        area=area,
        support="" if support is None else f"first in {support:.0%} of all weightings",
        open_query=asked.query(opened=asked.toggled(option.name)),
        is_open=option.name in asked.opened,
    )


def _cell(figure: Figure, asked: Asked) -> Cell:
    return Cell(figure_text(shown(figure, asked.units)), figure.verdict, figure.why)
