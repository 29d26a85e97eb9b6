"""Solder-joint life in thermal cycling: strain from mismatch, cycles to failure, and test against field.

The strain-based method of the surface-mount design guides, for leadless and for leaded (compliant) joints.
First order: use it to compare packages; qualify the product by test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError, ValidityError

LARGEST_STRAIN = 0.5  # no joint survives more to be counted
LEAST_DWELL_MIN = 1.0  # below about a minute relaxation no longer decides
STRESS_MPA = 200 * 4.4482216152605 / 25.4**2  # 200 psi of the leaded formula, exactly converted


@dataclass(frozen=True)
class FatigueSet:
    """Constants of the fatigue exponent and ductility of one alloy.

    exponent c = c0 + c1·T + c2·ln(1 + t0/t), T mean cyclic solder temperature [°C], t half-cycle dwell [min].
    """

    ductility: float
    c0: float
    c1: float
    c2: float
    t0_min: float
    source: str


FATIGUE_SETS: Mapping[str, FatigueSet] = MappingProxyType(
    {
        "snpb": FatigueSet(0.325, -0.442, -6.0e-4, 1.74e-2, 360.0, "engelmaier-dfr"),
        "snpb-2008": FatigueSet(0.325, -0.442, -6.0e-4, 1.72e-2, 360.0, "engelmaier-2008-notebook"),
        "snag-2008": FatigueSet(0.275, -0.430, -6.3e-4, 1.82e-2, 400.0, "engelmaier-2008-notebook"),
        "sac-2009-recalled": FatigueSet(0.425, -0.480, -9.3e-4, 1.92e-2, 500.0, "sac-2009-memory"),
    }
)


@dataclass(frozen=True)
class AccelerationSet:
    """Constants of a Norris–Landzberg-type acceleration factor.

    Parameters
    ----------
    swing_exponent, time_exponent, kelvin : float
    source : str
    time : {"rate", "dwell"}
        What the time term is a ratio of: rates, field over test; or dwells, test over field.
    swings_k, tops_c : (float, float) or None
        Range of swings and highest temperatures of the tests behind the set; None where it is not known.
    """

    swing_exponent: float
    time_exponent: float
    kelvin: float
    source: str
    time: Literal["rate", "dwell"] = "rate"
    swings_k: tuple[float, float] | None = None
    tops_c: tuple[float, float] | None = None


ACCELERATION_SETS: Mapping[str, AccelerationSet] = MappingProxyType(
    {
        "snpb": AccelerationSet(1.9, 1 / 3, 1414.0, "norris-landzberg-pch"),
        "csp-2007": AccelerationSet(2.0635, 0.3452, 2006.4, "yang-csp", "rate", (50.0, 160.0), (30.0, 120.0)),
        "sac-2005-recalled": AccelerationSet(2.65, 0.136, 2185.0, "pan-2005-memory", "dwell", None, (0.0, 100.0)),
        "sac-2012-recalled": AccelerationSet(2.3, 0.3, 4562.0, "lall-2012-memory"),
        "sac-2008-recalled": AccelerationSet(1.75, 0.25, 1600.0, "dauksher-2008-memory", "dwell"),
    }
)


def fatigue_exponent(mean_temperature_c: float, dwell_min: float, alloy: str = "snpb") -> float:
    """Fatigue ductility exponent c. [-]

    Raises
    ------
    ValidityError
        For dwells below a minute, or outside −55…150 °C.

    Examples
    --------
    >>> print(f"{fatigue_exponent(50.0, 10.0):.6f}")
    -0.409170
    """
    constants = _fatigue_set(alloy)
    if not dwell_min >= LEAST_DWELL_MIN:
        raise ValidityError(
            "too quick for creep to decide", place="dwell", found=f"{dwell_min:g} min", expected="1 min and longer"
        )
    if not -55 <= mean_temperature_c <= 150:
        raise ValidityError(
            "outside the tested temperatures",
            place="mean_solder_temp",
            found=f"{mean_temperature_c:g} °C",
            expected="−55 to 150 °C",
        )
    return constants.c0 + constants.c1 * mean_temperature_c + constants.c2 * math.log1p(constants.t0_min / dwell_min)


def _fatigue_set(alloy: str) -> FatigueSet:
    if alloy not in FATIGUE_SETS:
        raise InputError("no fatigue constants of that name", found=alloy, expected=" | ".join(FATIGUE_SETS))
    return FATIGUE_SETS[alloy]


def leadless_strain(
    dnp_mm: float, mismatch_ppm_k: float, swing_k: float, height_mm: float, factor: float = 1.0
) -> float:
    """Cyclic shear strain range F·L·|Δα·ΔT|/h. [-]

    Area array of 20 × 20 balls at 1 mm, α 6 against 18 ppm, 0.508 mm high, 30 K (printed as 1.0 %):

    >>> print(f"{leadless_strain(14.142, 12.0, 30.0, 0.508):.4f}")
    0.0100
    """
    if min(dnp_mm, height_mm) <= 0 or swing_k <= 0:
        raise InputError(
            "distance, height and swing must be positive", found=f"{dnp_mm:g} mm, {height_mm:g} mm, {swing_k:g} K"
        )
    if not 0.5 <= factor <= 1.5:
        raise ValidityError("outside the guide's range", place="factor", found=f"{factor:g}", expected="0.5 to 1.5")
    return factor * dnp_mm * abs(mismatch_ppm_k) * 1e-6 * swing_k / height_mm


def median_cycles(damage: float, exponent: float, alloy: str = "snpb") -> float:
    """Cycles at which half have failed, ½·(2εf/Δγ)^(−1/c). [cycles]

    Raises
    ------
    ValidityError
        For a damage term that isn't positive, or strains above 50 %, which no joint survives to be counted.

    >>> strain = leadless_strain(14.142, 12.0, 100.0, 0.508)
    >>> print(f"{median_cycles(strain, fatigue_exponent(50.0, 10.0)):.1f}")
    707.1
    """
    if not 0 < damage <= LARGEST_STRAIN:
        raise ValidityError(
            "outside the range of the method", place="strain", found=f"{damage:.3g}", expected="above 0, up to 0.5"
        )
    return float(0.5 * (2 * _fatigue_set(alloy).ductility / damage) ** (-1 / exponent))


def leaded_energy_term(
    stiffness_n_mm: float,
    dnp_mm: float,
    mismatch_ppm_k: float,
    swing_k: float,
    joint_area_mm2: float,
    height_mm: float,
    factor: float = 1.0,
) -> float:
    """Damage term of a compliant lead, F·K·(L·Δα·ΔT)²/(200 psi·A·h). [-]

    >>> term = leaded_energy_term(90 * 4.4482216152605 / 25.4, 5.08, 10.0, 100.0, 1.2e-3 * 645.16, 0.1016)
    >>> print(f"{term:.6f}")
    0.003750
    """
    if min(stiffness_n_mm, dnp_mm, joint_area_mm2, height_mm, swing_k) <= 0:
        raise InputError("stiffness, sizes and swing must be positive")
    slip = dnp_mm * abs(mismatch_ppm_k) * 1e-6 * swing_k
    return factor * stiffness_n_mm * slip**2 / (STRESS_MPA * joint_area_mm2 * height_mm)


@dataclass(frozen=True)
class Repeated:
    """A cycle that repeats: swing peak to peak [K], how often [Hz], highest temperature [°C], hot dwell [min]."""

    swing_k: float
    rate_hz: float
    top_c: float
    dwell_min: float | None = None


def acceleration_factor(field: Repeated, test: Repeated, alloy: str = "snpb") -> float:
    """How many field cycles one test cycle stands for (Norris–Landzberg form). [-]

    Parameters
    ----------
    field, test : Repeated
        Of their rates only the ratio counts. Dwells serve the sets that count those instead.
    alloy : str
        A key of `ACCELERATION_SETS`.

    Raises
    ------
    InputError
        For an unknown set, or dwells missing where the set needs them.
    ValidityError
        For swings or temperatures outside the tests behind the set, where these are known.

    Notes
    -----
    AF = (ΔT_test/ΔT_field)^n · time · exp[K (1/T_field − 1/T_test)], temperatures in kelvin. The time term is
    (f_field/f_test)^m, or (t_test/t_field)^m of the dwells; a public thread has the first upside down.

    Examples
    --------
    0/100 °C at 48 cycles a day to 20/60 °C at 2:

    >>> print(f"{acceleration_factor(Repeated(40, 2 / 86400, 60), Repeated(100, 48 / 86400, 100)):.3f}")
    3.116
    """
    if alloy not in ACCELERATION_SETS:
        raise InputError("no acceleration constants of that name", found=alloy, expected=" | ".join(ACCELERATION_SETS))
    if min(field.swing_k, test.swing_k, field.rate_hz, test.rate_hz) <= 0:
        raise InputError("swings and frequencies must be positive")
    constants = ACCELERATION_SETS[alloy]
    for name, limits, values, unit in (
        ("swing", constants.swings_k, (field.swing_k, test.swing_k), "K"),
        ("highest temperature", constants.tops_c, (field.top_c, test.top_c), "°C"),
    ):
        if limits is not None and not limits[0] <= min(values) <= max(values) <= limits[1]:
            raise ValidityError(
                f"outside the tests behind {alloy}",
                place=name,
                found=" and ".join(f"{value:g} {unit}" for value in values),
                expected=f"{limits[0]:g} to {limits[1]:g} {unit}",
            )
    if constants.time == "dwell":
        if field.dwell_min is None or test.dwell_min is None or min(field.dwell_min, test.dwell_min) <= 0:
            raise InputError(f"{alloy} counts dwells, not rates", expected="both dwells, in the field and in the test")
        time = test.dwell_min / field.dwell_min
    else:
        time = field.rate_hz / test.rate_hz
    swing = (test.swing_k / field.swing_k) ** constants.swing_exponent
    heat = math.exp(constants.kelvin * (1 / (field.top_c + 273.15) - 1 / (test.top_c + 273.15)))
    return float(swing * time**constants.time_exponent * heat)


def weibull_cycles(median: float, share: float, shape: float) -> float:
    """Cycles at which a share has failed, from the median and the Weibull shape. [cycles]

    >>> print(f"{weibull_cycles(1.0, 0.01, 4.0):.5f}")
    0.34701
    """
    if not (0 < share < 1 and shape > 0 and median > 0):
        raise InputError("share between 0 and 1, shape and median positive", found=f"{share:g}, {shape:g}, {median:g}")
    return float(median * (math.log1p(-share) / math.log(0.5)) ** (1 / shape))
