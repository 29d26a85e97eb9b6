"""Openings over drilled leads: as much of the joint's paste as fits beside the neighbours and inside the courtyard."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from landwise.lands.model import Land, LandPattern
from landwise.outlines import Outline
from landwise.printing.apertures import ApertureRules, hole_need, overprint_room
from landwise.printing.holes import CLEAR_MM
from landwise.printing.model import Aperture
from landwise.shapes import rectangle


def overprints(
    outline: Outline, pattern: LandPattern, foil_um: float, rules: ApertureRules | None = None
) -> tuple[Aperture, ...]:
    """One opening over every drilled land, none past the courtyard. Which paste it holds shows in the print's fill.

    Parameters
    ----------
    outline, pattern
        The drilled part and its lands.
    foil_um : float
        [µm]
    rules : ApertureRules, optional
        Of paste in hole: board, metal, losses, fillets.

    Notes
    -----
    The opening is never smaller than its land. It first grows along the row until it is half a millimetre from its
    neighbour's, then outward to the courtyard and inward to half a millimetre from the opposite row's, evenly until
    the nearer of the two ends; where both ends are met, it holds less than is wanted, and the fill says how much.

    Raises
    ------
    InputError
        Without the leads' sizes.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> part = find("DIP-14")
    >>> made = overprints(part, land_pattern(part), 150)
    >>> len(made), made[0].area_mm2 > made[0].land_area_mm2
    (14, True)
    """
    rules = rules or ApertureRules(drilled="paste-in-hole")
    return tuple(_over(land, outline, pattern, foil_um, rules) for land in pattern.lands if land.hole_mm is not None)


def _over(land: Land, outline: Outline, pattern: LandPattern, foil_um: float, rules: ApertureRules) -> Aperture:
    shape = land.place.shape
    need = hole_need(land, pattern, rules, outline, foil_um)
    across, beside = overprint_room(land, pattern)
    width = max(shape.width_mm, min(math.sqrt(need.aperture_area_mm2), beside))
    wanted = max(shape.length_mm, need.aperture_area_mm2 / width)
    half = shape.length_mm / 2
    out = max(half, _to_courtyard(land, pattern))
    inside = max(half, across / 2 if math.isfinite(across) else math.inf)
    outward = min(wanted / 2, out)
    inward = min(wanted - outward, inside)
    outward = min(wanted - inward, out)
    angle = math.radians(land.place.angle_deg)
    shift = (outward - inward) / 2
    opening = replace(
        land.place.with_shape(rectangle(outward + inward, width)),
        x_mm=round(land.place.x_mm + shift * math.cos(angle), 9),
        y_mm=round(land.place.y_mm + shift * math.sin(angle), 9),
    )
    return Aperture(land.terminal, (opening,), shape.area_mm2, need.paste_mm3)


def _to_courtyard(land: Land, pattern: LandPattern) -> float:
    """From a land's middle outward to the courtyard's edge. [mm]"""
    angle = math.radians(land.place.angle_deg)
    out = np.array([math.cos(angle), math.sin(angle)])
    at = np.array([land.place.x_mm, land.place.y_mm])
    edges = [
        (pattern.courtyard_mm[k] / 2 - abs(float(at[k]))) / abs(float(out[k])) for k in (0, 1) if abs(out[k]) > 1e-9
    ]
    return min(edges, default=CLEAR_MM)


def beyond_courtyard_mm(apertures: tuple[Aperture, ...], pattern: LandPattern) -> float:
    """How far the furthest opening reaches past the courtyard; zero where none does. [mm]"""
    reach = 0.0
    for aperture in apertures:
        for opening in aperture.openings:
            low_x, low_y, high_x, high_y = opening.box
            half_x, half_y = pattern.courtyard_mm[0] / 2, pattern.courtyard_mm[1] / 2
            reach = max(reach, high_x - half_x, -half_x - low_x, high_y - half_y, -half_y - low_y)
    return reach
