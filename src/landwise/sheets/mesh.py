"""Solids as closed meshes of triangles, and how they are shaded: points in mm, faces counterclockwise from outside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from landwise.errors import InputError
from landwise.shapes import Geometry

Array = NDArray[np.float64]
Faces = NDArray[np.intp]
CREASE_DEG = 34.0  # faces that meet at more than this keep their edge; round shapes take finer steps
SAME_MM = 1e-6  # points closer than this are one point
AROUND = 36  # chords of a full turn: 0.4 % of the radius between chord and circle
CORNER_STEPS = 5  # chords of a rectangle's round corner
NO_AREA_MM2 = 1e-13


@dataclass(frozen=True, eq=False)
class Mesh:
    """A closed surface.

    Parameters
    ----------
    points : (n, 3) array
        x to the right, y up the board, z off it. [mm]
    faces : (m, 3) array of int
        Triangles, counterclockwise seen from outside.
    """

    points: Array
    faces: Faces

    @property
    def volume_mm3(self) -> float:
        """What the surface encloses, by the divergence theorem. [mm³]

        >>> round(box((0, 0, 0), (2, 3, 4)).volume_mm3, 9)
        24.0
        """
        a, b, c = np.moveaxis(self.points[self.faces], 1, 0)
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)

    @property
    def box_mm(self) -> tuple[Array, Array]:
        """Least and greatest coordinates."""
        return self.points.min(axis=0), self.points.max(axis=0)

    def moved(self, x_mm: float = 0.0, y_mm: float = 0.0, z_mm: float = 0.0) -> Mesh:
        """The same solid elsewhere."""
        return Mesh(self.points + np.array([x_mm, y_mm, z_mm]), self.faces)


@dataclass(frozen=True, eq=False)
class Shaded:
    """A mesh to be drawn: a point stands once for each direction in which the surface looks there."""

    points: Array
    normals: Array
    faces: Faces


def joined(meshes: Iterable[Mesh]) -> Mesh:
    """Several solids as one.

    >>> round(joined([box((0, 0, 0), (1, 1, 1)), box((2, 0, 0), (3, 1, 1))]).volume_mm3, 9)
    2.0
    """
    parts = list(meshes)
    if not parts:
        raise InputError("nothing to join", expected="at least one solid")
    starts = np.cumsum([0, *(len(one.points) for one in parts[:-1])])
    return Mesh(
        np.concatenate([one.points for one in parts]),
        np.concatenate([one.faces + start for one, start in zip(parts, starts, strict=True)]),
    )


def grid(rows: Array, *, closed: bool) -> Mesh:
    """The skin through rows of points, each as long as the others: not a closed solid by itself.

    Parameters
    ----------
    rows : (k, n, 3) array
        From below to above, each running counterclockwise seen from above. [mm]
    closed : bool
        Whether each row returns to its start.
    """
    k, n, _ = rows.shape
    i, j = (index.ravel() for index in np.meshgrid(np.arange(k - 1), np.arange(n if closed else n - 1), indexing="ij"))
    right = (j + 1) % n
    corners = np.stack([i * n + j, i * n + right, (i + 1) * n + right, (i + 1) * n + j], axis=1)
    faces = np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]]])
    return Mesh(rows.reshape(-1, 3), faces)


def fan(ring: Array, *, up: bool) -> Mesh:
    """A flat cap over a ring that its middle sees whole; the ring runs counterclockwise seen from above."""
    n = len(ring)
    rim = np.arange(n)
    faces = np.stack([np.full(n, n), rim, (rim + 1) % n], axis=1)
    return Mesh(np.vstack([ring, ring.mean(axis=0)]), faces if up else faces[:, ::-1])


def loft(rows: Array) -> Mesh:
    """A solid through rings of points, capped below and above. Shape of `rows` as in `grid`."""
    return joined([grid(rows, closed=True), fan(rows[0], up=False), fan(rows[-1], up=True)])


def rounded_loft(rows: Array, steps: int = CORNER_STEPS) -> Mesh:
    """A solid through rings of `rounded_ring`, its caps without slivers: they break up when drawn.

    >>> rings = [level(rounded_ring(1.0, 0.5, 0.1), z) for z in (0.0, 2.0)]
    >>> round(rounded_loft(np.stack(rings)).volume_mm3, 6) == round(loft(np.stack(rings)).volume_mm3, 6)
    True
    """
    n, each = rows.shape[1], steps + 1
    inner = n + np.arange(4)
    faces = [[inner[0], inner[1], inner[2]], [inner[0], inner[2], inner[3]]]
    for k in range(4):
        first = k * each
        faces += [[inner[k], first + j, first + j + 1] for j in range(steps)]
        last, after, other = first + steps, (first + each) % n, inner[(k + 1) % 4]
        faces += [[inner[k], last, after], [inner[k], after, other]]
    cap = np.array(faces)

    def closed(ring: Array) -> Array:
        """The ring with the middles of its corners' arcs."""
        middles = ring.reshape(4, each, 3)
        found = np.array(
            [
                (middles[k, -1, 0], middles[k, 0, 1]) if k % 2 == 0 else (middles[k, 0, 0], middles[k, -1, 1])
                for k in range(4)
            ]
        )
        return np.vstack([ring, level(found, float(ring[0, 2]))])

    return joined([grid(rows, closed=True), Mesh(closed(rows[0]), cap[:, ::-1]), Mesh(closed(rows[-1]), cap)])


def box(low: Sequence[float], high: Sequence[float]) -> Mesh:
    """A block between two corners. [mm]"""
    (x1, y1, z1), (x2, y2, z2) = low, high
    ring = np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], dtype=float)
    return loft(np.stack([level(ring, z1), level(ring, z2)]))


def level(ring: ArrayLike, z_mm: float) -> Array:
    """Points of the plane at one height. (n, 2) to (n, 3)"""
    flat = np.asarray(ring, dtype=float)
    return np.column_stack([flat, np.full(len(flat), z_mm)])


def revolved(contour: ArrayLike, around: int = AROUND) -> Mesh:
    """The solid of a contour turned about the z axis.

    Parameters
    ----------
    contour : (n, 2) array
        Radius and height, upward. [mm]

    Notes
    -----
    The chords stand on a circle of the same area as the one they replace, so that volumes are kept.

    Examples
    --------
    >>> cylinder = revolved([(0.5, 0.0), (0.5, 2.0)])
    >>> round(cylinder.volume_mm3 / (math.pi / 4 * 2.0), 6)
    1.0
    """
    radius, height = np.asarray(contour, dtype=float).T
    radius = radius * chord_radius(around)
    turn = 2 * math.pi * np.arange(around) / around
    rows = np.empty((len(radius), around, 3))
    rows[..., 0] = radius[:, None] * np.cos(turn)
    rows[..., 1] = radius[:, None] * np.sin(turn)
    rows[..., 2] = height[:, None]
    return loft(rows)


def chord_radius(around: int = AROUND) -> float:
    """Radius of the regular polygon that has the unit circle's area."""
    return math.sqrt(2 * math.pi / around / math.sin(2 * math.pi / around))


def extruded(profile: ArrayLike, width_mm: float) -> Mesh:
    """A strip's outline in the x-z plane, drawn out along y to both sides of it.

    Parameters
    ----------
    profile : (2n, 2) array
        A ribbon: there along one side and back along the other, point for point. [mm]
    width_mm : float

    Examples
    --------
    >>> strip = extruded([(0, 0), (1, 0), (2, 0), (2, 0.1), (1, 0.1), (0, 0.1)], 0.5)
    >>> round(strip.volume_mm3, 9)
    0.1
    """
    outline = np.asarray(profile, dtype=float)
    x, z = outline.T
    if np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1)) > 0:
        outline = outline[::-1]  # seen along +y the ribbon then runs counterclockwise
    n, half = len(outline), width_mm / 2
    near = np.column_stack([outline[:, 0], np.full(n, -half), outline[:, 1]])
    far = near + np.array([0.0, width_mm, 0.0])
    wall = grid(np.stack([near, far]), closed=True)
    k = np.arange(n // 2 - 1)
    side = np.concatenate([np.stack([k, k + 1, n - 2 - k], axis=1), np.stack([k, n - 2 - k, n - 1 - k], axis=1)])
    return joined([wall, Mesh(near, side[:, ::-1]), Mesh(far, side)])


def plate(area: Geometry, low_mm: float, high_mm: float) -> Mesh:
    """A flat plate of a polygon's shape, its holes left open.

    Parameters
    ----------
    area : polygon, or several that don't touch
        On the board. [mm]

    Examples
    --------
    >>> import shapely
    >>> ring = shapely.box(0, 0, 2, 2).difference(shapely.box(0.5, 0.5, 1.5, 1.5))
    >>> round(plate(ring, 0.0, 0.5).volume_mm3, 9)
    1.5
    """
    import shapely

    pieces = [area] if area.geom_type == "Polygon" else [one for one in area.geoms if one.geom_type == "Polygon"]
    meshes = []
    for piece in pieces:
        cut = shapely.constrained_delaunay_triangles(piece)
        corners = np.array([one.exterior.coords[:3] for one in cut.geoms])
        (x1, y1), (x2, y2) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
        turn = x1 * y2 - x2 * y1
        corners[turn < 0] = corners[turn < 0][:, ::-1]
        flat, faces = corners.reshape(-1, 2), np.arange(3 * len(corners)).reshape(-1, 3)
        meshes += [Mesh(level(flat, high_mm), faces), Mesh(level(flat, low_mm), faces[:, ::-1])]
        for rim, outside in [(piece.exterior, True), *((hole, False) for hole in piece.interiors)]:
            ring = np.array(rim.coords)[:-1]
            x, y = ring.T
            runs = np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) > 0
            ring = ring if runs == outside else ring[::-1]
            meshes.append(grid(np.stack([level(ring, low_mm), level(ring, high_mm)]), closed=True))
    return joined(meshes)


def rounded_ring(half_x: float, half_y: float, corner_mm: float, steps: int = CORNER_STEPS) -> Array:
    """A rectangle about the origin with round corners, counterclockwise. (4·(steps + 1), 2) [mm]"""
    radius = min(corner_mm, half_x, half_y)
    quarter = np.linspace(0.0, math.pi / 2, steps + 1)
    corners = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        turn = quarter + k * math.pi / 2
        middle = np.array([sx * (half_x - radius), sy * (half_y - radius)])
        corners.append(middle + radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    return np.vstack(corners)


def shaded(mesh: Mesh, crease_deg: float = CREASE_DEG) -> Shaded:
    """The mesh with the directions it is lit by: smooth where it bends gently, edges kept where it turns sharply.

    Examples
    --------
    A block has six faces, each with its own direction at its own four corners:

    >>> len(shaded(box((0, 0, 0), (1, 1, 1))).points) - 2 * 1  # the middles of two caps
    24
    """
    corners = mesh.points[mesh.faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    double = np.linalg.norm(across, axis=1)
    stays = double > NO_AREA_MM2
    faces, across, unit = mesh.faces[stays], across[stays], across[stays] / double[stays, None]
    _, place = np.unique(np.round(mesh.points / SAME_MM).astype(np.int64), axis=0, return_inverse=True)
    at = place.ravel()[faces].ravel()  # which place each corner of each face stands at
    order = np.argsort(at, kind="stable")
    starts, counts = np.unique(at[order], return_index=True, return_counts=True)[1:]
    group = np.repeat(np.arange(len(starts)), counts)
    reps = counts[group]
    one = np.repeat(np.arange(len(at)), reps)
    other = starts[group][one] + np.arange(reps.sum()) - np.repeat(np.cumsum(reps) - reps, reps)
    one, other = order[one], order[other]
    bends = np.einsum("ij,ij->i", unit[one // 3], unit[other // 3]) > math.cos(math.radians(crease_deg))
    total = np.stack(
        [np.bincount(one[bends], weights=across[other[bends] // 3, k], minlength=len(at)) for k in range(3)], axis=1
    )
    normals = np.round(total / np.linalg.norm(total, axis=1, keepdims=True), 2)
    rows = np.column_stack([at, np.round(normals * 100)]).astype(np.int64)
    _, first, index = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    return Shaded(mesh.points[faces.ravel()[first]], normals[first], index.ravel().reshape(-1, 3))
