"""Apertures over lands: one to one or reduced, corners rounded, big pads in panes, drilled lands by choice."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from landwise.errors import InputError
from landwise.lands.model import Land, LandPattern
from landwise.outlines import Outline
from landwise.printing.holes import CLEAR_MM, DrilledJoint, HolePaste, paste_in_hole, round_lead
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
        Open share of a pad under the body's middle. [-]
    pane_from_mm : float
        Pads whose shorter side is longer than this get panes, others one smaller opening. [mm]
    pane_bar_mm : float
        Least width of the foil's bars between panes. [mm]
    largest_pane_mm : float
        Panes are made no longer than this. [mm]
    toe_out_mm : float
        How far a designed opening may pass the outer end of its land. [mm]
    divide_above_mm : float
        Other lands longer than this are divided by bars, so that the blade doesn't scoop them. [mm]
    drilled : {"none", "paste-in-hole"}
        Whether drilled lands are printed.
    board_mm, hole_metal, hole_losses, hole_fillets
        For paste in hole: board thickness, metal by volume, factor for paste knocked out, sides with fillet.
    published : bool
        Use the apertures a maker prints with its land, where the outline carries them.
    """

    reduction_mm: float = 0.0
    corner_mm: float = 0.0
    pane_coverage: float = 0.65
    pane_from_mm: float = 1.2
    pane_bar_mm: float = 0.20
    largest_pane_mm: float = 1.6
    toe_out_mm: float = 0.10
    divide_above_mm: float = 5.0
    drilled: Literal["none", "paste-in-hole"] = "none"
    board_mm: float = 1.6
    hole_metal: float = 0.5
    hole_losses: float = 4 / 3
    hole_fillets: int = 2
    published: bool = True

    def __post_init__(self) -> None:
        if not 0.2 <= self.pane_coverage <= 1.0:
            raise InputError(
                "no such coverage",
                place="aperture rules, pane_coverage",
                found=f"{self.pane_coverage:g}",
                expected="0.2 to 1",
            )
        for name in ("pane_from_mm", "pane_bar_mm", "largest_pane_mm", "divide_above_mm", "board_mm"):
            if not getattr(self, name) > 0:
                raise InputError(
                    "an aperture size must be positive",
                    place=f"aperture rules, {name}",
                    found=f"{getattr(self, name):g} mm",
                    expected="> 0 mm",
                )
        for name, what in (("corner_mm", "corner"), ("toe_out_mm", "toe")):
            if getattr(self, name) < 0:
                raise InputError(
                    f"no such {what}",
                    place=f"aperture rules, {name}",
                    found=f"{getattr(self, name):g} mm",
                    expected="≥ 0 mm",
                )
        if self.drilled not in ("none", "paste-in-hole"):
            raise InputError(
                "no such rule", place="aperture rules, drilled", found=self.drilled, expected="none | paste-in-hole"
            )


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
        "toe_out_mm": ("what a stencil maker adds at 0.4 mm pitch", "toe-out-practice"),
        "divide_above_mm": ("large apertures are scooped; divide above about 5 mm", "segment-large"),
        "drilled": ("paste in holes needs heat-proof parts, so it is chosen, not assumed", "line-practice"),
        "board_mm": ("the common board thickness; only paste in holes depends on it", "line-practice"),
        "hole_metal": ("half of a paste is metal, as both published rules have it", "paste-in-hole-sheet"),
        "hole_losses": (
            "a third of the solder is knocked out by the lead in the worked example",
            "paste-in-hole-sheet",
        ),
        "hole_fillets": ("a drilled joint wets the lands of both sides", "paste-in-hole-sheet"),
        "published": ("a maker's printed aperture was tried with its land", "ti-sces217-dsf0006a"),
    }
)


def apertures(
    pattern: LandPattern,
    rules: ApertureRules | None = None,
    outline: Outline | None = None,
    *,
    foil_um: float | None = None,
) -> tuple[Aperture, ...]:
    """The apertures over a land pattern, in its land order.

    Parameters
    ----------
    pattern : LandPattern
    rules : ApertureRules, optional
    outline : Outline, optional
        Given, its published apertures are used where the pattern is the published one. Paste in hole needs
        it for the leads.
    foil_um : float, optional
        Foil; only paste in hole depends on it. [µm]

    Raises
    ------
    InputError
        If a reduction leaves nothing, a coverage can't be reached, or paste in hole lacks lead or foil.

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
        if land.hole_mm is None:
            found.append(_over_land(land, pattern, rules, outline))
        elif rules.drilled == "paste-in-hole":
            found.append(_over_hole(land, pattern, rules, outline, foil_um))
    return tuple(found)


def pane_coverage(count: int, length_mm: float, width_mm: float, pad_length_mm: float, pad_width_mm: float) -> float:
    """Open share of a pad under equal openings: count · l · w over the largest land. [-]

    >>> print(f"{pane_coverage(9, 0.90, 0.90, 3.30, 3.30):.3f}")
    0.669
    """
    if count < 1 or not min(length_mm, width_mm, pad_length_mm, pad_width_mm) > 0:
        raise InputError("openings and pad need positive sizes", place="pane-coverage")
    covered = count * length_mm * width_mm / (pad_length_mm * pad_width_mm)
    if covered > 1 + 1e-9:
        raise InputError(
            "the openings are larger than the pad", place="pane-coverage", found=f"{covered:.0%}", expected="≤ 100 %"
        )
    return covered


def _over_land(land: Land, pattern: LandPattern, rules: ApertureRules, outline: Outline | None) -> Aperture:
    shape, area = land.place.shape, land.place.shape.area_mm2
    printed = _published(land, pattern, rules, outline)
    if printed is not None:
        return Aperture(land.terminal, (land.place.with_shape(printed),), area)
    if land.terminal == "EP":
        if min(shape.length_mm, shape.width_mm) > rules.pane_from_mm:
            return Aperture("EP", panes(land.place, rules), area)
        side = math.sqrt(rules.pane_coverage)
        return Aperture("EP", (land.place.with_shape(_scaled(shape, side)),), area)
    reduced = shape.grown(-rules.reduction_mm) if rules.reduction_mm else shape
    if max(reduced.length_mm, reduced.width_mm) > rules.divide_above_mm:
        return Aperture(land.terminal, _divided(land.place.with_shape(reduced), rules), area)
    if reduced.kind == "rectangle" and rules.corner_mm > 0:
        shorter = min(reduced.length_mm, reduced.width_mm)
        reduced = rounded(reduced.length_mm, reduced.width_mm, min(rules.corner_mm, shorter / 2))
    return Aperture(land.terminal, (land.place.with_shape(reduced),), area)


def _scaled(shape: Shape, factor: float) -> Shape:
    """The same shape, smaller in both directions; polygons by their box."""
    if shape.kind == "circle":
        return circle(shape.length_mm * factor)
    return rectangle(shape.length_mm * factor, shape.width_mm * factor)


def _published(land: Land, pattern: LandPattern, rules: ApertureRules, outline: Outline | None) -> Shape | None:
    carried = outline.published_land if outline else None
    if outline is None or carried is None or not rules.published or pattern.style != "published":
        return None
    if land.terminal in ("EP", outline.centre_terminal):
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
    # Where the coverage leaves too little foil for equal bars all round, the bars stay and the pad's edge is spent.
    pane_l = min(length * side / columns, (length - (columns - 1) * rules.pane_bar_mm) / columns)
    pane_w = min(width * side / rows, (width - (rows - 1) * rules.pane_bar_mm) / rows)
    reached = max(pane_l, 0.0) * max(pane_w, 0.0) * rows * columns / (length * width)
    if reached < 0.9 * rules.pane_coverage:
        raise InputError(
            "the coverage can't be reached",
            place="panes",
            found=f"{reached:.0%}",
            expected=f"{rules.pane_coverage:.0%} with bars of {rules.pane_bar_mm:g} mm",
        )
    step_l = min(max(length / columns, pane_l + rules.pane_bar_mm), (length - pane_l) / (columns - 1))
    step_w = min(max(width / rows, pane_w + rules.pane_bar_mm), (width - pane_w) / (rows - 1))
    return _grid(place, rectangle(pane_l, pane_w), columns, rows, step_l, step_w)


def _divided(place: Placed, rules: ApertureRules) -> tuple[Placed, ...]:
    """A long land cut by bars only: as much of it stays open as they leave."""
    length, width = place.shape.length_mm, place.shape.width_mm
    columns, rows = (math.ceil(side / rules.divide_above_mm - 1e-9) for side in (length, width))
    pane = rectangle(
        (length - (columns - 1) * rules.pane_bar_mm) / columns, (width - (rows - 1) * rules.pane_bar_mm) / rows
    )
    return _grid(place, pane, columns, rows, pane.length_mm + rules.pane_bar_mm, pane.width_mm + rules.pane_bar_mm)


def _grid(place: Placed, pane: Shape, columns: int, rows: int, step_l: float, step_w: float) -> tuple[Placed, ...]:
    local = np.array(
        [((i - (columns - 1) / 2) * step_l, (j - (rows - 1) / 2) * step_w) for i in range(columns) for j in range(rows)]
    )
    return tuple(Placed(pane, float(x), float(y), place.angle_deg) for x, y in place.at(local))


def hole_need(
    land: Land, pattern: LandPattern, rules: ApertureRules, outline: Outline | None, foil_um: float | None
) -> HolePaste:
    """Paste that a drilled land asks for, and the opening's area that prints it.

    Raises
    ------
    InputError
        Without the leads' sizes, or without a foil.
    """
    if outline is None or outline.terminal_thickness_mm is None or foil_um is None or land.hole_mm is None:
        raise InputError(
            "paste in hole needs the leads and the foil",
            place=f"{pattern.outline}, terminal {land.terminal}",
            expected="an outline with terminal_thickness_mm, and a foil thickness",
        )
    joint = DrilledJoint(
        land.hole_mm,
        round_lead(outline.terminal_width_mm.nom, outline.terminal_thickness_mm.nom),
        rules.board_mm,
        ring_mm=max(0.0, (land.place.shape.length_mm - land.hole_mm) / 2),
        fillets=rules.hole_fillets,
    )
    return paste_in_hole(joint, foil_um, metal_fraction=rules.hole_metal, losses=rules.hole_losses)


def _over_hole(
    land: Land, pattern: LandPattern, rules: ApertureRules, outline: Outline | None, foil_um: float | None
) -> Aperture:
    """An overprint that holds a drilled joint's paste, as far as its neighbours let it grow."""
    shape = land.place.shape
    need = hole_need(land, pattern, rules, outline, foil_um)
    room_l, room_w = overprint_room(land, pattern)
    # At least the land itself; then as square as the neighbours allow.
    width = max(shape.width_mm, min(math.sqrt(need.aperture_area_mm2), room_w))
    length = max(shape.length_mm, min(need.aperture_area_mm2 / width, room_l))
    opening = land.place.with_shape(rectangle(length, width))
    return Aperture(land.terminal, (opening,), shape.area_mm2, need.paste_mm3)


def overprint_room(land: Land, pattern: LandPattern) -> tuple[float, float]:
    """Largest length and width of an overprint that keeps clear of equal ones around it. [mm]"""
    angle = math.radians(land.place.angle_deg)
    along = np.array([math.cos(angle), math.sin(angle)])
    away = np.array([[o.place.x_mm - land.place.x_mm, o.place.y_mm - land.place.y_mm] for o in pattern.lands])
    reach = np.abs(np.column_stack([away @ along, away @ np.array([-along[1], along[0]])]))
    others = reach[reach.max(axis=1) > 1e-9]
    ahead = others[others[:, 0] > others[:, 1], 0]
    beside = others[others[:, 0] <= others[:, 1], 1]
    return float(ahead.min(initial=math.inf)) - CLEAR_MM, float(beside.min(initial=math.inf)) - CLEAR_MM
