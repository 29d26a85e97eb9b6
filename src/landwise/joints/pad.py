"""Flat-land joint: molten solder between a rectangular land and a rectangular terminal.

The free surface runs from the land's edge to the terminal's edge, both pinned. It is meshed as rings of
points around the joint; each point moves along a fixed direction, square to the straight (ruled) surface
between the edges and turning smoothly round the corners, and the terminal's height moves all rings. The energy

    E = γ·A + ρ g ∫ z dV + load · h

is made least at fixed volume by Newton's method with exact gradients. Two meshes and Richardson
extrapolation give the height; their difference says how far to trust it. Against twice as fine a mesh the height
moves by less than 0.05 µm (land 0.6 × 0.25, terminals with and without a toe).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.quantities import GRAVITY_M_S2

Array = NDArray[np.float64]
MESHES = ((36, 6), (60, 10))  # points around (a multiple of 12), rings
NEWTON_STEPS, STAGES = 60, 25
TOLERANCE = 1e-7
GRADING = 2.0
STILL = 1e-6  # of the height: below it the energy no longer tells two shapes apart


@dataclass(frozen=True)
class PadJoint:
    """Equilibrium of one flat-land joint.

    Parameters
    ----------
    height_mm : float
        Extrapolated. [mm]
    height_error_mm : float
        Difference between the finer mesh and the extrapolation. [mm]
    bulge_mm : float
        How far the solder stands out past the land's long edge, at the middle of that edge. [mm]
    pressure_mpa : float
        Gauge pressure in the solder. [MPa]
    spills : bool
        Whether the pressure exceeds 2γ/h: the contact angle at the land then passes 90° and solder runs
        onto the mask.
    profile_mm : array
        Section through the middle of the long edge: (points, 2), outward from the middle and up. [mm]
    """

    height_mm: float
    height_error_mm: float
    bulge_mm: float
    pressure_mpa: float
    spills: bool
    profile_mm: Array


def pad_joint(
    land_length_mm: float, land_width_mm: float, terminal_length_mm: float, terminal_width_mm: float, solder_mm3: float, *,
    load_n: float = 0.0, offset_mm: float = 0.0, tension_n_m: float = 0.50, density_g_cm3: float = 7.38,
) -> PadJoint:  # fmt: skip
    """Equilibrium height and bulge of solder between a land and a terminal.

    Parameters
    ----------
    land_length_mm, land_width_mm : float
        The land. [mm]
    terminal_length_mm, terminal_width_mm : float
        The terminal, nowhere larger than the land. [mm]
    solder_mm3 : float
        Solder volume. [mm³]
    load_n : float
        Share of the part's weight. [N]
    offset_mm : float
        How far the terminal's middle lies from the land's, along the length: half of the toe for a terminal
        flush with the land's heel. [mm]
    tension_n_m, density_g_cm3 : float
        Of the molten solder.

    Raises
    ------
    InputError
        For sizes that aren't positive, or a terminal that reaches past the land.
    ValidityError
        If no equilibrium with pinned edges is found.

    Notes
    -----
    Exact up to the mesh: see the module. A long joint of equal widths without load approaches the height at
    which two circular arcs close the sides.

    Examples
    --------
    >>> joint = pad_joint(0.60, 0.25, 0.40, 0.25, 0.008)
    >>> joint.height_error_mm < 1e-3
    True
    """
    sizes = (land_length_mm, land_width_mm, terminal_length_mm, terminal_width_mm, solder_mm3)
    if not all(math.isfinite(size) and size > 0 for size in sizes):
        raise InputError("land, terminal and solder must be positive", found=", ".join(f"{size:g}" for size in sizes))
    if terminal_width_mm > land_width_mm + 1e-9 or terminal_length_mm / 2 + abs(offset_mm) > land_length_mm / 2 + 1e-9:
        raise InputError(
            "the terminal reaches past the land",
            found=f"terminal {terminal_length_mm:g} × {terminal_width_mm:g} offset {offset_mm:g} on land {land_length_mm:g} × {land_width_mm:g} mm",
            expected="a terminal within the land",
        )
    if tension_n_m <= 0 or density_g_cm3 < 0:
        raise InputError("surface tension must be positive and density not negative")
    solved = []
    for around, rings in MESHES:
        mesh = _Mesh(
            land_length_mm, land_width_mm, terminal_length_mm, terminal_width_mm, offset_mm, around, rings, solder_mm3
        )
        gravity = density_g_cm3 * 1e-6 * GRAVITY_M_S2 / (tension_n_m * 1e-3)  # 1/mm²
        solved.append((mesh, *_minimise(mesh, solder_mm3, load_n / (tension_n_m * 1e-3), gravity)))
    (_, coarse, _), (mesh, fine, pressure) = solved
    order = (MESHES[1][1] / MESHES[0][1]) ** 2
    height = fine[-1] + (fine[-1] - coarse[-1]) / (order - 1)
    profile = mesh.section(fine)
    bulge = float(profile[:, 0].max() - land_width_mm / 2)
    gamma = tension_n_m * 1e-3
    return PadJoint(
        float(height),
        abs(float(height - fine[-1])),
        bulge,
        float(pressure * gamma),
        bool(pressure * height > 2.0 + 1e-6),
        profile,
    )


class _Mesh:
    """Rings of points between the two rectangles, with area, volume and gravity terms and their gradients."""

    def __init__(
        self, land_l: float, land_w: float, term_l: float, term_w: float, offset: float, around: int, rings: int, volume: float
    ) -> None:  # fmt: skip
        lower = _rectangle_points(land_l, land_w, around)
        upper = _rectangle_points(term_l, term_w, around) + np.array([offset, 0.0])
        # Denser towards the terminal, about whose corners the surface of a toe turns sharply.
        level = 1 - (1 - np.linspace(0.0, 1.0, rings + 1)) ** GRADING
        self.level = level
        self.around, self.rings = around, rings
        self.xy = lower[None] * (1 - level[:, None, None]) + upper[None] * level[:, None, None]
        mean_area = (land_l * land_w + term_l * term_w) / 2
        self.start_height = volume / mean_area
        self.normal = self._normals(self.start_height, land_l, land_w)
        i, j = (index.ravel() for index in np.meshgrid(np.arange(rings), np.arange(around), indexing="ij"))
        right = (j + 1) % around
        # Each cell's four corners, counterclockwise seen from outside; four triangles meet in their mean, so that
        # the mesh leans to no side.
        self.cells = np.stack(
            [i * around + j, i * around + right, (i + 1) * around + right, (i + 1) * around + j], axis=1
        )
        middle = (rings + 1) * around + np.arange(rings * around)
        edges = [np.stack([self.cells[:, k], self.cells[:, (k + 1) % 4], middle], axis=1) for k in range(4)]
        self.triangles = np.concatenate(edges)
        self.top_area = term_l * term_w
        self.top_edge = 2 * (term_l + term_w)

    def _normals(self, height: float, length: float, width: float) -> Array:
        """Directions square to the ruled surface, turning smoothly round the land's corners so that none cross."""
        half = np.array([length, width]) / 2
        outward = (self.xy[0] / half) ** 3 / half
        outward /= np.linalg.norm(outward, axis=1, keepdims=True)
        inward = ((self.xy[0] - self.xy[-1]) * outward).sum(axis=1)
        length_up = np.hypot(inward, height)
        normal = np.concatenate([outward * (height / length_up)[:, None], (inward / length_up)[:, None]], axis=1)
        return np.asarray(np.broadcast_to(normal, (self.rings + 1, *normal.shape)))

    def points(self, unknown: Array) -> Array:
        """All points, (rings + 1) · around by 3, from the inner rings' moves and the height."""
        moves = np.zeros((self.rings + 1, self.around))
        moves[1:-1] = unknown[:-1].reshape(self.rings - 1, self.around)
        z = np.broadcast_to(self.level[:, None] * unknown[-1], moves.shape)
        base = np.concatenate([self.xy, z[..., None]], axis=2)
        return np.asarray((base + moves[..., None] * self.normal).reshape(-1, 3))

    def pull_back(self, gradient: Array) -> Array:
        """From a gradient on points to one on the unknowns."""
        on_points = gradient.reshape(self.rings + 1, self.around, 3)
        moves = (on_points * self.normal).sum(axis=2)[1:-1].ravel()
        height = (on_points[..., 2] * self.level[:, None]).sum()
        return np.append(moves, height)

    def terms(self, unknown: Array) -> tuple[float, Array, float, Array, float, Array]:
        """Area, volume and first moment ∫z dV, each with its gradient on the unknowns."""
        corners = self.points(unknown)
        points = np.concatenate([corners, corners[self.cells].mean(axis=1)])
        a, b, c = (points[self.triangles[:, k]] for k in range(3))
        cross = np.cross(b - a, c - a)
        double = np.linalg.norm(cross, axis=1)
        unit = cross / double[:, None]
        area = double.sum() / 2
        area_gradient = self._scatter((np.cross(b - c, unit) / 2, np.cross(c - a, unit) / 2, np.cross(a - b, unit) / 2))
        # Flux of (0, 0, z): side triangles carry z̄·n_z; the terminal's face closes the volume.
        mean_z = (a[:, 2] + b[:, 2] + c[:, 2]) / 3
        nz = cross[:, 2] / 2
        h = unknown[-1]
        volume = (mean_z * nz).sum() + h * self.top_area
        square = (
            a[:, 2] ** 2 + b[:, 2] ** 2 + c[:, 2] ** 2 + a[:, 2] * b[:, 2] + b[:, 2] * c[:, 2] + c[:, 2] * a[:, 2]
        ) / 6
        moment = (square * nz).sum() / 2 + h**2 / 2 * self.top_area
        volume_gradient = self._flux_gradient(a, b, c, mean_z, nz, [np.full_like(mean_z, 1 / 3)] * 3)
        slopes = [(2 * p[:, 2] + q[:, 2] + s[:, 2]) / 12 for p, q, s in ((a, b, c), (b, c, a), (c, a, b))]
        moment_gradient = self._flux_gradient(a, b, c, square / 2, nz, slopes)
        volume_gradient[-1] += self.top_area
        moment_gradient[-1] += h * self.top_area
        return float(area), area_gradient, float(volume), volume_gradient, float(moment), moment_gradient

    def _flux_gradient(self, a: Array, b: Array, c: Array, value: Array, nz: Array, slopes: list[Array]) -> Array:
        parts = []
        for p, q, slope in ((b, c, slopes[0]), (c, a, slopes[1]), (a, b, slopes[2])):
            part = np.zeros_like(a)
            # ∂n_z of the triangle over one corner: half of (y of p − y of q, x of q − x of p).
            part[:, 0] = value * (p[:, 1] - q[:, 1]) / 2
            part[:, 1] = value * (q[:, 0] - p[:, 0]) / 2
            part[:, 2] = slope * nz
            parts.append(part)
        return self._scatter(tuple(parts))

    def _scatter(self, parts: tuple[Array, ...]) -> Array:
        corners = (self.rings + 1) * self.around
        gradient = np.zeros((corners + len(self.cells), 3))
        for k, part in enumerate(parts):
            for axis in range(3):
                gradient[:, axis] += np.bincount(self.triangles[:, k], weights=part[:, axis], minlength=len(gradient))
        on_corners = gradient[:corners]
        for k in range(4):
            for axis in range(3):
                on_corners[:, axis] += np.bincount(
                    self.cells[:, k], weights=gradient[corners:, axis] / 4, minlength=corners
                )
        return self.pull_back(on_corners)

    def section(self, unknown: Array) -> Array:
        """Points of the ring column at the middle of the land's long edge: (outward, up)."""
        points = self.points(unknown).reshape(self.rings + 1, self.around, 3)
        column = int(np.argmin(np.abs(points[0, :, 0]) + np.where(points[0, :, 1] > 0, 0.0, 1e3)))
        return np.column_stack([points[:, column, 1], points[:, column, 2]])


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


def _minimise(mesh: _Mesh, volume: float, load: float, gravity: float) -> tuple[Array, float]:
    """Least energy at fixed volume: an augmented Lagrangian, each stage by a safeguarded Newton method.

    Lengths in mm, energies over γ. The Hessian comes from differences of exact gradients. Points couple with
    their neighbours only, so all points three apart are moved at once: nine pairs of gradients, and one for
    the height, make the whole.
    """
    count = (mesh.rings - 1) * mesh.around
    unknown = np.append(np.zeros(count), mesh.start_height)
    pressure = 0.5 * mesh.top_edge / mesh.top_area  # what carries the terminal's edge at 60° to the vertical
    stiffness = 4 * mesh.top_edge / (mesh.start_height * mesh.top_area**2)

    def energy(x: Array, p: float) -> tuple[float, Array, Array, float]:
        area, d_area, v, d_v, moment, d_moment = mesh.terms(x)
        off = v - volume
        gradient = d_area + gravity * d_moment + (stiffness * off - p) * d_v
        gradient[-1] += load
        return area + gravity * moment + load * x[-1] - p * off + stiffness / 2 * off**2, gradient, d_v, off

    for _ in range(STAGES):
        for _ in range(NEWTON_STEPS):
            value, gradient, d_v, off = energy(unknown, pressure)
            if np.abs(gradient).max() < TOLERANCE * mesh.start_height:
                break
            inner = pressure - stiffness * off
            bent = _hessian(mesh, unknown, gravity, inner) + stiffness * np.outer(d_v, d_v)
            moved = _descend(unknown, value, gradient, bent, partial(energy, p=pressure), mesh.start_height)
            still = np.abs(moved - unknown).max() < STILL * mesh.start_height
            unknown = moved
            if still:
                break
        off = energy(unknown, pressure)[3]
        pressure -= stiffness * off
        if abs(off) < TOLERANCE * volume:
            return unknown, pressure
    raise ValidityError(
        "no equilibrium with pinned edges was found",
        found=f"height {float(unknown[-1]):.4g} mm",
        expected="another volume or a smaller load",
    )


def _descend(
    unknown: Array,
    value: float,
    gradient: Array,
    bent: Array,
    energy: Callable[[Array], tuple[float, Array, Array, float]],
    height: float,
) -> Array:
    """One Newton step made downhill: the Hessian is lifted until positive, the step halved until the energy falls."""
    from scipy.linalg import LinAlgError, cho_factor, cho_solve

    lift = 0.0
    while True:
        try:
            move = cho_solve(cho_factor(bent + lift * np.eye(len(unknown))), gradient)
            break
        except LinAlgError:
            lift = max(2 * lift, 1e-2)
    # No point moves farther than a good part of the height at once.
    factor = min(1.0, 0.7 * height / max(np.abs(move).max(), 1e-300))
    for _ in range(30):
        trial = unknown - factor * move
        if trial[-1] > 0.02 * height and energy(trial)[0] <= value - 1e-4 * factor * float(gradient @ move) + 1e-15:
            return np.asarray(trial)
        factor /= 2
    return unknown


def _hessian(mesh: _Mesh, unknown: Array, gravity: float, pressure: float) -> Array:
    """Second derivatives of area + gravity − pressure · volume."""

    def gradient(x: Array) -> Array:
        _, d_area, _, d_volume, _, d_moment = mesh.terms(x)
        return d_area + gravity * d_moment - pressure * d_volume

    rows, around = mesh.rings - 1, mesh.around
    step = 1e-6 * mesh.start_height
    hessian = np.zeros((unknown.size, unknown.size))
    i, j = np.meshgrid(np.arange(rows), np.arange(around), indexing="ij")
    for di in range(3):
        for dj in range(3):
            chosen = (i % 3 == di) & (j % 3 == dj)
            nudge = np.append(np.where(chosen, step, 0.0).ravel(), 0.0)
            change = ((gradient(unknown + nudge) - gradient(unknown - nudge)) / (2 * step))[:-1].reshape(rows, around)
            for ni in (-1, 0, 1):
                for nj in (-1, 0, 1):
                    ti, tj = i[chosen] + ni, (j[chosen] + nj) % around
                    inside = (ti >= 0) & (ti < rows)
                    source = (i[chosen] * around + j[chosen])[inside]
                    hessian[(ti * around + tj)[inside], source] = change[ti[inside], tj[inside]]
    nudge = np.zeros(unknown.size)
    nudge[-1] = step
    column = (gradient(unknown + nudge) - gradient(unknown - nudge)) / (2 * step)
    hessian[:, -1] = hessian[-1, :] = column
    return (hessian + hessian.T) / 2
