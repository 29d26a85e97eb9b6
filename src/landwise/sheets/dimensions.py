"""Dimensions after ISO 129-1: extension lines, slender arrows, the figure above its line, read from below or right.

Dimensions stand in tracks beside a view, shorter ones nearer. A track is one line of figures, so texts of
different tracks can't meet; within a track every dimension asks for its room, and a figure steps aside
where an outer dimension's extension line would cross it.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Literal

from landwise.sheets.lettering import width_mm
from landwise.sheets.look import DIMENSION, MM_PER_PT, SMALL
from landwise.sheets.marks import ARROW_MM, arrow
from landwise.sheets.svg import Anchor, Box, Mark, Picture, Text, line

Side = Literal["above", "below", "left", "right"]
Stand = Literal["inside", "after", "before"]
TRACK_MM = 5.6  # one track to the next
GAP_MM = 1.0  # from the view to an extension line, and its end past the dimension line
TEXT_LIFT_MM = 0.9  # figure above its line
TAIL_MM = 4.0  # of an arrow that points in from outside
SPACE_MM = 0.8  # between an arrow and a figure beside it
# What the order of tracks is chosen by: a line through a figure is worst, then a short dimension outside the
# long one that it lies in, then another track, then a figure that sticks out (per mm).
CROSSING_COST, ENCLOSED_COST, TRACK_COST = 100.0, 10.0, 1.0
MOST_TRIED = 5  # dimensions on a side of which all orders are tried


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
    """The dimensions on one side of a view; `edge` is where the tracks begin, `low`, `high` the view's ends.

    `level` figures stand level beside an upright line instead of along it; that suits a single dimension.
    """

    side: Side
    edge: float
    low: float
    high: float
    level: bool = False
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
        """All dimensions of the side, in the order that crosses the fewest lines."""
        best: tuple[float, list[Mark]] = (math.inf, [])
        by_size = sorted(self.wanted, key=lambda d: (round(d.room, 6), d.start))
        for order in itertools.permutations(by_size) if len(by_size) <= MOST_TRIED else [tuple(by_size)]:
            tried = self._tried(order)
            if tried[0] < best[0] - 1e-9:
                best = tried
        return Picture(tuple(best[1]))

    def _tried(self, order: tuple[Dimension, ...]) -> tuple[float, list[Mark]]:
        """Cost and marks of one order from the part outwards."""
        tracks: list[list[tuple[float, float]]] = []
        marks: list[Mark] = []
        cost = 0.0
        for at, dimension in enumerate(order):
            outer = order[at + 1 :]
            fault, stand = min(self._faults(dimension, outer))
            cost += fault + sum(ENCLOSED_COST for d in outer if _encloses(dimension, d))
            low, high = self._extent(dimension, stand)
            # Tracks fill outwards only, so that an outer dimension's lines pass no later figure.
            number = len(tracks) - 1
            if number < 0 or any(low < b and high > a for a, b in tracks[number]):
                number += 1
                tracks.append([])
            tracks[number].append((low, high))
            marks.extend(self._drawn(dimension, stand, number))
        return cost + TRACK_COST * len(tracks), marks

    def _faults(self, dimension: Dimension, outer: tuple[Dimension, ...]) -> list[tuple[float, Stand]]:
        """For each way the figure can stand: lines through it, and how far it sticks out of the view."""
        if self.level:
            return [(0.0, "inside")]
        wide = width_mm(dimension.text, SMALL)
        fits = dimension.room >= wide + 0.6 and dimension.room >= 2.6 * ARROW_MM
        stands: tuple[Stand, ...] = ("inside",) if fits else ("after", "before")
        faults: list[tuple[float, Stand]] = []
        for stand in (*stands, "after", "before") if fits else stands:
            middle = _figure_at(dimension, stand)
            crossed = sum(abs(end - middle) < wide / 2 + 0.5 for other in outer for end in (other.start, other.end))
            low, high = self._extent(dimension, stand)
            past = max(0.0, self.low - low) + max(0.0, high - self.high)
            aside = 0.0 if stand == "inside" or not fits else 2.0
            faults.append((CROSSING_COST * crossed + 0.2 * past + aside, stand))
        return faults

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
        if self.level:
            marks.append(self._line(low, at, high, at))
            base = middle + 0.36 * SMALL * MM_PER_PT
            anchor: Anchor = "end" if self.side == "left" else "start"
            return [*marks, Text(at + sign * 1.4, base, dimension.text, SMALL, anchor=anchor)]
        low, high = min(low, middle - wide / 2), max(high, middle + wide / 2)
        marks.append(self._line(low, at, high, at))
        place = (middle, at - TEXT_LIFT_MM)
        x, y = place if self._along_x else place[::-1]
        marks.append(Text(x, y, dimension.text, SMALL, anchor="middle", upright=not self._along_x))
        return marks

    def _extent(self, dimension: Dimension, stand: Stand) -> tuple[float, float]:
        """Room along the track, with a little air; level figures may share an extension line."""
        tail = TAIL_MM if dimension.room < 2.6 * ARROW_MM else 0.0
        if self.level:
            middle, half = (dimension.start + dimension.end) / 2, SMALL * MM_PER_PT * 0.6
            return min(dimension.start - tail, middle - half), max(dimension.end + tail, middle + half)
        half, middle = width_mm(dimension.text, SMALL) / 2, _figure_at(dimension, stand)
        low = min(dimension.start - tail, middle - half) - GAP_MM
        return low, max(dimension.end + tail, middle + half) + GAP_MM

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


def _encloses(inner: Dimension, outer: Dimension) -> bool:
    """Whether a dimension nearer to the part holds one further out, whose lines would cross it."""
    return inner.room > outer.room + 1e-6 and any(
        inner.start + 1e-6 < end < inner.end - 1e-6 for end in (outer.start, outer.end)
    )


def _figure_at(dimension: Dimension, stand: Stand) -> float:
    """Where the middle of the figure stands along the side."""
    if stand == "inside":
        return (dimension.start + dimension.end) / 2
    beside = SPACE_MM + width_mm(dimension.text, SMALL) / 2
    if dimension.room < 2.6 * ARROW_MM:
        beside += ARROW_MM
    return dimension.end + beside if stand == "after" else dimension.start - beside


class Dimensioned:
    """A view with tracks on its four sides. `box` is what the tracks keep clear of."""

    def __init__(self, view: Picture, box: Box | None = None) -> None:
        self.view = view
        x1, y1, x2, y2 = box or view.box
        self.above, self.below = Tracks("above", y1, x1, x2), Tracks("below", y2, x1, x2)
        self.left, self.right = Tracks("left", x1, y1, y2), Tracks("right", x2, y1, y2)

    def picture(self) -> Picture:
        """The view with all its dimensions."""
        whole = self.view
        for side in (self.above, self.below, self.left, self.right):
            whole = whole + side.picture()
        return whole
