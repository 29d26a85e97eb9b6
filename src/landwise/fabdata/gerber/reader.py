"""Reading a Gerber layer: the state machine of RS-274X and X2, deprecated habits included.

Strict where geometry is at stake: what can't be understood is refused with its line. What carries no geometry
(legacy names, unknown comments) is passed over with a note. Gerber layer format specification, 2023.03.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from types import MappingProxyType

from landwise.errors import LandwiseError
from landwise.fabdata.gerber.commands import Commands
from landwise.fabdata.gerber.compose import compose
from landwise.fabdata.gerber.model import Drawn, Layer, Limits
from landwise.fabdata.gerber.tokens import cut
from landwise.heap import give_back

_OPERATION = re.compile(r"(?:G0?1)?(?:X([+-]?\d+))?(?:Y([+-]?\d+))?(?:D0?([123]))?")
_FLASH = re.compile(r"X([+-]?\d{1,13})Y([+-]?\d{1,13})D0?3")
_WORD = re.compile(r"([GXYIJDMN])([+-]?(?:\d+\.?\d*|\.\d+))")
_COMMENT_ATTRIBUTE = re.compile(r"G0?4\s*#@!\s*(T[FAOD].*)", re.S)


def read_gerber(
    data: bytes,
    file: str,
    limits: Limits | None = None,
    *,
    merge: bool = True,
    copies: bool = True,
    pick: Callable[[Sequence[Drawn]], Sequence[Drawn]] | None = None,
) -> Layer:
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
    copies : bool
        Whether steps and repeats are written out; without it the layer holds the image of each once.
    pick : callable, optional
        Chooses from what is drawn, in file order, before shapes are placed and merged: of a film that draws one board
        a thousand times, one is enough.

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
    reader = _Reader(cut(data, file, limits), file, limits, copies=copies)
    reader.run()
    try:
        pads = compose(
            reader.objects if pick is None else pick(reader.objects),
            merge=merge,
            most_overlaps=limits.overlaps,
            most_clearings=limits.clearings,
        )
    except LandwiseError as error:
        raise error.within(file=file) from None
    objects, flashes = len(reader.objects), sum(one.flash for one in reader.objects)
    repeats, attributes, notes = tuple(reader.repeats), dict(reader.file_attributes), tuple(dict.fromkeys(reader.notes))
    reader.objects.clear()
    give_back(objects)
    return Layer(
        file=file,
        unit="mm" if reader.factor == 1.0 else "inch",
        attributes=MappingProxyType(attributes),
        pads=pads,
        notes=notes,
        objects=objects,
        flashes=flashes,
        data=data,
        modal=MappingProxyType(reader.modal),
        regions=MappingProxyType(reader.regions),
        decimals=reader.decimals[0],
        repeats=repeats,
        copied=copies or not repeats,
    )


class _Reader(Commands):
    """An image that works a file's statements one by one."""

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
        if self.without_area:
            many = "flash or stroke" if self.without_area == 1 else "flashes or strokes"
            self.note(f"{self.without_area} {many} of apertures without area: they mark places and print nothing")
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
        dark, code, copied, line = self.dark != self.flip, self.code, self.copying(), self.source.line
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

    def command(self, text: str) -> None:
        """One extended command; some files put plain statements between percent signs too."""
        if re.fullmatch(r"[GDMXYIJ][\d+-].*", text):
            self.plain(text)
        else:
            super().command(text)

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
