"""Aperture macros: their arithmetic, and their primitives as polygons (Gerber layer format specification, 4.5)."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

from landwise.errors import FileError
from landwise.fabdata.gerber.model import QUAD_SEGMENTS
from landwise.shapes import Geometry

_TOKEN = re.compile(r"\s*(\d+\.?\d*|\.\d+|\$\d+|[-+xX/()])")
_MOST_TOKENS = 400
_MOST_RINGS = 100
_MOST_CORNERS = 20_000  # four times the specification's limit for one outline


def evaluate(text: str, variables: dict[int, float]) -> float:
    """An arithmetic expression of a macro. Undefined variables are 0, as the specification says.

    Raises
    ------
    ValueError
        For anything that is no expression, and division by zero.

    Examples
    --------
    >>> evaluate("$1x2-(3+1)/2", {1: 5.0})
    8.0
    """
    tokens: list[str] = []
    at = 0
    text = text.strip()
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None or len(tokens) > _MOST_TOKENS:
            raise ValueError(f"not an expression: {text[:40]!r}")
        tokens.append(match[1])
        at = match.end()
    value, rest = _sum(tokens, 0, variables, 0)
    if rest != len(tokens) or not math.isfinite(value):
        raise ValueError(f"not an expression: {text[:40]!r}")
    return value


def _sum(tokens: list[str], at: int, variables: dict[int, float], depth: int) -> tuple[float, int]:
    value, at = _product(tokens, at, variables, depth)
    while at < len(tokens) and tokens[at] in "+-":
        right, after = _product(tokens, at + 1, variables, depth)
        value = value + right if tokens[at] == "+" else value - right
        at = after
    return value, at


def _product(tokens: list[str], at: int, variables: dict[int, float], depth: int) -> tuple[float, int]:
    value, at = _factor(tokens, at, variables, depth)
    while at < len(tokens) and tokens[at] in "xX/":
        right, after = _factor(tokens, at + 1, variables, depth)
        if tokens[at] == "/":
            if right == 0:
                raise ValueError("division by zero")
            value /= right
        else:
            value *= right
        at = after
    return value, at


def _factor(tokens: list[str], at: int, variables: dict[int, float], depth: int) -> tuple[float, int]:
    if at >= len(tokens) or depth > 60:
        raise ValueError("an expression ends early or is nested too deep")
    token = tokens[at]
    if token in "+-":
        value, after = _factor(tokens, at + 1, variables, depth + 1)
        return (value if token == "+" else -value), after
    if token == "(":
        value, after = _sum(tokens, at + 1, variables, depth + 1)
        if after >= len(tokens) or tokens[after] != ")":
            raise ValueError("a bracket is not closed")
        return value, after + 1
    if token.startswith("$"):
        return variables.get(int(token[1:]), 0.0), at + 1
    if token[0].isdigit() or token[0] == ".":
        return float(token), at + 1
    raise ValueError(f"not an expression: {token!r}")


def macro_shape(body: Sequence[str], parameters: Sequence[float], factor: float) -> Geometry:
    """The polygon of a macro with its parameters. [mm]

    Parameters
    ----------
    body : sequence of str
        The macro's blocks: primitives and assignments.
    parameters : sequence of float
        `$1`, `$2`, … in the file's unit.
    factor : float
        Millimetres of the file's unit.

    Raises
    ------
    ValueError
        For an unknown primitive, a wrong count of values, or an expression that can't be worked.

    Examples
    --------
    >>> round(macro_shape(["21,1,$1,$2,0,0,0"], [2.0, 1.0], 1.0).area, 6)
    2.0
    """
    import shapely

    variables = dict(enumerate(parameters, 1))
    shape: Geometry = shapely.Polygon()
    for block in body:
        block = block.strip()
        if not block or block == "0" or block.startswith(("0 ", "0,")):
            continue
        if block.startswith("$"):
            name, mark, text = block.partition("=")
            if not mark or not name[1:].strip().isdigit():
                raise ValueError(f"not an assignment: {block[:40]!r}")
            variables[int(name[1:])] = evaluate(text, variables)
            continue
        code, *texts = block.split(",")
        values = [evaluate(text, variables) for text in texts if text.strip()]
        part, exposed = primitive(code.strip(), values)
        part = shapely.make_valid(part) if not part.is_valid else part
        shape = shape.union(part) if exposed else shape.difference(part)
    return shapely.transform(shape, lambda xy: xy * factor) if factor != 1.0 else shape


def primitive(code: str, values: list[float]) -> tuple[Geometry, bool]:
    """One primitive as a polygon about the macro's origin, and whether it is dark.

    Raises
    ------
    ValueError
    """
    from shapely import affinity

    if code not in _PRIMITIVES:
        raise ValueError(f"unknown primitive {code[:10]!r}")
    shape, exposure, turn = _PRIMITIVES[code](code, values)
    return (affinity.rotate(shape, turn, origin=(0, 0)) if turn else shape), exposure != 0


def _need(code: str, values: list[float], least: int, most: int) -> list[float]:
    """The values, a missing last rotation taken as none."""
    if not least <= len(values) <= most:
        raise ValueError(f"primitive {code} has {len(values)} values, expected {least} to {most}")
    return [*values, 0.0][:most]


def _circle(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    import shapely

    exposure, diameter, x, y, turn = _need(code, values, 4, 5)
    return shapely.Point(x, y).buffer(_positive(diameter) / 2, quad_segs=QUAD_SEGMENTS), exposure, turn


def _vector_line(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    import shapely

    exposure, width, x1, y1, x2, y2, turn = _need(code, values, 7, 7)
    line = shapely.LineString([(x1, y1), (x2, y2)])
    return line.buffer(_positive(width) / 2, cap_style="flat"), exposure, turn


def _box(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    import shapely

    exposure, width, height, x, y, turn = _need(code, values, 6, 6)
    width, height = _positive(width), _positive(height)
    if code == "21":
        x, y = x - width / 2, y - height / 2
    return shapely.box(x, y, x + width, y + height), exposure, turn


def _outline(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    import shapely

    if len(values) < 5:
        raise ValueError("primitive 4 has too few values")
    exposure, corners = values[0], values[1]
    if not (corners.is_integer() and 1 <= corners <= _MOST_CORNERS):
        raise ValueError(f"primitive 4 has {corners:g} corners")
    end = int(corners) * 2 + 4
    values = _need(code, values, end, end + 1)
    points = [(values[k], values[k + 1]) for k in range(2, end, 2)]
    shape = shapely.Polygon(points) if len(points) > 2 else shapely.Polygon()
    return shape, exposure, values[end]


def _regular(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    exposure, corners, x, y, diameter, turn = _need(code, values, 5, 6)
    if not (corners.is_integer() and 3 <= corners <= 12):
        raise ValueError(f"primitive 5 has {corners:g} corners, expected 3 to 12")
    return regular(int(corners), _positive(diameter), x, y), exposure, turn


def _thermal(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    import shapely

    x, y, outer, inner, gap, turn = _need(code, values, 5, 6)
    ring = shapely.Point(x, y).buffer(_positive(outer) / 2, quad_segs=QUAD_SEGMENTS)
    ring = ring.difference(shapely.Point(x, y).buffer(abs(inner) / 2, quad_segs=QUAD_SEGMENTS))
    if gap > 0:
        ring = ring.difference(shapely.box(x - gap / 2, y - outer, x + gap / 2, y + outer))
        ring = ring.difference(shapely.box(x - outer, y - gap / 2, x + outer, y + gap / 2))
    return ring, 1.0, turn


def _moire(code: str, values: list[float]) -> tuple[Geometry, float, float]:
    import shapely

    x, y, outer, thick, gap, most, cross, reach, turn = _need(code, values, 8, 9)
    if not 0 <= most <= _MOST_RINGS:
        raise ValueError(f"primitive 6 has {most:g} rings")
    centre, shape, size = shapely.Point(x, y), shapely.Polygon(), outer
    for _ in range(int(most)):
        if size <= 0:
            break
        ring = centre.buffer(size / 2, quad_segs=QUAD_SEGMENTS)
        if size - 2 * thick > 0:
            ring = ring.difference(centre.buffer(size / 2 - thick, quad_segs=QUAD_SEGMENTS))
        shape = shape.union(ring)
        size -= 2 * (thick + gap)
    if cross > 0 and reach > 0:
        shape = shape.union(shapely.box(x - reach / 2, y - cross / 2, x + reach / 2, y + cross / 2))
        shape = shape.union(shapely.box(x - cross / 2, y - reach / 2, x + cross / 2, y + reach / 2))
    return shape, 1.0, turn


_PRIMITIVES: dict[str, Callable[[str, list[float]], tuple[Geometry, float, float]]] = {
    "1": _circle,
    "2": _vector_line,
    "20": _vector_line,
    "21": _box,
    "22": _box,
    "4": _outline,
    "5": _regular,
    "6": _moire,
    "7": _thermal,
}


def regular(corners: int, diameter: float, x: float = 0.0, y: float = 0.0, turn_deg: float = 0.0) -> Geometry:
    """A regular polygon by the diameter of its outer circle, its first corner to the right."""
    import shapely

    angles = [2 * math.pi * k / corners + math.radians(turn_deg) for k in range(corners)]
    made: Geometry = shapely.Polygon([(x + diameter / 2 * math.cos(a), y + diameter / 2 * math.sin(a)) for a in angles])
    return made


def _positive(value: float) -> float:
    if value < 0:
        raise ValueError(f"a size is negative: {value:g}")
    return value


def macro_error(error: Exception, file: str, place: str, name: str) -> FileError:
    """A macro that can't be worked, as the file's error."""
    return FileError("the aperture macro can't be worked", file=file, place=place, found=f"{name}: {error}")
