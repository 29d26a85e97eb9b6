"""Reading tables as people export them: any delimiter, any usual encoding, spreadsheets, preambles and repeats."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from landwise.errors import FileError, InputError

LARGEST_BYTES = 20_000_000  # a bill of 10,000 lines is below 3 MB
MOST_ROWS = 200_000
HEADER_SEARCH_ROWS = 60
DELIMITERS = (",", ";", "\t", "|")
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


@dataclass(frozen=True)
class Row:
    """One line of a table: its number in the file, and its cells by field name."""

    number: int
    cells: Mapping[str, str]
    section: int


@dataclass(frozen=True)
class HeadedTable:
    """A table whose columns were recognised.

    `columns` maps each known field to the header's own spelling; `extra` lists headers that mean nothing
    here; `rows` carry known fields only, with the extra cells under `+ header`.
    """

    file: str
    columns: Mapping[str, str]
    extra: tuple[str, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...]


def plain(header: str) -> str:
    """A header's spelling without case, blanks and signs: `Reference(s)` → `references`.

    >>> plain(" Mfr. Part # ")
    'mfrpart#'
    """
    return re.sub(r"[^a-z0-9#äöüéèß]", "", header.lower())


Grid = list[tuple[int, list[str]]]


def read_headed(
    path: str | Path,
    fields: Mapping[str, Sequence[str]],
    *,
    key: str,
    what: str,
    guess: Callable[[Grid], list[str] | None] | None = None,
) -> HeadedTable:
    """Read a table and recognise its columns.

    Parameters
    ----------
    path : str or Path
        CSV in any delimiter, text in columns, XLSX, XLS or ODS.
    fields : mapping
        Field name to the plain spellings (see `plain`) of its header, most usual first.
    key : str
        The field without which the table means nothing.
    what : str
        What the file should be, for messages.
    guess : callable, optional
        Given the rows of a table without a header, names its columns, or None.

    Raises
    ------
    FileError
        Missing, a folder, empty, too large, or not text.
    InputError
        If no header row holds the key field.
    """
    path = Path(path)
    spellings = {spelling: field for field, names in fields.items() for spelling in names}
    best: tuple[int, int, list[tuple[int, list[str]]], str] | None = None
    for label, rows in _grids(path):
        for at, (_, cells) in enumerate(rows[:HEADER_SEARCH_ROWS]):
            score = _header_score(cells, spellings, key)
            if score > 0 and (best is None or score > best[0]):
                best = (score, at, rows, label)
    if best is None and guess is not None:
        for label, rows in _grids(path):
            header = guess(rows)
            if header:
                note = "no header: the columns were told by their content"
                return _with_header(
                    path.name, 0, [(0, header), *rows], f"{label}; {note}" if label else note, spellings, key
                )
    if best is None:
        raise InputError(
            f"no header row of {what} was found",
            file=path.name,
            expected=f"a row with a column such as {', '.join(fields[key][:4])}, and others beside it",
        )
    _, at, rows, label = best
    return _with_header(path.name, at, rows, label, spellings, key)


def _header_score(cells: Sequence[str], spellings: Mapping[str, str], key: str) -> int:
    found = {spellings[plain(cell)] for cell in cells if plain(cell) in spellings}
    # A header has the key field, something beside it, and hardly any cell with a number in it.
    numbers = sum(bool(re.fullmatch(r"[\d.,\s]+", cell)) for cell in cells if cell.strip())
    return len(found) - numbers if key in found and len(found) >= 2 else 0


def _with_header(
    file: str, at: int, rows: list[tuple[int, list[str]]], label: str, spellings: Mapping[str, str], key: str
) -> HeadedTable:
    header = [cell.strip() for cell in rows[at][1]]
    columns: dict[str, str] = {}
    names: list[str] = []
    for cell in header:
        field = spellings.get(plain(cell))
        if field and field not in columns:
            columns[field] = cell
            names.append(field)
        else:
            names.append(f"+ {cell}" if cell else "")
    found: list[Row] = []
    section = 0
    for number, cells in rows[at + 1 :]:
        if not any(cell.strip() for cell in cells):
            continue
        if _header_score(cells, spellings, key) >= 2 and len(cells) >= 2:
            section += 1
            continue
        named = {name: cell.strip() for name, cell in zip(names, cells, strict=False) if name}
        found.append(Row(number, named, section))
    notes = [label] if label else []
    if at > 0:
        notes.append(f"{at} rows before the header were passed over")
    extra = tuple(name[2:] for name in names if name.startswith("+ "))
    return HeadedTable(file, columns, extra, tuple(found), tuple(notes))


def _grids(path: Path) -> list[tuple[str, list[tuple[int, list[str]]]]]:
    """Every way to read the file as rows of cells, each with a note on how."""
    raw = read_bytes(path)
    if raw.startswith(_SPREADSHEETS):
        return _sheets(path, raw)
    text = decode(raw, path.name)
    found = []
    for delimiter in DELIMITERS:
        rows = _split(text, delimiter)
        if rows and max(len(cells) for _, cells in rows) > 1:
            found.append(("", rows))
    columns = [(n, re.split(r"\t|\s{2,}", line.strip())) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    found.append(("read as text in columns", columns[:MOST_ROWS]))
    found.append(("read as text in columns of fixed width", _fixed_width(text)))
    return found


def _fixed_width(text: str) -> list[tuple[int, list[str]]]:
    """Cells between the character columns that are blank in all but a few lines."""
    lines = [(n, line.rstrip()) for n, line in enumerate(text.expandtabs().splitlines()[:MOST_ROWS], 1) if line.strip()]
    width = min(max((len(line) for _, line in lines[:200]), default=0), 2000)
    sample = [line for _, line in lines[:200]]
    few = len(sample) // 50
    blank = [sum(len(line) > at and line[at] != " " for line in sample) <= few for at in range(width)]
    starts = [at for at in range(width) if not blank[at] and (at == 0 or blank[at - 1])]
    ends = [*starts[1:], 10**6]
    return [(n, [line[a:b].strip() for a, b in zip(starts, ends, strict=True)]) for n, line in lines]


def read_bytes(path: Path) -> bytes:
    """The file's bytes, or one clear message."""
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a file")
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise FileError(
                "too large",
                file=str(path),
                found=f"{size / 1e6:.0f} MB",
                expected=f"at most {LARGEST_BYTES / 1e6:.0f} MB",
            )
        raw = path.read_bytes()
    except FileError:
        raise
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    if not raw.strip(b"\x00\r\n\t \xef\xbb\xbf\xff\xfe"):
        raise FileError("the file is empty", file=str(path))
    return raw


def decode(raw: bytes, file: str) -> str:
    """Text of a file in one of the usual encodings: UTF-8, UTF-16 with or without mark, or Western 8-bit.

    Raises
    ------
    FileError
        If it is not text.
    """
    head = raw[:4096]
    try:
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            return raw.decode("utf-16")
        if head.count(0) > len(head) / 4:
            odd = head[1::2].count(0) >= head[0::2].count(0)
            return raw.decode("utf-16-le" if odd else "utf-16-be")
    except UnicodeDecodeError as error:
        raise FileError(
            "not readable as UTF-16 text", file=file, place=f"byte {error.start}", expected="a text file"
        ) from None
    # A stray control byte or two comes with exports; a file full of them is no text.
    if sum(byte < 9 or 13 < byte < 32 for byte in head) > max(2, len(head) // 100):
        raise FileError("not a text file", file=file, found="control bytes", expected="CSV, text or a spreadsheet")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def _split(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True)
    rows = []
    try:
        for cells in reader:
            rows.append((reader.line_num, cells))
            if len(rows) >= MOST_ROWS:
                break
    except csv.Error:
        # An odd quote: read the lines as they are rather than lose the file.
        return [(n, line.split(delimiter)) for n, line in enumerate(text.splitlines()[:MOST_ROWS], 1)]
    return rows


def _sheets(path: Path, raw: bytes) -> list[tuple[str, list[tuple[int, list[str]]]]]:
    from python_calamine import CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        sheets = [(name, book.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in book.sheet_names]
    except Exception as error:  # the reader has its own family of errors, all meaning the same to a user
        raise FileError(
            "not a readable spreadsheet", file=path.name, found=str(error)[:80], expected="XLSX, XLS or ODS"
        ) from None
    found = []
    for name, grid in sheets:
        rows = [(n, [_cell(value) for value in row]) for n, row in enumerate(grid[:MOST_ROWS], 1)]
        if rows:
            found.append((f"read from sheet {name!r}", rows))
    return found


def _cell(value: object) -> str:
    """A spreadsheet cell as text: whole numbers without a point."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)
