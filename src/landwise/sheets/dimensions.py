"""Dimensions after ISO 129-1: extension lines, slender arrows, the figure above its line, read from below or right.

Dimensions stand in tracks beside a view, shorter ones nearer. A track is one line of figures, so texts of
different tracks can't meet; within a track every dimension asks for its room, and a figure steps aside
where an outer dimension's extension line would cross it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from landwise.sheets.lettering import width_mm
from landwise.sheets.look import DIMENSION, SMALL
from landwise.sheets.marks import ARROW_MM, arrow
from landwise.sheets.svg import Box, Mark, Picture, Text, line

Side = Literal["above", "below", "left", "right"]
Stand = Literal["inside", "after", "before"]
TRACK_MM = 5.6  # one track to the next
GAP_MM = 1.0  # from the view to an extension line, and its end past the dimension line
TEXT_LIFT_MM = 0.9  # figure above its line
TAIL_MM = 4.0  # of an arrow that points in from outside
SPACE_MM = 0.8  # between an arrow and a figure beside it


@dataclass(frozen=True)
class Dimension:
    """A distance on paper along a view's side. [mm]

    `near_start`, `near_end` say how far from the part the extension lines begin, across the side.
    """

    start: float
    end: float
    near_start: float
    near_end: float
    text: str

    @property
    def room(self) -> float:
        """Length between the arrows."""
        return self.end - self.start


@dataclass
class Tracks:
    """The dimensions on one side of a view; `edge` is the coordinate where the tracks begin."""

    side: Side
    edge: float
    wanted: list[Dimension] = field(default_factory=list)

    def add(self, start: float, end: float, near: float | tuple[float, float], text: str) -> None:
        """Ask for a dimension; equal ones are drawn once."""
        one, other = near if isinstance(near, tuple) else (near, near)
        if start > end:
            start, end, one, other = end, start, other, one
        wanted = Dimension(start, end, one, other, text)
        if wanted not in self.wanted:
            self.wanted.append(wanted)

    def picture(self) -> Picture:
        """All dimensions of the side, the shortest nearest to the part."""
        waiting = sorted(self.wanted, key=lambda d: (round(d.room, 6), d.start))
        tracks: list[list[tuple[float, float]]] = []
        marks: list[Mark] = []
        for at, dimension in enumerate(waiting):
            crossing = [end for later in waiting[at + 1 :] for end in (later.start, later.end)]
            stand = self._stand(dimension, crossing)
            low, high = _extent(dimension, stand)
            number = next(
                (n for n, taken in enumerate(tracks) if all(high < a or low > b for a, b in taken)),
                len(tracks),
            )
            if number == len(tracks):
                tracks.append([])
            tracks[number].append((low, high))
            marks.extend(self._drawn(dimension, stand, number))
        return Picture(tuple(marks))

    def _stand(self, dimension: Dimension, crossing: list[float]) -> Stand:
        wide = width_mm(dimension.text, SMALL)
        fits = dimension.room >= wide + 0.6 and dimension.room >= 2.6 * ARROW_MM
        stands: tuple[Stand, ...] = ("inside", "after", "before") if fits else ("after", "before")
        for stand in stands:
            middle = _figure_at(dimension, stand)
            if all(abs(line_at - middle) > wide / 2 + 0.4 for line_at in crossing):
                return stand
        return stands[0]

    def _drawn(self, dimension: Dimension, stand: Stand, number: int) -> list[Mark]:
        sign = -1.0 if self.side in ("above", "left") else 1.0
        at = self.edge + sign * TRACK_MM * (number + 1)
        wide = width_mm(dimension.text, SMALL)
        start, end = dimension.start, dimension.end
        marks: list[Mark] = [
            self._line(start, dimension.near_start + sign * GAP_MM, start, at + sign * GAP_MM),
            self._line(end, dimension.near_end + sign * GAP_MM, end, at + sign * GAP_MM),
        ]
        low, high = start, end
        if dimension.room < 2.6 * ARROW_MM:  # no room for arrows: they point in from outside
            low, high = start - TAIL_MM, end + TAIL_MM
            marks += [self._arrow(start, at, 1), self._arrow(end, at, -1)]
        else:
            marks += [self._arrow(start, at, -1), self._arrow(end, at, 1)]
        middle = _figure_at(dimension, stand)
        low, high = min(low, middle - wide / 2), max(high, middle + wide / 2)
        marks.append(self._line(low, at, high, at))
        place = (middle, at - TEXT_LIFT_MM)
        x, y = place if self._along_x else place[::-1]
        marks.append(Text(x, y, dimension.text, SMALL, anchor="middle", upright=not self._along_x))
        return marks

    @property
    def _along_x(self) -> bool:
        return self.side in ("above", "below")

    def _line(self, along: float, across: float, along_to: float, across_to: float) -> Mark:
        ends = [(along, across), (along_to, across_to)]
        return line(ends if self._along_x else [end[::-1] for end in ends], DIMENSION)

    def _arrow(self, along: float, across: float, direction: int) -> Mark:
        if self._along_x:
            return arrow(along, across, direction, 0)
        return arrow(across, along, 0, direction)


def _figure_at(dimension: Dimension, stand: Stand) -> float:
    """Where the middle of the figure stands along the side."""
    if stand == "inside":
        return (dimension.start + dimension.end) / 2
    beside = SPACE_MM + width_mm(dimension.text, SMALL) / 2
    if dimension.room < 2.6 * ARROW_MM:
        beside += ARROW_MM
    return dimension.end + beside if stand == "after" else dimension.start - beside


def _extent(dimension: Dimension, stand: Stand) -> tuple[float, float]:
    """Room along the track, with a little air."""
    half = width_mm(dimension.text, SMALL) / 2
    middle = _figure_at(dimension, stand)
    tail = TAIL_MM if dimension.room < 2.6 * ARROW_MM else 0.0
    low = min(dimension.start - tail, middle - half) - GAP_MM
    return low, max(dimension.end + tail, middle + half) + GAP_MM


class Dimensioned:
    """A view with tracks on its four sides. `box` is what the tracks keep clear of."""

    def __init__(self, view: Picture, box: Box | None = None) -> None:
        self.view = view
        x1, y1, x2, y2 = box or view.box
        self.above, self.below = Tracks("above", y1), Tracks("below", y2)
        self.left, self.right = Tracks("left", x1), Tracks("right", x2)

    def picture(self) -> Picture:
        """The view with all its dimensions."""
        whole = self.view
        for side in (self.above, self.below, self.left, self.right):
            whole = whole + side.picture()
        return whole
