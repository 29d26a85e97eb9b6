"""Layers of a job by their role, and what outline and placement files tell of the board."""

from __future__ import annotations

import re

import numpy as np

from landwise.errors import LandwiseError
from landwise.fabdata.gerber import Pads, read_gerber
from landwise.fabdata.layers import Job, JobLayer
from landwise.review.model import Objects, Openings, Side
from landwise.shapes import Geometry, as_array

Place = tuple[str, float, float, float, str]


def first(job: Job, role: str) -> JobLayer | None:
    return next((one for one in job.layers if one.role == role), None)


def apart(one: JobLayer) -> Pads:
    """Shapes as drawn: on copper and mask, a land is told from its track only while they are apart."""
    return read_gerber(one.data, one.file, merge=False).pads


def closed_lines(job: Job, about: Geometry | None = None) -> Objects:
    """Closed lines of the outline, with what they enclose as interiors: the largest by hull, or those about a box.

    Raises
    ------
    LandwiseError
        For an outline that can't be read.

    Notes
    -----
    A mechanical layer may draw every part's body beside the board's edge. What lies apart by its box can't close a line
    with others, so each such heap is joined by itself, the widest first, and the rest is left once none of it can be
    wider than what was found.
    """
    import shapely

    one = first(job, "outline")
    if one is None:
        return np.zeros(0, dtype=object)
    found: list[Geometry] = []
    widest = 0.0
    for box, shapes in _heaps(apart(one).polygon):
        if about is not None and not box.contains(about):
            continue
        if about is None and box.area < widest:
            break
        parts: Objects = shapely.get_parts(shapely.union_all(shapes))
        found += parts[shapely.get_num_interior_rings(parts) > 0].tolist()
        widest = max((part.convex_hull.area for part in found), default=0.0)
    return as_array(found)


def _heaps(shapes: Objects) -> list[tuple[Geometry, Objects]]:
    """Shapes whose boxes touch, directly or by others' between them, with the box about each heap; the widest first."""
    import shapely
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if not len(shapes):
        return []
    one, other = shapely.STRtree(shapes).query(shapes)
    touching = coo_array((np.ones(len(one), dtype=bool), (one, other)), shape=(len(shapes), len(shapes)))
    count, heap = connected_components(touching, directed=False)
    low = np.full((count, 2), np.inf)
    high = -low
    bounds = shapely.bounds(shapes)
    np.minimum.at(low, heap, bounds[:, :2])
    np.maximum.at(high, heap, bounds[:, 2:])
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    own = np.split(shapes[np.argsort(heap, kind="stable")], np.cumsum(np.bincount(heap))[:-1])
    return [(boxes[k], own[k]) for k in np.argsort(-shapely.area(boxes), kind="stable").tolist()]


def outline_of(job: Job, notes: list[str], image: Openings | None = None) -> Geometry | None:
    """The board's area: the largest closed line of the outline, filled; of a panel, the smallest about one image."""
    import shapely

    if first(job, "outline") is None:
        return None
    its = None if image is None else shapely.box(*shapely.total_bounds(image.polygon))
    try:
        parts = closed_lines(job, its)
        if its is not None and not len(parts):
            parts = closed_lines(job)
    except LandwiseError as error:
        notes.append(f"the outline is left out: {error}")
        return None
    if not len(parts):
        notes.append("the outline holds no closed line")
        return None
    if its is not None:
        about = sorted((one for one in parts if one.envelope.contains(its)), key=lambda one: one.convex_hull.area)
        return shapely.Polygon(about[0].exterior) if about else None
    largest: Geometry = shapely.Polygon(max(parts, key=lambda part: part.convex_hull.area).exterior)
    return largest


def placements_of(job: Job, notes: list[str]) -> list[tuple[Side, Place]]:
    found: list[tuple[Side, Place]] = []
    for one in job.layers:
        if one.role != "placement":
            continue
        try:
            read = one.layer
        except LandwiseError as error:
            notes.append(f"placement file is left out: {error}")
            continue
        below = bool(re.search(r"bot|\.mnb$", one.file.lower()))
        for place in read.by_reference.values():
            side: Side = "bottom" if below or place.side == "bottom" else "top"
            found.append((side, (place.reference, place.x_mm, place.y_mm, place.rotation_deg, place.package)))
    return found
