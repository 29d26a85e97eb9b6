"""What a read Gerber layer is: its openings as columns, its attributes, and what was odd about the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.shapes import Geometry

Floats = NDArray[np.float64]
Objects = NDArray[np.object_]
Ints = NDArray[np.int64]
QUAD_SEGMENTS = 32  # of a circle's polygon: its area is 0.04 % short, so known shapes carry closed areas


@dataclass(frozen=True)
class Limits:
    """What a file may ask for before it is refused. The largest real layers seen stay ten times below."""

    bytes: int = 120_000_000
    statements: int = 6_000_000
    apertures: int = 50_000  # definitions: the specification sets no limit, real films define some hundreds
    block_copies: int = 1_000_000  # objects that blocks make, those of blocks within blocks too
    objects: int = 2_000_000
    vertices: int = 20_000_000
    depth: int = 10
    coordinate_mm: float = 10_000.0
    crossings: int = 20_000  # of one contour with itself: the specification allows none, careless programs make some
    clearings: int = 20_000_000  # shapes looked through, summed over the changes from dark to clear
    overlaps: int = 400_000  # pairs of shapes whose boxes overlap and that must be joined or cut


@dataclass(frozen=True)
class UnitShape:
    """A dark shape about its own origin. [mm, mm², deg]"""

    polygon: Geometry
    area_mm2: float
    wall_mm: float
    kind: str
    length_mm: float
    width_mm: float
    angle_deg: float
    corner_mm: float = 0.0


@dataclass(slots=True)
class Drawn:
    """One object of the image: shapes placed at a point, dark or clear.

    `statements` are those that made it; `copied` tells that a repeat or a block made it, so that no single
    statement can be taken away.
    """

    shapes: tuple[UnitShape, ...]
    x_mm: float
    y_mm: float
    dark: bool
    code: int
    line: int
    statements: tuple[int, ...]
    component: str = ""
    pin: str = ""
    flash: bool = True
    copied: bool = False


@dataclass(frozen=True)
class Pen:
    """What of the state a statement put in later has to leave as it was: a place and how the next object is drawn."""

    x_mm: float
    y_mm: float
    dark: bool
    mode: int
    code: int
    mirror: str
    turn_deg: float
    scale: float


@dataclass(frozen=True)
class Repeat:
    """One step and repeat: its image's objects stand in the statements from `first` to `last`, both commands of it.

    `last` is the statement that ends it, the file's end included; `pen` is the state there. Copies stand at every
    column and row, `pitch_x_mm` and `pitch_y_mm` apart.
    """

    columns: int
    rows: int
    pitch_x_mm: float
    pitch_y_mm: float
    first: int
    last: int
    objects: int
    pen: Pen


@dataclass(frozen=True)
class Pads:
    """Dark openings after merging what touches and cutting what is clear, one row each, in file order. [mm]

    `x_mm`, `y_mm` are the flash point, or the middle of the enclosing rectangle of drawn shapes; `statements`
    are those of the file that made the row, None where a block or a repeat did;
    `stroked` tells that only strokes made it.
    """

    polygon: Objects
    area_mm2: Floats
    wall_mm: Floats
    x_mm: Floats
    y_mm: Floats
    length_mm: Floats
    width_mm: Floats
    angle_deg: Floats
    corner_mm: Floats
    kind: Objects
    component: Objects
    pin: Objects
    line: Ints
    code: Ints
    statements: Objects
    stroked: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.polygon)


@dataclass(frozen=True)
class Layer:
    """A layer as read.

    Parameters
    ----------
    file : str
    unit : {"mm", "inch"}
        Of the file; everything here is in mm.
    attributes : mapping
        File attributes, such as `.FileFunction` to its fields.
    pads : Pads
    notes : tuple of str
        What was odd.
    objects : int
        Flashes, strokes and regions before merging.
    data : bytes
        The file, so that it can be written again with little changed.
    modal : mapping
        Statement number to operation, for statements that leave their operation code out.
    repeats : tuple of Repeat
        Steps and repeats of more than one copy, in file order.
    copied : bool
        Whether the pads hold all copies of them, or their images alone.
    """

    file: str
    unit: Literal["mm", "inch"]
    attributes: Mapping[str, tuple[str, ...]]
    pads: Pads
    notes: tuple[str, ...]
    objects: int = 0
    flashes: int = 0
    data: bytes = b""
    modal: Mapping[int, int] = field(default_factory=dict)
    regions: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    decimals: int = 6
    repeats: tuple[Repeat, ...] = ()
    copied: bool = True
