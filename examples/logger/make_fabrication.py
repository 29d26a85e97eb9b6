"""Make the fabrication files of the greenhouse logger: an INVENTED board, drawn by this script and by nobody else.

    python examples/logger/make_fabrication.py           # writes examples/logger/fabrication/
    python examples/logger/make_fabrication.py --check   # says whether what lies there is what the script makes

Gerber X2 layers, two drill files and a placement file of the board as `board.toml` and `bom.csv` have it today. Lands
only: an invented board needs no tracks. Land sizes are what this invented house draws. Six faults are planted, so that
a review has something to find:

    volume        the openings of U4 are drawn at half the sides of their lands
    missing       terminal 5 of U8 gets no paste
    centre        the centre pad of the radio module U11 is printed as one opening
    unlike-paste  one end of C6 gets little more than half the paste of the other
    via           a via lies open in a land of R5
    fiducial      the fiducial FD2 is printed
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import shapely
from shapely.affinity import rotate, translate

from landwise.fabdata.gerber import write_gerber

FOLDER = Path(__file__).with_name("fabrication")
BOARD_MM = (90.0, 60.0)
MASK_MM = 0.05  # mask opening past the land
VIA_MM = 0.3


@dataclass(frozen=True)
class Land:
    """One land of a footprint, around the part's middle. [mm]

    `paste` is what the opening covers of the land's sides, along and across; None for no opening.
    """

    terminal: str
    x: float
    y: float
    length: float
    width: float
    paste: tuple[float, float] | None = (1.0, 1.0)
    hole: float = 0.0
    mask: float = MASK_MM
    round: bool = False

    def shape(self, grown: float = 0.0) -> shapely.Polygon:
        """The land, with its edges moved outwards."""
        if self.round:
            return shapely.Point(self.x, self.y).buffer(self.length / 2 + grown)
        x, y = self.length / 2 + grown, self.width / 2 + grown
        return shapely.box(self.x - x, self.y - y, self.x + x, self.y + y)

    def opening(self) -> shapely.Polygon | None:
        """What is printed on it."""
        if self.paste is None:
            return None
        return replace(self, length=self.length * self.paste[0], width=self.width * self.paste[1]).shape()


@dataclass(frozen=True)
class Part:
    """A part on the board: where, how it is turned, and its lands. [mm, degrees]"""

    ref: str
    value: str
    package: str
    x: float
    y: float
    angle: float
    lands: tuple[Land, ...]

    def placed(self, shape: shapely.Polygon) -> shapely.Polygon:
        """A shape of the part where it lies on the board."""
        return translate(rotate(shape, self.angle, origin=(0, 0)), self.x, self.y)


def rows(
    left: int, right: int, pitch: float, span: float, size: tuple[float, float], hole: float = 0.0
) -> tuple[Land, ...]:
    """Two facing rows, terminal 1 at the upper left, counted round. `right` lands stand where `left` ones face them."""
    places = [(-span / 2, pitch * ((left - 1) / 2 - k)) for k in range(left)]
    facing = range(left) if right == left else (0, left - 1)
    places += [(span / 2, pitch * ((left - 1) / 2 - k)) for k in reversed(facing)]
    paste = None if hole else (1.0, 1.0)
    return tuple(Land(str(n), x, y, *size, paste=paste, hole=hole) for n, (x, y) in enumerate(places, 1))


CHIP = (Land("1", -0.8, 0, 0.8, 0.95), Land("2", 0.8, 0, 0.8, 0.95))
SOT_23_5 = rows(3, 2, 0.95, 2.6, (1.1, 0.6))
SC_70_6 = rows(3, 3, 0.65, 2.0, (0.8, 0.4))
SO_16 = rows(8, 8, 1.27, 5.4, (1.55, 0.6))
SO_20W = rows(10, 10, 1.27, 9.3, (2.0, 0.6))
DIP_14 = rows(7, 7, 2.54, 7.62, (1.5, 1.5), hole=0.9)
TERMINAL_BLOCK = rows(8, 8, 3.5, 5.0, (2.2, 2.2), hole=1.3)
RADIO = (*rows(10, 10, 1.27, 15.0, (1.6, 0.8)), Land("21", 0, 0, 6.0, 6.0))
FIDUCIAL = (Land("1", 0, 0, 1.0, 1.0, paste=None, mask=0.5, round=True),)


def with_paste(lands: tuple[Land, ...], *printed: tuple[str, tuple[float, float] | None]) -> tuple[Land, ...]:
    """The lands with other openings on some terminals."""
    other = dict(printed)
    return tuple(replace(land, paste=other.get(land.terminal, land.paste)) for land in lands)


def parts() -> Iterator[Part]:
    """Everything on the board, faults included."""
    for ref, y in (("U1", 12.0), ("U2", 30.0), ("U3", 48.0)):
        yield Part(ref, "74LVC1G08", "SOT-23-5", 12, y, 0, SOT_23_5)
    small = with_paste(SC_70_6, *((str(n), (0.5, 0.5)) for n in range(1, 7)))
    yield Part("U4", "74LVC1T45", "SC70-6", 26, 16, 0, small)
    yield Part("U5", "74LVC1T45", "SC70-6", 26, 44, 0, SC_70_6)
    yield Part("U6", "74HC595", "SOIC-16", 45, 20, 0, SO_16)
    yield Part("U7", "74HC595", "SOIC-16", 45, 40, 180, SO_16)
    yield Part("U8", "74HC4051", "SO16", 26, 30, 0, with_paste(SO_16, ("5", None)))
    yield Part("U9", "74LVC245A", "SOIC-20W", 68, 30, 0, SO_20W)
    yield Part("U10", "74HC132", "14-DIP", 45, 52, 90, DIP_14)
    yield Part("U11", "radio module", "MODULE-20", 68, 11, 0, RADIO)
    yield Part("J1", "terminal block 2x8", "BLOCK-2x8", 83, 30, 0, TERMINAL_BLOCK)
    for k in range(12):
        yield Part(f"R{k + 1}", "10k", "R_0603", 10 + 4 * k, 4.5, 90, CHIP)
    beside = (
        (16.5, 12),
        (16.5, 30),
        (16.5, 48),
        (30, 16),
        (30, 44),
        (51, 20),
        (51, 40),
        (20.5, 30),
        (58.5, 30),
        (58, 52),
    )
    for k, (x, y) in enumerate((*beside, (56, 10), (56, 14), (79, 10), (79, 14)), 1):
        lands = with_paste(CHIP, ("2", (0.72, 0.8))) if k == 6 else CHIP
        yield Part(f"C{k}", "100n", "C_0603", x, y, 90, lands)
    yield Part("FD1", "fiducial", "FIDUCIAL", 9.5, 56.5, 0, FIDUCIAL)
    yield Part("FD2", "fiducial", "FIDUCIAL", 80, 56.5, 0, with_paste(FIDUCIAL, ("1", (1.0, 1.0))))
    yield Part("FD3", "fiducial", "FIDUCIAL", 58, 4.5, 0, FIDUCIAL)


VIAS = ((22.0, 4.5), (34.0, 25.0), (34.0, 35.0), (60.0, 20.0), (60.0, 40.0), (26.0, 5.3))  # the last in a land of R5
SCREWS = ((3.5, 3.5), (86.5, 3.5), (3.5, 56.5), (86.5, 56.5))
SCREW_MM = 3.2


Drawn = tuple[shapely.Polygon, str, str]


def disc(shape: shapely.Polygon) -> tuple[str, float, float] | None:
    """The round aperture that draws a shape exactly, and its middle; None for what is not round."""
    low_x, low_y, high_x, high_y = shape.bounds
    if len(shape.exterior.coords) < 12 or shape.interiors:
        return None
    return f"C,{high_x - low_x:.6f}", (low_x + high_x) / 2, (low_y + high_y) / 2


def layer(function: tuple[str, ...], shapes: list[Drawn], negative: bool = False) -> bytes:
    """One Gerber layer; who wrote it is left out, so that a new version of landwise makes no new files."""
    text = write_gerber(
        [shape for shape, _, _ in shapes],
        {".Part": ("Single",), ".FileFunction": function, ".FilePolarity": ("Negative" if negative else "Positive",)},
        components=[ref for _, ref, _ in shapes],
        pins=[terminal for _, _, terminal in shapes],
        flashes=[disc(shape) for shape, _, _ in shapes],
    )
    return re.sub(rb"%TF\.GenerationSoftware[^%]*%\n", b"G04 Greenhouse logger, an invented board*\n", text)


def drill(function: str, holes: list[tuple[float, float, float]]) -> bytes:
    """A drill file in the common format, metric with decimal points: holes by x, y and finished diameter. [mm]"""
    sizes = sorted({size for _, _, size in holes})
    lines = ["M48", "; Greenhouse logger, an invented board", f"; #@! TF.FileFunction,{function}", "FMAT,2", "METRIC"]
    lines += [f"T{n}C{size:.3f}" for n, size in enumerate(sizes, 1)] + ["%", "G90", "G05"]
    for n, size in enumerate(sizes, 1):
        lines += [f"T{n}", *(f"X{x:.3f}Y{y:.3f}" for x, y, its in holes if its == size)]
    return ("\n".join([*lines, "M30"]) + "\n").encode("ascii")


def files() -> dict[str, bytes]:
    """Every file by its name."""
    every = [(part, land) for part in parts() for land in part.lands]
    through = [(part, land) for part, land in every if land.hole]

    def copper(some: list[tuple[Part, Land]]) -> list[Drawn]:
        lands = [(part.placed(land.shape()), part.ref, land.terminal) for part, land in some]
        return lands + [(shapely.Point(x, y).buffer(VIA_MM), "", "") for x, y in VIAS]

    def mask(some: list[tuple[Part, Land]]) -> list[Drawn]:
        return [(part.placed(land.shape(land.mask)), part.ref, land.terminal) for part, land in some]

    opened = [(part, land, land.opening()) for part, land in every]
    paste = [(part.placed(shape), part.ref, land.terminal) for part, land, shape in opened if shape is not None]
    edge = shapely.box(0, 0, *BOARD_MM).exterior.buffer(0.05, join_style="mitre")
    middles = [(part.placed(shapely.Point(land.x, land.y)), land.hole) for part, land in through]
    placed = [
        f"{p.ref},{p.value},{p.package},{p.x:g},{p.y:g},{p.angle:g},top" for p in parts() if p.package != "FIDUCIAL"
    ]
    return {
        "logger-top-copper.gbr": layer(("Copper", "L1", "Top"), copper(every)),
        "logger-bottom-copper.gbr": layer(("Copper", "L4", "Bot"), copper(through)),
        "logger-top-mask.gbr": layer(("Soldermask", "Top"), mask(every), negative=True),
        "logger-bottom-mask.gbr": layer(("Soldermask", "Bot"), mask(through), negative=True),
        "logger-top-paste.gbr": layer(("Paste", "Top"), paste),
        "logger-outline.gbr": layer(("Profile", "NP"), [(edge, "", "")]),
        "logger-plated.drl": drill(
            "Plated,1,4,PTH", [(at.x, at.y, size) for at, size in middles] + [(x, y, VIA_MM) for x, y in VIAS]
        ),
        "logger-unplated.drl": drill("NonPlated,1,4,NPTH", [(x, y, SCREW_MM) for x, y in SCREWS]),
        "logger-placement.csv": ("Ref,Val,Package,PosX,PosY,Rot,Side\n" + "\n".join(placed) + "\n").encode("ascii"),
    }


def main() -> int:
    """Write the files, or check them."""
    reader = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    reader.add_argument("--check", action="store_true")
    made = files()
    if reader.parse_args().check:
        stale = [
            name
            for name, content in made.items()
            if not (FOLDER / name).is_file() or (FOLDER / name).read_bytes() != content
        ]
        print(f"not what the script makes: {', '.join(stale)}" if stale else "fresh")
        return 1 if stale else 0
    FOLDER.mkdir(exist_ok=True)
    for name, content in made.items():
        (FOLDER / name).write_bytes(content)
    return 0


if __name__ == "__main__":
    sys.exit(main())
