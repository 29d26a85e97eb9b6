"""Board vibration: plate frequencies, random response, and the displacement that leads and joints stand."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from itertools import pairwise
from types import MappingProxyType

from landwise.errors import InputError, ValidityError

GRAVITY_MM_S2 = 9806.65
INCH_MM = 25.4
LIMIT_INCH = 0.00022  # of the displacement rule, in its own inches
RULE_CYCLES = 20e6  # stress reversals at which the random limit is stated
FATIGUE_EXPONENT = 6.4


def _ratio(a: float, b: float, a4: float, a2b2: float, b4: float) -> float:
    return math.sqrt(a4 / a**4 + a2b2 / (a**2 * b**2) + b4 / b**4)


# Edges from the left one clockwise: S supported, X fixed, F free. Each gives f = value · √(D/ρ). [1/mm²]
EDGES: Mapping[str, Callable[[float, float], float]] = MappingProxyType(
    {
        "ssss": lambda a, b: math.pi / 2 * (1 / a**2 + 1 / b**2),
        "sffs": lambda a, b: math.pi / 11 * (1 / a**2 + 1 / b**2),
        "ssfs": lambda a, b: math.pi / 2 * (1 / (4 * a**2) + 1 / b**2),
        "xxxx": lambda a, b: math.pi / 1.5 * _ratio(a, b, 3, 2, 3),
        "xffx": lambda a, b: math.pi / 5.42 * _ratio(a, b, 1, 3.2, 1),
        "xxfx": lambda a, b: math.pi / 3 * _ratio(a, b, 0.75, 2, 12),
        "xsxs": lambda a, b: math.pi / 3.46 * _ratio(a, b, 16, 8, 3),
        "ffff": lambda a, b: math.pi / 2 * math.sqrt(2.08) / (a * b),
        "xfff": lambda a, _: 0.56 / a**2,
        "xfxf": lambda a, _: 3.55 / a**2,
        "xfsf": lambda a, _: 0.78 * math.pi / a**2,
        "sfsf": lambda a, _: math.pi / 2 / a**2,
        "xfxs": lambda a, b: math.pi / 1.74 * _ratio(a, b, 4, 1 / 2, 1 / 64),
        "xffs": lambda a, b: math.pi / 2 * _ratio(a, b, 0.127, 0.20, 0),
        "sfsx": lambda a, b: math.pi / 2 * _ratio(a, b, 1, 0.608, 0.126),
        "xxsx": lambda a, b: math.pi / 2 * _ratio(a, b, 2.45, 2.90, 5.13),
        "xsfx": lambda a, b: math.pi / 2 * _ratio(a, b, 0.127, 0.707, 2.44),
        "xssx": lambda a, b: math.pi / 2 * _ratio(a, b, 2.45, 2.68, 2.45),
        "xsss": lambda a, b: math.pi / 2 * _ratio(a, b, 2.45, 2.32, 1),
    }
)


def plate_frequency(
    length_mm: float,
    width_mm: float,
    thickness_mm: float,
    modulus_mpa: float,
    poisson: float,
    mass_mg: float,
    edges: str,
) -> float:
    """First natural frequency of a rectangular board. [Hz]

    Parameters
    ----------
    length_mm, width_mm, thickness_mm : float
        Sides a (left-right) and b, and thickness h. [mm]
    modulus_mpa, poisson : float
        Young's modulus and Poisson's ratio of the laminate. [MPa, -]
    mass_mg : float
        Whole mass of board and parts, spread evenly. [mg]
    edges : str
        Four letters from the left edge clockwise: S supported, X fixed, F free.

    Raises
    ------
    InputError
        Unknown edge code or sizes that aren't positive.
    ValidityError
        For a plate thicker than a twentieth of its shorter side, or Poisson's ratio outside 0…0.5.

    Notes
    -----
    Rayleigh forms as in Steinberg's handbook, figs 6.14–6.16, D = E h³/12(1 − ν²). Only the all-supported and
    strip cases are exact; a clamped square comes out 3 % high.

    Examples
    --------
    The handbook's 6 × 4 × 0.1 inch board, printed 251.2 Hz:

    >>> mass = 6 * 4 * 0.1 * 0.208 * 453592.37
    >>> print(f"{plate_frequency(152.4, 101.6, 2.54, 13789.5, 0.12, mass, 'SSSS'):.1f}")
    251.2
    """
    code = edges.lower()
    if code not in EDGES:
        raise InputError("no formula for these edges", found=edges, expected=", ".join(name.upper() for name in EDGES))
    if min(length_mm, width_mm, thickness_mm, modulus_mpa, mass_mg) <= 0:
        raise InputError("sizes, modulus and mass must be positive")
    if not 0 <= poisson < 0.5:
        raise ValidityError("no such Poisson's ratio", found=f"{poisson:g}", expected="0 to 0.5")
    if thickness_mm > min(length_mm, width_mm) / 20:
        raise ValidityError(
            "too thick for thin-plate theory",
            found=f"{thickness_mm:g} mm",
            expected="up to a twentieth of the shorter side",
        )
    stiffness = modulus_mpa * 1e6 * (thickness_mm * 1e-3) ** 3 / (12 * (1 - poisson**2))  # N·m
    per_area = mass_mg * 1e-6 / (length_mm * width_mm * 1e-6)  # kg/m²
    return EDGES[code](length_mm * 1e-3, width_mm * 1e-3) * math.sqrt(stiffness / per_area)


def random_response(frequency_hz: float, q: float, psd_g2_hz: float) -> tuple[float, float]:
    """Root-mean-square acceleration [g] and three-sigma displacement [mm] of a single mode (Miles).

    >>> g_rms, z = random_response(200.0, 20.0, 0.01)
    >>> print(f"{g_rms:.4f}")
    7.9267
    """
    if min(frequency_hz, q, psd_g2_hz) <= 0:
        raise InputError("frequency, Q and density must be positive")
    g_rms = math.sqrt(math.pi / 2 * frequency_hz * q * psd_g2_hz)
    return g_rms, 3 * g_rms * GRAVITY_MM_S2 / (2 * math.pi * frequency_hz) ** 2


def displacement_limit(
    board_length_mm: float,
    part_length_mm: float,
    thickness_mm: float,
    package_constant: float,
    position_factor: float,
    cycles: float = RULE_CYCLES,
) -> float:
    """Board displacement that a part stands, three sigma of random vibration. [mm]

    Notes
    -----
    Z = 0.00022·B/(C·h·r·√L) in inches for 20 million reversals; other counts by Z·(20e6/N)^(1/6.4).

    Examples
    --------
    >>> z = displacement_limit(6 * 25.4, 25.4, 0.062 * 25.4, 1.75, 1.0)
    >>> print(f"{z / 25.4:.6f}")
    0.012166
    """
    if min(board_length_mm, part_length_mm, thickness_mm, cycles) <= 0:
        raise InputError("lengths, thickness and cycles must be positive")
    if not 0.5 <= package_constant <= 3:
        raise ValidityError(
            "no package constant of that size",
            found=f"{package_constant:g}",
            expected="0.5 to 3 (DIP 1.0, ball grid 1.75, leadless ceramic 2.25)",
        )
    if not 0 < position_factor <= 1:
        raise ValidityError(
            "a position factor lies between 0 and 1",
            found=f"{position_factor:g}",
            expected="1 at the middle, 0.5 at a quarter",
        )
    root = math.sqrt(part_length_mm / INCH_MM)
    inches = (
        LIMIT_INCH
        * (board_length_mm / INCH_MM)
        / (package_constant * (thickness_mm / INCH_MM) * position_factor * root)
    )
    return float(inches * INCH_MM * (RULE_CYCLES / cycles) ** (1 / FATIGUE_EXPONENT))


def least_frequency(limit_mm: float, *, psd_g2_hz: float | None = None, sine_g: float | None = None) -> float:
    """Board frequency above which the displacement stays within a limit, with Q = √f. [Hz]

    Random: 3·9.8·√(π/2·P·f·√f)/f² = Z; sine: 9.8·G·√f/f² = Z, both solved for f (inch constants 9.8).

    >>> print(f"{least_frequency(0.0121659 * 25.4, psd_g2_hz=0.1):.1f}")
    242.7
    """
    if (psd_g2_hz is None) == (sine_g is None):
        raise InputError("give either a density or a sine level", expected="psd or sine")
    if limit_mm <= 0 or min(psd_g2_hz or 1.0, sine_g or 1.0) <= 0:
        raise InputError("limit and level must be positive")
    limit = limit_mm / INCH_MM
    if psd_g2_hz is not None:
        return float((29.4 * math.sqrt(math.pi / 2 * psd_g2_hz) / limit) ** 0.8)
    return float((9.8 * (sine_g or 0.0) / limit) ** (2 / 3))


def half_sine_velocity(peak_g: float, duration_s: float) -> tuple[float, float]:
    """Velocity change [cm/s] and equivalent drop height [cm] of a half-sine pulse.

    >>> v, h = half_sine_velocity(1500, 0.5e-3)
    >>> print(f"{v:.1f} {h:.1f}")
    468.2 111.8
    """
    if min(peak_g, duration_s) <= 0:
        raise InputError("peak and duration must be positive")
    v = 2 / math.pi * peak_g * 9.80665 * duration_s
    return v * 100, v**2 / (2 * 9.80665) * 100


def static_frequency(deflection_mm: float) -> float:
    """Natural frequency of what sags so much under its own weight, √(g/δ)/2π. [Hz]

    >>> print(f"{static_frequency(1.19):.3f}")
    14.448
    """
    if deflection_mm <= 0:
        raise InputError("the deflection must be positive", found=f"{deflection_mm:g} mm")
    return math.sqrt(GRAVITY_MM_S2 / deflection_mm) / (2 * math.pi)


def drop_response(drop_mm: float, frequency_hz: float) -> float:
    """Acceleration of a board that a fall stops at once: 2πf·√(2gH)/g, in g.

    Holds where the stop is short against the board's own period.

    >>> print(f"{drop_response(50.8, 14.0):.3f}")
    8.954
    """
    if min(drop_mm, frequency_hz) <= 0:
        raise InputError("drop and frequency must be positive")
    return 2 * math.pi * frequency_hz * math.sqrt(2 * GRAVITY_MM_S2 * drop_mm) / GRAVITY_MM_S2


def shock_amplification(frequency_hz: float, duration_s: float) -> float:
    """Greatest acceleration of an undamped mass on a spring, as a multiple of a half-sine pulse's peak.

    Notes
    -----
    With β the pulse's half period over the spring's, the largest of the first swings during the pulse,
    sin(2πk/(1 + 1/β))/(1 − β), and of the free swing after it, |2β·cos(π/2β)/(1 − β²)|. An identity of the
    equation of motion; a slow board feels the pulse's velocity only, a stiff one its peak.

    Examples
    --------
    >>> peak = max(shock_amplification(hz, 1e-3) for hz in range(600, 1000))
    >>> print(f"{shock_amplification(1e6, 1e-3):.3f}, {peak:.3f}")
    1.000, 1.768
    """
    if min(frequency_hz, duration_s) <= 0:
        raise InputError("frequency and duration must be positive")
    beta = 1 / (2 * frequency_hz * duration_s)
    if abs(beta - 1) < 1e-9:
        return math.pi / 2
    after = abs(2 * beta * math.cos(math.pi / (2 * beta)) / (1 - beta**2))
    if beta >= 1:
        return after
    swings = range(1, int((1 + 1 / beta) / 2) + 1)
    return max(after, *(math.sin(2 * math.pi * k / (1 + 1 / beta)) / (1 - beta) for k in swings))


Profile = tuple[tuple[float, float], ...]  # (frequency [Hz], density [g²/Hz]), rising in frequency


def density_at(profile: Profile, frequency_hz: float) -> float:
    """Density of a random level at a frequency, straight between its corners on doubly logarithmic paper. [g²/Hz]

    A profile of one corner is flat everywhere; outside the corners of another there is none.

    >>> print(f"{density_at(((10, 0.01), (40, 0.04)), 20):.3f}")
    0.020
    """
    if not profile or min(min(corner) for corner in profile) <= 0:
        raise InputError("a random level needs positive corners", found=str(profile))
    if any(b[0] <= a[0] for a, b in pairwise(profile)):
        raise InputError("the corners of a random level must rise in frequency", found=str(profile))
    if len(profile) == 1:
        return profile[0][1]
    for (f1, p1), (f2, p2) in pairwise(profile):
        if f1 <= frequency_hz <= f2:
            slope = math.log(p2 / p1) / math.log(f2 / f1)
            return float(p1 * (frequency_hz / f1) ** slope)
    return 0.0


def profile_rms(profile: Profile) -> float:
    """Whole level of a random profile, the root of the area under it. [g]

    >>> print(f"{profile_rms(((1, 1e-4), (4, 0.01), (100, 0.01), (200, 0.001))):.4f}")
    1.1462
    """
    if len(profile) < 2:
        raise InputError("the area under one corner isn't known", expected="two corners or more")
    area = 0.0
    for (f1, p1), (f2, p2) in pairwise(profile):
        slope = math.log(density_at(profile, f2) / density_at(profile, f1)) / math.log(f2 / f1)
        if abs(slope + 1) < 1e-9:
            area += p1 * f1 * math.log(f2 / f1)
        else:
            area += (p2 * f2 - p1 * f1) / (slope + 1)
    return math.sqrt(area)
