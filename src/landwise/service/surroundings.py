"""What stands around a joint and changes its life: board thickness, the other side, coat, potting, underfill, voids.

None of it is in the strain method. Each enters as a factor on the life or a strain of its own, from a published
comparison or as a bound; what neither covers is named (`beyond`) so that the life is *not shown*.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError
from landwise.service.bands import Band

REFERENCE_MM = 1.575  # the board of the published comparison
LEAST_MM, MOST_MM = 0.4, 3.2  # outside, the factor is held at this end
# Life ∝ thickness^−p. The published comparison has twice the life on 0.4 mm: p = ln 2/ln(1.575/0.4). Its band reaches
# from no effect (parts too small to bend the board) to half as much again.
THICKNESS_POWER = Band(0.0, math.log(2.0) / math.log(REFERENCE_MM / LEAST_MM), 0.76)
MIRRORED = Band(1 / 3, 0.42, 0.5)  # life of parts back to back over that of one side: a half to a third
COATED_LEADS = Band(0.5, 0.7, 1.0)  # thin small-outline parts under 10 to 20 µm of coat: 30 % less
SOLDER_PPM_K = 23.0
VOID_POWER = 2.4  # life goes with strain to about −2.4, and a void lessens the section that carries it
SOLDER_GPA = 40.0


@dataclass(frozen=True)
class Filler:
    """What fills a gap: expansion above and below its glass transition as a band [ppm/K], modulus as a band [GPa]."""

    expansion_ppm_k: Band
    modulus_gpa: Band


# Recalled; bands from supplier to supplier. Silicone and vapour coats pull so little that they count as no fill.
FILLERS: Mapping[str, Filler] = MappingProxyType(
    {
        "acrylic": Filler(Band(80.0, 120.0, 200.0), Band(0.01, 0.5, 2.0)),
        "urethane": Filler(Band(100.0, 150.0, 250.0), Band(0.005, 0.1, 1.0)),
        "epoxy": Filler(Band(50.0, 65.0, 150.0), Band(0.5, 2.5, 3.5)),
        "silicone": Filler(Band(200.0, 250.0, 300.0), Band(0.0005, 0.001, 0.005)),
        "vapour": Filler(Band(30.0, 35.0, 70.0), Band(0.5, 2.8, 3.2)),
        "underfill": Filler(Band(25.0, 30.0, 45.0), Band(4.0, 8.0, 10.0)),
    }
)
SOURCES = (
    "board-thickness-life",
    "mirrored-life",
    "coated-leads-life",
    "fillers-memory",
    "voids-bound",
    "potting-not-covered",
)


@dataclass(frozen=True)
class Surroundings:
    """What stands around a part's joints.

    Parameters
    ----------
    board_mm : float
        Thickness of the board. [mm]
    mirrored : bool
        Whether a like part sits back to back on the other side.
    coat : str
        Key of `FILLERS`, or "none".
    fills_gap : bool
        Whether that coat fills the gap under the body instead of lining it.
    underfill, potting : bool
        Whether the gap is filled, whether the board is cast in.
    void_share : float
        Largest share of a joint's section lost to voids.
    """

    board_mm: float = 1.6
    mirrored: bool = False
    coat: str = "none"
    fills_gap: bool = False
    underfill: bool = False
    potting: bool = False
    void_share: float = 0.0

    def __post_init__(self) -> None:
        if not self.board_mm > 0:
            raise InputError("a board needs a thickness", found=f"{self.board_mm:g} mm")
        if not 0 <= self.void_share < 1:
            raise InputError("a share of voids lies from 0 to below 1", found=f"{self.void_share:g}")
        if self.coat != "none" and self.coat not in FILLERS:
            raise InputError("no such coat", found=self.coat, expected="none, " + ", ".join(FILLERS))

    @property
    def beyond(self) -> tuple[str, ...]:
        """Keys of what no number covers: cast-in boards."""
        return ("potting",) if self.potting else ()

    def life_factor(self, kind: str) -> Band:
        """Life with all this over life without. [-]

        >>> Surroundings().life_factor("leaded").value, Surroundings(mirrored=True).life_factor("leaded").value
        (1.0, 0.42)
        >>> thin, thick = (Surroundings(board_mm=t).life_factor("ball").value for t in (0.8, 2.4))
        >>> thin > 1 > thick
        True
        """
        factors = []
        if kind != "leaded":
            factors.append(thickness_factor(self.board_mm))
        if self.mirrored:
            factors.append(MIRRORED)
        if kind == "leaded" and self.coat not in ("none", "silicone"):
            factors.append(COATED_LEADS)
        if self.void_share > 0:
            # A bound: all voids where it cracks. With a quarter of voids tests often show no loss (recalled).
            factors.append(Band((1 - self.void_share) ** VOID_POWER, 1.0, 1.0))
        return times(factors)

    def stretch_ppm_k(self, kind: str) -> Band:
        """What a filled gap stretches the joints upward, over the solder's own expansion. [ppm/K]

        Notes
        -----
        Filler and solder side by side between two stiff faces: the joint takes (α_f − α_s)·E_f·A_f/(E_f·A_f + E_s·A_s),
        here with three times as much gap as joint under balls and leadless bodies; leads stand beside the gap.
        """
        if kind == "leaded":
            return Band.exact(0.0)
        name = "underfill" if self.underfill else self.coat if self.fills_gap else "none"
        if name == "none":
            return Band.exact(0.0)
        filler = FILLERS[name]
        ends = [
            max(0.0, ppm - SOLDER_PPM_K) * 3 * gpa / (3 * gpa + SOLDER_GPA)
            for ppm, gpa in zip(_ends(filler.expansion_ppm_k), _ends(filler.modulus_gpa), strict=True)
        ]
        return Band(*ends)


PLAIN = Surroundings()


def thickness_factor(board_mm: float) -> Band:
    """Life on a board of that thickness over life on the method's 1.575 mm, for parts without leads. [-]

    >>> print(f"{thickness_factor(0.4).value:.2f} {thickness_factor(1.575).value:.2f}")
    2.00 1.00
    """
    ratio = min(max(board_mm, LEAST_MM), MOST_MM) / REFERENCE_MM
    ends = sorted(ratio**-power for power in (THICKNESS_POWER.low, THICKNESS_POWER.value, THICKNESS_POWER.high))
    return Band(ends[0], ratio**-THICKNESS_POWER.value, ends[2])


def times(factors: list[Band]) -> Band:
    """Product of independent factors: their deviations add as squares of logarithms."""
    value = math.prod((f.value for f in factors), start=1.0)
    below = math.sqrt(sum(math.log(f.value / f.low) ** 2 for f in factors))
    above = math.sqrt(sum(math.log(f.high / f.value) ** 2 for f in factors))
    return Band(value * math.exp(-below), value, value * math.exp(above))


def _ends(band: Band) -> tuple[float, float, float]:
    return band.low, band.value, band.high
