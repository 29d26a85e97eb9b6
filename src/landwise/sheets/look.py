"""The look of everything drawn: colours, line widths, type sizes, dashes, hatches, verdict marks. Change it here.

Colours are named by what they are for, so that a dark page can re-tune them: every drawn element carries
the classes `k-NAME` (stroke) and `f-NAME` (fill) beside its plain attributes, and `css()` overrides those.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.evidence.figures import Verdict

MM_PER_PT = 25.4 / 72  # the point of printed type, exact by definition

# Type sizes. [pt]
SMALL, TEXT, HEAD, TITLE = 9.0, 11.0, 14.0, 20.0
SANS, MONO = "Landwise Sans", "Landwise Mono"
Font = Literal["sans", "bold", "mono"]

# Line widths on paper: wide and narrow as 2 to 1 (ISO 128-20, from memory). [mm]
WIDE, NARROW = 0.5, 0.25
FINE, HAIR = 0.18, 0.13  # the next steps of that series: small solder and parts; hatching, which must stay behind
HEAVY = 1.4  # the ground line under the choice: more than twice as wide, to be told apart at arm's length

# Dashes in mm on paper: dashed, long-dashed, dash-dot, dash-dot-dot (kinds as ISO 128-20, from memory).
DASHED: tuple[float, ...] = (2.0, 0.8)
FINE_DASHED: tuple[float, ...] = (1.0, 0.6)
LONG_DASH: tuple[float, ...] = (4.0, 1.2)
CENTRE: tuple[float, ...] = (6.0, 0.8, 0.3, 0.8)
PHANTOM: tuple[float, ...] = (5.0, 0.8, 0.3, 0.8, 0.3, 0.8)


@dataclass(frozen=True)
class Stroke:
    """A line: colour by name, width and dashes on paper. [mm]"""

    colour: str
    width_mm: float
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Theme:
    """Colours by name."""

    name: str
    colours: Mapping[str, str]

    def __getitem__(self, colour: str) -> str:
        return self.colours[colour]


LIGHT = Theme(
    "light",
    MappingProxyType(
        {
            "paper": "#fbfaf7",
            "ink": "#1f2430",
            "graphite": "#4a5160",
            "sea": "#1d7874",
            "brick": "#a63d2f",
            "plum": "#6d4a7c",
            "slate": "#566a85",
            "umber": "#8f5f14",
            "ochre": "#c98a2b",
            "steel": "#6b7f99",
            "metal": "#a3a9b3",
            "solder": "#d5d8dc",
            "board": "#ece8dc",
            "body": "#ffffff",
            "grid": "#d8d5cc",
        }
    ),
)
DARK = Theme(
    "dark",
    MappingProxyType(
        {
            "paper": "#14171d",
            "ink": "#e8e6e1",
            "graphite": "#b4bac6",
            "sea": "#5cc4bd",
            "brick": "#e58a7b",
            "plum": "#c3a0d3",
            "slate": "#9db1cd",
            "umber": "#d9a550",
            "ochre": "#a8701c",
            "steel": "#566a85",
            "metal": "#7d838e",
            "solder": "#545b66",
            "board": "#262a30",
            "body": "#20242c",
            "grid": "#343a44",
        }
    ),
)
THEMES: Mapping[str, Theme] = MappingProxyType({"light": LIGHT, "dark": DARK})
# Colours that letters may take: at least 4.5 to 1 against the paper of their theme.
TEXT_COLOURS = ("ink", "graphite", "sea", "brick", "plum", "slate", "umber")
# Series of a chart: each differs from its neighbours in lightness and in pattern too.
SERIES = ("steel", "hatch/sea", "ochre", "dots/plum", "back/brick", "solder", "cross/slate")

# Pens by purpose.
OUTLINE = Stroke("ink", WIDE)
THIN = Stroke("ink", NARROW)
BODY = Stroke("graphite", WIDE)
HIDDEN = Stroke("graphite", NARROW, DASHED)
MASK = Stroke("slate", NARROW, FINE_DASHED)
APERTURE = Stroke("ink", NARROW)
COURTYARD = Stroke("plum", NARROW, LONG_DASH)
AXIS = Stroke("graphite", NARROW, CENTRE)
DIMENSION = Stroke("graphite", NARROW)
PHANTOM_LINE = Stroke("graphite", NARROW, PHANTOM)
GRID = Stroke("grid", NARROW)

# Patterns: name to (spacing of the lines or dots [mm], width [mm], turn [deg], kind).
PATTERNS: Mapping[str, tuple[float, float, float, str]] = MappingProxyType(
    {
        "hatch": (1.1, HAIR, -45.0, "lines"),
        "back": (0.9, HAIR, 45.0, "lines"),
        "wide": (1.4, NARROW, -45.0, "lines"),
        "cross": (1.1, HAIR, 45.0, "cross"),
        "dots": (0.9, 0.32, 0.0, "dots"),
    }
)

Mark = Literal["filled circle", "half-filled circle", "square", "open ring"]


@dataclass(frozen=True)
class VerdictLook:
    """How a verdict is said: its word, its shape, its colour, and a character for the terminal."""

    word: str
    mark: Mark
    colour: str
    sign: str


VERDICT_LOOKS: Mapping[Verdict, VerdictLook] = MappingProxyType(
    {
        "holds": VerdictLook("holds", "filled circle", "sea", "●"),
        "marginal": VerdictLook("marginal", "half-filled circle", "umber", "◐"),
        "fails": VerdictLook("fails", "square", "brick", "■"),
        "not known": VerdictLook("not known", "open ring", "graphite", "○"),
    }
)


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`, after WCAG 2.1 (from memory).

    >>> round(luminance("#ffffff"), 3), luminance("#000000")
    (1.0, 0.0)
    """
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21, after WCAG 2.1 (from memory).

    >>> contrast("#000000", "#ffffff")
    21.0
    """
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def mixed(low: str, high: str, share: float) -> str:
    """A step of a sequential scale: `low` at 0, `high` at 1, in plain sRGB.

    >>> mixed("#000000", "#ffffff", 0.5)
    '#808080'
    """
    share = min(1.0, max(0.0, share))
    pairs = ((int(low[at : at + 2], 16), int(high[at : at + 2], 16)) for at in (1, 3, 5))
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in pairs)


def css(theme: Theme = DARK, within: str = "") -> str:
    """Rules that re-colour inlined drawings, for a page that has its own dark look.

    >>> css(DARK, ".dark").splitlines()[0]
    '.dark .k-paper{stroke:#14171d}.dark .f-paper{fill:#14171d}'
    """
    lead = f"{within} " if within else ""
    return "\n".join(
        f"{lead}.k-{name}{{stroke:{value}}}{lead}.f-{name}{{fill:{value}}}" for name, value in theme.colours.items()
    )
