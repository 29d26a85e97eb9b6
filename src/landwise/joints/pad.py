"""Flat-land joint: molten solder between a rectangular land and a rectangular terminal.

The free surface runs from the land's edge to the terminal's edge, both pinned. It is meshed as rings of
points around the joint; each point moves along a fixed direction, square to the straight (ruled) surface
between the edges and turning smoothly round the corners, and the terminal's height moves all rings. The energy

    E = γ·A + ρ g ∫ z dV + load · h

is made least at fixed volume by Newton's method with exact first and second derivatives. Three meshes and
Richardson extrapolation give the height; how far it lies from the finest mesh and from the extrapolation before it
says how far to trust it. Against meshes 1.6 times as fine the height moves by less than 0.05 µm for free and pressed
joints, 0.15 µm for pulled ones (land 0.6 × 0.25 and 0.85 × 0.28, terminals with and without a toe).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from landwise.errors import InputError
from landwise.joints.padmesh import Mesh
from landwise.joints.padminimum import Array, Case, minimise, refine
from landwise.quantities import GRAVITY_M_S2

MESHES = ((32, 6), (48, 9), (80, 15))  # points around, rings; the height comes from the last two
DRAWN = ((24, 6),)  # mesh of a drawing
SOLID = ((40, 8),)  # of a solid that is looked at from all sides


@dataclass(frozen=True)
class Faces:
    """A land and the terminal over it, between whose edges the solder stands.

    Parameters
    ----------
    land_length_mm, land_width_mm : float
        The land. [mm]
    terminal_length_mm, terminal_width_mm : float
        The terminal, nowhere larger than the land. [mm]
    offset_mm : float
        How far the terminal's middle lies from the land's, along the length: half of the toe for a terminal
        flush with the land's heel. [mm]
    elliptic : bool
        Round or oval land and terminal with these axes in the place of rectangles.

    Raises
    ------
    InputError
        For sizes that aren't positive, or a terminal that reaches past the land.

    Examples
    --------
    >>> Faces(0.60, 0.25, 0.40, 0.24, offset_mm=0.1).land_mm
    (0.6, 0.25)
    """

    land_length_mm: float
    land_width_mm: float
    terminal_length_mm: float
    terminal_width_mm: float
    offset_mm: float = 0.0
    elliptic: bool = False

    def __post_init__(self) -> None:
        sizes = (*self.land_mm, *self.terminal_mm)
        if not all(math.isfinite(size) and size > 0 for size in sizes):
            raise InputError("land and terminal must be positive", found=", ".join(f"{size:g}" for size in sizes))
        beyond = self.terminal_length_mm / 2 + abs(self.offset_mm) - self.land_length_mm / 2
        if self.terminal_width_mm > self.land_width_mm + 1e-9 or beyond > 1e-9:
            raise InputError(
                "the terminal reaches past the land",
                found=f"terminal {self.terminal_length_mm:g} × {self.terminal_width_mm:g} offset {self.offset_mm:g}"
                f" on land {self.land_length_mm:g} × {self.land_width_mm:g} mm",
                expected="a terminal within the land",
            )

    @property
    def land_mm(self) -> tuple[float, float]:
        """Length and width of the land. [mm]"""
        return self.land_length_mm, self.land_width_mm

    @property
    def terminal_mm(self) -> tuple[float, float]:
        """Length and width of the terminal. [mm]"""
        return self.terminal_length_mm, self.terminal_width_mm


@dataclass(frozen=True)
class Molten:
    """Surface tension and density of molten solder, by default of SAC305.

    Raises
    ------
    InputError

    Examples
    --------
    >>> f"{Molten().gravity:.3f}"
    '0.145'
    """

    tension_n_m: float = 0.50
    density_g_cm3: float = 7.38

    def __post_init__(self) -> None:
        if not (self.tension_n_m > 0 and self.density_g_cm3 >= 0):
            raise InputError(
                "surface tension must be positive and density not negative",
                found=f"{self.tension_n_m:g} N/m, {self.density_g_cm3:g} g/cm³",
            )

    @property
    def gamma(self) -> float:
        """Surface tension. [N/mm]"""
        return self.tension_n_m * 1e-3

    @property
    def gravity(self) -> float:
        """Weight of a volume over the surface tension. [1/mm²]"""
        return self.density_g_cm3 * 1e-6 * GRAVITY_M_S2 / self.gamma


SAC305 = Molten()


@dataclass(frozen=True)
class PadJoint:
    """Equilibrium of one flat-land joint.

    Parameters
    ----------
    height_mm : float
        Extrapolated. [mm]
    height_error_mm : float
        The larger of what the extrapolation moved the finest mesh by, and of how far it lies from that of the two
        coarser meshes. Neither alone bounds the error. [mm]
    bulge_mm : float
        How far the solder stands out past the land's long edge, at the middle of that edge. [mm]
    pressure_mpa : float
        Gauge pressure in the solder. [MPa]
    spills : bool
        Whether the pressure exceeds 2γ/h: the contact angle at the land then passes 90° and solder runs
        onto the mask.
    recedes : bool
        Whether the surface dips below the land at its edge: the solder then draws back from a corner, and the
        pinned edge no longer holds.
    profile_mm : array
        Section through the middle of the long edge: (points, 2), outward from the middle and up. [mm]
    heel_mm, toe_mm : array
        Sections through the middle of the short edges at −x and +x: (points, 2), x from the land's middle and
        up. [mm]
    """

    height_mm: float
    height_error_mm: float
    bulge_mm: float
    pressure_mpa: float
    spills: bool
    recedes: bool
    profile_mm: Array
    heel_mm: Array
    toe_mm: Array


def pad_joint(faces: Faces, solder_mm3: float, *, load_n: float = 0.0, molten: Molten = SAC305) -> PadJoint:
    """Equilibrium height and bulge of solder between a land and a terminal.

    Parameters
    ----------
    faces : Faces
    solder_mm3 : float
        Solder volume. [mm³]
    load_n : float
        Share of the part's weight. [N]
    molten : Molten

    Raises
    ------
    InputError
        For a volume that isn't positive.
    ValidityError
        If no equilibrium with pinned edges is found.

    Notes
    -----
    Exact up to the mesh: see the module. A long joint of equal widths without load approaches the height at
    which two circular arcs close the sides.

    Examples
    --------
    >>> joint = pad_joint(Faces(0.60, 0.25, 0.40, 0.25), 0.008)
    >>> joint.height_error_mm < 1e-3
    True
    """
    gamma = molten.gamma
    solved = _equilibria(faces, solder_mm3, MESHES, load=load_n / gamma, gravity=molten.gravity)
    heights = [float(unknown[-1]) for _, unknown, _ in solved]
    before, height = (_extrapolated(heights[k], heights[k + 1], MESHES[k : k + 2]) for k in (0, 1))
    mesh, fine, pressure = solved[-1]
    profile = mesh.section(fine)
    heel, toe = mesh.ends(fine)
    return PadJoint(
        height,
        max(abs(height - before), abs(height - heights[-1])),
        float(profile[:, 0].max() - faces.land_width_mm / 2),
        float(pressure * gamma),
        bool(pressure * height > 2.0 + 1e-6),
        _recedes(mesh, fine),
        profile,
        heel,
        toe,
    )


def _extrapolated(coarse: float, fine: float, meshes: tuple[tuple[int, int], ...]) -> float:
    """Richardson's: errors fall with the square of the mesh."""
    return fine + (fine - coarse) / ((meshes[1][1] / meshes[0][1]) ** 2 - 1)


@dataclass(frozen=True)
class HeldJoint:
    """A flat-land joint whose height is held.

    Parameters
    ----------
    force_n : float
        With which the joint pushes the terminal up: the slope −dE/dh at fixed volume, extrapolated. [N]
    force_error_n : float
        Difference between the finer mesh and the extrapolation. [N]
    pressure_mpa : float
        Gauge pressure in the solder. [MPa]
    spills : bool
        Whether the pressure exceeds 2γ/h.
    recedes : bool
        Whether the surface dips below the land somewhere at its edge: the solder draws back from a corner.
    """

    force_n: float
    force_error_n: float
    pressure_mpa: float
    spills: bool
    recedes: bool


def held_joint(faces: Faces, solder_mm3: float, height_mm: float, *, molten: Molten = SAC305) -> HeldJoint:
    """Force of a flat-land joint at a given height. Arguments as of `pad_joint`.

    Raises
    ------
    InputError
    ValidityError
        If no equilibrium with pinned edges is found.

    Examples
    --------
    The force at the height that `pad_joint` finds without load is none:

    >>> faces = Faces(0.60, 0.25, 0.40, 0.24)
    >>> free = pad_joint(faces, 0.008)
    >>> held = held_joint(faces, 0.008, free.height_mm)
    >>> abs(held.force_n) < 2e-5
    True
    """
    gamma, gravity = molten.gamma, molten.gravity
    solved = _equilibria(faces, solder_mm3, MESHES[:2], gravity=gravity, held_mm=height_mm)
    forces = []
    for mesh, unknown, pressure in solved:
        t = mesh.terms(unknown)
        forces.append(float(pressure * t.d_volume[-1] - t.d_area[-1] - gravity * t.d_moment[-1]))
    coarse, fine = forces
    force = _extrapolated(coarse, fine, MESHES[:2])
    mesh, unknown, pressure = solved[-1]
    return HeldJoint(
        force * gamma,
        abs(force - fine) * gamma,
        pressure * gamma,
        bool(pressure * height_mm > 2.0),
        _recedes(mesh, unknown),
    )


@lru_cache(maxsize=256)
def pad_sections(faces: Faces, solder_mm3: float, height_mm: float) -> tuple[Array, Array, Array]:
    """The joint's surface at a held height, for a drawing: sections at both short edges and at the long one.

    Gravity is left out and one mesh taken: good to a hundredth of the height.

    Returns
    -------
    (heel, toe, side) : arrays
        At −x and +x (x from the land's middle, up), and at the long edge (outward from the middle, up); each from
        the land up to the terminal. [mm]

    Raises
    ------
    InputError, ValidityError
    """
    ((mesh, unknown, _),) = _equilibria(faces, solder_mm3, DRAWN, held_mm=height_mm)
    heel, toe = mesh.ends(unknown)
    return heel, toe, mesh.section(unknown)


@lru_cache(maxsize=256)
def pad_surface(faces: Faces, solder_mm3: float, height_mm: float) -> Array:
    """The joint's whole free surface at a held height, for a solid: without gravity, on one mesh.

    Returns
    -------
    (rings, around, 3) array
        From the land's edge up to the terminal's, each ring counterclockwise seen from above: x along the length
        from the land's middle, y across, z over the land. [mm]

    Raises
    ------
    InputError, ValidityError

    Examples
    --------
    >>> surface = pad_surface(Faces(0.60, 0.25, 0.40, 0.24, 0.1), 0.008, 0.06)
    >>> surface.shape, float(surface[0, :, 2].max()), round(float(surface[-1, :, 2].min()), 6)
    ((9, 40, 3), 0.0, 0.06)
    """
    ((mesh, unknown, _),) = _equilibria(faces, solder_mm3, SOLID, held_mm=height_mm)
    return mesh.points(unknown).reshape(mesh.rings + 1, mesh.around, 3)


def _recedes(mesh: Mesh, unknown: Array) -> bool:
    """Whether the first ring of points dips below the land."""
    first = mesh.points(unknown)[mesh.around : 2 * mesh.around, 2]
    return bool(first.min() < -1e-6 * mesh.start_height)


def _equilibria(
    faces: Faces,
    volume: float,
    meshes: tuple[tuple[int, int], ...],
    *,
    load: float = 0.0,
    gravity: float = 0.0,
    held_mm: float | None = None,
) -> list[tuple[Mesh, Array, float]]:
    """Equilibrium on each mesh, every one but the first started from the one before; at a held height if given.

    Load [mm] and gravity [1/mm²] over the surface tension.
    """
    if not (math.isfinite(volume) and volume > 0):
        raise InputError("solder must be positive", found=f"{volume:g} mm³")
    if held_mm is not None and not (math.isfinite(held_mm) and held_mm > 0):
        raise InputError("height must be positive", found=f"{held_mm:g} mm")
    case = Case(volume, load, gravity, held_mm is not None)
    found: list[tuple[Mesh, Array, float]] = []
    for around, rings in meshes:
        mesh = Mesh(faces.land_mm, faces.terminal_mm, faces.offset_mm, around, rings, volume, faces.elliptic)
        if found:
            before, unknown, pressure = found[-1]
            start = before.carried(unknown, mesh)
            solved = refine(mesh, start, pressure, case)
            if solved is None:
                solved = minimise(mesh, start, pressure, case)
        else:
            start = mesh.start()
            if held_mm is not None:
                start[-1] = held_mm
            # What carries the terminal's edge at 60° to the vertical.
            solved = minimise(mesh, start, 0.5 * mesh.top_edge / mesh.top_area, case)
        found.append((mesh, *solved))
    return found
