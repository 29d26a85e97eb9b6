"""Placement files: where each part sits, on which side, and what package the design program calls it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from landwise.errors import InputError
from landwise.fabdata.tables import decode, read_bytes, read_headed
from landwise.quantities import INCH_MM

FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "ref": ("ref", "designator", "refdes", "reference", "part", "component", "name", "refdesignator"),
        "x": ("posx", "midx", "centerx", "centrex", "x", "xmm", "xmil", "xin", "posxmm", "locx", "midxmm", "centerxmm", "symx", "xlocation"),
        "y": ("posy", "midy", "centery", "centrey", "y", "ymm", "ymil", "yin", "posymm", "locy", "midymm", "centerymm", "symy", "ylocation"),
        "rotation": ("rot", "rotation", "angle", "orientation", "rotationdeg"),
        "side": ("side", "layer", "tb", "mirror", "boardside"),
        "package": ("package", "footprint", "pattern", "symname", "case", "componentpackage"),
        "value": ("val", "value", "comment", "compvalue", "description", "parttype"),
    }
)  # fmt: skip
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
        rows = [dict(row.cells) for row in table.rows]
        notes += table.notes
        header = " ".join(table.columns.values()).lower()
        file = table.file
    except InputError:
        rows, header, file = _bare_lines(path)
        notes.append("no header: columns taken as reference, x, y, rotation, then package texts")
    factor, why = _unit(rows, header)
    notes.append(why)
    found: dict[str, Placement] = {}
    for row in rows:
        x, y = _number(row.get("x", "")), _number(row.get("y", ""))
        reference = row.get("ref", "").strip()
        if not reference or x is None or y is None:
            continue
        side = row.get("side", "").strip().lower()
        found[reference] = Placement(
            reference,
            x * factor,
            y * factor,
            _number(row.get("rotation", "")) or 0.0,
            "bottom" if side[:1] in ("b", "2", "m", "y") else "top",
            row.get("package", ""),
            row.get("value", ""),
        )
    if not found and rows:
        raise InputError("no line of the placement file holds a reference with two coordinates", file=file)
    return Placements(file, MappingProxyType(found), tuple(notes))


def joined(files: Sequence[Placements]) -> Placements:
    """Several files, such as those of the two sides, as one; a reference in two of them keeps its first place."""
    places: dict[str, Placement] = {}
    for file in files:
        for reference, placement in file.by_reference.items():
            places.setdefault(reference, placement)
    notes = tuple(f"{file.file}: {note}" for file in files for note in file.notes)
    return Placements(", ".join(file.file for file in files), MappingProxyType(places), notes)


def _bare_lines(path: Path) -> tuple[list[dict[str, str]], str, str]:
    """Lines of `reference x y rotation …` without a header."""
    rows = []
    for line in decode(read_bytes(path), path.name).splitlines():
        cells = [cell.strip('" ') for cell in re.split(r"[,;\t]|\s+", line.strip()) if cell.strip('" ')]
        if (
            len(cells) >= 4
            and re.fullmatch(r"[A-Za-z]+\w*", cells[0])
            and _number(cells[1]) is not None
            and _number(cells[2]) is not None
        ):
            rows.append(
                {
                    "ref": cells[0],
                    "x": cells[1],
                    "y": cells[2],
                    "rotation": cells[3],
                    "package": cells[-1],
                    "value": " ".join(cells[4:-1]),
                }
            )
    if not rows:
        raise InputError(
            "not a placement file",
            file=path.name,
            expected="a header with a reference and coordinates, or lines of reference, x, y, rotation",
        )
    return rows, "", path.name


def _number(text: str) -> float | None:
    match = re.match(r"\s*(-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*(mm|mil|in|\")?\s*$", text)
    return float(match[1]) if match else None


def _unit(rows: list[dict[str, str]], header: str) -> tuple[float, str]:
    for suffix, factor in (("mm", 1.0), ("mil", INCH_MM / 1000), ("in", INCH_MM)):
        if rows and rows[0].get("x", "").strip().lower().endswith(suffix):
            return factor, f"coordinates in {suffix}, as written beside them"
        if re.search(rf"\b{suffix}s?\b|\({suffix}\)", header):
            return factor, f"coordinates in {suffix}, as the header says"
    values = [abs(value) for row in rows if (value := _number(row.get("x", ""))) is not None]
    if values and max(values) > LARGEST_BOARD_MM:
        return INCH_MM / 1000, "guess: coordinates in mil, since a board of a metre would be needed in mm"
    return 1.0, "guess: coordinates in mm, the usual unit; nothing in the file says so"
