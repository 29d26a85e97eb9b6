"""The meshed free surface of a flat-land joint, with exact first and second derivatives of its energy terms.

Rings of points run from the land's edge up to the terminal's. Each inner point moves along one fixed direction
and the terminal's height moves all rings, so every point is linear in the unknowns; four triangles meet in the
mean of each cell's corners, so that the mesh leans to no side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]
GRADING = 2.0
_PAIRS = ((1, 2), (2, 0), (0, 1))  # of a triangle's corners: the two others of each


@dataclass(frozen=True)
class Terms:
    """Area, volume and first moment ∫z dV, each with its gradient on the unknowns. [mm², mm³, mm⁴]"""

    area: float
    d_area: Array
    volume: float
    d_volume: Array
    moment: float
    d_moment: Array


class Mesh:
    """Free surface between two rectangles; unknowns are the inner points' moves, ring by ring, and the height.

    Parameters
    ----------
    land, terminal : (float, float)
        Length and width. [mm]
    offset : float
        Of the terminal's middle along the length. [mm]
    around, rings : int
        Points around (a multiple of 4) and rings of cells.
    volume : float
        Solder, for the starting height. [mm³]
    elliptic : bool
        Ellipses in the place of rectangles.
    """

    def __init__(
        self,
        land: tuple[float, float],
        terminal: tuple[float, float],
        offset: float,
        around: int,
        rings: int,
        volume: float,
        elliptic: bool = False,
    ) -> None:
        edge = _ellipse_points if elliptic else _rectangle_points
        self.power = 1 if elliptic else 3
        lower = edge(*land, around)
        upper = edge(*terminal, around) + np.array([offset, 0.0])
        # Denser towards the terminal, about whose corners the surface of a toe turns sharply.
        self.level = 1 - (1 - np.linspace(0.0, 1.0, rings + 1)) ** GRADING
        self.around, self.rings = around, rings
        self.xy = lower[None] * (1 - self.level[:, None, None]) + upper[None] * self.level[:, None, None]
        self.top_area = _polygon_area(upper)
        self.top_edge = float(np.linalg.norm(np.roll(upper, -1, axis=0) - upper, axis=1).sum())
        land_area = _polygon_area(lower)
        self.start_height = 3 * volume / (land_area + self.top_area + math.sqrt(land_area * self.top_area))
        self.normal = self._normals(self.start_height, land)
        i, j = (index.ravel() for index in np.meshgrid(np.arange(rings), np.arange(around), indexing="ij"))
        right = (j + 1) % around
        # Each cell's four corners, counterclockwise seen from outside.
        self.cells = np.stack(
            [i * around + j, i * around + right, (i + 1) * around + right, (i + 1) * around + j], axis=1
        )
        self._prepare()

    @property
    def unknowns(self) -> int:
        """How many."""
        return (self.rings - 1) * self.around + 1

    def start(self) -> Array:
        """The ruled surface at a height that holds about the volume."""
        return np.append(np.zeros(self.unknowns - 1), self.start_height)

    def _normals(self, height: float, land: tuple[float, float]) -> Array:
        """Directions square to the ruled surface, turning smoothly round the land's corners so that none cross."""
        half = np.array(land) / 2
        outward = (self.xy[0] / half) ** self.power / half
        outward /= np.linalg.norm(outward, axis=1, keepdims=True)
        inward = ((self.xy[0] - self.xy[-1]) * outward).sum(axis=1)
        length_up = np.hypot(inward, height)
        return np.concatenate([outward * (height / length_up)[:, None], (inward / length_up)[:, None]], axis=1)

    def _prepare(self) -> None:
        """How the nine coordinates of each triangle follow from its cell's five unknowns, and where those stand."""
        corners, count = (self.rings + 1) * self.around, len(self.cells)
        normal = np.broadcast_to(self.normal, (self.rings + 1, *self.normal.shape)).reshape(corners, 3)
        level = np.repeat(self.level, self.around)
        corner_map = np.zeros((count, 4, 3, 5))
        for k in range(4):
            corner_map[:, k, :, k] = normal[self.cells[:, k]]
            corner_map[:, k, 2, 4] = level[self.cells[:, k]]
        middle = corner_map.mean(axis=1)
        self.linear = np.stack(
            [np.concatenate([corner_map[:, k], corner_map[:, (k + 1) % 4], middle], axis=1) for k in range(4)], axis=1
        ).reshape(4 * count, 9, 5)
        # Unknown of each corner; the edges' points don't move and share a slot that is dropped at the end.
        ring = self.cells // self.around
        inner = (ring > 0) & (ring < self.rings)
        slot = np.where(inner, self.cells - self.around, self.unknowns)
        self.slots: Index = np.concatenate([slot, np.full((count, 1), self.unknowns - 1)], axis=1)

    def points(self, unknown: Array) -> Array:
        """All points, (rings + 1) · around by 3."""
        moves = np.zeros((self.rings + 1, self.around))
        moves[1:-1] = unknown[:-1].reshape(self.rings - 1, self.around)
        z = np.broadcast_to(self.level[:, None] * unknown[-1], moves.shape)
        base = np.concatenate([self.xy, z[..., None]], axis=2)
        return np.asarray((base + moves[..., None] * self.normal).reshape(-1, 3))

    def _triangles(self, unknown: Array) -> Array:
        """Corners of all triangles: (cells · 4, 3, 3)."""
        corners = self.points(unknown)[self.cells]
        middle = corners.mean(axis=1)
        stacked = np.stack(
            [np.stack([corners[:, k], corners[:, (k + 1) % 4], middle], axis=1) for k in range(4)], axis=1
        )
        return np.asarray(stacked.reshape(-1, 3, 3))

    def terms(self, unknown: Array) -> Terms:
        """Area, volume and moment with their gradients."""
        p = self._triangles(unknown)
        n = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
        double = np.linalg.norm(n, axis=1)
        unit, nz, z = n / double[:, None], n[:, 2], p[:, :, 2]
        square = _square(z)
        h = unknown[-1]
        d_area, d_nz = np.empty_like(p), np.zeros_like(p)
        for k, (one, two) in enumerate(_PAIRS):
            side = p[:, one] - p[:, two]
            d_area[:, k] = np.cross(side, unit) / 2
            d_nz[:, k, 0], d_nz[:, k, 1] = side[:, 1], -side[:, 0]
        d_volume = z.sum(axis=1)[:, None, None] * d_nz / 6
        d_volume[:, :, 2] += nz[:, None] / 6
        d_moment = square[:, None, None] * d_nz / 4
        d_moment[:, :, 2] += nz[:, None] / 4 * _d_square(z)
        # Flux through the sides; the terminal's face closes the volume.
        gradients = [self._gather(g.reshape(-1, 9)) for g in (d_area, d_volume, d_moment)]
        gradients[1][-1] += self.top_area
        gradients[2][-1] += h * self.top_area
        volume = float((z.sum(axis=1) * nz).sum() / 6 + h * self.top_area)
        moment = float((square * nz).sum() / 4 + h**2 / 2 * self.top_area)
        return Terms(float(double.sum() / 2), gradients[0], volume, gradients[1], moment, gradients[2])

    def _gather(self, gradient: Array) -> Array:
        on_cells = np.matmul(gradient[:, None, :], self.linear)[:, 0].reshape(-1, 4, 5).sum(axis=1)
        total = np.bincount(self.slots.ravel(), weights=on_cells.ravel(), minlength=self.unknowns + 1)
        return np.asarray(total[:-1])

    def hessian(self, unknown: Array, gravity: float, pressure: float) -> tuple[Array, Index, Index]:
        """Second derivatives of area + gravity · moment − pressure · volume: values, rows and columns."""
        p = self._triangles(unknown)
        n = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
        double = np.linalg.norm(n, axis=1)
        unit, nz, z = n / double[:, None], n[:, 2], p[:, :, 2]
        turn = np.stack([_skew(p[:, two] - p[:, one]) for one, two in _PAIRS], axis=2).reshape(-1, 3, 9)
        across = turn - unit[:, :, None] * np.matmul(unit[:, None, :], turn)
        whole = np.matmul(turn.transpose(0, 2, 1), across / (2 * double[:, None, None]))
        up = np.zeros((1, 3))
        up[0, 2] = 1.0
        square, total_z = _square(z), z.sum(axis=1)
        whole += _exchange(unit) / 2
        whole += (gravity * square / 4 - pressure * total_z / 6)[:, None, None] * _exchange(up)
        d_nz = turn[:, 2]
        lift = np.zeros_like(d_nz)
        lift[:, 2::3] = gravity / 4 * _d_square(z) - pressure / 6
        whole += lift[:, :, None] * d_nz[:, None, :] + d_nz[:, :, None] * lift[:, None, :]
        whole[:, 2::3, 2::3] += (gravity * nz / 24)[:, None, None] * (np.ones((3, 3)) + np.eye(3))
        on_cells = np.matmul(self.linear.transpose(0, 2, 1), np.matmul(whole, self.linear))
        on_cells = on_cells.reshape(-1, 4, 5, 5).sum(axis=1)
        rows = np.broadcast_to(self.slots[:, :, None], on_cells.shape).ravel()
        columns = np.broadcast_to(self.slots[:, None, :], on_cells.shape).ravel()
        keep = (rows < self.unknowns) & (columns < self.unknowns)
        last = self.unknowns - 1
        values = np.append(on_cells.ravel()[keep], gravity * self.top_area)
        return values, np.append(rows[keep], last), np.append(columns[keep], last)

    def carried(self, unknown: Array, finer: Mesh) -> Array:
        """The same shape on a finer mesh: splines up the rings, and along each side from corner to corner."""
        from scipy.interpolate import CubicSpline

        own = np.zeros((self.rings + 1, self.around))
        own[1:-1] = unknown[:-1].reshape(self.rings - 1, self.around)
        up = np.linspace(0, self.rings, finer.rings + 1)
        between = CubicSpline(np.arange(self.rings + 1), own)(up)
        side, fine = self.around // 4, finer.around // 4
        # From corner to corner, the first corner being the right side's end.
        turned = np.roll(between, -(side - side // 2), axis=1)
        closed = np.concatenate([turned, turned[:, :1]], axis=1)
        place = np.arange(fine) * side / fine
        pieces = [
            CubicSpline(np.arange(side + 1), closed[:, k * side : (k + 1) * side + 1], axis=1)(place) for k in range(4)
        ]
        moves = np.roll(np.concatenate(pieces, axis=1), fine - fine // 2, axis=1)
        return np.append(moves[1:-1].ravel(), unknown[-1])

    def section(self, unknown: Array) -> Array:
        """Points of the ring column at the middle of the land's long edge: (outward, up)."""
        points = self.points(unknown).reshape(self.rings + 1, self.around, 3)
        column = int(np.argmin(np.abs(points[0, :, 0]) + np.where(points[0, :, 1] > 0, 0.0, 1e3)))
        return np.column_stack([points[:, column, 1], points[:, column, 2]])

    def ends(self, unknown: Array) -> tuple[Array, Array]:
        """Points of the columns at the middle of the two short edges, (along, up): heel at −x, toe at +x."""
        points = self.points(unknown).reshape(self.rings + 1, self.around, 3)
        found = []
        for sign in (-1.0, 1.0):
            far = np.where(points[0, :, 0] * sign > 0, 0.0, 1e3)
            column = int(np.argmin(np.abs(points[0, :, 1]) + far))
            found.append(np.column_stack([points[:, column, 0], points[:, column, 2]]))
        return found[0], found[1]


def _square(z: Array) -> Array:
    """Mean of z² over triangles."""
    a, b, c = z.T
    return np.asarray((a * a + b * b + c * c + a * b + b * c + c * a) / 6)


def _d_square(z: Array) -> Array:
    return np.asarray((z + z.sum(axis=1, keepdims=True)) / 6)


def _skew(v: Array) -> Array:
    """Matrices of v × ·, (n, 3, 3)."""
    made = np.zeros((len(v), 3, 3))
    made[:, 0, 1], made[:, 0, 2] = -v[:, 2], v[:, 1]
    made[:, 1, 0], made[:, 1, 2] = v[:, 2], -v[:, 0]
    made[:, 2, 0], made[:, 2, 1] = -v[:, 1], v[:, 0]
    return made


def _exchange(u: Array) -> Array:
    """u · ∂²n over pairs of corners, n being the cross product of two sides: (n, 9, 9)."""
    skew = _skew(u)
    made = np.zeros((len(u), 9, 9))
    for a, b in ((0, 1), (1, 2), (2, 0)):
        made[:, 3 * a : 3 * a + 3, 3 * b : 3 * b + 3] = -skew
        made[:, 3 * b : 3 * b + 3, 3 * a : 3 * a + 3] = skew
    return made


def _rectangle_points(length: float, width: float, around: int) -> Array:
    """Points along a rectangle, counterclockwise from the middle of the right side, corners always among them."""
    quarter = around // 4
    half = quarter // 2
    even = np.linspace(0.0, 1.0, quarter, endpoint=False)
    # Denser towards the corners, where the surface bends most.
    share = 0.5 * even + 0.5 * 0.5 * (1 - np.cos(math.pi * even))
    sides = []
    corners = np.array([[1, -1], [1, 1], [-1, 1], [-1, -1]]) * np.array([length, width]) / 2
    for k in range(4):
        start, end = corners[k], corners[(k + 1) % 4]
        sides.append(start + share[:, None] * (end - start))
    return np.roll(np.vstack(sides), -half, axis=0)


def _ellipse_points(length: float, width: float, around: int) -> Array:
    """Points along an ellipse, counterclockwise from the right, evenly turned."""
    turn = 2 * math.pi * np.arange(around) / around
    return np.column_stack([length / 2 * np.cos(turn), width / 2 * np.sin(turn)])


def _polygon_area(points: Array) -> float:
    x, y = points.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
