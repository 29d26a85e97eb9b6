"""Columns from plain outlines: for callers that have polygons and no layer file."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from landwise.review.measuring import measured
from landwise.review.model import Openings


def openings(
    polygons: Sequence[object],
    components: Sequence[str] | None = None,
    pins: Sequence[str] | None = None,
    kinds: Sequence[str] | None = None,
) -> Openings:
    """The columns of some polygons. [mm]

    Examples
    --------
    >>> import shapely
    >>> found = openings([shapely.box(0, 0, 0.6, 0.2)])
    >>> len(found), round(float(found.area_mm2[0] / found.wall_mm[0]), 3)
    (1, 0.075)
    """
    import shapely

    shapes = np.array([*polygons, None], dtype=object)[:-1]
    blank = [""] * len(shapes)
    return Openings(
        polygon=shapes,
        wall_mm=np.asarray(shapely.length(shapes), dtype=float) if len(shapes) else np.zeros(0),
        kind=np.array([*(kinds or ["flash"] * len(shapes)), None], dtype=object)[:-1],
        component=np.array([*(components or blank), None], dtype=object)[:-1],
        pin=np.array([*(pins or blank), None], dtype=object)[:-1],
        **measured(shapes),
    )
