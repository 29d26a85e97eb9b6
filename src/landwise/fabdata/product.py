"""What a file of a whole board tells, whatever its format: layers as plain shapes, holes, placements, the edge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from landwise.shapes import Geometry


@dataclass
class Shapes:
    """Shapes of one layer with the part and terminal of each, where the file tells. [mm]"""

    polygons: list[Geometry] = field(default_factory=list)
    pads: list[bool] = field(default_factory=list)  # pads, not contours or strokes
    components: list[str] = field(default_factory=list)
    pins: list[str] = field(default_factory=list)
    strokes: list[tuple[list[tuple[float, float]], float]] = field(default_factory=list)  # points and width

    def put(self, shape: Geometry, *, pad: bool = False, component: str = "", pin: str = "") -> None:
        """One more shape."""
        self.polygons.append(shape)
        self.pads.append(pad)
        self.components.append(component)
        self.pins.append(pin)


@dataclass(frozen=True)
class Drilled:
    """Round holes of one drill layer and the copper layers they join, the first and last by number. [mm]"""

    x_mm: tuple[float, ...]
    y_mm: tuple[float, ...]
    diameter_mm: tuple[float, ...]
    span: tuple[int, int]


@dataclass(frozen=True)
class Placed:
    """One component. [mm, deg]"""

    reference: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    side: str
    package: str


@dataclass(frozen=True)
class Product:
    """What a file tells of its board.

    Parameters
    ----------
    layers : mapping of role to Shapes
        Roles such as `paste-top`, `mask-bottom`, `copper-top`.
    drills : tuple of Drilled
    placed : tuple of Placed
    outline : polygon or None
    notes : tuple of str
        What was left out.
    form : str
        What kind of file it was, in words.
    """

    layers: Mapping[str, Shapes]
    drills: tuple[Drilled, ...]
    placed: tuple[Placed, ...]
    outline: Geometry | None
    notes: tuple[str, ...]
    form: str
