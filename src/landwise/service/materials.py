"""Thermal expansion of boards and packages: the composite rule, and bands where the build is not known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from landwise.errors import InputError, ValidityError
from landwise.outlines.model import GRIDS, LEADED, LEADLESS, Outline
from landwise.service.bands import Band

# In-plane expansion of FR-4: 15 in the list of MIL-HDBK-217F, 12.8 to 14.6 printed for single laminates, 12 and 21
# the extremes measured on boards, of which the 90 % band leaves out the last.
BOARD_PPM_K = Band(12.5, 15.0, 18.0)
BOARD_SOURCES = ("mil-217-expansion", "pch-board-expansion", "laminate-expansions")
SILICON_PPM_K, SILICON_GPA = 2.6, 150.0  # modulus between the <100> plane's 131 and 169 (recalled)
COPPER_PPM_K, COPPER_GPA = 16.3, 121.0  # C194
# Today's mould compounds (recalled); a compound of 2000 had 11.7 GPa and under 23 ppm/K.
MOULD_PPM_K, MOULD_GPA = Band(7.0, 10.0, 15.0), 20.0
SUBSTRATE_PPM_K, SUBSTRATE_GPA = 14.0, 20.0  # laminate under a ball grid's die (recalled)
FRAME_MM, DIE_MM = 0.2, 0.3
# Side of a logic die. One is printed, 1.0 × 0.6 mm in a body of 2 × 1.4 mm; others are smaller or larger.
DIE_SIDE_MM = Band(0.5, 1.0, 2.5)
MOST_DIE_SHARE = 0.8  # of the way from the middle to the outermost terminal
SOURCES = ("composite-pch", "intel-lead-materials", "mould-memory", "die-size-rule", "ti-spracy2-blr")


@dataclass(frozen=True)
class Layer:
    """One layer of a stack: thickness [mm], Young's modulus [GPa], expansion [ppm/K]."""

    thickness_mm: float
    modulus_gpa: float
    expansion_ppm_k: float


def stack_expansion(layers: Sequence[Layer]) -> float:
    """In-plane expansion of layers that are bonded and stay flat, Σ(E·α·t)/Σ(E·t). [ppm/K]

    Raises
    ------
    InputError
        For no layers, or a thickness or modulus that isn't positive.

    Notes
    -----
    No bending and one Poisson's ratio for all layers; a stack that bows expands differently at its two faces.

    Examples
    --------
    Half copper, half laminate, by their stiffness:

    >>> print(f"{stack_expansion([Layer(0.2, 120, 16), Layer(0.8, 30, 14)]):.1f}")
    15.0
    """
    if not layers or any(layer.thickness_mm <= 0 or layer.modulus_gpa <= 0 for layer in layers):
        raise InputError("a stack needs layers of positive thickness and modulus", found=f"{len(layers)} layers")
    stiffness = sum(layer.modulus_gpa * layer.thickness_mm for layer in layers)
    pull = sum(layer.modulus_gpa * layer.thickness_mm * layer.expansion_ppm_k for layer in layers)
    return pull / stiffness


def package_expansion(outline: Outline) -> Band:
    """Expansion between the middle of a package and its outermost terminal. [ppm/K]

    Notes
    -----
    A wafer-level body is its silicon. Others are two stretches in series, one with a die in the stack and one
    without; frame 0.2 mm, die 0.3 mm thick. The band covers mould compounds and die sizes, which no outline tells.

    Raises
    ------
    ValidityError
        For drilled packages, whose joints this is not used for.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> package_expansion(find("WLP-5-0.5")).value
    2.6
    >>> band = package_expansion(find("QFN-16-3x3"))
    >>> 6 < band.low < band.value < band.high < 16
    True
    """
    if outline.family == "wafer-level":
        return Band(2.6, SILICON_PPM_K, 2.8)
    if outline.family not in LEADED | LEADLESS | GRIDS:
        raise ValidityError("not for drilled parts", place=outline.name, found=outline.family)
    reach = math.hypot(outline.body_length_mm.nom, outline.body_width_mm.nom) / 2
    body = max(outline.height_mm.nom - outline.standoff_mm.nom, 0.25)
    base = (
        Layer(FRAME_MM, SUBSTRATE_GPA, SUBSTRATE_PPM_K)
        if outline.family == "ball grid"
        else Layer(min(FRAME_MM, body / 3), COPPER_GPA, COPPER_PPM_K)
    )
    die = min(DIE_MM, 0.5 * (body - base.thickness_mm))

    def of(mould_ppm_k: float, die_side_mm: float) -> float:
        share = min(die_side_mm / math.sqrt(2) / reach, MOST_DIE_SHARE)
        over = body - base.thickness_mm
        bare = stack_expansion([base, Layer(over, MOULD_GPA, mould_ppm_k)])
        filled = stack_expansion(
            [base, Layer(die, SILICON_GPA, SILICON_PPM_K), Layer(over - die, MOULD_GPA, mould_ppm_k)]
        )
        return share * filled + (1 - share) * bare

    value = of(MOULD_PPM_K.value, DIE_SIDE_MM.value)
    # Compound and die are independent: their deviations add as squares.
    below = math.hypot(value - of(MOULD_PPM_K.low, DIE_SIDE_MM.value), value - of(MOULD_PPM_K.value, DIE_SIDE_MM.high))
    above = math.hypot(of(MOULD_PPM_K.high, DIE_SIDE_MM.value) - value, of(MOULD_PPM_K.value, DIE_SIDE_MM.low) - value)
    return Band(value - below, value, value + above)
