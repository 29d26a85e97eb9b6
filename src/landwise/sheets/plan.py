"""The top view: lands, mask, apertures, terminals, body, courtyard and the mark of terminal 1, to scale."""

from __future__ import annotations

import itertools
from collections.abc import Collection
from typing import Literal

from landwise.lands.model import LandPattern
from landwise.outlines.model import GRIDS, LEADLESS, Outline, Terminal
from landwise.outlines.patterns import terminals
from landwise.printing.model import Print
from landwise.shapes import Placed
from landwise.sheets.look import (
    APERTURE,
    BODY,
    COURTYARD,
    FINE,
    HAIR,
    HIDDEN,
    MASK,
    MM_PER_PT,
    NARROW,
    OUTLINE,
    PHANTOM_LINE,
    SMALL,
    THIN,
    Stroke,
)
from landwise.sheets.marks import thinned
from landwise.sheets.svg import Area, Box, Disc, Mark, Picture, Text, joined, points, rectangle

Layer = Literal["land", "mask", "aperture", "hole", "terminal", "body", "phantom", "courtyard", "first", "numerals"]
PART: tuple[Layer, ...] = ("land", "hole", "aperture", "terminal", "body", "courtyard", "first")
BARE: tuple[Layer, ...] = ("land", "mask", "aperture", "hole", "phantom", "courtyard", "first", "numerals")
BODY_OPACITY = 0.85


def top_view(
    outline: Outline,
    pattern: LandPattern,
    print_: Print | None = None,
    *,
    magnification: float,
    layers: Collection[Layer] = PART,
) -> Picture:
    """The part on its lands, seen from above, its origin at the middle of the body.

    Parameters
    ----------
    outline : Outline
    pattern : LandPattern
    print_ : Print, optional
        Whose apertures to draw.
    magnification : float
        Paper over part.
    layers : collection of str
        What to draw, always in the order board, print, part. `PART` is the part as it stands; `BARE` is the
        land pattern with its mask, apertures and numerals, the body only as a phantom line.
    """
    view = _View(outline, pattern, print_, magnification)
    drawn = {
        "land": view.lands,
        "mask": view.mask,
        "aperture": view.apertures,
        "hole": view.holes,
        "terminal": view.terminals,
        "body": view.body,
        "phantom": view.phantom,
        "courtyard": view.courtyard,
        "first": view.first,
        "numerals": view.numerals,
    }
    return joined(draw() for layer, draw in drawn.items() if layer in layers)


class _View:
    def __init__(self, outline: Outline, pattern: LandPattern, print_: Print | None, magnification: float) -> None:
        self.outline = outline
        self.pattern = pattern
        self.print = print_
        self.m = magnification
        self.all_terminals = terminals(outline)
        self.half_w = outline.body_width_mm.nom / 2 * magnification
        self.half_l = outline.body_length_mm.nom / 2 * magnification

    def lands(self) -> Picture:
        return Picture(
            tuple(
                placed(land.copper if not land.mask_defined else land.place, self.m, "ochre")
                for land in self.pattern.lands
            )
        )

    def mask(self) -> Picture:
        marks = []
        for land in self.pattern.lands:
            back = abs(land.opening.shape.width_mm - land.copper.shape.width_mm) / 2 * self.m
            # So near to the copper's edge the full line would run into it.
            pen = MASK if back >= 0.4 else Stroke(MASK.colour, HAIR, (0.6, 0.4))
            marks.append(placed(land.opening, self.m, "", pen))
            if land.mask_defined and land.copper != land.opening:
                marks.append(placed(land.copper, self.m, "", HIDDEN))
        return Picture(tuple(marks))

    def apertures(self) -> Picture:
        if self.print is None:
            return Picture()
        marks = []
        for aperture in self.print.apertures:
            for opening in aperture.openings:
                small = min(opening.shape.length_mm, opening.shape.width_mm) * self.m
                pen = APERTURE if small >= 1.0 else Stroke("ink", HAIR)
                marks.append(placed(opening, self.m, "hatch/ink", pen))
        return Picture(tuple(marks))

    def holes(self) -> Picture:
        marks: list[Mark] = []
        for land in self.pattern.lands:
            if land.hole_mm is not None:
                x, y = land.place.x_mm * self.m, -land.place.y_mm * self.m
                marks.append(Disc(x, y, land.hole_mm / 2 * self.m, "paper", THIN))
        return Picture(tuple(marks))

    def terminals(self) -> Picture:
        marks: list[Mark] = []
        for terminal in self.all_terminals:
            shape = self._lead(terminal)
            if shape is not None:
                small = min(terminal.length_mm, terminal.width_mm) * self.m
                marks.append(points(shape, "metal", thinned(OUTLINE, small)))
        return Picture(tuple(marks))

    def _lead(self, terminal: Terminal) -> list[tuple[float, float]] | None:
        """What of a terminal can be seen from above: from its tip to the body's edge."""
        if terminal.side in ("grid", "centre"):
            return None
        half_w = terminal.width_mm / 2 * self.m
        tip = terminal.length_mm / 2 * self.m
        x, y = terminal.x_mm * self.m, -terminal.y_mm * self.m
        if terminal.side in ("left", "right"):
            sign = 1.0 if terminal.side == "right" else -1.0
            start, end = sign * self.half_w, x + sign * tip
            if self.outline.family in LEADLESS:
                start = x - sign * tip
            return [(start, y - half_w), (end, y - half_w), (end, y + half_w), (start, y + half_w)]
        sign = 1.0 if terminal.side == "bottom" else -1.0
        start, end = sign * self.half_l, y + sign * tip
        if self.outline.family in LEADLESS:
            start = y - sign * tip
        return [(x - half_w, start), (x - half_w, end), (x + half_w, end), (x + half_w, start)]

    def body(self) -> Picture:
        small = 2 * min(self.half_w, self.half_l)
        pen = BODY if small >= 4 else Stroke(BODY.colour, NARROW)
        box = (-self.half_w, -self.half_l, self.half_w, self.half_l)
        return Picture((rectangle(box, "body", pen, opacity=BODY_OPACITY), *self._hidden()))

    def _hidden(self) -> list[Mark]:
        """Edges of terminals below the body, dashed; plain narrow lines where a dash would not show."""
        marks: list[Mark] = []
        for terminal in self.all_terminals:
            x, y = terminal.x_mm * self.m, -terminal.y_mm * self.m
            length, width = terminal.length_mm * self.m, terminal.width_mm * self.m
            pen = HIDDEN if min(length, width) >= 2.5 else Stroke(HIDDEN.colour, NARROW, (0.8, 0.5))
            if min(length, width) < (4.0 if terminal.round else 1.2):
                pen = Stroke(HIDDEN.colour, FINE)
            if terminal.round:
                marks.append(Disc(x, y, width / 2, "", pen))
            elif terminal.side == "centre" or self.outline.family in LEADLESS:
                if terminal.side in ("left", "right"):
                    length, width = width, length
                marks.append(_upright(x, y, width, length, pen))
        return marks

    def phantom(self) -> Picture:
        box = (-self.half_w, -self.half_l, self.half_w, self.half_l)
        return Picture((rectangle(box, "", PHANTOM_LINE),))

    def courtyard(self) -> Picture:
        return Picture((rectangle(self.court, "", COURTYARD),))

    @property
    def court(self) -> Box:
        half_x, half_y = (side / 2 * self.m for side in self.pattern.courtyard_mm)
        return -half_x, -half_y, half_x, half_y

    def first(self) -> Picture:
        """Terminal 1: a filled quarter circle in the body's corner next to it."""
        one = self.all_terminals[0]
        left, up = one.x_mm <= 1e-9, one.y_mm >= -1e-9
        radius = max(0.7, min(2.0, 0.16 * 2 * min(self.half_w, self.half_l)))
        x = -self.half_w if left else self.half_w
        y = -self.half_l if up else self.half_l
        dx, dy = (radius if left else -radius), (radius if up else -radius)
        turn = radius if left == up else -radius
        return Picture((Area((((x, y, 0.0), (x + dx, y, 0.0), (x, y + dy, turn)),), "ink"),))

    def numerals(self) -> Picture:
        """Numbers beside the courtyard: every one where they have room, else the ends of each row."""
        if self.outline.family in GRIDS:
            return self._grid_numerals()
        x1, y1, x2, y2 = self.court
        high = SMALL * MM_PER_PT
        marks: list[Mark] = []
        for side in ("left", "bottom", "right", "top"):
            row = [terminal for terminal in self.all_terminals if terminal.side == side]
            along = [(-t.y_mm if side in ("left", "right") else t.x_mm) * self.m for t in row]
            room = min((abs(b - a) for a, b in itertools.pairwise(along)), default=99.0)
            longest = max((Text(0, 0, t.number).width for t in row), default=0.0)
            need = high * 1.05 if side in ("left", "right") else longest + 0.6
            for at, (terminal, place) in enumerate(zip(row, along, strict=True)):
                if room < need and not (at in (0, len(row) - 1) and abs(along[-1] - along[0]) >= need):
                    continue
                number = terminal.number
                if side == "left":
                    marks.append(Text(x1 - 0.9, place + 0.36 * high, number, anchor="end", colour="graphite"))
                elif side == "right":
                    marks.append(Text(x2 + 0.9, place + 0.36 * high, number, colour="graphite"))
                elif side == "top":
                    marks.append(Text(place, y1 - 0.9, number, anchor="middle", colour="graphite"))
                else:
                    marks.append(Text(place, y2 + 0.7 + 0.76 * high, number, anchor="middle", colour="graphite"))
        for terminal in self.all_terminals:
            if terminal.side == "centre" and min(terminal.length_mm, terminal.width_mm) * self.m >= 2.8 * high:
                marks.append(Disc(0.0, 0.0, 1.2 * high, "body"))
                marks.append(Text(0.0, 0.36 * high, terminal.number, anchor="middle", colour="graphite"))
        return Picture(tuple(marks))

    def _grid_numerals(self) -> Picture:
        x1, y1, _, _ = self.court
        high = SMALL * MM_PER_PT
        columns = {t.number[1:]: t.x_mm * self.m for t in self.all_terminals}
        rows = {t.number[0]: -t.y_mm * self.m for t in self.all_terminals}
        marks: list[Mark] = []
        for name, x in _spread(columns, 2 * high):
            marks.append(Text(x, y1 - 0.9, name, anchor="middle", colour="graphite"))
        for name, y in _spread(rows, 1.1 * high):
            marks.append(Text(x1 - 0.9, y + 0.36 * high, name, anchor="end", colour="graphite"))
        return Picture(tuple(marks))


def _spread(places: dict[str, float], need: float) -> list[tuple[str, float]]:
    """Those of the labels, in order, that keep `need` between them; the last one always."""
    ordered = sorted(places.items(), key=lambda item: item[1])
    if not ordered:
        return []
    kept = [ordered[0]]
    for item in ordered[1:]:
        if item[1] - kept[-1][1] >= need:
            kept.append(item)
    if kept[-1] != ordered[-1]:
        if len(kept) > 1 and ordered[-1][1] - kept[-1][1] < need:
            kept.pop()
        if ordered[-1][1] - kept[-1][1] >= need:
            kept.append(ordered[-1])
    return kept


def _upright(x: float, y: float, width: float, height: float, pen: Stroke) -> Area:
    return rectangle((x - width / 2, y - height / 2, x + width / 2, y + height / 2), "", pen)


def placed(shape: Placed, magnification: float, fill: str = "", stroke: Stroke | None = None) -> Area | Disc:
    """A placed shape on paper: round where it is round, polygons by their corners."""
    import numpy as np

    m, kind = magnification, shape.shape.kind
    if kind == "circle":
        return Disc(shape.x_mm * m, -shape.y_mm * m, shape.shape.length_mm / 2 * m, fill, stroke)
    if kind in ("rectangle", "polygon"):
        return points(shape.points * [m, -m], fill, stroke)
    half = np.array([shape.shape.length_mm, shape.shape.width_mm]) / 2
    radius = min(half) if kind == "oblong" else shape.shape.corner_mm
    corners: list[tuple[float, float, float]] = []
    # Counterclockwise on the part is counterclockwise on paper too: the y axis turns, and so does the eye.
    for sx, sy, first in ((1, 1, "x"), (-1, 1, "y"), (-1, -1, "x"), (1, -1, "y")):
        before = (sx * half[0], sy * (half[1] - radius))
        after = (sx * (half[0] - radius), sy * half[1])
        pair = (before, after) if first == "x" else (after, before)
        corners += [(*pair[0], 0.0), (*pair[1], -radius * m)]
    on_board = shape.at(np.array([corner[:2] for corner in corners]))
    run = tuple((float(x) * m, -float(y) * m, corner[2]) for (x, y), corner in zip(on_board, corners, strict=True))
    return Area((run,), fill, stroke)
