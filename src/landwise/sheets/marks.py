"""Small signs: the shapes of verdicts, the millimetre rule, arrow heads, numbers as drawings print them."""

from __future__ import annotations

import math
from functools import cache

from landwise.evidence.figures import Verdict
from landwise.outlines.model import Range
from landwise.sheets.look import (
    MM_PER_PT,
    NARROW,
    SMALL,
    TEXT,
    THIN,
    VERDICT_LOOKS,
    WIDE,
    Font,
    Stroke,
)
from landwise.sheets.svg import Area, Disc, Mark, Picture, Text, line, points, rectangle

ARROW_MM = 2.2  # length of an arrow head; a third of it wide
TICK_MM = (1.4, 2.2, 3.0)  # every tick, every fifth, every tenth


def mm_text(value: float) -> str:
    """A drawing's dimension: at least two decimals, up to four where they say something.

    >>> mm_text(0.5), mm_text(3.905), mm_text(2.9075)
    ('0.50', '3.905', '2.9075')
    """
    whole, decimals = f"{value:.4f}".split(".")
    return f"{whole}.{decimals[:2]}{decimals[2:].rstrip('0')}"


def range_text(value: Range) -> str:
    """Limits of a dimension, or one value where there is no tolerance.

    >>> range_text(Range.between(0.31, 0.51)), range_text(Range.exact(1.27))
    ('0.31…0.51', '1.27')
    """
    return mm_text(value.nom) if value.min == value.max else f"{mm_text(value.min)}…{mm_text(value.max)}"


def scale_text(magnification: float) -> str:
    """How a drawing's scale is said.

    >>> scale_text(5), scale_text(2.5)
    ('5:1', '2.5:1')
    """
    return f"{magnification:g}:1"


def verdict_mark(verdict: Verdict, x: float, y: float, size_mm: float = 2.4) -> Picture:
    """The shape of a verdict, centred on x, y: each differs in form, so colour only repeats it."""
    look = VERDICT_LOOKS[verdict]
    radius, pen = size_mm / 2, Stroke(look.colour, 0.35)
    inner = radius - pen.width_mm / 2
    if look.mark == "filled circle":
        return Picture((Disc(x, y, radius, look.colour),))
    if look.mark == "square":
        half = radius * 0.9
        return Picture((rectangle((x - half, y - half, x + half, y + half), look.colour),))
    ring = Disc(x, y, inner, "", pen)
    if look.mark == "open ring":
        return Picture((ring,))
    left = ((x, y + inner, 0.0), (x - inner, y, inner), (x, y - inner, inner))
    return Picture((Area((left,), look.colour), ring))


def verdict_word(verdict: Verdict, x: float, y: float, size_pt: float = SMALL, font: Font = "bold") -> Picture:
    """Shape, then word, starting at x on the base line y."""
    look, em = VERDICT_LOOKS[verdict], size_pt * MM_PER_PT
    size = 0.72 * em
    word = Text(x + size + 0.35 * em, y, look.word, size_pt, look.colour, font)
    return verdict_mark(verdict, x + size / 2, y - 0.36 * em, size) + Picture((word,))


@cache  # asked of every figure at every scale that a card is tried at
def verdict_width(verdict: Verdict, size_pt: float = SMALL, font: Font = "bold") -> float:
    """How wide `verdict_word` is. [mm]"""
    return verdict_word(verdict, 0, 0, size_pt, font).width


def arrow(x: float, y: float, dx: float, dy: float, colour: str = "graphite") -> Area:
    """A filled head with its tip at x, y, pointing along the unit direction dx, dy."""
    half = ARROW_MM / 6
    back_x, back_y = x - dx * ARROW_MM, y - dy * ARROW_MM
    return points([(x, y), (back_x - dy * half, back_y + dx * half), (back_x + dy * half, back_y - dx * half)], colour)


def mm_rule(length_mm: float, magnification: float, *, start_text: str = "") -> Picture:
    """A rule in millimetres of the part, from the origin to the right, its ticks hanging below.

    Parameters
    ----------
    length_mm : float
        Length of the rule, in mm of the part. [mm]
    magnification : float
        Paper over part.
    start_text : str
        What to print before the rule's zero, such as `mm`.

    Notes
    -----
    Ticks stand every millimetre, or every tenth, fifth or tenth millimetre where the magnification gives
    them room; the numerals are spaced so that none touches its neighbour.
    """
    step = next(s for s in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 100.0) if s * magnification >= 1.2)
    numbered = next(
        s
        for s in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 1000.0)
        if s >= step and s * magnification >= 8 and (s / step) % 1 < 1e-9
    )
    end = length_mm * magnification
    marks: list[Mark] = [line([(0, 0), (end, 0)], Stroke("ink", NARROW))]
    for tick in range(math.floor(length_mm / step + 1e-9) + 1):
        at = tick * step
        x = at * magnification
        is_numbered = math.isclose(at / numbered, round(at / numbered), abs_tol=1e-9)
        is_half = math.isclose(at / numbered * 2, round(at / numbered * 2), abs_tol=1e-9)
        size = TICK_MM[2 if is_numbered else 1 if is_half else 0]
        marks.append(line([(x, 0), (x, size)], Stroke("ink", NARROW)))
        if is_numbered:
            marks.append(Text(x, TICK_MM[2] + SMALL * MM_PER_PT, f"{at:g}", SMALL, "graphite", anchor="middle"))
    if start_text:
        marks.append(Text(-2.2, TICK_MM[2] + SMALL * MM_PER_PT, start_text, SMALL, "graphite", anchor="end"))
    return Picture(tuple(marks))


def centre_cross(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Picture:
    """The axes of a symmetrical view."""
    from landwise.sheets.look import AXIS

    return Picture(
        (
            line([(x - width / 2, y), (x + width / 2, y)], AXIS),
            line([(x, y - height / 2), (x, y + height / 2)], AXIS),
        )
    )


def heading(text: str, x: float, y: float, size_pt: float = TEXT) -> Picture:
    """A bold line of text."""
    return Picture((Text(x, y, text, size_pt, "ink", "bold"),))


def thinned(stroke: Stroke, smallest_mm: float) -> Stroke | None:
    """The line that a shape of this size on paper can bear: wide, narrow, or none.

    A wide line would swallow a shape of less than about eight of its widths.
    """
    if smallest_mm >= 8 * WIDE:
        return stroke
    return Stroke(stroke.colour, NARROW, stroke.dash) if smallest_mm >= 3 * NARROW else None


__all__ = [
    "ARROW_MM",
    "THIN",
    "arrow",
    "centre_cross",
    "heading",
    "mm_rule",
    "mm_text",
    "range_text",
    "scale_text",
    "thinned",
    "verdict_mark",
    "verdict_width",
    "verdict_word",
]
