"""Ball joints pulled apart: where a joint snaps off, and how strong a pull it withstands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from landwise.errors import ValidityError
from landwise.joints.ball import held_ball, zone_height

STEP = 0.02  # of the free height, between tries


@dataclass(frozen=True)
class SnapOff:
    """The strongest pull a molten ball joint withstands, and its height under it. [N, mm]"""

    pull_n: float
    height_mm: float


def snap_off(
    volume_mm3: float,
    board_land_mm: float,
    package_land_mm: float,
    *,
    tension_n_m: float = 0.50,
    density_g_cm3: float = 7.38,
) -> SnapOff:
    """Where a joint gives way when the part is pulled up slowly: the greatest pull of its force-height curve.

    Notes
    -----
    The peak is that of the parabola through the three highest of the tried heights, two hundredths of the free
    height apart. The pull can't exceed the surface tension along the smaller land's edge, πdγ.

    Raises
    ------
    ValidityError
        Where the pull does not peak below twice the free height.

    Examples
    --------
    >>> off = snap_off(0.01414, 0.25, 0.25)
    >>> print(f"{off.pull_n * 1e6:.0f} {off.height_mm * 1e3:.0f}")
    201 312
    """
    free = float(zone_height(volume_mm3, board_land_mm / 2, package_land_mm / 2))
    heights = free * (1 + STEP * np.arange(1, round(1 / STEP)))
    pulls = -held_ball(
        volume_mm3, board_land_mm, package_land_mm, heights, tension_n_m=tension_n_m, density_g_cm3=density_g_cm3
    )
    known = np.isfinite(pulls)
    top = int(np.nanargmax(pulls)) if known.any() else 0
    if not (0 < top < len(heights) - 1 and known[top - 1] and known[top + 1]):
        raise ValidityError("the pull does not peak", found=f"up to {heights[-1]:.4g} mm")
    a, b, c = np.polyfit(heights[top - 1 : top + 2], pulls[top - 1 : top + 2], 2)
    at = -b / (2 * a)
    return SnapOff(float(a * at**2 + b * at + c), float(at))
