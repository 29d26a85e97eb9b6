"""What an underfill takes off the strain of ball joints: the bonded-layer solution of shear lag."""

from __future__ import annotations

import math

from landwise.errors import InputError
from landwise.outlines.model import Outline
from landwise.service.materials import SILICON_GPA, SUBSTRATE_GPA

SHEAR_GPA = 2.0  # filled epoxy below its glass transition, 1 to 4 (recalled)
LAMINATE_GPA = 25.8
SOURCES = ("shear-lag-memory", "underfill-memory", "laminate-expansions")


def shear_relief(
    reach_mm: float, gap_mm: float, shear_gpa: float, part: tuple[float, float], board: tuple[float, float]
) -> float:
    """Slip at the edge of a bonded body as a share of what it would be unbonded, tanh(βL)/(βL). [-]

    Parameters
    ----------
    reach_mm, gap_mm : float
        From the middle to the edge, and the bond's thickness. [mm]
    shear_gpa : float
        Shear modulus of the bond. [GPa]
    part, board : (float, float)
        Young's modulus [GPa] and thickness [mm] of what is bonded.

    Raises
    ------
    InputError

    Notes
    -----
    β² = G/h · (1/E₁t₁ + 1/E₂t₂): stretch of the two bodies against shear of the bond, no bending (Chen and
    Nelson's joint). A thin, stiff bond under a wide, limp body holds the edge back; under a tiny stiff die it hardly
    does.

    Examples
    --------
    A die of 10 mm, and one of 1 mm:

    >>> die, board = (150.0, 0.35), (25.8, 1.6)
    >>> print(f"{shear_relief(7.0, 0.16, 2.0, die, board):.2f} {shear_relief(0.7, 0.16, 2.0, die, board):.2f}")
    0.19 0.92
    """
    if min(reach_mm, gap_mm, shear_gpa, *part, *board) <= 0:
        raise InputError("a bonded body needs positive sizes and moduli")
    beta = math.sqrt(shear_gpa / gap_mm * (1 / (part[0] * part[1]) + 1 / (board[0] * board[1])))
    return math.tanh(beta * reach_mm) / (beta * reach_mm)


def relief_of(outline: Outline, dnp_mm: float, gap_mm: float, board_mm: float) -> float:
    """Relief for a ball part whose gap is filled. [-]"""
    body = max(outline.height_mm.nom - outline.standoff_mm.nom, 0.1)
    modulus = SILICON_GPA if outline.family == "wafer-level" else SUBSTRATE_GPA
    return shear_relief(dnp_mm, gap_mm, SHEAR_GPA, (modulus, body), (LAMINATE_GPA, board_mm))
