"""Maps of the board to scale: a field in steps of one hue with its strip of values, a limit, screws and parts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.content import mark_of
from landwise.memory import known
from landwise.shapes import Geometry
from landwise.sheets.axis import number_text, round_step
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import DASHED, HAIR, LIGHT, MM_PER_PT, NARROW, SMALL, WIDE, Stroke, Theme
from landwise.sheets.marks import mm_rule, scale_text
from landwise.sheets.svg import Disc, Many, Mark, Picture, Text, line, rectangle, write_svg

PAGE_MM = (138.0, 66.0)  # room for the board itself; the strip stands at its right
SCALES = (5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.25, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.1, 0.05)
STEPS = 8
TINT = 0.12  # each step lays this much more of the hue on the one below
FINE_LINES = 60  # of the grid that the steps are drawn on, along the longer edge
STRIP_MM = 5.0
LIMIT_LINE = Stroke("brick", WIDE, DASHED)
SCREW_MM = 3.2
FIGURE_MM = SMALL * MM_PER_PT
Array = NDArray[np.floating]


@dataclass(frozen=True)
class Placed:
    """A part on the map: its reference and body. [mm]"""

    ref: str
    x_mm: float
    y_mm: float
    width_mm: float
    length_mm: float


@dataclass(frozen=True, eq=False)
class Field:
    """A field over the board (y, x) on lines of a mesh, in a unit. [mm]"""

    x_mm: Array
    y_mm: Array
    values: Array
    unit: str
    says: str


@dataclass(frozen=True)
class Bound:
    """A value that the field should stay below, and what it says where it does not."""

    value: float
    says: str


def board_map(
    field: Field,
    size_mm: tuple[float, float],
    *,
    title: str,
    prefix: str,
    limit: Bound | None = None,
    screws: Sequence[tuple[float, float]] = (),
    parts: Sequence[Placed] = (),
    theme: Theme = LIGHT,
) -> str:
    """A map as an SVG document, true to the scale it names."""
    content = mark_of(field, size_mm, title, prefix, limit, screws, parts, theme)

    def drawn() -> str:
        return _drawn(field, size_mm, title=title, prefix=prefix, limit=limit, screws=screws, parts=parts, theme=theme)

    return known(drawn, "board map", content)


def _drawn(
    field: Field,
    size_mm: tuple[float, float],
    *,
    title: str,
    prefix: str,
    limit: Bound | None,
    screws: Sequence[tuple[float, float]],
    parts: Sequence[Placed],
    theme: Theme,
) -> str:
    picture, scale = map_picture(field, size_mm, limit=limit, screws=screws, parts=parts)
    x1, y1, x2, y2 = picture.box
    low, high = float(field.values.min()), float(field.values.max())
    said = f"{field.says}: {number_text(low)} to {number_text(high)} {field.unit}"
    if limit is not None:
        said += f", limit {number_text(limit.value)}"
    box = (x1 - 1, y1 - 1, x2 + 1, y2 + 1)
    return write_svg(picture, box, title=f"{title}, {scale_text(scale)}", description=said, prefix=prefix, theme=theme)


def map_picture(
    field: Field,
    size_mm: tuple[float, float],
    *,
    limit: Bound | None = None,
    screws: Sequence[tuple[float, float]] = (),
    parts: Sequence[Placed] = (),
) -> tuple[Picture, float]:
    """The marks of `board_map`, and the scale."""
    length, width = size_mm
    scale = next((s for s in SCALES if length * s <= PAGE_MM[0] and width * s <= PAGE_MM[1]), SCALES[-1])
    x, y, values = _fine(field, size_mm)
    levels = _levels(values)
    marks: list[Mark] = [rectangle((0, 0, length * scale, width * scale), "paper", Stroke("ink", NARROW))]

    def paper(points: Array) -> NDArray[np.float64]:
        return np.column_stack([points[:, 0] * scale, (width - points[:, 1]) * scale])

    for level in levels[1:-1]:
        marks += _filled(_above(x, y, values, level), paper, "sea", TINT)
    if limit is not None and values.max() > limit.value:
        beyond = _above(x, y, values, limit.value)
        marks += _filled(beyond, paper, "back/brick", 1.0)
        marks += _edges(beyond, paper)
    marks.append(rectangle((0, 0, length * scale, width * scale), "", Stroke("ink", WIDE)))
    for sx, sy in screws:
        marks += _screw(sx * scale, (width - sy) * scale, scale)
    for part in parts:
        marks += _part(part, width, scale)
    marks += _strip(levels, field.unit, length * scale + 6.0, width * scale)
    below = width * scale + 3.0
    rule = mm_rule(min(length, 10.0 * max(1, int(length // 10))), scale)
    marks += [mark.moved(0.0, below - rule.box[1]) for mark in rule.marks]
    text = below + rule.height + line_mm(SMALL)
    marks.append(Text(0.0, text, f"{field.says} · {scale_text(scale)}", colour="graphite"))
    if limit is not None:
        reached = "hatched: " if values.max() > limit.value else "nowhere reached: "
        marks.append(
            Text(
                0.0,
                text + line_mm(SMALL),
                reached + limit.says,
                colour="brick" if values.max() > limit.value else "graphite",
            )
        )
    return Picture(tuple(marks)), scale


def _fine(field: Field, size_mm: tuple[float, float]) -> tuple[Array, Array, Array]:
    """The field on an even grid to the board's edges, smooth between the mesh's lines."""
    from scipy.interpolate import RectBivariateSpline

    length, width = size_mm
    longer = max(length, width)
    nx, ny = (max(8, round(FINE_LINES * side / longer)) + 1 for side in (length, width))
    x, y = np.linspace(0, length, nx), np.linspace(0, width, ny)
    order = min(3, len(field.x_mm) - 1, len(field.y_mm) - 1)
    spline = RectBivariateSpline(field.y_mm, field.x_mm, field.values, kx=order, ky=order)
    inside = spline(np.clip(y, field.y_mm[0], field.y_mm[-1]), np.clip(x, field.x_mm[0], field.x_mm[-1]))
    return x, y, np.clip(inside, field.values.min(), field.values.max())


def _levels(values: Array) -> list[float]:
    """Round values from below the least to above the greatest."""
    low, high = float(values.min()), float(values.max())
    if high - low <= 1e-12 * max(abs(high), 1.0):
        return [low, high]
    step = round_step((high - low) / STEPS)
    first, last = int(np.floor(low / step + 1e-9)), int(np.ceil(high / step - 1e-9))
    return [round(n * step, 12) for n in range(first, last + 1)]


def _above(x: Array, y: Array, values: Array, level: float) -> Geometry | None:
    """Where the field is above a level, as one shape: triangles of the grid cut by it, joined."""
    import shapely

    ny, nx = values.shape
    at = np.arange(ny * nx).reshape(ny, nx)
    a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, 1:].ravel(), at[1:, :-1].ravel()
    gx, gy = np.meshgrid(x, y)
    points, flat = np.column_stack([gx.ravel(), gy.ravel()]), values.ravel() - level
    four = np.column_stack([a, b, c, d])
    above = (flat[four] >= 0).all(axis=1)
    shapes = [shapely.polygons(points[four[above]])] if above.any() else []
    cut = four[~above & (flat[four] >= 0).any(axis=1)]
    pieces = []
    for corners in np.concatenate([cut[:, [0, 1, 2]], cut[:, [0, 2, 3]]]):
        ring = []
        for one, other in zip(corners, np.roll(corners, -1), strict=True):
            if flat[one] >= 0:
                ring.append(points[one])
            if (flat[one] >= 0) != (flat[other] >= 0):
                # From the lower corner always, so that neighbours cut their common edge at the same point.
                low, high = sorted((one, other))
                share = flat[low] / (flat[low] - flat[high])
                ring.append(points[low] + share * (points[high] - points[low]))
        if len(ring) >= 3:
            pieces.append(shapely.Polygon(ring))
    if pieces:
        shapes.append(np.array(pieces, dtype=object))
    if not shapes:
        return None
    whole: Geometry = shapely.coverage_union_all(np.concatenate(shapes))
    return whole


def _rings(shape: object) -> tuple[Array, NDArray[np.int64]] | None:
    import shapely

    if shape is None:
        return None
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 1e-6]
    if not parts:
        return None
    rings = shapely.get_rings(np.array(parts, dtype=object))
    loops = [shapely.get_coordinates(ring)[:-1] for ring in rings]
    starts = np.cumsum([0, *(len(loop) for loop in loops[:-1])]).astype(np.int64)
    return np.concatenate(loops), starts


def _filled(
    shape: Geometry | None, paper: Callable[[Array], NDArray[np.float64]], fill: str, opacity: float
) -> list[Mark]:
    found = _rings(shape)
    return [] if found is None else [Many(paper(found[0]), found[1], fill, None, opacity)]


def _edges(shape: Geometry | None, paper: Callable[[Array], NDArray[np.float64]]) -> list[Mark]:
    found = _rings(shape)
    return [] if found is None else [Many(paper(found[0]), found[1], "", LIMIT_LINE)]


def _screw(x: float, y: float, scale: float) -> list[Mark]:
    radius = SCREW_MM / 2 * scale
    arm = radius * 0.6
    return [
        Disc(x, y, radius, "paper", Stroke("graphite", NARROW)),
        line([(x - arm, y), (x + arm, y)], Stroke("graphite", NARROW)),
        line([(x, y - arm), (x, y + arm)], Stroke("graphite", NARROW)),
    ]


def _part(part: Placed, width: float, scale: float) -> list[Mark]:
    x, y = part.x_mm * scale, (width - part.y_mm) * scale
    half = max(part.width_mm * scale / 2, 0.6), max(part.length_mm * scale / 2, 0.6)
    body = rectangle((x - half[0], y - half[1], x + half[0], y + half[1]), "body", Stroke("ink", NARROW), opacity=0.85)
    wide = width_mm(part.ref, SMALL) + 0.8
    if wide < 2 * half[0] and 2 * half[1] > FIGURE_MM:
        return [body, Text(x, y + 0.36 * FIGURE_MM, part.ref, anchor="middle")]
    # A body too small for its name carries it below, on paper of its own.
    top = y + half[1] + 0.5
    plate = rectangle((x - wide / 2, top, x + wide / 2, top + FIGURE_MM * 1.1), "paper", opacity=0.85)
    return [body, plate, Text(x, top + 0.86 * FIGURE_MM, part.ref, anchor="middle")]


def _strip(levels: Sequence[float], unit: str, left: float, height: float) -> list[Mark]:
    """The strip of steps at the map's right, values at their boundaries, least below."""
    count = max(1, len(levels) - 1)
    tall = min(height - 2 * line_mm(SMALL), 9.0 * count)
    top = line_mm(SMALL) + 1.0
    marks: list[Mark] = [Text(left, FIGURE_MM, unit, colour="graphite")] if unit else []
    marks.append(rectangle((left, top, left + STRIP_MM, top + tall), "paper", Stroke("ink", HAIR)))
    for step in range(1, count):
        upper = top + tall * (1 - step / count)
        marks.append(rectangle((left, top, left + STRIP_MM, upper), "sea", opacity=TINT))
    for at, level in enumerate(levels):
        y = top + tall * (1 - at / count)
        marks.append(line([(left + STRIP_MM, y), (left + STRIP_MM + 1.0, y)], Stroke("ink", NARROW)))
        marks.append(Text(left + STRIP_MM + 1.6, y + 0.36 * FIGURE_MM, number_text(level), colour="graphite"))
    return marks
