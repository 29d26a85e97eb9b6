"""Pads and drawings of the open CAD board file as shapes on the board. [mm]

The file's y axis runs down and ours up; angles run against the clock for the eye in both. A pad's place is told in
its footprint's frame, its angle for the board. Footprints on the bottom stand in the file as they lie, seen through
the board, so that nothing is mirrored here. Names follow the format's public description; that angles and bottom
parts stand so, and how margins act, is recalled (from memory) and held against two other readers in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.fabdata.expressions import Expression, first, head, words
from landwise.shapes import Geometry

ROUND_SEGMENTS = 16  # of a quarter: an area 0.16 % short of a disc's
ARC_STEP = math.radians(5.0)
REACH_MM = 9000.0
MOST_CORNERS = 200_000
Points = list[tuple[float, float]]
CORNERS = ("bottom_right", "bottom_left", "top_left", "top_right")  # in the order of _cut_box's quarters


@dataclass(frozen=True)
class Frame:
    """Where a footprint stands: its origin on the board, y up [mm], and its angle [deg]. The board's own is zero."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0

    def at(self, x: float, y: float) -> tuple[float, float]:
        """A place of the frame (y down) on the board (y up)."""
        turn = math.radians(self.angle_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        return self.x_mm + x * cos + y * sin, self.y_mm + x * sin - y * cos


def number(text: object, file: str, place: str) -> float:
    """A number within reach.

    Raises
    ------
    InputError
        For anything else.
    """
    try:
        value = float(str(text))
    except (TypeError, ValueError):
        value = math.nan
    if not math.isfinite(value) or abs(value) > REACH_MM:
        raise InputError("not a number within reach", file=file, place=place, found=str(text)[:30])
    return value


def numbers(item: Expression | None, file: str, least: int, name: str) -> list[float]:
    """The numbers of a list, at least so many."""
    found: list[float] = []
    for word in words(item):
        try:
            float(word)
        except ValueError:
            break
        found.append(number(word, file, name))
    if len(found) < least:
        raise InputError("numbers are missing", file=file, place=name, found=str(len(found)), expected=str(least))
    return found


def pad_shape(pad: Expression, file: str, margin_mm: tuple[float, float] = (0.0, 0.0)) -> Geometry | None:
    """A pad's outline about its own middle, y up, before it is turned; None where nothing is left of it.

    `margin_mm` goes on every edge along and across it; for outlines other than rectangles, ovals and discs their mean.
    """
    import shapely

    kind = pad[3] if len(pad) > 3 and isinstance(pad[3], str) else ""
    width, height = numbers(first(pad, "size"), file, 2, f"pad {pad[1] if len(pad) > 1 else ''} size")[:2]
    grown = (width + 2 * margin_mm[0], height + 2 * margin_mm[1])
    if kind != "custom" and (min(width, height) <= 0 or min(grown) <= 0):
        return None
    mean = (margin_mm[0] + margin_mm[1]) / 2
    if kind == "circle":
        return _box(grown[0], grown[0], grown[0] / 2)
    if kind == "oval":
        return _box(*grown, min(grown) / 2)
    if kind == "rect":
        return _box(*grown, 0.0)
    if kind == "roundrect":
        share = numbers(first(pad, "roundrect_rratio") or ["", "0.25"], file, 1, "roundrect_rratio")[0]
        radius = min(max(share, 0.0), 0.5) * min(width, height)
        # Grown openings keep their rim's width around the corner, shrunk ones the share of their radius.
        radius = radius + mean if mean > 0 else min(max(share, 0.0), 0.5) * min(grown)
        cut = numbers(first(pad, "chamfer_ratio") or ["", "0"], file, 1, "chamfer_ratio")[0] * min(grown)
        return _cut_box(*grown, min(radius, min(grown) / 2), max(cut, 0.0), set(words(first(pad, "chamfer"))))
    if kind == "trapezoid":
        dy, dx = numbers(first(pad, "rect_delta") or ["", "0", "0"], file, 2, "rect_delta")[:2]
        x, y = width / 2, height / 2
        shape = shapely.Polygon(
            [(-x - dy / 2, -y - dx / 2), (x + dy / 2, -y + dx / 2), (x - dy / 2, y - dx / 2), (-x + dy / 2, y + dx / 2)]
        )
        return _usable(shape.buffer(mean, join_style="mitre"))
    if kind == "custom":
        return _custom(pad, file, (width, height), mean)
    raise InputError("unknown shape of a pad", file=file, place=f"pad {pad[1]}", found=kind[:30])


def _custom(pad: Expression, file: str, size: tuple[float, float], margin_mm: float) -> Geometry | None:
    """An anchor with drawings about it."""
    import shapely

    options = first(pad, "options")
    round_one = words(first(options, "anchor") if options else None)[:1] == ["circle"]
    shapes = []
    if min(size) > 0:
        shapes.append(_box(size[0], size[0], size[0] / 2) if round_one else _box(*size, 0.0))
    for item in (first(pad, "primitives") or [""])[1:]:
        shapes += drawn(item, Frame(), file, filled=True)
    return _usable(shapely.union_all(shapes).buffer(margin_mm, join_style="mitre")) if shapes else None


def _usable(shape: Geometry) -> Geometry | None:
    return None if shape.is_empty or shape.area <= 0 else shape


def _box(width: float, height: float, radius: float) -> Geometry:
    import shapely

    if radius <= 0:
        sharp: Geometry = shapely.box(-width / 2, -height / 2, width / 2, height / 2)
        return sharp
    x, y = max(width / 2 - radius, 0.0), max(height / 2 - radius, 0.0)
    inner: Geometry = shapely.LineString([(-x, -y), (x, y)]) if min(x, y) < 1e-9 else shapely.box(-x, -y, x, y)
    return (inner if inner.length > 0 else shapely.Point(0, 0)).buffer(radius, quad_segs=ROUND_SEGMENTS)


def _cut_box(width: float, height: float, radius: float, cut: float, corners: set[str]) -> Geometry:
    import shapely

    shape = _box(width, height, radius)
    for name in CORNERS if cut > 0 else ():
        if name in corners:
            x = width / 2 * (1 if "right" in name else -1)
            y = height / 2 * (1 if "top" in name else -1)
            inward = (-math.copysign(cut, x), -math.copysign(cut, y))
            # The corner stands square before it is cut, whatever the radius of the others.
            low, high = (min(x, x + inward[0]), min(y, y + inward[1])), (max(x, x + inward[0]), max(y, y + inward[1]))
            square = shapely.box(*low, *high)
            rest = shapely.Polygon([(x, y + inward[1]), (x + inward[0], y), (x + inward[0], y + inward[1])])
            shape = shape.difference(square).union(rest)
    return shape


def on_board(shape: Geometry, pad: Expression, frame: Frame, file: str) -> Geometry:
    """A pad's outline where it lies: moved by its hole's offset, turned by its own angle, at its place."""
    import shapely

    at = numbers(first(pad, "at"), file, 2, f"pad {pad[1]} at")
    turn = math.radians(at[2] if len(at) > 2 else 0.0)
    drill = first(pad, "drill")
    offset = first(drill, "offset") if drill else None
    dx, dy = numbers(offset, file, 2, "offset")[:2] if offset else (0.0, 0.0)
    x, y = frame.at(at[0], at[1])
    cos, sin = math.cos(turn), math.sin(turn)

    def placed(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        px, py = xy[:, 0] + dx, xy[:, 1] - dy
        return np.column_stack([x + px * cos - py * sin, y + px * sin + py * cos])

    moved: Geometry = shapely.transform(shape, placed)
    return moved


def stroke_width(item: Expression, file: str) -> float:
    """Width of a drawing's line; 0 where it has none."""
    stroke = first(item, "stroke")
    width = first(stroke, "width") if stroke else first(item, "width")
    return numbers(width, file, 1, "width")[0] if width else 0.0


def path_of(item: Expression, frame: Frame, file: str) -> tuple[Points, bool]:
    """A drawing's line on the board, and whether it is closed; no points for what is no line (text, pictures)."""
    kind = head(item).removeprefix("gr_").removeprefix("fp_")
    if kind in ("line", "segment"):
        return [frame.at(*numbers(first(item, end), file, 2, f"{kind} {end}")[:2]) for end in ("start", "end")], False
    if kind == "rect":
        (x1, y1), (x2, y2) = (numbers(first(item, end), file, 2, f"{kind} {end}")[:2] for end in ("start", "end"))
        return [frame.at(x, y) for x, y in ((x1, y1), (x2, y1), (x2, y2), (x1, y2))], True
    if kind == "circle":
        middle, edge = (numbers(first(item, end), file, 2, f"{kind} {end}")[:2] for end in ("center", "end"))
        radius = math.dist(middle, edge)
        turns = np.linspace(0, 2 * math.pi, 4 * ROUND_SEGMENTS + 1)[:-1]
        return [frame.at(middle[0] + radius * math.cos(t), middle[1] + radius * math.sin(t)) for t in turns], True
    if kind == "arc":
        return _arc(item, frame, file), False
    if kind == "poly":
        return _corners(first(item, "pts"), frame, file), True
    if kind in ("curve", "bezier"):
        return _curve(_corners(first(item, "pts"), frame, file)), False
    return [], False


def _corners(points: Expression | None, frame: Frame, file: str) -> Points:
    found: Points = []
    for one in (points or [""])[1:]:
        if head(one) == "xy":
            found.append(frame.at(*numbers(one, file, 2, "xy")[:2]))
        elif head(one) == "arc":
            found += _arc(one, frame, file)
        if len(found) > MOST_CORNERS:
            raise InputError(
                "an outline of too many corners", file=file, place="pts", expected=f"at most {MOST_CORNERS}"
            )
    return found


def _curve(ends: Points) -> Points:
    """A cubic curve by its four points."""
    if len(ends) != 4:
        return ends
    p = np.array(ends)
    t = np.linspace(0, 1, 25)[:, None]
    found = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t**2 * (1 - t) * p[2] + t**3 * p[3]
    return [(float(x), float(y)) for x, y in found]


def _arc(item: Expression, frame: Frame, file: str) -> Points:
    """An arc through three points; in older files about a middle, by an angle."""
    start, end = (frame.at(*numbers(first(item, name), file, 2, f"arc {name}")[:2]) for name in ("start", "end"))
    if (told := first(item, "mid")) is not None:
        return through(start, frame.at(*numbers(told, file, 2, "arc mid")[:2]), end)
    angle = numbers(first(item, "angle"), file, 1, "arc angle")[0]
    # Here `start` is the middle and `end` where the arc begins; it runs with the clock for the eye.
    radius, begin = math.dist(start, end), math.atan2(end[1] - start[1], end[0] - start[0])
    return _sweep(start, radius, begin, -math.radians(angle))


def through(start: tuple[float, float], mid: tuple[float, float], end: tuple[float, float]) -> Points:
    """Points of the arc through three; a straight line where they stand in one.

    Examples
    --------
    >>> [(round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in through((1, 0), (0, 1), (-1, 0))[::18]]
    [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]
    """
    (ax, ay), (bx, by), (cx, cy) = start, mid, end
    twice = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    if abs(twice) < 1e-12:
        return [start, end]
    a, b, c = ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy
    middle = (
        (a * (by - cy) + b * (cy - ay) + c * (ay - by)) / twice,
        (a * (cx - bx) + b * (ax - cx) + c * (bx - ax)) / twice,
    )
    one, two, three = (math.atan2(y - middle[1], x - middle[0]) for x, y in (start, mid, end))
    sweep = (three - one) % (2 * math.pi)
    if (two - one) % (2 * math.pi) > sweep:
        sweep -= 2 * math.pi
    return [*_sweep(middle, math.dist(middle, start), one, sweep)[:-1], end]


def _sweep(middle: tuple[float, float], radius: float, begin: float, sweep: float) -> Points:
    count = max(2, min(2000, math.ceil(abs(sweep) / ARC_STEP))) + 1
    return [
        (middle[0] + radius * math.cos(t), middle[1] + radius * math.sin(t))
        for t in np.linspace(begin, begin + sweep, count).tolist()
    ]


def drawn(item: Expression, frame: Frame, file: str, *, filled: bool = False) -> list[Geometry]:
    """The areas that a drawing covers: its line, and what it encloses where it is filled."""
    import shapely

    points, closed = path_of(item, frame, file)
    if len(points) < 2:
        return []
    width = stroke_width(item, file)
    fill = words(first(item, "fill"))[:1]
    inner = first(item, "fill")
    solid = fill in (["solid"], ["yes"]) or (inner is not None and words(first(inner, "type"))[:1] == ["solid"])
    # Outlines of older files, and those of a pad, are filled unless they say otherwise.
    solid = (
        solid or (head(item).endswith("poly") and inner is None) or (filled and not fill and inner is None and closed)
    )
    found = []
    if closed and solid and len(points) > 2:
        shape = shapely.make_valid(shapely.Polygon(points))
        found += [one for one in shapely.get_parts(shape) if one.geom_type in ("Polygon", "MultiPolygon")]
    if width > 0:
        line = shapely.LineString([*points, points[0]] if closed else points)
        found.append(line.buffer(width / 2, quad_segs=ROUND_SEGMENTS))
    return [shapely.union_all(found)] if found else []
