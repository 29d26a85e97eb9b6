"""Heat: junction temperature, what logic dissipates, and copper that spreads it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError, ValidityError


def junction_temperature(power_w: float, theta_ja_k_w: float, ambient_c: float) -> float:
    """Junction temperature Ta + θJA·P. [°C]

    >>> round(junction_temperature(0.18077, 120.3, 85.0), 2)
    106.75
    """
    if power_w < 0 or theta_ja_k_w <= 0:
        raise InputError(
            "power can't be negative and θJA must be positive", found=f"{power_w:g} W, {theta_ja_k_w:g} K/W"
        )
    return ambient_c + theta_ja_k_w * power_w


def cmos_power(cpd_pf: float, supply_v: float, frequency_hz: float, outputs: int, load_pf: float) -> float:
    """Dynamic power of outputs switching together, (Cpd + CL)·f·Vcc²·N. [W]

    >>> round(cmos_power(33, 3.3, 25e6, 8, 50), 5)
    0.18077
    """
    if min(cpd_pf, load_pf, frequency_hz) < 0 or supply_v <= 0 or outputs < 1:
        raise InputError("capacitances and frequency can't be negative, supply and outputs must be positive")
    return (cpd_pf + load_pf) * 1e-12 * frequency_hz * supply_v**2 * outputs


def copper_spreading(
    inner_mm: float, outer_mm: float, copper_um: float, film_w_m2k: float, conductivity: float = 385.0
) -> float:
    """Thermal resistance of a copper annulus that loses heat from one face. [K/W]

    Notes
    -----
    Annular fin with an adiabatic rim, m = √(h/(k t)).

    Raises
    ------
    ValidityError
        If the rim isn't outside the root.

    >>> print(f"{copper_spreading(2.0, 20.0, 35.0, 10.0):.2f}")
    99.03
    """
    from scipy.special import i0, i1, k0, k1

    if not 0 < inner_mm < outer_mm:
        raise ValidityError(
            "the rim must lie outside the root", found=f"{inner_mm:g}, {outer_mm:g} mm", expected="inner < outer"
        )
    if min(copper_um, film_w_m2k, conductivity) <= 0:
        raise InputError("copper, film and conductivity must be positive")
    t, r1, r2 = copper_um * 1e-6, inner_mm * 1e-3, outer_mm * 1e-3
    m = math.sqrt(film_w_m2k / (conductivity * t))
    a, b = m * r1, m * r2
    top = k0(a) * i1(b) + i0(a) * k1(b)
    bottom = 2 * math.pi * conductivity * t * a * (k1(a) * i1(b) - i1(a) * k1(b))
    return float(top / bottom)


@dataclass(frozen=True)
class LogicPower:
    """Where a logic part's power goes. [W]"""

    static_w: float
    internal_w: float
    load_w: float

    @property
    def total_w(self) -> float:
        """Sum. [W]"""
        return self.static_w + self.internal_w + self.load_w


@dataclass(frozen=True)
class TtlInputs:
    """Inputs driven at TTL levels: how many, what each draws more when high [A], and for what share of the time."""

    count: int = 0
    extra_a: float = 0.0
    duty: float = 0.5


NO_TTL = TtlInputs()


def logic_power(
    cpd_pf: float,
    supply_v: float,
    frequency_hz: float,
    outputs: int,
    load_pf: float,
    static_a: float = 0.0,
    ttl: TtlInputs = NO_TTL,
) -> LogicPower:
    """Static, internal and load power of CMOS logic. [W]

    Parameters
    ----------
    cpd_pf, load_pf : float
        Power-dissipation and load capacitance of one output. [pF]
    outputs : int
        Outputs switching at that frequency.
    static_a : float
        Supply current at rest. [A]
    ttl : TtlInputs

    Notes
    -----
    Vcc·(Icc + N·ΔIcc·D) + Cpd·f·Vcc²·N + CL·f·Vcc²·N: the number of outputs multiplies both capacitances.

    Raises
    ------
    InputError
        Negative inputs, or a duty outside 0 to 1.

    >>> power = logic_power(33, 3.3, 25e6, 8, 50, static_a=20e-6)
    >>> print(f"{power.static_w * 1e6:.0f} uW, {power.internal_w * 1e3:.1f} mW, {power.load_w * 1e3:.1f} mW")
    66 uW, 71.9 mW, 108.9 mW
    """
    if min(static_a, ttl.extra_a, ttl.count) < 0 or not 0 <= ttl.duty <= 1:
        raise InputError("currents can't be negative, and a duty lies between 0 and 1")
    each = cmos_power(1.0, supply_v, frequency_hz, outputs, 0.0)  # of one pF
    if min(cpd_pf, load_pf) < 0:
        raise InputError("capacitances can't be negative")
    return LogicPower(supply_v * (static_a + ttl.count * ttl.extra_a * ttl.duty), cpd_pf * each, load_pf * each)


def highest_power(junction_c: float, ambient_c: float, theta_k_w: float) -> float:
    """Power at which the junction just reaches its limit, (Tj − Ta)/θ. [W]

    >>> print(f"{highest_power(125, 85, 259) * 1e3:.0f} mW")
    154 mW
    """
    if theta_k_w <= 0:
        raise InputError("a thermal resistance must be positive", found=f"{theta_k_w:g} K/W")
    if ambient_c >= junction_c:
        raise ValidityError(
            "the air is as hot as the junction may be", found=f"{ambient_c:g} °C", expected=f"below {junction_c:g} °C"
        )
    return (junction_c - ambient_c) / theta_k_w
