"""How a mounted grid stands: the height and shape of its molten ball joints with the paste it was printed with."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.errors import ValidityError
from landwise.joints.alloys import ALLOYS
from landwise.joints.ball import BallJoint, ball_joint
from landwise.lands.model import LandPattern
from landwise.outlines import GRIDS, Outline
from landwise.printing.model import Print
from landwise.quantities import GRAVITY_M_S2

SOURCES = ("young-laplace", "ball-cap-volume", "tension-sac-memory", "solder-densities")


@dataclass(frozen=True)
class BallStand:
    """A grid on its melted balls.

    Parameters
    ----------
    height_mm, low_mm, high_mm : float
        Between the lands, with the interval that the paste's transfer leaves. [mm]
    before_mm : float
        Height of the free balls before mounting. [mm]
    max_diameter_mm : float
        Widest diameter of a joint. [mm]
    gap_mm : float
        Between neighbouring joints at their widest. [mm]
    contour_mm : array
        Meridian from the board land upward: (points, 2) of radius and height. [mm]
    weight_known : bool
        Whether the part's weight was known and carried.
    """

    height_mm: float
    low_mm: float
    high_mm: float
    before_mm: float
    max_diameter_mm: float
    gap_mm: float
    contour_mm: NDArray[np.float64]
    weight_known: bool


def cap_volume(height_mm: float, land_mm: float) -> float:
    """Volume of a ball that stands on a land, πh/6·(3a² + h²). [mm³]

    >>> print(f"{cap_volume(0.249, 0.25):.4f}")
    0.0142
    """
    return math.pi * height_mm / 6 * (3 * (land_mm / 2) ** 2 + height_mm**2)


def ball_stand(outline: Outline, pattern: LandPattern, printed: Print, alloy: str = "sac305") -> BallStand | None:
    """How a grid stands after reflow; None for other families, or where the package's land is not known.

    Parameters
    ----------
    outline : Outline
        With `package_land_mm`; its weight, where known, is shared equally by the balls.
    pattern, printed
        The board's lands, and the paste they got.

    Notes
    -----
    The ball's solder is the cap that the drawing's standoff and the package's land enclose; the paste's metal
    is added. All joints are taken alike, the part as flat.

    Raises
    ------
    ValidityError
        Where no equilibrium exists.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> grid = find("WLP-5-0.5")
    >>> pattern = land_pattern(grid)
    >>> stand = ball_stand(grid, pattern, print_part(pattern, Foil(100), outline=grid))
    >>> stand.low_mm < stand.height_mm < stand.high_mm
    True
    """
    if outline.family not in GRIDS or outline.package_land_mm is None or not printed.deposits:
        return None
    package = outline.package_land_mm.nom
    land = pattern.lands[0].place.shape.length_mm
    deposit = printed.deposits[0]
    metal = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 > 0 else 0.0
    ball = cap_volume(outline.standoff_mm.nom, package)
    volumes = ball + metal * np.array([deposit.paste_low_mm3, deposit.paste_mm3, deposit.paste_high_mm3])
    load = (outline.weight_mg or 0.0) * 1e-6 * GRAVITY_M_S2 / outline.terminals
    values = ALLOYS[alloy]
    joint = _alike(tuple(volumes.tolist()), land, package, load, values.tension_n_m, values.density_g_cm3)
    low, height, high = (float(value) for value in joint.height_mm)
    if not low > 0:
        raise ValidityError("the part does not stand on its balls", place=outline.name, found=f"{low:.4g} mm")
    widest = float(joint.max_diameter_mm[1])
    pitch = min(outline.pitch_mm, outline.pitch_across_mm or outline.pitch_mm)
    contour = np.column_stack([joint.r_mm[:, 1], joint.z_mm[:, 1]])
    return BallStand(
        height, low, high, outline.standoff_mm.nom, widest, pitch - widest, contour, outline.weight_mg is not None
    )


@lru_cache(maxsize=2048)
def _alike(
    volumes: tuple[float, ...], land: float, package: float, load: float, tension: float, density: float
) -> BallJoint:
    """Joints worked once for each set of numbers: a reduction that leaves a grid's apertures alone leaves these too."""
    return ball_joint(volumes, land, package, load_n=load, tension_n_m=tension, density_g_cm3=density)
