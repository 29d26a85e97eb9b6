"""From drawn objects to openings: placed, clear ones cut out, touching dark ones merged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from landwise.errors import InputError
from landwise.fabdata.gerber.apertures import parts_of, shape_of
from landwise.fabdata.gerber.model import Drawn, Floats, Limits, Objects, Pads, UnitShape
from landwise.shapes import Geometry, as_array

# one entry for each column of `Pads`, numbers, texts and statements, until the columns are made
Row = tuple[Any, ...]
MOVED_AT_ONCE = 100_000  # corners: some 5 MB while they are moved
AT_ONCE = 2000  # shapes whose overlaps are counted together


def compose(
    drawn: Sequence[Drawn],
    *,
    merge: bool = True,
    most_overlaps: int = Limits.overlaps,
    most_clearings: int = Limits.clearings,
) -> Pads:
    """The openings of a layer; without `merge`, dark objects stay apart even where they touch.

    Raises
    ------
    InputError
        Where more pairs of shapes overlap than can be joined in reasonable time, or clear follows dark so often that
        too many shapes must be looked through.

    Examples
    --------
    >>> from landwise.fabdata.gerber.apertures import standard
    >>> two = [Drawn(standard("R", [1.0, 1.0]), x, 0.0, True, 10, 1, (1,)) for x in (0.0, 0.5)]
    >>> float(compose(two).area_mm2[0])
    1.5
    """
    rows: list[Row] = []
    polygons: Objects = np.zeros(0, dtype=object)
    start = looked = 0
    while start < len(drawn):
        end = start
        dark = drawn[start].dark
        while end < len(drawn) and drawn[end].dark == dark:
            end += 1
        run = drawn[start:end]
        placed, its = _placed(run)
        if dark:
            polygons = np.concatenate([polygons, placed])
            rows += its
        elif len(polygons) and len(placed):
            looked += len(polygons)
            if looked > most_clearings:
                raise InputError(
                    "clear follows dark too often",
                    found=f"more than {most_clearings} shapes to look through",
                    expected=f"at most {most_clearings}; draw all dark objects first",
                )
            rows, polygons = _cleared(rows, polygons, placed, most_overlaps)
        start = end
    if merge:
        rows, polygons = _merged(rows, polygons, most_overlaps)
    return _columns(rows, polygons)


def _placed(run: Sequence[Drawn]) -> tuple[Objects, list[Row]]:
    """Polygons in place; each unit shape's coordinates are repeated for all its places at once."""
    import shapely

    by_shape: dict[int, tuple[UnitShape, list[int], list[tuple[float, float]]]] = {}
    rows: list[Row] = []
    for one in run:
        for shape in one.shapes:
            entry = by_shape.setdefault(id(shape), (shape, [], []))
            entry[1].append(len(rows))
            entry[2].append((one.x_mm, one.y_mm))
            rows.append((one, shape))
    polygons: Objects = np.empty(len(rows), dtype=object)
    for shape, places, points in by_shape.values():
        where = np.array(points)
        if len(places) == 1:
            polygons[places[0]] = (
                shape.polygon if not where.any() else shapely.transform(shape.polygon, lambda xy, at=where[0]: xy + at)
            )
            continue
        vertices = int(shapely.get_num_coordinates(shape.polygon))
        step = max(1, MOVED_AT_ONCE // vertices)
        for start in range(0, len(places), step):
            some = places[start : start + step]
            many = np.empty(len(some), dtype=object)
            many[:] = shape.polygon
            shift = np.repeat(where[start : start + step], vertices, axis=0)
            polygons[some] = shapely.transform(many, lambda xy, shift=shift: xy + shift)
    return polygons, [_row(one, shape) for one, shape in rows]


def _row(one: Drawn, shape: UnitShape) -> Row:
    if one.flash:
        x, y = one.x_mm, one.y_mm
    else:
        box = shape.polygon.bounds
        x, y = (box[0] + box[2]) / 2 + one.x_mm, (box[1] + box[3]) / 2 + one.y_mm
    return (
        shape.area_mm2,
        shape.wall_mm,
        x,
        y,
        shape.length_mm,
        shape.width_mm,
        shape.angle_deg,
        shape.corner_mm,
        shape.kind,
        one.component,
        one.pin,
        one.line,
        one.code,
        None if one.copied else one.statements,
        not one.flash and one.code >= 0,
    )


def _joint_statements(rows: Sequence[Row]) -> tuple[int, ...] | None:
    if any(row[13] is None for row in rows):
        return None
    return tuple(sorted({number for row in rows for number in row[13]}))


def _fresh(part: Geometry, rows: Sequence[Row], kind: str) -> Row:
    """The row of a new shape that stems from several."""
    shape = shape_of(part, kind="polygon")[0]
    box = part.bounds
    names = {row[9] for row in rows if row[9]}
    pins = {row[10] for row in rows if row[10]}
    return (
        shape.area_mm2,
        shape.wall_mm,
        (box[0] + box[2]) / 2,
        (box[1] + box[3]) / 2,
        shape.length_mm,
        shape.width_mm,
        shape.angle_deg,
        shape.corner_mm,
        shape.kind if shape.kind != "polygon" else kind,
        names.pop() if len(names) == 1 else "",
        pins.pop() if len(pins) == 1 else "",
        min(row[11] for row in rows),
        rows[0][12] if len(rows) == 1 else -1,
        _joint_statements(rows),
        all(row[14] for row in rows),
    )


def _cleared(rows: list[Row], polygons: Objects, clear: Objects, most: int) -> tuple[list[Row], Objects]:
    import shapely

    _bounded(clear, polygons, most)
    dark_index, clear_index = shapely.STRtree(clear).query(polygons, predicate="intersects")
    if not len(dark_index):
        return rows, polygons
    order = np.argsort(dark_index, kind="stable")
    dark_index, clear_index = dark_index[order], clear_index[order]
    hit, first = np.unique(dark_index, return_index=True)
    bounds = np.append(first, len(dark_index))
    new: dict[int, list[Geometry]] = {}
    for k, which in enumerate(hit):
        cutters = clear[clear_index[bounds[k] : bounds[k + 1]]]
        new[int(which)] = parts_of(shapely.difference(polygons[which], shapely.union_all(cutters)))
    out_rows: list[Row] = []
    out: list[Geometry] = []
    for k, row in enumerate(rows):
        if k not in new:
            out_rows.append(row)
            out.append(polygons[k])
            continue
        for part in new[k]:
            out_rows.append((*_fresh(part, [row], "merged")[:13], None, row[14]))
            out.append(part)
    return out_rows, as_array(out)


def _bounded(one: Objects, other: Objects, most: int) -> None:
    """Refuse more overlaps than can be worked, before any is: boxes are counted a few thousand shapes at a time."""
    import shapely

    tree = shapely.STRtree(one)
    count = 0
    for start in range(0, len(other), AT_ONCE):
        count += tree.query(other[start : start + AT_ONCE]).shape[1]
        if count - len(other) * (one is other) > most:
            raise InputError(
                "too many shapes lie over each other", found=f"more than {most} pairs", expected=f"at most {most}"
            )


def _merged(rows: list[Row], polygons: Objects, most: int) -> tuple[list[Row], Objects]:
    import shapely
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(rows)
    if count < 2:
        return rows, polygons
    _bounded(polygons, polygons, most)
    one, other = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    apart = one < other
    one, other = one[apart], other[apart]
    if not len(one):
        return rows, polygons
    graph = coo_array((np.ones(len(one), dtype=np.int8), (one, other)), shape=(count, count))
    groups, label = connected_components(graph, directed=False)
    size = np.bincount(label, minlength=groups)
    order = np.argsort(label, kind="stable")
    bounds = np.append(0, np.cumsum(size))
    first = np.full(groups, count)
    np.minimum.at(first, label, np.arange(count))
    out_rows: list[Row] = []
    out: list[Geometry] = []
    for group in np.argsort(first):
        members = order[bounds[group] : bounds[group + 1]]
        if len(members) == 1:
            out_rows.append(rows[members[0]])
            out.append(polygons[members[0]])
            continue
        its = [rows[k] for k in members]
        for part in parts_of(shapely.union_all(polygons[members])):
            inside = _one_of(part, its, polygons[members])
            out_rows.append(inside if inside is not None else _fresh(part, its, "merged"))
            out.append(part)
    return out_rows, as_array(out)


def _one_of(part: Geometry, its: Sequence[Row], polygons: Objects) -> Row | None:
    """Where one shape holds all the others (a pad painted over by strokes), its row with all the statements."""
    for row, polygon in zip(its, polygons, strict=True):
        if abs(polygon.area - part.area) < 1e-9 * part.area:
            return (*row[:13], _joint_statements(its), row[14])
    return None


def _columns(rows: list[Row], polygons: Objects) -> Pads:
    def numbers(column: int) -> Floats:
        return np.array([row[column] for row in rows], dtype=np.float64)

    def things(column: int) -> Objects:
        return as_array([row[column] for row in rows])

    area, wall, x, y, length, width, angle, corner = (numbers(column) for column in range(8))
    line, code = (np.array([row[column] for row in rows], dtype=np.int64) for column in (11, 12))
    return Pads(
        polygons,
        area,
        wall,
        x,
        y,
        length,
        width,
        angle,
        corner,
        things(8),
        things(9),
        things(10),
        line,
        code,
        things(13),
        np.array([row[14] for row in rows], dtype=bool),
    )
