"""Extended statements: format, unit, apertures, macros, polarity, repeats, blocks, attributes, deprecated ones."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from landwise.errors import LandwiseError
from landwise.fabdata.gerber.apertures import shape_of, standard
from landwise.fabdata.gerber.image import Image
from landwise.fabdata.gerber.macros import macro_error, macro_shape
from landwise.fabdata.gerber.model import Drawn, Pen, Repeat

# Section 4.2, "Format Specification": 1 to 6 integer digits, 6 decimals, formerly other numbers up to 6; none before
# the point was usual in older inch files.
MOST_PLACES = 6
_PASSED = ("IN", "LN", "KO", "IC")  # names and legacy marks without geometry that matters here


class Commands(Image):
    """An image that understands extended statements."""

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
            "FS": self.format,
            "MO": lambda t: self.unit(t.strip()),
            "AD": self.define,
            "LP": self.polarity,
            "LM": self.set_mirror,
            "LR": self.set_turn,
            "LS": self.set_scale,
            "SR": self.step_repeat,
            "AB": self.block,
            "TF": lambda t: self.attribute("TF" + t),
            "TA": lambda t: self.attribute("TA" + t),
            "TO": lambda t: self.attribute("TO" + t),
            "TD": lambda t: self.attribute("TD" + t),
            "IP": self.image_polarity,
            "IR": self.neutral("IR", ("0",)),
            "OF": self.neutral_zero,
            "MI": self.neutral_zero,
            "SF": self.neutral_one,
            "AS": self.neutral("AS", ("AXBY",)),
        }
        if name in handlers:
            handlers[name](text[2:])
        elif name in _PASSED:
            self.note(f"the deprecated command {name} draws nothing and is passed over")
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
        places = [int(match[k]) for k in range(3, 7)]
        if max(places) > MOST_PLACES or 0 in (places[0] + places[1], places[2] + places[3]):
            self.refuse(
                "a coordinate format that the specification does not have",
                f"FS{text[:30]}",
                f"0 to {MOST_PLACES} digits before the decimal point and as many after, such as FSLAX46Y46",
            )
        if places[:2] != places[2:]:
            self.note("X and Y have coordinate formats of their own; the specification allows one")
        if self.format_known and self.objects:
            self.note("the coordinate format changes within the file")
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
        if len(self.apertures) >= self.limits.apertures and number not in self.apertures:
            self.refuse("too many apertures", f"more than {self.limits.apertures}", f"at most {self.limits.apertures}")
        values = [float(value) for value in re.split(r"[xX]", rest.replace(" ", "")) if value]
        if not all(math.isfinite(value) and abs(value) <= self.limits.coordinate_mm for value in values):
            self.refuse("an aperture's size is out of reach", rest[:40])
        factor = self.factor or self.assumed_unit()
        try:
            if kind in ("C", "R", "O", "P") and kind not in self.macros:
                sizes = [value * factor for value in values]
                if kind == "P":
                    sizes[1:3] = values[1:3]
                key = (kind, tuple(sizes))
                if key not in self.standard:
                    self.standard[key] = standard(kind, sizes)
                self.apertures[number] = self.standard[key]
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
        columns, rows, dx, dy, start, first = self.repeat
        self.repeat = None
        inner = self.objects[start:]
        pen = Pen(self.x, self.y, self.dark, self.mode, self.code, self.mirror, self.turn, self.scale)
        self.repeats.append(Repeat(columns, rows, dx, dy, first, self.at, len(inner), pen))
        if not self.copies:
            return
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
                        Drawn(
                            o.shapes,
                            o.x_mm + column * dx,
                            o.y_mm + row * dy,
                            o.dark,
                            o.code,
                            o.line,
                            o.statements,
                            o.component,
                            o.pin,
                            o.flash,
                            True,
                        )
                        for o in inner
                    ]

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
