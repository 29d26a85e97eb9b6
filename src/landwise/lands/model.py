"""A land pattern: the copper a package stands on, its mask openings, its holes and its courtyard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from landwise.evidence.figures import Step
from landwise.shapes import Placed

Level = Literal["most", "nominal", "least"]
LEVELS: tuple[Level, ...] = ("most", "nominal", "least")
Style = Literal["auto", "goals", "pad-for-pad", "published"]
STYLES: tuple[Style, ...] = ("auto", "goals", "pad-for-pad", "published")


@dataclass(frozen=True)
class Land:
    """One land. `place.angle_deg` is the outward direction of its terminal, so its length runs outward.

    Parameters
    ----------
    terminal : str
        The terminal's number.
    place : Placed
        The solderable copper. For a mask-defined land this is the mask's opening.
    copper : Placed
        The copper, which reaches under the mask for a mask-defined land.
    opening : Placed
        The mask's opening. Where neighbours of a row share one, theirs meet halfway between the lands.
    mask_defined : bool
        Whether the mask's edge, not the copper's, limits the solder.
    hole_mm : float or None
        Finished hole of a drilled terminal. [mm]
    """

    terminal: str
    place: Placed
    copper: Placed
    opening: Placed
    mask_defined: bool = False
    hole_mm: float | None = None


@dataclass(frozen=True)
class Bind:
    """A minimum that decided a size: what it is, what it changed, in words with numbers."""

    rule: str
    says: str


@dataclass(frozen=True)
class LandPattern:
    """All lands of one outline, and the courtyard around them.

    Parameters
    ----------
    outline : str
        Name of the outline.
    style, level : str
        How the lands were found: the style in effect (never `auto`), and the density level for goals.
    lands : tuple of Land
        In the outline's terminal order, the exposed pad last.
    courtyard_mm : (float, float)
        Width along x and height along y, centred on the body. [mm]
    least_copper_gap_mm, least_web_mm : float
        Smallest clear distance between lands, and between mask openings (zero where they merge). [mm]
    binds : tuple of Bind
        Minimum gaps and trims that decided a size.
    trail : tuple of Step
    """

    outline: str
    style: str
    level: str
    lands: tuple[Land, ...]
    courtyard_mm: tuple[float, float]
    least_copper_gap_mm: float
    least_web_mm: float
    binds: tuple[Bind, ...] = ()
    trail: tuple[Step, ...] = ()

    @property
    def courtyard_area_mm2(self) -> float:
        """Board area the part claims. [mm²]"""
        return self.courtyard_mm[0] * self.courtyard_mm[1]

    @property
    def drilled(self) -> bool:
        """Whether any land has a hole."""
        return any(land.hole_mm is not None for land in self.lands)
