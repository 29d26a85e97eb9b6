"""Reading a Gerber layer: the state machine of RS-274X and X2, deprecated habits included.

Strict where geometry is at stake: what can't be understood is refused with its line. What carries no geometry
(legacy names, unknown comments) is passed over with a note. Gerber layer format specification, 2023.03.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from landwise.errors import FileError, LandwiseError
from landwise.fabdata.gerber.apertures import moved, shape_of, standard
from landwise.fabdata.gerber.compose import compose
from landwise.fabdata.gerber.macros import macro_error, macro_shape
from landwise.fabdata.gerber.model import QUAD_SEGMENTS, Drawn, Layer, Limits, UnitShape
from landwise.fabdata.gerber.tokens import Cut, cut
from landwise.quantities import INCH_MM

_OPERATION = re.compile(r"(?:G0?1)?(?:X([+-]?\d+))?(?:Y([+-]?\d+))?(?:D0?([123]))?")
_FLASH = re.compile(r"X([+-]?\d{1,13})Y([+-]?\d{1,13})D0?3")
_WORD = re.compile(r"([GXYIJDMN])([+-]?(?:\d+\.?\d*|\.\d+))")
_ARC_STEP_MM = 5e-5  # largest distance of an arc from its chords
_FULL = 2 * math.pi
_COMMENT_ATTRIBUTE = re.compile(r"G0?4\s*#@!\s*(T[FAOD].*)", re.S)
_PASSED = ("IN", "LN", "KO", "IC")  # names and legacy marks without geometry that matters here


def read_gerber(data: bytes, file: str, limits: Limits | None = None, *, merge: bool = True) -> Layer:
    """Read one layer.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name, for messages.
    limits : Limits, optional
    merge : bool
        Whether touching shapes become one opening, as on a foil; copper is better kept apart.

    Raises
    ------
    FileError
        For a file that is not Gerber, is cut short, asks for too much, or holds geometry that can't be
        understood; with the line.

    Notes
    -----
    Lengths in mm. Circles are polygons of 128 corners; openings of standard apertures carry closed areas.

    Examples
    --------
    >>> layer = read_gerber(b"%FSLAX46Y46*%%MOMM*%%ADD10R,0.6X0.3*%D10*X1000000Y0D03*M02*", "paste.gtp")
    >>> float(layer.pads.x_mm[0]), round(float(layer.pads.area_mm2[0]), 6)
    (1.0, 0.18)
    """
    limits = limits or Limits()
    reader = _Reader(cut(data, file, limits), file, limits)
    reader.run()
    pads = compose(reader.objects, merge=merge)
    return Layer(
        file=file,
        unit="mm" if reader.factor == 1.0 else "inch",
        attributes=MappingProxyType(dict(reader.file_attributes)),
        pads=pads,
        notes=tuple(dict.fromkeys(reader.notes)),
        objects=len(reader.objects),
        flashes=sum(one.flash for one in reader.objects),
        data=data,
        modal=MappingProxyType(reader.modal),
        regions=MappingProxyType(reader.regions),
        decimals=reader.decimals[0],
    )


class _Reader:
    """The image's state while its statements are worked one by one."""

    def __init__(self, source: Cut, file: str, limits: Limits) -> None:
        self.source, self.file, self.limits = source, file, limits
        self.notes: list[str] = []
        self.objects: list[Drawn] = []
        self.stack: list[tuple[int, list[Drawn]]] = []  # blocks being defined: code, objects outside
        self.blocks: dict[int, list[Drawn]] = {}
        self.apertures: dict[int, tuple[UnitShape, ...]] = {}
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

    # -- the run ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Work all statements."""
        after = 0
        for number, (extended, text, _, _) in enumerate(self.source.statements):
            if number < after:
                continue
            if self.ended:
                if text:
                    self.note("statements after the end of the file are passed over")
                break
            self.at = number
            after = self.work(extended, text)
        if self.in_region:
            self.refuse("a region is not closed", "end of file", "G37")
        if self.stack:
            self.refuse("an aperture block is not closed", "end of file", "%AB*%")
        self.close_repeat()
        if not self.ended:
            self.note("the file has no end mark (M02)")
        if not self.format_known and self.objects:
            self.note("the file states no coordinate format; taken as 2.4")

    def work(self, extended: bool, text: str) -> int:
        """Work one statement, or the run of flashes it begins; the number of the next."""
        try:
            if extended:
                self.extended(text)
            elif text:
                after = self.flashes(self.at)
                if after > self.at:
                    return after
                self.plain(text)
        except LandwiseError:
            raise
        except (ValueError, OverflowError, ZeroDivisionError, KeyError, IndexError) as error:
            self.refuse("the statement can't be understood", f"{text[:60]!r}: {error}")
        return self.at + 1

    def flashes(self, first: int) -> int:
        """Work a run of plain flashes at once, for most of a large layer is that; the number of the statement after.

        Anything out of the ordinary (a limit, a block, a turned aperture) ends the run and goes the usual way.
        """
        shapes = self.apertures.get(self.code, ())
        if not (shapes and self.scales) or self.code in self.blocks or self.in_region or self.incremental:
            return first
        shapes = self.shapes_now()
        part, pin = self.names()
        dark, code, copied, line = self.dark != self.flip, self.code, bool(self.stack or self.repeat), self.source.line
        (x_scale, y_scale), reach = self.scales, self.limits.coordinate_mm
        room = self.limits.objects - len(self.objects)
        statements = self.source.statements
        at = first
        while at < len(statements) and at - first < room:
            extended, text, _, _ = statements[at]
            match = None if extended else _FLASH.fullmatch(text)
            if match is None:
                break
            x, y = int(match[1]) * x_scale, int(match[2]) * y_scale
            if abs(x) > reach or abs(y) > reach:
                break
            self.objects.append(Drawn(shapes, x, y, dark, code, line(at), (at,), part, pin, True, copied))
            at += 1
        if at > first:
            last = self.objects[-1]
            self.x, self.y, self.operation = last.x_mm, last.y_mm, 3
        return at

    def note(self, text: str) -> None:
        """Remember something odd, once."""
        if text not in self.notes and len(self.notes) < 50:
            self.notes.append(text)

    def refuse(self, message: str, found: str, expected: str | None = None) -> None:
        """Stop with the statement's line."""
        raise FileError(
            message, file=self.file, place=f"line {self.source.line(min(self.at, len(self.source.statements) - 1))}",
            found=found, expected=expected,
        )  # fmt: skip

    def add(self, one: Drawn) -> None:
        """Put an object into the image, within the limits."""
        if len(self.objects) >= self.limits.objects:
            self.refuse("too many objects", f"more than {self.limits.objects}")
        self.objects.append(one)

    # -- plain statements -------------------------------------------------------------------------------

    def plain(self, text: str) -> None:
        """A function-code statement."""
        match = _OPERATION.fullmatch(text)
        if match and (match[1] or match[2] or match[3]) and not self.incremental:
            if text.startswith("G"):
                self.mode = 1
            x = self.x if match[1] is None else self.number(match[1], 0)
            y = self.y if match[2] is None else self.number(match[2], 1)
            self.operate(x, y, 0.0, 0.0, int(match[3]) if match[3] else 0)
            return
        if text.startswith(("G04", "G4")) and not text.startswith(("G40", "G41", "G42")):
            attribute = _COMMENT_ATTRIBUTE.match(text)
            if attribute:
                self.attribute(attribute[1].strip())
            return
        words = _WORD.findall(text.replace(" ", ""))
        if "".join(letter + value for letter, value in words) != text.replace(" ", ""):
            self.refuse("the statement can't be understood", repr(text[:60]))
        self.words(words)

    def words(self, words: list[tuple[str, str]]) -> None:
        """A statement of several words, deprecated forms included."""
        at = {"X": self.x, "Y": self.y, "I": 0.0, "J": 0.0}
        code, moves = 0, False
        for letter, value in words:
            if letter == "G":
                self.graphic(int(float(value)))
            elif letter in at:
                start = at[letter] if self.incremental and letter in "XY" else 0.0
                at[letter], moves = start + self.number(value, 0 if letter in "XI" else 1), True
            elif letter == "D" and int(value) >= 10:
                self.select(int(value))
            elif letter == "D":
                code, moves = int(value), True
                if code not in (1, 2, 3):
                    self.refuse("unknown operation", f"D{value}", "D01, D02, D03 or an aperture from D10 on")
            elif letter == "M":
                if int(value) not in (0, 1, 2):
                    self.refuse("unknown code", f"M{value}")
                self.ended = self.ended or int(value) != 1
        if moves:
            self.operate(at["X"], at["Y"], at["I"], at["J"], code)

    def graphic(self, code: int) -> None:
        """A G code."""
        if code in (1, 2, 3):
            self.mode = code
        elif code == 36:
            if self.in_region:
                self.refuse("a region begins within a region", "G36")
            self.in_region, self.region_start = True, self.at
            self.contour, self.contour_statements = [(self.x, self.y)], []
        elif code == 37:
            if not self.in_region:
                self.refuse("a region ends that never began", "G37")
            self.close_contour()
            self.in_region = False
            self.regions[self.region_start] = (self.region_start, self.at)
        elif code in (74, 75):
            self.quadrant = code
        elif code in (70, 71):
            self.unit("IN" if code == 70 else "MM")
        elif code in (90, 91):
            self.incremental = code == 91
        elif code not in (4, 54, 55):
            self.refuse("unknown code", f"G{code:02d}")

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

    def operate(self, x: float, y: float, i: float, j: float, code: int) -> None:
        """Draw, move or flash."""
        if code == 0:
            code = self.operation
            self.modal[self.at] = code
            if code == 0:
                self.refuse("coordinates without an operation", "no D01, D02 or D03 before")
            if code == 3:
                self.note("flashes without their operation code (deprecated)")
        if code == 2:
            if self.in_region:
                self.close_contour()
                self.contour, self.contour_statements = [(x, y)], [self.at]
        elif code == 1:
            points = self.path(x, y, i, j)
            if self.in_region:
                self.contour.extend(points[1:])
                self.contour_statements.append(self.at)
            else:
                self.stroke(points)
            self.vertices += len(points)
            if self.vertices > self.limits.vertices:
                self.refuse("too many points", f"more than {self.limits.vertices}")
        else:
            if self.in_region:
                self.refuse("a flash within a region", "D03")
            self.flash(x, y)
        self.operation = code
        self.x, self.y = x, y

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
                bool(self.stack or self.repeat),
            )
        )

    def flash(self, x: float, y: float) -> None:
        """An aperture, or a block, at a point."""
        if self.code < 0:
            self.refuse("a flash before an aperture is selected", "D03")
        if self.code in self.blocks:
            self.flash_block(x, y)
            return
        self.put(self.shapes_now(), x, y, (self.at,), flash=True)

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
            self.refuse("too many objects", f"a block of {len(inner)} once more")
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
            (centre[0] + (r1 + (r2 - r1) * k / count) * math.cos(start + turn * k / count),
             centre[1] + (r1 + (r2 - r1) * k / count) * math.sin(start + turn * k / count))
            for k in range(1, count)
        ]  # fmt: skip
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
                return  # a pen without width draws nothing
            line: Any = (
                shapely.LineString(points)
                if math.dist(points[0], points[-1]) > 0 or len(points) > 2
                else shapely.Point(points[0])
            )
            area = line.buffer(width / 2, quad_segs=QUAD_SEGMENTS)
            if len(points) == 2:
                length = math.dist(*points)
                turn = math.degrees(math.atan2(points[1][1] - points[0][1], points[1][0] - points[0][0])) % 180
                shape = UnitShape(
                    area, math.pi * width**2 / 4 + length * width, math.pi * width + 2 * length, "drawn", length + width,
                    width, turn if length > 0 else 0.0, width / 2,
                )  # fmt: skip
                self.put((shape,), 0.0, 0.0, (self.at,), flash=False)
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
        shape: Any = shapely.Polygon(points)
        if not shape.is_valid:
            shape = shapely.make_valid(shape)
        code, self.code = self.code, -1
        self.put(shape_of(shape), 0.0, 0.0, statements, flash=False)
        self.code = code

    # -- extended statements ----------------------------------------------------------------------------

    def extended(self, text: str) -> None:
        """All commands of one `%…%`."""
        if text.startswith("AM"):
            name, *body = [part.strip() for part in text[2:].split("*")]
            if not name or len(name) > 200:
                self.refuse("a macro without a usable name", repr(name[:40]))
            if name in self.macros:
                self.note(f"macro {name} is defined twice; the later one counts")
            self.macros[name] = [part for part in body if part]
            return
        for command in text.split("*"):
            command = command.strip()
            if command:
                self.command(command)

    def command(self, text: str) -> None:
        """One extended command."""
        name = text[:2]
        handlers: dict[str, Callable[[str], None]] = {
            "FS": self.format, "MO": lambda t: self.unit(t.strip()), "AD": self.define, "LP": self.polarity,
            "LM": self.set_mirror, "LR": self.set_turn, "LS": self.set_scale, "SR": self.step_repeat, "AB": self.block,
            "TF": lambda t: self.attribute("TF" + t), "TA": lambda t: self.attribute("TA" + t),
            "TO": lambda t: self.attribute("TO" + t), "TD": lambda t: self.attribute("TD" + t),
            "IP": self.image_polarity, "IR": self.neutral("IR", ("0",)), "OF": self.neutral_zero, "MI": self.neutral_zero,
            "SF": self.neutral_one, "AS": self.neutral("AS", ("AXBY",)),
        }  # fmt: skip
        if name in handlers:
            handlers[name](text[2:])
        elif name in _PASSED:
            self.note(f"{name} is passed over")
        elif re.fullmatch(r"[GDMXYIJ][\d+-].*", text):
            self.plain(text)
        elif name == "AM":
            self.refuse("a macro shares its % with other commands", text[:40])
        else:
            self.note(f"unknown command {name!r} is passed over")

    def format(self, text: str) -> None:
        """Coordinate format."""
        match = re.fullmatch(r"([LTD]?)([AI]?)(?:[NG]\d)*X(\d)(\d)Y(\d)(\d)(?:[DM]\d)*", text.strip())
        if not match:
            self.refuse("the coordinate format can't be understood", f"FS{text[:30]}", "FSLAX46Y46")
            return
        self.trailing, self.incremental = match[1] == "T", match[2] == "I"
        if self.trailing:
            self.note("coordinates without their trailing zeros (deprecated)")
        if self.incremental:
            self.note("incremental coordinates (deprecated)")
        self.digits, self.decimals = (int(match[3]), int(match[5])), (int(match[4]), int(match[6]))
        self.format_known = True
        self.set_scales()

    def define(self, text: str) -> None:
        """An aperture definition."""
        match = re.fullmatch(r"D0*(\d{1,9})\s*([A-Za-z_.$][^,]*)(?:,(.*))?", text.strip(), re.S)
        if not match:
            self.refuse("the aperture definition can't be understood", f"AD{text[:40]}")
            return
        number, kind, rest = int(match[1]), match[2].strip(), match[3] or ""
        values = [float(value) for value in re.split(r"[xX]", rest.replace(" ", "")) if value]
        if not all(math.isfinite(value) and abs(value) <= self.limits.coordinate_mm for value in values):
            self.refuse("an aperture's size is out of reach", rest[:40])
        factor = self.factor or self.assumed_unit()
        try:
            if kind in ("C", "R", "O", "P") and kind not in self.macros:
                sizes = [value * factor for value in values]
                if kind == "P":
                    sizes[1:3] = values[1:3]
                self.apertures[number] = standard(kind, sizes)
                self.pens[number] = (kind, tuple(sizes))
            elif kind in self.macros:
                shape = macro_shape(self.macros[kind], values, factor)
                self.apertures[number] = shape_of(shape)
                self.pens[number] = ("macro", ())
            else:
                self.refuse("an aperture uses a macro that is not defined", kind[:40])
        except (ValueError, OverflowError) as error:
            if isinstance(error, LandwiseError):
                raise
            raise macro_error(error, self.file, f"line {self.source.line(self.at)}", f"D{number} {kind}") from None

    def polarity(self, text: str) -> None:
        """Dark or clear."""
        if text not in ("D", "C"):
            self.refuse("unknown polarity", text[:20], "D or C")
        self.dark = text == "D"

    def set_mirror(self, text: str) -> None:
        """Mirroring of apertures."""
        if text not in ("N", "X", "Y", "XY"):
            self.refuse("unknown mirroring", text[:20], "N, X, Y or XY")
        self.mirror = text

    def set_turn(self, text: str) -> None:
        """Rotation of apertures. [deg]"""
        self.turn = float(text) % 360

    def set_scale(self, text: str) -> None:
        """Scaling of apertures."""
        self.scale = float(text)
        if not 1e-6 < self.scale < 1e6:
            self.refuse("a scale is out of reach", text[:20])

    def step_repeat(self, text: str) -> None:
        """Begin or end a repeat."""
        self.close_repeat()
        if not text:
            return
        match = re.fullmatch(r"X(\d{1,9})Y(\d{1,9})I([-+.\d]+)J([-+.\d]+)", text.replace(" ", ""))
        if not match:
            self.refuse("the repeat can't be understood", f"SR{text[:40]}", "SRX2Y3I5.0J4.0")
            return
        columns, rows = int(match[1]), int(match[2])
        if columns < 1 or rows < 1:
            self.refuse("a repeat of nothing", f"SR{text[:40]}")
        if columns * rows > self.limits.objects:
            self.refuse("a repeat asks for too many copies", f"{columns} × {rows}", f"at most {self.limits.objects}")
        factor = self.factor or self.assumed_unit()
        if columns * rows > 1:
            self.repeat = (
                columns,
                rows,
                float(match[3]) * factor,
                float(match[4]) * factor,
                len(self.objects),
                self.at,
            )

    def close_repeat(self) -> None:
        """Copy what was drawn since the repeat began."""
        if self.repeat is None:
            return
        columns, rows, dx, dy, start, _ = self.repeat
        self.repeat = None
        inner = self.objects[start:]
        if len(inner) * columns * rows + start > self.limits.objects:
            self.refuse(
                "a repeat makes too many objects",
                f"{len(inner)} × {columns} × {rows}",
                f"at most {self.limits.objects}",
            )
        for column in range(columns):
            for row in range(rows):
                if column or row:
                    self.objects += [
                        Drawn(o.shapes, o.x_mm + column * dx, o.y_mm + row * dy, o.dark, o.code, o.line, o.statements,
                              o.component, o.pin, o.flash, True)
                        for o in inner
                    ]  # fmt: skip

    def block(self, text: str) -> None:
        """Begin or end an aperture block."""
        if text:
            match = re.fullmatch(r"D0*(\d{1,9})", text)
            if not match or int(match[1]) < 10:
                self.refuse("the aperture block can't be understood", f"AB{text[:30]}", "ABD10")
                return
            if len(self.stack) >= self.limits.depth:
                self.refuse("aperture blocks are nested too deep", f"more than {self.limits.depth}")
            self.stack.append((int(match[1]), self.objects))
            self.objects = []
        else:
            if not self.stack:
                self.refuse("an aperture block ends that never began", "AB")
            number, outside = self.stack.pop()
            self.blocks[number], self.objects = self.objects, outside

    def image_polarity(self, text: str) -> None:
        """The whole image's polarity (deprecated)."""
        if text not in ("POS", "NEG"):
            self.refuse("unknown image polarity", text[:20], "POS or NEG")
        if text == "NEG":
            self.refuse("a negative image has no openings of its own", "IPNEG", "a positive image")

    def neutral(self, name: str, allowed: tuple[str, ...]) -> Callable[[str], None]:
        """A deprecated command that may only say what changes nothing."""

        def check(text: str) -> None:
            if text.strip() not in allowed:
                self.refuse(
                    "a deprecated command that turns or swaps the image",
                    f"{name}{text[:30]}",
                    " or ".join(name + a for a in allowed),
                )

        return check

    def neutral_zero(self, text: str) -> None:
        """Offset or mirror of the image: only none is taken."""
        if any(float(value) != 0 for _, value in re.findall(r"([AB])([-+.\d]+)", text)):
            self.refuse("a deprecated command that moves or mirrors the image", text[:40], "A0B0")

    def neutral_one(self, text: str) -> None:
        """Scale of the image: only one is taken."""
        if any(float(value) != 1 for _, value in re.findall(r"([AB])([-+.\d]+)", text)):
            self.refuse("a deprecated command that scales the image", text[:40], "A1B1")

    # -- attributes -------------------------------------------------------------------------------------

    def attribute(self, text: str) -> None:
        """File, aperture and object attributes; X2 and its form in comments."""
        kind, fields = text[:2], [field.strip() for field in text[2:].rstrip("*").split(",")]
        name = fields[0]
        if kind == "TF":
            self.file_attributes.setdefault(name, tuple(fields[1:]))
        elif kind == "TO":
            self.object_attributes[name] = tuple(_unescape(field) for field in fields[1:])
        elif kind == "TD":
            if name:
                self.object_attributes.pop(name, None)
            else:
                self.object_attributes.clear()


def _unescape(text: str) -> str:
    return re.sub(r"\\u([0-9A-Fa-f]{4})", lambda match: chr(int(match[1], 16)), text)
