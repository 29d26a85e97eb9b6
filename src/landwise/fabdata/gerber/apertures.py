"""Standard apertures as shapes with closed areas. Gerber layer format specification, section 4.4."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from landwise.fabdata.gerber.macros import regular
from landwise.fabdata.gerber.model import QUAD_SEGMENTS, UnitShape
from landwise.shapes import Geometry

_SAME_SHAPE = 2e-3  # of the area: two outlines nearer than that are one shape
_CORNER_LEAST = 0.02  # of the shorter side: smaller corner radii are not told from square ones


def standard(kind: str, sizes: list[float]) -> tuple[UnitShape, ...]:
    """A standard aperture: C, R, O or P with its sizes in mm (P: corners and degrees as they are).

    An aperture of size 0 has no shape: it marks a place and does not affect the image (section 4.3, "Zero-size
    Apertures"; the specification allows it for circles only).

    Raises
    ------
    ValueError
        For a wrong count or sign of sizes.

    Examples
    --------
    >>> shape, = standard("R", [2.0, 1.0])
    >>> shape.area_mm2, shape.wall_mm, shape.kind
    (2.0, 6.0, 'rectangle')
    >>> standard("C", [0.0])
    ()
    """
    import shapely

    counts = {"C": (1, 3), "R": (2, 4), "O": (2, 4), "P": (2, 4)}[kind]
    if not counts[0] <= len(sizes) <= counts[1]:
        raise ValueError(f"aperture {kind} has {len(sizes)} sizes")
    sides = sizes[: 2 if kind in "RO" else 1]
    if min(sides) < 0:
        raise ValueError("a size is negative")
    if min(sides) == 0:
        return ()
    hole = 0.0
    if kind == "C":
        d = sizes[0]
        hole = sizes[1] if len(sizes) > 1 else 0.0
        shape = shapely.Point(0, 0).buffer(d / 2, quad_segs=QUAD_SEGMENTS)
        found = UnitShape(shape, math.pi * d * d / 4, math.pi * d, "circle", d, d, 0.0, d / 2)
    elif kind == "R":
        w, h = sizes[:2]
        hole = sizes[2] if len(sizes) > 2 else 0.0
        found = UnitShape(
            shapely.box(-w / 2, -h / 2, w / 2, h / 2),
            w * h,
            2 * (w + h),
            "rectangle",
            max(w, h),
            min(w, h),
            90.0 if h > w else 0.0,
        )
    elif kind == "O":
        w, h = sizes[:2]
        hole = sizes[2] if len(sizes) > 2 else 0.0
        long, short = max(w, h), min(w, h)
        half = (long - short) / 2
        spine = [(-half, 0), (half, 0)] if w >= h else [(0, -half), (0, half)]
        line = shapely.LineString(spine) if half > 0 else shapely.Point(0, 0)
        shape = line.buffer(short / 2, quad_segs=QUAD_SEGMENTS)
        area = math.pi * short**2 / 4 + (long - short) * short
        wall = math.pi * short + 2 * (long - short)
        found = UnitShape(shape, area, wall, "oblong", long, short, 90.0 if h > w else 0.0, short / 2)
    else:
        d, corners = sizes[:2]
        hole = sizes[3] if len(sizes) > 3 else 0.0
        if not (float(corners).is_integer() and 3 <= corners <= 12):
            raise ValueError(f"aperture P has {corners:g} corners, expected 3 to 12")
        return _with_hole(shape_of(regular(int(corners), d, turn_deg=sizes[2] if len(sizes) > 2 else 0.0)), hole)
    return _with_hole((found,), hole)


def _with_hole(shapes: tuple[UnitShape, ...], hole: float) -> tuple[UnitShape, ...]:
    if hole < 0:
        raise ValueError("a size is negative")
    if hole == 0:
        return shapes
    import shapely

    bore = shapely.Point(0, 0).buffer(hole / 2, quad_segs=QUAD_SEGMENTS)
    if not shapes[0].polygon.contains(bore):
        return shape_of(shapes[0].polygon.difference(bore))
    one = shapes[0]
    return (
        replace(
            one,
            polygon=one.polygon.difference(bore),
            area_mm2=one.area_mm2 - math.pi * hole**2 / 4,
            wall_mm=one.wall_mm + math.pi * hole,
        ),
    )


def parts_of(geometry: Geometry | None) -> list[Geometry]:
    """The polygons of any geometry; empty ones, those without area and lines are left out."""
    if geometry is None or geometry.is_empty:
        return []
    if geometry.geom_type == "Polygon":
        return [geometry] if geometry.area > 0 else []
    if hasattr(geometry, "geoms"):
        return [part for piece in geometry.geoms for part in parts_of(piece)]
    return []


def shape_of(geometry: Geometry | None, kind: str = "polygon") -> tuple[UnitShape, ...]:
    """Measured shapes of a polygon's parts; rectangles, rounded rectangles and oblongs are recognised.

    Examples
    --------
    >>> import shapely
    >>> shape_of(shapely.box(0, 0, 3, 1))[0].kind
    'rectangle'
    """
    return tuple(_measured(part, kind) for part in parts_of(geometry))


def _measured(part: Geometry, kind: str) -> UnitShape:
    import shapely

    area, wall = float(part.area), float(part.length)
    box = shapely.bounds(part)
    wide, tall = float(box[2] - box[0]), float(box[3] - box[1])
    length, width, angle = max(wide, tall), min(wide, tall), 90.0 if tall > wide else 0.0
    if area < 0.98 * wide * tall:
        corners = np.asarray(shapely.oriented_envelope(part).exterior.coords)[:3]
        one, other = corners[1] - corners[0], corners[2] - corners[1]
        sides = float(np.hypot(*one)), float(np.hypot(*other))
        if sides[0] * sides[1] < 0.999 * wide * tall:
            length, width = max(sides), min(sides)
            longer = one if sides[0] >= sides[1] else other
            angle = float(np.degrees(np.arctan2(longer[1], longer[0])) % 180)
    corner = 0.0
    if not part.interiors and kind == "polygon" and width > 0:
        missing = max(0.0, length * width - area)
        if missing < _SAME_SHAPE * area:
            kind = "rectangle"
        else:
            radius = math.sqrt(missing / (4 - math.pi))
            if _CORNER_LEAST * width < radius <= width / 2 * 1.02 and _is_rounded(part, length, width, angle, radius):
                round_end = radius > 0.49 * width
                kind = "circle" if round_end and length < 1.01 * width else "oblong" if round_end else "rounded"
                corner = min(radius, width / 2)
    return UnitShape(part, area, wall, kind, length, width, angle, corner)


def _is_rounded(part: Geometry, length: float, width: float, angle: float, radius: float) -> bool:
    import shapely
    from shapely import affinity

    radius = min(radius, width / 2)
    inner = shapely.box(-length / 2 + radius, -width / 2 + radius, length / 2 - radius, width / 2 - radius)
    if inner.area <= 0:
        inner = shapely.LineString([(-length / 2 + radius, 0), (length / 2 - radius, 0)])
    model = affinity.rotate(inner.buffer(radius, quad_segs=QUAD_SEGMENTS), angle, origin=(0, 0))
    x, y = part.envelope.centroid.coords[0]
    placed = affinity.translate(model, x, y)
    return bool(placed.symmetric_difference(part).area < 5 * _SAME_SHAPE * part.area)


def moved(shape: UnitShape, mirror: str, turn_deg: float, scale: float) -> UnitShape:
    """A shape mirrored, then turned, then scaled about its origin (the order of the specification)."""
    from shapely import affinity

    polygon, angle = shape.polygon, shape.angle_deg
    if mirror != "N":
        polygon = affinity.scale(polygon, -1 if "X" in mirror else 1, -1 if "Y" in mirror else 1, origin=(0, 0))
        angle = -angle if len(mirror) == 1 else angle
    if turn_deg:
        polygon = affinity.rotate(polygon, turn_deg, origin=(0, 0))
    if scale != 1:
        polygon = affinity.scale(polygon, scale, scale, origin=(0, 0))
    return UnitShape(
        polygon,
        shape.area_mm2 * scale**2,
        shape.wall_mm * scale,
        shape.kind,
        shape.length_mm * scale,
        shape.width_mm * scale,
        (angle + turn_deg) % 180,
        shape.corner_mm * scale,
    )
