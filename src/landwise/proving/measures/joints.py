"""Molten joints, leads and acceptance limits as landwise computes them. Lengths in mm unless said."""

from __future__ import annotations

import math

import numpy as np
from scipy.integrate import solve_ivp

from landwise.joints.acceptance import END_SHARE, OVERHANG_SHARE, heel_limit_mm, side_limit_mm
from landwise.joints.alloys import ALLOYS
from landwise.joints.ball import ball_joint
from landwise.joints.gullwing import GAUSS
from landwise.joints.lead import torsion_constant
from landwise.joints.pull import snap_off
from landwise.joints.section import arc_height
from landwise.joints.settling import TARGET_UM, standoff_window

__all__ = [
    "acceptance",
    "alloy_tension",
    "arc_factor",
    "collapsed",
    "gauss",
    "reference_ball",
    "snap_off_mg",
    "standoff",
    "torsion",
    "wished_standoff",
]
TENSION_N_MM, WEIGHT_N_MM3 = 0.5e-3, 7.38e-6 * 9.80665


def torsion(ratio: float) -> float:
    """Torsion constant of a rectangle over width times thickness cubed, by its ratio of sides."""
    return float(torsion_constant(ratio, 1.0) / ratio)


def acceptance(
    limit: str, level: int, gap: float = 0.0, thick: float = 0.0, foot: float = 0.0, lead: float = 0.0
) -> float:
    """An acceptance limit of gull-wing joints: `heel`, `side` [mm], `end`, `overhang` (share of the lead's width)."""
    if limit == "heel":
        return float(heel_limit_mm(level, gap, thick))
    if limit == "side":
        return float(side_limit_mm(level, foot, lead))
    return float((END_SHARE if limit == "end" else OVERHANG_SHARE)[level])


def standoff(coverage: float, vias: float, side: str) -> float:
    """The lowest (`low`) or highest (`high`) standoff [µm] over foils of 125 and 150 µm, half the paste metal.

    `vias`: the share of the pad whose paste open vias take.
    """
    share = vias / coverage
    windows = [standoff_window(coverage, foil, metal_fraction=0.5, via_share=share) for foil in (125, 150)]
    return float(min(one.low_um for one in windows) if side == "low" else max(one.high_um for one in windows))


def alloy_tension(alloy: str, side: str) -> float:
    """Surface tension of a molten alloy [N/m]: `value`, `low` or `high`."""
    found = ALLOYS[alloy]
    return float({"value": found.tension_n_m, "low": found.tension_low, "high": found.tension_high}[side])


def gauss(place: int, size: str) -> float:
    """Node or weight of the fillets' five-point rule on −1 to 1, by its place from the left."""
    return float(GAUSS[place][0 if size == "node" else 1])


def wished_standoff(side: str) -> float:
    """Standoff wished for under leadless parts with a centre pad [µm]."""
    return float(TARGET_UM[0 if side == "low" else 1])


def arc_factor(width: float, height: float) -> float:
    """How much higher than its mean a joint with an arc for its top stands, by the land's width and the mean height."""
    return float(arc_height(width, width * height) / height)


def collapsed(ball: float, land: float) -> float:
    """Height of a ball between two equal lands after it melted, no paste, no load."""
    return float(ball_joint(math.pi / 6 * ball**3, land, land).height_mm[0])


def snap_off_mg(ball: float, land: float) -> float:
    """The strongest pull of a molten ball joint, in mg per mm of the land's edge."""
    off = snap_off(math.pi / 6 * ball**3, land, land)
    return float(off.pull_n / 9.80665e-6 / (math.pi * land))


def reference_ball(volume: float, land: float, load: float, size: str) -> float:
    """A loaded ball joint's meridian integrated anew by SciPy (DOP853), over what landwise gives.

    The integration takes the solver's pressure and the edge's slope which its board force gives; `size` is `height`,
    `volume` or `diameter`. Volume in mm³, load in N.
    """
    radius = land / 2
    joint = ball_joint(volume, land, land, load_n=load)
    pressure = float(joint.pressure_mpa[0])
    sine = (pressure * math.pi * radius**2 - float(joint.board_force_n[0])) / (2 * math.pi * radius * TENSION_N_MM)

    def slope(_: float, y: np.ndarray) -> list[float]:
        r, z, phi, _volume = y
        bend = (pressure - WEIGHT_N_MM3 * z) / TENSION_N_MM - math.sin(phi) / r
        return [math.cos(phi), math.sin(phi), bend, math.pi * r**2 * math.sin(phi)]

    def back(_: float, y: np.ndarray) -> float:
        return float(y[0]) - radius

    # The solver reads these off the function; a function's type has no such field.
    back.terminal = True  # type: ignore[attr-defined]
    # As above.
    back.direction = -1  # type: ignore[attr-defined]
    start = [radius, 0.0, math.asin(sine), 0.0]
    found = solve_ivp(slope, (0, 2), start, method="DOP853", rtol=1e-12, atol=1e-14, events=back)
    reference = {
        "height": found.y[1, -1] / joint.height_mm[0],
        "volume": found.y[3, -1] / volume,
        "diameter": 2 * np.max(found.y[0]) / joint.max_diameter_mm[0],
    }
    return float(reference[size])
