"""Placement files: where each part sits, on which side, and what package the design program calls it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from landwise.errors import InputError
from landwise.fabdata.grids import decode, read_bytes
from landwise.fabdata.tables import read_headed
from landwise.quantities import INCH_MM

FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "ref": (
            "ref",
            "designator",
            "refdes",
            "reference",
            "part",
            "component",
            "name",
            "refdesignator",
            "referencedesignator",
            "references",
            "bauteil",
            "referenz",
        ),
        "x": (
            "posx",
            "midx",
            "centerx",
            "centrex",
            "x",
            "xmm",
            "xmil",
            "xin",
            "posxmm",
            "locx",
            "midxmm",
            "centerxmm",
            "symx",
            "xlocation",
            "centerxmil",
            "centerxin",
            "midxmil",
            "midxin",
            "posxmil",
            "posxin",
            "refx",
            "xpos",
            "xcoord",
            "xcoordinate",
            "xposition",
            "positionx",
            "locationx",
            "bodycenterx",
            "xcenter",
            "coordx",
            "xcenter",
        ),
        "y": (
            "posy",
            "midy",
            "centery",
            "centrey",
            "y",
            "ymm",
            "ymil",
            "yin",
            "posymm",
            "locy",
            "midymm",
            "centerymm",
            "symy",
            "ylocation",
            "centerymil",
            "centeryin",
            "midymil",
            "midyin",
            "posymil",
            "posyin",
            "refy",
            "ypos",
            "ycoord",
            "ycoordinate",
            "yposition",
            "positiony",
            "locationy",
            "bodycentery",
            "ycenter",
            "coordy",
            "ycenter",
        ),
        "rotation": (
            "rot",
            "rotation",
            "angle",
            "orientation",
            "rotationdeg",
            "theta",
            "winkel",
            "drehung",
            "anglecw",
            "angledeg",
            "rotdeg",
        ),
        "side": ("side", "layer", "tb", "mirror", "boardside", "topbottom", "seite", "lage"),
        "package": ("package", "footprint", "pattern", "symname", "case", "componentpackage"),
        "value": ("val", "value", "comment", "compvalue", "description", "parttype"),
    }
)
LARGEST_BOARD_MM = 1000.0


@dataclass(frozen=True)
class Placement:
    """One placed part. [mm, deg]"""

    reference: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    side: str
    package: str
    value: str


@dataclass(frozen=True)
class Placements:
    """All placements of a file by reference, with notes on how they were read."""

    file: str
    by_reference: Mapping[str, Placement]
    notes: tuple[str, ...]


def read_placements(path: str | Path) -> Placements:
    """Read a placement file.

    Raises
    ------
    FileError, InputError
        As for bills; also when no line holds two coordinates.
    """
    path = Path(path)
    notes: list[str] = []
    try:
        table = read_headed(path, FIELDS, key="ref", what="a placement file")
        if not {"x", "y"} <= set(table.columns):
            raise InputError("no columns of coordinates", file=path.name, expected="columns such as PosX and PosY")
        rows = [{"row": str(row.number), **row.cells} for row in table.rows]
        notes += table.notes
        header, file = table.columns["x"], table.file
    except InputError:
        rows, header, file = _bare_lines(path)
        notes.append("no header: columns taken as reference, x, y, rotation, then package texts")
    factor, why = _unit(rows, header)
    notes.append(why)
    found: dict[str, Placement] = {}
    passed: list[str] = []
    twice: list[str] = []
    for row in rows:
        placement = _placement(row, factor)
        if placement is None:
            passed.append(row["row"])
        elif placement.reference in found:
            twice.append(placement.reference)
        else:
            found[placement.reference] = placement
    if not found and rows:
        raise InputError(
            "no line of the placement file holds a reference with two coordinates",
            file=file,
            place=f"row {rows[0]['row']}",
            found=" ".join(value for name, value in rows[0].items() if name != "row")[:60],
        )
    notes += _remarks(rows, passed, twice)
    return Placements(file, MappingProxyType(found), tuple(notes))


_BOTTOM = ("b", "2", "m", "y", "u", "s")  # bottom, mirrored, yes (mirrored), unten, solder side
_TOP = ("t", "1", "n", "o", "c", "f", "0", "")  # top, not mirrored, oben, component side, front


def _placement(row: Mapping[str, str], factor: float) -> Placement | None:
    x, y = _number(row.get("x", "")), _number(row.get("y", ""))
    reference = row.get("ref", "").strip()
    if not reference or x is None or y is None:
        return None
    side = row.get("side", "").strip().lower()
    return Placement(
        reference,
        x * factor,
        y * factor,
        _number(row.get("rotation", "")) or 0.0,
        "bottom" if side[:1] in _BOTTOM else "top",
        row.get("package", ""),
        row.get("value", ""),
    )


def _remarks(rows: Sequence[Mapping[str, str]], passed: Sequence[str], twice: Sequence[str]) -> list[str]:
    """What was not as a placement file should be."""
    notes = []
    if passed:
        notes.append(f"{len(passed)} rows without a reference and two coordinates were passed over: row {_few(passed)}")
    if twice:
        notes.append(f"placed twice, the first place is kept: {_few(twice)}")
    turned = [row["row"] for row in rows if _number(row.get("rotation", "")) is None and row["row"] not in passed]
    if turned:
        notes.append(f"no rotation readable in {len(turned)} rows, taken as 0: row {_few(turned)}")
    odd = {side for row in rows if (side := row.get("side", "").strip().lower()) and side[0] not in (*_BOTTOM, *_TOP)}
    if odd:
        notes.append(f"guess: side {_few(sorted(odd))} taken as top")
    return notes


def _few(words: Sequence[str]) -> str:
    return ", ".join(words[:5]) + (f" and {len(words) - 5} more" if len(words) > 5 else "")


def joined(files: Sequence[Placements]) -> Placements:
    """Several files, such as those of the two sides, as one; a reference in two of them keeps its first place."""
    places: dict[str, Placement] = {}
    for file in files:
        for reference, placement in file.by_reference.items():
            places.setdefault(reference, placement)
    notes = tuple(f"{file.file}: {note}" for file in files for note in file.notes)
    return Placements(", ".join(file.file for file in files), MappingProxyType(places), notes)


_UNIT_SAID = re.compile(
    r"\bu*units?\b\W{0,5}(?:used\W*|in\W*|are\W*)?(mm|millimet\w+|mils?|thou|in(?:ch(?:es)?)?)\b", re.I
)


def _bare_lines(path: Path) -> tuple[list[dict[str, str]], str, str]:
    """Lines of `reference x y rotation …` without a header; and what the file says of its unit."""
    rows: list[dict[str, str]] = []
    said = ""
    for number, line in enumerate(decode(read_bytes(path), path.name).splitlines(), 1):
        unit = _UNIT_SAID.search(line[:200]) if not rows else None
        said = unit[1] if unit else said
        cells = [cell.strip('" ') for cell in re.split(r"[,;\t]|\s+", line.strip()[:2000]) if cell.strip('" ')]
        if len(cells) < 4 or not re.fullmatch(r"[A-Za-z]+\w*", cells[0]):
            continue
        if _number(cells[1]) is not None and _number(cells[2]) is not None:
            rows.append(
                {
                    "row": str(number),
                    "ref": cells[0],
                    "x": cells[1],
                    "y": cells[2],
                    "rotation": cells[3],
                    "package": cells[-1] if len(cells) > 4 else "",
                    "value": " ".join(cells[4:-1]),
                }
            )
    if not rows:
        raise InputError(
            "not a placement file",
            file=path.name,
            expected="a header with a reference and coordinates, or lines of reference, x, y, rotation",
        )
    return rows, said, path.name


_NUMBER = re.compile(r"\s*([-+]?\d{1,9}(?:[.,]\d{0,12})?(?:[eE][+-]?\d{1,2})?)\s*(mm|mils?|in|inch|\")?\s*")


def _number(text: str) -> float | None:
    match = _NUMBER.fullmatch(text)
    return float(match[1].replace(",", ".")) if match else None


_UNITS = (
    (r"mm|millimet", 1.0, "mm"),
    (r"mils?(?![a-z])|thou", INCH_MM / 1000, "mil"),
    (r"in(?:ch(?:es)?)?(?![a-z])|\"", INCH_MM, "inch"),
)


def _unit(rows: Sequence[Mapping[str, str]], header: str) -> tuple[float, str]:
    first = rows[0].get("x", "").strip().lower() if rows else ""
    for pattern, factor, name in _UNITS:
        if re.search(rf"\d\s*(?:{pattern})$", first):
            return factor, f"coordinates in {name}, as written beside them"
        if re.search(rf"(?<![a-z])(?:{pattern})", header.lower()):
            return factor, f"coordinates in {name}, as the file says"
    values = [abs(value) for row in rows if (value := _number(row.get("x", ""))) is not None]
    if values and max(values) > LARGEST_BOARD_MM:
        return INCH_MM / 1000, "guess: coordinates in mil, since a board of a metre would be needed in mm"
    return 1.0, "guess: coordinates in mm, the usual unit; nothing in the file says so"
