"""How a leadless part settles: centre pad and perimeter joints against its weight.

The centre pad sets the standoff. Its solder is a thin sheet, far stiffer than the perimeter joints, whose toes
take up solder like a reservoir. What is not known is how far the pad's solder spreads and how much gas it keeps;
so the standoff comes as a window: full spread without gas below, deposits that keep their printed area above.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from landwise.errors import InputError, ValidityError
from landwise.joints.meniscus import RIGHT, arc_between
from landwise.joints.padtable import AXES, table_force
from landwise.joints.roots import root
from landwise.joints.section import sheet

VOID, VOID_LOW, VOID_HIGH = 0.30, 0.20, 0.40  # gas over pad area, as measured parts show
OPEN_VIAS_SHARE = 0.55  # of full spread: the lowest of the measured parts whose vias drink
SOURCE = "qfn-standoff-measured"
TARGET_UM = (50.0, 75.0)  # the trade's wish for leadless parts with a centre pad
TARGET_SOURCE = "qfn-standoff-target"
State = Literal["pressed", "pulled", "open"]


@dataclass(frozen=True)
class StandoffWindow:
    """Standoff that a printed centre pad gives. [µm]

    Parameters
    ----------
    low_um : float
        All solder spread over the whole pad, no gas, less what open vias take.
    nominal_um : float
        With the usual share of gas.
    high_um : float
        Deposits that melt where they were printed and do not spread.
    """

    low_um: float
    nominal_um: float
    high_um: float


def standoff_window(
    coverage: float,
    foil_um: float,
    *,
    metal_fraction: float,
    transfer: float = 1.0,
    void: float = VOID,
    via_share: float = 0.0,
) -> StandoffWindow:
    """Standoff of a leadless part from what its centre pad is printed with.

    Parameters
    ----------
    coverage : float
        Open area over pad area.
    foil_um : float
        Foil. [µm]
    metal_fraction, transfer : float
        Metal by volume of the paste, and share of the aperture's volume that is printed.
    void : float
        Gas over pad area.
    via_share : float
        Share of the pad's solder that open vias take.

    Raises
    ------
    InputError

    Notes
    -----
    coverage × foil × metal × transfer × (1 − vias) ÷ (1 − void).

    Examples
    --------
    Half coverage under 125 µm, half metal, fully spread: 31 µm; the measured part stood at 74.

    >>> window = standoff_window(0.50, 125, metal_fraction=0.5)
    >>> [round(x, 1) for x in (window.low_um, window.nominal_um, window.high_um)]
    [31.2, 44.6, 62.5]
    """
    if not (0 < coverage <= 1 and foil_um > 0 and 0 < metal_fraction <= 1 and transfer > 0):
        raise InputError(
            "coverage and metal lie between 0 and 1, foil and transfer are positive",
            found=f"coverage {coverage:g}, foil {foil_um:g} µm, metal {metal_fraction:g}, transfer {transfer:g}",
        )
    if not (0 <= void < 1 and 0 <= via_share < 1):
        raise InputError("shares lie between 0 and 1", found=f"void {void:g}, vias {via_share:g}")
    printed = foil_um * metal_fraction * transfer
    spread = coverage * printed * (1 - via_share)
    return StandoffWindow(spread, min(spread / (1 - void), max(printed, spread)), max(printed, spread))


def coverage_for(
    standoff_um: float,
    foil_um: float,
    *,
    metal_fraction: float,
    transfer: float = 1.0,
    void: float = VOID,
    via_share: float = 0.0,
) -> float:
    """Coverage that gives a standoff. May exceed 1: then the foil is too thin for it.

    >>> print(f"{coverage_for(50, 125, metal_fraction=0.536, transfer=1.0):.2f}")
    0.52
    """
    whole = standoff_window(
        1.0, foil_um, metal_fraction=metal_fraction, transfer=transfer, void=0.0, via_share=via_share
    )
    if not (standoff_um > 0 and 0 <= void < 1):
        raise InputError("the standoff must be positive", found=f"{standoff_um:g} µm, void {void:g}")
    return standoff_um * (1 - void) / whole.low_um


def via_solder(count: int, drill_mm: float, board_mm: float) -> float:
    """Solder that open vias of a pad can take: their barrels. [mm³]

    >>> print(f"{via_solder(9, 0.3, 1.6):.3f}")
    1.018
    """
    if count < 0 or drill_mm <= 0 or board_mm <= 0:
        raise InputError("no such vias", found=f"{count} of {drill_mm:g} mm in {board_mm:g} mm")
    return count * math.pi / 4 * drill_mm**2 * board_mm


@dataclass(frozen=True)
class CentrePad:
    """A centre pad and its solder: sizes [mm], metal [mm³], gas over pad area."""

    length_mm: float
    width_mm: float
    solder_mm3: float
    void: float = VOID

    @property
    def height_mm(self) -> float:
        """Height at which solder and gas fill the space over the pad. [mm]"""
        return self.solder_mm3 / (self.length_mm * self.width_mm * (1 - self.void))


@dataclass(frozen=True)
class PerimeterJoint:
    """Equal joints of a leadless part's edge. [mm, mm³]

    `toe_mm`, `heel_mm`: land beyond the terminal, outward and inward.
    """

    count: int
    terminal_length_mm: float
    terminal_width_mm: float
    land_width_mm: float
    toe_mm: float
    heel_mm: float
    solder_mm3: float

    @property
    def land_length_mm(self) -> float:
        """[mm]"""
        return self.terminal_length_mm + self.toe_mm + self.heel_mm

    @property
    def mean_height_mm(self) -> float:
        """Solder over land. [mm]"""
        return self.solder_mm3 / (self.land_length_mm * self.land_width_mm)

    def force_n(self, height_mm: float, tension_n_m: float) -> float:
        """Upward force of all of them. [N]

        Raises
        ------
        ValidityError
            Outside the table of joints.
        """
        w = self.land_width_mm
        force, _ = table_force(*self._scaled(), height_mm / self.mean_height_mm)
        return self.count * force * tension_n_m * 1e-3 * w

    def spills(self, height_mm: float) -> bool:
        """Whether the pressure exceeds 2γ/h, so that solder runs onto the mask."""
        _, pressure = table_force(*self._scaled(), height_mm / self.mean_height_mm)
        return pressure * height_mm / self.land_width_mm > 2

    def bulge_mm(self, height_mm: float) -> float:
        """How far the solder stands out past a land's side at a height, by the arc of the joint's pressure. [mm]

        Zero where the surface leans inward from the land's edge. The arc is that of a long joint; ends make the
        real bulge smaller.

        Raises
        ------
        ValidityError
            Outside the table, or where no arc of that pressure spans land and terminal.
        """
        _, pressure = table_force(*self._scaled(), height_mm / self.mean_height_mm)
        set_back = (self.land_width_mm - self.terminal_width_mm) / 2
        curvature = -pressure / self.land_width_mm
        arc = arc_between(curvature, set_back, height_mm)
        if arc is None:
            raise ValidityError("the joint bulges beyond a half circle", found=f"height {height_mm:.4g} mm")
        if arc.land_rad <= RIGHT or curvature >= 0:
            return 0.0
        return (1 - math.sin(arc.land_rad)) / -curvature

    def _scaled(self) -> tuple[float, float, float, float, float]:
        """Sizes over the land's width. A terminal as wide as its land is taken a little narrower."""
        w = self.land_width_mm
        widest = AXES["width"][-1]
        return (
            self.terminal_length_mm / w,
            min(self.terminal_width_mm / w, widest),
            self.toe_mm / w,
            max(0.0, self.heel_mm / w),
            self.mean_height_mm / w,
        )


@dataclass(frozen=True)
class Settled:
    """Where a leadless part comes to rest.

    Parameters
    ----------
    height_mm : float
        Standoff of its terminals. [mm]
    pad_force_n, perimeter_force_n : float
        Upward forces; with the weight they balance. [N]
    stretch : float
        Height over the perimeter's solder spread over its lands.
    state : {"pressed", "pulled", "open"}
        Of the perimeter joints: they push the part up, pull it down, or do not reach it.
    spills : bool
        Whether a perimeter joint's pressure exceeds 2γ/h.
    bulge_mm : float
        How far edge joints stand out past their lands' sides. [mm]
    tabled : bool
        False where edge joints are stretched or squeezed beyond their table and were taken at its edge.
    """

    height_mm: float
    pad_force_n: float
    perimeter_force_n: float
    stretch: float
    state: State
    spills: bool
    bulge_mm: float
    tabled: bool = True


@lru_cache(maxsize=4096)
def settle(
    pad: CentrePad | None, perimeter: PerimeterJoint, weight_n: float, *, dome_mm: float, tension_n_m: float = 0.50
) -> Settled:
    """Force balance of centre pad, perimeter joints and weight.

    Parameters
    ----------
    pad : CentrePad or None
    perimeter : PerimeterJoint
    weight_n : float
        Of the part. [N]
    dome_mm : float
        Height of the perimeter's molten deposit by itself: a part that floats higher stays open. [mm]
    tension_n_m : float

    Raises
    ------
    InputError, ValidityError
        ValidityError where the joints' sizes lie outside the table, or the part finds no rest in its range.

    Notes
    -----
    Quasi-static, part level, all perimeter joints alike. Gas in the pad is taken as incompressible. Perimeter
    joints stretched or squeezed beyond their table are taken at its edge: the pad, far stiffer, sets the height.

    Examples
    --------
    A perimeter that would stand higher than its pad is pressed, and hardly lifts it:

    >>> joints = PerimeterJoint(16, 0.40, 0.23, 0.29, 0.37, 0.0, 0.0121)
    >>> rest = settle(CentrePad(1.8, 1.8, 0.113), joints, 2.3e-4, dome_mm=0.08)
    >>> rest.state, round(rest.height_mm * 1000)
    ('pressed', 50)
    """
    if not (weight_n >= 0 and dome_mm > 0 and tension_n_m > 0):
        raise InputError("weight, dome and tension must be positive", found=f"{weight_n:g} N, {dome_mm:g} mm")
    gamma = tension_n_m * 1e-3
    mean = perimeter.mean_height_mm
    if pad is None:
        low, high = AXES["stretch"][0] * mean, AXES["stretch"][-1] * mean
        height = _root(lambda h: perimeter.force_n(h, tension_n_m) - weight_n, low, high)
        force = perimeter.force_n(height, tension_n_m)
        state: State = "pressed" if height <= mean else "pulled"
        return Settled(height, 0.0, force, height / mean, state, perimeter.spills(height), perimeter.bulge_mm(height))
    area, edge = pad.length_mm * pad.width_mm, 2 * (pad.length_mm + pad.width_mm)
    filled = pad.solder_mm3 / (1 - pad.void)

    def pad_force(height: float) -> float:
        return gamma * sheet(area, edge, filled, height)[1]

    # The pad's own rest: the range where its side neither bulges nor necks beyond a half circle.
    alone = filled / area
    slack = math.pi / 8 * edge / area * alone
    bounds = alone * (1 - 0.9 * slack / (1 + 2 * slack)), alone * (1 + 0.9 * slack)
    floats = _root(lambda h: pad_force(h) - weight_n, *bounds)
    if floats > dome_mm:
        return Settled(floats, weight_n, 0.0, floats / mean, "open", False, 0.0)
    limits = AXES["stretch"][0] * mean, AXES["stretch"][-1] * mean

    def within(height: float) -> float:
        return min(max(height, limits[0]), limits[1])

    height = _root(lambda h: pad_force(h) + perimeter.force_n(within(h), tension_n_m) - weight_n, *bounds)
    state = "pressed" if perimeter.force_n(within(height), tension_n_m) >= 0 else "pulled"
    return Settled(
        height,
        pad_force(height),
        weight_n - pad_force(height),
        height / mean,
        state,
        perimeter.spills(within(height)),
        perimeter.bulge_mm(within(height)),
        within(height) == height,
    )


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a force that falls with height balances."""
    if not (function(low) > 0 > function(high)):
        raise ValidityError(
            "no height balances the part: its joints push at every one of the range, or pull",
            found=f"{low * 1000:.4g} to {high * 1000:.4g} µm",
            expected="other volumes of pad and edge joints, or a lighter part",
        )
    return root(function, low, high)
