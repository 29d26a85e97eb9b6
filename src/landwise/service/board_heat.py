"""Heat in the board: a steady field over each copper layer, laminate and vias between them, air on both faces."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, ValidityError

COPPER_W_MK = 385.0
LAMINATE_W_MK = 0.3  # through epoxy glass and along it about 0.3 to 0.8; the lower value is the cautious one
USUAL_CELLS = 48  # along the longer edge
MOST_CELLS = 400
Array = NDArray[np.floating]


@dataclass(frozen=True)
class Source:
    """Where heat enters the top face, evenly over a rectangle. [mm, W]

    `vias` is how many plated holes lie within it, each of `via_k_w` from face to face.
    """

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    power_w: float
    vias: int = 0
    via_k_w: float = 200.0


@dataclass(frozen=True)
class HeatBoard:
    """A board as heat sees it.

    Parameters
    ----------
    length_mm, width_mm : float
        [mm]
    copper_um : tuple of float
        Of each layer from the top as an even sheet: its thickness times its share of copper. [µm]
    gaps_mm : tuple of float
        Laminate between neighbouring layers, one fewer than layers. [mm]
    film_top, film_bottom : float
        To the air, natural convection and radiation together. [W/m²K]
    """

    length_mm: float
    width_mm: float
    copper_um: tuple[float, ...]
    gaps_mm: tuple[float, ...]
    film_top: float = 10.0
    film_bottom: float = 10.0
    laminate_w_mk: float = LAMINATE_W_MK


@dataclass(frozen=True, eq=False)
class HeatField:
    """Rise of each layer over the air, (layer, y, x), at the middles of the cells. [K]

    `lost_w` is what both faces give to the air; it equals what was put in.
    """

    x_mm: Array
    y_mm: Array
    rise_k: Array
    lost_w: float

    @property
    def top_k(self) -> Array:
        """Rise of the top face. [K]"""
        top: Array = self.rise_k[0]
        return top

    def at(self, x_mm: float, y_mm: float) -> float:
        """Rise of the top face of the cell at a place. [K]"""
        column = int(np.argmin(np.abs(self.x_mm - x_mm)))
        row = int(np.argmin(np.abs(self.y_mm - y_mm)))
        return float(self.top_k[row, column])

    def under(self, source: Source) -> float:
        """Mean rise of the top face under a source. [K]"""
        share = np.outer(
            _cover(self.y_mm, source.y_mm, source.width_mm), _cover(self.x_mm, source.x_mm, source.length_mm)
        )
        return float((share * self.top_k).sum() / share.sum())


def stack(
    layers: int, copper_um: float, shares: tuple[float, ...], thickness_mm: float, outer_gap_mm: float = 0.25
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Copper of each layer as even sheets [µm], and the laminate between them [mm].

    Parameters
    ----------
    shares : tuple of float
        Share of each layer that is connected copper, from the top; one value holds for all.
    outer_gap_mm : float
        Between an outer layer and the plane next to it; 0.25 to 0.5 on the thermal test boards of JESD51-11. [mm]

    Examples
    --------
    >>> stack(4, 35.0, (0.2, 0.9, 0.9, 0.2), 1.6)
    ((7.0, 31.5, 31.5, 7.0), (0.25, 1.1, 0.25))
    """
    each = shares * layers if len(shares) == 1 else shares
    if layers < 1 or len(each) != layers or min(each) < 0 or max(each) > 1:
        raise InputError(
            "one share between 0 and 1 for each layer",
            found=", ".join(f"{s:g}" for s in shares),
            expected=f"{layers} shares",
        )
    if min(copper_um, thickness_mm, outer_gap_mm) <= 0:
        raise InputError("copper and thicknesses must be positive")
    copper = tuple(round(copper_um * share, 6) for share in each)
    if layers == 1:
        return (*copper, 0.0), (thickness_mm,)
    if layers < 4 or 2 * outer_gap_mm >= thickness_mm:
        return copper, (thickness_mm / (layers - 1),) * (layers - 1)
    inner = (thickness_mm - 2 * outer_gap_mm) / (layers - 3)
    return copper, (outer_gap_mm, *(round(inner, 6),) * (layers - 3), outer_gap_mm)


def board_heat(board: HeatBoard, sources: tuple[Source, ...], cells: int = USUAL_CELLS) -> HeatField:
    """Steady temperature of a board with heat sources, its layers coupled through laminate and vias.

    Parameters
    ----------
    cells : int
        Along the longer edge; the unknowns are one a cell and layer.

    Raises
    ------
    InputError
        Sizes or films that aren't positive, a source off the board.
    ValidityError
        A mesh outside 4 to 400 cells.

    Notes
    -----
    k·t·∇²T − h·(T − Ta) − G·(T − T') + q = 0 on each layer, by finite volumes: what leaves one cell enters its
    neighbour, so that energy balances to the last digit. Edges lose nothing. Copper counts as an even sheet (copper of
    a layer that is cut into islands spreads less than its share says); each layer also spreads with half the laminate
    beside it. Vias join all layers. Films are the same everywhere and do not rise with temperature.

    Examples
    --------
    A small board with much copper is of one temperature, P/(h·A):

    >>> board = HeatBoard(20, 20, (3500, 3500), (0.1,))
    >>> field = board_heat(board, (Source(10, 10, 4, 4, 0.1),), cells=10)
    >>> print(f"{field.rise_k.mean():.2f} K against {0.1 / (20 * 400e-6):.2f} K")
    12.50 K against 12.50 K
    """
    _check(board, sources, cells)
    longer = max(board.length_mm, board.width_mm)
    nx = max(4, round(cells * board.length_mm / longer))
    ny = max(4, round(cells * board.width_mm / longer))
    area = board.length_mm / nx * board.width_mm / ny * 1e-6
    x = (np.arange(nx) + 0.5) * board.length_mm / nx
    y = (np.arange(ny) + 0.5) * board.width_mm / ny
    layers = len(board.copper_um)
    power, holes = np.zeros((ny, nx)), np.zeros((ny, nx))
    for source in sources:
        share = np.outer(_cover(y, source.y_mm, source.width_mm), _cover(x, source.x_mm, source.length_mm))
        share /= share.sum()
        power += source.power_w * share
        holes += source.vias / source.via_k_w * share
    right = np.zeros((layers, ny, nx))
    right[0] = power
    solve = _bare(board, nx, ny) if not holes.any() else _factor(board, nx, ny, holes)
    rise = solve(right.ravel()).reshape(layers, ny, nx)
    lost = float((rise[0].sum() * board.film_top + rise[-1].sum() * board.film_bottom) * area)
    return HeatField(x, y, rise, lost)


@lru_cache(maxsize=16)
def _bare(board: HeatBoard, nx: int, ny: int) -> Callable[[Array], Array]:
    """Solver of a board without vias, worked once for all the parts that are tried on it."""
    return _factor(board, nx, ny, np.zeros((ny, nx)))


def _factor(board: HeatBoard, nx: int, ny: int, holes: Array) -> Callable[[Array], Array]:
    """Solver of a board whose cells hold vias of so much conductance. [W/K]"""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import splu

    dx, dy = board.length_mm / nx * 1e-3, board.width_mm / ny * 1e-3
    area, layers = dx * dy, len(board.copper_um)
    number = np.arange(layers * nx * ny).reshape(layers, ny, nx)
    rows: list[NDArray[np.int64]] = []
    columns: list[NDArray[np.int64]] = []
    values: list[NDArray[np.floating]] = []

    def couple(a: NDArray[np.int64], b: NDArray[np.int64], conductance: Array | float) -> None:
        g = np.broadcast_to(np.asarray(conductance, dtype=float), a.shape).ravel()
        i, j = a.ravel(), b.ravel()
        rows.extend((i, j, i, j))
        columns.extend((j, i, i, j))
        values.extend((-g, -g, g, g))

    thickness = sum(board.gaps_mm)
    beside = np.array([0.0, *board.gaps_mm, 0.0])
    for layer, um in enumerate(board.copper_um):
        spread = COPPER_W_MK * um * 1e-6 + board.laminate_w_mk * (beside[layer] + beside[layer + 1]) / 2 * 1e-3
        couple(number[layer, :, :-1], number[layer, :, 1:], spread * dy / dx)
        couple(number[layer, :-1, :], number[layer, 1:, :], spread * dx / dy)
    for layer, gap in enumerate(board.gaps_mm):
        through = board.laminate_w_mk / (gap * 1e-3) * area + holes * thickness / gap
        couple(number[layer], number[layer + 1], through)
    for layer, film in ((0, board.film_top), (layers - 1, board.film_bottom)):
        rows.append(number[layer].ravel())
        columns.append(number[layer].ravel())
        values.append(np.full(nx * ny, film * area))
    matrix = coo_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(number.size, number.size)
    )
    solve: Callable[[Array], Array] = splu(matrix.tocsc(), "MMD_AT_PLUS_A", 0.0, options={"SymmetricMode": True}).solve
    return solve


def _cover(middles: Array, centre: float, size: float) -> Array:
    """How much of each cell lies under a stretch of the axis, as a share of the cell."""
    step = middles[1] - middles[0]
    low, high = centre - size / 2, centre + size / 2
    under = np.clip(np.minimum(high, middles + step / 2) - np.maximum(low, middles - step / 2), 0, None)
    share: Array = under / step
    return share


def _check(board: HeatBoard, sources: tuple[Source, ...], cells: int) -> None:
    positive = (
        board.length_mm,
        board.width_mm,
        board.laminate_w_mk,
        board.film_top + board.film_bottom,
        *board.gaps_mm,
    )
    if min(positive) <= 0 or min(*board.copper_um, board.film_top, board.film_bottom) < 0:
        raise InputError("sizes must be positive, copper and films not negative, and one face must lose heat")
    if len(board.copper_um) < 2 or len(board.gaps_mm) != len(board.copper_um) - 1:
        raise InputError("a board has two faces, and one gap fewer than layers", found=f"{len(board.copper_um)} layers")
    if not 4 <= cells <= MOST_CELLS:
        raise ValidityError("no mesh of that size", found=f"{cells} cells", expected=f"4 to {MOST_CELLS}")
    for source in sources:
        if min(source.length_mm, source.width_mm, source.via_k_w) <= 0 or source.vias < 0 or source.power_w < 0:
            raise InputError("a source needs a size, and power and vias that aren't negative")
        if not (
            source.length_mm / 2 <= source.x_mm <= board.length_mm - source.length_mm / 2
            and source.width_mm / 2 <= source.y_mm <= board.width_mm - source.width_mm / 2
        ):
            raise InputError(
                "a source off the board",
                found=f"{source.length_mm:g} × {source.width_mm:g} mm at {source.x_mm:g}, {source.y_mm:g} mm",
                expected=f"within {board.length_mm:g} × {board.width_mm:g} mm",
            )


def via_resistance(hole_mm: float, plating_um: float, board_mm: float) -> float:
    """Thermal resistance of one plated hole from face to face, L/(kπ(ro² − ri²)). [K/W]

    `hole_mm` is the drilled hole; the plating lies on its wall, inwards.

    >>> print(f"{via_resistance(0.3, 25, 1.6):.1f}")
    192.4
    """
    outer, inner = hole_mm / 2 * 1e-3, (hole_mm / 2 - plating_um * 1e-3) * 1e-3
    if min(hole_mm, plating_um, board_mm) <= 0 or inner < 0:
        raise InputError(
            "a plated hole needs a hole wider than twice its plating", found=f"{hole_mm:g} mm, {plating_um:g} µm"
        )
    return board_mm * 1e-3 / (COPPER_W_MK * math.pi * (outer**2 - inner**2))


def slab_spreading(side_mm: float, depth_mm: float, conductivity: float, angle_deg: float = 45.0) -> float:
    """Resistance of a slab under a square source that spreads at an angle, d/(λ·a·(a + 2d·tan α)). [K/W]

    >>> print(f"{slab_spreading(2.0, 1.5, 0.3):.1f}")
    500.0
    """
    if min(side_mm, depth_mm, conductivity) <= 0 or not 0 <= angle_deg < 90:
        raise InputError("sizes and conductivity must be positive, the angle below 90°")
    a, d = side_mm * 1e-3, depth_mm * 1e-3
    return d / (conductivity * a * (a + 2 * d * math.tan(math.radians(angle_deg))))
