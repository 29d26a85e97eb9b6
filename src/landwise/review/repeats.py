"""Films that repeat their board by a step and repeat: the image is reviewed once and the copies are counted.

Only what a film states is taken for an array here; boards drawn one by one are recognised in `panelling`.
"""

from __future__ import annotations

import numpy as np

from landwise.fabdata.gerber import Layer, read_gerber
from landwise.fabdata.gerber.model import Repeat
from landwise.fabdata.layers import JobLayer
from landwise.review.model import Array, Bools, Floats

REPEAT = b"SRX"
SAME_MM = 1e-4  # films of one panel may round their pitch otherwise


def images(one: JobLayer) -> tuple[Layer, Array | None, Bools | None]:
    """A paste film; where it repeats one image, that image alone, the array, and which rows are of it.

    A film whose copies reach into each other, that steps two images otherwise, or whose image holds blocks or
    clear shapes is handed over with all copies written out.
    """
    if REPEAT not in one.data:
        return one.layer, None, None
    alone = read_gerber(one.data, one.file, copies=False)
    found = array_in(alone)
    return (one.layer, None, None) if found is None else (alone, *found)


def array_in(layer: Layer) -> tuple[Array, Bools] | None:
    """The array that a film's repeats make of its image, and which rows lie within.

    Examples
    --------
    >>> from landwise.fabdata.gerber import read_gerber
    >>> film = b"%FSLAX46Y46*%%MOMM*%%ADD10R,1X1*%%SRX3Y2I5.0J4.0*%D10*X0Y0D03*%SR*%X0Y-9000000D03*M02*"
    >>> array, inside = array_in(read_gerber(film, "a.gtp", copies=False))
    >>> array, inside.tolist()
    (Array(columns=3, rows=2, pitch_x_mm=5.0, pitch_y_mm=4.0, empty=0), [True, False])
    """
    import shapely

    repeats = [one for one in layer.repeats if one.objects]
    kinds = {(one.columns, one.rows, round(one.pitch_x_mm, 4), round(one.pitch_y_mm, 4)) for one in repeats}
    if layer.copied or len(kinds) != 1:
        return None
    inside = np.zeros(len(layer.pads), dtype=bool)
    for row, statements in enumerate(layer.pads.statements):
        if statements is None:
            return None
        its = [any(one.first < number < one.last for one in repeats) for number in statements]
        if any(its) and not all(its):
            return None
        inside[row] = bool(its) and all(its)
    if not inside.any():
        return None
    first = repeats[0]
    array = Array(
        first.columns,
        first.rows,
        first.pitch_x_mm if first.columns > 1 else 0.0,
        first.pitch_y_mm if first.rows > 1 else 0.0,
    )
    box = shapely.total_bounds(layer.pads.polygon[inside])
    clear_x = array.columns == 1 or array.pitch_x_mm > box[2] - box[0]
    clear_y = array.rows == 1 or array.pitch_y_mm > box[3] - box[1]
    return (array, inside) if clear_x and clear_y else None


def cell_of(polygons: object, array: Array) -> Floats:
    """The box that one image has for itself: its openings and half the way to its neighbours'. [mm]"""
    import shapely

    box = np.asarray(shapely.total_bounds(polygons), dtype=np.float64)
    for axis, (count, pitch) in enumerate(((array.columns, array.pitch_x_mm), (array.rows, array.pitch_y_mm))):
        gap = (pitch - (box[2 + axis] - box[axis])) / 2 if count > 1 else np.inf
        box[axis], box[2 + axis] = box[axis] - gap, box[2 + axis] + gap
    return box


def within(x_mm: Floats, y_mm: Floats, cell: Floats) -> Bools:
    """Which places lie in the box."""
    found: Bools = (x_mm >= cell[0]) & (x_mm <= cell[2]) & (y_mm >= cell[1]) & (y_mm <= cell[3])
    return found


def copper_image(one: JobLayer, array: Array) -> Layer:
    """A copper or mask film: its image where it repeats as the paste does, otherwise all of it; shapes kept apart."""
    if REPEAT in one.data:
        alone = read_gerber(one.data, one.file, merge=False, copies=False)
        if alone.repeats and all(_alike(each, array) for each in alone.repeats if each.objects):
            return alone
    return read_gerber(one.data, one.file, merge=False)


def _alike(repeat: Repeat, array: Array) -> bool:
    counts = (repeat.columns, repeat.rows) == (array.columns, array.rows)
    x = array.columns == 1 or abs(repeat.pitch_x_mm - array.pitch_x_mm) < SAME_MM
    y = array.rows == 1 or abs(repeat.pitch_y_mm - array.pitch_y_mm) < SAME_MM
    return counts and x and y


def said(array: Array, rim: int, *, drawn: bool = False) -> str:
    """One sentence on the array, for the notes; `drawn` for copies that are drawn one by one."""
    more = f"; {rim} openings outside of it are left as they are" if rim else ""
    doubt = "; if it is one board that repeats itself, give --no-panel" if drawn else ""
    return (
        f"{'draws' if drawn else 'repeats'} {array.says(3)}: one of the {array.boards} is reviewed, and a corrected"
        f" film changes all of them{more}{doubt}"
    )
