"""Thermal cycling, strength, moisture and missions as landwise computes them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from landwise.joints.standing import ball_stand
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.service import moisture, shelf, whiskers
from landwise.service.atmosphere import gas_class
from landwise.service.attachment import LEAD_PPM_K, SHAPES, Attachment, LeadMetal, attachment
from landwise.service.bands import Band
from landwise.service.environments import Cycles, Environment, environment
from landwise.service.handbook import Apart, handbook_rate
from landwise.service.lives import Life, life
from landwise.service.materials import (
    BOARD_PPM_K,
    COPPER_GPA,
    COPPER_PPM_K,
    Layer,
    package_expansion,
    stack_expansion,
)
from landwise.service.mission import mission
from landwise.service.shaking import HANDLING_LIMIT
from landwise.service.strength import solder_shear, strength
from landwise.service.surroundings import COATED_LEADS, MIRRORED, Surroundings, thickness_factor
from landwise.service.thermal_cycling import (
    ACCELERATION_SETS,
    FATIGUE_SETS,
    Repeated,
    acceleration_factor,
    fatigue_exponent,
    leadless_strain,
    median_cycles,
)

__all__ = [
    "acceleration",
    "bake",
    "bound",
    "classification",
    "coated_leads",
    "csp_constant",
    "csp_regression",
    "csp_relative",
    "dwell_ratio",
    "family_order",
    "fatigue_constant",
    "floor_life",
    "gas",
    "handbook_example",
    "handling_limit",
    "hang_limit",
    "lead_expansion",
    "lead_frame",
    "miner",
    "mirrored",
    "mismatch_exponent",
    "mismatch_ratio",
    "mission_hours",
    "mission_share",
    "off_land",
    "passes",
    "peel",
    "shear",
    "shear_growth",
    "silicon",
    "stack",
    "storage",
    "strain",
    "tension",
    "thickness_ratio",
    "weibull_shape",
    "whisker_limit",
]


# --- the twelve chip-scale lives ---
def csp_regression(rows: Sequence[Sequence[float]], constant: str) -> float:
    """Least squares on test lives (cycles, highest °C, swing K, cycles in a time): one of the four constants."""
    cycles, top, swing, rate = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    columns = np.column_stack([np.ones_like(swing), np.log(swing), np.log(rate), 1 / (top + 273.15)])
    found, *_ = np.linalg.lstsq(columns, np.log(cycles), rcond=None)
    return float(found[("constant", "swing", "rate", "kelvin").index(constant)])


def csp_constant(constant: str) -> float:
    """The constant of the set that landwise carries."""
    held = ACCELERATION_SETS["csp-2007"]
    return float({"swing": -held.swing_exponent, "rate": held.time_exponent, "kelvin": held.kelvin}[constant])


def csp_relative(top: float, swing: float, rate: float, first: Sequence[float]) -> float:
    """Life under these cycles over that under the first row's, by the set that landwise carries."""
    _, first_top, first_swing, first_rate = first
    cycles = Repeated(swing, rate, top), Repeated(first_swing, first_rate, first_top)
    return float(acceleration_factor(*cycles, "csp-2007"))


def acceleration(field_swing: float, test_swing: float, field_rate: float, test_rate: float, top: float) -> float:
    """Field cycles that a test cycle stands for, tin-lead; rates in cycles a day."""
    cycles = Repeated(field_swing, field_rate / 86400, top), Repeated(test_swing, test_rate / 86400, top)
    return float(acceleration_factor(*cycles))


def miner(power: float, mini: float, ratio: float) -> float:
    """Power cycles to failure where each brings `ratio` mini cycles, from the lives under either alone.

    By the lives' own sum of damage: two kinds of cycle whose lives alone stand in the handbook's ratio.
    """
    joint = Attachment("ball", 4, 5.0, Band.exact(0.4), Band.exact(10.0))
    kinds = (Cycles(80, 60, 12, 85), Cycles(20, 30, 12 * ratio, 60))
    alone = [life(joint, Environment("x", "x", (k,), 1, 0.5), BOARD_PPM_K).median_years for k in kinds]
    # Stretch the rarer kind until the two lives alone are the handbook's, in years of one power cycle a month.
    wanted = (mini / ratio) / power
    stretched = replace(kinds[0], per_year=kinds[0].per_year * wanted * alone[0] / alone[1])
    both = life(joint, Environment("x", "x", (stretched, kinds[1]), 1, 0.5), BOARD_PPM_K).median_years
    first = life(joint, Environment("x", "x", (stretched,), 1, 0.5), BOARD_PPM_K).median_years
    return float(power * both / first)


# --- the fatigue method ---
def fatigue_constant(alloy: str) -> float:
    """Ductility of a set."""
    return float(FATIGUE_SETS[alloy].ductility)


def strain(length: float, mismatch: float, swing: float, height: float) -> float:
    """Shear strain of a leadless joint [mm, ppm/K, K, mm]."""
    return float(leadless_strain(length, mismatch, swing, height))


def mismatch_ratio(part: float, first: float, second: float) -> float:
    """Life of a chip-scale part on the second board over that on the first [ppm/K]."""
    exponent = fatigue_exponent(50, 10)
    lives = [median_cycles(leadless_strain(5, board - part, 100, 0.3), exponent) for board in (first, second)]
    return float(lives[1] / lives[0])


def mismatch_exponent() -> float:
    """Power of the mismatch with which life falls."""
    return float(-1 / fatigue_exponent(50, 10))


def dwell_ratio(longer: float) -> float:
    """Life with dwells of so many minutes over that with ten, lead-free set, 1 % of strain."""
    lives = [median_cycles(0.01, fatigue_exponent(50, t, "snag-2008"), "snag-2008") for t in (longer, 10)]
    return float(lives[0] / lives[1])


def _place(swing: float, dwell: float, top: float, share: float) -> Environment:
    return Environment("x", "x", (Cycles(swing, dwell, 1000, top),), 1, share)


def bound(
    kind: str,
    swing: float,
    dwell: float,
    top: float,
    share: float,
    side: str,
    dnp: float = 0.0,
    height: Sequence[float] = (),
    expansion: Sequence[float] = (),
    package: str = "",
    metal: LeadMetal = "copper",
) -> float:
    """The low or high end of the cycles to a share failed, for a joint or a package of the catalogue."""
    if package:
        joint = mounted(package, metal)
    else:
        # A row of cases names the kind, as text.
        joint = Attachment(kind, 1, dnp, Band(*height), Band(*expansion))  # type: ignore[arg-type]
    band = life(joint, _place(swing, dwell, top, share), BOARD_PPM_K).years_to(share).times(1000)
    return float(band.high if side == "high" else band.low)


@cache
def mounted(name: str, metal: LeadMetal = "copper") -> Attachment:
    """A catalogue package on a 1.575 mm board, 100 µm foil."""
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    around = Surroundings(board_mm=1.575)
    joint = attachment(outline, pattern, printed, ball_stand(outline, pattern, printed), around=around)
    return replace(joint, lead_metal=metal) if joint.kind == "leaded" else joint


@cache
def _hood(joint: Attachment) -> Life:
    return life(joint, environment("under-hood"), BOARD_PPM_K)


def family_order(leaded: str, leadless: str, side: str) -> float:
    """Low or high end of a leaded part's life under the hood over that of a leadless one, common draws."""
    ratio = _hood(mounted(leaded)).over(_hood(mounted(leadless)), 1e-3)
    return float(ratio.low if side == "low" else ratio.high)


def off_land(package: str, share: float) -> float:
    """Low end of the life with so much of a lead's area on its land, over that of the whole."""
    joint = mounted(package)
    if joint.area_mm2 is None:
        return math.nan
    less = replace(joint, area_mm2=joint.area_mm2.times(share))
    return float(_hood(less).over(_hood(joint), 1e-3).low)


def thickness_ratio(board: float) -> float:
    """Life on a board of that thickness [mm] over that on 1.575 mm."""
    return float(thickness_factor(board).value / thickness_factor(1.575).value)


def mirrored(side: str) -> float:
    """Share of life left with the same part on the other side."""
    return float(MIRRORED.low if side == "low" else MIRRORED.high)


def coated_leads() -> float:
    """Share of life left under a coat on thin leads."""
    return float(COATED_LEADS.value)


def weibull_shape(kind: str, side: str) -> float:
    """Weibull shape of a kind of joint: `value`, `low` or `high`."""
    band = SHAPES[kind]
    return float({"value": band.value, "low": band.low, "high": band.high}[side])


def lead_expansion(metal: LeadMetal, side: str) -> float:
    """Expansion of a lead metal [ppm/K]."""
    band = LEAD_PPM_K[metal]
    return float({"value": band.value, "low": band.low, "high": band.high}[side])


def lead_frame(size: str) -> float:
    """Modulus [GPa] or expansion [ppm/K] of lead-frame copper."""
    return float(COPPER_GPA if size == "modulus" else COPPER_PPM_K)


def stack() -> float:
    """Expansion [ppm/K] of four foils of 35 µm on 1.46 mm of laminate."""
    return float(stack_expansion([Layer(0.14, 117, 17.7), Layer(1.46, 25.8, 13.5)]))


def silicon(outline: str) -> float:
    """Expansion of a wafer-level body [ppm/K]."""
    return float(package_expansion(find(outline)).value)


# --- strength ---
def shear(speed: float, temperature: float) -> float:
    """Shear strength of a joint [MPa] at mm/s and °C."""
    return float(solder_shear(speed, temperature).value)


def tension(side: str) -> float:
    """√3 times the joint's shear strength at ball-shear speed [MPa]: `low`, `value` or `high`."""
    band = solder_shear(0.5)
    return math.sqrt(3) * float({"value": band.value, "low": band.low, "high": band.high}[side])


def shear_growth() -> float:
    """Exponent of the strength's growth from 0.05 to 50 mm/min."""
    slow, fast = solder_shear(0.05 / 60), solder_shear(50 / 60)
    return math.log(fast.value / slow.value) / math.log(1000)


def peel(outline: str, side: str) -> float:
    """Vertical pull of one gull-wing lead [g]: `value` or `low`."""
    part = find(outline)
    pattern = land_pattern(part)
    found = strength(part, pattern, print_part(pattern, Foil(150), outline=part)).pull_n
    return float((found.value if side == "value" else found.low) / part.terminals / 9.80665e-3)


# --- moisture, shelf, missions ---
def classification(thickness: float, volume: float) -> float:
    """Peak body temperature [°C] that a package is classed for, lead-free [mm, mm³]."""
    return float(moisture.classification_temperature(thickness, volume))


def floor_life(level: str) -> float:
    """Hours out of the bag."""
    return float(moisture.FLOOR_LIFE_S[level]) / 3600


def bake(level: str, thickness: float, after: str, oven: str) -> float:
    """Bake in hours after saturation (`saturated`) or after the floor life and 72 h (`floor`), at 125, 90 or 40 °C."""
    found = moisture.bake(level, thickness) if after == "saturated" else moisture.floor_bake(level, thickness)
    if found is None:
        return math.nan
    return float({"125": found.at_125_s, "90": found.at_90_s, "40": found.at_40_s}[oven]) / 3600


def hang_limit() -> float:
    """What a part may weigh by its land area upside down [g/in²]."""
    return float(moisture.HANG_MG_MM2) * 645.16 / 1000


def passes(used: float) -> str:
    """The verdict on one more reflow pass after so many."""
    return str(shelf.passes(1, int(used)).verdict)


def storage(months: float, open_days: float) -> str:
    """The verdict on months in the bag and days out of it."""
    return str(shelf.storage(months, int(open_days)))


def whisker_limit(product: str) -> float:
    """Longest whisker of a product class [µm]."""
    longest = whiskers.LENGTHS_UM[product]
    return math.nan if longest is None else float(longest)


def mission_share(key: str, temperature: float) -> float:
    """Share of a mission's hours at a temperature [°C]."""
    return float(dict(mission(key).histogram)[temperature])


def mission_hours(key: str) -> float:
    """Hours of a mission."""
    return float(mission(key).hours)


def gas(copper: float, silver: float) -> str:
    """Gas class of a place by growth on copper and silver in a month [Å]."""
    return gas_class(copper, silver)


def handbook_example(size: str) -> float:
    """The military handbook's example: `cycles`, `hours`, or the `share` of 20 years' life used."""
    found = handbook_rate(740 * 0.0254, 5 * 0.0254, Apart(15, 7, 21, 10), 0.03, 20)
    return float({"cycles": found.cycles, "hours": found.life_h, "share": 20 * 8760 / found.life_h}[size])


def handling_limit() -> float:
    """Strain to which boards are held in handling [µε]."""
    return float(HANDLING_LIMIT) * 1e6
