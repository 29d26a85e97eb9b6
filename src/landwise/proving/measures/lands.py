"""Lands, courtyards and lands under balls as landwise computes them. Lengths in mm."""

from __future__ import annotations

import math
from dataclasses import replace

from landwise.lands import Land, LandPattern, Level, land_pattern
from landwise.lands.balls import ball_land
from landwise.lands.courtyard import courtyard_size
from landwise.lands.goals import goals, inner_gap, inner_gap_limits, land_width, outer_span
from landwise.outlines import PublishedLand, find
from landwise.untyped import Table

__all__ = [
    "ball",
    "centre_pad",
    "courtyard_above",
    "inner",
    "mask_defined_copper",
    "pad_for_pad",
    "plain",
    "wafer_level",
    "width",
]
FABRICATION_MM = PLACEMENT_MM = 0.10  # the defaults of the land rules


def plain_method(case: Table) -> dict[str, float]:
    """The plain method's outer, inner, centre, length and width, before rounding, trimming and least gaps.

    `case` holds form, level and the outline's `span_mm`, `foot_mm` and `width_mm`, each (least, most).
    """
    goal = goals(case["form"], case["level"])
    span, foot, wide = case["span_mm"], case["foot_mm"], case["width_mm"]
    made, placed = FABRICATION_MM, PLACEMENT_MM
    outer = float(outer_span(span[0], span[1], goal.toe_mm, made, placed))
    gap = inner_gap_limits(span[0], span[1], foot[0], foot[1])
    within = float(inner_gap(gap[0], gap[1], goal.heel_mm, made, placed))
    land = float(land_width(wide[0], wide[1], goal.side_mm, made, placed))
    return {
        "outer": outer,
        "inner": within,
        "centre": (outer + within) / 2,
        "length": (outer - within) / 2,
        "width": land,
    }


def plain(size: str, **case: object) -> float:
    """One of the plain method's sizes."""
    return plain_method(case)[size]


def courtyard_above(form: str, level: Level, land: float) -> float:
    """The courtyard's length over a land pattern's, before rounding up."""
    return courtyard_size(land, 0.5 * land, goals(form, level).courtyard_mm)


def _rows(pattern: LandPattern) -> list[Land]:
    """The first pair of opposite lands in the rows left and right."""
    level = [land for land in pattern.lands if land.terminal != "EP" and land.place.angle_deg in (0.0, 180.0)]
    top = max(land.place.y_mm for land in level)
    return [land for land in level if math.isclose(land.place.y_mm, top)]


def pad_for_pad(outline: str, size: str) -> float:
    """Length, width or row distance (`rows`) of the lands that follow each terminal."""
    first, second = (land.place for land in _rows(land_pattern(find(outline), style="pad-for-pad")))
    sizes = {
        "length": first.shape.length_mm,
        "width": first.shape.width_mm,
        "rows": abs(second.x_mm - first.x_mm),
    }
    return float(sizes[size])


def width(outline: str) -> float:
    """Width of the lands by the goals, cut where the gap to the neighbour asks for it."""
    return float(land_pattern(find(outline), style="goals").lands[0].place.shape.width_mm)


def inner(outline: str) -> float:
    """Free distance between the two rows of lands by the goals, heels trimmed."""
    lands = land_pattern(find(outline), style="goals").lands
    return float(2 * min(abs(land.place.x_mm) - land.place.shape.length_mm / 2 for land in lands))


def centre_pad(outline: str, size: str) -> float:
    """Side of the centre pad (`pad`), or the distance between the lands around it (`inner`), by the goals."""
    lands = land_pattern(find(outline), style="goals").lands
    if size == "pad":
        return float(lands[-1].place.shape.length_mm)
    return float(2 * (abs(lands[0].place.x_mm) - lands[0].place.shape.length_mm / 2))


def ball(diameter: float, size: str) -> float:
    """Land under a ball: `nominal`, `high` or `low`; or the `ball` of the row that is taken."""
    row = ball_land(diameter)
    return float({"nominal": row.land_mm, "high": row.high_mm, "low": row.low_mm, "ball": row.ball_mm}[size])


def mask_defined_copper(pitch: float, opening: float) -> float:
    """Copper of a land that the mask defines, by the default rules."""
    land = PublishedLand(opening, opening, "spraa99c-lands", mask_defined=True)
    grid = replace(find("BGA-49-0.4"), name="grid", pitch_mm=pitch, published_land=land)
    return float(land_pattern(grid, style="published").lands[0].copper.shape.length_mm)


def wafer_level(size: str) -> float:
    """Copper or mask opening of the four-ball body at 0.35 mm pitch; `covered`: its copper where the mask defines."""
    outline = find("WLP-4-0.35")
    if size == "covered":
        outline = replace(outline, published_land=PublishedLand(0.18, 0.18, "e2e-380727", mask_defined=True))
    land = land_pattern(outline).lands[0]
    return float(land.opening.shape.length_mm if size == "opening" else land.copper.shape.length_mm)
