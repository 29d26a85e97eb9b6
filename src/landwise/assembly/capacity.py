"""How much solder two touching joints take back: closed forms for lands, leads and balls.

Two joints that touched while the paste was soft come apart when molten if two separate surfaces have less energy
than one that spans the gap. That sets a volume; above it they stay joined.
"""

from __future__ import annotations

import math

from landwise.assembly.geometry import Hold
from landwise.errors import InputError

SOURCES = ("bridge-energy", "scatter-assumption")


def take_back_area(width_mm: float, gap_mm: float, mask_angle_deg: float = 140.0) -> float:
    """Cross-section of solder per land up to which two long lands take theirs back apart. [mm²]

    Parameters
    ----------
    width_mm, gap_mm : float
        Width of each land and the gap between them. [mm]
    mask_angle_deg : float
        Contact angle of solder on what lies in the gap. [deg]

    Raises
    ------
    InputError
        For sizes that aren't positive, or an angle outside 90 to 180°.

    Notes
    -----
    Per length: a flat cap of area A on a chord c has about c + 6A²/c³ of surface. Apart, two caps on W; joined,
    one of twice the area on 2W + g that also covers the gap, whose wetting costs −cos θ a width. Equal at

        A² · (12/W³ − 24/(2W + g)³) = g · (1 − cos θ)

    Holds for flat caps: A below about 0.4 W², a half disc, beyond which it is read as an order of magnitude.
    Gravity is left out: the lands are far narrower than solder's capillary length of some 2.6 mm.

    Examples
    --------
    >>> print(f"{take_back_area(0.3, 0.3) / 0.3**2:.3f}")
    0.399
    """
    if not (width_mm > 0 and gap_mm > 0):
        raise InputError("width and gap must be positive", found=f"{width_mm:g} mm, {gap_mm:g} mm")
    if not 90 <= mask_angle_deg <= 180:
        raise InputError("solder does not wet a mask", found=f"{mask_angle_deg:g}°", expected="90 to 180°")
    cost = gap_mm * (1 - math.cos(math.radians(mask_angle_deg)))
    return math.sqrt(cost / (12 / width_mm**3 - 24 / (2 * width_mm + gap_mm) ** 3))


def land_hold(
    width_mm: float, gap_mm: float, land_mm2: float, held_mm2: float, *, lead_mm: tuple[float, float] | None = None
) -> Hold:
    """What a flat joint takes back beside the film under a flush terminal, for any mask.

    Parameters
    ----------
    width_mm, gap_mm : float
        Land width towards the neighbour, and the gap. [mm]
    land_mm2, held_mm2 : float
        The land, and the part of it under the terminal. [mm²]
    lead_mm : (width, thickness), optional
        Of a lead, along which solder climbs; None for a terminal flush with its body. [mm]

    Notes
    -----
    Bare land carries `take_back_area`, and never less than a tenth of the land counts as bare: solder also bulges
    beside a terminal that covers all of it. A lead's foot sits in the cap and takes its own section away.
    """
    # The area's only part that the mask's angle moves is √(1 − cos θ), one at 90°.
    section = take_back_area(width_mm, gap_mm, 90.0)
    bare = max(0.1 * land_mm2, land_mm2 - held_mm2) / width_mm
    if lead_mm is None:
        return Hold(section, bare)
    return Hold(section, bare, held_mm2 / width_mm, lead_mm[0] * lead_mm[1])


def ball_capacity(land_radius_mm: float, height_mm: float, gap_mm: float) -> float:
    """Solder that a ball joint holds before it bulges halfway to its neighbour. [mm³]

    Parameters
    ----------
    land_radius_mm, height_mm : float
        Mean land and standoff. [mm]
    gap_mm : float
        Between neighbouring lands. [mm]

    Notes
    -----
    The side is taken as an arc of a circle over the height, standing out by half the gap but no more than half the
    height (a half circle, where solder begins to leave its land).
    V = π ∫ (r + y)² dz with y the arc's height over its chord.

    Examples
    --------
    Without a bulge it is the cylinder:

    >>> print(f"{ball_capacity(0.15, 0.2, 1e-9) / (math.pi * 0.15**2 * 0.2):.6f}")
    1.000000
    """
    if not (land_radius_mm > 0 and height_mm > 0 and gap_mm > 0):
        raise InputError("sizes of a ball joint must be positive", place="ball capacity")
    bulge, half = min(gap_mm / 2, height_mm / 2), height_mm / 2
    arc = (bulge**2 + half**2) / (2 * bulge)  # its radius
    segment = arc**2 * math.asin(min(1.0, half / arc)) - half * (arc - bulge)
    # ∫ y² dz with y = √(arc² − z²) − (arc − bulge)
    down = arc - bulge
    squares = 2 * (arc**2 * half - half**3 / 3) - 2 * down * (segment + 2 * half * down) + 2 * half * down**2
    return math.pi * (land_radius_mm**2 * height_mm + 2 * land_radius_mm * segment + squares)
