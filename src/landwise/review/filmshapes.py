"""Shapes of Gerber apertures: standard ones and macros, as outlines around their origin. [mm]"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from landwise.errors import InputError

SEGMENTS = 16  # chords a quarter turn: 0.12 % of the radius off at most
MOST_PRIMITIVES, MOST_VERTICES = 2000, 10_000


def _disc(diameter: float, x: float = 0.0, y: float = 0.0) -> Any:
    import shapely

    return shapely.Point(x, y).buffer(diameter / 2, SEGMENTS)


def standard(kind: str, values: Sequence[float], unit: float) -> tuple[Any, float | None, float | None]:
    """Outline of a standard aperture, with exact area and wall where the outline's chords are not exact.

    Raises
    ------
    InputError
        For sizes that make no shape.
    """
    import shapely

    sizes = [value * unit for value in values]
    if not sizes or not all(math.isfinite(v) and abs(v) < 1e4 for v in sizes) or sizes[0] <= 0:
        raise InputError("an aperture without a size", found=f"{kind}, {values}")
    if kind == "C":
        return _holed(_disc(sizes[0]), sizes[1:2], math.pi / 4 * sizes[0] ** 2, math.pi * sizes[0])
    if kind == "P":
        count = int(values[1]) if len(values) > 1 else 0
        if not 3 <= count <= 12:
            raise InputError("a polygon aperture has 3 to 12 corners", found=f"{count}")
        turn = math.radians(values[2]) if len(values) > 2 else 0.0
        shape = _regular(0.0, 0.0, sizes[0], count, turn)
        return _holed(shape, sizes[3:4], shape.area, shape.length)
    if len(sizes) < 2 or sizes[1] <= 0:
        raise InputError("an aperture without a width", found=f"{kind}, {values}")
    length, width = sizes[:2]
    if kind == "R":
        return _holed(shapely.box(-length / 2, -width / 2, length / 2, width / 2), sizes[2:3], length * width,
                      2 * (length + width))  # fmt: skip
    small, rest = min(length, width), abs(length - width)
    if rest < 1e-9:
        return _holed(_disc(small), sizes[2:3], math.pi / 4 * small**2, math.pi * small)
    ends = [(-rest / 2, 0.0), (rest / 2, 0.0)] if length > width else [(0.0, -rest / 2), (0.0, rest / 2)]
    shape = shapely.LineString(ends).buffer(small / 2, SEGMENTS)
    return _holed(shape, sizes[2:3], math.pi / 4 * small**2 + rest * small, math.pi * small + 2 * rest)


def _holed(shape: Any, hole: Sequence[float], area: float, wall: float) -> tuple[Any, float, float]:
    if not hole or hole[0] <= 0:
        return shape, area, wall
    diameter = hole[0]
    return shape.difference(_disc(diameter)), area - math.pi / 4 * diameter**2, wall + math.pi * diameter


def _regular(x: float, y: float, diameter: float, count: int, turn: float) -> Any:
    import shapely

    at = turn + 2 * np.pi * np.arange(count) / count
    return shapely.Polygon(np.column_stack([x + diameter / 2 * np.cos(at), y + diameter / 2 * np.sin(at)]))


# --- macros ---

_WORD = re.compile(r"\s*(\d+\.?\d*|\.\d+|\$\d+|[-+xX/()])")


def expression(text: str, variables: Mapping[int, float]) -> float:
    """Value of a macro's arithmetic: + - x / and brackets, with $ variables (0 where never set).

    >>> expression("$1x2-(0.5+$2)/0.25", {1: 3.0, 2: 0.25})
    3.0
    """
    sum_ = _Sum(text, variables)
    found = sum_.total(0)
    if sum_.place != len(sum_.words):
        raise InputError("can't read the macro's arithmetic", found=text[:40])
    return found


class _Sum:
    """Reads a macro's arithmetic from left to right: sums of products of atoms."""

    def __init__(self, text: str, variables: Mapping[int, float]) -> None:
        self.text, self.variables, self.place = text[:40], variables, 0
        self.words: list[str] = []
        at, text = 0, text.strip()
        while at < len(text):
            match = _WORD.match(text, at)
            if match is None:
                raise self._unread()
            self.words.append(match[1])
            at = match.end()
        if len(self.words) > 200:
            raise InputError("too long a macro expression", found=f"{len(self.words)} words", expected="≤ 200")

    def _unread(self) -> InputError:
        return InputError("can't read the macro's arithmetic", found=self.text)

    def _next(self, choices: str) -> str | None:
        if self.place < len(self.words) and self.words[self.place] in choices:
            self.place += 1
            return self.words[self.place - 1]
        return None

    def total(self, depth: int) -> float:
        value = self._product(depth)
        while (sign := self._next("+-")) is not None:
            value += -self._product(depth) if sign == "-" else self._product(depth)
        return value

    def _product(self, depth: int) -> float:
        value = self._atom(depth)
        while (sign := self._next("xX/")) is not None:
            other = self._atom(depth)
            if sign == "/" and other == 0:
                raise InputError("a division by zero in the macro", found=self.text)
            value = value / other if sign == "/" else value * other
        return value

    def _atom(self, depth: int) -> float:
        if self.place >= len(self.words) or depth > 40:
            raise self._unread()
        word = self.words[self.place]
        self.place += 1
        if word in "+-":
            return self._atom(depth + 1) * (-1 if word == "-" else 1)
        if word == "(":
            value = self.total(depth + 1)
            if self._next(")") is None:
                raise InputError("a bracket is open in the macro", found=self.text)
            return value
        if word[0] == "$":
            return self.variables.get(int(word[1:]), 0.0)
        try:
            return float(word)
        except ValueError:
            raise self._unread() from None


def macro(body: Sequence[str], values: Sequence[float], unit: float) -> Any:
    """Outline of a macro aperture.

    Raises
    ------
    InputError
        For arithmetic or primitives that can't be read, or an empty shape.
    """
    import shapely

    variables = {k + 1: value for k, value in enumerate(values)}
    whole: Any = shapely.Polygon()
    for line in body[:MOST_PRIMITIVES]:
        text = line.strip()
        if not text or text.startswith("0"):
            continue
        if text.startswith("$"):
            name, _, right = text.partition("=")
            if not name[1:].strip().isdigit() or not right:
                raise InputError("can't read the macro's assignment", found=text[:40])
            variables[int(name[1:])] = expression(right, variables)
            continue
        code, *rest = text.split(",")
        numbers = [expression(part, variables) for part in rest]
        if not all(math.isfinite(v) and abs(v) < 1e6 for v in numbers):
            raise InputError("a macro's number is out of range", found=text[:40])
        draw = PRIMITIVES.get(code.strip())
        if draw is None:
            raise InputError("unknown macro primitive", found=code[:20], expected=", ".join(PRIMITIVES))
        try:
            dark, shape = draw(numbers, unit)
        except IndexError:
            raise InputError("a macro primitive lacks numbers", found=text[:40]) from None
        shape = shape if shape.is_valid else shape.buffer(0)
        whole = whole.union(shape) if dark else whole.difference(shape)
    if whole.is_empty:
        raise InputError("a macro without area", found="; ".join(body)[:60])
    return whole


def _turned(shape: Any, degrees: float) -> Any:
    from shapely import affinity

    return affinity.rotate(shape, degrees, origin=(0, 0)) if degrees else shape


Drawn = tuple[bool, Any]


def _circle(v: list[float], unit: float) -> Drawn:
    return v[0] != 0, _turned(_disc(v[1] * unit, v[2] * unit, v[3] * unit), v[4] if len(v) > 4 else 0.0)


def _vector(v: list[float], unit: float) -> Drawn:
    import shapely

    width, x1, y1, x2, y2 = (value * unit for value in v[1:6])
    if x1 == x2 and y1 == y2:
        return v[0] != 0, shapely.Polygon()
    return v[0] != 0, _turned(shapely.LineString([(x1, y1), (x2, y2)]).buffer(width / 2, cap_style="flat"), v[6])


def _centred(v: list[float], unit: float) -> Drawn:
    import shapely

    length, width, x, y = (value * unit for value in v[1:5])
    return v[0] != 0, _turned(shapely.box(x - length / 2, y - width / 2, x + length / 2, y + width / 2), v[5])


def _outline(v: list[float], unit: float) -> Drawn:
    import shapely

    count = int(v[1])
    if not 1 <= count <= MOST_VERTICES or len(v) < 2 * count + 5:
        raise IndexError
    xy = np.array(v[2 : 4 + 2 * count]).reshape(-1, 2) * unit
    return v[0] != 0, _turned(shapely.Polygon(xy), v[4 + 2 * count])


def _polygon(v: list[float], unit: float) -> Drawn:
    count = int(v[1])
    if not 3 <= count <= 12:
        raise InputError("a macro polygon has 3 to 12 corners", found=f"{count}")
    return v[0] != 0, _turned(_regular(v[2] * unit, v[3] * unit, v[4] * unit, count, 0.0), v[5] if len(v) > 5 else 0.0)


def _thermal(v: list[float], unit: float) -> Drawn:
    import shapely

    x, y, outer, inner, gap = (value * unit for value in v[:5])
    ring = _disc(outer, x, y).difference(_disc(inner, x, y))
    bars = shapely.union_all([
        shapely.box(x - outer, y - gap / 2, x + outer, y + gap / 2),
        shapely.box(x - gap / 2, y - outer, x + gap / 2, y + outer),
    ])  # fmt: skip
    return True, _turned(ring.difference(bars), v[5] if len(v) > 5 else 0.0)


PRIMITIVES: Mapping[str, Callable[[list[float], float], Drawn]] = {
    "1": _circle, "2": _vector, "20": _vector, "21": _centred, "4": _outline, "5": _polygon, "7": _thermal,
}  # fmt: skip
