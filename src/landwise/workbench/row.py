"""The candidates in a row: one picture with all of them on one ground line at one scale over one rule.

The page's table stands below the picture, so the picture is laid out in the table's columns: both take
their widths from here.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from landwise.quantities import INCH_MM
from landwise.sheets.card import MOST_SHOWN, Candidate
from landwise.sheets.look import HEAVY, WIDE, Stroke
from landwise.sheets.marks import mm_rule, scale_text
from landwise.sheets.plan import PART, top_view
from landwise.sheets.profile import SideView, side_view
from landwise.sheets.svg import Mark, Picture, Text, joined, line, write_svg
from landwise.workbench.engine import kept
from landwise.workbench.units import Units

PX_PER_MM = 96 / 25.4  # the screen's unit, exact by definition
SCALES = (
    60.0,
    50.0,
    40.0,
    30.0,
    25.0,
    20.0,
    18.0,
    15.0,
    12.0,
    10.0,
    9.0,
    8.0,
    7.0,
    6.0,
    5.0,
    4.0,
    3.0,
    2.5,
    2.0,
    1.5,
    1.0,
)
LABEL_PX = 116.0  # the column of the figures' names
LEAST_COLUMN_PX = 116.0
LEAST_SHOWN = 4
GUTTER_PX = 18.0
HIGHEST_PX = 300.0  # of the top views
RULE_MM = 8.5  # from the ground line to the highest side view
MOST_DRAWN = 400  # drawings kept


class Drawn:
    """Top and side views by what they show, so that moving a weight draws nothing again."""

    def __init__(self) -> None:
        self._shelf: OrderedDict[tuple[int, float], tuple[Candidate, Picture, SideView]] = OrderedDict()

    def views(self, one: Candidate, magnification: float) -> tuple[Picture, SideView]:
        """Both views of a candidate."""
        # The print is a new object whenever anything below it changed; holding it keeps its id its own.
        key = (id(one.print_ or one.pattern), magnification)
        if key not in self._shelf:
            top = top_view(one.outline, one.pattern, one.print_, magnification=magnification, layers=PART)
            side = side_view(one.outline, one.pattern, one.print_, magnification=magnification, solder=one.solder)
            kept(self._shelf, key, (one, top, side), MOST_DRAWN)
        self._shelf.move_to_end(key)
        return self._shelf[key][1:]


@dataclass(frozen=True)
class Row:
    """A laid-out row: who stands in it, the columns' widths and the scale.

    Parameters
    ----------
    candidates : sequence of Candidate
    columns_px : tuple of float
    magnification : float
        Screen over part, at 96 pixels an inch.
    """

    candidates: Sequence[Candidate]
    columns_px: tuple[float, ...]
    magnification: float
    drawn: Drawn
    units: Units = "mm"

    @property
    def label_px(self) -> float:
        """Width of the column of the figures' names."""
        return LABEL_PX

    @property
    def width_px(self) -> float:
        """Width of all columns."""
        return sum(self.columns_px)

    @cached_property
    def scale(self) -> str:
        """The scale in words."""
        return scale_text(self.magnification)

    def svg(self, prefix: str = "row") -> str:
        """The picture."""
        m = self.magnification
        views = [self.drawn.views(one, m) for one in self.candidates]
        ground = max(one.pattern.courtyard_mm[1] for one in self.candidates) * m + HEAVY
        zero = ground + RULE_MM + max(-side.picture.box[1] for _, side in views)
        bottom = zero + max(side.picture.box[3] for _, side in views) + 1.0
        wide = self.width_px / PX_PER_MM
        pictures = [self._ground(ground, wide)]
        start = 0.0
        for one, column, (top, side) in zip(self.candidates, self.columns_px, views, strict=True):
            middle = start + (column - GUTTER_PX) / 2 / PX_PER_MM
            pictures.append(top.moved(middle, ground - HEAVY / 2 - 0.5 - one.pattern.courtyard_mm[1] / 2 * m))
            pictures.append(side.picture.moved(middle, zero))
            start += column / PX_PER_MM
        names = ", ".join(
            f"{one.title}: {one.verdict}{', the choice' if one.is_choice else ''}" for one in self.candidates
        )
        return write_svg(
            joined(pictures),
            (0.0, 0.0, wide, bottom),
            title=f"{len(self.candidates)} packages in a row, drawn {self.scale}, from above and from the side",
            description=names,
            prefix=prefix,
        )

    def _ground(self, y: float, wide: float) -> Picture:
        unit_mm = 1.0 if self.units == "mm" else INCH_MM / 1000
        rule = mm_rule(wide / self.magnification / unit_mm - 1e-9, self.magnification * unit_mm).moved(0.0, y)
        # The last numeral would stand half outside.
        inside = [m for m in rule.marks if not isinstance(m, Text) or m.box[2] <= wide]
        marks: list[Mark] = [line([(0.0, y), (wide, y)], Stroke("ink", WIDE))]
        start = 0.0
        for one, column in zip(self.candidates, self.columns_px, strict=True):
            end = start + (column - GUTTER_PX) / PX_PER_MM
            if one.is_choice:
                marks.append(line([(start, y), (end, y)], Stroke("ink", HEAVY)))
            start += column / PX_PER_MM
        return Picture((*inside, *marks))


def lay_out(candidates: Sequence[Candidate], room_px: float, drawn: Drawn, units: Units = "mm") -> Row:
    """The largest usual scale at which the candidates stand beside each other in the room.

    Where even names and figures need more than the room, the row is wider and the page scrolls it.
    """
    least = LEAST_COLUMN_PX + GUTTER_PX
    room = max(room_px - LABEL_PX, len(candidates) * least)
    highest = max(one.pattern.courtyard_mm[1] for one in candidates)
    for magnification in SCALES:
        px = magnification * PX_PER_MM
        needs = [max(least, one.pattern.courtyard_mm[0] * px + GUTTER_PX) for one in candidates]
        if (sum(needs) <= room and highest * px <= HIGHEST_PX) or magnification == SCALES[-1]:
            spare = min(max(0.0, room - sum(needs)) / len(needs), 90.0)
            return Row(candidates, tuple(need + spare for need in needs), magnification, drawn, units)
    raise AssertionError("the last scale always returns")


def in_row(candidates: Sequence[Candidate], room_px: float, everything: bool) -> list[Candidate]:
    """Who stands in the row: as many of the best as the room takes, the choice and the part in use always among them."""
    fit = int((room_px - LABEL_PX) / (LEAST_COLUMN_PX + GUTTER_PX))
    most = min(max(fit, LEAST_SHOWN), MOST_SHOWN)
    if everything or len(candidates) <= most:
        return list(candidates)
    must = [one for one in candidates if one.is_choice or one.is_present]
    others = [one for one in candidates if not (one.is_choice or one.is_present)]
    stay = {id(one) for one in (*must, *others[: most - len(must)])}
    return [one for one in candidates if id(one) in stay]
