"""Placement checks of a line: how far parts stood from their places, a CSV of board, part, offsets and turn."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from landwise.errors import FileError, InputError
from landwise.fabdata.grids import plain
from landwise.fabdata.inspectionrows import Coder, heading_of, number_of

Array = NDArray[np.float64]
Codes = NDArray[np.int32]
LARGEST = 500_000_000
MOST_OFFSET_MM = 2.0  # a part further off has fallen, or the unit is another
# Field to the plain spellings of its heading without the unit (common practice, no source).
FIELDS: Mapping[str, tuple[str, ...]] = {
    name: tuple(words.split())
    for name, words in {
        "placed_board": "board boardid panel panelid pcb pcbid barcode serial serialnumber",
        "placed_part": "refdes reference designator part component componentid place",
        "placed_x": "dx xoffset offsetx xdev deltax xdeviation",
        "placed_y": "dy yoffset offsety ydev deltay ydeviation",
        "placed_turn": "turn rotation theta dtheta offsettheta rotationoffset tdev deltatheta angle",
    }.items()
}
UNITS: Mapping[str, float] = {"mm": 1.0, "um": 1e-3, "µm": 1e-3, "μm": 1e-3, "mil": 0.0254, "inch": 25.4, "in": 25.4}
TURNS: Mapping[str, float] = {"deg": 1.0, "°": 1.0, "rad": 180 / np.pi, "mrad": 0.18 / np.pi}
_UNIT = re.compile(r"[\(\[]\s*([^\)\]]*?)\s*[\)\]]\s*$")


@dataclass(frozen=True, eq=False)
class PlacementChecks:
    """Parts as they stood, one element of every array each.

    Parameters
    ----------
    board, part : array of int
        Codes.
    dx_mm, dy_mm : array
    turn_deg : array or None
    columns : mapping of str to str
        How the columns were taken, `HEADING [unit]`.
    rows : int
    notes : tuple of str
        Rows left out, by reason.
    """

    board: Codes
    part: Codes
    dx_mm: Array
    dy_mm: Array
    turn_deg: Array | None
    columns: Mapping[str, str]
    rows: int
    notes: tuple[str, ...]


def read_placement_checks(path: str | Path, own: Mapping[str, str] | None = None) -> PlacementChecks:
    """Read placement checks.

    Parameters
    ----------
    path : str or Path
        CSV with a header. Offsets need a unit behind their heading (`dx [um]`), since a wrong guess is a factor of 25:
        none is assumed. A turn without one is in degrees, and is said. Without a column of parts, the order of the rows
        of a board tells them apart.
    own : mapping of str to str
        Field to heading, with `[unit]` behind it.

    Raises
    ------
    FileError, InputError
        Naming the file, the column and what was expected.
    """
    path = Path(path)
    header, delimiter = heading_of(path)
    if path.stat().st_size > LARGEST:
        raise FileError("too large", file=str(path), expected=f"at most {LARGEST / 1e6:g} MB")
    try:
        taken = _columns(header, own or {})
    except InputError as error:
        raise error.within(file=path.name) from None
    rows = _rows(path, delimiter)
    whole = [cells for cells in rows if len(cells) == len(header)]
    at = {field: [cells[header.index(heading)] for cells in whole] for field, (heading, _) in taken.items()}
    board = Coder().codes(at["placed_board"])
    part = Coder().codes(at["placed_part"]) if "placed_part" in at else _in_order(board)
    values = {
        field: np.array([number_of(text) for text in at[field]]) * taken[field][1]
        for field in ("placed_x", "placed_y", "placed_turn")
        if field in at
    }
    dx, dy = values["placed_x"], values["placed_y"]
    reasons = {"not as many cells as the header": np.int64(len(rows) - len(whole))}
    good = np.isfinite(dx) & np.isfinite(dy)
    reasons["no number for an offset"] = (~good).sum()
    far = good & (np.maximum(np.abs(dx), np.abs(dy)) > MOST_OFFSET_MM)
    reasons[f"an offset of more than {MOST_OFFSET_MM:g} mm"] = far.sum()
    good &= ~far
    if good.sum() < len(rows) / 2 or not len(rows):
        told = "; ".join(f"{count} {why}" for why, count in reasons.items() if count) or "no rows"
        raise InputError(
            "most placements can't be used", file=path.name, found=told, expected="other columns or units (--column)"
        )
    turn = values["placed_turn"][good] if "placed_turn" in values else None
    notes = [f"left out {count} placements: {why}" for why, count in reasons.items() if count]
    return PlacementChecks(
        board=board[good],
        part=part[good],
        dx_mm=dx[good],
        dy_mm=dy[good],
        turn_deg=turn,
        columns={field: _told(field, heading, factor) for field, (heading, factor) in taken.items()},
        rows=len(rows),
        notes=tuple(notes),
    )


def _rows(path: Path, delimiter: str) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="", errors="replace") as file:
        reader = csv.reader((line.replace("\0", "") for line in file), delimiter=delimiter)
        next(reader)
        try:
            return [cells for cells in reader if cells]
        except csv.Error as error:
            raise FileError("not a CSV", file=str(path), place=f"line {reader.line_num}", found=str(error)) from None


def _columns(header: list[str], own: Mapping[str, str]) -> dict[str, tuple[str, float]]:
    """Heading and factor of every field."""
    found: dict[str, tuple[str, float]] = {}
    for field in FIELDS:
        taken = _column(field, header, own.get(field))
        if taken is not None:
            found[field] = taken[0], _factor(field, taken[1])
    for field in ("placed_board", "placed_x", "placed_y"):
        if field not in found:
            raise InputError(
                f"no column {field} was found",
                found=", ".join(header[:24]),
                expected=f"a heading such as {FIELDS[field][0]}, or --column {field}=HEADING",
            )
    return found


def _column(field: str, header: list[str], said: str | None) -> tuple[str, str] | None:
    """A field's heading and unit: as said, else the first known spelling."""
    if said is not None:
        heading, unit = (said, "") if said in header else _parted(said)
        if heading not in header:
            raise InputError("no such column", place=field, found=repr(heading), expected=", ".join(header[:24]))
        return heading, unit or _parted(heading)[1]
    name = next((name for name in header if plain(_UNIT.sub("", name)) in FIELDS[field]), None)
    return None if name is None else (name, _parted(name)[1])


def _factor(field: str, unit: str) -> float:
    if field in ("placed_board", "placed_part"):
        return 1.0
    known = TURNS if field == "placed_turn" else UNITS
    if not unit and field == "placed_turn":
        return 1.0
    if unit not in known:
        raise InputError(
            "the unit is not known",
            place=field,
            found=unit or "none",
            expected=f"--column {field}='HEADING [unit]' with {' | '.join(known)}",
        )
    return known[unit]


def _told(field: str, heading: str, factor: float) -> str:
    known = TURNS if field == "placed_turn" else UNITS
    if field in ("placed_board", "placed_part") or _parted(heading)[1]:
        return heading
    return f"{heading} [{next(unit for unit, one in known.items() if one == factor)}]"


def _parted(text: str) -> tuple[str, str]:
    match = _UNIT.search(text)
    return (text[: match.start()].strip(), match[1].lower()) if match else (text.strip(), "")


def _in_order(board: Codes) -> Codes:
    """Number of each row among those of its board."""
    order = np.argsort(board, kind="stable")
    first = np.r_[0, np.flatnonzero(np.diff(board[order])) + 1] if len(board) else np.zeros(0, dtype=int)
    begin = np.zeros(len(board), dtype=np.int64)
    begin[first] = first
    numbers = np.arange(len(board)) - np.maximum.accumulate(begin)
    found = np.empty(len(board), dtype=np.int32)
    found[order] = numbers
    return found
