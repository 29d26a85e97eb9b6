"""The table under the row: the deciding figures and the verdict of each candidate, as plain values for the template."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.evidence.figures import Figure, Verdict
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.results.ratetable import against_lines, rate_table
from landwise.results.rowmarks import taken_with
from landwise.results.verdict import verdict_of, word_of
from landwise.sheets.cards import SHOWN, area_text, figure_text, figure_title, why_of
from landwise.workbench.asked import Asked
from landwise.workbench.units import area_text as area_in
from landwise.workbench.units import shown

ALWAYS = ("height", *SHOWN)
MOST_MORE = 5  # further figures that tell the candidates apart


@dataclass(frozen=True)
class Cell:
    """One figure of one candidate."""

    text: str
    verdict: Verdict | None
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
    """Columns, rows of (title, cells), and how often joints fail over those of one package.

    `against` holds lines for each column, under `against_title`; empty where no two packages are printed.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, tuple[Cell | None, ...]], ...]
    against_title: str = ""
    against: tuple[tuple[str, ...], ...] = ()
    left_out: str = ""


def table_of(options: Sequence[OptionResult], part: PartResult, result: StudyResult, asked: Asked) -> Table:
    """The table of the candidates in the row."""
    columns = tuple(_column(option, part, asked) for option in options)
    rows = []
    for key in _keys(options):
        first = next(option.figures[key] for option in options if key in option.figures)
        title = figure_title(first, result)
        cells = tuple(_cell(option.figures.get(key), asked) for option in options)
        rows.append((_capital(title), cells))
    rates = rate_table(part)
    if len(rates.rows) < 2:
        return Table(columns, tuple(rows))
    against = tuple(against_lines(rates.by_name.get(option.name)) for option in options)
    return Table(columns, tuple(rows), _capital(rates.head), against, rates.left_out_of_all)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _keys(options: Sequence[OptionResult]) -> list[str]:
    """The card's figures, and the others in which a candidate does not hold: those decide."""
    keys = list(dict.fromkeys(key for option in options for key in option.figures))

    def anywhere(key: str, verdict: Verdict) -> bool:
        return any(key in option.figures and option.figures[key].verdict == verdict for option in options)

    others = [key for key in keys if key not in ALWAYS]
    telling = [key for key in others if anywhere(key, "fails")]
    telling += [key for key in others if key not in telling and anywhere(key, "marginal")]
    shown_keys = {*ALWAYS, *telling[:MOST_MORE]}
    return [key for key in keys if key in shown_keys]


def _column(option: OptionResult, part: PartResult, asked: Asked) -> Column:
    support = part.standing.wins.get(option.name) if part.standing else None
    area = area_text(option, part.present)
    if asked.units == "mil":
        area = area_in(option.area_mm2, "mil") + (area.partition(",")[1] + area.partition(",")[2])
    return Column(
        name=option.name,
        is_choice=option is part.chosen,
        is_present=option is part.present,
        feasible=option.feasible,
        verdict=verdict_of(option),
        why="; ".join((*taken_with(option, part), why_of(option))),
        area=area,
        support="" if support is None else f"cheapest in {support:.0%} of draws",
        open_query=asked.query(opened=asked.toggled(option.name)),
        is_open=option.name in asked.opened,
    )


def _cell(figure: Figure | None, asked: Asked) -> Cell | None:
    """None where packages of this kind have no such figure."""
    if figure is None:
        return None
    told = shown(figure, asked.units)
    text = figure_text(figure) if told.unit == figure.unit else told.text()
    return Cell(text if figure.value is not None else "–", word_of(figure), figure.why)
