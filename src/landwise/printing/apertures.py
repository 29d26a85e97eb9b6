"""Apertures over lands: one to one or reduced, corners rounded, big pads in panes, drilled lands by choice."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError
from landwise.lands.model import Land, LandPattern
from landwise.outlines import Outline
from landwise.printing.model import Aperture
from landwise.shapes import Placed, Shape, circle, rectangle, rounded


@dataclass(frozen=True)
class ApertureRules:
    """How apertures are drawn from lands. Reasons in `RULE_REASONS`.

    Parameters
    ----------
    reduction_mm : float
        Taken off every edge of a land. [mm]
    corner_mm : float
        Corner radius of rectangular apertures. [mm]
    pane_coverage : float
        Open share of a pad that is divided into panes. [-]
    pane_from_mm : float
        Pads whose shorter side is longer than this get panes. [mm]
    pane_bar_mm : float
        Least width of the foil's bars between panes. [mm]
    largest_pane_mm : float
        Panes are made no longer than this. [mm]
    drilled : {"none", "paste-in-hole"}
        Whether drilled lands are printed.
    published : bool
        Use the apertures a maker prints with its land, where the outline carries them.
    """

    reduction_mm: float = 0.0
    corner_mm: float = 0.0
    pane_coverage: float = 0.65
    pane_from_mm: float = 1.2
    pane_bar_mm: float = 0.20
    largest_pane_mm: float = 1.6
    drilled: Literal["none", "paste-in-hole"] = "none"
    published: bool = True

    def __post_init__(self) -> None:
        if not 0.2 <= self.pane_coverage <= 1.0:
            raise InputError(
                "no such coverage",
                place="aperture rules, pane_coverage",
                found=f"{self.pane_coverage:g}",
                expected="0.2 to 1",
            )
        if self.corner_mm < 0 or self.pane_bar_mm <= 0 or self.largest_pane_mm <= 0:
            raise InputError("aperture sizes must be positive", place="aperture rules")


RULE_REASONS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "reduction_mm": (
            "makers' drawings print 1:1; reductions are the assembler's habit",
            "ti-house-leadless",
        ),
        "corner_mm": (
            "sharp corners as drawn; 0.05 is printed by one maker and can be set",
            "corner-radius-practice",
        ),
        "pane_coverage": ("the middle of the 50 to 80 % that makers print", "pane-coverage-makers"),
        "pane_from_mm": (
            "the smallest centre pad that makers still divide is 1.4 mm wide",
            "pane-coverage-makers",
        ),
        "pane_bar_mm": ("openings of 0.90 on 1.10 pitch leave 0.20", "aperture-gap-slits"),
        "largest_pane_mm": ("the longest pane in makers' pages is 1.60", "segment-large"),
        "drilled": ("paste in holes needs heat-proof parts, so it is chosen, not assumed", "line-practice"),
        "published": ("a maker's printed aperture was tried with its land", "ti-sces217-dsf0006a"),
    }
)


def apertures(
    pattern: LandPattern, rules: ApertureRules | None = None, outline: Outline | None = None
) -> tuple[Aperture, ...]:
    """The apertures over a land pattern, in its land order.

    Parameters
    ----------
    pattern : LandPattern
    rules : ApertureRules, optional
    outline : Outline, optional
        Given, its published apertures are used where the pattern is the published one.

    Raises
    ------
    InputError
        If a reduction leaves nothing.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> panes = apertures(land_pattern(find("QFN-24-4x4")))[-1]
    >>> len(panes.openings), round(panes.coverage, 2)
    (4, 0.65)
    """
    rules = rules or ApertureRules()
    found = []
    for land in pattern.lands:
        if land.hole_mm is not None:
            if rules.drilled == "paste-in-hole":
                found.append(_over_hole(land))
            continue
        found.append(_over_land(land, pattern, rules, outline))
    return tuple(found)


def _over_land(land: Land, pattern: LandPattern, rules: ApertureRules, outline: Outline | None) -> Aperture:
    area = land.place.shape.area_mm2
    printed = _published(land, pattern, rules, outline)
    if printed is not None:
        return Aperture(land.terminal, (land.place.with_shape(printed),), area)
    shape = land.place.shape
    if land.terminal == "EP" and min(shape.length_mm, shape.width_mm) > rules.pane_from_mm:
        return Aperture("EP", panes(land.place, rules), area)
    if land.terminal == "EP":
        side = math.sqrt(rules.pane_coverage)
        return Aperture("EP", (land.place.with_shape(rectangle(shape.length_mm * side, shape.width_mm * side)),), area)
    reduced = shape.grown(-rules.reduction_mm) if rules.reduction_mm else shape
    if reduced.kind == "rectangle" and rules.corner_mm > 0:
        reduced = rounded(reduced.length_mm, reduced.width_mm, min(rules.corner_mm, reduced.width_mm / 2))
    return Aperture(land.terminal, (land.place.with_shape(reduced),), area)


def _published(land: Land, pattern: LandPattern, rules: ApertureRules, outline: Outline | None) -> Shape | None:
    carried = outline.published_land if outline else None
    if carried is None or not rules.published or pattern.style != "published":
        return None
    if land.terminal == "EP" or (outline and land.terminal == outline.centre_terminal):
        size = carried.exposed_aperture_mm
        return None if size is None else (circle(size) if land.place.shape.kind == "circle" else rectangle(size, size))
    if carried.aperture_length_mm is None or carried.aperture_width_mm is None:
        return None
    # Wafer-level drawings print a square aperture with a small radius over a round land.
    radius = 0.05 if land.place.shape.kind == "circle" else 0.0
    return rounded(carried.aperture_length_mm, carried.aperture_width_mm, radius)


def panes(place: Placed, rules: ApertureRules) -> tuple[Placed, ...]:
    """Divide a big pad into equal panes that together open the wanted share of it.

    The count is the least that keeps panes within the largest length; bars are as wide as the coverage
    makes them, never narrower than the least bar.

    Raises
    ------
    InputError
        If the coverage can't be reached with the least bar.
    """
    length, width = place.shape.length_mm, place.shape.width_mm
    side = math.sqrt(rules.pane_coverage)
    columns = max(2, math.ceil(length * side / rules.largest_pane_mm - 1e-9))
    rows = max(2, math.ceil(width * side / rules.largest_pane_mm - 1e-9))
    pane_l, pane_w = length * side / columns, width * side / rows
    if min(length / columns - pane_l, width / rows - pane_w) < rules.pane_bar_mm - 1e-9:
        # The coverage leaves too little foil for equal bars all round: keep the bars, spend the pad's edge.
        pane_l = min(pane_l, (length - (columns - 1) * rules.pane_bar_mm) / columns)
        pane_w = min(pane_w, (width - (rows - 1) * rules.pane_bar_mm) / rows)
        if pane_l * pane_w * rows * columns < 0.9 * rules.pane_coverage * length * width:
            raise InputError(
                "the coverage can't be reached",
                place="panes",
                found=f"{pane_l * pane_w * rows * columns / (length * width):.0%}",
                expected=f"{rules.pane_coverage:.0%} with bars of {rules.pane_bar_mm:g} mm",
            )
    step_l = max(length / columns, pane_l + rules.pane_bar_mm) if columns > 1 else length
    step_w = max(width / rows, pane_w + rules.pane_bar_mm) if rows > 1 else width
    step_l = min(step_l, (length - pane_l) / (columns - 1))
    step_w = min(step_w, (width - pane_w) / (rows - 1))
    found = []
    for i in range(columns):
        for j in range(rows):
            offset = place.at(_point((i - (columns - 1) / 2) * step_l, (j - (rows - 1) / 2) * step_w))
            x, y = float(offset[0, 0]), float(offset[0, 1])
            found.append(Placed(rectangle(pane_l, pane_w), x, y, place.angle_deg))
    return tuple(found)


def _point(x: float, y: float):  # type: ignore[no-untyped-def]
    import numpy as np

    return np.array([[x, y]])


def _over_hole(land: Land) -> Aperture:
    # At least the land itself; how much overprint a hole needs is worked by `paste_in_hole`.
    return Aperture(land.terminal, (land.place,), land.place.shape.area_mm2)
