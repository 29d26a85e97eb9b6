"""The board as a thin plate: natural frequencies and shapes of a rectangle with any edges, screws and lumped masses."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError
from landwise.memory import known
from landwise.untyped import Untyped

EDGE_LETTERS = "sxf"
LEAST_CELLS = 4  # along an edge: coarser cells no longer show the first shape
MOST_CELLS = 120
HEAD_MM = 2.75  # of an M3 pan head: 5.5 mm across (ISO 7045)
USUAL_CELLS = 14  # along the longer edge: the first six frequencies of the checks are then within 0.1 %
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Plate:
    """A board as it is held.

    Parameters
    ----------
    length_mm, width_mm, thickness_mm : float
        Sides along x and y, thickness. [mm]
    modulus_mpa, poisson : float
        Of the laminate as one material. [MPa, -]
    mass_mg : float
        Of board and parts, spread evenly. [mg]
    edges : str
        From the left edge clockwise: S supported, X fixed, F free.
    supports : tuple of (x, y)
        Screws, from the lower left corner. [mm]
    screws_hold : bool
        Whether a screw also keeps the board from tilting there, or only from moving.
    head_mm : float
        Radius over which a screw that holds the board level presses it flat. A point can't: its hold would vanish as
        the mesh gets finer (screw-head-rule). [mm]
    lumps : tuple of (x, y, mass)
        Heavy parts, beside the spread mass. [mm, mm, mg]
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    modulus_mpa: float
    poisson: float
    mass_mg: float
    edges: str = "ffff"
    supports: tuple[tuple[float, float], ...] = ()
    screws_hold: bool = False
    head_mm: float = HEAD_MM
    lumps: tuple[tuple[float, float, float], ...] = ()

    @property
    def stiffness_n_m(self) -> float:
        """Bending stiffness D = E h³/12(1 − ν²). [N·m]"""
        return self.modulus_mpa * 1e6 * (self.thickness_mm * 1e-3) ** 3 / (12 * (1 - self.poisson**2))


@dataclass(frozen=True, eq=False)
class Modes:
    """How a plate swings, lowest first.

    Parameters
    ----------
    frequency_hz : array
        Natural frequencies; those of a board that hangs loose as a whole are left out. [Hz]
    x_mm, y_mm : array
        Lines of the mesh. [mm]
    shape : array
        Displacement (mode, y, x), its largest value 1.
    strain_per_mm : array
        Largest surface strain of the board (mode, y, x) per mm of the shape's largest displacement. [1/mm]
    participation : array
        Signed displacement of the shape's largest place over that of a mass on a spring that the same shaking of the
        edges moves: 16/π² for the first mode of a supported plate.
    """

    plate: Plate
    frequency_hz: Array
    x_mm: Array
    y_mm: Array
    shape: Array
    strain_per_mm: Array
    participation: Array

    def at(self, field: Array, x_mm: float, y_mm: float) -> float:
        """A field of one mode at a place, linear between the mesh's lines."""
        column = int(np.clip(np.searchsorted(self.x_mm, x_mm) - 1, 0, len(self.x_mm) - 2))
        row = int(np.clip(np.searchsorted(self.y_mm, y_mm) - 1, 0, len(self.y_mm) - 2))
        u = (x_mm - self.x_mm[column]) / (self.x_mm[column + 1] - self.x_mm[column])
        v = (y_mm - self.y_mm[row]) / (self.y_mm[row + 1] - self.y_mm[row])
        low, high = field[row], field[row + 1]
        below = low[column] * (1 - u) + low[column + 1] * u
        above = high[column] * (1 - u) + high[column + 1] * u
        return float(below * (1 - v) + above * v)


def plate_modes(plate: Plate, count: int = 6, cells: int = USUAL_CELLS) -> Modes:
    """Natural frequencies and shapes of a thin rectangular plate by finite elements.

    Parameters
    ----------
    count : int
        Modes wanted, at most 20.
    cells : int
        Cells along the longer edge; the unknowns are about four a corner of a cell.

    Raises
    ------
    InputError
        Edge letters other than S, X, F; sizes that aren't positive; a screw or a mass off the board.
    ValidityError
        A plate too thick for thin-plate theory, or a mesh outside 4 to 120 cells.

    Notes
    -----
    Kirchhoff's plate with the bicubic rectangle of Bogner, Fox and Schmit (conforming: frequencies come out from
    above and fall as cells⁻⁴), lines of the mesh through every screw. Masses sit at the nearest corner of the mesh
    after a line has been laid through them. Small, undamped, flat board; the parts' own stiffness is left out.

    Examples
    --------
    A square board supported all round has ω·a²·√(ρ/D) = 2π²:

    >>> square = Plate(100, 100, 1.6, 20000, 0.12, 30000, edges="SSSS")
    >>> modes = plate_modes(square)
    >>> per_area = 30e-3 / 0.01  # kg/m²
    >>> print(f"{2 * math.pi * modes.frequency_hz[0] * 0.01 * math.sqrt(per_area / square.stiffness_n_m):.3f}")
    19.739
    """
    _check(plate, count, cells)
    # Frequency goes as √(E/m) and shapes know neither: one solution serves every material and mass.
    heavy = tuple((x, y, lump / plate.mass_mg) for x, y, lump in plate.lumps)
    modes = _solved(replace(plate, modulus_mpa=1.0, mass_mg=1.0, lumps=heavy, edges=plate.edges.lower()), count, cells)
    return replace(modes, plate=plate, frequency_hz=modes.frequency_hz * math.sqrt(plate.modulus_mpa / plate.mass_mg))


@lru_cache(maxsize=64)
def _solved(plate: Plate, count: int, cells: int) -> Modes:
    """The modes of a plate of unit modulus and mass."""
    return known(lambda: _found(plate, count, cells), "plate modes", plate, count, cells)


def _found(plate: Plate, count: int, cells: int) -> Modes:
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import LinearOperator, eigsh, splu
    from skfem import Basis, BilinearForm, ElementQuadBFS, LinearForm, MeshQuad, condense
    from skfem.helpers import dd, ddot, trace

    x, y = _lines(plate, cells)
    basis = Basis(MeshQuad.init_tensor(x, y), ElementQuadBFS(), intorder=6)
    nu = plate.poisson

    @BilinearForm
    # scikit-fem's decorators bring no types.
    def bending(u, v, _):  # type: ignore[no-untyped-def]
        hu, hv = dd(u), dd(v)
        return (1 - nu) * ddot(hu, hv) + nu * trace(hu) * trace(hv)

    @BilinearForm
    # scikit-fem's decorators bring no types.
    def spread(u, v, _):  # type: ignore[no-untyped-def]
        return u * v

    @LinearForm
    # scikit-fem's decorators bring no types.
    def whole(v, _):  # type: ignore[no-untyped-def]
        return 1.0 * v

    # Lengths run in mm: stiffness per D is 1/mm² of shape, the spread mass is one per mm².
    per_area = plate.mass_mg / (plate.length_mm * plate.width_mm)
    dofs = basis.nodal_dofs
    stiff, push = bending.assemble(basis), whole.assemble(basis)
    at = np.array([dofs[0, _node(basis.mesh.p, lump_x, lump_y)] for lump_x, lump_y, _ in plate.lumps], dtype=int)
    extra = np.array([lump / per_area for *_, lump in plate.lumps], dtype=float)
    mass = spread.assemble(basis) + coo_matrix((extra, (at, at)), shape=stiff.shape).tocsr()
    np.add.at(push, at, extra)
    held = np.unique(np.concatenate([*_held_edges(plate, basis), *_held_screws(plate, basis), np.empty(0, int)]))
    inner_stiff, inner_mass, _, free = condense(stiff, mass, D=held)
    loose = loose_modes(plate)
    # A board that hangs loose has modes of zero stiffness: shift a little below zero, so that none is singular.
    shift = -1.0 / max(plate.length_mm, plate.width_mm) ** 4 if loose else 0.0
    # The matrix is symmetric and positive: its own order of elimination is twice as quick as the general one.
    solve = splu(
        (inner_stiff - shift * inner_mass).tocsc(), "MMD_AT_PLUS_A", 0.0, options={"SymmetricMode": True}
    ).solve
    inverse = LinearOperator(inner_stiff.shape, solve, dtype=float)
    wanted = min(count + loose, inner_stiff.shape[0] - 2)
    start = np.linspace(1.0, 2.0, inner_stiff.shape[0])  # a fixed start: the same board gives the same digits
    values, vectors = eigsh(inner_stiff, k=wanted, M=inner_mass, sigma=shift, OPinv=inverse, v0=start)
    order = np.argsort(values)[loose : loose + count]
    per_mass = plate.stiffness_n_m / per_area  # a mg/mm² is a kg/m²
    frequency = np.sqrt(np.maximum(values[order], 0.0) * 1e12 * per_mass) / (2 * math.pi)
    full = np.zeros((len(order), basis.N))
    full[:, free] = vectors[:, order].T
    return _modes_of(plate, basis, x, y, frequency, full, mass, push)


def _modes_of(
    plate: Plate, basis: Untyped, x: Array, y: Array, frequency: Array, full: Array, mass: Untyped, push: Array
) -> Modes:
    nodes = basis.nodal_dofs[0]
    columns = np.searchsorted(x, basis.mesh.p[0] - 1e-9)
    rows = np.searchsorted(y, basis.mesh.p[1] - 1e-9)
    shapes, strains, parts = [], [], []
    for vector in full:
        grid = np.zeros((len(y), len(x)))
        grid[rows, columns] = vector[nodes]
        peak = grid.flat[int(np.argmax(np.abs(grid)))]
        shapes.append(grid / peak)
        parts.append(float(vector @ push) / float(vector @ (mass @ vector)) * peak)
        strains.append(_strain(plate, basis, vector / peak, x, y))
    return Modes(plate, frequency, x, y, np.array(shapes), np.array(strains), np.array(parts))


def _strain(plate: Plate, basis: Untyped, vector: Array, x: Array, y: Array) -> Array:
    """Largest principal surface strain h/2·κ at the mesh's corners, averaged from the cells around each. [1/mm]"""
    hess = basis.interpolate(vector).hess
    xx, yy, xy = (hess[i][j].mean(axis=1) for i, j in ((0, 0), (1, 1), (0, 1)))
    bend = np.abs((xx + yy) / 2) + np.hypot((xx - yy) / 2, xy)
    corner = np.zeros(basis.mesh.p.shape[1])
    around = np.zeros_like(corner)
    for four in basis.mesh.t:
        np.add.at(corner, four, bend)
        np.add.at(around, four, 1.0)
    grid = np.zeros((len(y), len(x)))
    grid[np.searchsorted(y, basis.mesh.p[1] - 1e-9), np.searchsorted(x, basis.mesh.p[0] - 1e-9)] = corner / around
    return grid * plate.thickness_mm / 2


def _check(plate: Plate, count: int, cells: int) -> None:
    if len(plate.edges) != 4 or set(plate.edges.lower()) - set(EDGE_LETTERS):
        raise InputError(
            "no such edges",
            found=plate.edges,
            expected="four letters from the left clockwise: S supported, X fixed, F free",
        )
    if min(plate.length_mm, plate.width_mm, plate.thickness_mm, plate.modulus_mpa, plate.mass_mg) <= 0:
        raise InputError("sizes, modulus and mass must be positive")
    if plate.head_mm <= 0:
        raise InputError("a screw's head needs a radius", found=f"{plate.head_mm:g} mm")
    if not 0 <= plate.poisson < 0.5:
        raise ValidityError("no such Poisson's ratio", found=f"{plate.poisson:g}", expected="0 to 0.5")
    if plate.thickness_mm > min(plate.length_mm, plate.width_mm) / 10:
        raise ValidityError(
            "too thick for thin-plate theory",
            found=f"{plate.thickness_mm:g} mm",
            expected="up to a tenth of the shorter side",
        )
    if not LEAST_CELLS <= cells <= MOST_CELLS or not 1 <= count <= 20:
        raise ValidityError(
            "no mesh of that size", found=f"{cells} cells, {count} modes", expected="4 to 120 cells, 1 to 20 modes"
        )
    for place in (*plate.supports, *((x, y) for x, y, _ in plate.lumps)):
        if not (0 <= place[0] <= plate.length_mm and 0 <= place[1] <= plate.width_mm):
            raise InputError(
                "a screw or mass off the board",
                found=f"{place[0]:g}, {place[1]:g} mm",
                expected=f"within {plate.length_mm:g} × {plate.width_mm:g} mm",
            )


def _lines(plate: Plate, cells: int) -> tuple[Array, Array]:
    """Lines of the mesh: about even, and one through every screw and every lumped mass."""
    longer = max(plate.length_mm, plate.width_mm)
    found = []
    for axis, side in enumerate((plate.length_mm, plate.width_mm)):
        even = np.linspace(0, side, max(LEAST_CELLS, round(cells * side / longer)) + 1)
        step = even[1]
        rims = (-plate.head_mm, 0.0, plate.head_mm) if plate.screws_hold else (0.0,)
        screws = {min(max(p[axis] + rim, 0.0), side) for p in plate.supports for rim in rims}
        wanted = sorted(screws | {m[axis] for m in plate.lumps} | {0.0, side})
        kept = [wanted[0]]
        for value in wanted[1:]:
            if value - kept[-1] > 1e-6 * side:
                kept.append(value)
        pieces = [np.array([0.0])]
        for low, high in pairwise(kept):
            pieces.append(np.linspace(low, high, max(1, round((high - low) / step)) + 1)[1:])
        found.append(np.concatenate(pieces))
    return found[0], found[1]


def _node(points: Array, x_mm: float, y_mm: float) -> int:
    return int(np.argmin((points[0] - x_mm) ** 2 + (points[1] - y_mm) ** 2))


def _held_edges(plate: Plate, basis: Untyped) -> Iterator[NDArray[np.int_]]:
    points, dofs = basis.mesh.p, basis.nodal_dofs
    places = ((0, 0.0), (1, plate.width_mm), (0, plate.length_mm), (1, 0.0))
    for letter, (axis, value) in zip(plate.edges.lower(), places, strict=True):
        nodes = np.flatnonzero(np.abs(points[axis] - value) < 1e-9)
        if letter == "x":
            yield dofs[:, nodes].ravel()
        elif letter == "s":
            along = 2 if axis == 0 else 1  # slope along the edge: u_y on left and right, u_x on top and bottom
            yield dofs[[0, along]][:, nodes].ravel()


def _held_screws(plate: Plate, basis: Untyped) -> Iterator[NDArray[np.int_]]:
    points = basis.mesh.p
    for x, y in plate.supports:
        if not plate.screws_hold:
            yield basis.nodal_dofs[:1, _node(points, x, y)]
            continue
        pressed = np.flatnonzero(np.hypot(points[0] - x, points[1] - y) <= plate.head_mm + 1e-9)
        yield basis.nodal_dofs[:, pressed].ravel()


def loose_modes(plate: Plate) -> int:
    """How many ways the board can move as a whole: 3 if nothing holds it."""
    letters = plate.edges.lower()
    if "x" in letters or (plate.supports and plate.screws_hold):
        return 0
    held: list[tuple[float, float]] = list(plate.supports)
    corners = [(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0)]
    for at, letter in enumerate(letters):
        if letter == "s":
            for corner in (corners[at], corners[(at + 1) % 4]):
                held.append((corner[0] * plate.length_mm, corner[1] * plate.width_mm))
    if not held:
        return 3
    spread = np.array([(x - held[0][0], y - held[0][1]) for x, y in held])
    return 2 - int(np.linalg.matrix_rank(spread, tol=1e-6 * plate.length_mm))
