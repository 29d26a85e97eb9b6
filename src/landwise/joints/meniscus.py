"""The cross-section of a fillet: a circular arc of given curvature between a land and a wall.

Fillets on a lead are small against the capillary length (2.6 mm for SAC305): gravity changes their curvature by
(height/2.6 mm)², a hundredth for 0.25 mm and 2 % for the tallest heels, so each cross-section is taken as an arc.
Angles ψ are slopes of the surface, descending outward: ψ at the wall, ψ at the land, in radians. Curvature is
positive where the surface is hollow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError

RIGHT = math.pi / 2


@dataclass(frozen=True)
class Arc:
    """One fillet in section.

    Parameters
    ----------
    height_mm : float
        Of the contact line above the land. [mm]
    reach_mm : float
        From the wall's contact line outward to where the surface meets the land. [mm]
    wall_rad, land_rad : float
        Slope at the wall and at the land. [rad]
    curvature : float
        Hollow positive. [1/mm]
    """

    height_mm: float
    reach_mm: float
    wall_rad: float
    land_rad: float
    curvature: float

    @property
    def area_mm2(self) -> float:
        """Between the arc, the land and a vertical through the contact line. [mm²]

        >>> round(Arc(0.2, 0.2, RIGHT, 0.0, 5.0).area_mm2, 6)  # quarter circle left out of a square
        0.008584
        """
        turn = self.wall_rad - self.land_rad
        if abs(turn) < 1e-3:
            # (t − sin t)/(2κ²) with κ = t/length, for an arc that is almost straight.
            segment = turn * (self.reach_mm**2 + self.height_mm**2) / 12
        else:
            segment = (turn - math.sin(turn)) / (2 * self.curvature**2)
        return self.reach_mm * self.height_mm / 2 - segment

    def outward_mm(self, z_mm: float) -> float:
        """Distance of the surface from the vertical through the contact line, at a height. [mm]"""
        if z_mm <= 0:
            return self.reach_mm
        cosine = math.cos(self.land_rad) - self.curvature * z_mm
        slope = math.acos(max(-1.0, min(1.0, cosine)))
        return self.reach_mm - z_mm / math.tan((slope + self.land_rad) / 2)

    def points(self, count: int = 17) -> tuple[tuple[float, float], ...]:
        """Points from the contact line down to the land: outward distance and height. [mm]"""
        turn = self.wall_rad - self.land_rad
        found = []
        for k in range(count):
            share = k / (count - 1)
            if abs(turn) < 1e-6:
                found.append((self.reach_mm * share, self.height_mm * (1 - share)))
                continue
            slope = self.wall_rad - share * turn
            x = (math.sin(self.wall_rad) - math.sin(slope)) / self.curvature
            z = self.height_mm - (math.cos(slope) - math.cos(self.wall_rad)) / self.curvature
            found.append((x, z))
        return tuple(found)


def arc_between(curvature: float, reach_mm: float, height_mm: float) -> Arc | None:
    """The arc from a fixed contact line to the land's edge, or short of it where it would dip below the land.

    None where no arc of that curvature spans the two.

    Notes
    -----
    The land keeps a film of solder where the surface draws back from its edge (receding angle zero).
    """
    if height_mm <= 0:
        return Arc(0.0, 0.0, 0.0, 0.0, curvature)
    chord = math.hypot(reach_mm, height_mm)
    fall = math.atan2(height_mm, reach_mm)
    half = curvature * chord / 2
    if -1 <= half <= 1:
        bend = math.asin(half)
        if bend <= fall:
            return Arc(height_mm, reach_mm, fall + bend, fall - bend, curvature)
    if curvature <= 0 or curvature * height_mm > 2:
        return None
    wall = math.acos(1 - curvature * height_mm)
    return Arc(height_mm, math.sin(wall) / curvature, wall, 0.0, curvature)


def wall_arc(curvature: float, reach_mm: float, low_mm: float, high_mm: float, contact_rad: float) -> Arc | None:
    """The fillet against an upright wall that begins and ends at two edges.

    Parameters
    ----------
    curvature : float
        Hollow positive. [1/mm]
    reach_mm : float
        From the wall to the land's edge. [mm]
    low_mm, high_mm : float
        Lower and upper edge of the wall above the land. [mm]
    contact_rad : float
        Contact angle at which solder climbs the wall. [rad]

    Returns
    -------
    Arc or None
        None where solder would run over the wall's upper edge or past the land's edge.
    """
    if not (reach_mm >= 0 and 0 <= low_mm <= high_mm):
        raise InputError("no such wall", found=f"reach {reach_mm:g}, edges {low_mm:g} and {high_mm:g} mm")
    height = min(max(_free_height(curvature, reach_mm, contact_rad), low_mm), high_mm)
    arc = arc_between(curvature, reach_mm, height)
    if arc is None or arc.wall_rad < -contact_rad - 1e-9 or arc.land_rad > RIGHT + 1e-9:
        return None
    return arc


def _free_height(curvature: float, reach: float, contact: float) -> float:
    """Where the surface meets an endless wall at the contact angle."""
    sine, cosine = math.cos(contact), math.sin(contact)
    at_land = sine - curvature * reach
    if at_land > 1:
        return math.inf
    if at_land < 0:
        return (1 - cosine) / curvature
    flat = math.sqrt(1 - at_land**2)
    # (flat − cosine)/κ without dividing by a small κ.
    return reach * (sine + at_land) / (flat + cosine) if flat + cosine > 0 else math.inf
