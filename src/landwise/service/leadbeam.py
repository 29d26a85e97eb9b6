"""Stiffness of a formed lead, from its drawing, by beam theory."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

COPPER_MPA = 121_000.0  # C194
POISSON = 0.34
SOURCES = ("intel-lead-materials", "unit-load-beam")


@dataclass(frozen=True)
class LeadStiffness:
    """How a free lead yields at the middle of its foot: displacement per force. [mm/N]

    `across` is square to the row, in the plane of the lead; `along` is along the row.
    """

    across_mm_n: float
    along_mm_n: float

    def towards(self, angle_deg: float) -> float:
        """Stiffness against a force so many degrees from `across`. [N/mm]"""
        turn = math.radians(angle_deg)
        return 1 / (self.across_mm_n * math.cos(turn) ** 2 + self.along_mm_n * math.sin(turn) ** 2)


def _segment(start: NDArray[np.float64], end: NDArray[np.float64], tip: NDArray[np.float64], width: float, thick: float) -> NDArray[np.float64]:  # fmt: skip
    """Flexibility that one straight piece adds at the tip (displacements x, y, z, then turns)."""
    run = end - start
    length = float(np.linalg.norm(run))
    axis = run / length
    across = np.array([0.0, 1.0, 0.0])  # width always lies along the row
    normal = np.cross(axis, across)
    area, flat, edge = width * thick, width * thick**3 / 12, thick * width**3 / 12
    # Saint-Venant's torsion constant of a rectangle, the usual series cut after its first correction.
    ratio = min(width, thick) / max(width, thick)
    torsion = max(width, thick) * min(width, thick) ** 3 * (1 / 3 - 0.21 * ratio * (1 - ratio**4 / 12))
    shear = COPPER_MPA / (2 * (1 + POISSON))
    points, weights = np.polynomial.legendre.leggauss(3)  # exact for products of linear moments
    total = np.zeros((6, 6))
    for point, weight in zip(points, weights, strict=True):
        arm = tip - (start + run * (point + 1) / 2)
        # Rows: force and moment at this section from each unit load at the tip.
        force = np.hstack([np.eye(3), np.zeros((3, 3))])
        moment = np.hstack([np.array([[0, -arm[2], arm[1]], [arm[2], 0, -arm[0]], [-arm[1], arm[0], 0]]), np.eye(3)])
        ds = length / 2 * weight
        total += ds * np.outer(axis @ force, axis @ force) / (COPPER_MPA * area)
        for side in (across, normal):
            total += ds * 1.2 * np.outer(side @ force, side @ force) / (shear * area)
        total += ds * np.outer(across @ moment, across @ moment) / (COPPER_MPA * flat)
        total += ds * np.outer(normal @ moment, normal @ moment) / (COPPER_MPA * edge)
        total += ds * np.outer(axis @ moment, axis @ moment) / (shear * torsion)
    return total


@lru_cache(maxsize=512)
def lead_stiffness(
    shoulder_mm: float, drop_mm: float, foot_mm: float, width_mm: float, thickness_mm: float
) -> LeadStiffness:
    """Stiffness of a lead that leaves the body level, turns down, and turns out again into its foot.

    Parameters
    ----------
    shoulder_mm : float
        Level run from the body to the bend; zero for a straight leg. [mm]
    drop_mm : float
        From the level run down to the foot. [mm]
    foot_mm : float
        Length of the foot; the force acts at its middle. Zero for a force at the heel. [mm]
    width_mm, thickness_mm : float
        Section; the width lies along the row. [mm]

    Raises
    ------
    InputError
        For sizes that aren't positive (shoulder and foot may be zero).

    Notes
    -----
    Unit-load method with bending, shear, stretch and torsion; sharp bends, stiff body, foot free to turn (the
    guides ask for the stiffness of the unsoldered lead). Stepped or inclined legs of real parts are longer and softer.

    Examples
    --------
    A straight leg is a cantilever, 3·E·I/L³ less what shear gives:

    >>> leg = lead_stiffness(0.0, 2.0, 0.0, 0.4, 0.2)
    >>> print(f"{leg.towards(0) / (3 * COPPER_MPA * 0.4 * 0.2**3 / 12 / 2.0**3):.3f}")
    0.992
    """
    if min(drop_mm, width_mm, thickness_mm) <= 0 or min(shoulder_mm, foot_mm) < 0:
        raise InputError(
            "a lead needs positive sizes",
            found=f"{shoulder_mm:g}, {drop_mm:g}, {foot_mm:g}, {width_mm:g} × {thickness_mm:g} mm",
        )
    corners = np.array(
        [[0, 0, drop_mm], [shoulder_mm, 0, drop_mm], [shoulder_mm, 0, 0], [shoulder_mm + foot_mm / 2, 0, 0]]
    )
    tip = corners[-1]
    flexibility = sum(
        (
            _segment(start, end, tip, width_mm, thickness_mm)
            for start, end in pairwise(corners)
            if not np.array_equal(start, end)
        ),
        start=np.zeros((6, 6)),
    )
    return LeadStiffness(float(flexibility[0, 0]), float(flexibility[1, 1]))
