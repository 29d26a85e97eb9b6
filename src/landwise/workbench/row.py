"""The candidates in a row: one picture with all of them on one ground line at one scale over one rule.

The page's table stands below the picture, so the picture is laid out in the table's columns: both take
their widths from here.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from html import escape
from typing import Protocol

from landwise.evidence.figures import Verdict
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.model import Print
from landwise.quantities import INCH_MM
from landwise.sheets.cardlayout import MOST_SHOWN
from landwise.sheets.compact import compact
from landwise.sheets.look import HEAVY, LIGHT, WIDE, Stroke
from landwise.sheets.marks import mm_rule, scale_text
from landwise.sheets.plan import PART, Layer, top_view
from landwise.sheets.profile import SolderProfile, side_pieces
from landwise.sheets.svg import Picture, Text, Writer, line, number
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
MOST_DRAWN = 2000  # drawings kept
MOST_PRINTED = 600  # prints of sketches kept, some 10 kB each
PREFIX = "row"
UNDER: tuple[Layer, ...] = ("land", "hole")  # below the openings
PRINTED: tuple[Layer, ...] = ("aperture",)
OVER = tuple(layer for layer in PART if layer not in (*UNDER, *PRINTED))


class Standing(Protocol):
    """Who can stand in the row: a candidate of the card, or a sketch of one."""

    @property
    def outline(self) -> Outline: ...
    @property
    def pattern(self) -> LandPattern: ...
    @property
    def print_(self) -> Print | None: ...
    @property
    def solder(self) -> SolderProfile | None: ...
    @property
    def verdict(self) -> Verdict | None: ...
    @property
    def is_choice(self) -> bool: ...
    @property
    def is_present(self) -> bool: ...
    @property
    def title(self) -> str: ...


@dataclass(frozen=True)
class View:
    """One view of one candidate as SVG text in its own coordinates, its patterns, its extent. [mm]"""

    text: str
    patterns: Mapping[str, str]
    above: float
    below: float

    def raised(self, by: float) -> View:
        """The same, higher up."""
        text = f'<g transform="translate(0 {number(-by)})">\n{self.text}\n</g>' if self.text else ""
        return View(text, self.patterns, self.above + by, self.below - by)


def over(views: Iterable[View]) -> View:
    """Views of one candidate as one, the later ones on top."""
    shown = [view for view in views if view.text]
    patterns = {fill: pattern for view in shown for fill, pattern in view.patterns.items()}
    return View(
        "\n".join(view.text for view in shown),
        patterns,
        max(view.above for view in shown),
        max(view.below for view in shown),
    )


class Drawn:
    """Views by what they show, so that what did not move is not drawn again."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._shelf: OrderedDict[tuple[object, ...], tuple[object, View]] = OrderedDict()
        self._printed: OrderedDict[tuple[object, ...], tuple[object, Print]] = OrderedDict()
        self.made = 0  # views drawn, for who wants to know what a move costs

    def top(self, one: Standing, m: float) -> View:
        """From above: lands and part as they are for every print, the openings between them."""
        shown = one.print_.apertures if one.print_ else None
        layers = (("below", UNDER, None), ("openings", PRINTED, shown), ("above", OVER, None))
        return over(
            self._kept(
                (name, id(one.pattern), what, m),
                one.pattern,
                partial(top_view, one.outline, one.pattern, one.print_, magnification=m, layers=layer),
            )
            for name, layer, what in layers
        )

    def side(self, one: Standing, m: float) -> View:
        """From the side: board and part as they are for every print, the solder between them raises the part."""
        pieces = side_pieces(one.outline, one.pattern, one.print_, magnification=m, solder=one.solder)
        own, held = id(one.pattern), (one.pattern, one.print_)
        part = self._kept(("part", own, one.solder is None, m), one.pattern, pieces.part)
        return over(
            (
                self._kept(("board", own, m), one.pattern, pieces.still),
                self._kept(("solder", id(one.print_ or one.pattern), one.solder is None, m), held, pieces.solder),
                part.raised(pieces.lift),
            )
        )

    def printed(self, key: tuple[object, ...], pattern: LandPattern, make: Callable[[], Print]) -> Print:
        """A print, made once for all that it follows from: a move that leaves it as it is finds it drawn already."""
        whole = (*key, id(pattern))
        with self._turn:
            found = self._printed.get(whole)
            if found is not None:
                self._printed.move_to_end(whole)
                return found[1]
        made = make()
        with self._turn:
            kept(self._printed, whole, (pattern, made), MOST_PRINTED)
        return made

    def ground(self, wide: float, choice: tuple[tuple[float, float], ...], m: float, units: Units) -> View:
        """The ground line, heavier below the choice, and the rule below it, at height zero."""
        return self._kept(("ground", wide, choice, m, units), None, partial(_ground, wide, choice, m, units))

    def _kept(self, key: tuple[object, ...], held: object, draw: Callable[[], Picture]) -> View:
        """From the shelf; holding what is shown keeps its identity its own."""
        with self._turn:
            found = self._shelf.get(key)
            if found is not None:
                self._shelf.move_to_end(key)
                return found[1]
        picture, out = draw(), Writer(LIGHT, PREFIX)
        view = View(compact(picture.marks, out), out.patterns, -picture.box[1], picture.box[3])
        with self._turn:
            self.made += 1
            kept(self._shelf, key, (held, view), MOST_DRAWN)
        return view


@dataclass(frozen=True)
class Row:
    """A laid-out row: who stands in it, the columns' widths and the scale.

    Parameters
    ----------
    candidates : sequence of Standing
    columns_px : tuple of float
    magnification : float
        Screen over part, at 96 pixels an inch.
    """

    candidates: Sequence[Standing]
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

    def svg(self) -> str:
        """The picture."""
        m = self.magnification
        tops = [self.drawn.top(one, m) for one in self.candidates]
        sides = [self.drawn.side(one, m) for one in self.candidates]
        ground = max(one.pattern.courtyard_mm[1] for one in self.candidates) * m + HEAVY
        zero = ground + RULE_MM + max(view.above for view in sides)
        bottom = zero + max(view.below for view in sides) + 1.0
        wide = self.width_px / PX_PER_MM
        line_ = self.drawn.ground(wide, self._choice, m, self.units)
        body = [line_.raised(-ground).text]
        patterns = dict(line_.patterns)
        start = 0.0
        for one, column, top, side in zip(self.candidates, self.columns_px, tops, sides, strict=True):
            middle = start + (column - GUTTER_PX) / 2 / PX_PER_MM
            lift = ground - HEAVY / 2 - 0.5 - one.pattern.courtyard_mm[1] / 2 * m
            for view, y in ((top, lift), (side, zero)):
                body.append(f'<g transform="translate({number(middle)} {number(y)})">\n{view.text}\n</g>')
                patterns |= view.patterns
            start += column / PX_PER_MM
        names = ", ".join(
            f"{one.title}{f': {one.verdict}' if one.verdict else ''}{', the choice' if one.is_choice else ''}"
            for one in self.candidates
        )
        title = f"{len(self.candidates)} packages in a row, drawn {self.scale}, from above and from the side"
        defs = "".join(patterns[fill] for fill in sorted(patterns))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(wide)}mm" height="{number(bottom)}mm"'
            f' viewBox="0 0 {number(wide)} {number(bottom)}" role="img" aria-labelledby="{PREFIX}-title {PREFIX}-desc"'
            f' stroke-linejoin="round">\n<title id="{PREFIX}-title">{escape(title)}</title>\n'
            f'<desc id="{PREFIX}-desc">{escape(names)}</desc>\n<defs>{defs}</defs>\n' + "\n".join(body) + "\n</svg>\n"
        )

    @property
    def _choice(self) -> tuple[tuple[float, float], ...]:
        """From where to where the choice stands. [mm on paper]"""
        found, start = [], 0.0
        for one, column in zip(self.candidates, self.columns_px, strict=True):
            if one.is_choice:
                found.append((start, start + (column - GUTTER_PX) / PX_PER_MM))
            start += column / PX_PER_MM
        return tuple(found)


def _ground(wide: float, choice: tuple[tuple[float, float], ...], m: float, units: Units) -> Picture:
    unit_mm = 1.0 if units == "mm" else INCH_MM / 1000
    rule = mm_rule(wide / m / unit_mm - 1e-9, m * unit_mm)
    # The last numeral would stand half outside.
    inside = [mark for mark in rule.marks if not isinstance(mark, Text) or mark.box[2] <= wide]
    # Nor may the first one: it begins at the line's end.
    inside = [replace(mark, anchor="start") if isinstance(mark, Text) and mark.x == 0 else mark for mark in inside]
    heavy = [line([(start, 0.0), (end, 0.0)], Stroke("ink", HEAVY)) for start, end in choice]
    # Ticks first, then their numerals: what looks alike is written as one.
    inside.sort(key=lambda mark: isinstance(mark, Text))
    return Picture((*inside, line([(0.0, 0.0), (wide, 0.0)], Stroke("ink", WIDE)), *heavy))


def lay_out(candidates: Sequence[Standing], room_px: float, drawn: Drawn, units: Units = "mm") -> Row:
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


def in_sketch(outlines: Sequence[Outline], room_px: float) -> Sequence[Outline]:
    """Who stands in a first sketch: as many as the room takes, before anybody knows who is best."""
    fit = int((room_px - LABEL_PX) / (LEAST_COLUMN_PX + GUTTER_PX))
    return outlines[: min(max(fit, LEAST_SHOWN), MOST_SHOWN)]


def in_row(candidates: Sequence[Standing], room_px: float, everything: bool) -> list[Standing]:
    """Who stands in the row: as many of the best as the room takes, choice and part in use always among them."""
    fit = int((room_px - LABEL_PX) / (LEAST_COLUMN_PX + GUTTER_PX))
    most = min(max(fit, LEAST_SHOWN), MOST_SHOWN)
    if everything or len(candidates) <= most:
        return list(candidates)
    must = [one for one in candidates if one.is_choice or one.is_present]
    others = [one for one in candidates if not (one.is_choice or one.is_present)]
    stay = {id(one) for one in (*must, *others[: most - len(must)])}
    return [one for one in candidates if id(one) in stay]
