"""Lands from copper, mask and drill: what of the copper is solderable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from landwise.review.measuring import discs, measured
from landwise.review.model import Basis, Bools, Floats, Hole, Ints, Lands, Objects, Openings, PadColumns
from landwise.shapes import Geometry

BARE_SHARE = 0.5  # a copper shape is a land when at least this much of it lies free of mask
LEAST_LAND_MM2 = 0.003  # slivers of copper at a mask's edge are no lands; the least land in use is 0.06 mm wide
LARGEST_PAD_MM2 = 150.0
STEP_OUT_MM = 0.03  # where the outline is probed for copper that runs on
PROBES = 4  # a side of a land
STUB_SHARE = 0.15  # bare copper beside a pad that adds less is a track on its way in, or a corner of its mask
COLLAR_MM = 0.11  # bare copper this near to a pad lies between its edge and the mask's: twice the usual clearance


def lands_of(paste: Openings, copper: PadColumns | None, mask: PadColumns | None, holes: Hole | None = None) -> Lands:
    """The solderable lands of one side.

    Parameters
    ----------
    paste : Openings
        Used as lands where neither copper nor mask is given.
    copper, mask : PadColumns or None
        The side's layers; mask shapes are openings.
    holes : Hole, optional

    Notes
    -----
    A copper shape of which half or more lies in mask openings is a land, cut to the opening; touching ones
    are one land. Where planes or drawn copper lie bare in an opening further out than the mask's usual clearance, or
    where an opening has no pad, copper cut by mask is the land. Without mask every small copper shape under paste is
    a land, without copper every opening, without both every aperture; `basis` says which.
    """
    if copper is None and mask is None:
        return _lands(paste.polygon, "paste", holes, paste.component, paste.pin, None)
    if copper is None:
        assert mask is not None
        return _lands(mask.polygon, "mask", holes, None, None, None)
    if mask is None:
        under = _touched(copper.polygon, paste.polygon)
        small = under & (copper.area_mm2 < 400.0)
        return _lands(copper.polygon[small], "copper", holes, copper.component[small], copper.pin[small], None)
    polygons, names, pins = _bare_copper(copper, mask)
    return _lands(polygons, "copper and mask", holes, names, pins, mask.polygon)


def _touched(shapes: Objects, by: Objects) -> Bools:
    import shapely

    first, _ = shapely.STRtree(by).query(shapes, predicate="intersects")
    found = np.zeros(len(shapes), dtype=bool)
    found[first] = True
    return found


def _bare_copper(copper: PadColumns, mask: PadColumns) -> tuple[Objects, Objects, Objects]:
    """Lands from flashed shapes first; where further copper lies bare around them, copper cut by mask decides."""
    import shapely

    openings = mask.polygon
    # A pad of odd shape is often a flash and a region over it; regions far larger than pads are planes.
    small = (copper.area_mm2 < LARGEST_PAD_MM2) & (shapely.get_num_coordinates(copper.polygon) < 2000)
    flashed = copper.kind == "flash"
    padlike = flashed | ((copper.kind == "region") & small)
    pads = np.flatnonzero(padlike)
    lands = _flashed_lands(copper, pads, openings)
    found, names, pins = list(lands.polygon), list(lands.names), list(lands.pins)
    rest = np.flatnonzero(~lands.used)
    near, opening = shapely.STRtree(openings).query(copper.polygon[rest], predicate="intersects")
    if len(near):
        clipped = _clipped(copper.polygon[rest[near]], openings[opening])
        is_plane = copper.kind[rest[near]] != "stroke"
        order = np.argsort(opening, kind="stable")
        for rows in np.split(order, np.flatnonzero(np.diff(opening[order])) + 1):
            its = lands.in_opening.get(int(opening[rows[0]]), [])
            made = _with_bare([found[k] for k in its], clipped[rows], bool(is_plane[rows].any()))
            for k, shape in zip(its, made, strict=False):
                found[k] = shape
            found += made[len(its) :]
            names += [""] * (len(made) - len(its))
            pins += [""] * (len(made) - len(its))
    columns = (np.array([*column, None], dtype=object)[:-1] for column in (found, names, pins))
    polygons, references, terminals = columns
    return polygons, references, terminals


def _with_bare(lands: list[Geometry], clipped: Objects, plane: bool) -> list[Geometry]:
    """The lands of one mask opening with what further copper lies bare in it; lands of their own after them.

    A track that enters a pad leaves a stub between its edge and the mask's, and a plane around it a collar, which
    don't make another land of it: paste is drawn for the pad. Copper that lies bare further out (a pad drawn around
    a small anchor, an opening cut out of a plane) does.
    """
    import shapely

    if lands and not plane and float(shapely.area(clipped).sum()) < STUB_SHARE * min(land.area for land in lands):
        return lands
    whole = shapely.union_all(np.array([*lands, *clipped], dtype=object))
    out = list(lands)
    for part in _polygons(whole):
        held = [k for k, land in enumerate(lands) if shapely.intersects(part, shapely.point_on_surface(land))]
        if not held:
            if not lands or part.area >= 0.25 * max(land.area for land in lands):
                out.append(part)
        elif len(held) == 1:
            land = lands[held[0]]
            if part.area >= (1 + STUB_SHARE) * land.area:
                beyond = part.difference(land.buffer(COLLAR_MM)).area
                if beyond >= STUB_SHARE * land.area:
                    out[held[0]] = part
    return out


def _polygons(shape: object) -> list[Geometry]:
    """The areas of a shape that are large enough to be lands."""
    import shapely

    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area >= LEAST_LAND_MM2]


def _clipped(shapes: Objects, openings: Objects) -> Objects:
    """Each shape cut to its opening; planes are first cut to the opening's box, which is far cheaper."""
    import shapely

    out: Objects = np.empty(len(shapes), dtype=object)
    box = shapely.bounds(openings)
    for at, (shape, opening) in enumerate(zip(shapes, openings, strict=True)):
        if shapely.get_num_coordinates(shape) > 200:
            shape = shapely.clip_by_rect(shape, *box[at])
            if not shapely.is_valid(shape):
                shape = shapely.buffer(shape, 0)
        out[at] = shapely.intersection(shape, opening)
    return out


@dataclass(frozen=True)
class _Flashed:
    """Lands from pads: outlines, names, which pads made them (`used`, over all copper), and those of each opening."""

    polygon: list[Geometry]
    names: list[str]
    pins: list[str]
    used: Bools
    in_opening: Mapping[int, list[int]]


def _flashed_lands(copper: PadColumns, pads: Ints, openings: Objects) -> _Flashed:
    import shapely

    pad, opening = shapely.STRtree(openings).query(copper.polygon[pads], predicate="intersects")
    shapes = copper.polygon[pads][pad]
    inside = within(shapes, openings[opening])
    pieces = shapes.copy()
    pieces[~inside] = shapely.intersection(shapes[~inside], openings[opening[~inside]])
    bare = np.zeros(len(pads))
    np.add.at(bare, pad, shapely.area(pieces))
    is_land = (bare >= BARE_SHARE * copper.area_mm2[pads])[pad] & (shapely.area(pieces) >= LEAST_LAND_MM2)
    pad, opening, pieces = pad[is_land], opening[is_land], pieces[is_land]
    used = np.zeros(len(copper.polygon), dtype=bool)
    used[pads[pad]] = True
    label = _touching(pieces)
    # Of shapes that touch, the largest first; of equals the first.
    order = np.lexsort([-shapely.area(pieces), label])
    starts = np.flatnonzero(np.diff(label[order], prepend=-1))
    best = order[starts]
    found = pieces[best]
    for number, rows in enumerate(np.split(order, starts[1:])):
        if len(rows) > 1:
            found[number] = _united(pieces[np.sort(rows)], pieces[rows[0]])
    in_opening: dict[int, list[int]] = {}
    for number, its in enumerate(opening[best].tolist()):
        in_opening.setdefault(its, []).append(number)
    maker = pads[pad[best]]
    names, pins = (list(map(str, column[maker])) for column in (copper.component, copper.pin))
    return _Flashed(list(found), names, pins, used, in_opening)


def _united(pieces: Objects, largest: Geometry) -> Geometry:
    """Touching shapes as one; those that the largest covers (vias in a centre pad) need no union."""
    import shapely

    rest = pieces[~shapely.covered_by(pieces, largest)]
    if not len(rest):
        return largest
    whole = shapely.union_all([*rest, largest])
    parts: list[Geometry] = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: part.area)


def _touching(shapes: Objects) -> Ints:
    """A label a shape; shapes that touch share one."""
    import shapely
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if len(shapes) < 2:
        return np.zeros(len(shapes), dtype=np.int64)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    links = coo_array((np.ones(len(first)), (first, second)), shape=(len(shapes),) * 2)
    label: Ints = connected_components(links, directed=False)[1].astype(np.int64)
    return label


def _lands(
    polygons: Objects,
    basis: Basis,
    holes: Hole | None,
    names: Objects | None,
    pins: Objects | None,
    openings: Objects | None,
) -> Lands:
    import shapely

    polygons = np.asarray(polygons, dtype=object)
    kept = shapely.area(polygons) >= LEAST_LAND_MM2 if len(polygons) else np.zeros(0, dtype=bool)
    polygons = polygons[kept]
    blank = np.full(len(polygons), "", dtype=object)
    measures = measured(polygons)
    hole_mm, count = _holes_in(polygons, holes)
    return Lands(
        polygon=polygons,
        **measures,
        touch=np.full(len(polygons), np.nan),
        hole_mm=hole_mm,
        holes=count,
        clearance_mm=_clearance(polygons, measures["area_mm2"], openings),
        component=blank if names is None else names[kept],
        pin=blank if pins is None else pins[kept],
        basis=basis,
    )


def _holes_in(polygons: Objects, holes: Hole | None) -> tuple[Floats, Ints]:
    import shapely

    largest, count = np.zeros(len(polygons)), np.zeros(len(polygons), dtype=np.int64)
    if holes is None or not len(holes.x_mm) or not len(polygons):
        return largest, count
    # A land with its hole left open in the copper still holds it: look from the filled outline.
    filled = shapely.polygons(shapely.get_exterior_ring(shapely.convex_hull(polygons)))
    hole, land = shapely.STRtree(filled).query(shapely.points(holes.x_mm, holes.y_mm), predicate="within")
    np.maximum.at(largest, land, holes.diameter_mm[hole])
    np.add.at(count, land, 1)
    return largest, count


def _clearance(polygons: Objects, areas: Floats, openings: Objects | None) -> Floats:
    """Mean width of bare laminate around each land, from the area of its mask opening."""
    import shapely

    found = np.full(len(polygons), np.nan)
    if openings is None or not len(polygons):
        return found
    points = shapely.point_on_surface(polygons)
    land, opening = shapely.STRtree(openings).query(points, predicate="within")
    alone = np.bincount(opening, minlength=len(openings))[opening] == 1
    land, opening = land[alone], opening[alone]
    found[land] = (shapely.area(openings[opening]) - areas[land]) / shapely.length(polygons[land])
    return found


def with_touch(lands: Lands, rows: Ints, copper: PadColumns | None) -> Lands:
    """The lands with `touch` worked out for some of them, by probing around their enclosing rectangles."""
    if copper is None or not len(rows):
        return lands
    turn = np.radians(lands.angle_deg[rows])[:, None]
    half_l, half_w = lands.length_mm[rows][:, None] / 2, lands.width_mm[rows][:, None] / 2
    shares = (np.arange(PROBES) + 0.5) / PROBES * 2 - 1
    ones = np.ones_like(shares)
    along = np.concatenate([shares, ones, shares, -ones]) * half_l
    across = np.concatenate([ones, shares, -ones, shares]) * half_w
    along += np.concatenate([0 * ones, ones, 0 * ones, -ones]) * STEP_OUT_MM
    across += np.concatenate([ones, 0 * ones, -ones, 0 * ones]) * STEP_OUT_MM
    x = lands.x_mm[rows][:, None] + along * np.cos(turn) - across * np.sin(turn)
    y = lands.y_mm[rows][:, None] + along * np.sin(turn) + across * np.cos(turn)
    hit = in_any(copper.polygon, np.column_stack([x.ravel(), y.ravel()])).reshape(x.shape)
    touch = lands.touch.copy()
    touch[rows] = hit.mean(axis=1)
    return replace(lands, touch=touch)


def within(inner: Objects, outer: Objects) -> Bools:
    """Whether each shape lies in its partner; upright rectangles and discs, the most frequent ones, by their boxes."""
    import shapely

    box, around = shapely.bounds(inner), shapely.bounds(outer)
    size = (around[:, 2] - around[:, 0]) * (around[:, 3] - around[:, 1])
    upright = shapely.area(outer) >= (1 - 1e-9) * size
    found: Bools = np.all(box[:, :2] >= around[:, :2] - 1e-9, axis=1) & np.all(
        box[:, 2:] <= around[:, 2:] + 1e-9, axis=1
    )
    wide, tall = (box[:, 2:] - box[:, :2]).T
    around_wide, around_tall = (around[:, 2:] - around[:, :2]).T
    both = discs(shapely.area(inner), wide, tall) & discs(shapely.area(outer), around_wide, around_tall)
    away = np.hypot(*((box[:, :2] + box[:, 2:] - around[:, :2] - around[:, 2:]) / 2).T)
    found &= ~both | (away + wide / 2 <= around_wide / 2 + 1e-9)
    rest = found & ~upright & ~both
    found[rest] = shapely.covered_by(inner[rest], outer[rest])
    return found


def in_any(shapes: Objects, xy: Floats) -> Bools:
    """Whether each point lies in any of the shapes; big shapes are indexed, small ones found by their boxes."""
    import shapely

    hit = np.zeros(len(xy), dtype=bool)
    large = shapely.get_num_coordinates(shapes) > 300
    for shape in shapes[large]:
        shapely.prepare(shape)
        open_points = np.flatnonzero(~hit)
        hit[open_points] = shapely.contains_xy(shape, xy[open_points, 0], xy[open_points, 1])
    small = shapes[~large]
    if len(small):
        rest = np.flatnonzero(~hit)
        found, _ = shapely.STRtree(small).query(shapely.points(xy[rest]), predicate="within")
        hit[rest[found]] = True
    return hit
