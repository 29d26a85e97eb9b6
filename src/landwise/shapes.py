"""Plan shapes shared by terminals, lands, mask openings and apertures: sizes in mm, angles in degrees.

A `Shape` is centred on its own origin with its length along x; `Placed` puts it on the board. Areas and
perimeters are exact (circles are circles); `outline_points` gives polygons where a picture or a distance
needs one, and says how fine.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

Kind = Literal["rectangle", "rounded", "oblong", "circle", "polygon"]
KINDS: tuple[Kind, ...] = ("rectangle", "rounded", "oblong", "circle", "polygon")
SEGMENTS_PER_QUARTER = 16  # chord error below 0.25 % of the radius


class Geometry(Protocol):
    """What we use of shapely's points, lines, polygons and collections of them: the library brings no types.

    One protocol for all kinds, as the library's own classes share one base; a kind refuses what it has not, such as the
    `exterior` of a line. Lengths in mm, areas in mm².
    """

    @property
    def area(self) -> float: ...
    @property
    def length(self) -> float: ...
    @property
    def x(self) -> float: ...
    @property
    def y(self) -> float: ...
    @property
    def bounds(self) -> tuple[float, float, float, float]: ...
    @property
    def geom_type(self) -> str: ...
    @property
    def is_empty(self) -> bool: ...
    @property
    def is_valid(self) -> bool: ...
    @property
    def coords(self) -> Sequence[tuple[float, float]]: ...
    @property
    def geoms(self) -> Sequence[Geometry]: ...
    @property
    def exterior(self) -> Geometry: ...
    @property
    def interiors(self) -> Sequence[Geometry]: ...
    @property
    def boundary(self) -> Geometry: ...
    @property
    def centroid(self) -> Geometry: ...
    @property
    def convex_hull(self) -> Geometry: ...
    @property
    def envelope(self) -> Geometry: ...
    def buffer(self, distance: float, **how: object) -> Geometry: ...
    def simplify(self, tolerance: float) -> Geometry: ...
    def interpolate(self, distance: float, normalized: bool = ...) -> Geometry: ...
    def normalize(self) -> Geometry: ...
    def difference(self, other: Geometry) -> Geometry: ...
    def intersection(self, other: Geometry) -> Geometry: ...
    def symmetric_difference(self, other: Geometry) -> Geometry: ...
    def union(self, other: Geometry) -> Geometry: ...
    def distance(self, other: Geometry) -> float: ...
    def contains(self, other: Geometry) -> bool: ...
    def covers(self, other: Geometry) -> bool: ...
    def intersects(self, other: Geometry) -> bool: ...
    def within(self, other: Geometry) -> bool: ...


@dataclass(frozen=True)
class Shape:
    """A flat shape around its own origin: length along x, width along y. [mm]

    `rounded` takes `corner_mm`; `oblong` has half-round short ends; `circle` takes its diameter as length;
    `polygon` takes its corner points, counterclockwise.
    """

    kind: Kind
    length_mm: float
    width_mm: float
    corner_mm: float = 0.0
    points: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if not (self.length_mm > 0 and self.width_mm > 0):
            raise InputError(
                "a shape needs a positive size",
                found=f"{self.length_mm:g} × {self.width_mm:g} mm",
                expected="> 0",
            )
        if not 0 <= self.corner_mm <= min(self.length_mm, self.width_mm) / 2 + 1e-9:
            raise InputError(
                "the corner radius does not fit the shape",
                found=f"{self.corner_mm:g} mm on {self.length_mm:g} × {self.width_mm:g} mm",
                expected="0 to half the shorter side",
            )

    @property
    def area_mm2(self) -> float:
        """Exact area. [mm²]

        >>> round(circle(0.3).area_mm2, 5), rectangle(0.6, 0.2).area_mm2
        (0.07069, 0.12)
        """
        if self.kind == "circle":
            return math.pi * self.length_mm**2 / 4
        if self.kind == "polygon":
            x, y = np.asarray(self.points).T
            return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)
        return self.length_mm * self.width_mm - (4 - math.pi) * self._radius**2

    @property
    def perimeter_mm(self) -> float:
        """Exact perimeter. [mm]"""
        if self.kind == "circle":
            return math.pi * self.length_mm
        if self.kind == "polygon":
            corners = np.asarray(self.points)
            return float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).sum())
        return 2 * (self.length_mm + self.width_mm) - (8 - 2 * math.pi) * self._radius

    @property
    def _radius(self) -> float:
        if self.kind == "oblong":
            return min(self.length_mm, self.width_mm) / 2
        return self.corner_mm if self.kind == "rounded" else 0.0

    def grown(self, by_mm: float) -> Shape:
        """The shape with every edge moved outward by `by_mm` (inward if negative), corners kept in kind.

        Raises
        ------
        InputError
            If nothing would be left.
        """
        if self.kind == "polygon":
            import shapely

            moved = shapely.Polygon(self.points).buffer(by_mm, join_style="mitre")
            if moved.is_empty or moved.geom_type != "Polygon":
                raise InputError("nothing is left of the shape", found=f"moved by {by_mm:g} mm")
            corners = tuple((float(x), float(y)) for x, y in list(shapely.normalize(moved).exterior.coords)[:-1])
            return polygon(corners)
        corner = max(0.0, self.corner_mm + by_mm) if self.kind == "rounded" else self.corner_mm
        return replace(self, length_mm=self.length_mm + 2 * by_mm, width_mm=self.width_mm + 2 * by_mm, corner_mm=corner)

    def outline_points(self, segments: int = SEGMENTS_PER_QUARTER) -> NDArray[np.float64]:
        """Corner points of the outline, counterclockwise, `segments` chords per quarter arc. (n, 2) [mm]

        The lands of a row share a shape, so the array is kept, and can't be written to.
        """
        return _outline_points(self, segments)


@lru_cache(maxsize=4096)
def _outline_points(shape: Shape, segments: int) -> NDArray[np.float64]:
    points = _corners(shape, segments)
    points.setflags(write=False)
    return points


def _corners(shape: Shape, segments: int) -> NDArray[np.float64]:
    if shape.kind == "polygon":
        return np.array(shape.points, dtype=float)
    if shape.kind == "circle":
        turn = np.linspace(0, 2 * np.pi, 4 * segments, endpoint=False)
        return np.column_stack([np.cos(turn), np.sin(turn)]) * (shape.length_mm / 2)
    half, radius = np.array([shape.length_mm, shape.width_mm]) / 2, shape._radius
    signs = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    if radius == 0:
        return signs * half
    quarter = np.linspace(0, np.pi / 2, segments + 1)
    arcs = [
        sign * (half - radius)
        + radius * np.column_stack([np.cos(quarter + k * np.pi / 2), np.sin(quarter + k * np.pi / 2)])
        for k, sign in enumerate(signs)
    ]
    return np.vstack(arcs)


def rectangle(length_mm: float, width_mm: float) -> Shape:
    """A rectangle with sharp corners."""
    return Shape("rectangle", length_mm, width_mm)


def rounded(length_mm: float, width_mm: float, corner_mm: float) -> Shape:
    """A rectangle with round corners."""
    return Shape("rounded", length_mm, width_mm, corner_mm) if corner_mm > 0 else rectangle(length_mm, width_mm)


def oblong(length_mm: float, width_mm: float) -> Shape:
    """A rectangle with half-round ends on its short sides."""
    return Shape("oblong", length_mm, width_mm)


def circle(diameter_mm: float) -> Shape:
    """A disc."""
    return Shape("circle", diameter_mm, diameter_mm)


def polygon(points: Sequence[tuple[float, float]]) -> Shape:
    """A shape by its corners, put in counterclockwise order. Length and width are those of its box."""
    corners = np.asarray(points, dtype=float)
    if corners.ndim != 2 or corners.shape[0] < 3:
        raise InputError("a polygon needs at least three corners", found=f"{len(points)}")
    x, y = corners.T
    if np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) < 0:
        corners = corners[::-1]
    size = np.ptp(corners, axis=0)
    return Shape("polygon", float(size[0]), float(size[1]), points=tuple((float(a), float(b)) for a, b in corners))


@dataclass(frozen=True)
class Placed:
    """A shape put on the board: its origin and the direction of its length, counterclockwise from +x."""

    shape: Shape
    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0

    @cached_property
    def points(self) -> NDArray[np.float64]:
        """Outline on the board, read-only. (n, 2) [mm]"""
        found = self.at(self.shape.outline_points())
        found.setflags(write=False)
        return found

    def at(self, local: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points of the shape's own frame, on the board."""
        angle = math.radians(self.angle_deg)
        # Right angles are by far the most frequent: keep them exact.
        cos, sin = (round(math.cos(angle), 15), round(math.sin(angle), 15))
        turned: NDArray[np.float64] = local @ np.array([[cos, sin], [-sin, cos]])
        turned += np.array([self.x_mm, self.y_mm])
        return turned

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Bounding box: x min, y min, x max, y max. [mm]"""
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def with_shape(self, shape: Shape) -> Placed:
        """The same place with another shape."""
        return replace(self, shape=shape)

    def geometry(self) -> Geometry:
        """As a shapely polygon, for distances and overlaps."""
        return self._polygon

    @cached_property
    def _polygon(self) -> Geometry:
        import shapely

        made: Geometry = shapely.Polygon(self.points)
        return made

    def __getstate__(self) -> dict[str, object]:
        """What it is made of alone travels between processes."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


def geometries(placed: Sequence[Placed]) -> NDArray[np.object_]:
    """Every shape as a shapely polygon, made in one call; none of them empty. (n,)"""
    import shapely

    corners = [one.points for one in placed]
    owner = np.repeat(np.arange(len(corners)), [len(one) for one in corners])
    made: NDArray[np.object_] = shapely.polygons(shapely.linearrings(np.concatenate(corners), indices=owner))
    return made


def least_gap_mm(placed: Sequence[Placed]) -> float:
    """The smallest clear distance between any two of the shapes. [mm]

    Zero where two overlap or touch; infinite for fewer than two.

    >>> pair = [Placed(rectangle(0.6, 0.2), 0, 0), Placed(rectangle(0.6, 0.2), 0, 0.35)]
    >>> round(least_gap_mm(pair), 6)
    0.15
    """
    if len(placed) < 2:
        return math.inf
    import shapely

    shapes = geometries(placed)
    tree = shapely.STRtree(shapes)
    reach = 0.1
    widest = float(np.ptp(shapely.total_bounds(shapes).reshape(2, 2), axis=0).max()) * 1.5 + reach
    while True:
        first, second = tree.query(shapes, predicate="dwithin", distance=reach)
        apart = first < second
        if apart.any():
            return float(shapely.distance(shapes[first[apart]], shapes[second[apart]]).min())
        if reach > widest:
            return math.inf
        reach *= 4


def bounding_box(placed: Sequence[Placed]) -> tuple[float, float, float, float]:
    """Common bounding box of several shapes. [mm]"""
    boxes = np.array([one.box for one in placed])
    return (
        float(boxes[:, 0].min()),
        float(boxes[:, 1].min()),
        float(boxes[:, 2].max()),
        float(boxes[:, 3].max()),
    )


def as_array(shapes: Sequence[object]) -> NDArray[np.object_]:
    """Shapes as an array of objects, which NumPy leaves whole: (shapes,).

    >>> as_array(["a", ("b", "c")]).shape
    (2,)
    """
    found: NDArray[np.object_] = np.empty(len(shapes), dtype=object)
    found[:] = list(shapes)
    return found
