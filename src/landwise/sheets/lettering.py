"""How wide a text is: the advances of the shipped fonts, so that layout needs no font engine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib import resources

from landwise.sheets.look import MM_PER_PT, Font

FONT_FILES: Mapping[Font, str] = {
    "sans": "landwise-sans-regular",
    "bold": "landwise-sans-semibold",
    "mono": "landwise-mono-regular",
}
# Of the em, for both families: capitals with their accents, and descenders.
ASCENT, DESCENT = 0.76, 0.22
LEADING = 1.32  # line to line, of the type size
THIN = "\u2009"  # the space before a unit


@cache
def _advances(font: Font) -> tuple[Mapping[str, float], float]:
    """Advance of each character and of the widest capital, in em."""
    text = resources.files("landwise.sheets").joinpath("fonts", "advances.json").read_text(encoding="utf-8")
    table = json.loads(text)[FONT_FILES[font]]
    widths = {character: width / table["em"] for character, width in table["widths"].items()}
    return widths, widths["W"]


@lru_cache(maxsize=8192)
def width_mm(text: str, size_pt: float, font: Font = "sans") -> float:
    """Width of a line of text. [mm]

    A character that the fonts lack counts as a capital W, which no viewer's substitute exceeds by much.

    >>> round(width_mm("0.50", 9), 2), width_mm("", 9)
    (7.04, 0.0)
    """
    advances, widest = _advances(font)
    return sum(advances.get(character, widest) for character in text) * size_pt * MM_PER_PT


def line_mm(size_pt: float) -> float:
    """Distance from one line of text to the next. [mm]"""
    return size_pt * MM_PER_PT * LEADING


@lru_cache(maxsize=8192)  # a card is laid out on several sheets, and for every part again
def wrapped(text: str, width: float, size_pt: float, font: Font = "sans") -> tuple[str, ...]:
    """Text broken at blanks into lines not wider than `width` [mm].

    A word longer than a line is broken before its unit, else after a hyphen, stroke or the dots of a range, where it
    has none of them anywhere.

    >>> wrapped("a land and its aperture", 22, 9)
    ('a land and its', 'aperture')
    >>> wrapped("SOT-23-THIN-1/4", 18, 9)
    ('SOT-23-', 'THIN-1/4')
    >>> wrapped("5700 (1900…17000)\u2009cycles", 30, 9)
    ('5700', '(1900…17000)', 'cycles')
    """
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size_pt, font) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *whole, line = _pieces(word, width, size_pt, font)
        lines.extend(whole)
    return (*lines, line) if line or not lines else tuple(lines)


def _pieces(word: str, width: float, size_pt: float, font: Font) -> list[str]:
    pieces = [""]
    for character in word:
        if pieces[-1] and width_mm(pieces[-1] + character, size_pt, font) > width:
            at = pieces[-1].rfind(THIN) + 1 or max(map(pieces[-1].rfind, "-/…")) + 1 or len(pieces[-1])
            pieces[-1:] = [pieces[-1][:at].rstrip(THIN), pieces[-1][at:]]
        pieces[-1] += character
    return pieces


def shortened(text: str, width: float, size_pt: float, font: Font = "sans") -> str:
    """The text, or as much of it as fits with an ellipsis.

    >>> shortened("reworked by hand", 20, 9)
    'reworked b…'
    """
    if width_mm(text, size_pt, font) <= width:
        return text
    cut = text
    while cut and width_mm(cut.rstrip() + "…", size_pt, font) > width:
        cut = cut[:-1]
    return cut.rstrip() + "…"
