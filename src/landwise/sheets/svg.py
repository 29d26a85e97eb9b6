"""Pictures as data, and the writer that turns them into SVG.

A `Picture` is a flat list of marks in mm on paper, x to the right, y down. Drawings build pictures around
their own origin; sheets move and join them; `Picture.box` and `Picture.texts` let a layout (and a test) see
what would overlap. Nothing is scaled after it is drawn, so line widths stay what the look says.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from html import escape
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from landwise.sheets.lettering import ASCENT, DESCENT, width_mm
from landwise.sheets.look import (
    LIGHT,
    MM_PER_PT,
    MONO,
    PATTERNS,
    SANS,
    SMALL,
    Font,
    Stroke,
    Theme,
)

Box = tuple[float, float, float, float]  # x min, y min, x max, y max. [mm]
Anchor = Literal["start", "middle", "end"]


def number(value: float) -> str:
    """A length as SVG prints it: to 0.0001 mm, without idle zeros.

    >>> number(2.50004), number(-0.00001), number(12)
    ('2.5', '0', '12')
    """
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True)
class Area:
    """One or more closed or open runs of points, filled and drawn. Arcs are quarter turns of a corner.

    `runs` holds for each run its points (x, y, r): r is the radius of a clockwise arc (as seen on paper)
    that ends there, negative for a counterclockwise one, zero for a straight line.
    """

    runs: tuple[tuple[tuple[float, float, float], ...], ...]
    fill: str = ""
    stroke: Stroke | None = None
    opacity: float = 1.0
    closed: bool = True

    @property
    def box(self) -> Box:
        """Extent of the points, without the line's width."""
        xs = [point[0] for run in self.runs for point in run]
        ys = [point[1] for run in self.runs for point in run]
        return min(xs), min(ys), max(xs), max(ys)

    def moved(self, dx: float, dy: float) -> Area:
        """The same, elsewhere."""
        return replace(self, runs=tuple(tuple((x + dx, y + dy, r) for x, y, r in run) for run in self.runs))

    def write(self, out: Writer) -> str:
        """As an SVG element."""
        parts = []
        for run in self.runs:
            for at, (x, y, radius) in enumerate(run):
                if at == 0:
                    parts.append(f"M{number(x)} {number(y)}")
                elif radius:
                    turn = 1 if radius > 0 else 0
                    size = number(abs(radius))
                    parts.append(f"A{size} {size} 0 0 {turn} {number(x)} {number(y)}")
                else:
                    parts.append(f"L{number(x)} {number(y)}")
            if self.closed:
                parts.append("Z")
        return f'<path d="{"".join(parts)}"{out.paint(self.fill, self.stroke, self.opacity)}/>'


@dataclass(frozen=True)
class Disc:
    """A circle."""

    x: float
    y: float
    radius: float
    fill: str = ""
    stroke: Stroke | None = None
    opacity: float = 1.0

    @property
    def box(self) -> Box:
        """Extent without the line's width."""
        return self.x - self.radius, self.y - self.radius, self.x + self.radius, self.y + self.radius

    def moved(self, dx: float, dy: float) -> Disc:
        """The same, elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)

    def write(self, out: Writer) -> str:
        """As an SVG element."""
        place = f'cx="{number(self.x)}" cy="{number(self.y)}" r="{number(self.radius)}"'
        return f"<circle {place}{out.paint(self.fill, self.stroke, self.opacity)}/>"


@dataclass(frozen=True)
class Text:
    """One line of text; x, y is its anchor on the base line. `upright` text reads from below upwards."""

    x: float
    y: float
    text: str
    size_pt: float = SMALL
    colour: str = "ink"
    font: Font = "sans"
    anchor: Anchor = "start"
    upright: bool = False

    @property
    def width(self) -> float:
        """Length of the line. [mm]"""
        return width_mm(self.text, self.size_pt, self.font)

    @property
    def box(self) -> Box:
        """Extent from the top of the capitals to the descenders."""
        em = self.size_pt * MM_PER_PT
        back = {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * self.width
        if self.upright:
            return self.x - ASCENT * em, self.y + back - self.width, self.x + DESCENT * em, self.y + back
        return self.x - back, self.y - ASCENT * em, self.x - back + self.width, self.y + DESCENT * em

    def moved(self, dx: float, dy: float) -> Text:
        """The same, elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)

    def write(self, out: Writer) -> str:
        """As an SVG element."""
        family = f"'{MONO}', monospace" if self.font == "mono" else f"'{SANS}', sans-serif"
        weight = ' font-weight="600"' if self.font == "bold" else ""
        anchor = "" if self.anchor == "start" else f' text-anchor="{self.anchor}"'
        x, y = number(self.x), number(self.y)
        turn = f' transform="rotate(-90 {x} {y})"' if self.upright else ""
        return (
            f'<text x="{x}" y="{y}" font-family="{family}" font-size="{number(self.size_pt * MM_PER_PT)}"'
            f'{weight}{anchor}{turn} class="f-{self.colour}" fill="{out.theme[self.colour]}">'
            f"{escape(self.text)}</text>"
        )


@dataclass(frozen=True, eq=False)
class Many:
    """A great many closed polygons of one look, written at once: `xy` holds all points, `starts` where each begins."""

    xy: NDArray[np.float64]
    starts: NDArray[np.int64]
    fill: str = ""
    stroke: Stroke | None = None
    opacity: float = 1.0

    @property
    def box(self) -> Box:
        """Extent of the points, without the line's width."""
        low, high = self.xy.min(axis=0), self.xy.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def moved(self, dx: float, dy: float) -> Many:
        """The same, elsewhere."""
        return replace(self, xy=self.xy + np.array([dx, dy]))

    def write(self, out: Writer) -> str:
        """As one SVG path; points to 0.001 mm, each polygon's later points relative to the one before."""
        whole = np.round(self.xy * 1000).astype(np.int64)
        steps = np.diff(whole, axis=0, prepend=whole[:1])
        steps[self.starts] = whole[self.starts]
        letters = np.full(len(whole), "l", dtype=object)
        letters[self.starts] = "zM"
        parts = [
            f"{letter}{x / 1000:g} {y / 1000:g}"
            for letter, x, y in zip(letters.tolist(), *steps.T.tolist(), strict=True)
        ]
        return f'<path d="{"".join(parts)[1:]}z"{out.paint(self.fill, self.stroke, self.opacity)}/>'


Mark = Area | Disc | Text | Many


@dataclass(frozen=True)
class Picture:
    """Marks in drawing order, later ones on top."""

    marks: tuple[Mark, ...] = ()

    @cached_property
    def box(self) -> Box:
        """Common extent of all marks; a point at the origin where there are none."""
        if not self.marks:
            return 0.0, 0.0, 0.0, 0.0
        boxes = np.array([mark.box for mark in self.marks])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def width(self) -> float:
        """Extent along x. [mm]"""
        return self.box[2] - self.box[0]

    @property
    def height(self) -> float:
        """Extent along y. [mm]"""
        return self.box[3] - self.box[1]

    @property
    def texts(self) -> tuple[Text, ...]:
        """All lines of text."""
        return tuple(mark for mark in self.marks if isinstance(mark, Text))

    def moved(self, dx: float, dy: float) -> Picture:
        """The whole, elsewhere."""
        return Picture(tuple(mark.moved(dx, dy) for mark in self.marks))

    def __add__(self, other: Picture) -> Picture:
        return Picture(self.marks + other.marks)


def joined(pictures: Iterable[Picture]) -> Picture:
    """Several pictures as one, the later ones on top."""
    return Picture(tuple(mark for picture in pictures for mark in picture.marks))


def points(corners: ArrayLike, fill: str = "", stroke: Stroke | None = None, *, opacity: float = 1.0) -> Area:
    """A closed polygon."""
    return Area((_run(corners),), fill, stroke, opacity)


def line(corners: ArrayLike, stroke: Stroke) -> Area:
    """An open run of straight lines."""
    return Area((_run(corners),), "", stroke, closed=False)


def rectangle(box: Box, fill: str = "", stroke: Stroke | None = None, *, opacity: float = 1.0) -> Area:
    """An upright rectangle by its corners."""
    x1, y1, x2, y2 = box
    return points([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], fill, stroke, opacity=opacity)


def _run(corners: ArrayLike) -> tuple[tuple[float, float, float], ...]:
    array: NDArray[np.float64] = np.asarray(corners, dtype=float)
    return tuple((float(x), float(y), 0.0) for x, y in array)


class Writer:
    """Writes one picture as an SVG document, remembering which patterns it used."""

    def __init__(self, theme: Theme, prefix: str) -> None:
        self.theme = theme
        self.prefix = prefix
        self.patterns: dict[str, str] = {}

    def paint(self, fill: str, stroke: Stroke | None, opacity: float) -> str:
        """The attributes of a filled and drawn shape."""
        classes, parts = [], []
        if not fill:
            parts.append(' fill="none"')
        elif "/" in fill:
            parts.append(f' fill="url(#{self._pattern(fill)})"')
        elif fill.startswith("#"):
            parts.append(f' fill="{fill}"')
        else:
            classes.append(f"f-{fill}")
            parts.append(f' fill="{self.theme[fill]}"')
        if stroke:
            classes.append(f"k-{stroke.colour}")
            parts.append(f' stroke="{self.theme[stroke.colour]}" stroke-width="{number(stroke.width_mm)}"')
            if stroke.dash:
                parts.append(f' stroke-dasharray="{" ".join(number(dash) for dash in stroke.dash)}"')
        if opacity != 1:
            parts.append(f' fill-opacity="{number(opacity)}"')
        return (f' class="{" ".join(classes)}"' if classes else "") + "".join(parts)

    def _pattern(self, fill: str) -> str:
        name, colour = fill.split("/")
        identity = f"{self.prefix}-{name}-{colour}"
        if fill not in self.patterns:
            step, width, turn, kind = PATTERNS[name]
            half, size = number(step / 2), number(step)
            ink = self.theme[colour]
            stroke = f'class="k-{colour}" stroke="{ink}" stroke-width="{number(width)}"'
            drawn = f'<path d="M0 {half}H{size}" {stroke}/>'
            if kind == "cross":
                drawn = f'<path d="M0 {half}H{size}M{half} 0V{size}" {stroke}/>'
            if kind == "dots":
                drawn = f'<circle cx="{half}" cy="{half}" r="{number(width / 2)}" class="f-{colour}" fill="{ink}"/>'
            self.patterns[fill] = (
                f'<pattern id="{identity}" width="{size}" height="{size}" patternUnits="userSpaceOnUse"'
                f' patternTransform="rotate({number(turn)})">{drawn}</pattern>'
            )
        return identity


def write_svg(
    picture: Picture,
    box: Box,
    *,
    title: str,
    description: str,
    prefix: str = "lw",
    theme: Theme = LIGHT,
    paper: bool = False,
) -> str:
    """One SVG document, true to size: the same picture gives the same text.

    Parameters
    ----------
    picture : Picture
    box : (float, float, float, float)
        The part of the plane to show, in the picture's own mm.
    title, description : str
        Read out in place of the drawing.
    prefix : str
        Leads every id, so that several drawings can stand in one page.
    paper : bool
        Whether to fill the background; a dark drawing always is.

    Examples
    --------
    >>> print(write_svg(Picture(), (0, 0, 20, 10), title="nothing", description="an empty sheet")[:76])
    <svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="
    """
    out = Writer(theme, prefix)
    x, y, right, bottom = box
    width, height = number(right - x), number(bottom - y)
    marks = list(picture.marks)
    if paper or theme.name == "dark":
        marks.insert(0, rectangle(box, "paper"))
    body = "\n".join(mark.write(out) for mark in marks)
    patterns = "".join(out.patterns[fill] for fill in sorted(out.patterns))
    defs = f"<defs>{patterns}</defs>\n" if patterns else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
        f' viewBox="{number(x)} {number(y)} {width} {height}" role="img"'
        f' aria-labelledby="{prefix}-title {prefix}-desc" stroke-linejoin="round">\n'
        f'<title id="{prefix}-title">{escape(title)}</title>\n'
        f'<desc id="{prefix}-desc">{escape(description)}</desc>\n'
        f"{defs}{body}\n</svg>\n"
    )
