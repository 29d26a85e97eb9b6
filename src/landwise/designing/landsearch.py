"""Lands moved inside what their goals allow, with the print that suits them best, and what that gains."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

from landwise.designing.design import Design, Designer
from landwise.designing.stacked import Line
from landwise.errors import LandwiseError
from landwise.lands import LandRules, land_pattern
from landwise.lands.mask import with_openings
from landwise.lands.model import LEVELS, Bind, Land, LandPattern, Level
from landwise.outlines import GRIDS, Outline
from landwise.printing.apertures import ApertureRules
from landwise.shapes import least_gap_mm, rectangle

WORTH = 0.10  # standard deviations below which nobody leaves his lands


@dataclass(frozen=True)
class LandChoice:
    """Lands inside the goals' range, and their design.

    Parameters
    ----------
    pattern : LandPattern
        The default's where nothing else gains.
    design : Design
        Of those lands.
    toe, heel, side : str
        Level of the goals that each end and the width is taken from; empty for the default lands.
    gain : float
        Margin over the designed print of the default lands, zero where they are kept. [standard deviations]
    tried : int
        How many lands were worked beside the default.
    """

    pattern: LandPattern
    design: Design
    toe: Level | str
    heel: Level | str
    side: Level | str
    gain: float
    tried: int


def lands_and_print(
    outline: Outline,
    line: Line,
    foil_um: float,
    *,
    rules: ApertureRules | None = None,
    land_rules: LandRules | None = None,
) -> LandChoice:
    """The lands between the densest and the leanest goals, with the print, that leave the widest margin.

    Parameters
    ----------
    outline : Outline
    line : Line
    foil_um : float
        [µm]
    rules, land_rules : optional
        Of the print that designs are held against, and of lands and mask.

    Notes
    -----
    Toe, heel and side are each taken from the most, nominal or least level of the goals; the pad under the body keeps
    its land. Lands whose copper or mask comes closer than the rules' minima are left out. Balls and drilled leads have
    no such ranges, and keep their lands. The gain says what leaving the default (often a maker's) would bring.

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.outlines import find
    >>> found = lands_and_print(find("WLP-5-0.4"), Line(scatter(0.03, 0.05)), 100)
    >>> found.gain, found.tried
    (0.0, 0)
    """
    own = land_rules or LandRules()
    default = land_pattern(outline, rules=own)
    best = LandChoice(default, Designer(outline, default, line, rules).design(foil_um), "", "", "", 0.0, 0)
    start = best.design.margins
    if start is None or outline.drilled or outline.family in GRIDS or outline.centre_terminal:
        return best
    tried, height = 0, start.middle + WORTH
    for levels, pattern in _between(outline, own):
        design = Designer(outline, pattern, line, rules).design(foil_um)
        tried += 1
        if design.margins is not None and design.margins.middle > height:
            height = design.margins.middle
            best = LandChoice(pattern, design, *levels, height - start.middle, tried)
    return replace(best, tried=tried)


def _between(outline: Outline, rules: LandRules) -> Iterator[tuple[tuple[Level, Level, Level], LandPattern]]:
    """Lands with each end and the width from one level of the goals, where they keep the rules."""
    made: dict[Level, LandPattern] = {}
    for level in LEVELS:
        try:
            made[level] = land_pattern(outline, style="goals", level=level, rules=rules)
        except LandwiseError:
            continue
    seen = set()
    for toe, heel, side in product(made, repeat=3):
        lands = [_mixed(*three) for three in zip(made[toe].lands, made[heel].lands, made[side].lands, strict=True)]
        key = tuple((land.place.shape, land.place.x_mm, land.place.y_mm) for land in lands)
        if key in seen or least_gap_mm([land.place for land in lands]) < rules.least_copper_gap_mm - 1e-9:
            continue
        seen.add(key)
        binds: list[Bind] = []
        try:
            opened = with_openings(outline, "goals", lands, rules, binds, [])
        except LandwiseError:
            continue
        base = made[toe]
        yield (
            (toe, heel, side),
            replace(
                base,
                lands=tuple(opened),
                least_copper_gap_mm=round(least_gap_mm([land.copper for land in opened]), 6),
                least_web_mm=round(least_gap_mm([land.opening for land in opened]), 6),
                binds=tuple(binds),
            ),
        )


def _mixed(toe: Land, heel: Land, side: Land) -> Land:
    """A land with its outer end from one, its inner end from another and its width from a third."""
    if toe.terminal == "EP" or toe.place.shape.kind != "rectangle":
        return toe
    angle = math.radians(toe.place.angle_deg)

    def out(land: Land) -> float:
        return land.place.x_mm * math.cos(angle) + land.place.y_mm * math.sin(angle)

    outer = out(toe) + toe.place.shape.length_mm / 2
    inner = out(heel) - heel.place.shape.length_mm / 2
    shift = (outer + inner) / 2 - out(toe)
    place = replace(
        toe.place.with_shape(rectangle(round(outer - inner, 6), side.place.shape.width_mm)),
        x_mm=round(toe.place.x_mm + shift * math.cos(angle), 9),
        y_mm=round(toe.place.y_mm + shift * math.sin(angle), 9),
    )
    return replace(toe, place=place, copper=place, opening=place)
