"""A line's counted defects: a small CSV of family or package, kind, defects and joints inspected."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path

from landwise.assembly.levels import Counted, Kind
from landwise.errors import FileError, InputError
from landwise.fabdata.grids import plain
from landwise.outlines import FAMILIES, find

COLUMNS = ("kind", "defects", "joints")  # and family, or package, or both
LARGEST = 1_000_000
# What inspections call them (common practice, no source).
_KINDS: dict[str, Kind] = {
    **dict.fromkeys(("bridge", "bridges", "bridging", "short", "solderbridge"), "bridge"),
    **dict.fromkeys(("open", "opens", "nonwet", "nonwetting", "insufficient", "lifted", "headinpillow"), "open"),
}


def read_defects(path: str | Path) -> tuple[tuple[Counted, ...], tuple[str, ...]]:
    """Counts by family and kind, rows of one family and kind summed; and what was left out.

    Raises
    ------
    FileError, InputError
        Naming file, row, and what was expected.
    """
    path = Path(path)
    try:
        if path.stat().st_size > LARGEST:
            raise FileError("too large", file=str(path), expected=f"at most {LARGEST / 1e6:g} MB")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except UnicodeDecodeError:
        raise FileError("not UTF-8 text", file=str(path), expected="a CSV") from None
    rows = list(csv.reader(text.splitlines(), delimiter=max(",;\t", key=text.partition("\n")[0].count)))
    names = [plain(cell) for cell in rows[0]] if rows else []
    if not set(COLUMNS) <= set(names) or not {"family", "package"} & set(names):
        raise InputError(
            "not a list of defects",
            file=path.name,
            found=", ".join(names),
            expected=f"family or package, {', '.join(COLUMNS)}",
        )
    sums: dict[tuple[str, str, float | None, Kind], list[int]] = {}
    notes: list[str] = []
    for number, cells in enumerate(rows[1:], 2):
        if not any(cell.strip() for cell in cells):
            continue
        row = dict(zip(names, (cell.strip() for cell in cells), strict=False))
        kind = _KINDS.get(plain(row.get("kind", "")))
        if kind is None:
            notes.append(f"row {number}: {row.get('kind', '')!r} is neither a bridge nor an open; left out")
            continue
        where = _where(row, file=path.name, place=f"row {number}")
        counts = [row.get(name, "") for name in ("defects", "joints")]
        if not all(count.isdecimal() for count in counts) or int(counts[1]) < max(int(counts[0]), 1):
            raise InputError(
                "not a count",
                file=path.name,
                place=f"row {number}",
                found=", ".join(counts),
                expected="whole numbers, no more defects than joints",
            )
        total = sums.setdefault((*where, kind), [0, 0])
        total[0] += int(counts[0])
        total[1] += int(counts[1])
    found = tuple(
        Counted(family, kind, total[0], total[1], package, pitch_mm)
        for (family, package, pitch_mm, kind), total in sums.items()
    )
    return found, tuple(notes)


def _where(row: Mapping[str, str], *, file: str, place: str) -> tuple[str, str, float | None]:
    """Family, package and its pitch."""
    family, package = row.get("family", ""), row.get("package", "")
    if package:
        try:
            outline = find(package)
        except InputError as error:
            raise error.within(file=file, place=place) from None
        if family and family != outline.family:
            raise InputError(
                "the package is of another family",
                file=file,
                place=place,
                found=f"{package} as {family}",
                expected=outline.family,
            )
        return outline.family, outline.name, outline.pitch_mm
    if family not in FAMILIES:
        raise InputError("no such family", file=file, place=place, found=family, expected=" | ".join(FAMILIES))
    return family, "", None
