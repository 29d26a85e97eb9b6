"""Ball joint: molten solder between two round lands, by the Young-Laplace equation with gravity.

The contact lines are pinned at the land edges. The meridian runs from the board land's edge upward:

    dr/ds = cos φ,  dz/ds = sin φ,  dφ/ds = p(z)/γ − sin φ/r,  p(z) = p₀ − ρ g z,

with length S, starting angle φ₀ and pressure p₀ found by Newton's method so that the meridian ends at the
package land's edge, the volume is right and the part's share of weight is carried. Everything is done for a
whole batch of joints at once; classic fourth-order Runge-Kutta with 160 steps leaves errors below 1e-8.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from landwise.errors import InputError, ValidityError
from landwise.quantities import GRAVITY_M_S2
from landwise.untyped import Number

Array = NDArray[np.float64]
STEPS = 160
NEWTON_STEPS = 40
PATIENCE = 4  # steps without progress after which no equilibrium is taken to exist
HELD_STEPS, HELD_TOLERANCE = 20, 1e-8
TOLERANCE = 1e-10
LOAD_STAGES = 6  # where one step fails, the load is brought on in stages, each from the last shape


@dataclass(frozen=True)
class BallJoint:
    """Equilibrium of one batch of joints; every field is an array over the batch.

    Parameters
    ----------
    height_mm, max_diameter_mm : array
        Distance between the lands, and the widest diameter. [mm]
    pressure_mpa : array
        Gauge pressure at the board land. [MPa]
    board_force_n, package_force_n : array
        Force of the solder on the board (downward) and on the package (upward); they differ by the
        solder's weight. [N]
    below_board : array of bool
        Whether the contour passes below the board land's plane: it then touches the mask.
    r_mm, z_mm : array
        Meridian points, shape (points, batch). [mm]
    """

    height_mm: Array
    max_diameter_mm: Array
    pressure_mpa: Array
    board_force_n: Array
    package_force_n: Array
    below_board: NDArray[np.bool_]
    r_mm: Array
    z_mm: Array


def zone_volume(height: Number, radius_1: Number, radius_2: Number) -> Number:
    """Volume of a spherical zone, πh/6·(3r₁² + 3r₂² + h²)."""
    return math.pi * height / 6 * (3 * radius_1**2 + 3 * radius_2**2 + height**2)


def zone_height(volume: ArrayLike, radius_1: ArrayLike, radius_2: ArrayLike) -> Array:
    """Height of the spherical zone of a volume: the joint without load and gravity. [mm]

    >>> print(f"{float(zone_height(math.pi / 6 * 0.5**3, 0.2, 0.2)):.3f}")
    0.347
    """
    v, a, b = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (volume, radius_1, radius_2)))
    # h³ + 3(a² + b²)h = 6V/π has one real root (Cardano), its coefficients being positive.
    p, q = 3 * (a**2 + b**2), 6 * v / math.pi
    root = np.sqrt(q**2 / 4 + p**3 / 27)
    height: Array = np.cbrt(q / 2 + root) + np.cbrt(q / 2 - root)
    return height


def ball_joint(
    volume_mm3: ArrayLike,
    board_land_mm: ArrayLike,
    package_land_mm: ArrayLike,
    *,
    load_n: ArrayLike = 0.0,
    tension_n_m: float = 0.50,
    density_g_cm3: float = 7.38,
) -> BallJoint:
    """Equilibrium of solder between two round lands.

    Parameters
    ----------
    volume_mm3 : float or array
        Solder: ball and paste metal. [mm³]
    board_land_mm, package_land_mm : float or array
        Wetted land diameters. [mm]
    load_n : float or array
        Share of the part's weight on this joint; negative pulls. [N]
    tension_n_m, density_g_cm3 : float
        Surface tension [N/m] and density [g/cm³]; zero density leaves gravity out.

    Raises
    ------
    InputError
        For sizes that aren't positive.
    ValidityError
        Where no equilibrium with pinned edges exists: the load is too high or pulls the joint apart.

    Notes
    -----
    Holds while the edges stay pinned. `below_board` marks joints whose contour sinks below the land's plane,
    which the mask then stops.

    References
    ----------
    Young-Laplace equation; without load and gravity the shape is the spherical zone V = πh/6·(3r₁²+3r₂²+h²).

    Examples
    --------
    A 0.50 mm ball between two 0.40 mm lands:

    >>> joint = ball_joint(math.pi / 6 * 0.5**3, 0.40, 0.40, density_g_cm3=0.0)
    >>> print(f"{joint.height_mm[0]:.3f} {joint.max_diameter_mm[0]:.3f}")
    0.347 0.529
    """
    v, d1, d2, load = (
        np.atleast_1d(np.asarray(x, dtype=float)) for x in (volume_mm3, board_land_mm, package_land_mm, load_n)
    )
    v, d1, d2, load = np.broadcast_arrays(v, d1, d2, load)
    if not (np.all(v > 0) and np.all(d1 > 0) and np.all(d2 > 0)):
        raise InputError("volume and lands must be positive", found=f"{v.min():g} mm³, {min(d1.min(), d2.min()):g} mm")
    if tension_n_m <= 0 or density_g_cm3 < 0:
        raise InputError("surface tension must be positive and density not negative")
    gamma = tension_n_m * 1e-3  # N/mm
    weight = density_g_cm3 * 1e-6 * GRAVITY_M_S2  # N/mm³
    r1, r2 = d1 / 2, d2 / 2
    unknown = _zone_start(v, r1, r2, gamma)
    try:
        unknown = _solve(unknown, v, r1, r2, load, gamma, weight)
    except ValidityError:
        for stage in range(1, LOAD_STAGES + 1):
            share = stage / LOAD_STAGES
            unknown = _solve(unknown, v, r1, r2, load * share, gamma, weight * share)
    r, z, phi, _ = _meridian(unknown, r1, gamma, weight, keep=True)
    height = z[-1]
    if np.any(height <= 0):
        raise ValidityError(
            "no equilibrium stands: the part would sink onto the board", found=f"{float(height.min()):.4g} mm"
        )
    pressure = unknown[2]
    board = pressure * math.pi * r1**2 - 2 * math.pi * r1 * gamma * np.sin(unknown[1])
    package = (pressure - weight * height) * math.pi * r2**2 - 2 * math.pi * r2 * gamma * np.sin(phi[-1])
    return BallJoint(height, 2 * _widest(r), pressure, board, package, z.min(axis=0) < -1e-9, r, z)


def held_ball(
    volume_mm3: float,
    board_land_mm: float,
    package_land_mm: float,
    heights_mm: ArrayLike,
    *,
    tension_n_m: float = 0.50,
    density_g_cm3: float = 7.38,
) -> Array:
    """Force with which one ball joint pushes the package up at each of several heights, negative where it pulls. [N]

    Parameters
    ----------
    heights_mm : array
        Between the lands. [mm]

    Returns
    -------
    array
        nan where no pinned joint was found, and where the equations lead to their other branch: a contour that leaves
        the gap between the lands and turns back twice, whose force falls as the joint is pressed.

    Raises
    ------
    InputError

    Examples
    --------
    A joint held at its free height neither pushes nor pulls:

    >>> free = float(zone_height(0.01414, 0.125, 0.125))
    >>> bool(abs(held_ball(0.01414, 0.25, 0.25, [free], density_g_cm3=0.0)[0]) < 1e-9)
    True
    """
    heights = np.atleast_1d(np.asarray(heights_mm, dtype=float))
    if not (min(volume_mm3, board_land_mm, package_land_mm, tension_n_m) > 0 and np.all(heights > 0)):
        raise InputError("volume, lands, heights and tension must be positive")
    gamma, weight = tension_n_m * 1e-3, density_g_cm3 * 1e-6 * GRAVITY_M_S2
    v, r1, r2 = (np.full(heights.shape, x) for x in (volume_mm3, board_land_mm / 2, package_land_mm / 2))
    case = (v, r1, r2, heights, gamma, weight, True)
    unknown = _zone_start(v, r1, r2, gamma)
    scale = np.array([r1 + r2, np.ones_like(r1), gamma / (r1 + r2)])
    residual = _residual(unknown, *case)
    for _ in range(HELD_STEPS):
        if np.abs(residual).max() < TOLERANCE:
            break
        jacobian = _jacobian(unknown, scale, (v, r1, r2, heights), gamma, weight, held=True)
        lost = ~np.isfinite(jacobian).all(axis=(1, 2))
        jacobian[lost] = np.eye(3)
        move = np.linalg.solve(jacobian, np.nan_to_num(residual.T)[:, :, None])[:, :, 0].T
        unknown, residual = _damped(unknown, residual, np.asarray(move), case)
    _, contour, angle, _ = _meridian(unknown, r1, gamma, weight, keep=True)
    z, phi = contour[-1], angle[-1]
    force = (unknown[2] - weight * z) * math.pi * r2**2 - 2 * math.pi * r2 * gamma * np.sin(phi)
    outside = (contour.min(axis=0) < -1e-6 * z) | (contour.max(axis=0) > z * (1 + 1e-6))
    turns = np.count_nonzero(np.diff(np.cos(angle) > 0, axis=0), axis=0)
    found = (np.abs(residual).max(axis=0) < HELD_TOLERANCE) & ~(outside & (turns >= 2))
    return np.asarray(np.where(found, force, np.nan))


def _widest(r: Array) -> Array:
    """Largest radius, between the points by the parabola through the three highest."""
    at = np.clip(np.argmax(r, axis=0), 1, r.shape[0] - 2)
    batch = np.arange(r.shape[1])
    before, top, after = r[at - 1, batch], r[at, batch], r[at + 1, batch]
    bend = before - 2 * top + after
    # A vertex beyond the three points is no peak: the joint is widest at its land.
    inside = (bend < 0) & (np.abs(after - before) <= -2 * bend)
    peak = np.where(inside, top - (after - before) ** 2 / (8 * np.where(inside, bend, -1.0)), top)
    return np.asarray(np.maximum(peak, r.max(axis=0)))


def _zone_start(v: Array, r1: Array, r2: Array, gamma: float) -> Array:
    """Length, starting angle and pressure of the spherical zone."""
    h = zone_height(v, r1, r2)
    centre = (h**2 - r1**2 + r2**2) / (2 * h)
    radius = np.sqrt(r1**2 + centre**2)
    start = np.arctan2(r1, centre)
    end = math.pi - np.arctan2(r2, h - centre)
    return np.array([radius * (end - start), start, 2 * gamma / radius])


def _meridian(
    unknown: Array, r1: Array, gamma: float, weight: float, *, keep: bool = False
) -> tuple[Array, Array, Array, Array]:
    """Integrate the meridian; end values, or all points with `keep`."""
    length, phi0, p0 = unknown
    step = length / STEPS
    state = np.array([r1, np.zeros_like(r1), phi0 + 0 * r1, np.zeros_like(r1)])

    def slope(y: Array) -> Array:
        r, z, phi, _ = y
        sin, cos = np.sin(phi), np.cos(phi)
        return np.array([cos, sin, (p0 - weight * z) / gamma - sin / r, math.pi * r**2 * sin])

    points = [state]
    for _ in range(STEPS):
        k1 = slope(state)
        k2 = slope(state + step / 2 * k1)
        k3 = slope(state + step / 2 * k2)
        k4 = slope(state + step * k3)
        state = state + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        if keep:
            points.append(state)
    if keep:
        whole = np.array(points)
        return whole[:, 0], whole[:, 1], whole[:, 2], whole[:, 3]
    return state[0], state[1], state[2], state[3]


def _residual(
    unknown: Array, v: Array, r1: Array, r2: Array, load: Array, gamma: float, weight: float, held: bool = False
) -> Array:
    """Misses of edge, volume and load; of the height, given in the load's place, where that is held."""
    with np.errstate(all="ignore"):
        r, z, phi, volume = _meridian(unknown, r1, gamma, weight)
        force = (unknown[2] - weight * z) * math.pi * r2**2 - 2 * math.pi * r2 * gamma * np.sin(phi)
    last = (z - load) / r2 if held else (force - load) / (2 * math.pi * gamma * r2)
    return np.array([(r - r2) / r2, (volume - v) / v, last])


def _solve(
    start: Array, v: Array, r1: Array, r2: Array, load: Array, gamma: float, weight: float, held: bool = False
) -> Array:
    """Damped Newton for the whole batch, Jacobians by central differences."""
    unknown = start.copy()
    scale = np.array([r1 + r2, np.ones_like(r1), gamma / (r1 + r2)])
    residual = _residual(unknown, v, r1, r2, load, gamma, weight, held)
    best, stuck = math.inf, 0
    for _ in range(NEWTON_STEPS):
        size = np.abs(residual).max(axis=0)
        if np.all(size < TOLERANCE):
            return unknown
        stuck = 0 if size.max() < 0.99 * best else stuck + 1
        best = min(best, float(size.max()))
        if stuck == PATIENCE:
            break
        jacobian = _jacobian(unknown, scale, (v, r1, r2, load), gamma, weight, held)
        if not np.all(np.isfinite(jacobian)):
            break
        try:
            move = np.asarray(np.linalg.solve(jacobian, residual.T[:, :, None])[:, :, 0].T, dtype=np.float64)
        except np.linalg.LinAlgError:
            break
        unknown, residual = _damped(unknown, residual, move, (v, r1, r2, load, gamma, weight, held))
    worst = int(np.argmax(np.abs(residual).max(axis=0))) if np.all(np.isfinite(residual)) else 0
    raise ValidityError(
        "no equilibrium with pinned edges was found: the load is beyond what the joint carries",
        place=f"joint {worst + 1}",
        found=f"load {float(load[worst]) * 1e6:.4g} µN",
        expected="a smaller load, or more solder",
    )


def _jacobian(unknown: Array, scale: Array, rest: tuple[Array, ...], gamma: float, weight: float, held: bool) -> Array:
    """Central differences for the three unknowns, all six nudges as one batch: (batch, equation, unknown)."""
    count = unknown.shape[1]
    nudges = 1e-6 * scale
    moved = [unknown + sign * np.where(np.arange(3)[:, None] == k, nudges, 0.0) for k in range(3) for sign in (1, -1)]
    v, r1, r2, load = (np.tile(values, 6) for values in rest)
    nudged = np.concatenate(moved, axis=1)
    found = _residual(nudged, v, r1, r2, load, gamma, weight, held).reshape(3, 3, 2, count)
    slopes = (found[:, :, 0] - found[:, :, 1]) / (2 * nudges[None])
    return np.asarray(np.moveaxis(slopes, 2, 0))


def _damped(unknown: Array, residual: Array, move: Array, rest: tuple[Number, ...]) -> tuple[Array, Array]:
    """Take the Newton step, halved per joint until its residual falls."""
    size = np.abs(residual).max(axis=0)
    factor = np.ones_like(size)
    for _ in range(12):
        trial = unknown - factor * move
        new = _residual(trial, *rest)
        worse = ~(np.abs(new).max(axis=0) < np.maximum(size, TOLERANCE))
        if not worse.any():
            return trial, new
        factor = np.where(worse, factor / 2, factor)
    return trial, np.where(np.isfinite(new), new, 1e3)
