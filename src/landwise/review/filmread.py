"""Copper films read with every flash kept apart from the tracks and planes it touches.

Covers what such films use: standard and macro apertures, flashes, strokes, arcs, regions, step and repeat, dark and
clear, component attributes (also in comments). Aperture blocks and turned, scaled or mirrored flashes are refused.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from landwise.errors import InputError
from landwise.quantities import INCH_MM
from landwise.review.building import openings
from landwise.review.filmshapes import SEGMENTS, macro, standard
from landwise.review.model import Openings

MOST_BYTES, MOST_OBJECTS = 64_000_000, 1_000_000
FILLED = 0.6  # strokes that fill less of their hull are a drawing, not a painted pad
_STATEMENT = re.compile(r"%([^%]*)%|([^*%]*)\*")
_WORD = re.compile(r"([GDMXYIJ])([+-]?[\d.]+)")
_FORMAT = re.compile(r"FS([LTD]?)([AI])(?:N\d+)?(?:G\d+)?X(\d)(\d)Y(\d)(\d)")


@dataclass
class _Object:
    kind: str  # flash, stroke, region
    polygon: Any
    span: tuple[int, int]
    end: tuple[float, float]
    dark: bool
    component: str
    pin: str
    area: float | None = None
    wall: float | None = None
    repeated: bool = False


@dataclass(frozen=True)
class Film:
    """A film as read: its text, its pads, and which statements made each pad.

    Parameters
    ----------
    file, text : str
    pads : Openings
        Lengths in mm.
    parts : tuple of tuples
        Objects of each pad; empty where clear shapes cut it.
    notes : tuple of str
    unit_mm : float
        The file's unit.
    digits : (int, int)
        Digits before and after the point in its coordinates.
    """

    file: str
    text: str
    pads: Openings
    parts: tuple[tuple[Any, ...], ...]
    notes: tuple[str, ...]
    unit_mm: float
    digits: tuple[int, int]


@dataclass
class _State:
    file: str
    unit: float | None = None
    digits: tuple[int, int] | None = None
    zeros: str = "L"
    incremental: bool = False
    apertures: dict[int, tuple[Any, float | None, float | None, float | None]] = field(default_factory=dict)
    macros: dict[str, list[str]] = field(default_factory=dict)
    current: int | None = None
    x: float = 0.0
    y: float = 0.0
    mode: int = 1
    single: bool = False
    region: list[list[tuple[float, float]]] | None = None
    region_start: int = 0
    operation: int = 2
    dark: bool = True
    component: str = ""
    pin: str = ""
    objects: list[_Object] = field(default_factory=list)
    repeat: tuple[int, int, float, float, int] | None = None
    notes: list[str] = field(default_factory=list)
    ended: bool = False


def read_film(data: bytes, file: str, *, merge: bool = True) -> Film:
    """Read one film.

    Parameters
    ----------
    data : bytes
    file : str
        For messages.
    merge : bool
        Whether touching shapes become one pad, as on a foil; copper keeps its flashes apart.

    Raises
    ------
    InputError
        With line and reason.

    Examples
    --------
    >>> film = read_film(b"%FSLAX24Y24*%%MOIN*%%ADD10R,0.1X0.05*%D10*X10000Y0D03*M02*", "small.gtp")
    >>> float(film.pads.x_mm[0]), round(float(film.pads.area_mm2[0]), 4)
    (25.4, 3.2258)
    """
    if len(data) > MOST_BYTES:
        raise InputError("the file is too large", file=file, found=f"{len(data)} bytes", expected=f"≤ {MOST_BYTES}")
    text = data.decode("latin-1")
    if "\0" in text:
        raise InputError("not a Gerber file", file=file, found="binary content")
    state = _State(file)
    at = 0
    for match in _STATEMENT.finditer(text):
        try:
            if match[1] is not None:
                _extended(state, match[1])
            elif match[2].strip():
                _words(state, match[2].strip(), match.span())
        except InputError as error:
            line = text.count("\n", 0, match.start()) + 1
            raise InputError(
                error.message,
                file=file,
                place=f"line {line}",
                found=error.found or match[0].strip()[:60],
                expected=error.expected,
            ) from None
        at = match.end()
        if state.ended:
            break
        if len(state.objects) > MOST_OBJECTS:
            raise InputError("too many shapes", file=file, expected=f"at most {MOST_OBJECTS}")
    if state.digits is None and not state.objects:
        raise InputError("not a Gerber file", file=file, expected="a format statement %FS…*%")
    if state.repeat is not None:
        _close_repeat(state)
    if not state.ended:
        state.notes.append(f"no end of file (M02) after line {text.count(chr(10), 0, at) + 1}: the file may be cut off")
    return _film(state, text, merge)


def _extended(state: _State, text: str) -> None:
    commands = [part.strip() for part in text.replace("\n", "").replace("\r", "").split("*") if part.strip()]
    if not commands:
        return
    if commands[0].startswith("AM"):
        state.macros[commands[0][2:].strip()] = commands[1:]
        return
    for command in commands:
        _one_extended(state, command)


def _one_extended(state: _State, command: str) -> None:
    head = command[:2]
    if head == "FS":
        _format(state, command)
    elif head == "MO":
        state.unit = {"MOIN": INCH_MM, "MOMM": 1.0}.get(command[:4])
        if state.unit is None:
            raise InputError("unknown unit", expected="MOIN or MOMM")
    elif head == "AD":
        _define(state, command)
    elif head == "LP":
        state.dark = command[2:3] != "C"
    elif head == "SR":
        _repeat(state, command)
    elif head == "TO":
        _attribute(state, command[2:])
    elif head == "TD":
        name = command[2:].strip()
        state.component = "" if name in ("", ".C") else state.component
        state.pin = "" if name in ("", ".P", ".C") else state.pin
    else:
        _refuse(command)


def _refuse(command: str) -> None:
    """Errors for what would change the shapes and is not read; anything else may pass."""
    head, rest = command[:2], command[2:].strip()
    neutral = {"LM": rest in ("", "N"), "LR": rest.strip("0.+-") == "", "LS": rest in ("", "1", "1.0")}
    if head == "AB" or not neutral.get(head, True):
        raise InputError("this film uses a Gerber feature that is not read", found=command[:20])
    if head == "IP" and "NEG" in rest:
        raise InputError("a negative film", found="IPNEG", expected="positive polarity")


def _format(state: _State, command: str) -> None:
    match = _FORMAT.match(command)
    if match is None:
        raise InputError("can't read the coordinate format", found=command[:30], expected="FSLAX34Y34 or the like")
    state.zeros = "T" if match[1] == "T" else "L"
    state.incremental = match[2] == "I"
    state.digits = int(match[3]), int(match[4])


def _define(state: _State, command: str) -> None:
    match = re.match(r"ADD(\d+)([A-Za-z_.$][^,]*)(?:,(.*))?$", command)
    if match is None:
        raise InputError("can't read the aperture", found=command[:40])
    unit = _unit(state)
    try:
        values = [float(part) for part in (match[3] or "").replace("x", "X").split("X") if part.strip()]
    except ValueError:
        raise InputError("can't read the aperture's sizes", found=command[:40]) from None
    kind = match[2].strip()
    pen: float | None = None
    if kind in ("C", "R", "O", "P"):
        if kind == "C" and values and values[0] == 0:
            import shapely

            state.apertures[int(match[1])] = (shapely.Polygon(), None, None, 0.0)
            return
        shape, area, wall = standard(kind, values, unit)
        pen = values[0] * unit if kind == "C" else None
    else:
        if kind not in state.macros:
            raise InputError("an aperture of an unknown macro", found=kind[:30])
        shape, area, wall = macro(state.macros[kind], values, unit), None, None
    state.apertures[int(match[1])] = (shape, area, wall, pen)


def _unit(state: _State) -> float:
    if state.unit is None:
        state.unit = 1.0
        state.notes.append("no unit in the file: read as mm")
    return state.unit


def _attribute(state: _State, text: str) -> None:
    parts = text.strip().split(",")
    if parts[0] == ".C" and len(parts) > 1:
        state.component, state.pin = parts[1], ""
    elif parts[0] == ".P" and len(parts) > 2:
        state.component, state.pin = parts[1], parts[2]


def _repeat(state: _State, command: str) -> None:
    if state.repeat is not None:
        _close_repeat(state)
    match = re.match(r"SRX(\d+)Y(\d+)I([\d.+-]+)J([\d.+-]+)$", command)
    if match is None:
        return
    across, up = int(match[1]), int(match[2])
    if across * up > 1:
        unit = _unit(state)
        state.repeat = (across, up, float(match[3]) * unit, float(match[4]) * unit, len(state.objects))


def _close_repeat(state: _State) -> None:
    from dataclasses import replace

    from shapely import affinity

    assert state.repeat is not None
    across, up, dx, dy, start = state.repeat
    state.repeat = None
    block = state.objects[start:]
    if len(block) * across * up > MOST_OBJECTS:
        raise InputError("a step and repeat of too many shapes", found=f"{across} × {up}", expected=f"≤ {MOST_OBJECTS}")
    del state.objects[start:]
    for i in range(across):
        for j in range(up):
            for one in block:
                moved = affinity.translate(one.polygon, i * dx, j * dy)
                state.objects.append(replace(one, polygon=moved, repeated=True))


def _number(state: _State, text: str) -> float:
    if "." in text:
        return float(text) * _unit(state)
    if state.digits is None:
        raise InputError("a coordinate before the format", found=text[:20])
    whole, decimals = state.digits
    if len(text) > 15:
        raise InputError("a coordinate of too many digits", found=text[:30])
    sign = -1 if text[0] == "-" else 1
    figures = text.lstrip("+-")
    if state.zeros == "T":
        figures = figures.ljust(whole + decimals, "0")
    if not figures.isdigit():
        raise InputError("can't read the coordinate", found=text[:20])
    return float(sign * int(figures) / 10**decimals * _unit(state))


def _words(state: _State, text: str, span: tuple[int, int]) -> None:
    if text.startswith("G04"):
        match = re.match(r"G04\s*#@!\s*T([OD])(.*)$", text, re.DOTALL)
        if match:
            _one_extended(state, f"T{match[1]}{match[2].strip()}")
        return
    words = _WORD.findall(text)
    if "".join(letter + number for letter, number in words) != text.replace("\n", "").replace("\r", "").replace(
        " ", ""
    ):
        raise InputError("can't read the statement", found=text[:40])
    goal: dict[str, float] = {}
    operation: int | None = None
    for letter, number in words:
        if letter == "G":
            _general(state, int(float(number)), span)
        elif letter == "M":
            state.ended = state.ended or int(float(number)) in (0, 2, 30)
        elif letter == "D":
            code = int(float(number))
            if code >= 10:
                if code not in state.apertures:
                    raise InputError("an aperture that is not defined", found=f"D{code}")
                state.current = code
            else:
                operation = code
        else:
            goal[letter] = _number(state, number)
    if operation is None and not (goal.keys() & {"X", "Y"}):
        return
    state.operation = operation if operation is not None else state.operation
    _operate(state, goal, span)


def _general(state: _State, code: int, span: tuple[int, int]) -> None:
    if code in (1, 2, 3):
        state.mode = code
    elif code in (74, 75):
        state.single = code == 74
    elif code == 36:
        state.region, state.region_start = [], span[0]
    elif code == 37:
        _close_region(state, span[1])
    elif code == 70:
        state.unit = INCH_MM
    elif code == 71:
        state.unit = 1.0
    elif code in (90, 91):
        state.incremental = code == 91
    elif code not in (4, 54, 55):
        raise InputError("unknown command", found=f"G{code:02d}")


def _operate(state: _State, goal: dict[str, float], span: tuple[int, int]) -> None:
    x = goal.get("X", 0.0 if state.incremental else state.x) + (state.x if state.incremental else 0.0)
    y = goal.get("Y", 0.0 if state.incremental else state.y) + (state.y if state.incremental else 0.0)
    if not (abs(x) < 1e5 and abs(y) < 1e5):
        raise InputError("a coordinate out of range", found=f"{x:g}, {y:g} mm")
    start, state.x, state.y = (state.x, state.y), x, y
    if state.operation == 2:
        if state.region is not None:
            state.region.append([(x, y)])
        return
    if state.operation == 3:
        _flash(state, span)
        return
    if state.operation != 1:
        raise InputError("unknown operation", found=f"D{state.operation:02d}")
    path = [(x, y)] if state.mode == 1 else _arc(state, start, (x, y), goal)
    if state.region is not None:
        if not state.region:
            state.region.append([start])
        state.region[-1].extend(path)
        return
    _stroke(state, [start, *path], span)


def _arc(
    state: _State, start: tuple[float, float], end: tuple[float, float], goal: dict[str, float]
) -> list[tuple[float, float]]:
    i, j = goal.get("I", 0.0), goal.get("J", 0.0)
    clockwise = state.mode == 2
    best: tuple[float, float, float, float] | None = None
    signs = [(a, b) for a in (1, -1) for b in (1, -1)] if state.single else [(1, 1)]
    for a, b in signs:
        cx, cy = (
            start[0] + a * abs(i) * (1 if state.single else math.copysign(1, i)),
            start[1] + b * abs(j) * (1 if state.single else math.copysign(1, j)),
        )
        one = math.atan2(start[1] - cy, start[0] - cx)
        other = math.atan2(end[1] - cy, end[0] - cx)
        sweep = (one - other if clockwise else other - one) % (2 * math.pi)
        if sweep < 1e-9 and not state.single:
            sweep = 2 * math.pi
        miss = abs(math.hypot(start[0] - cx, start[1] - cy) - math.hypot(end[0] - cx, end[1] - cy))
        if state.single and sweep > math.pi / 2 + 1e-3:
            continue
        if best is None or miss < best[0]:
            best = miss, cx, cy, sweep
    if best is None:
        raise InputError("an arc that fits no quadrant")
    _, cx, cy, sweep = best
    radius = math.hypot(start[0] - cx, start[1] - cy)
    first = math.atan2(start[1] - cy, start[0] - cx)
    steps = max(1, math.ceil(sweep / (math.pi / 2) * SEGMENTS))
    turn = -1 if clockwise else 1
    path = [
        (
            cx + radius * math.cos(first + turn * sweep * k / steps),
            cy + radius * math.sin(first + turn * sweep * k / steps),
        )
        for k in range(1, steps)
    ]
    return [*path, end]


def _add(state: _State, kind: str, polygon: Any, span: tuple[int, int], area: float | None = None,
         wall: float | None = None) -> None:  # fmt: skip
    state.objects.append(
        _Object(kind, polygon, span, (state.x, state.y), state.dark, state.component, state.pin, area, wall)
    )


def _current(state: _State) -> tuple[Any, float | None, float | None, float | None]:
    if state.current is None:
        raise InputError("no aperture is chosen", expected="a D code of 10 or more before")
    return state.apertures[state.current]


def _flash(state: _State, span: tuple[int, int]) -> None:
    if state.region is not None:
        raise InputError("a flash within a region")
    shape, area, wall, _ = _current(state)
    if not shape.is_empty:
        _add(state, "flash", (state.current, state.x, state.y), span, area, wall)


def _stroke(state: _State, path: Sequence[tuple[float, float]], span: tuple[int, int]) -> None:
    import shapely

    shape, _, _, pen = _current(state)
    if shape.is_empty:
        return
    if pen is not None:
        run = shapely.Point(path[0]) if len(set(path)) == 1 else shapely.LineString(path)
        _add(state, "stroke", run.buffer(pen / 2, 8), span)
        return
    from shapely import affinity

    ends = [affinity.translate(shape, *point) for point in path]
    swept = shapely.union_all([shapely.union(a, b).convex_hull for a, b in itertools.pairwise(ends)])
    _add(state, "stroke", swept, span)


def _close_region(state: _State, end: int) -> None:
    import shapely

    rings = [ring for ring in state.region or [] if len(ring) >= 4]
    state.region = None
    for ring in rings:
        shape = shapely.Polygon(ring)
        if not shape.is_valid:
            shape = shape.buffer(0)
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon" and part.area > 0:
                _add(state, "region", part, (state.region_start, end))


# --- from objects to pads ---


def _placed(state: _State) -> Any:
    """Outlines of all objects; flashes of one aperture are set in one go."""
    import shapely

    shapes = np.empty(len(state.objects), dtype=object)
    by: dict[int, list[int]] = {}
    for row, one in enumerate(state.objects):
        if isinstance(one.polygon, tuple):
            by.setdefault(one.polygon[0], []).append(row)
        else:
            shapes[row] = one.polygon
    for number, rows in by.items():
        outline = state.apertures[number][0]
        xy = np.array([state.objects[row].polygon[1:] for row in rows])
        corners = shapely.get_coordinates(outline)
        copies = np.repeat(np.array([outline], dtype=object), len(rows))
        moved = (corners[None, :, :] + xy[:, None, :]).reshape(-1, 2)
        shapes[rows] = shapely.set_coordinates(copies, moved)
    return shapes


def _film(state: _State, text: str, merge: bool) -> Film:
    import shapely

    objects = state.objects
    shapes = _placed(state)
    whole = [(number,) for number in range(len(objects))]
    polygons, members = list(shapes), [list(one) for one in whole]
    dark = np.array([one.dark for one in objects], dtype=bool)
    if len(objects) and not dark.all():
        polygons, members = _cleared(objects, shapes)
    elif merge and len(objects) > 1:
        polygons, members = _merged(shapes)
    kept_shapes, kept_members, drawn = [], [], 0
    for shape, rows in zip(polygons, members, strict=True):
        strokes = merge and rows and all(objects[row].kind == "stroke" for row in rows)
        if strokes and shape.area < FILLED * shape.convex_hull.area:
            drawn += 1
            continue
        kept_shapes.append(shape)
        kept_members.append(tuple(rows))
    if drawn:
        state.notes.append(f"{drawn} drawn outlines or letters left out: strokes that fill no pad")
    kinds, names, pins = [], [], []
    for its in kept_members:
        rows = list(its)
        first = objects[rows[0]] if rows else None
        kinds.append(first.kind if first is not None and len(rows) == 1 else "region")
        names.append(next((objects[row].component for row in rows if objects[row].component), ""))
        pins.append(next((objects[row].pin for row in rows if objects[row].pin), ""))
    pads = openings(kept_shapes, names, pins, kinds)
    for row, its in enumerate(kept_members):
        rows = list(its)
        one = objects[rows[0]] if len(rows) == 1 else None
        if one is not None and one.area is not None and one.wall is not None and dark.all():
            pads.area_mm2[row], pads.wall_mm[row] = one.area, one.wall
    del shapely
    parts = tuple(tuple(objects[row] for row in rows) for rows in kept_members)
    return Film(state.file, text, pads, parts, tuple(state.notes), state.unit or 1.0, state.digits or (4, 6))


def _merged(shapes: Any) -> tuple[list[Any], list[list[int]]]:
    """Touching shapes as one pad."""
    import shapely
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    links = coo_array((np.ones(len(first)), (first, second)), shape=(len(shapes),) * 2)
    count, label = connected_components(links, directed=False)
    if count == len(shapes):
        return list(shapes), [[row] for row in range(len(shapes))]
    order = np.argsort(label, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
    groups.sort(key=lambda rows: int(rows.min()))
    polygons, members = [], []
    for rows in groups:
        whole = shapes[rows[0]] if len(rows) == 1 else shapely.union_all(shapes[rows])
        for part in shapely.get_parts(whole):
            if part.geom_type == "Polygon":
                polygons.append(part)
                members.append(sorted(int(row) for row in rows))
    return polygons, members


def _cleared(objects: Sequence[_Object], shapes: Any) -> tuple[list[Any], list[list[int]]]:
    """Dark and clear in file order; shapes that no clear one touches stay as they are."""
    import shapely

    clear = np.array([not one.dark for one in objects])
    rows_clear = np.flatnonzero(clear)
    touched, _ = shapely.STRtree(shapes[rows_clear]).query(shapes, predicate="intersects")
    hit = np.zeros(len(shapes), dtype=bool)
    hit[touched] = True
    polygons, members = [], []
    for row in np.flatnonzero(~hit & ~clear):
        polygons.append(shapes[row])
        members.append([int(row)])
    for row in np.flatnonzero(hit & ~clear):
        later = rows_clear[rows_clear > row]
        cutters = later[shapely.intersects(shapes[later], shapes[row])]
        left = shapely.difference(shapes[row], shapely.union_all(shapes[cutters])) if len(cutters) else shapes[row]
        for part in shapely.get_parts(left):
            if part.geom_type == "Polygon" and part.area > 0:
                polygons.append(part)
                members.append([int(row)])
    return polygons, members
