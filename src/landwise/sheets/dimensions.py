"""Dimensions after ISO 129-1: extension lines, slender arrows, the figure above the line, read from below or right.

Dimensions stand in tracks beside a view. Each track is one line of figures, so texts of different tracks
can't meet; within a track every dimension asks for its room and takes the next track if it finds none.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from landwise.sheets.look import DIMENSION, MM_PER_PT, SMALL
from landwise.sheets.lettering import width_mm
from landwise.sheets.marks import ARROW_MM, arrow
from landwise.sheets.svg import Area, Box, Mark, Picture, Text, line

TRACK_MM = 5.6  # one track to the next
GAP_MM = 1.0  # from the view to the extension line, and past the dimension line
TEXT_LIFT_MM = 0.9  # figure above its line
TAIL_MM = 4.0  # of an arrow that points in from outside
SIDE_GAP_MM = 0.8


@dataclass(frozen=True)
class Dimension:
    """A distance along one axis: from `start` to `end` on paper, measured off the edges `from_mm`, `to_mm`.

    `near_start`, `near_end` are the coordinates across the axis where the extension lines leave the part.
    """

    start: float
    end: float
    near_start: float
    near_end: float
    text: str


@dataclass
class Tracks:
    """Tracks on one side of a view: `above`, `below`, `left` or `right` of its box."""

    side: str
    edge: float
    taken: list[list[tuple[float, float]]] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)

    def add(self, dimension: Dimension) -> None:
        """Draw a dimension in the first track that has room."""
        start, end = sorted((dimension.start, dimension.end))
        span, low, high = self._layout(start, end, dimension.text)
        for number, taken in enumerate(self.taken):
            if all(high < a or low > b for a, b in taken):
                break
        else:
            number = len(self.taken)
            self.taken.append([])
        self.taken[number].append((low, high))
        self._draw(dimension, number, span)

    def _layout(self, start: float, end: float, text: str) -> tuple[str, float, float]:
        """How the figure stands, and the room that it takes along the track."""
        room, wide = end - start, width_mm(text, SMALL)
        if room >= wide + 2 * ARROW_MM * 0.4 and room >= 2.6 * ARROW_MM:
            return "inside", start - GAP_MM, end + GAP_MM
        if room >= 2.6 * ARROW_MM:
            return "beside", start - GAP_MM, end + wide + 2 * SIDE_GAP_MM + GAP_MM
        return "outside", start - TAIL_MM - GAP_MM, end + TAIL_MM + wide + SIDE_GAP_MM + GAP_MM

    def _draw(self, dimension: Dimension, number: int, span: str) -> None:
        start, end = sorted((dimension.start, dimension.end))
        near = (
            (dimension.near_start, dimension.near_end)
            if dimension.start <= dimension.end
            else (dimension.near_end, dimension.near_start)
        )
        sign = -1.0 if self.side in ("above", "left") else 1.0
        at = self.edge + sign * (TRACK_MM * (number + 1))
        if self.side in ("below", "right"):
            # The figure stands above (left of) its line, so the line lies at the far side of its track.
            at = self.edge + sign * (TRACK_MM * (number + 1))
        for place, leaves in ((start, near[0]), (end, near[1])):
            self._line((place, leaves + sign * GAP_MM), (place, at + sign * GAP_MM))
        wide = width_mm(dimension.text, SMALL)
        if span == "inside":
            self._line((start, at), (end, at))
            self._arrow(start, at, -1)
            self._arrow(end, at, 1)
            self._text((start + end) / 2, at, dimension.text, middle=True)
        elif span == "beside":
            self._line((start, at), (end + wide + 2 * SIDE_GAP_MM, at))
            self._arrow(start, at, -1)
            self._arrow(end, at, 1)
            self._text(end + SIDE_GAP_MM + wide / 2, at, dimension.text, middle=True)
        else:
            self._line((start - TAIL_MM, at), (start, at))
            self._line((end, at), (end + TAIL_MM + wide, at))
            self._arrow(start, at, 1)
            self._arrow(end, at, -1)
            self._text(end + ARROW_MM + SIDE_GAP_MM + wide / 2, at, dimension.text, middle=True)

    @property
    def _along_x(self) -> bool:
        return self.side in ("above", "below")

    def _line(self, one: tuple[float, float], other: tuple[float, float]) -> None:
        ends = [one, other] if self._along_x else [one[::-1], other[::-1]]
        self.marks.append(line(ends, DIMENSION))

    def _arrow(self, along: float, across: float, direction: int) -> None:
        head: Area = (
            arrow(along, across, direction, 0) if self._along_x else arrow(across, along, 0, direction)
        )
        self.marks.append(head)

    def _text(self, along: float, across: float, text: str, *, middle: bool) -> None:
        anchor = "middle" if middle else "start"
        lifted = across - TEXT_LIFT_MM
        if self._along_x:
            self.marks.append(Text(along, lifted, text, SMALL, anchor=anchor))  # type: ignore[arg-type]
        else:
            self.marks.append(Text(lifted, along, text, SMALL, anchor=anchor, upright=True))  # type: ignore[arg-type]

    @property
    def depth(self) -> float:
        """How far the tracks reach from the view's edge. [mm]"""
        return len(self.taken) * TRACK_MM + GAP_MM


class Dimensioned:
    """A view with tracks on its four sides."""

    def __init__(self, view: Picture, box: Box | None = None) -> None:
        self.view = view
        x1, y1, x2, y2 = box or view.box
        self.above, self.below = Tracks("above", y1 + 0.0), Tracks("below", y2)
        self.left, self.right = Tracks("left", x1), Tracks("right", x2)

    def picture(self) -> Picture:
        """The view with all its dimensions."""
        marks = [mark for side in (self.above, self.below, self.left, self.right) for mark in side.marks]
        return self.view + Picture(tuple(marks))


ROOM_PER_TRACK_MM = TRACK_MM
FIGURE_MM = SMALL * MM_PER_PT
