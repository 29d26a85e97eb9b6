"""Shapes of IPC-2581: primitives, contours with arcs and cut-outs, strokes, and how they are moved and turned.

Element and attribute names are those of the standard's schema; that a shape is mirrored about its y axis before it is
turned is recalled (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from landwise.errors import InputError
from landwise.shapes import Geometry

UNITS: Mapping[str, float] = {"MILLIMETER": 1.0, "INCH": 25.4, "MICRON": 0.001}
ROUND_SEGMENTS = 16  # of a quarter: an area 0.16 % short of a disc's
ARC_STEP = math.radians(5.0)
DEEPEST = 8  # shapes that refer to shapes
CORNERS = ("upperRight", "upperLeft", "lowerLeft", "lowerRight")


def size_in_mm(unit: str, file: str, place: str) -> float:
    """Millimetres of a file's unit.

    >>> size_in_mm("INCH", "b.xml", "CadHeader")
    25.4
    """
    found = UNITS.get(unit.upper())
    if found is None:
        raise InputError("no such unit", file=file, place=place, found=unit or "none", expected=" | ".join(UNITS))
    return found


def number(element: Element, name: str, file: str, default: float | None = None) -> float:
    """A number of an element.

    Raises
    ------
    InputError
        Where it is missing without a default, or is no finite number.
    """
    text = element.get(name)
    if text is None and default is not None:
        return default
    try:
        value = float(text or "")
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or abs(value) > 1e7:
        raise InputError("not a number", file=file, place=f"{element.tag} {name}", found=str(text)[:30])
    return value


class Lookup:
    """The dictionaries of primitives and line widths, by id, each with its unit."""

    def __init__(self, root: Element, file: str) -> None:
        self.file = file
        self.shapes: dict[tuple[str, str], tuple[Element | None, float]] = {}
        self.widths: dict[str, tuple[Element | None, float]] = {}
        for kind in ("Standard", "User"):
            for book in root.iter(f"Dictionary{kind}"):
                unit = size_in_mm(book.get("units", "MILLIMETER"), file, book.tag)
                for entry in book.findall(f"Entry{kind}"):
                    drawn = next(iter(entry), None)
                    self.shapes[f"{kind}PrimitiveRef", entry.get("id", "")] = (drawn, unit)
        for book in root.iter("DictionaryLineDesc"):
            unit = size_in_mm(book.get("units", "MILLIMETER"), file, book.tag)
            for entry in book.findall("EntryLineDesc"):
                self.widths[entry.get("id", "")] = (entry.find("LineDesc"), unit)

    def width_mm(self, stroke: Element, unit: float) -> float:
        """Width of a stroke. [mm]"""
        own, ref = stroke.find("LineDesc"), stroke.find("LineDescRef")
        if own is None and ref is not None:
            own, unit = self.widths.get(ref.get("id", ""), (None, unit))
        return 0.0 if own is None else unit * number(own, "lineWidth", self.file, 0.0)


def shape_of(element: Element | None, unit: float, lookup: Lookup, depth: int = 0) -> Geometry | None:
    """An element as a polygon around its own origin; None for what has no area. [mm]

    Raises
    ------
    InputError
        For a reference that is not in the file, shapes that refer to each other too deep, or a number that is none.
    """
    if element is None:
        return None
    if depth > DEEPEST:
        raise InputError("shapes refer to each other too deep", file=lookup.file, place=element.tag)
    if element.tag in ("StandardPrimitiveRef", "UserPrimitiveRef"):
        found = lookup.shapes.get((element.tag, element.get("id", "")))
        if found is None:
            raise InputError("no such primitive", file=lookup.file, place=element.tag, found=element.get("id", "")[:40])
        return shape_of(found[0], found[1], lookup, depth + 1)
    if element.tag == "UserSpecial":
        import shapely

        parts = [shape for one in element if (shape := shape_of(one, unit, lookup, depth + 1)) is not None]
        return shapely.union_all(parts) if parts else None
    make = _MAKERS.get(element.tag)
    if make is None:
        return None
    return make(_Draw(element, unit, lookup))


@dataclass(frozen=True)
class _Draw:
    """One element to be drawn, the unit of its numbers, and the file's dictionaries."""

    element: Element
    unit: float
    lookup: Lookup

    def of(self, name: str) -> float:
        """One of its lengths. [mm]"""
        return self.unit * number(self.element, name, self.lookup.file)


def _circle(draw: _Draw) -> Geometry:
    from shapely import Point

    made: Geometry = Point(0, 0).buffer(draw.of("diameter") / 2, quad_segs=ROUND_SEGMENTS)
    return made


def _box(draw: _Draw) -> Geometry:
    from shapely import box

    width, height = draw.of("width"), draw.of("height")
    made: Geometry = box(-width / 2, -height / 2, width / 2, height / 2)
    return made


def _corner_box(draw: _Draw) -> Geometry:
    from shapely import box

    made: Geometry = box(draw.of("lowerLeftX"), draw.of("lowerLeftY"), draw.of("upperRightX"), draw.of("upperRightY"))
    return made


def _cut_box(draw: _Draw) -> Geometry:
    """A box with corners rounded or cut, those that the element names; all where it names none."""
    from shapely import Point, Polygon, union_all

    whole = _box(draw)
    deep = draw.of("radius" if draw.element.tag == "RectRound" else "chamfer")
    x, y = whole.bounds[2], whole.bounds[3]
    if deep <= 0 or deep > min(x, y) + 1e-9:
        return whole
    told = [name for name in CORNERS if draw.element.get(name) is not None]
    its = [name for name in CORNERS if not told or draw.element.get(name, "").lower() == "true"]
    for name in its:
        sx, sy = (1 if name.endswith("Right") else -1), (1 if name.startswith("upper") else -1)
        square = Polygon(
            [(sx * x, sy * y), (sx * (x - deep), sy * y), (sx * (x - deep), sy * (y - deep)), (sx * x, sy * (y - deep))]
        )
        if draw.element.tag == "RectRound":
            kept = Point(sx * (x - deep), sy * (y - deep)).buffer(deep, quad_segs=ROUND_SEGMENTS).intersection(square)
        else:
            kept = Polygon([(sx * (x - deep), sy * y), (sx * (x - deep), sy * (y - deep)), (sx * x, sy * (y - deep))])
        whole = union_all([whole.difference(square), kept])
    return whole


def _oval(draw: _Draw) -> Geometry:
    from shapely import LineString, Point

    width, height = draw.of("width"), draw.of("height")
    narrow, half = min(width, height) / 2, abs(width - height) / 2
    ends = [(-half, 0), (half, 0)] if width > height else [(0, -half), (0, half)]
    middle: Geometry = Point(0, 0) if half == 0 else LineString(ends)
    return middle.buffer(narrow, quad_segs=ROUND_SEGMENTS)


def _ellipse(draw: _Draw) -> Geometry:
    from shapely import Point, affinity

    disc = Point(0, 0).buffer(0.5, quad_segs=ROUND_SEGMENTS)
    made: Geometry = affinity.scale(disc, draw.of("width"), draw.of("height"), origin=(0, 0))
    return made


def _many_sided(draw: _Draw) -> Geometry:
    """A hexagon by its corners' distance, an octagon by its sides'."""
    from shapely import Polygon

    count = 6 if draw.element.tag == "Hexagon" else 8
    radius = draw.of("length") / 2 / (1.0 if count == 6 else math.cos(math.pi / 8))
    start = 0.0 if count == 6 else math.pi / 8
    turns = [start + 2 * math.pi * k / count for k in range(count)]
    made: Geometry = Polygon([(radius * math.cos(t), radius * math.sin(t)) for t in turns])
    return made


def _diamond(draw: _Draw) -> Geometry:
    from shapely import Polygon

    x, y = draw.of("width") / 2, draw.of("height") / 2
    made: Geometry = Polygon([(x, 0), (0, y), (-x, 0), (0, -y)])
    return made


def _triangle(draw: _Draw) -> Geometry:
    from shapely import Polygon

    x, y = draw.of("base") / 2, draw.of("height") / 2
    made: Geometry = Polygon([(-x, -y), (x, -y), (0, y)])
    return made


def _donut(draw: _Draw) -> Geometry:
    from shapely import Point

    outer, inner = (Point(0, 0).buffer(draw.of(name) / 2, quad_segs=ROUND_SEGMENTS) for name in _DIAMETERS)
    made: Geometry = outer.difference(inner)
    return made


_DIAMETERS = ("outerDiameter", "innerDiameter")


def _contour(draw: _Draw) -> Geometry | None:
    """A polygon less its cut-outs."""
    import shapely

    whole = _polygon(draw.element.find("Polygon"), draw.unit, draw.lookup)
    cuts = [_polygon(one, draw.unit, draw.lookup) for one in draw.element.findall("Cutout")]
    cuts = [one for one in cuts if one is not None]
    return whole.difference(shapely.union_all(cuts)) if whole is not None and cuts else whole


def _outlined(draw: _Draw) -> Geometry | None:
    return _polygon(draw.element, draw.unit, draw.lookup)


def _polygon(element: Element | None, unit: float, lookup: Lookup) -> Geometry | None:
    import shapely

    points = _path(element, unit, lookup) if element is not None else []
    if len(points) < 3:
        return None
    made: Geometry = shapely.make_valid(shapely.Polygon(points))
    return made


def _path(element: Element, unit: float, lookup: Lookup) -> list[tuple[float, float]]:
    """Points of a polygon or polyline, arcs in small steps."""
    points: list[tuple[float, float]] = []
    for one in element:
        if one.tag not in ("PolyBegin", "PolyStepSegment", "PolyStepCurve"):
            continue
        x, y = (unit * number(one, name, lookup.file) for name in ("x", "y"))
        if one.tag == "PolyStepCurve" and points:
            centre = (unit * number(one, "centerX", lookup.file), unit * number(one, "centerY", lookup.file))
            points += _arc(points[-1], (x, y), centre, clockwise=one.get("clockwise", "").lower() == "true")
        points.append((x, y))
    return points


def _arc(
    start: tuple[float, float], end: tuple[float, float], centre: tuple[float, float], *, clockwise: bool
) -> list[tuple[float, float]]:
    first, last = (math.atan2(p[1] - centre[1], p[0] - centre[0]) for p in (start, end))
    radius = math.hypot(start[0] - centre[0], start[1] - centre[1])
    sweep = (first - last if clockwise else last - first) % (2 * math.pi) or 2 * math.pi
    steps = max(1, math.ceil(sweep / ARC_STEP))
    way = -1 if clockwise else 1
    turns = [first + way * sweep * k / steps for k in range(1, steps)]
    return [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns]


def stroke_of(element: Element, unit: float, lookup: Lookup) -> tuple[list[tuple[float, float]], float] | None:
    """Points and width of a line, polyline or arc; None for any other element, and for one without a width. [mm]"""
    if element.tag not in ("Line", "Polyline", "Arc"):
        return None
    draw = _Draw(element, unit, lookup)
    width = lookup.width_mm(element, unit)
    if element.tag == "Polyline":
        points = _path(element, unit, lookup)
    else:
        start, end = (draw.of("startX"), draw.of("startY")), (draw.of("endX"), draw.of("endY"))
        points = [start, end]
        if element.tag == "Arc":
            centre = (draw.of("centerX"), draw.of("centerY"))
            points[1:1] = _arc(start, end, centre, clockwise=element.get("clockwise", "").lower() == "true")
    return (points, width) if width > 0 and len(points) > 1 else None


def _stroke(draw: _Draw) -> Geometry | None:
    """A line, polyline or arc of a width; None for one without."""
    from shapely import LineString

    found = stroke_of(draw.element, draw.unit, draw.lookup)
    return None if found is None else LineString(found[0]).buffer(found[1] / 2, quad_segs=ROUND_SEGMENTS)


_MAKERS: Mapping[str, Callable[[_Draw], Geometry | None]] = {
    "Circle": _circle,
    "RectCenter": _box,
    "RectCorner": _corner_box,
    "RectRound": _cut_box,
    "RectCham": _cut_box,
    "Oval": _oval,
    "Ellipse": _ellipse,
    "Hexagon": _many_sided,
    "Octagon": _many_sided,
    "Diamond": _diamond,
    "Triangle": _triangle,
    "Donut": _donut,
    "Contour": _contour,
    "Polygon": _outlined,
    "Line": _stroke,
    "Polyline": _stroke,
    "Arc": _stroke,
}


def placed(shape: Geometry, xform: Element | None, location: Element | None, unit: float, file: str) -> Geometry:
    """A shape mirrored, scaled, turned and moved as its pad says. [mm]"""
    from shapely import affinity

    x = y = 0.0
    if xform is not None:
        scale = number(xform, "scale", file, 1.0)
        mirrored = xform.get("mirror", "").lower() == "true"
        if mirrored or scale != 1:
            shape = affinity.scale(shape, -scale if mirrored else scale, scale, origin=(0, 0))
        turn = number(xform, "rotation", file, 0.0)
        shape = affinity.rotate(shape, turn, origin=(0, 0)) if turn else shape
        x, y = (unit * number(xform, name, file, 0.0) for name in ("xOffset", "yOffset"))
    if location is not None:
        x, y = x + unit * number(location, "x", file), y + unit * number(location, "y", file)
    return affinity.translate(shape, x, y) if x or y else shape
