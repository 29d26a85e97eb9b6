"""Odd dialects of a paste inspection's export, laid out as one plain table before it is read; what was met is told.

Text in another encoding, lines above the header, units in a line of their own below it, the header printed again, a
block for each panel, a file for each board in a folder. A plain CSV is left as it is and read in pieces; only an odd
one is written anew.
"""

from __future__ import annotations

import csv
import os
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from landwise.errors import FileError, InputError
from landwise.fabdata.grids import plain
from landwise.fabdata.inspectioncolumns import FIELDS, is_unit, named
from landwise.fabdata.inspectionrows import PARQUET

LOOKED_AT = 60  # lines in which the header has to come
LARGEST_ODD = 600_000_000  # bytes of one odd file: it is held line by line, but written again
MOST_FILES = 20_000
PANEL_HEADING = "PanelID"
_MARKS = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig"))
_SUFFIXES = (".csv", ".txt", ".tsv", ".dat")


@dataclass
class Met:
    """What an export held beside rows, counted as it is read."""

    encoding: str = "utf-8"
    above: int = 0
    units: bool = False
    again: int = 0
    blocks: int = 0
    files: int = 0
    others: list[str] = field(default_factory=list)  # files of a folder that are no export, or have other columns

    @property
    def odd(self) -> bool:
        """Whether any of it asks for a table written anew."""
        return self.encoding not in ("utf-8", "utf-8-sig") or bool(
            self.above or self.units or self.again or self.blocks or self.files
        )

    def notes(self) -> list[str]:
        """In words."""
        said = [
            (self.files, f"{self.files} files of the folder read, a panel each where they don't name it"),
            (self.others, f"not read: {', '.join(self.others[:5])}{' and more' if len(self.others) > 5 else ''}"),
            (self.encoding not in ("utf-8", "utf-8-sig"), f"the text is {self.encoding}"),
            (self.above, f"{self.above} lines above the header are not rows"),
            (self.units, "units are taken from the line below the header"),
            (self.again, f"the header stands there {self.again} more times"),
            (self.blocks, f"{self.blocks} blocks, each named by a line above it: their names are the panels"),
        ]
        return [text for is_so, text in said if is_so]


@contextmanager
def as_table(path: Path) -> Iterator[tuple[Path, list[str]]]:
    """The export as one plain CSV, and what was met; the path itself where it is plain already.

    Raises
    ------
    FileError
        Missing, empty, or without a header in its first lines.
    InputError
        For a folder whose files have different columns throughout, or none that is an export.
    """
    if path.is_dir():
        sources = sorted(one for one in path.iterdir() if one.suffix.lower() in _SUFFIXES and one.is_file())
        if not sources:
            raise FileError(
                "no export in this folder", file=str(path), expected=f"files that end in {', '.join(_SUFFIXES)}"
            )
        if len(sources) > MOST_FILES:
            raise FileError("too many files", file=str(path), found=str(len(sources)), expected=f"at most {MOST_FILES}")
        yield from _written(sources, Met(files=len(sources)))
        return
    if not _is_odd(path):
        yield path, []
        return
    yield from _written([path], Met())


def _written(sources: Sequence[Path], met: Met) -> Iterator[tuple[Path, list[str]]]:
    handle, name = tempfile.mkstemp(suffix=".csv", prefix="landwise-")
    table = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            _write(csv.writer(file).writerow, sources, met)
        yield table, met.notes()
    finally:
        table.unlink(missing_ok=True)


def _write(write: Callable[[Sequence[str]], object], sources: Sequence[Path], met: Met) -> None:
    header: list[str] | None = None
    for source in sources:
        found = _Layout.of(source)
        if found is None:
            met.others.append(source.name)
            continue
        own = [PANEL_HEADING, *found.header] if found.panels or (met.files and not found.has_panel) else found.header
        if header is None:
            header = own
            write(header)
        elif own != header:
            met.others.append(f"{source.name} (other columns)")
            continue
        met.encoding = found.encoding
        met.above += 0 if met.files else found.above
        met.units = met.units or found.units
        panel = source.stem
        for row in found.rows(met):
            if isinstance(row, str):
                panel = row
                met.blocks += 1
            else:
                write([panel, *row] if own is not found.header else row)
    if header is None:
        raise InputError(
            "no header of a paste inspection was found",
            file=sources[0].name,
            found=f"none in the first {LOOKED_AT} lines",
            expected=f"a line with a column such as {FIELDS['volume'][0]} and one such as {FIELDS['pad'][0]}",
        )


def _is_odd(path: Path) -> bool:
    """Whether a file wants to be laid out anew: told from its first lines, and from headers that come again."""
    if path.suffix.lower() in PARQUET or not path.is_file():
        return False
    try:
        found = _Layout.of(path)
    except FileError:
        return False  # what reads it next says what is wrong
    if found is None:
        return False
    return found.encoding not in ("utf-8", "utf-8-sig") or bool(found.above or found.units or found.again)


@dataclass
class _Layout:
    """How one file is laid out."""

    path: Path
    encoding: str
    delimiter: str
    header: list[str]
    above: int
    units: bool
    panels: bool  # blocks are named by lines of their own
    again: bool

    @property
    def has_panel(self) -> bool:
        return any(named(heading) == "panel" for heading in self.header)

    @classmethod
    def of(cls, path: Path) -> _Layout | None:
        """None where the first lines hold no header."""
        if path.stat().st_size > LARGEST_ODD:
            return None
        encoding = _encoding(path)
        lines = []
        try:
            with path.open(encoding=encoding, newline="", errors="replace") as file:
                for line, _ in zip(file, range(LOOKED_AT), strict=False):
                    lines.append(line.replace("\0", ""))
        except OSError as error:
            raise FileError(error.strerror or "can't be read", file=str(path)) from None
        for number, line in enumerate(lines):
            delimiter = max(",;\t", key=line.count)
            cells = _cells(line, delimiter)
            if _is_header(cells):
                below = _cells(lines[number + 1], delimiter) if number + 1 < len(lines) else []
                units = _are_units(below, cells)
                whole = [f"{name} [{unit}]" if unit else name for name, unit in zip(cells, below, strict=False)]
                panels = any(_panel_of(_cells(one, delimiter)) for one in lines[:number])
                rest = [_cells(one, delimiter) for one in lines[number + 1 :]]
                blocks = any(_panel_of(one) for one in rest)
                has = any(named(name) == "panel" for name in cells)
                return cls(
                    path=path,
                    encoding=encoding,
                    delimiter=delimiter,
                    header=whole if units else cells,
                    above=number,
                    units=units,
                    panels=not has and (panels or blocks),
                    again=cells in rest or blocks,
                )
        return None

    def rows(self, met: Met) -> Iterator[str | list[str]]:
        """Rows below the header; a text is the name of the block that begins."""
        names = [heading.partition(" [")[0] if self.units else heading for heading in self.header]
        with self.path.open(encoding=self.encoding, newline="", errors="replace") as file:
            reader = csv.reader((line.replace("\0", "") for line in file), delimiter=self.delimiter)
            seen = 0
            for cells in reader:
                row = [cell.strip() for cell in cells]
                if not any(row):
                    continue
                name = _panel_of(row) if self.panels else ""
                if name:
                    yield name
                elif row == names:
                    seen += 1
                    met.again += seen > 1
                elif seen and not (self.units and _are_units(row, names)):
                    yield row


def _encoding(path: Path) -> str:
    """Of a text: by its mark, by zeros where letters would be, by its heading: UTF-8, or else Western Windows."""
    try:
        with path.open("rb") as file:
            head = file.read(65_536)
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return encoding
    zeros = Counter(place % 2 for place, byte in enumerate(head[:4096]) if byte == 0)
    if zeros.total() > len(head[:4096]) // 4:
        return "utf-16-le" if zeros[1] > zeros[0] else "utf-16-be"
    try:
        _heading_bytes(head).decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _heading_bytes(head: bytes) -> bytes:
    """All down to the header, and the units below it: a stray byte further down is damage, not another encoding."""
    lines = head.splitlines(keepends=True)[:LOOKED_AT]
    texts = [line.decode("cp1252", errors="replace") for line in lines]
    for number, text in enumerate(texts):
        delimiter = max(",;\t", key=text.count)
        cells = _cells(text, delimiter)
        if _is_header(cells):
            below = _cells(texts[number + 1], delimiter) if number + 1 < len(texts) else []
            return b"".join(lines[: number + 1 + _are_units(below, cells)])
    return b""


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]


def _is_header(cells: Sequence[str]) -> bool:
    """Whether a line names columns: a volume, and something that tells deposits apart."""
    found = {named(cell) for cell in cells}
    return "volume" in found and bool(found & {"pad", "pin", "part", "x"})


def _are_units(cells: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a line below the header holds units: nothing else, and at least one."""
    told = [cell for cell in cells if cell]
    return len(cells) == len(names) and bool(told) and all(is_unit(cell.strip("()[] ")) for cell in told)


def _panel_of(cells: Sequence[str]) -> str:
    """The panel that a line of its own names, such as `Barcode;A17` or `Panel ID: A17`; empty for any other line."""
    told = [cell for cell in cells if cell]
    if len(told) == 1 and ":" in told[0]:
        told = [part.strip() for part in told[0].split(":", 1)]
    if len(told) != 2 or plain(told[0].rstrip(":")) not in FIELDS["panel"]:
        return ""
    return told[1]
