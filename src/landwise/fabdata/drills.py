"""Drill files: holes and slots from the dialects in use, with every guess said."""

from __future__ import annotations

import math
import re
from itertools import pairwise

from landwise.errors import FileError, LandwiseError
from landwise.fabdata.gerber.apertures import shape_of, standard
from landwise.fabdata.gerber.compose import compose
from landwise.fabdata.gerber.model import Drawn, Layer, Limits, UnitShape
from landwise.quantities import INCH_MM
from landwise.shapes import Geometry

_TOOL = re.compile(r"T0*(\d{1,4})(?:[FSBHZ]\d*\.?\d*)*C([\d.]+)(?:[FSBHZ]\d*\.?\d*)*")
_SELECT = re.compile(r"T0*(\d{1,4})(?:[FS]\d*\.?\d*)*")
_XY = re.compile(r"(?:X([+-]?[\d.]+))?(?:Y([+-]?[\d.]+))?")
_HOLESIZE = re.compile(r";?\s*Holesize\s+(\d+)\.?\s*=\s*([\d.]+).*?(MILS?|INCH|MM)?(?:\s+Quantity|\s*$)", re.I)


def is_drill(text: str) -> bool:
    """Whether a file reads like a drill file.

    >>> is_drill("M48\\nMETRIC,LZ\\nT1C0.3\\n%\\nX1Y1\\nM30")
    True
    """
    head = text[:20_000]
    if "%FS" in head or "%ADD" in head:
        return False
    return bool(re.search(r"^M48\s*$", head, re.M) or (_HOLESIZE.search(head) and re.search(r"^X[\d+-]", head, re.M)))


def read_drill(data: bytes, file: str, limits: Limits | None = None) -> Layer:
    """Holes and slots of a drill file as a layer of openings.

    Raises
    ------
    FileError
        For a file that is no drill file or holds a statement that can't be read, with its line.

    Examples
    --------
    >>> layer = read_drill(b"M48\\nMETRIC\\nT1C0.300\\n%\\nT1\\nX1.5Y2.0\\nM30\\n", "board.drl")
    >>> float(layer.pads.x_mm[0]), float(layer.pads.width_mm[0])
    (1.5, 0.3)
    """
    limits = limits or Limits()
    if len(data) > limits.bytes:
        raise FileError(
            "the file is too long", file=file, found=f"{len(data)} bytes", expected=f"at most {limits.bytes}"
        )
    text = data.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
    if "\0" in text[:10_000] or not is_drill(text):
        raise FileError(
            "not a drill file", file=file, found=repr(text[:30]), expected="a header with M48 or hole sizes"
        )
    reader = _Drill(text, file, limits)
    reader.run()
    return Layer(
        file,
        "mm" if reader.factor == 1.0 else "inch",
        {},
        compose(reader.drawn),
        tuple(dict.fromkeys(reader.notes)),
        objects=len(reader.drawn),
        flashes=sum(one.flash for one in reader.drawn),
        data=data,
    )


class _Drill:
    """State of the drill machine."""

    def __init__(self, text: str, file: str, limits: Limits) -> None:
        self.lines, self.file, self.limits = text.splitlines(), file, limits
        self.notes: list[str] = []
        self.drawn: list[Drawn] = []
        self.tools: dict[int, float] = {}
        self.bits: dict[int, tuple[UnitShape, ...]] = {}
        self.factor = (
            INCH_MM if re.search(r"^(INCH|M72)\b", text, re.M) and not re.search(r"^METRIC", text, re.M) else 1.0
        )
        self.tool = 0
        self.x = self.y = 0.0
        self.down, self.rout = False, False
        self.path: list[tuple[float, float]] = []
        self.leading_kept: bool | None = None
        self.places: tuple[int, int] | None = None
        self.line = 0
        self.by_order = False

    def run(self) -> None:
        """All lines."""
        self.header()
        for number, raw in enumerate(self.lines, 1):
            self.line = number
            line = raw.strip().upper()
            if not line or line.startswith((";", "(")):
                continue
            if line in ("M30", "M00") and not (line == "M00" and self.by_order):
                break
            try:
                self.statement(line)
            except LandwiseError:
                raise
            except (ValueError, OverflowError) as error:
                self.refuse("the statement can't be understood", f"{line[:40]} ({error})")
            if len(self.drawn) > self.limits.objects:
                raise FileError("too many holes", file=self.file, expected=f"at most {self.limits.objects}")
        self.end_path()

    def header(self) -> None:
        """Unit, zeros and digits, wherever the file says them."""
        text = "\n".join(self.lines[:2000])
        said = re.search(r"FILE_FORMAT\s*=\s*(\d)\s*:\s*(\d)", text, re.I) or re.search(
            r"FORMAT=\{(\d|-):(\d|-)/", text
        )
        if said and said[1].isdigit():
            self.places = (int(said[1]), int(said[2]))
        shape = re.search(r"^(?:METRIC|INCH).*?,(0+)\.(0+)", text, re.M)
        if shape:
            self.places = (len(shape[1]), len(shape[2]))
        zeros = re.search(r"^(?:METRIC|INCH)\s*,?\s*([LT])Z", text, re.M)
        if zeros:
            self.leading_kept = zeros[1] == "L"
        for found in re.finditer(r"^" + _HOLESIZE.pattern, text, re.M | re.I):
            unit = (found[3] or "").upper()
            if unit.startswith("MIL"):
                self.tools.setdefault(int(found[1]), float(found[2]) * INCH_MM / 1000)
        if self.tools and not re.search(r"^T\d", text, re.M):
            self.by_order, self.tool = True, 1
            self.factor = INCH_MM if re.search(r"\bMILS\b", text) else 1.0
        if self.places is None:
            self.places = self.guessed()

    def guessed(self) -> tuple[int, int]:
        """Digits before and after the point, where nothing says them."""
        numbers = [n.lstrip("+-") for line in self.lines for n in re.findall(r"[XY]([+-]?\d+)(?![\d.])", line)]
        if not numbers:
            return (3, 3)
        longest = max(len(n) for n in numbers)
        whole = 2 if self.factor == INCH_MM else 3
        places = (2, 4) if self.factor == INCH_MM else (3, 3)
        if self.by_order or self.leading_kept:
            places = (whole, max(places[1], longest - whole))
        self.notes.append(f"guess: coordinates without a point taken as {places[0]}.{places[1]} digits")
        return places

    def statement(self, line: str) -> None:
        """One line of the body or header."""
        tool = _TOOL.match(line)
        if tool:
            size = float(tool[2]) * self.factor
            if not 0 < size < 100:
                self.refuse("a tool's size is out of reach", line)
            self.tools[int(tool[1])] = size
            return
        chosen = _SELECT.fullmatch(line)
        if chosen:
            self.end_path()
            self.tool = int(chosen[1])
            return
        repeated = re.fullmatch(r"R(\d{1,4})((?:[XY][+-]?[\d.]+)+)", line)
        if repeated:
            self.repeat(int(repeated[1]), repeated[2])
        elif re.match(r"(G0?[0123])?[XY]", line):
            self.coordinates(line)
        else:
            self.mode(line)

    def repeat(self, count: int, step: str) -> None:
        """The last hole again, `count` times, each a step on."""
        match = _XY.fullmatch(step)
        if match is None:
            self.refuse("the repeat can't be understood", step)
            return
        dx, dy = (self.number(text) if text else 0.0 for text in match.groups())
        for _ in range(count):
            self.x, self.y = self.x + dx, self.y + dy
            self.hole(self.x, self.y)

    def mode(self, line: str) -> None:
        """Units, drilling or routing, the tool up or down."""
        if line.startswith(("METRIC", "M71")):
            self.factor = 1.0
        elif line.startswith(("INCH", "M72")):
            self.factor = INCH_MM
        elif line in ("G05", "G81"):
            self.rout = False
        elif line == "M15":
            self.down, self.path = True, [(self.x, self.y)]
        elif line in ("M16", "M17"):
            self.end_path()
        elif line == "M00" and self.by_order:
            self.tool += 1
        elif line in ("G00", "G01", "G02", "G03"):
            self.rout = True
        elif line.startswith(("G91", "ICI,ON")):
            self.refuse("incremental coordinates in a drill file", line, "G90")
        elif not re.match(r"(%|M\d|G90|G9[23]|G4[0-9]|FMAT|ICI|VER|ATC|DETECT|BLKD|R,|T\d|S\d|F\d)", line):
            self.refuse("the statement can't be understood", line)

    def coordinates(self, line: str) -> None:
        """Holes, slots and routed paths."""
        code = re.match(r"G0?([0123])", line)
        rest = line[code.end() :] if code else line
        first, mark, second = rest.partition("G85")
        x, y = self.point(first)
        if mark:
            self.x, self.y = x, y
            x2, y2 = self.point(second)
            self.slot([(x, y), (x2, y2)])
            self.x, self.y = x2, y2
            return
        if code and code[1] in "23":
            self.refuse("a routed arc", line, "holes and straight slots")
        if code and code[1] == "0":
            self.rout = True
            self.end_path()
        elif self.down or (self.rout and code and code[1] == "1"):
            self.path = self.path or [(self.x, self.y)]
            self.path.append((x, y))
        elif not self.rout:
            self.hole(x, y)
        self.x, self.y = x, y

    def point(self, text: str) -> tuple[float, float]:
        """A coordinate pair; what is left out stays as it was."""
        match = re.match(r"(?:X([+-]?[\d.]+))?(?:Y([+-]?[\d.]+))?", text.strip())
        if match is None or not (match[1] or match[2]):
            self.refuse("the coordinates can't be understood", text)
            return self.x, self.y
        return (
            self.x if match[1] is None else self.number(match[1]),
            self.y if match[2] is None else self.number(match[2]),
        )

    def number(self, text: str) -> float:
        """A coordinate in mm."""
        assert self.places is not None
        if "." in text:
            value = float(text)
        else:
            digits = text.lstrip("+-")
            if len(digits) > 15:
                self.refuse("a coordinate has too many digits", text)
            if self.leading_kept or (self.leading_kept is None and self.by_order):
                digits = digits.ljust(sum(self.places), "0")
            value = int(digits) / 10.0 ** self.places[1] * (-1 if text.startswith("-") else 1)
        value *= self.factor
        if not abs(value) <= self.limits.coordinate_mm:
            self.refuse("a coordinate is out of reach", text, f"within {self.limits.coordinate_mm:g} mm")
        return value

    def bit(self) -> tuple[UnitShape, ...]:
        """The selected tool's hole."""
        if self.tool not in self.tools:
            self.refuse("a hole with a tool whose size is not given", f"T{self.tool}")
        if self.tool not in self.bits:
            self.bits[self.tool] = standard("C", [self.tools[self.tool]])
        return self.bits[self.tool]

    def hole(self, x: float, y: float) -> None:
        """One round hole."""
        self.drawn.append(Drawn(self.bit(), x, y, True, self.tool, self.line, (self.line,)))

    def slot(self, points: list[tuple[float, float]]) -> None:
        """A slot along a path."""
        import shapely

        width = self.bit()[0].width_mm
        for one, other in pairwise(points):
            if math.dist(one, other) < 1e-6:
                continue
            area: Geometry = shapely.LineString([one, other]).buffer(width / 2, quad_segs=32)
            self.drawn.append(Drawn(shape_of(area), 0.0, 0.0, True, self.tool, self.line, (self.line,), flash=False))

    def end_path(self) -> None:
        """Lift the tool: what was routed since is a slot."""
        if len(self.path) > 1:
            self.slot(self.path)
        self.path, self.down = [], False

    def refuse(self, message: str, found: str, expected: str | None = None) -> None:
        """Stop with the line."""
        raise FileError(message, file=self.file, place=f"line {self.line}", found=repr(found[:60]), expected=expected)
