"""Layers of a job by their role, and what outline and placement files tell of the board."""

from __future__ import annotations

import re

import numpy as np

from landwise.errors import LandwiseError
from landwise.fabdata.gerber import Pads, read_gerber
from landwise.fabdata.layers import Job, JobLayer
from landwise.review.model import Objects, Openings, Side
from landwise.shapes import Geometry

Place = tuple[str, float, float, float, str]


def first(job: Job, role: str) -> JobLayer | None:
    return next((one for one in job.layers if one.role == role), None)


def apart(one: JobLayer) -> Pads:
    """Shapes as drawn: on copper and mask, a land is told from its track only while they are apart."""
    return read_gerber(one.data, one.file, merge=False).pads


def closed_lines(job: Job) -> Objects:
    """The closed lines of the outline, with what they enclose as interiors.

    Raises
    ------
    LandwiseError
        For an outline that can't be read.
    """
    import shapely

    one = first(job, "outline")
    if one is None:
        return np.zeros(0, dtype=object)
    parts: Objects = shapely.get_parts(shapely.union_all(apart(one).polygon))
    closed: Objects = parts[shapely.get_num_interior_rings(parts) > 0]
    return closed


def outline_of(job: Job, notes: list[str], image: Openings | None = None) -> Geometry | None:
    """The board's area: the largest closed line of the outline, filled; of a panel, the smallest about one image."""
    import shapely

    if first(job, "outline") is None:
        return None
    try:
        parts = closed_lines(job)
    except LandwiseError as error:
        notes.append(f"the outline is left out: {error}")
        return None
    if not len(parts):
        notes.append("the outline holds no closed line")
        return None
    if image is not None:
        its = shapely.box(*shapely.total_bounds(image.polygon))
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
