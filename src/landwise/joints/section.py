"""Two-dimensional sections of solder between parallel edges: circular arcs in closed form."""

from __future__ import annotations

import math

from landwise.errors import InputError, ValidityError
from landwise.joints.roots import root


def segment_area(width_mm: float, height_mm: float) -> float:
    """Area under a circular arc over a chord. [mm²]

    >>> round(segment_area(2.0, 1.0), 6)  # a half circle
    1.570796
    """
    if not (width_mm > 0 and height_mm >= 0):
        raise InputError("an arc needs a chord", found=f"{width_mm:g} × {height_mm:g} mm")
    if height_mm == 0:
        return 0.0
    half = 2 * math.atan(2 * height_mm / width_mm)
    radius = width_mm / (2 * math.sin(half))
    if half < 1e-3:
        return 2 / 3 * width_mm * height_mm
    return radius**2 * (half - math.sin(half) * math.cos(half))


def arc_height(width_mm: float, area_mm2: float) -> float:
    """Height of the circular arc over a chord that encloses an area. [mm]

    >>> round(arc_height(2.0, 1.570796), 5)
    1.0
    """
    if not (width_mm > 0 and area_mm2 >= 0):
        raise InputError("an arc needs a chord and an area", found=f"{width_mm:g} mm, {area_mm2:g} mm²")
    if area_mm2 == 0:
        return 0.0
    # No arc is higher than one and a half times its mean height.
    most = 1.5 * area_mm2 / width_mm * (1 + 1e-9)
    return root(lambda height: segment_area(width_mm, height) - area_mm2, 0.0, most)


def sheet(area_mm2: float, edge_mm: float, solder_mm3: float, height_mm: float) -> tuple[float, float]:
    """Curvature and upward force over surface tension of a thin joint between equal wetted faces.

    Parameters
    ----------
    area_mm2, edge_mm : float
        Of each face. [mm², mm]
    solder_mm3 : float
        Volume, gas pockets included. [mm³]
    height_mm : float

    Returns
    -------
    (float, float)
        Curvature of the side, bulging positive [1/mm]; force over surface tension [mm].

    Raises
    ------
    ValidityError
        Where the side would have to bulge or neck beyond a half circle.

    Notes
    -----
    V = A h + P s(κ, h), s the arc's segment; F/γ = κA − P cos ω with sin ω = κh/2. Corners are left out, which
    for faces ten times as wide as the joint is high is below one part in a hundred of the bulge.
    """
    if not (area_mm2 > 0 and edge_mm > 0 and solder_mm3 > 0 and height_mm > 0):
        raise InputError(
            "a joint needs positive sizes", found=f"{area_mm2:g} mm², {solder_mm3:g} mm³, {height_mm:g} mm"
        )
    beside = (solder_mm3 - area_mm2 * height_mm) / edge_mm
    most = math.pi / 8 * height_mm**2
    if abs(beside) > most:
        raise ValidityError(
            "the joint's side bulges or necks beyond a half circle",
            found=f"height {height_mm:.4g} mm",
            expected=f"about {solder_mm3 / area_mm2:.4g} mm",
        )

    def segment(half: float) -> float:
        """Area beside the straight side, negative where it necks."""
        if abs(half) < 1e-4:
            return height_mm**2 * half / 6
        sine = math.sin(half)
        return math.copysign((height_mm / (2 * sine)) ** 2 * (half - sine * math.cos(half)), half)

    half = root(lambda angle: segment(angle) - beside, -math.pi / 2, math.pi / 2)
    curvature = 2 * math.sin(half) / height_mm
    return curvature, curvature * area_mm2 - edge_mm * math.cos(half)
