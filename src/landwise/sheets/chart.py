"""Charts in the look of the drawings: intervals with their limit, area against cost, cost parts, verdicts by foil.

Each returns an SVG document whose size follows from its content; the same data gives the same text.
Meaning is in shape, pattern and word; uncertainty is always drawn where it is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.quantities import show
from landwise.sheets.axis import fitted, number_text
from landwise.sheets.chartaxes import (
    FIGURE_MM,
    LABEL_MOST_MM,
    ROW_MM,
    WIDTH_MM,
    bottom_axis,
    chart_svg,
    limit_line,
)
from landwise.sheets.lettering import line_mm, shortened, width_mm
from landwise.sheets.look import (
    LIGHT,
    SMALL,
    WIDE,
    Stroke,
    Theme,
)
from landwise.sheets.marks import verdict_mark, verdict_width, verdict_word
from landwise.sheets.svg import Mark, Picture, Text, line


@dataclass(frozen=True)
class Interval:
    """One row: a value with its 90 % interval; None where it is not known."""

    label: str
    value: float | None
    low: float | None = None
    high: float | None = None
    verdict: Verdict = "not known"


# Intervals.


def interval_chart(
    rows: Sequence[Interval],
    title: str,
    unit: str = "",
    *,
    limit: float | None = None,
    limit_text: str = "",
    log: bool = False,
    prefix: str = "intervals",
    theme: Theme = LIGHT,
) -> str:
    """Options under one another, each with its value, its 90 % interval and its verdict; the limit as a line.

    Parameters
    ----------
    rows : sequence of Interval
    title, unit : str
        What the axis carries.
    limit : float, optional
        What the values are held to, in the axis' unit, named with its source by `limit_text`.
    log : bool
        Logarithmic axis.
    """
    picture = interval_picture(rows, title, unit, limit=limit, limit_text=limit_text, log=log)
    said = "; ".join(f"{row.label}: {_value_text(row, unit)}, {row.verdict}" for row in rows)
    return chart_svg(picture, title, said, prefix, theme)


def interval_picture(
    rows: Sequence[Interval],
    title: str,
    unit: str = "",
    *,
    limit: float | None = None,
    limit_text: str = "",
    log: bool = False,
) -> Picture:
    """The marks of `interval_chart`."""
    if not rows:
        raise InputError("a chart needs rows", found="none")
    values = [v for row in rows for v in (row.value, row.low, row.high) if v is not None]
    values += [limit] if limit is not None else []
    label = min(LABEL_MOST_MM, max(width_mm(row.label, SMALL) for row in rows)) + 3.0
    texts = [_value_text(row, unit) for row in rows]
    lead = max(verdict_width(row.verdict) for row in rows) + 2.0
    right = lead + max(width_mm(text, SMALL) for text in texts)
    axis = fitted(values or [0.0, 1.0], label, WIDTH_MM - right - 4.0, log=log and bool(values))
    top = line_mm(SMALL) + 1.5 if limit is not None and limit_text else 0.0
    bottom = top + ROW_MM * len(rows)
    marks: list[Mark] = bottom_axis(axis, top, bottom, title, unit)
    pictures: list[Picture] = []
    if limit is not None:
        marks += limit_line(axis, limit, limit_text, top, bottom)
    for number, (row, text) in enumerate(zip(rows, texts, strict=True)):
        y = top + ROW_MM * (number + 0.5)
        base = y + 0.36 * FIGURE_MM
        marks.append(Text(0.0, base, shortened(row.label, label - 3.0, SMALL)))
        x = WIDTH_MM - right
        pictures.append(verdict_word(row.verdict, x, base))
        marks.append(Text(x + lead, base, text, colour="ink" if row.value is not None else "graphite"))
        if row.value is None:
            continue
        if row.low is not None and row.high is not None and row.high > row.low:
            marks += _whisker(axis.at(row.low), axis.at(row.high), y)
        pictures.append(verdict_mark(row.verdict, axis.at(row.value), y, 2.8))
    whole = Picture(tuple(marks))
    for one in pictures:
        whole = whole + one
    return whole


def _whisker(low: float, high: float, y: float) -> list[Mark]:
    pen = Stroke("graphite", WIDE)
    return [
        line([(low, y), (high, y)], pen),
        line([(low, y - 1.3), (low, y + 1.3)], pen),
        line([(high, y - 1.3), (high, y + 1.3)], pen),
    ]


# Two axes.


# Parts of a sum.


# Verdicts by foil.


def _value_text(row: Interval, unit: str) -> str:
    if row.value is None:
        return "no value"
    text = number_text(row.value)
    if row.low is not None and row.high is not None and row.high > row.low:
        text += f" ({number_text(row.low)}…{number_text(row.high)})"
    return text + show(1.0, unit)[1:]
