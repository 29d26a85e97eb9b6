"""Measures of many outlines at once: centre, sides and direction of the enclosing rectangle."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from landwise.review.model import Floats, Objects

UPRIGHT_SHARE = 1.02  # an upright box this close to the least rectangle is taken instead: discs have no direction


def discs(area: Floats, wide: Floats, tall: Floats) -> NDArray[np.bool_]:
    """Which outlines are discs, by their area and box. [mm², mm]"""
    found: NDArray[np.bool_] = (np.abs(wide - tall) < 1e-3 * wide) & (
        np.abs(area / (np.pi / 4 * wide * tall) - 1) < 0.008
    )
    return found


def measured(polygons: Objects) -> Mapping[str, Floats]:
    """Area, centre, longer and shorter side and direction of each outline.

    Parameters
    ----------
    polygons : array of shapely polygons
        [mm]

    Returns
    -------
    mapping
        `area_mm2`, `x_mm`, `y_mm` (middle of the enclosing rectangle), `length_mm`, `width_mm`, `angle_deg`
        (of the longer side, 0 to 180).

    Examples
    --------
    >>> import shapely
    >>> found = measured(np.array([shapely.box(0, 0, 0.3, 1.2)]))
    >>> float(found["length_mm"][0]), float(found["width_mm"][0]), float(found["angle_deg"][0])
    (1.2, 0.3, 90.0)
    """
    import shapely

    count = len(polygons)
    if count == 0:
        names = ("area_mm2", "x_mm", "y_mm", "length_mm", "width_mm", "angle_deg")
        return {name: np.zeros(0) for name in names}
    area: Floats = shapely.area(polygons)
    box: NDArray[np.float64] = shapely.bounds(polygons)
    wide, tall = box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]
    found = {
        "area_mm2": area,
        "x_mm": (box[:, 0] + box[:, 2]) / 2,
        "y_mm": (box[:, 1] + box[:, 3]) / 2,
        "length_mm": np.maximum(wide, tall),
        "width_mm": np.minimum(wide, tall),
        "angle_deg": np.where(tall > wide, 90.0, 0.0),
    }
    # An upright rectangle fills its box; only the others are worth the dearer search.
    # Discs have no direction.
    turned = np.flatnonzero((area < 0.98 * wide * tall) & ~discs(area, wide, tall))
    if turned.size:
        least = shapely.oriented_envelope(polygons[turned])
        for at, shape in zip(turned, least, strict=True):
            if shape.geom_type != "Polygon":
                continue
            corners = np.asarray(shape.exterior.coords)[:3]
            one, other = corners[1] - corners[0], corners[2] - corners[1]
            sides = np.hypot(*one), np.hypot(*other)
            if wide[at] * tall[at] <= UPRIGHT_SHARE * sides[0] * sides[1]:
                continue
            longer = one if sides[0] >= sides[1] else other
            found["x_mm"][at], found["y_mm"][at] = (corners[0] + corners[2]) / 2
            found["length_mm"][at], found["width_mm"][at] = max(sides), min(sides)
            found["angle_deg"][at] = float(np.degrees(np.arctan2(longer[1], longer[0])) % 180)
    return found
