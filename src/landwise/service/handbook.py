"""The failure rate of surface-mount joints by the military handbook: one formula for leadless and leaded parts.

Kept beside the strain method as the other published way; the form is recalled, so nothing rests on it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError, ValidityError

LEADS: Mapping[str, float] = MappingProxyType({"leadless": 1.0, "j-lead": 150.0, "gull-wing": 5000.0})
# Effective cumulative failures: up to this share of the characteristic life, this share has failed.
ECF = (
    (0.1, 0.13),
    (0.2, 0.15),
    (0.3, 0.23),
    (0.4, 0.31),
    (0.5, 0.41),
    (0.6, 0.51),
    (0.7, 0.61),
    (0.8, 0.68),
    (0.9, 0.76),
)
SOURCES = ("mil-217-smt",)


@dataclass(frozen=True)
class HandbookRate:
    """Cycles to failure, characteristic life [h], share failed by the design life, and rate per million hours."""

    cycles: float
    life_h: float
    failed: float
    rate_per_mh: float


@dataclass(frozen=True)
class Apart:
    """What draws part and board apart: expansions [ppm/K], swing of the place and the part's own rise [K]."""

    board_ppm_k: float
    part_ppm_k: float
    swing_k: float
    rise_k: float


def handbook_rate(
    reach_mm: float, height_mm: float, apart: Apart, cycles_per_hour: float, years: float, leads: str = "leadless"
) -> HandbookRate:
    """Cycles to failure and failure rate of the outermost joint.

    Parameters
    ----------
    reach_mm, height_mm : float
        Half the largest distance between joints; height of the solder (8 mil for leads). [mm]
    apart : Apart
    cycles_per_hour, years : float
        Cycles an hour (no default: the handbook's table is recalled with low confidence), design life.
    leads : {"leadless", "j-lead", "gull-wing"}

    Raises
    ------
    InputError
    ValidityError
        Where the two expansions meet, so that the handbook's formula knows no failure.

    Notes
    -----
    N = 3.5·[d/(0.65·h)·|αs·ΔT − αp·(ΔT + rise)|·1e-6]^−2.26·π; α = N/CR; λ = ECF/α.

    Examples
    --------
    The handbook's own example, a leadless plastic carrier on epoxy glass:

    >>> found = handbook_rate(740 * 0.0254, 5 * 0.0254, Apart(15, 7, 21, 10), 0.03, 20)
    >>> print(f"{found.cycles:.0f} {found.failed} {found.rate_per_mh:.2f}")
    18893 0.23 0.37
    """
    if leads not in LEADS:
        raise InputError("no such leads", found=leads, expected=" | ".join(LEADS))
    if min(reach_mm, height_mm, apart.swing_k, cycles_per_hour, years) <= 0 or apart.rise_k < 0:
        raise InputError("sizes, swing, cycles and years must be positive")
    slip = apart.board_ppm_k * apart.swing_k - apart.part_ppm_k * (apart.swing_k + apart.rise_k)
    strain = reach_mm / (0.65 * height_mm) * abs(slip) * 1e-6
    if strain < 1e-9:
        raise ValidityError("expansions that meet leave the formula without a failure", place="strain", found="0")
    cycles = 3.5 * strain**-2.26 * LEADS[leads]
    life = cycles / cycles_per_hour
    share = years * 8760 / life
    failed = next((value for limit, value in ECF if share <= limit + 1e-12), 1.0)
    return HandbookRate(cycles, life, failed, failed / life * 1e6 if math.isfinite(life) else 0.0)
