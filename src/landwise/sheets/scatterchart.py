"""One quantity against another: spots with labels placed where they hide nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.quantities import show
from landwise.sheets.axis import Axis, fitted, number_text
from landwise.sheets.chartaxes import (
    FIGURE_MM,
    WIDTH_MM,
    Segment,
    bottom_axis,
    chart_svg,
)
from landwise.sheets.lettering import line_mm, shortened, width_mm, wrapped
from landwise.sheets.look import (
    FINE,
    LIGHT,
    NARROW,
    SMALL,
    THIN,
    WIDE,
    Stroke,
    Theme,
)
from landwise.sheets.marks import verdict_mark
from landwise.sheets.svg import Area, Box, Disc, Mark, Picture, Text, line


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
    marks = bottom_axis(flat, top, top + height_mm, x_title, x_unit, grid=False)
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
