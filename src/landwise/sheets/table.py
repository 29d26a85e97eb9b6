"""Tables on a drawing: columns as wide as their widest cell, figures to the right, thin rules between."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import HAIR, MM_PER_PT, NARROW, SMALL, Stroke
from landwise.sheets.svg import Anchor, Mark, Picture, Text, line

GUTTER_MM = 4.0
ROW_MM = line_mm(SMALL) * 1.06


def column_widths(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[float]:
    """Width of each column, from its widest cell. [mm]"""
    widths = [width_mm(cell, SMALL, "bold") for cell in head]
    for row in rows:
        widths = [max(w, width_mm(cell, SMALL)) for w, cell in zip(widths, row, strict=True)]
    return widths


def table(head: Sequence[str], rows: Sequence[Sequence[str]], align: str) -> Picture:
    """A table with its top left corner at the origin.

    Parameters
    ----------
    head : sequence of str
    rows : sequence of sequences of str
    align : str
        One letter a column: `l` or `r`.
    """
    widths = column_widths(head, rows)
    starts, x = [], 0.0
    for width in widths:
        starts.append(x)
        x += width + GUTTER_MM
    whole = x - GUTTER_MM
    marks: list[Mark] = []
    base = SMALL * MM_PER_PT

    def put(cells: Sequence[str], y: float, bold: bool) -> None:
        for cell, start, width, side in zip(cells, starts, widths, align, strict=True):
            place: tuple[float, Anchor] = (start, "start") if side == "l" else (start + width, "end")
            if cell:
                marks.append(Text(place[0], y, cell, SMALL, "ink", "bold" if bold else "sans", anchor=place[1]))

    put(head, base, True)
    y = base + 1.5
    marks.append(line([(0, y), (whole, y)], Stroke("ink", NARROW)))
    for number, row in enumerate(rows):
        put(row, y + ROW_MM - 1.2, False)
        y += ROW_MM
        if (number + 1) % 5 == 0 and number + 1 < len(rows):
            marks.append(line([(0, y), (whole, y)], Stroke("grid", HAIR)))
    marks.append(line([(0, y + 0.4), (whole, y + 0.4)], Stroke("ink", NARROW)))
    return Picture(tuple(marks))
