"""Lands from copper, mask and drill; which aperture prints on which land, and how well it sits there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from landwise.review.measuring import discs, measured
from landwise.review.model import Bools, Floats, Hole, Ints, Lands, Objects, Openings, PadColumns

BARE_SHARE = 0.5  # a copper shape is a land when at least this much of it lies free of mask
LEAST_LAND_MM2 = 0.003  # slivers of copper at a mask's edge are no lands; the least land in use is 0.06 mm wide
LARGEST_PAD_MM2 = 150.0
STEP_OUT_MM = 0.03  # where the outline is probed for copper that runs on
PROBES = 4  # a side of a land


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
    are one land. Openings without such a shape lie over planes or drawn copper: there the land is opening
    and copper together. Without mask every small copper shape under paste is a land, without copper every
    opening, without both every aperture; `basis` says which.
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
    """Lands from flashed shapes first; openings that hold none of those show a region, a plane or drawn copper."""
    import shapely

    openings = mask.polygon
    # A pad of odd shape is often a flash and a region over it; regions far larger than pads are planes.
    small = (copper.area_mm2 < LARGEST_PAD_MM2) & (shapely.get_num_coordinates(copper.polygon) < 2000)
    flashed = copper.kind == "flash"
    padlike = flashed | ((copper.kind == "region") & small)
    pads = np.flatnonzero(padlike)
    found, names, pins, served = _flashed_lands(copper, pads, openings)
    left = np.flatnonzero(~served)
    if left.size and not flashed.all():
        drawn = copper.polygon[~flashed]
        near, opening = shapely.STRtree(openings[left]).query(drawn, predicate="intersects")
        clipped = _clipped(drawn[near], openings[left][opening])
        order = np.argsort(opening, kind="stable")
        starts = np.flatnonzero(np.r_[True, np.diff(opening[order]) > 0]) if len(order) else np.zeros(0, int)
        for rows in np.split(order, starts[1:]):
            if not len(rows):
                continue
            piece = shapely.union_all(clipped[rows]) if len(rows) > 1 else clipped[rows[0]]
            for part in _polygons(piece):
                found.append(part)
                names.append("")
                pins.append("")
    columns = (np.array([*column, None], dtype=object)[:-1] for column in (found, names, pins))
    polygons, references, terminals = columns
    return polygons, references, terminals


def _polygons(shape: Any) -> list[Any]:
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


def _flashed_lands(copper: PadColumns, pads: Ints, openings: Objects) -> tuple[list[Any], list[str], list[str], Bools]:
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
    served = np.zeros(len(openings), dtype=bool)
    served[opening] = True
    label = _touching(pieces)
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(label[order]) > 0]) if len(order) else np.zeros(0, int)
    found: list[Any] = []
    names: list[str] = []
    pins: list[str] = []
    area = shapely.area(pieces)
    for rows in np.split(order, starts[1:]):
        if not len(rows):
            continue
        best = rows[int(np.argmax(area[rows]))]
        whole = pieces[rows[0]] if len(rows) == 1 else _united(pieces[rows], pieces[best])
        found.append(whole)
        names.append(str(copper.component[pads[pad[best]]]))
        pins.append(str(copper.pin[pads[pad[best]]]))
    return found, names, pins, served


def _united(pieces: Objects, largest: Any) -> Any:
    """Touching shapes as one; those that the largest covers (vias in a centre pad) need no union."""
    import shapely

    rest = pieces[~shapely.covered_by(pieces, largest)]
    if not len(rest):
        return largest
    whole = shapely.union_all(np.append(rest, largest))
    parts = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
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
    basis: Any,
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


@dataclass(frozen=True)
class Match:
    """Where each aperture prints.

    Parameters
    ----------
    land : array of int
        The land under most of the aperture; -1 for none.
    on_land : array
        Share of the aperture over that land and any other. [-]
    dx_mm, dy_mm : array
        Middle of the aperture less middle of its land; NaN without land. [mm]
    printed : array
        Per land: how many apertures.
    coverage : array
        Per land: open area over it, over its own area. [-]
    """

    land: Ints
    on_land: Floats
    dx_mm: Floats
    dy_mm: Floats
    printed: Ints
    coverage: Floats


def match(paste: Openings, lands: Lands) -> Match:
    """Which land each aperture prints on.

    Examples
    --------
    An aperture that sits half on its land:

    >>> import shapely
    >>> from landwise.review.building import openings
    >>> paste = openings([shapely.box(0.5, 0, 1.5, 1)])
    >>> found = match(paste, lands_of(openings([shapely.box(0, 0, 1, 1)]), None, None))
    >>> float(found.on_land[0]), float(found.dx_mm[0]), float(found.coverage[0])
    (0.5, 0.5, 0.5)
    """
    import shapely

    count = len(paste)
    land = np.full(count, -1, dtype=np.int64)
    on_land, dx, dy = np.zeros(count), np.full(count, np.nan), np.full(count, np.nan)
    covered = np.zeros(len(lands))
    if lands.basis == "paste" and len(lands) == count and lands.polygon is paste.polygon:
        land = np.arange(count)
        return Match(land, np.ones(count), np.zeros(count), np.zeros(count), np.ones(count, np.int64), np.ones(count))
    if count and len(lands):
        opening, under = shapely.STRtree(lands.polygon).query(paste.polygon, predicate="intersects")
        share = np.zeros(len(opening))
        inside = within(paste.polygon[opening], lands.polygon[under])
        share[inside] = paste.area_mm2[opening[inside]]
        cut = ~inside
        share[cut] = shapely.area(shapely.intersection(paste.polygon[opening[cut]], lands.polygon[under[cut]]))
        np.add.at(on_land, opening, share)
        np.add.at(covered, under, share)
        order = np.argsort(share, kind="stable")
        best = np.full(count, -1, dtype=np.int64)
        best[opening[order]] = under[order]
        best_share = np.zeros(count)
        best_share[opening[order]] = share[order]
        land = np.where(best_share > 0.02 * paste.area_mm2, best, -1)
        on_land = np.minimum(on_land / np.maximum(paste.area_mm2, 1e-12), 1.0)
        has = land >= 0
        dx[has] = paste.x_mm[has] - lands.x_mm[land[has]]
        dy[has] = paste.y_mm[has] - lands.y_mm[land[has]]
    printed = np.bincount(land[land >= 0], minlength=len(lands)).astype(np.int64)
    return Match(land, on_land, dx, dy, printed, covered / np.maximum(lands.area_mm2, 1e-12))


@dataclass(frozen=True)
class Registration:
    """How the paste film sits on the copper as a whole.

    `shift_x_mm`, `shift_y_mm`: at the middle of the board; `scale_ppm`: paste longer than copper; `turn_urad`:
    counterclockwise; `rest_mm`: root mean square left after these; `count`: apertures it was taken from.
    """

    shift_x_mm: float
    shift_y_mm: float
    scale_ppm: float
    turn_urad: float
    rest_mm: float
    count: int


def registration(paste: Openings, lands: Lands, matched: Match) -> Registration | None:
    """Shift, scale and turn of the paste film against the copper, by least squares; None for fewer than six lands.

    Only lands with one aperture of like shape count (sides within 20 %): panes and pulled-in apertures sit
    off centre by intent. Outliers beyond five times the median deviation are left out.
    """
    if lands.basis == "paste":
        return None
    has = np.flatnonzero(matched.land >= 0)
    its = matched.land[has]
    like = (
        (matched.printed[its] == 1)
        & (np.abs(paste.length_mm[has] / np.maximum(lands.length_mm[its], 1e-9) - 1) < 0.2)
        & (np.abs(paste.width_mm[has] / np.maximum(lands.width_mm[its], 1e-9) - 1) < 0.2)
    )
    rows, its = has[like], its[like]
    if len(rows) < 6:
        return None
    x, y = lands.x_mm[its], lands.y_mm[its]
    dx, dy = matched.dx_mm[rows], matched.dy_mm[rows]
    away = np.hypot(dx - np.median(dx), dy - np.median(dy))
    kept = away <= max(5 * float(np.median(away)), 0.002)
    x, y, dx, dy = x[kept], y[kept], dx[kept], dy[kept]
    if len(x) < 6:
        return None
    cx, cy = x - x.mean(), y - y.mean()
    spread = float(np.sum(cx**2 + cy**2))
    shift_x, shift_y = float(dx.mean()), float(dy.mean())
    scale = float(np.sum(cx * dx + cy * dy)) / spread if spread > 0 else 0.0
    turn = float(np.sum(cx * dy - cy * dx)) / spread if spread > 0 else 0.0
    rest = np.hypot(dx - shift_x - scale * cx + turn * cy, dy - shift_y - scale * cy - turn * cx)
    return Registration(shift_x, shift_y, scale * 1e6, turn * 1e6, float(np.sqrt(np.mean(rest**2))), len(x))
