"""Drilled joints: how full the barrel gets from printed paste, and how high a wave could climb it."""

from __future__ import annotations

import math

from landwise.errors import InputError
from landwise.printing.holes import DrilledJoint
from landwise.quantities import GRAVITY_M_S2

SOURCES = ("paste-in-hole-sheet", "barrel-fill", "young-laplace", "contact-angles")


def barrel_fill(
    solder_mm3: float, hole_mm: float, lead_mm: float, board_mm: float, *, ring_mm: float = 0.0, fillets: int = 0
) -> float:
    """Share of a barrel with its fillets that a volume of solder fills. May exceed 1.

    Parameters
    ----------
    solder_mm3 : float
        Metal of the paste printed for the hole. [mm³]
    hole_mm, lead_mm, board_mm : float
        Diameters and board thickness. [mm]
    ring_mm, fillets
        Annular ring, and how many sides carry a fillet, as in `paste_in_hole`.

    Raises
    ------
    InputError

    Examples
    --------
    >>> print(f"{barrel_fill(0.60, 0.9, 0.5, 1.6):.2f}")
    0.85
    """
    if not (math.isfinite(solder_mm3) and solder_mm3 >= 0):
        raise InputError("solder must not be negative", found=f"{solder_mm3:g} mm³")
    return solder_mm3 / DrilledJoint(hole_mm, lead_mm, board_mm, ring_mm=ring_mm, fillets=fillets).solder_mm3


def capillary_rise(
    hole_mm: float, lead_mm: float, *, contact_deg: float = 30.0, tension_n_m: float = 0.50, density_g_cm3: float = 7.38
) -> float:
    """Height to which wetting solder would climb between lead and barrel. [mm]

    Notes
    -----
    Jurin's law for a ring: 2γ cos θ / (ρ g · (R − r)). It is many board thicknesses for every usual hole: a wave
    fills barrels as far as heat and flux let it, not as far as capillarity does.

    Examples
    --------
    >>> print(f"{capillary_rise(0.9, 0.5):.0f}")
    60
    """
    if not 0 < lead_mm < hole_mm:
        raise InputError("the lead must be thinner than the hole", found=f"{lead_mm:g} and {hole_mm:g} mm")
    if not (0 <= contact_deg < 180 and tension_n_m > 0 and density_g_cm3 > 0):
        raise InputError("no such solder", found=f"{contact_deg:g}°, {tension_n_m:g} N/m, {density_g_cm3:g} g/cm³")
    gap = (hole_mm - lead_mm) / 2 * 1e-3
    return 2 * tension_n_m * math.cos(math.radians(contact_deg)) / (density_g_cm3 * 1e3 * GRAVITY_M_S2 * gap) * 1e3
