"""The least energy of a joint at fixed volume: an augmented Lagrangian over a triangulated surface."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from landwise.errors import ValidityError
from landwise.joints.padmesh import Index, Mesh, Terms

Array = NDArray[np.float64]


NEWTON_STEPS, STAGES = 60, 25


REFINING_STEPS = 25


TOLERANCE = 1e-9


ROUGH = 3e-2


STILL = 1e-6  # of the height: below it the energy no longer tells two shapes apart


@dataclass(frozen=True)
class Case:
    """Volume [mm³], load and gravity over the surface tension [mm, 1/mm²], and whether the height is held."""

    volume: float
    load: float
    gravity: float
    held: bool

    def merit(self, mesh: Mesh, x: Array, pressure: float, weight: float) -> tuple[float, Terms]:
        """Energy over γ with the volume's miss priced and penalised."""
        t = mesh.terms(x)
        off = t.volume - self.volume
        energy = t.area + self.gravity * t.moment + self.load * x[-1]
        return energy - pressure * off + weight / 2 * off**2, t

    def slope(self, t: Terms, pressure: float) -> Array:
        """Gradient of the energy less pressure times volume; none on a held height."""
        gradient = t.d_area + self.gravity * t.d_moment - pressure * t.d_volume
        gradient[-1] = 0.0 if self.held else gradient[-1] + self.load
        return np.asarray(gradient)

    def by_volume(self, t: Terms) -> Array:
        """Gradient of the volume; none on a held height."""
        if not self.held:
            return t.d_volume
        gradient = t.d_volume.copy()
        gradient[-1] = 0.0
        return gradient

    def hessian(self, mesh: Mesh, x: Array, pressure: float) -> tuple[Array, Index, Index]:
        """Second derivatives; a held height stands alone."""
        values, rows, columns = mesh.hessian(x, self.gravity, pressure)
        if not self.held:
            return values, rows, columns
        last = mesh.unknowns - 1
        keep = (rows != last) & (columns != last)
        return np.append(values[keep], 1.0), np.append(rows[keep], last), np.append(columns[keep], last)


def refine(mesh: Mesh, unknown: Array, pressure: float, case: Case) -> tuple[Array, float] | None:
    """Newton's method on equilibrium and volume together, from a start that is close; None where it fails.

    The bordered system is solved through the sparse Hessian. A minimum at fixed volume has at most one falling
    direction left in it, which the sign of the pivots shows.
    """
    size, t = mesh.unknowns, mesh.terms(unknown)
    for _ in range(REFINING_STEPS):
        gradient, by_volume = case.slope(t, pressure), case.by_volume(t)
        off = t.volume - case.volume
        if max(float(np.abs(gradient).max()) / mesh.start_height, abs(off) / case.volume) < TOLERANCE:
            return unknown, pressure
        solve, falling = _factored(case.hessian(mesh, unknown, pressure), size)
        if solve is None:
            return None
        to_volume, to_gradient = solve(by_volume), solve(gradient)
        curve = float(by_volume @ to_volume)
        if not (falling == 0 or (falling == 1 and curve < 0)):
            return None
        change = (float(by_volume @ to_gradient) - off) / curve
        move = -to_gradient + change * to_volume
        weight = 2 / abs(curve)
        before, _ = case.merit(mesh, unknown, pressure + change, weight)
        share = min(1.0, 0.5 * unknown[-1] / float(np.abs(move).max()))
        for _ in range(12):
            value, new = case.merit(mesh, unknown + share * move, pressure + change, weight)
            if value <= before + 1e-13 * abs(before):
                break
            share /= 2
        unknown, pressure, t = unknown + share * move, pressure + change, new
    return None


def minimise(mesh: Mesh, unknown: Array, pressure: float, case: Case) -> tuple[Array, float]:
    """Least energy at fixed volume from far away: augmented Lagrangian, each stage by a safeguarded Newton method."""
    stiffness = 4 * mesh.top_edge / (mesh.start_height * mesh.top_area**2)
    for _ in range(STAGES):
        for _ in range(NEWTON_STEPS):
            value, t = case.merit(mesh, unknown, pressure, stiffness)
            by_volume = case.by_volume(t)
            inner = pressure - stiffness * (t.volume - case.volume)
            gradient = case.slope(t, inner)
            if np.abs(gradient).max() < ROUGH * mesh.start_height:
                break
            entries = case.hessian(mesh, unknown, inner)
            move = _downhill(entries, mesh.unknowns, gradient, by_volume, stiffness)
            energy = partial(energy_of, case=case, mesh=mesh, pressure=pressure, weight=stiffness)
            moved = _descend(unknown, value, gradient, move, energy, mesh.start_height)
            still = np.abs(moved - unknown).max() < STILL * mesh.start_height
            unknown = moved
            if still:
                break
        off = mesh.terms(unknown).volume - case.volume
        pressure -= stiffness * off
        if abs(off) < ROUGH * case.volume:
            solved = refine(mesh, unknown, pressure, case)
            if solved is not None:
                return solved
    raise ValidityError(
        "no equilibrium with pinned edges was found",
        found=f"height {float(unknown[-1]):.4g} mm",
        expected="another volume or a smaller load",
    )


def energy_of(x: Array, *, case: Case, mesh: Mesh, pressure: float, weight: float) -> float:
    return case.merit(mesh, x, pressure, weight)[0]


def _downhill(
    entries: tuple[Array, Index, Index], size: int, gradient: Array, by_volume: Array, stiffness: float
) -> Array:
    """Newton's step for the Hessian plus stiffness · d dᵀ, which is lifted until it is positive.

    The rank-one part is taken in by Sherman and Morrison's formula, so that the sparse Hessian alone is solved. The
    whole is positive if the Hessian has no negative pivot, or one while 1 + stiffness · dᵀH⁻¹d is negative.
    """
    values, rows, columns = entries
    lift = 0.0
    while True:
        lifted = (np.append(values, np.full(size, lift)), np.append(rows, range(size)), np.append(columns, range(size)))
        solve, falling = _factored(entries if lift == 0 else lifted, size)
        if solve is not None:
            to_gradient, to_volume = solve(gradient), solve(by_volume)
            bend = 1 + stiffness * float(by_volume @ to_volume)
            if (falling == 0 and bend > 0) or (falling == 1 and bend < 0):
                return np.asarray(to_gradient - stiffness * float(by_volume @ to_gradient) / bend * to_volume)
        lift = max(2 * lift, 1e-2)


def _factored(entries: tuple[Array, Index, Index], size: int) -> tuple[Callable[[Array], Array] | None, int]:
    """Solver of a sparse symmetric matrix, and how many of its pivots are negative; None for a singular one."""
    from scipy.sparse import csc_matrix
    from scipy.sparse.linalg import splu

    values, rows, columns = entries
    try:
        factor = splu(
            csc_matrix((values, (rows, columns)), shape=(size, size)),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
    except RuntimeError:
        return None, 0
    return factor.solve, int((factor.U.diagonal() < 0).sum())


def _descend(
    unknown: Array, value: float, gradient: Array, move: Array, energy: Callable[[Array], float], height: float
) -> Array:
    """The step, halved until the energy falls; no point moves farther than a good part of the height at once."""
    factor = min(1.0, 0.7 * height / max(np.abs(move).max(), 1e-300))
    for _ in range(30):
        trial = unknown - factor * move
        if trial[-1] > 0.02 * height and energy(trial) <= value - 1e-4 * factor * float(gradient @ move) + 1e-15:
            return np.asarray(trial)
        factor /= 2
    return unknown
