"""Panels built: one board's paste film repeated into a panel's, and fiducials about it."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.fabdata.gerber import repeatable, repeated, write_gerber
from landwise.review.jobs import Film
from landwise.review.model import Array
from landwise.review.reviews import SideReview
from landwise.shapes import Geometry
from landwise.version import __version__

MOST_COPIES = 400
FIDUCIAL_MM = 1.0  # the usual diameter; common practice, no source
RIM_MM = 5.0  # from the outermost board to a fiducial's middle; common practice, no source
MOST_OPENINGS = 2_000_000


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


def arranged(
    polygons: NDArray[np.object_], outline: Geometry | None, text: str
) -> tuple[Array, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]]:
    """A panel's array, and the places of three fiducials about it. [mm]

    Parameters
    ----------
    polygons : array of shapely polygons
        One board's openings. [mm]
    outline : polygon or None
        The board's edge; without it boards are set by the extent of their openings, which is said by the caller.
    text : str
        As `parsed` takes it.

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
    high_x, high_y = box[2] + (columns - 1) * pitch_x, box[3] + (rows - 1) * pitch_y
    places = (
        (float(box[0] - RIM_MM), float(box[1] - RIM_MM)),
        (float(high_x + RIM_MM), float(box[1] - RIM_MM)),
        (float(box[0] - RIM_MM), float(high_y + RIM_MM)),
    )
    return Array(columns, rows, pitch_x, pitch_y), places


def written_out(polygons: object, array: Array, side: str = "top") -> bytes:
    """A panel's paste layer with every copy of the openings drawn: for films that can't stand in a repeat."""
    import shapely

    shapes: list[Geometry] = []
    for column in range(array.columns):
        for row in range(array.rows):
            move = np.array([column * array.pitch_x_mm, row * array.pitch_y_mm])
            shapes += list(shapely.transform(polygons, lambda xy, move=move: xy + move))
    attributes = {".FileFunction": ("Paste", "Top" if side == "top" else "Bot"), ".Part": ("Array",)}
    return write_gerber(shapes, attributes)


def panel_film(film: Film, side: SideReview, array: Array, corrected: bytes | None) -> bytes:
    """A panel's paste layer: the board's own film, corrected where it was, within one step and repeat.

    A film that lay beside its copper, holds labels that are no openings, or steps or blocks of its own is drawn anew
    as outlines, one by one.
    """
    whole = len(film.rows) == len(film.layer.pads)
    if side.given.seat or not whole or not repeatable(film.layer):
        return written_out(side.after.polygon, array, side.side)
    head = (f"Panel of {array.columns} x {array.rows} by landwise {__version__}, from {film.layer.file}",)
    pitch = (array.pitch_x_mm, array.pitch_y_mm)
    return repeated(film.layer, array.columns, array.rows, pitch, data=corrected or b"", head=head)


def fiducial_layer(places: tuple[tuple[float, float], ...]) -> bytes:
    """The fiducials as a layer of their own: half-etched or filled marks are no openings for paste."""
    import shapely

    shapes = [shapely.Point(x, y).buffer(FIDUCIAL_MM / 2, quad_segs=32) for x, y in places]
    flashes = [(f"C,{FIDUCIAL_MM:.6f}", x, y) for x, y in places]
    return write_gerber(shapes, {".FileFunction": ("Other", "Stencil fiducials")}, flashes=flashes)
