"""Stiffness of a formed lead: a frame of three straight segments, clamped in the body.

Each segment bends in both planes, stretches, shears and twists. The compliances of the segments add up at the
foot, a 6 × 6 matrix of three shifts and three turns; what the end is free to do then decides the stiffness.
Axes: x outward from the body (radial), y along the body's side, z up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.joints.leadform import LeadForm

Array = NDArray[np.float64]
End = Literal["free", "guided", "fixed"]
ENDS: tuple[End, ...] = ("free", "guided", "fixed")
MODULUS_GPA = 121.0  # copper alloy of lead frames
POISSON = 0.34
SOURCES = ("lead-frame-copper", "beam-theory")
SERIES = 7  # odd terms of the torsion series: the rest is below 1e-6


@dataclass(frozen=True)
class LeadStiffness:
    """Force over shift at the foot, in three directions. [N/mm]

    Parameters
    ----------
    radial_n_mm, along_n_mm, vertical_n_mm : float
        Outward from the body, along its side, and up.
    end : str
        What the foot was free to do.
    compliance : array
        6 × 6: shifts x, y, z [mm/N, 1/N] and turns about them.
    """

    radial_n_mm: float
    along_n_mm: float
    vertical_n_mm: float
    end: End
    compliance: Array

    def towards_n_mm(self, from_radial_deg: float) -> float:
        """Stiffness against a shift in the board's plane at an angle from the radial direction. [N/mm]"""
        c, s = math.cos(math.radians(from_radial_deg)), math.sin(math.radians(from_radial_deg))
        return self.radial_n_mm * c**2 + self.along_n_mm * s**2


def torsion_constant(width_mm: float, thickness_mm: float) -> float:
    """St Venant's torsion constant of a rectangle. [mm⁴]

    Notes
    -----
    J = w t³ [1/3 − 64/π⁵ · t/w · Σ tanh(nπw/2t)/n⁵], n odd, t the smaller side.

    >>> round(torsion_constant(1.0, 1.0), 4), round(torsion_constant(2.0, 1.0) / 2, 3)
    (0.1406, 0.229)
    """
    wide, thin = max(width_mm, thickness_mm), min(width_mm, thickness_mm)
    total = sum(math.tanh(n * math.pi * wide / (2 * thin)) / n**5 for n in range(1, 2 * SERIES, 2))
    return wide * thin**3 * (1 / 3 - 64 / math.pi**5 * thin / wide * total)


def lead_stiffness(
    form: LeadForm,
    *,
    end: End,
    modulus_gpa: float = MODULUS_GPA,
    poisson: float = POISSON,
    foot_mm: float | None = None,
) -> LeadStiffness:
    """Stiffness of one lead, the body held and the foot shifted.

    Parameters
    ----------
    form : LeadForm
        Shoulder, leg (run and rise), foot, section.
    end : {"free", "guided", "fixed"}
        What the foot may do while it is shifted one way: turn and shift freely (an unsoldered lead), shift but
        not turn, or neither. It changes the radial stiffness 3 to 18 times over the catalogue, so there is no
        default.
    modulus_gpa, poisson : float
        Of the lead's metal.
    foot_mm : float, optional
        Length of foot that bends, from the heel to where the load acts: half the foot if free, none if the
        solder holds it.

    Raises
    ------
    InputError

    Notes
    -----
    Linear, small shifts, sharp bends. Shear by Cowper's factor for rectangles, 10(1 + ν)/(12 + 11ν).

    Examples
    --------
    >>> form = LeadForm(0.25, 0.35, 0.9, 0.8, 0.41, 0.2)
    >>> free, fixed = (lead_stiffness(form, end=end).radial_n_mm for end in ("free", "fixed"))
    >>> 3 < fixed / free < 15
    True
    """
    if end not in ENDS:
        raise InputError("unknown end condition", found=end, expected=" | ".join(ENDS))
    sizes = (form.rise_mm, form.width_mm, form.thickness_mm, modulus_gpa)
    if not all(math.isfinite(x) and x > 0 for x in sizes) or min(form.shoulder_mm, form.run_mm) < 0:
        raise InputError("a lead needs positive sizes", found=", ".join(f"{x:g}" for x in sizes))
    if not -1 < poisson < 0.5:
        raise InputError("no such Poisson's ratio", found=f"{poisson:g}", expected="-1 to 0.5")
    bends = foot_mm if foot_mm is not None else (form.foot_mm / 2 if end == "free" else 0.0)
    path = np.array(
        [
            [0.0, 0.0],
            [form.shoulder_mm, 0.0],
            [form.shoulder_mm + form.run_mm, -form.rise_mm],
            [form.shoulder_mm + form.run_mm + bends, -form.rise_mm],
        ]
    )
    compliance = frame_compliance(path, form.width_mm, form.thickness_mm, modulus_gpa, poisson)
    radial, along, vertical = (_stiffness(compliance, axis, end) for axis in range(3))
    return LeadStiffness(radial, along, vertical, end, compliance)


def frame_compliance(path: Array, width_mm: float, thickness_mm: float, modulus_gpa: float, poisson: float) -> Array:
    """Compliance at the last point of a plane frame that is clamped at its first. 6 × 6, N and mm.

    Parameters
    ----------
    path : (n, 2) array
        Corners in the x-z plane. [mm]
    width_mm, thickness_mm : float
        Section: width along y. [mm]
    """
    elastic = modulus_gpa * 1e3  # N/mm²
    shear = elastic / (2 * (1 + poisson))
    area = width_mm * thickness_mm
    factor = 10 * (1 + poisson) / (12 + 11 * poisson)
    in_plane, across = width_mm * thickness_mm**3 / 12, thickness_mm * width_mm**3 / 12
    twist = torsion_constant(width_mm, thickness_mm)
    total = np.zeros((6, 6))
    tip = np.array([path[-1, 0], 0.0, path[-1, 1]])
    for (x1, z1), (x2, z2) in pairwise(path):
        length = math.hypot(x2 - x1, z2 - z1)
        if length == 0:
            continue
        along = np.array([(x2 - x1) / length, 0.0, (z2 - z1) / length])
        y = np.array([0.0, 1.0, 0.0])
        normal = np.cross(along, y)
        local = np.zeros((6, 6))
        local[0, 0] = length / (elastic * area)
        local[3, 3] = length / (shear * twist)
        # Shift along y with turn about the normal, and shift along the normal with turn about y.
        for shift, turn, inertia, sign in ((1, 5, across, 1.0), (2, 4, in_plane, -1.0)):
            local[shift, shift] = length**3 / (3 * elastic * inertia) + length / (factor * shear * area)
            local[turn, turn] = length / (elastic * inertia)
            local[shift, turn] = local[turn, shift] = sign * length**2 / (2 * elastic * inertia)
        turn_axes = np.stack([along, y, normal])
        rotate = np.zeros((6, 6))
        rotate[:3, :3] = rotate[3:, 3:] = turn_axes
        arm = tip - np.array([x2, 0.0, z2])
        carry = np.eye(6)  # load at the tip to load at the segment's end: moment = arm × force
        carry[3:, :3] = np.array([[0, -arm[2], arm[1]], [arm[2], 0, -arm[0]], [-arm[1], arm[0], 0]])
        to_local = rotate @ carry
        total += to_local.T @ local @ to_local
    return np.asarray(total)


def _stiffness(compliance: Array, axis: int, end: End) -> float:
    """Force over shift along an axis: shifts and turns that the end doesn't hold are free of load."""
    held = {"free": [axis], "guided": [axis, 3, 4, 5], "fixed": [axis, *(k for k in range(6) if k != axis)]}[end]
    return float(np.linalg.inv(compliance[np.ix_(held, held)])[0, 0])
