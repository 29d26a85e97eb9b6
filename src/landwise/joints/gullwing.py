"""Gull-wing joint: heel, toe and side fillets at one capillary pressure, from the solder on the land.

All free surfaces of one joint share one pressure, hence one curvature. Each fillet is a circular arc in section
(see `meniscus`), heel and toe as wide as the foot, side fillets as long as it; corners between them have
quarter-ellipse sections. The curvature is found so that the volumes add up to the solder there is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from landwise.errors import InputError, ValidityError
from landwise.joints.meniscus import RIGHT, Arc, arc_between, wall_arc
from landwise.joints.roots import root

CONTACT_DEG = 30.0  # SnAgCu on Cu under flux 10 to 30°, other finishes to 63°: `contact-angles`
HIGHEST_CURVATURE = 2000.0  # 1/mm: a fillet of half a micrometre
HALVINGS = 30
LIFT_ACCURACY = 1e-7  # mm
GAUSS = (
    (-0.9061798459, 0.2369268851),
    (-0.5384693101, 0.4786286705),
    (0.0, 0.5688888889),
    (0.5384693101, 0.4786286705),
    (0.9061798459, 0.2369268851),
)
SOURCES = ("young-laplace", "contact-angles")


@dataclass(frozen=True)
class Foot:
    """A lead's foot over its land. [mm, deg]

    Parameters
    ----------
    length_mm, width_mm, thickness_mm : float
        Foot from its tip to the outside of the heel, lead width and lead thickness.
    toe_mm, heel_mm : float
        Land beyond the tip, and behind the heel.
    side_mm : (float, float)
        Land beyond the two sides of the foot.
    gap_mm : float
        Between land and underside: zero for a seated foot, up to the coplanarity for a raised one.
    leg_deg : float or None
        Slope of the leg above the heel; None for a flat lead whose heel lies under the body.
    leg_mm : float
        Height of the shoulder's underside over the foot's: how far solder can climb the leg.
    bend_mm : float or None
        Inner radius of the heel's bend; one lead thickness if None.
    contact_deg : float
        Contact angle at which solder climbs the lead.
    toe_wets : bool
        Whether the cut face of the tip takes solder.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    toe_mm: float
    heel_mm: float
    side_mm: tuple[float, float]
    gap_mm: float = 0.0
    leg_deg: float | None = 80.0
    leg_mm: float = 1.0
    bend_mm: float | None = None
    contact_deg: float = CONTACT_DEG
    toe_wets: bool = True

    def __post_init__(self) -> None:
        sizes = (self.length_mm, self.width_mm, self.thickness_mm)
        if not all(math.isfinite(size) and size > 0 for size in sizes):
            raise InputError("a foot needs positive sizes", found=", ".join(f"{size:g} mm" for size in sizes))
        if not all(
            math.isfinite(size) and size >= 0 for size in (self.toe_mm, self.heel_mm, *self.side_mm, self.gap_mm)
        ):
            raise InputError(
                "the land must reach at least to the foot's edges, the gap not below zero",
                found=f"toe {self.toe_mm:g}, heel {self.heel_mm:g}, sides {self.side_mm[0]:g} and {self.side_mm[1]:g}, "
                f"gap {self.gap_mm:g} mm",
            )
        if not 0 < self.contact_deg < 90:
            raise InputError("solder climbs only below 90° of contact angle", found=f"{self.contact_deg:g}°")
        if self.leg_deg is not None and not 45 <= self.leg_deg <= 90:
            raise InputError("a gull-wing leg slopes by 45 to 90°", found=f"{self.leg_deg:g}°")

    @property
    def outer_bend_mm(self) -> float:
        """Radius of the heel's outer side, which faces the land. [mm]"""
        return self.thickness_mm + (self.thickness_mm if self.bend_mm is None else self.bend_mm)

    @property
    def flat_mm(self) -> float:
        """Length of the underside up to where the bend begins. [mm]"""
        if self.leg_deg is None:
            return self.length_mm
        return max(0.0, self.length_mm - self.outer_bend_mm * math.sin(math.radians(self.leg_deg)))


@dataclass(frozen=True)
class GullwingFillet:
    """The joint's fillets.

    Parameters
    ----------
    heel_mm, toe_mm, side_mm : float
        Heights of the solder over the land at heel, toe and the lower of the two sides. [mm]
    curvature : float
        Common to all surfaces, hollow positive. [1/mm]
    pressure_mpa : float
        In the solder, over the air's; negative for hollow fillets. [MPa]
    volume_mm3 : float
        What the surfaces enclose; equals the solder given.
    reaches_shoulder : bool
        Whether the heel fillet climbs the whole leg up to the shoulder.
    draws_back : bool
        Whether the solder leaves part of the land with a mere film.
    heel, toe, sides : Arc
        The sections.
    heel_wall_mm : tuple of (outward, up)
        Points of the lead's outer side from the bend's start to the heel's contact line. [mm]
    """

    heel_mm: float
    toe_mm: float
    side_mm: float
    curvature: float
    pressure_mpa: float
    volume_mm3: float
    reaches_shoulder: bool
    draws_back: bool
    heel: Arc
    toe: Arc
    sides: tuple[Arc, Arc]
    heel_wall_mm: tuple[tuple[float, float], ...]


@lru_cache(maxsize=4096)
def gullwing_fillet(foot: Foot, solder_mm3: float, *, tension_n_m: float = 0.50) -> GullwingFillet:
    """Heights of the fillets that a volume of solder forms on a gull-wing foot.

    Parameters
    ----------
    foot : Foot
    solder_mm3 : float
        Metal of the paste on the land. [mm³]
    tension_n_m : float
        Surface tension; only the pressure depends on it. [N/m]

    Raises
    ------
    InputError
        For a volume or tension that isn't positive.
    ValidityError
        Where the solder doesn't fill the gap under the foot, or is more than the fillets hold: it then floods
        the foot or runs past the land.

    Notes
    -----
    Assumes land and lead wetted, the land's edge as the outer limit, fillets small against the capillary length,
    ends of fillets joined by quarter ellipses. Solder that wicks up the lead as a film is left out.

    Examples
    --------
    >>> foot = Foot(0.60, 0.25, 0.15, toe_mm=0.35, heel_mm=0.35, side_mm=(0.06, 0.06))
    >>> fillet = gullwing_fillet(foot, 0.025)
    >>> fillet.heel_mm > fillet.toe_mm
    True
    >>> round(fillet.volume_mm3, 9)
    0.025
    """
    if not (math.isfinite(solder_mm3) and solder_mm3 > 0 and tension_n_m > 0):
        raise InputError(
            "solder and surface tension must be positive", found=f"{solder_mm3:g} mm³, {tension_n_m:g} N/m"
        )
    least, most = fillet_volumes(foot)
    if solder_mm3 < least:
        raise ValidityError(
            "too little solder to fill the gap under the foot",
            found=f"{solder_mm3:.4g} mm³",
            expected=f"{least:.4g} mm³",
        )
    if solder_mm3 > most:
        raise ValidityError(
            "more solder than the fillets hold: it floods the foot or runs past the land",
            found=f"{solder_mm3:.4g} mm³",
            expected=f"at most {most:.4g} mm³",
        )
    flattest = _flattest(foot)
    curvature = root(lambda k: _volume(foot, k) - solder_mm3, flattest, _sharpest(foot), within=1e-11)
    sections = _sections(foot, curvature)
    if sections is None:
        raise ValidityError("the fillets flood", found=f"{solder_mm3:.4g} mm³")
    heel, toe, sides = sections.heel, sections.toe, sections.sides
    return GullwingFillet(
        heel_mm=heel.height_mm,
        toe_mm=toe.height_mm,
        side_mm=min(side.height_mm for side in sides),
        curvature=curvature,
        pressure_mpa=-curvature * tension_n_m * 1e-3,
        volume_mm3=_volume(foot, curvature),
        reaches_shoulder=foot.leg_deg is not None and heel.height_mm >= foot.gap_mm + foot.leg_mm - 1e-9,
        draws_back=any(arc.land_rad == 0 and arc.height_mm > 0 for arc in (heel, toe, *sides)),
        heel=heel,
        toe=toe,
        sides=sides,
        heel_wall_mm=_wall(foot, sections.climb),
    )


@lru_cache(maxsize=4096)
def fillet_volumes(foot: Foot) -> tuple[float, float]:
    """Least and most solder that the pinned fillets of a foot can hold. [mm³]

    The least fills the gap under the foot; the most is about to run over the foot's upper side or stands upright
    on the land's edge, whichever comes first: what is beyond bulges towards the neighbour.
    """
    return max(0.0, _volume(foot, _sharpest(foot))), _volume(foot, _flattest(foot))


def _sharpest(foot: Foot) -> float:
    """The curvature beyond which the surface would be drawn in under the foot."""
    if foot.gap_mm <= 0:
        return HIGHEST_CURVATURE
    inward = (1 + math.cos(math.radians(foot.contact_deg))) / foot.gap_mm
    return min(HIGHEST_CURVATURE, inward * (1 - 1e-9))


@lru_cache(maxsize=4096)
def _flattest(foot: Foot) -> float:
    """The least curvature (most bulging) at which every section still stands, by bisection on validity."""
    high = _sharpest(foot)
    low = -4.0 / foot.thickness_mm
    if _sections(foot, low) is not None:
        return low
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if _sections(foot, middle) is not None:
            high = middle
        else:
            low = middle
    return high


@dataclass(frozen=True)
class _Sections:
    heel: Arc
    toe: Arc
    sides: tuple[Arc, Arc]
    climb: float  # along the lead's outer side, from the bend's start to the contact line


def _sections(foot: Foot, curvature: float) -> _Sections | None:
    """All sections at one curvature; None where one of them floods."""
    gap, top = foot.gap_mm, foot.gap_mm + foot.thickness_mm
    contact = math.radians(foot.contact_deg)
    toe = wall_arc(curvature, foot.toe_mm, gap, top if foot.toe_wets else gap, contact)
    left = wall_arc(curvature, foot.side_mm[0], gap, top, contact)
    # A foot in the middle of its land has the same arc on either side.
    even = foot.side_mm[0] == foot.side_mm[1]
    right = left if even else wall_arc(curvature, foot.side_mm[1], gap, top, contact)
    if toe is None or left is None or right is None:
        return None
    heel, climb = _heel(foot, curvature)
    if heel is None:
        return None
    return _Sections(heel, toe, (left, right), climb)


def _volume(foot: Foot, curvature: float) -> float:
    """Solder enclosed at a curvature; infinite where a section floods. [mm³]"""
    sections = _sections(foot, curvature)
    if sections is None:
        return math.inf
    toe, heel = sections.toe, sections.heel
    outward, _, _ = _outer_side(foot, sections.climb)
    volume = foot.flat_mm * foot.gap_mm * foot.width_mm
    volume += foot.width_mm * (toe.area_mm2 + heel.area_mm2 + _under_lead(foot, sections.climb))
    left, right = sections.sides
    beside = _beside(foot, sections, left, outward)
    volume += beside
    return volume + (beside if right is left else _beside(foot, sections, right, outward))


def _beside(foot: Foot, sections: _Sections, side: Arc, outward: float) -> float:
    """Along one side of the foot, with both its corners. [mm³]"""
    return foot.flat_mm * side.area_mm2 + _corner(sections.toe, side) + _corner(sections.heel, side, outward)


def _outer_side(foot: Foot, climb: float) -> tuple[float, float, float]:
    """Outward, up and slope of the lead's outer side at a length along it from the bend's start. [mm, mm, rad]"""
    if foot.leg_deg is None:
        return 0.0, foot.gap_mm, 0.0
    slope, radius = math.radians(foot.leg_deg), foot.outer_bend_mm
    turn = min(climb / radius, slope)
    rest = max(0.0, climb - radius * slope)
    return (
        radius * math.sin(turn) + rest * math.cos(slope),
        foot.gap_mm + radius * (1 - math.cos(turn)) + rest * math.sin(slope),
        turn,
    )


def _under_lead(foot: Foot, climb: float) -> float:
    """Between the lead's outer side and the land, from the bend's start to the contact line. [mm²]"""
    outward, up, turn = _outer_side(foot, climb)
    if outward == 0:
        return 0.0
    radius = foot.outer_bend_mm
    bend = (foot.gap_mm + radius) * radius * math.sin(turn) - radius**2 * (turn / 2 + math.sin(2 * turn) / 4)
    bent_out, bent_up = radius * math.sin(turn), foot.gap_mm + radius * (1 - math.cos(turn))
    return bend + (outward - bent_out) * (up + bent_up) / 2


def _wall(foot: Foot, climb: float) -> tuple[tuple[float, float], ...]:
    """Points of the lead's outer side up to the contact line."""
    if foot.leg_deg is None:
        return ((0.0, foot.gap_mm),)
    bend = foot.outer_bend_mm * math.radians(foot.leg_deg)
    steps = [k / 12 * min(climb, bend) for k in range(13)]
    return tuple(_outer_side(foot, step)[:2] for step in ([*steps, climb] if climb > bend else steps))


def _corner(end: Arc, side: Arc, start: float = 0.0) -> float:
    """A corner whose section at each height is a quarter ellipse of both fillets' widths."""
    top = min(end.height_mm, side.height_mm)
    if top <= 0:
        return 0.0
    total = 0.0
    for place, weight in GAUSS:
        z = top * (1 + place) / 2
        total += weight * max(0.0, start + end.outward_mm(z)) * max(0.0, side.outward_mm(z))
    return math.pi / 4 * total * top / 2


def _heel(foot: Foot, curvature: float) -> tuple[Arc | None, float]:
    """The heel's arc, and how far along the lead's outer side its contact line lies."""
    gap, contact = foot.gap_mm, math.radians(foot.contact_deg)
    if foot.leg_deg is None:
        return wall_arc(curvature, foot.heel_mm, gap, gap, contact), 0.0
    slope, radius = math.radians(foot.leg_deg), foot.outer_bend_mm
    up, along = math.sin(slope), math.cos(slope)
    straight = max(0.0, (foot.leg_mm - radius * (1 - along)) / up)
    edge = foot.heel_mm + radius * up

    def past(climb: float) -> float:
        """How far beyond the land's edge the surface from this contact line would land."""
        # As `_outer_side`, which is asked for some ten thousand times a part.
        turn, rest = min(climb / radius, slope), max(0.0, climb - radius * slope)
        x, z = radius * math.sin(turn) + rest * along, gap + radius * (1 - math.cos(turn)) + rest * up
        at_wall = math.pi - turn - contact
        cosine = math.cos(at_wall) + curvature * z
        if cosine > 1:
            return cosine * foot.length_mm
        if cosine < -1:
            return -edge
        return x + z / math.tan((at_wall + math.acos(cosine)) / 2) - edge

    end = radius * slope + straight
    if past(0.0) >= 0:
        climb = 0.0
    elif past(end) <= 0:
        climb = end
    else:
        climb = root(past, 0.0, end, within=1e-11)
    x, z, _ = _outer_side(foot, climb)
    arc = arc_between(curvature, max(0.0, edge - x), z)
    return (None if arc is None or arc.land_rad > RIGHT + 1e-9 else arc), climb


def lifted_gap(foot: Foot, solder_mm3: float) -> float:
    """How far surplus solder lifts the foot: the least gap at which the fillets hold the solder. [mm]

    Zero where they hold it anyway. A part is light against the pressure of a bulging joint, so the foot floats
    rather than lets the solder over its edges.

    Raises
    ------
    ValidityError
        Where even a gap as high as the lead is thick doesn't hold it.
    """
    if solder_mm3 <= fillet_volumes(foot)[1]:
        return foot.gap_mm
    high = foot.gap_mm + foot.thickness_mm
    if solder_mm3 > fillet_volumes(replace(foot, gap_mm=high))[1]:
        raise ValidityError(
            "more solder than the joint holds even when it lifts the foot by its thickness",
            found=f"{solder_mm3:.4g} mm³",
        )
    return root(
        lambda gap: fillet_volumes(replace(foot, gap_mm=gap))[1] - solder_mm3, foot.gap_mm, high, within=LIFT_ACCURACY
    )
