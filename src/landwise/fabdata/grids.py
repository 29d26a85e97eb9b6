"""Opening table files: any delimiter, any usual encoding, text in columns, spreadsheets."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from landwise import extras
from landwise.errors import FileError
from landwise.fabdata.eightbit import decoded_8bit

LARGEST_BYTES = 20_000_000  # a bill of 10,000 lines is below 3 MB
MOST_ROWS = 200_000
HEADER_SEARCH_ROWS = 60
SAMPLE_ROWS = 400  # the way to read a file is chosen on its head
EVEN_SHARE = 0.9
MOST_COLUMNS = 500
MOST_CELLS = 20_000_000  # of a sheet, empty ones counted: a stray cell far out must not fill the memory
MOST_UNPACKED_BYTES = 300_000_000
MOST_LINES_IN_A_CELL = 30
DELIMITERS = (",", ";", "\t", "|")
SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


def plain(header: str) -> str:
    """A header's spelling without case, accents, blanks and signs: `Reference(s)` → `references`.

    >>> plain(" Mfr. Part # "), plain("Gehäuse")
    ('mfrpart#', 'gehause')
    """
    bare = unicodedata.normalize("NFKD", header[:200].lower().replace("ß", "ss"))
    return re.sub(r"[^a-z0-9#]", "", bare)


def heading_word(header: str) -> str:
    """A header's plain spelling, or, where it has no Latin letters, itself without blanks and signs.

    >>> heading_word("Mfr. Part #"), heading_word("厂商 型号："), heading_word("Поз. обозначение")
    ('mfrpart#', '厂商型号', 'позобозначение')
    """
    return plain(header) or re.sub(r"[\W_]", "", unicodedata.normalize("NFKC", header[:200]).lower())


Grid = list[tuple[int, list[str]]]

# `# Ref   Val   Package`: some programs write the header as a comment. A `#` alone is a column of numbers.
_HEADER_AS_COMMENT = re.compile(r"(?m)^#(?=[ \t]*([A-Za-z]+))")


@dataclass(frozen=True)
class Reading:
    """One way to read a file as rows of cells: how, and the rows of its first lines or of the whole."""

    how: str
    rows: Callable[[int | None], Grid]


@dataclass(frozen=True)
class Table:
    """A file with every way in which it can be read as a table, the likeliest kinds first."""

    file: str
    readings: tuple[Reading, ...]
    notes: tuple[str, ...]


def read_table(path: str | Path, spellings: Collection[str] = ()) -> Table:
    """Open a file as a table: spreadsheets by sheet, text by every usual delimiter and in columns.

    Parameters
    ----------
    path : str or Path
    spellings : collection of str
        Plain header spellings, which tell words of one column from words of two where only blanks part them.

    Raises
    ------
    FileError
        Missing, a folder, empty, too large, or not text.
    ExtraError
        A spreadsheet, where the extra that reads it is not installed.
    """
    path = Path(path)
    raw = read_bytes(path)
    if raw.startswith(SPREADSHEETS):
        return Table(path.name, tuple(_sheets(path, raw)), ())
    text, encoding = _decoded(raw, path.name)
    lines = text.count("\n") + text.count("\r")
    if lines > 2 * MOST_ROWS:
        raise _too_many(path.name, f"about {lines} lines")
    notes = () if encoding == "UTF-8" else (f"read as {encoding} text",)
    return Table(path.name, tuple(_text_readings(text, path.name, frozenset(spellings))), notes)


def _too_many(file: str, found: str) -> FileError:
    return FileError("too many rows", file=file, found=found, expected=f"at most {MOST_ROWS}")


def _text_readings(text: str, file: str, spellings: frozenset[str]) -> Iterator[Reading]:
    text = _HEADER_AS_COMMENT.sub(lambda found: " " if plain(found[1]) in spellings else "#", text)
    head = "\n".join(text.splitlines()[:SAMPLE_ROWS])

    def reading(how: str, split: Callable[[str], Grid]) -> Reading:
        def rows(most: int | None) -> Grid:
            found = split(head if most else text)
            if len(found) > MOST_ROWS:
                raise _too_many(file, f"{len(found)} rows")
            return _narrow(file, found)[:most]

        return Reading(how, rows)

    for delimiter in DELIMITERS:
        if delimiter in head:
            yield reading("", partial(_split, delimiter=delimiter))
    columns = reading("read as text in columns", _columns)
    even = _evenness(columns.rows(SAMPLE_ROWS)) >= EVEN_SHARE
    fixed = reading("read as text in columns of fixed width", _fixed_width)
    yield from (columns, fixed) if even else (fixed, columns)
    if any(plain(line.split()[0]) in spellings for line in head.splitlines() if line.strip()):
        yield reading("read as words, the last column taking the rest", partial(_words, spellings=spellings))


def _narrow(file: str, rows: Grid) -> Grid:
    """Rows without empty cells past the most columns a table may have; filled ones there are refused."""
    found = [(n, _filled(cells)) if len(cells) > MOST_COLUMNS else (n, cells) for n, cells in rows]
    widest = max((len(cells) for _, cells in found), default=0)
    if widest > MOST_COLUMNS:
        raise FileError(
            "too many columns", file=file, found=f"{widest} cells in a row", expected=f"at most {MOST_COLUMNS}"
        )
    return found


def _filled(cells: list[str]) -> list[str]:
    """Cells without the empty ones at the end."""
    last = max((at for at, cell in enumerate(cells) if cell.strip()), default=-1)
    return cells[: last + 1]


def _evenness(rows: Grid) -> float:
    """The share of rows that have as many cells as most."""
    counts = Counter(len(cells) for _, cells in rows)
    return counts.most_common(1)[0][1] / len(rows) if rows else 0.0


def _columns(text: str) -> Grid:
    """Cells between tabs or two and more blanks."""
    return [(n, re.split(r"\t|\s{2,}", line.strip())) for n, line in enumerate(text.splitlines(), 1) if line.strip()]


def _fixed_width(text: str) -> Grid:
    """Cells between the character columns that are blank in all but a few lines."""
    lines = [(n, line.rstrip()) for n, line in enumerate(text.expandtabs().splitlines(), 1) if line.strip()]
    sample = [line for _, line in lines[:200]]
    width = min(max(map(len, sample), default=0), 2000)
    few = len(sample) // 50
    blank = [sum(len(line) > at and line[at] != " " for line in sample) <= few for at in range(width)]
    starts = [at for at in range(width) if not blank[at] and (at == 0 or blank[at - 1])]
    if not starts:
        return []
    return [(n, _cut(line, starts)) for n, line in lines]


def _cut(line: str, starts: Sequence[int]) -> list[str]:
    """A line cut at the given places; a word across a place goes whole to the side that holds more of it."""
    at = [0]
    for start in starts[1:]:
        cut = start
        if 0 < start < len(line) and line[start] != " " and line[start - 1] != " ":
            begin = line.rfind(" ", 0, start) + 1
            end = line.find(" ", start)
            end = len(line) if end < 0 else end
            cut = end if start - begin > end - start else begin
        at.append(max(cut, at[-1]))
    return [line[a:b].strip() for a, b in zip(at, [*at[1:], len(line)], strict=True)]


def _words(text: str, spellings: frozenset[str]) -> Grid:
    """Words parted by blanks under a header line, the last column taking the rest of each line."""
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    headers = [at for at, (_, line) in enumerate(lines[:HEADER_SEARCH_ROWS]) if plain(line.split()[0]) in spellings]
    if not headers:
        return []
    header = _header_words(lines[headers[0]][1].split(), spellings)
    body = [(n, line.split(maxsplit=len(header) - 1)) for n, line in lines[headers[0] + 1 :]]
    # With cells left empty words can't be told from columns.
    enough = sum(len(cells) >= len(header) - 1 for _, cells in body)
    if enough < EVEN_SHARE * len(body):
        return []
    return [(lines[headers[0]][0], header), *((n, [cell.strip() for cell in cells]) for n, cells in body)]


def _header_words(words: Sequence[str], spellings: frozenset[str]) -> list[str]:
    """A header's words joined where two or three make one known heading: `Mid X`, `Part Number`."""
    found: list[str] = []
    at = 0
    while at < len(words):
        take = next((n for n in (3, 2) if plain("".join(words[at : at + n])) in spellings and at + n <= len(words)), 1)
        if take == 1 and at + 1 < len(words) and words[at + 1] in ("X", "Y"):
            take = 2
        found.append(" ".join(words[at : at + take]))
        at += take
    return found


def read_bytes(path: Path) -> bytes:
    """The file's bytes, or one clear message."""
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a file")
        size = path.stat().st_size
        if not path.is_file():
            raise FileError("not a file that can be read from start to end", file=str(path), expected="a file")
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
    """Text of a file in one of the usual encodings: UTF-8, UTF-16 with or without mark, or an old one (`eightbit`).

    Raises
    ------
    FileError
        If it is not text.
    """
    return _decoded(raw, file)[0]


def _decoded(raw: bytes, file: str) -> tuple[str, str]:
    """The text, and the encoding that was found."""
    head = raw[:4096]
    try:
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            return raw.decode("utf-16"), "UTF-16"
        if head.count(0) > len(head) / 4:
            odd = head[1::2].count(0) >= head[0::2].count(0)
            return raw.decode("utf-16-le" if odd else "utf-16-be"), "UTF-16"
    except UnicodeDecodeError as error:
        raise FileError(
            "not readable as UTF-16 text", file=file, place=f"byte {error.start}", expected="a text file"
        ) from None
    # A stray control byte or two comes with exports; a file full of them is no text.
    if sum(byte < 9 or 13 < byte < 32 for byte in head) > max(2, len(head) // 100):
        raise FileError("not a text file", file=file, found="control bytes", expected="CSV, text or a spreadsheet")
    try:
        return raw.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return decoded_8bit(raw)


def _split(text: str, delimiter: str) -> Grid:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True)
    rows: Grid = []
    start = 1
    try:
        for cells in reader:
            if any(cell.count("\n") > MOST_LINES_IN_A_CELL for cell in cells):
                raise csv.Error("a quote that is never closed")
            rows.append((start, cells))
            start = reader.line_num + 1
    except csv.Error:
        # An odd quote: read the lines as they are rather than lose those after it.
        return [
            (n, [cell.strip().strip('"') for cell in line.split(delimiter)])
            for n, line in enumerate(text.splitlines(), 1)
        ]
    return rows


def _sheets(path: Path, raw: bytes) -> list[Reading]:
    extras.SPREADSHEETS.need(path.name)
    from python_calamine import CalamineWorkbook

    _check_archive(path.name, raw)
    found = []
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        for name in book.sheet_names:
            sheet = book.get_sheet_by_name(name)
            if sheet.total_height * sheet.total_width > MOST_CELLS:
                raise _too_wide(path.name, name)
            grid = sheet.to_python(skip_empty_area=False)
            if len(grid) > MOST_ROWS:
                raise _too_many(path.name, f"{len(grid)} rows in sheet {name!r}")
            rows = _narrow(path.name, [(n, [_cell(value) for value in row]) for n, row in enumerate(grid, 1)])
            if rows:
                found.append(Reading(f"read from sheet {name!r}", partial(_first_rows, rows)))
    except FileError:
        raise
    # The reader has its own family of errors, and panics on some broken files; all mean the same to a user.
    except BaseException as error:
        if isinstance(error, (KeyboardInterrupt, SystemExit, MemoryError)):
            raise
        raise FileError(
            "not a readable spreadsheet", file=path.name, found=str(error)[:80], expected="XLSX, XLS or ODS"
        ) from None
    if not found:
        raise FileError("the spreadsheet holds no filled sheet", file=path.name)
    return found


def _first_rows(rows: Grid, most: int | None) -> Grid:
    return rows[:most]


def _too_wide(file: str, part: str) -> FileError:
    return FileError(
        "a sheet too large to read",
        file=file,
        place=part,
        found="a filled cell very far from the first",
        expected=f"at most {MOST_CELLS} cells, empty ones counted",
    )


_CELL_PLACE = re.compile(rb'<(?:\w+:)?c [^>]{0,200}?r="([A-Z]{1,3})([0-9]{1,7})"')
_REPEATED_ROW = re.compile(rb'number-rows-repeated="[0-9]{6,}"[^>]*>((?:(?!</table:table-row>).){0,2000})', re.S)


def _check_archive(file: str, raw: bytes) -> None:
    """Refuse an archive that unpacks to more than memory should hold, before anything unpacks it."""
    if not raw.startswith(b"PK"):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            size = sum(entry.file_size for entry in archive.infolist())
            if size > MOST_UNPACKED_BYTES:
                raise FileError(
                    "too large",
                    file=file,
                    found=f"{size / 1e6:.0f} MB unpacked",
                    expected=f"at most {MOST_UNPACKED_BYTES / 1e6:.0f} MB",
                )
            for entry in archive.infolist():
                if entry.filename.startswith("xl/worksheets/") or entry.filename == "content.xml":
                    _check_extent(file, entry.filename, archive.read(entry))
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, ValueError, EOFError, OSError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(
            "not a readable spreadsheet", file=file, found=str(error)[:80], expected="XLSX, XLS or ODS"
        ) from None


def _check_extent(file: str, part: str, content: bytes) -> None:
    """Refuse a sheet whose filled cells span more than `MOST_CELLS`."""
    widest = tallest = 0
    for match in _CELL_PLACE.finditer(content):
        column = 0
        for letter in match[1]:
            column = 26 * column + letter - 64
        widest, tallest = max(widest, column), max(tallest, int(match[2]))
    repeated = any(b"office:value" in match[1] for match in _REPEATED_ROW.finditer(content))
    if widest * tallest > MOST_CELLS or repeated:
        raise _too_wide(file, part)


def _cell(value: object) -> str:
    """A spreadsheet cell as text: whole numbers without a point."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value)
