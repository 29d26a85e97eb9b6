"""The image being drawn: the state that statements change, and the shapes that flashes, strokes and regions add."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from landwise.errors import FileError
from landwise.fabdata.gerber.apertures import moved, shape_of
from landwise.fabdata.gerber.model import QUAD_SEGMENTS, Drawn, Limits, Repeat, UnitShape
from landwise.fabdata.gerber.tokens import Cut
from landwise.quantities import INCH_MM
from landwise.shapes import Geometry

_ARC_STEP_MM = 5e-5  # largest distance of an arc from its chords
SAMPLED_EDGES, TRIED_PAIRS = (50, 200), 1_000_000
LONG_CONTOUR = 2000  # corners
_FULL = 2 * math.pi


class Image:
    """The state of a layer while its statements are worked one by one."""

    def __init__(self, source: Cut, file: str, limits: Limits, *, copies: bool = True) -> None:
        self.source, self.file, self.limits = source, file, limits
        self.copies = copies  # whether repeats are written out
        self.repeats: list[Repeat] = []
        self.notes: list[str] = []
        self.objects: list[Drawn] = []
        self.stack: list[tuple[int, list[Drawn]]] = []  # blocks being defined: code, objects outside
        self.blocks: dict[int, list[Drawn]] = {}
        self.apertures: dict[int, tuple[UnitShape, ...]] = {}
        self.standard: dict[tuple[str, tuple[float, ...]], tuple[UnitShape, ...]] = {}
        self.pens: dict[int, tuple[str, tuple[float, ...]]] = {}
        self.macros: dict[str, list[str]] = {}
        self.transformed: dict[tuple[int, str, float, float], tuple[UnitShape, ...]] = {}
        self.file_attributes: dict[str, tuple[str, ...]] = {}
        self.object_attributes: dict[str, tuple[str, ...]] = {}
        self.modal: dict[int, int] = {}
        self.regions: dict[int, tuple[int, int]] = {}
        self.factor = 0.0
        self.scales: tuple[float, ...] = ()
        self.format_known = False
        self.digits, self.decimals, self.trailing, self.incremental = (2, 2), (4, 4), False, False
        self.x = self.y = 0.0
        self.operation = 0
        self.mode, self.quadrant = 1, 0
        self.code = -1
        self.dark, self.mirror, self.turn, self.scale = True, "N", 0.0, 1.0
        self.flip = False
        self.repeat: tuple[int, int, float, float, int, int] | None = None
        self.in_region, self.region_start = False, 0
        self.contour: list[tuple[float, float]] = []
        self.contour_statements: list[int] = []
        self.at = 0
        self.ended = False
        self.vertices = 0
        self.without_area = 0  # flashes and strokes that print nothing
        self.block_copies = 0

    def note(self, text: str) -> None:
        """Remember something odd, once."""
        if text not in self.notes and len(self.notes) < 50:
            self.notes.append(text)

    def refuse(self, message: str, found: str, expected: str | None = None) -> None:
        """Stop with the statement's line."""
        raise FileError(
            message,
            file=self.file,
            place=f"line {self.source.line(min(self.at, len(self.source.statements) - 1))}",
            found=found,
            expected=expected,
        )

    def add(self, one: Drawn) -> None:
        """Put an object into the image, within the limits."""
        if len(self.objects) >= self.limits.objects:
            self.refuse("too many objects", f"more than {self.limits.objects}")
        self.objects.append(one)

    # -- numbers -----------------------------------------------------------------------------------------

    def number(self, text: str, axis: int) -> float:
        """A coordinate in mm."""
        if self.scales and "." not in text and len(text) < 14:
            value = int(text) * self.scales[axis]
            if abs(value) <= self.limits.coordinate_mm:
                return value
        if "." in text:
            value = float(text)
        else:
            digits = text.lstrip("+-")
            if len(digits) > 20:
                self.refuse("a coordinate has too many digits", text[:30])
            if self.trailing:
                digits = digits.ljust(self.digits[axis] + self.decimals[axis], "0")
            value = int(digits) / 10.0 ** self.decimals[axis]
            value = -value if text.startswith("-") else value
        value *= self.factor or self.assumed_unit()
        if not abs(value) <= self.limits.coordinate_mm:
            self.refuse("a coordinate is out of reach", text[:30], f"within {self.limits.coordinate_mm:g} mm")
        return value

    def assumed_unit(self) -> float:
        """What a file without a unit is in: inches, the default of the older standard, said aloud."""
        self.note("the file states no unit; taken as inches, the default of the format before %MO")
        self.factor = INCH_MM
        return INCH_MM

    def unit(self, name: str) -> None:
        """Set the unit."""
        if name not in ("MM", "IN"):
            self.refuse("unknown unit", name[:20], "MM or IN")
        factor = 1.0 if name == "MM" else INCH_MM
        if self.factor not in (0.0, factor) and self.objects:
            self.note("the unit changes within the file")
        self.factor = factor
        self.set_scales()

    def set_scales(self) -> None:
        """Millimetres of one step, for the usual format; others take the longer way."""
        plain = self.factor and self.format_known and not self.trailing
        self.scales = tuple(self.factor / 10.0**places for places in self.decimals) if plain else ()

    def select(self, number: int) -> None:
        """Select an aperture."""
        if number not in self.apertures and number not in self.blocks:
            self.refuse("an aperture is used that is not defined", f"D{number}")
        self.code = number

    # -- shapes -----------------------------------------------------------------------------------------

    def names(self) -> tuple[str, str]:
        """Component and pin that the object's attributes name."""
        pin = self.object_attributes.get(".P", ())
        part = self.object_attributes.get(".C", ())
        return (part[0] if part else pin[0] if pin else "", pin[1] if len(pin) > 1 else "")

    def put(
        self, shapes: tuple[UnitShape, ...], x: float, y: float, statements: tuple[int, ...], *, flash: bool
    ) -> None:
        """An object with the present polarity and names."""
        if not shapes:
            return
        part, pin = self.names()
        line = self.source.line(statements[0] if statements else self.at)
        self.add(
            Drawn(
                shapes,
                x,
                y,
                self.dark != self.flip,
                self.code,
                line,
                statements,
                part,
                pin,
                flash,
                self.copying(),
            )
        )

    def copying(self) -> bool:
        """Whether what is drawn now comes again elsewhere, so that none of its statements can be taken away alone."""
        return bool(self.stack) or (self.copies and self.repeat is not None)

    def flash(self, x: float, y: float) -> None:
        """An aperture, or a block, at a point."""
        if self.code < 0:
            self.refuse("a flash before an aperture is selected", "D03")
        if self.code in self.blocks:
            self.flash_block(x, y)
            return
        shapes = self.shapes_now()
        self.without_area += not shapes
        self.put(shapes, x, y, (self.at,), flash=True)

    def shapes_now(self) -> tuple[UnitShape, ...]:
        """The selected aperture under the present mirror, turn and scale."""
        if self.mirror == "N" and self.turn == 0 and self.scale == 1:
            return self.apertures[self.code]
        key = (self.code, self.mirror, self.turn, self.scale)
        if key not in self.transformed:
            self.transformed[key] = tuple(
                moved(s, self.mirror, self.turn, self.scale) for s in self.apertures[self.code]
            )
        return self.transformed[key]

    def flash_block(self, x: float, y: float) -> None:
        """All objects of a block, transformed together."""
        inner = self.blocks[self.code]
        if len(self.objects) + len(inner) > self.limits.objects:
            self.refuse("too many objects", f"a block of {len(inner)} once more", f"at most {self.limits.objects}")
        self.block_copies += len(inner)
        if self.block_copies > self.limits.block_copies:
            self.refuse("blocks make too many objects", str(self.block_copies), f"at most {self.limits.block_copies}")
        radians = math.radians(self.turn)
        cos, sin = math.cos(radians) * self.scale, math.sin(radians) * self.scale
        plain = self.mirror == "N" and self.turn == 0 and self.scale == 1
        kept: dict[int, tuple[UnitShape, ...]] = {}
        for one in inner:
            ox, oy = one.x_mm, one.y_mm
            shapes = one.shapes
            if not plain:
                ox = -ox if "X" in self.mirror else ox
                oy = -oy if "Y" in self.mirror else oy
                ox, oy = ox * cos - oy * sin, ox * sin + oy * cos
                if id(one.shapes) not in kept:
                    kept[id(one.shapes)] = tuple(moved(s, self.mirror, self.turn, self.scale) for s in one.shapes)
                shapes = kept[id(one.shapes)]
            dark = one.dark if self.dark else not one.dark
            self.objects.append(
                Drawn(
                    shapes,
                    x + ox,
                    y + oy,
                    dark,
                    one.code,
                    one.line,
                    one.statements,
                    one.component,
                    one.pin,
                    one.flash,
                    True,
                )
            )

    def path(self, x: float, y: float, i: float, j: float) -> list[tuple[float, float]]:
        """Points from here to there, along a line or an arc."""
        if self.mode == 1:
            return [(self.x, self.y), (x, y)]
        if self.quadrant == 0:
            self.note("an arc before G74 or G75; taken as multi-quadrant")
        centre = self.centre(x, y, i, j)
        start = math.atan2(self.y - centre[1], self.x - centre[0])
        end = math.atan2(y - centre[1], x - centre[0])
        r1, r2 = math.dist(centre, (self.x, self.y)), math.dist(centre, (x, y))
        if max(r1, r2) <= 0:
            return [(self.x, self.y), (x, y)]
        sweep = (start - end) if self.mode == 2 else (end - start)
        sweep %= _FULL
        same = math.dist((x, y), (self.x, self.y)) < 1e-9
        if self.quadrant == 74:
            sweep = 0.0 if same else sweep
        elif same or sweep < 1e-9:
            sweep = _FULL if same else sweep
        step = 2 * math.acos(max(0.0, 1 - min(_ARC_STEP_MM / max(r1, r2), 0.5)))
        count = max(
            2,
            min(
                2000,
                math.ceil(sweep / max(step, 1e-4)),
            ),
        )
        turn = -sweep if self.mode == 2 else sweep
        points = [
            (
                centre[0] + (r1 + (r2 - r1) * k / count) * math.cos(start + turn * k / count),
                centre[1] + (r1 + (r2 - r1) * k / count) * math.sin(start + turn * k / count),
            )
            for k in range(1, count)
        ]
        return [(self.x, self.y), *points, (x, y)]

    def centre(self, x: float, y: float, i: float, j: float) -> tuple[float, float]:
        """An arc's centre; in single-quadrant mode the one of four that fits."""
        if self.quadrant != 74:
            return self.x + i, self.y + j
        best, least = (self.x + i, self.y + j), math.inf
        for a in (abs(i), -abs(i)):
            for b in (abs(j), -abs(j)):
                at = (self.x + a, self.y + b)
                start = math.atan2(self.y - at[1], self.x - at[0])
                end = math.atan2(y - at[1], x - at[0])
                sweep = ((start - end) if self.mode == 2 else (end - start)) % _FULL
                if sweep > math.pi / 2 + 1e-3:
                    continue
                off = abs(math.dist(at, (self.x, self.y)) - math.dist(at, (x, y)))
                if off < least:
                    best, least = at, off
        if math.isinf(least):
            self.note("a single-quadrant arc that spans more than a quarter; taken as it stands")
        return best

    def stroke(self, points: list[tuple[float, float]]) -> None:
        """The area that the selected aperture sweeps."""
        import shapely

        if self.code < 0:
            self.refuse("a stroke before an aperture is selected", "D01")
        if self.code in self.blocks:
            self.refuse("a stroke with an aperture block", f"D{self.code}", "a flash")
        kind, sizes = self.pens[self.code]
        if kind == "C":
            width = sizes[0] * self.scale
            if width <= 0:
                self.without_area += 1
                return
            line: Geometry = (
                shapely.LineString(points)
                if math.dist(points[0], points[-1]) > 0 or len(points) > 2
                else shapely.Point(points[0])
            )
            area = line.buffer(width / 2, quad_segs=QUAD_SEGMENTS)
            if len(points) == 2:
                length = math.dist(*points)
                turn = math.degrees(math.atan2(points[1][1] - points[0][1], points[1][0] - points[0][0])) % 180
                stroke = UnitShape(
                    area,
                    math.pi * width**2 / 4 + length * width,
                    math.pi * width + 2 * length,
                    "drawn",
                    length + width,
                    width,
                    turn if length > 0 else 0.0,
                    width / 2,
                )
                self.put((stroke,), 0.0, 0.0, (self.at,), flash=False)
                return
        else:
            if kind != "R":
                self.note("strokes with an aperture that is neither round nor rectangular; its outline is swept")
            pieces = []
            corners = [s.polygon for s in self.shapes_now()]
            for one, other in pairwise(points):
                for shape in corners:
                    both = [shapely.transform(shape, lambda xy, at=at: xy + at) for at in ([list(one)], [list(other)])]
                    pieces.append(shapely.union_all(both).convex_hull)
            area = shapely.union_all(pieces)
        self.put(shape_of(area, "drawn"), 0.0, 0.0, (self.at,), flash=False)

    def close_contour(self) -> None:
        """A region's contour as a shape."""
        import shapely

        points, statements = self.contour, tuple(self.contour_statements)
        self.contour, self.contour_statements = [(self.x, self.y)], []
        if len(points) < 3:
            return
        if math.dist(points[0], points[-1]) > 1e-6:
            self.note("a region's contour that does not close; closed by a straight line")
        # Of a long contour the crossings are counted first: only to see that it has some would take longer.
        crossings = _crossings(points) if len(points) > LONG_CONTOUR else 0
        shape: Geometry = shapely.Polygon(points)
        if crossings > self.limits.crossings or not shape.is_valid:
            crossings = crossings or _crossings(points)
            if crossings > self.limits.crossings:
                self.refuse(
                    "a contour crosses itself too often",
                    f"about {crossings} times",
                    f"at most {self.limits.crossings}; the specification allows none",
                )
            shape = shapely.make_valid(shape)
        code, self.code = self.code, -1
        self.put(shape_of(shape), 0.0, 0.0, statements, flash=False)
        self.code = code


def _crossings(points: list[tuple[float, float]]) -> int:
    """About how often a contour crosses itself, from some of its edges: enough to tell odd from hostile."""
    import shapely

    ring = [*points, points[0]]
    edges = shapely.linestrings(np.stack([np.array(ring[:-1]), np.array(ring[1:])], axis=1))
    least, most = SAMPLED_EDGES
    count = min(len(edges), max(least, min(most, TRIED_PAIRS // len(edges))))
    some = np.linspace(0, len(edges) - 1, count).astype(int)
    hit = shapely.STRtree(edges).query(edges[some], predicate="crosses")
    return int(hit.shape[1] * len(edges) / len(some) / 2)
