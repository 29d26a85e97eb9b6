"""How hard a mounted part holds: pull straight up and push from the side, and the link that gives first.

From geometry and two measured joint strengths; no test of whole small parts could be found to hold it against, and
no recognised limit exists for mounted parts. Use it to compare packages.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from landwise.errors import InputError, ValidityError
from landwise.joints.mounted import BOARD_MM
from landwise.lands.model import LandPattern
from landwise.outlines.model import GRIDS, LEADED, Outline, Terminal
from landwise.outlines.patterns import terminals
from landwise.printing.model import Print
from landwise.service.bands import Band

SHEAR_MPA = 23.0  # joints, 0.1 mm/min, 20 °C
SHEAR_HOT_MPA, COLD_C, HOT_C = 14.0, 20.0, 100.0  # the same maker's at 100 °C
REFERENCE_MM_S = 0.1 / 60
RATE_EXPONENT = Band(0.0, 0.05, 0.1)  # "below 0.1" between 0.05 and 50 mm/min
RATES_MM_S = (0.05 / 60, 50 / 60)
ALLOY_SPREAD = Band(0.8, 1.0, 1.3)  # makers' tables of one alloy, and alloys among themselves
TENSION_OVER_SHEAR = math.sqrt(3)  # von Mises
# Copper leads: yield and strength (recalled; soft to hard tempers).
LEAD_YIELD_MPA, LEAD_STRENGTH_MPA = Band(250.0, 380.0, 500.0), Band(350.0, 450.0, 550.0)
TEST_MM_S = 0.5  # within the low-speed range of the ball-shear standard, 0.1 to 0.8 mm/s
PUSH_LIMIT_N = 5.0  # test Ue3 of IEC 60068-2-21 since its 2006 edition
LIMIT_SOURCE = "iec-60068-2-21-ue3"
SOURCES = ("joint-shear-snippet", "shear-rate-abstracts", "solder-strength-tables", "von-mises")
LEAD_SOURCES = ("lead-strength-memory", "peel-hinge")


def solder_shear(speed_mm_s: float = TEST_MM_S, temperature_c: float = COLD_C) -> Band:
    """Shear strength of a solder joint when it is pushed so fast, at that temperature. [MPa]

    Parameters
    ----------
    speed_mm_s : float
        Speed of the push, 0.05 to 50 mm/min. [mm/s]
    temperature_c : float
        20 to 100 °C: a straight line between the two measured points. [°C]

    Raises
    ------
    ValidityError
        Outside these. Faster, joints break brittle at the interface, for which no figure is at hand.

    Examples
    --------
    >>> print(f"{solder_shear(0.1 / 60).value:.1f} {solder_shear(0.5).value:.1f}")
    23.0 30.6
    """
    if not RATES_MM_S[0] <= speed_mm_s <= RATES_MM_S[1] * (1 + 1e-9):
        raise ValidityError(
            "outside the tested speeds", place="speed", found=f"{speed_mm_s:g} mm/s", expected="0.05 to 50 mm/min"
        )
    if not COLD_C <= temperature_c <= HOT_C:
        raise ValidityError(
            "outside the tested temperatures",
            place="temperature",
            found=f"{temperature_c:g} °C",
            expected="20 to 100 °C",
        )
    slope = (SHEAR_HOT_MPA / SHEAR_MPA - 1) / (HOT_C - COLD_C)
    base = SHEAR_MPA * (1 + slope * (temperature_c - COLD_C))
    ratio = speed_mm_s / REFERENCE_MM_S
    powers = sorted(ratio**n for n in (RATE_EXPONENT.low, RATE_EXPONENT.high))
    return Band(
        base * powers[0] * ALLOY_SPREAD.low,
        base * ratio**RATE_EXPONENT.value,
        base * powers[1] * ALLOY_SPREAD.high,
    )


def peel_load(width_mm: float, thickness_mm: float, tension_mpa: float, yield_mpa: float) -> float:
    """Load at the heel at which a foot peels off its land. [N]

    Parameters
    ----------
    width_mm, thickness_mm : float
        Section of the lead. [mm]
    tension_mpa, yield_mpa : float
        Solder's tensile strength, lead's yield strength. [MPa]

    Notes
    -----
    Rigid-plastic: solder of strength σ holds the foot down over a length a from the heel, where the foot forms a
    hinge of moment Mp = σy·w·t²/4. With no shear at the hinge, P = σ·w·a and Mp = σ·w·a²/2, so
    P = w·t·√(σ·σy/2). Heel fillets add to it, a hinge in the leg too; a short foot has less (the whole foot's
    area bounds it).

    Examples
    --------
    >>> print(f"{peel_load(0.41, 0.2, 49.0, 400.0):.1f}")
    8.1
    """
    if min(width_mm, thickness_mm, tension_mpa, yield_mpa) <= 0:
        raise InputError("sizes and strengths must be positive")
    return width_mm * thickness_mm * math.sqrt(tension_mpa * yield_mpa / 2)


@dataclass(frozen=True)
class Hold:
    """What one terminal bears. [mm, N]

    Parameters
    ----------
    x_mm, y_mm : float
        Middle of its attached metal. [mm]
    area_mm2, land_mm2 : float
        Attached metal, and the land it stands on. [mm²]
    pull_n, shear_n : float
        Loads at which it comes off. [N]
    bend_x_n, bend_y_n : float or None
        Side load at which its lead folds; None without a leg. [N]
    link : str
        What gives first when it is pulled.
    """

    x_mm: float
    y_mm: float
    area_mm2: float
    land_mm2: float
    pull_n: float
    shear_n: float
    bend_x_n: float | None = None
    bend_y_n: float | None = None
    link: str = "solder"


@dataclass(frozen=True)
class Strength:
    """How hard a part holds.

    Parameters
    ----------
    pull_n : Band
        Straight up, all terminals sharing. [N]
    push_n : Band
        From the weaker side at half the body's height. [N]
    pull_link, push_link : str
        What gives first.
    area_mm2, outline_mm, body_mm2 : float
        Attached metal in all, its outline, and the body's area. [mm², mm, mm²]
    land_stress_mpa : float
        What the most loaded land must bear, if it is not to come off before the solder. [MPa]
    """

    pull_n: Band
    push_n: Band
    pull_link: str
    push_link: str
    area_mm2: float
    outline_mm: float
    body_mm2: float
    land_stress_mpa: float

    @property
    def share(self) -> float:
        """Attached metal as a share of the body's area."""
        return self.area_mm2 / self.body_mm2


def strength(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    *,
    speed_mm_s: float = TEST_MM_S,
    temperature_c: float = COLD_C,
    land_bond_mpa: float | None = None,
) -> Strength:
    """Pull and push strength of a part on these lands.

    Parameters
    ----------
    outline, pattern, printed
        Attached metal is where terminal and land lie over one another; under an exposed pad, where paste was printed.
    speed_mm_s, temperature_c : float
        As for `solder_shear`.
    land_bond_mpa : float, optional
        Tensile bond of lands to the laminate, from your own board's pull tests. [MPa] Without it the lands are taken
        to hold: no figure that could be read is trustworthy, and foil peel strength does not tell it.

    Raises
    ------
    ValidityError
        From `solder_shear`.

    Notes
    -----
    Push at height z above the lands: each terminal carries an even share of the shear, and tension that grows with
    its distance from the middle; it comes off at (N/pull)² + (V/shear)² = 1. A formed lead folds as a portal
    frame, 2·Mp over its leg. A drilled lead pulls out of its solder or tears.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> def of(name):
    ...     outline = find(name)
    ...     pattern = land_pattern(outline)
    ...     return strength(outline, pattern, print_part(pattern, Foil(100), outline=outline))
    >>> of("SON-6-1.45x1.0").push_n.value > of("WLP-6-0.4").push_n.value
    True
    """
    shear = solder_shear(speed_mm_s, temperature_c)
    cases = []
    for low_mid_high in ("low", "value", "high"):
        holds = _holds(
            outline,
            pattern,
            printed,
            getattr(shear, low_mid_high),
            getattr(LEAD_YIELD_MPA, low_mid_high),
            getattr(LEAD_STRENGTH_MPA, low_mid_high),
            land_bond_mpa,
        )
        pull = sum(hold.pull_n for hold in holds)
        cases.append((pull, *_push(holds, _push_height(outline)), holds))
    (low, value, high) = cases
    holds = value[3]
    weakest = min(holds, key=lambda hold: hold.pull_n / max(hold.area_mm2, 1e-12))
    return Strength(
        Band(low[0], value[0], high[0]),
        Band(low[1], value[1], high[1]),
        weakest.link,
        value[2],
        sum(hold.area_mm2 for hold in holds),
        # The circle of each attached patch's area: the shortest outline it can have.
        sum(2 * math.sqrt(math.pi * hold.area_mm2) for hold in holds),
        outline.body_area_mm2,
        max(hold.pull_n / hold.land_mm2 for hold in holds),
    )


def _push_height(outline: Outline) -> float:
    return outline.standoff_mm.nom + (outline.height_mm.nom - outline.standoff_mm.nom) / 2


def _holds(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    shear: float,
    lead_yield: float,
    lead_break: float,
    land_bond: float | None,
) -> list[Hold]:
    lands = {land.terminal: land for land in pattern.lands}
    open_area = {aperture.terminal: aperture.area_mm2 for aperture in printed.apertures}
    tension = TENSION_OVER_SHEAR * shear
    found = []
    for terminal in terminals(outline):
        land = lands.get(terminal.number)
        if land is None:
            continue
        size = land.place.shape
        if outline.drilled:
            found.append(_drilled(terminal, shear, lead_break))
            continue
        area = _attached(outline, terminal, land.place.x_mm, land.place.y_mm, size.length_mm, size.width_mm)
        if terminal.side == "centre":
            area = min(area, open_area.get(terminal.number, area))
        hold = Hold(terminal.x_mm, terminal.y_mm, area, size.area_mm2, tension * area, shear * area)
        if outline.family in LEADED and outline.terminal_thickness_mm is not None:
            hold = _with_lead(outline, terminal, hold, tension, lead_yield, lead_break)
        if land_bond is not None and land_bond * size.area_mm2 < hold.pull_n:
            hold = replace(hold, pull_n=land_bond * size.area_mm2, link="land")
        found.append(hold)
    if not found:
        raise InputError("no terminal stands on a land", place=outline.name)
    return found


def _attached(outline: Outline, terminal: Terminal, x: float, y: float, length: float, width: float) -> float:
    """Where terminal and land lie over one another. [mm²]"""
    if outline.family in GRIDS:
        package = outline.package_land_mm.nom if outline.package_land_mm else terminal.width_mm
        return math.pi / 4 * min(package, length) ** 2
    if terminal.side == "centre":
        return min(terminal.length_mm, length) * min(terminal.width_mm, width)
    turn = math.radians(terminal.outward_deg)
    apart = abs((x - terminal.x_mm) * math.cos(turn) + (y - terminal.y_mm) * math.sin(turn))
    over = min(terminal.length_mm, length, (terminal.length_mm + length) / 2 - apart)
    return max(over, 0.0) * min(terminal.width_mm, width)


def _with_lead(
    outline: Outline, terminal: Terminal, hold: Hold, tension: float, lead_yield: float, lead_break: float
) -> Hold:
    assert outline.terminal_thickness_mm is not None
    width, thick = terminal.width_mm, outline.terminal_thickness_mm.nom
    peel = peel_load(width, thick, tension, lead_yield)
    tear = width * thick * lead_break
    pull = min(peel, tear, hold.pull_n)
    link = "peel at the heel" if pull == peel else "lead" if pull == tear else "solder"
    if outline.family == "flat-lead dual":
        return replace(hold, pull_n=pull, link=link)
    leg = max(_push_height(outline) - thick, thick)
    flat, edge = (2 * lead_yield * size / 4 / leg for size in (width * thick**2, thick * width**2))
    across = terminal.side in ("left", "right")
    return replace(hold, pull_n=pull, link=link, bend_x_n=flat if across else edge, bend_y_n=edge if across else flat)


def _drilled(terminal: Terminal, shear: float, lead_break: float) -> Hold:
    around = 2 * (terminal.length_mm + terminal.width_mm) * BOARD_MM
    tear = terminal.length_mm * terminal.width_mm * lead_break
    pull = min(shear * around, tear)
    # From the side the lead is cut at the board's face before its solder gives.
    cut = min(shear * around, tear / TENSION_OVER_SHEAR)
    return Hold(terminal.x_mm, terminal.y_mm, around, around, pull, cut, link="lead" if pull == tear else "solder")


def _push(holds: list[Hold], height_mm: float) -> tuple[float, str]:
    """The weaker of the two directions: load, and what gives."""
    results = []
    for axis in ("x", "y"):
        arms = [hold.x_mm if axis == "x" else hold.y_mm for hold in holds]
        total = sum(hold.area_mm2 for hold in holds)
        middle = sum(hold.area_mm2 * arm for hold, arm in zip(holds, arms, strict=True)) / total
        inertia = sum(hold.area_mm2 * (arm - middle) ** 2 for hold, arm in zip(holds, arms, strict=True))
        # A single row tips about its own width; take the terminals' extent there.
        inertia = max(inertia, total * total / len(holds) / 12)
        off = math.inf
        for hold, arm in zip(holds, arms, strict=True):
            share = hold.area_mm2 / total
            tension = height_mm * hold.area_mm2 * abs(arm - middle) / inertia
            off = min(off, 1 / math.hypot(tension / hold.pull_n, share / hold.shear_n))
        results.append((off, "leads" if all(hold.link == "lead" for hold in holds) else "solder"))
        folds = [hold.bend_x_n if axis == "x" else hold.bend_y_n for hold in holds]
        if all(fold is not None for fold in folds):
            results.append((sum(fold for fold in folds if fold is not None), "leads fold"))
    return min(results)
