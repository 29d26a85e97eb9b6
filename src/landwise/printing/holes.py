"""Paste in hole: how much paste fills a drilled joint, and the aperture that prints it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError


@dataclass(frozen=True)
class HolePaste:
    """Solder and paste of one drilled joint, and the aperture area under a foil."""

    solder_mm3: float
    paste_mm3: float
    aperture_area_mm2: float


def fillet_volume(radius_mm: float, centre_mm: float) -> float:
    """Solder of a ring-shaped fillet of quarter-circle section (Pappus). [mm³]

    Parameters
    ----------
    radius_mm : float
        Fillet radius. [mm]
    centre_mm : float
        Radius about which the section turns: hole radius in one published sheet, lead radius in others. [mm]

    >>> mil = 0.0254
    >>> print(f"{fillet_volume(14.5 * mil, 13.5 * mil) / mil**3:.0f}")
    4754
    """
    if radius_mm < 0 or centre_mm <= 0:
        raise InputError("a fillet needs a positive centre and no negative radius")
    return 2 * math.pi * 0.215 * radius_mm**2 * (0.2234 * radius_mm + centre_mm)


def paste_in_hole(
    hole_mm: float, lead_mm: float, board_mm: float, foil_um: float, *, metal_fraction: float = 0.5, ring_mm: float = 0.0,
    fillets: int = 0, losses: float = 1.0,
) -> HolePaste:  # fmt: skip
    """Paste for one drilled joint.

    Notes
    -----
    Solder = (hole − lead) · board + fillets; paste = solder/φ · losses. Fillets turn about the hole's radius
    with radius (hole − lead)/2 + ring, as the sheet has it.

    Examples
    --------
    Hole 27, lead 18, board 62, foil 8 mil, a third lost: printed 52,589 mil³ and a square of 81 mil.

    >>> mil = 0.0254
    >>> need = paste_in_hole(27 * mil, 18 * mil, 62 * mil, 8 * 25.4, losses=4 / 3)
    >>> print(f"{need.paste_mm3 / mil**3:.0f} {need.aperture_area_mm2**0.5 / mil:.2f}")
    52590 81.08
    """
    if not 0 < lead_mm < hole_mm:
        raise InputError(
            "the lead must be thinner than the hole", found=f"{lead_mm:g} and {hole_mm:g} mm", expected="lead < hole"
        )
    if (
        board_mm <= 0
        or foil_um <= 0
        or not 0 < metal_fraction <= 1
        or fillets not in (0, 1, 2)
        or losses < 1
        or ring_mm < 0
    ):
        raise InputError("board, foil and metal must be positive, fillets 0 to 2, losses at least 1")
    solder = math.pi / 4 * (hole_mm**2 - lead_mm**2) * board_mm
    solder += fillets * fillet_volume((hole_mm - lead_mm) / 2 + ring_mm, hole_mm / 2) if fillets else 0.0
    paste = solder / metal_fraction * losses
    return HolePaste(solder, paste, paste / (foil_um / 1000))
