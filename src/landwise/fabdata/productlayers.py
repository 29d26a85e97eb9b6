"""The layers of a file that holds a whole board as layers of a job: each a film, for what reads films to read."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping

from landwise.fabdata.boardfile import is_board_file, read_board_file
from landwise.fabdata.gerber import write_gerber
from landwise.fabdata.ipc2581 import is_product_data, read_product_data
from landwise.fabdata.product import Drilled, Product, Shapes
from landwise.shapes import Geometry

Named = tuple[str, str, str, bytes]  # name, role, what told the role, content
FUNCTIONS: Mapping[str, tuple[str, ...]] = {
    "paste": ("Paste",),
    "mask": ("Soldermask",),
    "copper": ("Copper",),
}
MOST_CORNERS = 4000  # of a macro's outline, below what the format allows
FIRST_STROKE = 1_000_000  # number of the first aperture of strokes
EDGE_MM = 0.1  # width of the line that the outline is drawn with


def is_whole_board(data: bytes) -> bool:
    """Whether a file holds a whole board: IPC-2581, or the open CAD board file."""
    return is_product_data(data) or is_board_file(data)


def product_layers(data: bytes, file: str) -> tuple[list[Named], tuple[str, ...]]:
    """A file's layers, ready to be read as films, and what of it was left out.

    Raises
    ------
    InputError
        As `read_product_data` and `read_board_file`.
    """
    found = read_board_file(data, file) if is_board_file(data) else read_product_data(data, file)
    return list(_films(found, file)), found.notes


def _films(found: Product, file: str) -> Iterator[Named]:
    for role, shapes in found.layers.items():
        kind, side = role.split("-")
        function = {".FileFunction": (*FUNCTIONS[kind], side.capitalize())}
        yield f"{file}, {role}.gbr", role, f"{found.form}: {kind} {side}", _film(shapes, function)
    for number, drill in enumerate(found.drills, 1):
        name = f"{file}, drill {number}.gbr"
        yield name, "drill", f"{found.form}: drilled, layers {drill.span[0]} to {drill.span[1]}", _drilled(drill)
    if found.outline is not None and not found.outline.is_empty:
        edge = Shapes([found.outline.boundary.buffer(EDGE_MM / 2)], [False], [""], [""])
        yield f"{file}, outline.gbr", "outline", f"{found.form}: edge", _film(edge, {".FileFunction": ("Profile",)})
    if found.placed:
        text = io.StringIO()
        table = csv.writer(text, lineterminator="\n")
        table.writerow(["Ref", "PosX (mm)", "PosY (mm)", "Rotation", "Side", "Package"])
        for one in found.placed:
            row = [one.reference, f"{one.x_mm:.6f}", f"{one.y_mm:.6f}", f"{one.rotation_deg:.6f}"]
            table.writerow([*row, one.side, one.package])
        yield f"{file}, placement.csv", "placement", f"{found.form}: components", text.getvalue().encode()


def _film(shapes: Shapes, function: Mapping[str, tuple[str, ...]]) -> bytes:
    """A layer as a film: pads flashed, each kind of pad a macro; the rest as contours; no points or lines."""
    import shapely

    polygons: list[Geometry] = []
    components: list[str] = []
    pins: list[str] = []
    flashes: list[tuple[str, float, float] | None] = []
    macros: dict[str, str] = {}
    for shape, is_pad, part, pin in zip(shapes.polygons, shapes.pads, shapes.components, shapes.pins, strict=True):
        its = [one for one in shapely.get_parts(shape) if one.geom_type == "Polygon" and one.area > 0]
        for one in its:
            polygons.append(one)
            components.append(part)
            pins.append(pin)
            flashes.append(_flash(one, macros) if is_pad and len(its) == 1 else None)
    statements = [f"%AM{name}*{text}*%" for text, name in macros.items()]
    made = write_gerber(polygons, function, components=components, pins=pins, flashes=flashes, macros=statements)
    return made.removesuffix(b"M02*\n") + _stroked(shapes).encode() + b"M02*\n"


def _stroked(shapes: Shapes) -> str:
    """Strokes as statements with a round aperture each width, numbered beyond all others."""
    codes: dict[float, int] = {}
    lines: list[str] = []
    for points, width in shapes.strokes:
        known = len(codes)
        code = codes.setdefault(round(width, 6), FIRST_STROKE + known)
        if len(codes) > known:
            lines.append(f"%ADD{code}C,{width:.6f}*%")
        lines.append(f"D{code}*")
        ends = [f"X{round(x * 1e6)}Y{round(y * 1e6)}" for x, y in points]
        lines += [f"{ends[0]}D02*", *(f"{end}D01*" for end in ends[1:])]
    return "".join(f"{line}\n" for line in lines)


def _flash(shape: Geometry, macros: dict[str, str]) -> tuple[str, float, float] | None:
    """A pad as an aperture of its outline, and where it is flashed; None for one with holes or too many corners."""
    corners = list(shape.exterior.coords)
    if len(shape.interiors) or len(corners) > MOST_CORNERS:
        return None
    x, y = round(shape.centroid.x, 6), round(shape.centroid.y, 6)
    points = ",".join(f"{px - x:.6f},{py - y:.6f}" for px, py in corners)
    text = f"4,1,{len(corners) - 1},{points},0"
    return macros.setdefault(text, f"P{len(macros)}"), x, y


def _drilled(drill: Drilled) -> bytes:
    from shapely import Point

    flashes = [(f"C,{d:.6f}", x, y) for x, y, d in zip(drill.x_mm, drill.y_mm, drill.diameter_mm, strict=True)]
    shapes = [Point(x, y).buffer(float(text[2:]) / 2) for text, x, y in flashes]
    first, last = drill.span
    return write_gerber(shapes, {".FileFunction": ("Plated", str(first), str(last), "PTH")}, flashes=flashes)
