"""Panels: arrays that repeat a board are recognised, and a board is repeated into a panel's stencil with fiducials."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from landwise.errors import InputError
from landwise.fabdata.gerber import write_gerber
from landwise.review.model import Openings

MOST_COPIES = 400
FIDUCIAL_MM = 1.0  # the usual diameter; common practice, no source
RIM_MM = 5.0  # from the outermost board to a fiducial's middle; common practice, no source
REPEAT_SHARE = 0.9  # of the openings that must come again for an array to be one
MOST_OPENINGS = 2_000_000


@dataclass(frozen=True)
class Array:
    """Boards in columns and rows, at a pitch. [mm]"""

    columns: int
    rows: int
    pitch_x_mm: float
    pitch_y_mm: float

    @property
    def boards(self) -> int:
        """How many."""
        return self.columns * self.rows


def parsed(text: str) -> tuple[int, int, float | None, float | None]:
    """Columns, rows, and the gap between boards where told: `3x4`, `3x4 gap 2`, `3x4 gap 2x5`. [mm]

    >>> parsed("3x4 gap 2")
    (3, 4, 2.0, 2.0)
    """
    match = re.fullmatch(
        r"\s*(\d{1,3})\s*[x×]\s*(\d{1,3})(?:\s+gap\s+([\d.]+)(?:\s*[x×]\s*([\d.]+))?(?:\s*mm)?)?\s*", text
    )
    if match is None or not 1 <= int(match[1]) * int(match[2]) <= MOST_COPIES:
        raise InputError(
            "a panel can't be understood",
            place="--panel",
            found=text[:40],
            expected=f"columns x rows, at most {MOST_COPIES} boards, and a gap in mm: 3x4 gap 2",
        )
    gap_x = float(match[3]) if match[3] else None
    return int(match[1]), int(match[2]), gap_x, float(match[4]) if match[4] else gap_x


def array_of(paste: Openings) -> Array | None:
    """The array that a film repeats; None for a single board.

    Notes
    -----
    The shift that brings most openings onto openings of the same size, along x and along y, is the pitch.

    Examples
    --------
    >>> import shapely
    >>> from landwise.review.building import openings
    >>> board = [(0, 0, 1, 1), (3, 1, 4, 1.5), (1, 4, 2, 4.4), (5, 5, 5.3, 6), (7, 2, 7.2, 2.9), (2, 7, 2.5, 7.2)]
    >>> panel = [shapely.box(a + 12 * k, b, c + 12 * k, d) for k in range(3) for a, b, c, d in board]
    >>> array_of(openings(panel))
    Array(columns=3, rows=1, pitch_x_mm=12.0, pitch_y_mm=0.0)
    """
    if len(paste) < 12:
        return None
    along = _repeat(paste, 0)
    across = _repeat(paste, 1)
    if along is None and across is None:
        return None
    columns, pitch_x = along or (1, 0.0)
    rows, pitch_y = across or (1, 0.0)
    return Array(columns, rows, pitch_x, pitch_y)


def _repeat(paste: Openings, axis: int) -> tuple[int, float] | None:
    """How often, and at which pitch, the whole film comes again along an axis."""
    from scipy.spatial import cKDTree

    at = np.column_stack([paste.x_mm, paste.y_mm])
    size = np.column_stack([paste.length_mm, paste.width_mm])
    table = np.column_stack([at, 50 * size])
    tree = cKDTree(table)
    reach = float(np.ptp(at[:, axis]))
    # The film's first opening comes again at the pitch: every opening of its size in line is a candidate.
    first = int(np.argmin(at[:, axis] + 1e-3 * at[:, 1 - axis]))
    line = np.abs(at[:, 1 - axis] - at[first, 1 - axis]) < 0.02
    same = np.all(np.abs(size - size[first]) < 0.005, axis=1)
    steps = np.sort(at[line & same, axis] - at[first, axis])
    for pitch in steps[(steps > 2.0) & (steps <= reach / 1.0)][:400]:
        shift = np.zeros(4)
        shift[axis] = pitch
        inside = at[:, axis] + pitch <= at[:, axis].max() + 0.01
        count = round(reach / pitch + 0.5)
        # Of n boards, those that have a next one are n - 1 of n.
        if count < 2 or inside.sum() < 0.4 * len(at):
            continue
        near, _ = tree.query(table[inside] + shift, distance_upper_bound=0.05)
        share = float(np.isfinite(near).mean())
        if share < REPEAT_SHARE:
            continue
        own = np.ptp(at[~inside, axis]) if (~inside).any() else 0.0
        boards = 1 + round((reach - own) / pitch)
        if boards >= 2 and len(paste) % boards == 0:
            return int(boards), float(pitch)
    return None


def build(
    polygons: Any, outline: Any, text: str, side: str = "top"
) -> tuple[bytes, Array, tuple[tuple[float, float], ...]]:
    """A panel's paste layer: the openings of one board repeated, with openings for three fiducials.

    Parameters
    ----------
    polygons : array of shapely polygons
        One board's openings. [mm]
    outline : polygon or None
        The board's edge; without it boards are set by the extent of their openings, which is said by the caller.
    text : str
        As `parsed` takes it.
    side : {"top", "bottom"}

    Raises
    ------
    InputError
        Where the panel can't be understood, or would hold more openings than a film may.
    """
    import shapely

    columns, rows, gap_x, gap_y = parsed(text)
    if len(polygons) * columns * rows > MOST_OPENINGS:
        raise InputError(
            "a panel of too many openings",
            place="--panel",
            found=f"{len(polygons)} × {columns * rows}",
            expected=f"at most {MOST_OPENINGS}",
        )
    box = outline.bounds if outline is not None else shapely.total_bounds(polygons)
    pitch_x = float(box[2] - box[0]) + (2.0 if gap_x is None else gap_x)
    pitch_y = float(box[3] - box[1]) + (2.0 if gap_y is None else gap_y)
    shapes: list[Any] = []
    for column in range(columns):
        for row in range(rows):
            move = np.array([column * pitch_x, row * pitch_y])
            shapes += list(shapely.transform(polygons, lambda xy, move=move: xy + move))
    high_x, high_y = box[2] + (columns - 1) * pitch_x, box[3] + (rows - 1) * pitch_y
    places = (
        (float(box[0] - RIM_MM), float(box[1] - RIM_MM)),
        (float(high_x + RIM_MM), float(box[1] - RIM_MM)),
        (float(box[0] - RIM_MM), float(high_y + RIM_MM)),
    )
    attributes = {".FileFunction": ("Paste", "Top" if side == "top" else "Bot"), ".Part": ("Array",)}
    return write_gerber(shapes, attributes), Array(columns, rows, pitch_x, pitch_y), places


def fiducial_layer(places: tuple[tuple[float, float], ...]) -> bytes:
    """The fiducials as a layer of their own: half-etched or filled marks are no openings for paste."""
    import shapely

    shapes = [shapely.Point(x, y).buffer(FIDUCIAL_MM / 2, quad_segs=32) for x, y in places]
    flashes = [(f"C,{FIDUCIAL_MM:.6f}", x, y) for x, y in places]
    return write_gerber(shapes, {".FileFunction": ("Other", "Stencil fiducials")}, flashes=flashes)
