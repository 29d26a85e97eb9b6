"""Lands moved inside what their goals allow, with the print that suits them best, and what that gains."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

from landwise.designing.design import WIDE_ENOUGH, Design, Designer
from landwise.designing.guard import TARGET
from landwise.designing.margins import margin_of
from landwise.designing.stacked import Line
from landwise.errors import LandwiseError
from landwise.evidence.figures import Step
from landwise.lands import LandRules, land_pattern
from landwise.lands.courtyard import courtyard
from landwise.lands.mask import with_openings
from landwise.lands.model import LEVELS, Bind, Land, LandPattern, Level
from landwise.lands.rows import feet_off_lands
from landwise.outlines import GRIDS, Outline
from landwise.printing.apertures import ApertureRules
from landwise.shapes import least_gap_mm, rectangle

WORTH = 0.10  # standard deviations below which nobody leaves his lands

Moved = Literal["moved", "wide enough", "no gain", "no range", "not worked"]


@dataclass(frozen=True)
class LandChoice:
    """Lands inside the goals' range, and their design.

    Parameters
    ----------
    pattern : LandPattern
        The default's where nothing else gains.
    design : Design
        Of those lands.
    default : Design
        Of the default lands.
    reason : str
        `moved`; or why the default lands stay: `wide enough` (their print holds the target at one and a half times
        the scatter), `no gain`, `no range` (balls, drilled leads, a terminal in the middle), `not worked`.
    toe, heel, side, pad : str
        Level of the goals that each end, the width and the pad under the body are taken from; empty for the default
        lands, and for a pad that keeps its land.
    gain : float
        Margin over the designed print of the default lands, zero where they are kept. [standard deviations]
    tried : int
        How many lands were worked beside the default.
    """

    pattern: LandPattern
    design: Design
    default: Design
    reason: Moved
    toe: Level | str = ""
    heel: Level | str = ""
    side: Level | str = ""
    pad: Level | str = ""
    gain: float = 0.0
    tried: int = 0


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
    Toe, heel and side are each taken from the most, nominal or least level of the goals; the pad under the body is as
    large as the package's pad is at most, by its drawing, or at least. Lands whose copper or mask comes closer than the
    rules' minima are left out. Balls, drilled leads and a terminal in the middle have no such ranges, and keep their
    lands.

    A default (often a maker's) is left only for lands whose designed print has `WORTH` more margin in the middle, no
    less at either end of the transfer's band, no more expected defects by the exact model, and joints as good as those
    of the default's print; and only where the default's print does not hold the target widely already. The gain says
    what leaving it brings.

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.outlines import find
    >>> found = lands_and_print(find("WLP-5-0.4"), Line(scatter(0.03, 0.05)), 100)
    >>> found.reason, found.gain, found.tried
    ('no range', 0.0, 0)
    """
    own = land_rules or LandRules()
    lands = land_pattern(outline, rules=own)
    designer = Designer(outline, lands, line, rules)
    design = designer.design(foil_um)
    stays = LandChoice(lands, design, design, "no range")
    start = design.margins
    if outline.drilled or outline.family in GRIDS or outline.centre_terminal:
        return stays
    if start is None:
        return replace(stays, reason="not worked")
    if start.middle >= WIDE_ENOUGH * float(margin_of(TARGET / 1e6)):
        return replace(stays, reason="wide enough")
    before = designer.held(design)
    best, tried = replace(stays, reason="no gain"), 0

    def consider(levels: tuple[str, str, str, str], pattern: LandPattern) -> None:
        nonlocal best
        other = Designer(outline, pattern, line, rules)
        found = other.design(foil_um)
        at = found.margins
        if at is None or at.middle < start.middle + max(best.gain, WORTH) or not before.kept_by(other.held(found)):
            return
        if at.low < start.low or at.high < start.high:
            return
        # The margin is that of the fast model; the exact one must not see more defects.
        if other.defects(found) > designer.defects(design):
            return
        best = LandChoice(pattern, found, design, "moved", *levels, gain=at.middle - start.middle)

    for levels, pattern in _between(outline, own):
        tried += 1
        consider((*levels, ""), pattern)
    if outline.has_exposed_pad and best.pattern.style != "published":
        at = best.toe, best.heel, best.side
        for level, pattern in _pads(outline, best.pattern, own):
            tried += 1
            consider((*at, level), pattern)
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
        if key in seen:
            continue
        seen.add(key)
        named = toe if toe == heel == side else f"toe {toe}, heel {heel}, side {side}"
        found = _kept(outline, replace(made[toe], level=named), lands, rules)
        if found is not None:
            yield (toe, heel, side), found


def _pads(outline: Outline, pattern: LandPattern, rules: LandRules) -> Iterator[tuple[Level, LandPattern]]:
    """The same lands with the pad under the body as large as the package's is at most, by its drawing, or at least."""
    length, width = outline.exposed_length_mm, outline.exposed_width_mm
    at = next((k for k, land in enumerate(pattern.lands) if land.terminal == "EP"), None)
    if at is None or length is None or width is None or pattern.lands[at].place.shape.kind != "rectangle":
        return
    pad = pattern.lands[at]
    for level, sides in zip(LEVELS, ("max", "nom", "min"), strict=True):
        size = getattr(length, sides), getattr(width, sides)
        if size == (pad.place.shape.length_mm, pad.place.shape.width_mm):
            continue
        place = pad.place.with_shape(rectangle(*size))
        lands = [*pattern.lands[:at], replace(pad, place=place, copper=place, opening=place), *pattern.lands[at + 1 :]]
        if _to_pad_mm(lands, at) < rules.exposed_gap_mm - 1e-9:
            continue
        found = _kept(outline, replace(pattern, level=f"{pattern.level}, pad {level}"), lands, rules)
        if found is not None:
            yield level, found


def _to_pad_mm(lands: list[Land], pad: int) -> float:
    return min((least_gap_mm([lands[pad].place, land.place]) for k, land in enumerate(lands) if k != pad), default=1.0)


def _kept(outline: Outline, base: LandPattern, lands: list[Land], rules: LandRules) -> LandPattern | None:
    """The pattern of these lands with its mask; None where copper or mask come too near."""
    if least_gap_mm([land.place for land in lands]) < rules.least_copper_gap_mm - 1e-9:
        return None
    binds: list[Bind] = []
    trail = [Step(says=f"lands moved inside their goals: {base.level}", sources=("landwise-rule",))]
    try:
        opened = with_openings(outline, "goals", lands, rules, binds, trail)
    except LandwiseError:
        return None
    binds.extend(feet_off_lands(outline, opened))
    return replace(
        base,
        lands=tuple(opened),
        # The margin around body and lands is the default's, so that areas compare.
        courtyard_mm=courtyard(outline, opened, "nominal", rules, trail),
        least_copper_gap_mm=round(least_gap_mm([land.copper for land in opened]), 6),
        least_web_mm=round(least_gap_mm([land.opening for land in opened]), 6),
        binds=tuple(binds),
        trail=tuple(trail),
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
