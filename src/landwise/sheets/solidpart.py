"""Leads, plates and body of a part as solids."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from landwise.outlines.model import GRIDS, LEADLESS, Range, Terminal
from landwise.sheets.mesh import box, extruded, level, revolved, rounded_loft, rounded_ring
from landwise.sheets.profile import DRAFT_DEG
from landwise.sheets.profilelines import lead_profile
from landwise.sheets.solidpieces import Piece, Stood, place_of

BEVEL_SHARE = 0.03  # of a body's edges, over its height
MARK_MM = 0.004  # how far the mark of terminal 1 stands off the body: to be seen, not to measure


def leads(stood: Stood) -> list[Piece]:
    """Leads, or a leadless part's plates."""
    if stood.outline.family in GRIDS:
        return []
    outline, lift, thick = stood.outline, stood.lift_mm, stood.thickness_mm
    groups: dict[tuple[float, float, float, Range], list[Terminal]] = {}
    for terminal in stood.terminals:
        across = terminal.side in ("left", "right")
        at = abs(terminal.x_mm) if across else abs(terminal.y_mm)
        side = outline.body_width_mm if across else outline.body_length_mm
        groups.setdefault((round(at, 6), terminal.length_mm, terminal.width_mm, side), []).append(terminal)
    pieces = []
    for (at, long, wide, across_mm), alike in groups.items():
        if alike[0].side == "centre" or outline.family in LEADLESS:
            mesh = box((-long / 2, -wide / 2, lift), (long / 2, wide / 2, lift + thick))
        else:
            # The side view's lead, out of the side of the body that this row stands at.
            seen = replace(outline, body_width_mm=across_mm)
            mesh = extruded(lead_profile(seen, thick, lift, at, long) - np.array([at, 0.0]), wide)
        pieces.append(Piece("terminal", mesh, tuple(map(place_of, alike)), lifts=True))
    return pieces


def body(stood: Stood) -> list[Piece]:
    """The body with the mark of terminal 1."""
    outline = stood.outline
    half = np.array([outline.body_width_mm.nom / 2, outline.body_length_mm.nom / 2])
    low, high = stood.lift_mm + outline.standoff_mm.nom, stood.lift_mm + outline.height_mm.nom
    bevel = BEVEL_SHARE * (high - low)
    if outline.family in GRIDS | LEADLESS:
        insets = [(low, 0.0), (high - bevel, 0.0), (high, bevel)]
    else:
        middle = low + stood.thickness_mm if outline.family == "flat-lead dual" else (low + high) / 2
        slope = math.tan(math.radians(DRAFT_DEG))
        up, down = (min(slope * rise, 0.2 * half[0]) for rise in (high - middle, middle - low))
        insets = [
            (low, down),
            (middle, 0.0),
            (high - bevel, up * (1 - bevel / (high - middle))),
            (high, up + bevel),
        ]
    corner = 0.04 * float(min(half))
    rings = [level(rounded_ring(half[0] - inset, half[1] - inset, corner), z) for z, inset in insets]
    top_half = half - insets[-1][1]
    radius = min(0.11 * float(min(half)) * 2, 0.5)
    first = stood.terminals[0]
    x = (-1.0 if first.x_mm <= 1e-9 else 1.0) * (top_half[0] - 1.7 * radius)
    y = (-1.0 if first.y_mm < -1e-9 else 1.0) * (top_half[1] - 1.7 * radius)
    mark = revolved([(radius, high), (radius, high + MARK_MM)]).moved(float(x), float(y))
    return [Piece("body", rounded_loft(np.stack(rings)), lifts=True), Piece("mark", mark, lifts=True)]
