"""Step zones: which apertures a step takes in, and where its edges run."""

from __future__ import annotations

import numpy as np

from landwise.printing.foils import THICK_KEEP_OUT_MM
from landwise.review.model import Bools, Ints, Openings
from landwise.shapes import Geometry

MOST_ZONED = 0.6  # a zone around more than this share of the apertures is a thinner foil by another name


def zoned(
    paste: Openings, part_of: Ints, wanted: Bools, keep_out_mm: float, keep_out_thick_mm: float = THICK_KEEP_OUT_MM
) -> tuple[Bools, tuple[Geometry, ...]]:
    """Step zones around the wanted apertures, with both keep-outs held.

    Parameters
    ----------
    paste : Openings
    part_of : array of int
        Part of each aperture, -1 for none.
    wanted : array of bool
    keep_out_mm : float
        From a zone's edge to the first aperture in it. [mm]
    keep_out_thick_mm : float
        From a zone's edge to the first aperture outside. [mm]

    Returns
    -------
    taken : array of bool
        Apertures in zones: those wanted, the rest of their parts, and whatever stood in the way.
    zones : tuple of shapely polygons

    Examples
    --------
    >>> import shapely
    >>> from landwise.review.building import openings
    >>> paste = openings([shapely.box(x, 0, x + 1, 1) for x in (0, 2, 9, 20)])
    >>> taken, zones = zoned(paste, np.arange(4), np.array([True, False, False, False]), 0.9)
    >>> taken.tolist(), [round(edge, 3) for edge in zones[0].bounds]
    ([True, True, False, False], [-0.9, -0.9, 3.9, 1.9])
    """
    import shapely

    boxes = shapely.bounds(paste.polygon)
    group = np.where(part_of >= 0, part_of, part_of.max(initial=0) + 1 + np.arange(len(part_of)))
    count = int(group.max()) + 1
    low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    np.minimum.at(low, group, boxes[:, :2])
    np.maximum.at(high, group, boxes[:, 2:])
    present = np.isfinite(low[:, 0])
    taken = np.zeros(count, dtype=bool)
    taken[group[wanted]] = True
    tree = shapely.STRtree(shapely.box(boxes[:, 0], boxes[:, 1], boxes[:, 2], boxes[:, 3]))
    while True:
        rows = np.flatnonzero(taken & present)
        grown = shapely.box(
            low[rows, 0] - keep_out_mm,
            low[rows, 1] - keep_out_mm,
            high[rows, 0] + keep_out_mm,
            high[rows, 1] + keep_out_mm,
        )
        merged: Geometry = shapely.union_all(grown)
        # Zones nearer to each other than a blade can tell are cut as one.
        merged = merged.buffer(keep_out_thick_mm / 2, join_style="mitre").buffer(
            -keep_out_thick_mm / 2, join_style="mitre"
        )
        parts = shapely.get_parts(merged)
        _, near = tree.query(parts, predicate="dwithin", distance=keep_out_thick_mm)
        more = np.unique(group[near])
        if taken[more].all():
            return taken[group], tuple(parts)
        taken[more] = True
        if taken[present].mean() > MOST_ZONED:
            return taken[group], tuple(parts)
