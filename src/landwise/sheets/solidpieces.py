"""What a solid picture is made of: pieces of one kind at their places, and the part they are worked from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from landwise.joints.mounted import Mounted
from landwise.joints.standing import BallStand
from landwise.lands.model import Land, LandPattern
from landwise.outlines.model import Outline, Terminal
from landwise.outlines.patterns import terminals
from landwise.printing.model import Deposit, Print
from landwise.sheets.mesh import Mesh
from landwise.sheets.profile import PLATE_SHARE
from landwise.sheets.soldersolid import FINEST_MM

Kind = Literal["board", "mask", "land", "foil", "paste", "solder", "ball", "terminal", "body", "mark"]
State = Literal["always", "printed", "reflowed"]
Place = tuple[float, float, float]  # x and y [mm], turn [deg]
HERE: tuple[Place, ...] = ((0.0, 0.0, 0.0),)
EDGE_SHARE = 0.10  # of board shown around the courtyard, over its longer side
FRONT_MM, FRONT_SHARE = 0.25, 0.10  # and of what the rule stands on before it


@dataclass(frozen=True, eq=False)
class Piece:
    """One solid at its places.

    Parameters
    ----------
    kind : str
        What it is; it decides its look.
    mesh : Mesh
    places : tuple of (x, y, turn)
        Where it stands: moved by x and y [mm] after it was turned about z [deg].
    state : {"always", "printed", "reflowed"}
        When it is there.
    lifts : bool
        Whether it hangs with the part before reflow.
    computed : bool
        False for solder whose shape is a schematic.
    """

    kind: Kind
    mesh: Mesh
    places: tuple[Place, ...] = HERE
    state: State = "always"
    lifts: bool = False
    computed: bool = True


@dataclass(frozen=True, eq=False)
class Stood:
    """A part as it stands after reflow: what its solids are worked from.

    Parameters
    ----------
    outline, pattern, printed
    stand : BallStand or None
        Of a grid.
    mounted : Mounted
        Joints of the other families.
    board_mm : float
        Thickness of the board. [mm]
    """

    outline: Outline
    pattern: LandPattern
    printed: Print
    stand: BallStand | None
    mounted: Mounted
    board_mm: float

    @cached_property
    def terminals(self) -> tuple[Terminal, ...]:
        """At nominal size."""
        return terminals(self.outline)

    @cached_property
    def lands(self) -> dict[str, Land]:
        """By terminal."""
        return {land.terminal: land for land in self.pattern.lands}

    @cached_property
    def deposits(self) -> dict[str, Deposit]:
        """By terminal."""
        return {one.terminal: one for one in self.printed.deposits}

    @property
    def thickness_mm(self) -> float:
        """Of the terminals, where the outline gives none in the usual proportion to the body."""
        stated = self.outline.terminal_thickness_mm
        return (
            stated.nom
            if stated
            else min(0.2, PLATE_SHARE * (self.outline.height_mm.nom - self.outline.standoff_mm.nom))
        )

    @property
    def lift_mm(self) -> float:
        """Height of the terminals' undersides over the lands; of a grid that of its drawing's seating plane."""
        if self.stand is not None:
            return self.stand.height_mm - self.outline.standoff_mm.nom
        if self.mounted.lead is not None:
            return self.mounted.lead.foot.gap_mm
        if self.mounted.leadless is not None:
            return max(FINEST_MM, round(self.mounted.leadless.height_mm / FINEST_MM) * FINEST_MM)
        return 0.0

    @property
    def edge_mm(self) -> float:
        """Board shown around the courtyard."""
        return EDGE_SHARE * max(self.pattern.courtyard_mm)

    @property
    def front_mm(self) -> float:
        """Board shown before it, for the rule."""
        return FRONT_MM + FRONT_SHARE * max(self.pattern.courtyard_mm)


def place_of(terminal: Terminal) -> Place:
    """Where a solid that runs outward along x stands. A centre pad's length runs up the board."""
    return terminal.x_mm, terminal.y_mm, terminal.outward_deg


def outward_of(terminal: Terminal, land: Land) -> float:
    """How far the land's middle lies outward of the terminal's. [mm]"""
    angle = math.radians(terminal.outward_deg)
    x, y = land.place.x_mm - terminal.x_mm, land.place.y_mm - terminal.y_mm
    return x * math.cos(angle) + y * math.sin(angle)
