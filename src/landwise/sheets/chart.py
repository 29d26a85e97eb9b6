"""Charts in the look of the drawings: intervals with their limit, area against cost, cost parts, verdicts by foil.

Each returns an SVG document whose size follows from its content; the same data gives the same text.
Meaning is in shape, pattern and word; uncertainty is always drawn where it is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.evidence.figures import VERDICTS, Verdict
from landwise.quantities import show
from landwise.sheets.axis import Axis, fitted, number_text
from landwise.sheets.lettering import line_mm, shortened, width_mm, wrapped
from landwise.sheets.look import (
    DASHED,
    FINE,
    GRID,
    LIGHT,
    MM_PER_PT,
    NARROW,
    SERIES,
    SMALL,
    THIN,
    WIDE,
    Stroke,
    Theme,
)
from landwise.sheets.marks import verdict_mark, verdict_width, verdict_word
from landwise.sheets.svg import Area, Box, Disc, Mark, Picture, Text, line, rectangle, write_svg

WIDTH_MM = 172.0  # of a chart: the text width of an A4 page with 19 mm margins
ROW_MM = 7.4
BAR_MM = 4.6
LABEL_MOST_MM = 52.0
EDGE_MM = 2.0
FIGURE_MM = SMALL * MM_PER_PT
Segment = tuple[float, float, float, float]
LIMIT = Stroke("brick", NARROW, DASHED)


@dataclass(frozen=True)
class Interval:
    """One row: a value with its 90 % interval; None where it is not known."""

    label: str
    value: float | None
    low: float | None = None
    high: float | None = None
    verdict: Verdict = "not known"


@dataclass(frozen=True)
class Spot:
    """One option in the plane, with its intervals where they are known."""

    label: str
    x: float
    y: float
    x_range: tuple[float, float] | None = None
    y_range: tuple[float, float] | None = None
    verdict: Verdict = "not known"
    is_choice: bool = False


def chart_svg(picture: Picture, title: str, description: str, prefix: str, theme: Theme = LIGHT) -> str:
    """Wrap a chart's picture into an SVG with a narrow edge around it."""
    x1, y1, x2, y2 = picture.box
    box = (x1 - EDGE_MM, y1 - EDGE_MM, max(x2, x1 + WIDTH_MM) + EDGE_MM, y2 + EDGE_MM)
    return write_svg(picture, box, title=title, description=description, prefix=prefix, theme=theme)


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
    marks: list[Mark] = _bottom_axis(axis, top, bottom, title, unit)
    pictures: list[Picture] = []
    if limit is not None:
        marks += _limit(axis, limit, limit_text, top, bottom)
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


def _value_text(row: Interval, unit: str) -> str:
    if row.value is None:
        return "no value"
    text = number_text(row.value)
    if row.low is not None and row.high is not None and row.high > row.low:
        text += f" ({number_text(row.low)}…{number_text(row.high)})"
    return text + show(1.0, unit)[1:]


def _whisker(low: float, high: float, y: float) -> list[Mark]:
    pen = Stroke("graphite", WIDE)
    return [
        line([(low, y), (high, y)], pen),
        line([(low, y - 1.3), (low, y + 1.3)], pen),
        line([(high, y - 1.3), (high, y + 1.3)], pen),
    ]


def _bottom_axis(axis: Axis, top: float, bottom: float, title: str, unit: str, *, grid: bool = True) -> list[Mark]:
    marks: list[Mark] = []
    said = title + (f" [{show(1.0, unit)[2:]}]" if unit else "")
    taken = -math.inf
    base = bottom + 1.6 + FIGURE_MM
    for tick in axis.ticks():
        x, text = axis.at(tick), number_text(tick, 4)
        half = width_mm(text, SMALL) / 2
        if grid:
            marks.append(line([(x, top), (x, bottom)], GRID))
        if x - half > taken + 1.0:
            marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
            marks.append(Text(x, base, text, colour="graphite", anchor="middle"))
            taken = x + half
    marks.append(line([(axis.start, bottom), (axis.end, bottom)], THIN))
    wide = WIDTH_MM - axis.start
    for number, part in enumerate(wrapped(said, wide, SMALL)):
        marks.append(Text(axis.start, base + line_mm(SMALL) * (number + 1.1), part, colour="graphite"))
    return marks


def _limit(axis: Axis, limit: float, text: str, top: float, bottom: float) -> list[Mark]:
    x = axis.at(limit)
    marks: list[Mark] = [line([(x, top - 0.8), (x, bottom)], LIMIT)]
    if text:
        wide = width_mm(text, SMALL)
        middle = min(max(x, wide / 2), WIDTH_MM - wide / 2)
        cut = shortened(text, WIDTH_MM, SMALL)
        marks.append(Text(middle, top - 1.8, cut, colour="brick", anchor="middle"))
    return marks


# Two axes.


def scatter_chart(
    spots: Sequence[Spot],
    x_title: str,
    y_title: str,
    *,
    x_unit: str = "",
    y_unit: str = "",
    height_mm: float = 95.0,
    prefix: str = "scatter",
    theme: Theme = LIGHT,
) -> str:
    """Options in the plane of two figures, labelled directly; the choice has a ring around it."""
    picture = scatter_picture(spots, x_title, y_title, x_unit=x_unit, y_unit=y_unit, height_mm=height_mm)
    said = "; ".join(
        f"{s.label}: {show(s.x, x_unit)}, {show(s.y, y_unit)}, {s.verdict}{', the choice' if s.is_choice else ''}"
        for s in spots
    )
    return chart_svg(picture, f"{y_title} against {x_title}", said, prefix, theme)


def scatter_picture(
    spots: Sequence[Spot],
    x_title: str,
    y_title: str,
    *,
    x_unit: str = "",
    y_unit: str = "",
    height_mm: float = 95.0,
) -> Picture:
    """The marks of `scatter_chart`."""
    if not spots:
        raise InputError("a chart needs spots", found="none")
    ys = [v for s in spots for v in (s.y, *(s.y_range or ()))]
    xs = [v for s in spots for v in (s.x, *(s.x_range or ()))]
    top = line_mm(SMALL) + 2.0
    upright = fitted(ys, top + height_mm, top, zero=False)
    left = max(width_mm(number_text(tick, 4), SMALL) for tick in upright.ticks()) + 2.5
    flat = fitted(xs, left, WIDTH_MM - 2.0, zero=False)
    marks = _bottom_axis(flat, top, top + height_mm, x_title, x_unit, grid=False)
    for tick in upright.ticks():
        y = upright.at(tick)
        marks.append(line([(left - 1.2, y), (left, y)], THIN))
        marks.append(Text(left - 1.8, y + 0.36 * FIGURE_MM, number_text(tick, 4), colour="graphite", anchor="end"))
    marks.append(line([(left, top), (left, top + height_mm)], THIN))
    said = y_title + (f" [{show(1.0, y_unit)[2:]}]" if y_unit else "")
    marks.append(Text(0.0, line_mm(SMALL) - 1.0, shortened(said, WIDTH_MM, SMALL), colour="graphite"))
    places = [(flat.at(s.x), upright.at(s.y)) for s in spots]
    whole = Picture(tuple(marks))
    whiskers: list[Box] = []
    for spot, (x, y) in zip(spots, places, strict=True):
        drawn = _spot(spot, x, y, flat, upright)
        whiskers += [mark.box for mark in drawn.marks if isinstance(mark, Area) and not mark.closed]
        whole = whole + drawn
    field = (left + 0.5, top + 0.5, WIDTH_MM - 0.5, top + height_mm - 0.5)
    return whole + Picture(tuple(place_labels([s.label for s in spots], places, field, whiskers)))


def _spot(spot: Spot, x: float, y: float, flat: Axis, upright: Axis) -> Picture:
    marks: list[Mark] = []
    pen = Stroke("graphite", NARROW)
    if spot.x_range:
        marks.append(line([(flat.at(spot.x_range[0]), y), (flat.at(spot.x_range[1]), y)], pen))
    if spot.y_range:
        marks.append(line([(x, upright.at(spot.y_range[0])), (x, upright.at(spot.y_range[1]))], pen))
    picture = Picture(tuple(marks)) + verdict_mark(spot.verdict, x, y, 2.8)
    if spot.is_choice:
        picture = picture + Picture((Disc(x, y, 2.6, "", Stroke("ink", WIDE)),))
    return picture


def place_labels(
    labels: Sequence[str],
    places: Sequence[tuple[float, float]],
    field: Box,
    keep_clear: Sequence[Box] = (),
    reach: float = 2.9,
) -> list[Mark]:
    """Labels near their spots that touch neither each other, nor a spot, nor what is to be kept clear.

    A thin line leads to those that are set off.

    Places are tried around the spot in widening rings, in a fixed order. A label for which the field has no
    room is listed below it instead, with its place in words left to the caller's table.
    """
    spots: list[Box] = [(x - reach, y - reach, x + reach, y + reach) for x, y in places]
    taken: list[Box] = [*keep_clear, *spots]
    leaders: list[Segment] = []
    marks: list[Mark] = []
    homeless: list[str] = []
    for label, (x, y) in zip(labels, places, strict=True):
        labelled = taken[len(keep_clear) + len(spots) :]
        found = _free_place(label, x, y, field, taken, labelled, leaders, reach)
        if found is None:
            homeless.append(label)
            continue
        text, leader = found
        taken.append(text.box)
        if leader is not None:
            leaders.append(leader)
            marks.append(line([leader[:2], leader[2:]], Stroke("graphite", FINE)))
        marks.append(text)
    if homeless:
        y = field[3] + 1.6 + FIGURE_MM + line_mm(SMALL) * 2.6
        for text_line in wrapped("Not labelled for want of room: " + ", ".join(homeless), WIDTH_MM, SMALL):
            marks.append(Text(0.0, y, text_line, colour="graphite"))
            y += line_mm(SMALL)
    return marks


def _free_place(
    label: str,
    x: float,
    y: float,
    field: Box,
    taken: Sequence[Box],
    labelled: Sequence[Box],
    leaders: Sequence[Segment],
    reach: float,
) -> tuple[Text, Segment | None] | None:
    wide, half = width_mm(label, SMALL), 0.5 * FIGURE_MM
    for ring in range(24):
        away = reach + 0.5 + ring * 1.6
        for angle in range(0, 360, 15 if ring else 45):
            dx, dy = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
            # The box's near edge touches the ring: to the right at 0°, centred above at 90°.
            left = x + dx * away + (dx - 1) / 2 * wide
            text = Text(left, y + dy * (away + half) + 0.36 * FIGURE_MM, label)
            box = text.box
            inside = box[0] >= field[0] and box[2] <= field[2] and box[1] >= field[1] and box[3] <= field[3]
            if not inside or any(_touch(box, other) for other in taken):
                continue
            leader = _leader(x, y, box) if ring else None
            if any(_through(one, box) for one in leaders):
                continue
            if leader is None or not any(_through(leader, other) for other in labelled):
                return text, leader
    return None


def _leader(x: float, y: float, box: Box) -> Segment:
    """A line from the edge of a spot to the nearest point of its label."""
    near_x, near_y = min(max(x, box[0]), box[2]), min(max(y, box[1] + 0.1), box[3] - 0.1)
    away = math.hypot(near_x - x, near_y - y)
    return x + (near_x - x) * 1.9 / away, y + (near_y - y) * 1.9 / away, near_x, near_y


def _through(segment: Segment, box: Box) -> bool:
    """Whether a line enters a box, seen at 0.3 mm steps."""
    x1, y1, x2, y2 = segment
    steps = max(2, math.ceil(math.hypot(x2 - x1, y2 - y1) / 0.3))
    return any(
        box[0] < x1 + (x2 - x1) * n / steps < box[2] and box[1] < y1 + (y2 - y1) * n / steps < box[3]
        for n in range(steps + 1)
    )


def _touch(one: Box, other: Box, air: float = 0.4) -> bool:
    return one[0] < other[2] + air and other[0] < one[2] + air and one[1] < other[3] + air and other[1] < one[3] + air


# Parts of a sum.


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
    key, top = _key(names)
    bottom = top + ROW_MM * len(rows)
    marks = [*_bottom_axis(axis, top, bottom, title, unit), *key]
    for number, (label, parts) in enumerate(rows):
        y = top + ROW_MM * (number + 0.5)
        marks.append(Text(0.0, y + 0.36 * FIGURE_MM, shortened(label, label_wide - 3.0, SMALL)))
        done = 0.0
        for at, (_, value) in enumerate(parts):
            if value > 0:
                box = (axis.at(done), y - BAR_MM / 2, axis.at(done + value), y + BAR_MM / 2)
                marks += _filled(box, SERIES[at % len(SERIES)])
                done += value
        marks.append(Text(axis.at(done) + 1.6, y + 0.36 * FIGURE_MM, total_texts[number]))
    return Picture(tuple(marks))


def _filled(box: Box, fill: str) -> list[Mark]:
    ground: list[Mark] = [rectangle(box, "body")] if "/" in fill else []
    return [*ground, rectangle(box, fill, THIN)]


def _key(names: Sequence[str]) -> tuple[list[Mark], float]:
    """Swatches with names, in lines, and where the plot may begin."""
    marks: list[Mark] = []
    x, y = 0.0, 0.0
    for at, name in enumerate(names):
        text = shortened(name, WIDTH_MM - 8.0, SMALL)
        need = 7.0 + width_mm(text, SMALL) + 6.0
        if x > 0 and x + need - 6.0 > WIDTH_MM:
            x, y = 0.0, y + line_mm(SMALL) + 0.8
        marks += _filled((x, y + 0.4, x + 5.5, y + 3.6), SERIES[at % len(SERIES)])
        marks.append(Text(x + 7.0, y + 0.4 + FIGURE_MM * 0.87, text, colour="graphite"))
        x += need
    return marks, y + line_mm(SMALL) + 3.0


# Verdicts by foil.


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
