"""Paste in hole: how much paste fills a drilled joint, and the aperture that prints it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from landwise.errors import InputError

SOURCE = "paste-in-hole-sheet"
CLEAR_MM = 0.5  # between neighbouring overprints, 20 mil
ENOUGH_FILL = 0.75  # barrel fill of a class 2 or 3 joint
FILL_SOURCE = "barrel-fill"
# About which radius a fillet's section turns: the hole's in one published sheet, the lead's in other texts.
Turns = Literal["hole", "lead"]
TURNS: tuple[Turns, ...] = ("hole", "lead")


@dataclass(frozen=True)
class HolePaste:
    """Solder and paste of one drilled joint, and the aperture area under a foil."""

    solder_mm3: float
    paste_mm3: float
    aperture_area_mm2: float


def fillet_volume(radius_mm: float, centre_mm: float) -> float:
    """Solder of a ring-shaped fillet of quarter-circle section. [mm³]

    Parameters
    ----------
    radius_mm : float
        Fillet radius. [mm]
    centre_mm : float
        Radius about which the section turns. [mm]

    Raises
    ------
    InputError
        For a negative radius, or a centre that isn't positive.

    Notes
    -----
    Pappus: V = 2π · 0.215 r² · (0.2234 r + a).

    Examples
    --------
    >>> mil = 0.0254
    >>> print(f"{fillet_volume(14.5 * mil, 13.5 * mil) / mil**3:.0f}")
    4754
    """
    if radius_mm < 0 or centre_mm <= 0:
        raise InputError(
            "a fillet needs a positive centre and no negative radius",
            found=f"radius {radius_mm:g}, centre {centre_mm:g} mm",
            expected="radius ≥ 0, centre > 0",
        )
    return 2 * math.pi * 0.215 * radius_mm**2 * (0.2234 * radius_mm + centre_mm)


def round_lead(width_mm: float, thickness_mm: float) -> float:
    """Diameter of the round lead with the section of a rectangular one. [mm]

    >>> print(f"{round_lead(0.46, 0.25):.3f}")
    0.383
    """
    return math.sqrt(4 / math.pi * width_mm * thickness_mm)


@dataclass(frozen=True)
class DrilledJoint:
    """A lead in its plated hole.

    Parameters
    ----------
    hole_mm, lead_mm : float
        Diameters. A rectangular lead enters by `round_lead`. [mm]
    board_mm : float
        Board thickness. [mm]
    ring_mm : float
        Annular ring of the land, for fillets. [mm]
    fillets : int
        0, 1 or 2 sides with a fillet.
    turns_about : {"hole", "lead"}
        The convention for fillets: their section turns about the hole's radius, or about the lead's. The
        hole's gives more solder.

    Raises
    ------
    InputError
        For a lead that doesn't fit its hole, or sizes out of range.

    Examples
    --------
    >>> print(f"{DrilledJoint(0.9, 0.5, 1.6).solder_mm3:.3f}")
    0.704
    """

    hole_mm: float
    lead_mm: float
    board_mm: float
    ring_mm: float = 0.0
    fillets: int = 0
    turns_about: Turns = "hole"

    def __post_init__(self) -> None:
        if not 0 < self.lead_mm < self.hole_mm:
            raise InputError(
                "the lead must be thinner than the hole",
                found=f"{self.lead_mm:g} and {self.hole_mm:g} mm",
                expected="lead < hole",
            )
        if not (self.board_mm > 0 and self.ring_mm >= 0):
            raise InputError(
                "no such drilled joint",
                found=f"board {self.board_mm:g} mm, ring {self.ring_mm:g} mm",
                expected="positive board, ring ≥ 0",
            )
        if self.fillets not in (0, 1, 2) or self.turns_about not in TURNS:
            raise InputError(
                "no such fillets",
                found=f"{self.fillets} about the {self.turns_about}",
                expected="0, 1 or 2, about hole or lead",
            )

    @property
    def solder_mm3(self) -> float:
        """Solder that fills the hole around the lead, fillets with it. [mm³]"""
        barrel = math.pi / 4 * (self.hole_mm**2 - self.lead_mm**2) * self.board_mm
        centre = (self.hole_mm if self.turns_about == "hole" else self.lead_mm) / 2
        return barrel + self.fillets * fillet_volume((self.hole_mm - self.lead_mm) / 2 + self.ring_mm, centre)


def paste_in_hole(
    joint: DrilledJoint, foil_um: float, *, metal_fraction: float = 0.5, losses: float = 1.0
) -> HolePaste:
    """Paste for one drilled joint.

    Parameters
    ----------
    joint : DrilledJoint
    foil_um : float
        Foil. [µm]
    metal_fraction : float
        Metal by volume of the paste. [-]
    losses : float
        Factor for paste that the lead knocks out of the hole. [-]

    Raises
    ------
    InputError
        For a print out of range.

    Notes
    -----
    Solder = π/4 (hole² − lead²) · board + fillets; paste = solder / φ · losses; aperture = paste / foil.
    The fillet's radius is (hole − lead)/2 + ring in both conventions. Paste that the blade presses into the
    hole is not credited.

    Examples
    --------
    Hole 27, lead 18, board 62, foil 8 mil, a third lost: printed 52,589 mil³ and a square of 81 mil.

    >>> mil = 0.0254
    >>> need = paste_in_hole(DrilledJoint(27 * mil, 18 * mil, 62 * mil), 8 * 25.4, losses=4 / 3)
    >>> print(f"{need.paste_mm3 / mil**3:.0f} {need.aperture_area_mm2**0.5 / mil:.2f}")
    52590 81.08
    """
    if not (foil_um > 0 and 0 < metal_fraction <= 1 and losses >= 1):
        raise InputError(
            "no such print of a drilled joint",
            found=f"foil {foil_um:g} µm, metal {metal_fraction:g}, losses {losses:g}",
            expected="positive foil, metal up to 1, losses ≥ 1",
        )
    solder = joint.solder_mm3
    paste = solder / metal_fraction * losses
    return HolePaste(solder, paste, paste / (foil_um / 1000))
