"""What a review works on and what it finds: columns of openings and lands, components, findings, changes."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from landwise.evidence.figures import Verdict
from landwise.shapes import Geometry
from landwise.untyped import Untyped

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Objects = NDArray[np.object_]
Side = Literal["top", "bottom"]
SIDES: tuple[Side, ...] = ("top", "bottom")
Basis = Literal["copper and mask", "copper", "mask", "paste"]  # what lands were taken from


class PadColumns(Protocol):
    """Columns of equal length, one row a pad, as the layer reader hands them over. Lengths in mm."""

    @property
    def polygon(self) -> Objects:
        """Outlines."""

    @property
    def area_mm2(self) -> Floats:
        """Exact areas. [mm²]"""

    @property
    def wall_mm(self) -> Floats:
        """Lengths of the outlines, holes included. [mm]"""

    @property
    def x_mm(self) -> Floats:
        """Centres. [mm]"""

    @property
    def y_mm(self) -> Floats:
        """Centres. [mm]"""

    @property
    def length_mm(self) -> Floats:
        """Longer sides of the enclosing rectangles. [mm]"""

    @property
    def width_mm(self) -> Floats:
        """Shorter sides. [mm]"""

    @property
    def angle_deg(self) -> Floats:
        """Directions of the longer sides. [deg]"""

    @property
    def kind(self) -> Objects:
        """How each was drawn: `flash` or otherwise."""

    @property
    def component(self) -> Objects:
        """References from the file's attributes, empty where it carries none."""

    @property
    def pin(self) -> Objects:
        """Terminals from the file's attributes, empty where it carries none."""


@dataclass(frozen=True)
class Openings:
    """The apertures of one paste layer, in file order. [mm]"""

    polygon: Objects
    area_mm2: Floats
    wall_mm: Floats
    x_mm: Floats
    y_mm: Floats
    length_mm: Floats
    width_mm: Floats
    angle_deg: Floats
    kind: Objects
    component: Objects
    pin: Objects

    def __len__(self) -> int:
        return len(self.polygon)

    @cached_property
    def tree(self) -> Untyped:
        """The outlines by place, for who looks for what lies near."""
        import shapely

        return shapely.STRtree(self.polygon)

    @classmethod
    def of(cls, pads: PadColumns) -> Openings:
        """The columns a review needs, from a layer's pads."""
        return cls(
            pads.polygon,
            pads.area_mm2,
            pads.wall_mm,
            pads.x_mm,
            pads.y_mm,
            pads.length_mm,
            pads.width_mm,
            pads.angle_deg,
            pads.kind,
            pads.component,
            pads.pin,
        )


@dataclass(frozen=True)
class Array:
    """Boards in columns and rows, at a pitch, `empty` of the places without a board. [mm]"""

    columns: int
    rows: int
    pitch_x_mm: float
    pitch_y_mm: float
    empty: int = 0

    @property
    def boards(self) -> int:
        """How many."""
        return self.columns * self.rows - self.empty

    def says(self, digits: int = 2) -> str:
        """How many boards lie how far apart, in words.

        >>> Array(3, 2, 20.0, 12.0, 1).says(), Array(1, 5, 0.0, 24.86).says()
        ('5 boards in 3 × 2 places at 20.00 × 12.00 mm', '1 × 5 boards at 24.86 mm')
        """
        grid = f"{self.columns} × {self.rows}"
        what = f"{self.boards} boards in {grid} places" if self.empty else f"{grid} boards"
        ways = ((self.columns, self.pitch_x_mm), (self.rows, self.pitch_y_mm))
        return f"{what} at {' × '.join(f'{pitch:.{digits}f}' for count, pitch in ways if count > 1) or '0'} mm"


@dataclass(frozen=True)
class Hole:
    """Drilled holes: centres and diameters. [mm]"""

    x_mm: Floats
    y_mm: Floats
    diameter_mm: Floats


@dataclass(frozen=True)
class Lands:
    """Solderable copper, one row a land. Lengths in mm.

    Parameters
    ----------
    polygon, area_mm2, x_mm, y_mm, length_mm, width_mm, angle_deg : arrays
    touch : array
        Share of the outline that runs on into further copper; NaN where it was not looked for. [-]
    hole_mm : array
        Largest hole that starts inside the land; 0 without one. [mm]
    holes : array
        How many.
    clearance_mm : array
        Mask opening beyond the land, as the mean over its outline; NaN where not known. [mm]
    component, pin : arrays
    basis : str
        What the lands were taken from: "copper and mask", "copper", "mask", "paste".
    """

    polygon: Objects
    area_mm2: Floats
    x_mm: Floats
    y_mm: Floats
    length_mm: Floats
    width_mm: Floats
    angle_deg: Floats
    touch: Floats
    hole_mm: Floats
    holes: Ints
    clearance_mm: Floats
    component: Objects
    pin: Objects
    basis: Basis

    def __len__(self) -> int:
        return len(self.polygon)


THROUGH_MM = 0.55  # a hole from this size on may carry a lead; smaller ones are vias
LEAD_SHARE = 0.4  # of a land's shorter side: a lead's hole fills it, a via in a large pad does not


def carries_lead(lands: Lands) -> Bools:
    """Which lands are those of drilled leads: one large hole that takes up much of the land."""
    found: Bools = (lands.hole_mm >= THROUGH_MM) & (lands.holes == 1) & (lands.hole_mm >= LEAD_SHARE * lands.width_mm)
    return found


Kind = Literal[
    "gull-wing dual",
    "gull-wing quad",
    "leadless dual",
    "leadless quad",
    "row",
    "grid",
    "chip",
    "chip array",
    "odd",
    "single",
]
COMPONENT_KINDS: tuple[Kind, ...] = (
    "gull-wing dual",
    "gull-wing quad",
    "leadless dual",
    "leadless quad",
    "row",
    "grid",
    "chip",
    "chip array",
    "odd",
    "single",
)


@dataclass(frozen=True)
class Component:
    """Lands that belong to one part.

    Parameters
    ----------
    name : str
        Its reference where the files tell, else a number with the side's letter.
    kind : str
        What its lands look like.
    lands : tuple of int
        Rows of `Lands`.
    centre : tuple of int
        Those of them that lie under the body's middle.
    pitch_mm : float or None
        Between neighbouring lands of a row or grid. [mm]
    x_mm, y_mm : float
    named_by : {"attributes", "placement", "geometry"}
    package : str
        What the placement file calls its package; empty if it doesn't say.
    """

    name: str
    kind: Kind
    lands: tuple[int, ...]
    centre: tuple[int, ...]
    pitch_mm: float | None
    x_mm: float
    y_mm: float
    named_by: Literal["attributes", "placement", "geometry"]
    package: str = ""


@dataclass(frozen=True)
class Finding:
    """One thing an engineer would point at.

    Parameters
    ----------
    key : str
        Which check, such as `release`.
    level : Verdict
        `fails` or `marginal`; `not known` for what should be looked at by a person.
    component, side : str
        Component names and side; empty where the whole board is meant.
    apertures : tuple of int
        Rows of the paste layer.
    x_mm, y_mm : float
        Where. [mm]
    says : str
        One sentence.
    value, limit : float or None
        What was measured and what it was held to, in `unit`.
    unit : str
    sources : tuple of str
        Keys of `evidence/sources`.
    """

    key: str
    level: Verdict
    component: str
    side: Side
    apertures: tuple[int, ...]
    x_mm: float
    y_mm: float
    says: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proposal:
    """One correction of alike parts: what, why, and what it does to them.

    Parameters
    ----------
    number : int
        From 0, within its side.
    rule : str
        Key of the rule that made it; see `mending.RULES`.
    package : str
        What kind of part, in words.
    parts : tuple of str
        Their names; empty where no part is touched.
    what, reason : str
    asked : str
        Why somebody should say yes first; empty where nobody would object.
    defects_before, defects_after : float or None
        Expected on these parts of one board, from the assembly room; None where the lands don't tell the family.
    rejects_before, rejects_after : float
        Prints of these parts that a paste inspection would reject, on one board.
    """

    number: int
    side: Side
    rule: str
    package: str
    parts: tuple[str, ...]
    what: str
    reason: str
    asked: str
    defects_before: float | None
    defects_after: float | None
    rejects_before: float
    rejects_after: float


Decided = Literal["", "accepted", "refused"]


@dataclass(frozen=True)
class Change:
    """One reshaped, added or removed aperture.

    `before` and `after` are the outlines (several for panes, none for an addition or a removal); `aperture` is -1
    for one that is new; `unit` holds together what only makes sense together (a pane that takes the place of others);
    `decided` is what a decisions file says of it.
    """

    aperture: int
    component: str
    side: Side
    what: str
    reason: str
    effect: str
    before: tuple[Geometry, ...]
    after: tuple[Geometry, ...]
    area_before_mm2: float
    area_after_mm2: float
    ratio_before: float | None
    ratio_after: float | None
    x_mm: float = 0.0
    y_mm: float = 0.0
    proposal: int = 0
    unit: int = 0
    decided: Decided = ""


@dataclass(frozen=True)
class SideInput:
    """The layers of one side of a board.

    `holes` are those that reach this side, where drill files say how deep they go; `seat` says how the paste film had
    to be moved, turned, mirrored or scaled to lie on copper and mask: `paste` is then as moved. `array` tells that the
    film repeats these openings: they are those of one board.
    `film` and `film_sha256` are the name of the paste file and its sum.
    """

    side: Side
    paste: Openings
    copper: PadColumns | None = None
    mask: PadColumns | None = None
    placements: tuple[tuple[str, float, float, float, str], ...] = ()  # reference, x, y, rotation, package
    holes: Hole | None = None
    seat: str = ""
    array: Array | None = None
    film: str = ""
    film_sha256: str = ""


@dataclass(frozen=True)
class BoardInput:
    """What a review is made of, already read. `outline` is the board's area where it is known."""

    name: str
    sides: tuple[SideInput, ...]
    holes: Hole | None = None
    outline: Geometry | None = None
    reading: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())
