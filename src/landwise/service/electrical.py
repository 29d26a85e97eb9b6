"""Electrical: inductance of leads and wires, ground bounce, current in tracks."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError, ValidityError

MIL_MM = 0.0254
OUNCE_MIL = 1.378  # thickness of one ounce of copper per square foot


def lead_inductance(length_mm: float, width_mm: float, thickness_mm: float) -> float:
    """Partial self inductance of a flat lead. [nH]

    Notes
    -----
    0.2·l·[ln(2l/(w+t)) + 0.5 + 0.2235·(w+t)/l], l in mm (Grover, Terman; recalled). Holds for leads longer
    than they are wide and thick together.

    >>> print(f"{lead_inductance(10, 1, 0.1):.3f}")
    6.850
    """
    if min(length_mm, width_mm, thickness_mm) <= 0:
        raise InputError("sizes must be positive")
    section = width_mm + thickness_mm
    if length_mm < section:
        raise ValidityError(
            "too short for the formula", found=f"{length_mm:g} mm", expected=f"longer than {section:g} mm"
        )
    return 0.2 * length_mm * (math.log(2 * length_mm / section) + 0.5 + 0.2235 * section / length_mm)


def wire_inductance(length_mm: float, diameter_mm: float) -> float:
    """Partial self inductance of a round wire, uniform current. [nH]

    0.2·l·[ln(4l/d) − 0.75]; holds for l ≥ 5 d.

    >>> print(f"{wire_inductance(2.0, 0.025):.4f}")
    2.0073
    """
    if min(length_mm, diameter_mm) <= 0:
        raise InputError("sizes must be positive")
    if length_mm < 5 * diameter_mm:
        raise ValidityError(
            "too short for the formula", found=f"{length_mm:g} mm", expected=f"at least {5 * diameter_mm:g} mm"
        )
    return 0.2 * length_mm * (math.log(4 * length_mm / diameter_mm) - 0.75)


def mutual_inductance(length_mm: float, spacing_mm: float) -> float:
    """Mutual inductance of two equal parallel filaments. [nH]

    >>> print(f"{mutual_inductance(10, 2.54):.4f}")
    2.6031
    """
    if min(length_mm, spacing_mm) <= 0:
        raise InputError("sizes must be positive")
    x = length_mm / spacing_mm
    return 0.2 * length_mm * (math.asinh(x) - math.sqrt(1 + 1 / x**2) + 1 / x)


def ground_bounce(
    outputs: int, inductance_nh: float, load_pf: float, swing_v: float, edge_s: float, form: str = "triangle"
) -> float:
    """Peak voltage over a shared ground lead when outputs switch together. [V]

    Parameters
    ----------
    form : {"triangle", "half-sine"}
        Peak slope of the load current: 4·C·ΔV/t² for a triangular current, 1.52·C·ΔV/t² for the textbook's
        rounded edge. They differ by 2.6 times: compare packages with one form, do not predict volts.

    Examples
    --------
    >>> print(f"{ground_bounce(8, 3.4, 50, 5.0, 3e-9):.2f}")
    3.02
    """
    factors = {"triangle": 4.0, "half-sine": 1.52}
    if form not in factors:
        raise InputError("unknown edge form", found=form, expected=" | ".join(factors))
    if outputs < 1 or min(inductance_nh, load_pf, swing_v, edge_s) <= 0:
        raise InputError("outputs, inductance, load, swing and edge must be positive")
    slope = factors[form] * load_pf * 1e-12 * swing_v / edge_s**2
    return outputs * inductance_nh * 1e-9 * slope


def trace_current(width_mm: float, copper_um: float, rise_k: float, place: str) -> float:
    """Current that heats a track by a rise, I = k·ΔT^0.44·A^0.725. [A]

    Notes
    -----
    A fit to the older standard's charts, recalled (A in square mils, k 0.048 outside, 0.024 inside). The newer
    charts replace it; inner tracks are not really twice as hot.

    >>> print(f"{trace_current(0.254, 1.378 * 25.4, 10, 'outer'):.3f}")
    0.886
    """
    constants = {"outer": 0.048, "inner": 0.024}
    if place not in constants:
        raise InputError("unknown place", found=place, expected="outer | inner")
    if min(width_mm, copper_um) <= 0:
        raise InputError("width and copper must be positive")
    if not 10 <= rise_k <= 100:
        raise ValidityError("outside the charts", found=f"{rise_k:g} K", expected="10 to 100 K")
    area = (width_mm / MIL_MM) * (copper_um / 1000 / MIL_MM)
    return float(constants[place] * rise_k**0.44 * area**0.725)


@dataclass(frozen=True)
class Bounce:
    """Ground bounce as a band, and how far its numbers can be trusted. [V]"""

    low: float
    high: float
    raw_high: float

    @property
    def value(self) -> float:
        """Middle of the band on a scale of ratios."""
        return math.sqrt(self.low * self.high)


def limited(voltage: float, swing_v: float) -> float:
    """Bounce with a driver that weakens as its own ground rises, V/(1 + V/ΔV). [V]

    A rule of landwise's own: the plain formula ignores that the bounce takes drive away and soon exceeds the supply;
    this keeps small values as they are and lets none pass the swing.

    >>> limited(0.1, 5.0) > 0.098, limited(50.0, 5.0) < 5.0
    (True, True)
    """
    return voltage / (1 + voltage / swing_v)


def bounce_band(
    outputs: int, inductance_nh: tuple[float, float], load_pf: float, swing_v: float, edge_ns: tuple[float, float]
) -> Bounce:
    """Ground bounce between the mildest and the hardest reading of its inputs.

    From the rounded current of the slowest edge through the least inductance to the triangular current of the
    fastest edge through the most, each held below the swing by `limited`.

    >>> band = bounce_band(7, (2.2, 3.3), 50, 3.3, (1.5, 3.0))
    >>> band.low < 0.8 < band.high
    True
    """
    low = ground_bounce(outputs, inductance_nh[0], load_pf, swing_v, edge_ns[1] * 1e-9, "half-sine")
    high = ground_bounce(outputs, inductance_nh[1], load_pf, swing_v, edge_ns[0] * 1e-9, "triangle")
    return Bounce(limited(low, swing_v), limited(high, swing_v), high)


def track_pair_nh_mm(width_mm: float, copper_mm: float, apart_mm: float) -> float:
    """Inductance per length of one of two long parallel tracks that carry each other's return. [nH/mm]

    0.2·[ln(s/(w + t)) + 1.5]: the bar's self less the mutual of the pair, for lengths far above the distance.

    >>> print(f"{track_pair_nh_mm(0.25, 0.035, 2.0):.3f}")
    0.690
    """
    section = width_mm + copper_mm
    if min(width_mm, copper_mm) <= 0 or apart_mm < section:
        raise ValidityError(
            "tracks too near for the formula", found=f"{apart_mm:g} mm", expected=f"at least {section:g} mm"
        )
    return 0.2 * (math.log(apart_mm / section) + 1.5)


def track_plane_nh_mm(width_mm: float, height_mm: float) -> float:
    """Inductance per length of a track over a plane, 0.2·ln(8h/w + w/4h), for tracks up to twice their height. [nH/mm]

    Textbook form, recalled; the width counts for the section.

    >>> print(f"{track_plane_nh_mm(0.25, 0.25):.3f}")
    0.422
    """
    if min(width_mm, height_mm) <= 0:
        raise InputError("sizes must be positive")
    if width_mm > 2 * height_mm:
        raise ValidityError(
            "too wide for the formula",
            found=f"{width_mm:g} mm",
            expected=f"up to {2 * height_mm:g} mm, twice the height",
        )
    return 0.2 * math.log(8 * height_mm / width_mm + width_mm / (4 * height_mm))


def decoupling_distance(
    outputs: int, package_nh: float, load_pf: float, swing_v: float, edge_s: float, sag_v: float, per_mm_nh: float
) -> float:
    """Farthest capacitor at which the supply of switching outputs sags by no more than so much; 0 if none is near. [mm]

    Parameters
    ----------
    package_nh : float
        Supply and ground terminal together.
    per_mm_nh : float
        Of the loop's two sides, for each mm of distance.

    Notes
    -----
    Sag = N·(L_package + L_loop)·1.52·C·ΔV/t², the rounded edge of `ground_bounce`; the capacitor itself is taken
    as ideal, so that the true distance is shorter.

    >>> print(f"{decoupling_distance(4, 2.0, 50, 5.0, 5e-9, 0.5, 0.8):.1f}")
    7.7
    """
    if outputs < 1 or min(load_pf, swing_v, edge_s, sag_v, per_mm_nh) <= 0 or package_nh < 0:
        raise InputError("outputs, load, swing, edge, sag and inductance must be positive")
    most_nh = sag_v / (outputs * 1.52 * load_pf * 1e-12 * swing_v / edge_s**2) * 1e9
    return max(0.0, (most_nh - package_nh) / per_mm_nh)
