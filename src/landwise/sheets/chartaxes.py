"""What all charts share: their width, the axis below, a limit, the key, and the writer."""

from __future__ import annotations

import math
from collections.abc import Sequence

from landwise.quantities import show
from landwise.sheets.axis import Axis, number_text
from landwise.sheets.lettering import line_mm, shortened, width_mm, wrapped
from landwise.sheets.look import (
    DASHED,
    GRID,
    LIGHT,
    MM_PER_PT,
    NARROW,
    SERIES,
    SMALL,
    THIN,
    Stroke,
    Theme,
)
from landwise.sheets.svg import Box, Mark, Picture, Text, line, rectangle, write_svg

WIDTH_MM = 172.0  # of a chart: the text width of an A4 page with 19 mm margins


ROW_MM = 7.4


BAR_MM = 4.6


LABEL_MOST_MM = 52.0


EDGE_MM = 2.0


FIGURE_MM = SMALL * MM_PER_PT


Segment = tuple[float, float, float, float]


LIMIT = Stroke("brick", NARROW, DASHED)


def chart_svg(picture: Picture, title: str, description: str, prefix: str, theme: Theme = LIGHT) -> str:
    """Wrap a chart's picture into an SVG with a narrow edge around it."""
    x1, y1, x2, y2 = picture.box
    box = (x1 - EDGE_MM, y1 - EDGE_MM, max(x2, x1 + WIDTH_MM) + EDGE_MM, y2 + EDGE_MM)
    return write_svg(picture, box, title=title, description=description, prefix=prefix, theme=theme)


def bottom_axis(axis: Axis, top: float, bottom: float, title: str, unit: str, *, grid: bool = True) -> list[Mark]:
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


def limit_line(axis: Axis, limit: float, text: str, top: float, bottom: float) -> list[Mark]:
    x = axis.at(limit)
    marks: list[Mark] = [line([(x, top - 0.8), (x, bottom)], LIMIT)]
    if text:
        wide = width_mm(text, SMALL)
        middle = min(max(x, wide / 2), WIDTH_MM - wide / 2)
        cut = shortened(text, WIDTH_MM, SMALL)
        marks.append(Text(middle, top - 1.8, cut, colour="brick", anchor="middle"))
    return marks


def filled(box: Box, fill: str) -> list[Mark]:
    ground: list[Mark] = [rectangle(box, "body")] if "/" in fill else []
    return [*ground, rectangle(box, fill, THIN)]


def key_of(names: Sequence[str]) -> tuple[list[Mark], float]:
    """Swatches with names, in lines, and where the plot may begin."""
    marks: list[Mark] = []
    x, y = 0.0, 0.0
    for at, name in enumerate(names):
        text = shortened(name, WIDTH_MM - 8.0, SMALL)
        need = 7.0 + width_mm(text, SMALL) + 6.0
        if x > 0 and x + need - 6.0 > WIDTH_MM:
            x, y = 0.0, y + line_mm(SMALL) + 0.8
        marks += filled((x, y + 0.4, x + 5.5, y + 3.6), SERIES[at % len(SERIES)])
        marks.append(Text(x + 7.0, y + 0.4 + FIGURE_MM * 0.87, text, colour="graphite"))
        x += need
    return marks, y + line_mm(SMALL) + 3.0
