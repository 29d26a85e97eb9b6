"""Bars: what a sum is made of, and verdicts by foil."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.errors import InputError
from landwise.evidence.figures import VERDICTS, Verdict
from landwise.quantities import show
from landwise.sheets.axis import fitted
from landwise.sheets.chartaxes import (
    BAR_MM,
    FIGURE_MM,
    LABEL_MOST_MM,
    ROW_MM,
    WIDTH_MM,
    bottom_axis,
    chart_svg,
    filled,
    key_of,
)
from landwise.sheets.lettering import line_mm, shortened, width_mm
from landwise.sheets.look import (
    GRID,
    LIGHT,
    SERIES,
    SMALL,
    THIN,
    Theme,
)
from landwise.sheets.marks import verdict_mark, verdict_width, verdict_word
from landwise.sheets.svg import Mark, Picture, Text, line


def stacked_chart(
    rows: Sequence[tuple[str, Sequence[tuple[str, float]]]],
    title: str,
    unit: str = "",
    *,
    prefix: str = "parts",
    theme: Theme = LIGHT,
) -> str:
    """Bars made of parts, with a key in the bars' order and the total at each bar's end.

    Parameters
    ----------
    rows : sequence of (label, sequence of (part, value))
        The same parts in the same order in every row; none below zero.
    """
    picture = stacked_picture(rows, title, unit)
    said = "; ".join(f"{label}: {show(sum(v for _, v in parts), unit)}" for label, parts in rows)
    return chart_svg(picture, title, said, prefix, theme)


def stacked_picture(rows: Sequence[tuple[str, Sequence[tuple[str, float]]]], title: str, unit: str = "") -> Picture:
    """The marks of `stacked_chart`."""
    if not rows:
        raise InputError("a chart needs rows", found="none")
    names = [name for name, _ in rows[0][1]]
    for label, parts in rows:
        if [name for name, _ in parts] != names or any(value < 0 for _, value in parts):
            raise InputError(
                "parts of a bar must be the same in every row and not below zero",
                place=label,
                found=", ".join(f"{name} {value:g}" for name, value in parts),
            )
    totals = [sum(value for _, value in parts) for _, parts in rows]
    label_wide = min(LABEL_MOST_MM, max(width_mm(label, SMALL) for label, _ in rows)) + 3.0
    total_texts = [show(total, unit) for total in totals]
    right = max(width_mm(text, SMALL) for text in total_texts) + 3.0
    axis = fitted([*totals, 0.0], label_wide, WIDTH_MM - right)
    key, top = key_of(names)
    bottom = top + ROW_MM * len(rows)
    marks = [*bottom_axis(axis, top, bottom, title, unit), *key]
    for number, (label, parts) in enumerate(rows):
        y = top + ROW_MM * (number + 0.5)
        marks.append(Text(0.0, y + 0.36 * FIGURE_MM, shortened(label, label_wide - 3.0, SMALL)))
        done = 0.0
        for at, (_, value) in enumerate(parts):
            if value > 0:
                box = (axis.at(done), y - BAR_MM / 2, axis.at(done + value), y + BAR_MM / 2)
                marks += filled(box, SERIES[at % len(SERIES)])
                done += value
        marks.append(Text(axis.at(done) + 1.6, y + 0.36 * FIGURE_MM, total_texts[number]))
    return Picture(tuple(marks))


def verdict_chart(
    rows: Sequence[tuple[str, Sequence[Verdict]]],
    columns: Sequence[str],
    title: str,
    *,
    prefix: str = "verdicts",
    theme: Theme = LIGHT,
) -> str:
    """A strip of verdicts for each option: one column for each foil (or whatever the heads name)."""
    said = "; ".join(
        f"{label}: " + ", ".join(f"{c} {v}" for c, v in zip(columns, verdicts, strict=True)) for label, verdicts in rows
    )
    return chart_svg(verdict_picture(rows, columns, title), title, said, prefix, theme)


def verdict_picture(rows: Sequence[tuple[str, Sequence[Verdict]]], columns: Sequence[str], title: str) -> Picture:
    """The marks of `verdict_chart`: shape and word in every cell, or shapes with a key where columns are many."""
    for label, verdicts in rows:
        if len(verdicts) != len(columns):
            raise InputError(
                "a row needs a verdict for every column",
                place=label,
                found=str(len(verdicts)),
                expected=str(len(columns)),
            )
    if not rows or not columns:
        raise InputError("a chart needs rows and columns", found="none")
    label_wide = min(LABEL_MOST_MM, max(width_mm(label, SMALL) for label, _ in rows)) + 4.0
    head = max(width_mm(column, SMALL, "bold") for column in columns)
    word = max(verdict_width(verdict) for _, verdicts in rows for verdict in verdicts)
    room = (WIDTH_MM - label_wide) / len(columns)
    worded = max(word, head) + 3.0 <= room
    step = min(room, max(word if worded else 4.0, head) + 6.0)
    top = line_mm(SMALL) * 2 + 1.0
    right = label_wide + step * len(columns)
    marks: list[Mark] = [
        Text(label_wide, 0.8 * line_mm(SMALL), shortened(title, WIDTH_MM - label_wide, SMALL), colour="graphite")
    ]
    pictures: list[Picture] = []
    for at, column in enumerate(columns):
        marks.append(Text(label_wide + step * at, top - 1.4, shortened(column, step - 1.0, SMALL, "bold"), font="bold"))
    marks.append(line([(0.0, top), (right, top)], THIN))
    for number, (label, verdicts) in enumerate(rows):
        y = top + ROW_MM * (number + 0.5)
        base = y + 0.36 * FIGURE_MM
        marks.append(Text(0.0, base, shortened(label, label_wide - 4.0, SMALL)))
        for at, verdict in enumerate(verdicts):
            x = label_wide + step * at
            pictures.append(verdict_word(verdict, x, base) if worded else verdict_mark(verdict, x + 1.4, y, 2.6))
        marks.append(line([(0.0, y + ROW_MM / 2), (right, y + ROW_MM / 2)], GRID))
    if not worded:
        x, base = 0.0, top + ROW_MM * len(rows) + 6.0
        for verdict in VERDICTS:
            pictures.append(verdict_word(verdict, x, base))
            x += verdict_width(verdict) + 6.0
    whole = Picture(tuple(marks))
    for one in pictures:
        whole = whole + one
    return whole
