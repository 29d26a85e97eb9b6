"""Rows of a paste inspection's export, in pieces, whatever holds them: CSV or Parquet.

Arrow reads both several times faster than Python's own CSV reader and is an extra, since it is a large one. Without it
a CSV is read by the standard library: the same pieces, later. What Arrow refuses of a CSV (bytes that are no text, a
quote that never ends) goes the same slower way.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from landwise.errors import FileError
from landwise.extras import TABLES
from landwise.untyped import Untyped

if TYPE_CHECKING:
    from collections.abc import Callable

Array = NDArray[np.float32]
Codes = NDArray[np.int32]
CHUNK = 100_000  # rows held as text at once
BLOCK = 16_000_000  # bytes of a CSV that Arrow holds at once
PARQUET = (".parquet", ".pq")
_NUMBER = r"^[ \t]*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?[ \t]*$"


@dataclass
class Coder:
    """Texts to running numbers."""

    known: dict[str, int] = field(default_factory=dict)

    def codes(self, texts: Sequence[str]) -> Codes:
        known = self.known
        return np.array([known.setdefault(text, len(known)) for text in texts], dtype=np.int32)


@dataclass(frozen=True, eq=False)
class Piece:
    """Some rows.

    Parameters
    ----------
    rows : int
        Read, those of `short` included.
    short : int
        With more or fewer cells than the header.
    codes : mapping of str to array of int
        By key field, (rows - short,); numbers of its `Coder`.
    numbers : array
        In the units of the file, nan for what is none, (number fields, rows - short).
    moments : mapping of int to str
        Date and time of the first row of each panel's code.
    """

    rows: int
    short: int
    codes: Mapping[str, Codes]
    numbers: Array
    moments: Mapping[int, str]


@dataclass(frozen=True)
class Wanted:
    """Which headings are read as what: keys as running numbers, numbers, and a date and a time."""

    keys: Mapping[str, str]
    numbers: Mapping[str, str]
    moments: Sequence[str]
    coders: Mapping[str, Coder]

    @property
    def headings(self) -> list[str]:
        return list(dict.fromkeys([*self.keys.values(), *self.numbers.values(), *self.moments]))


def heading_of(path: str | Path) -> tuple[list[str], str]:
    """The headings of an export and the delimiter of its cells (none for Parquet).

    Raises
    ------
    FileError
    """
    path = Path(path)
    if path.suffix.lower() in PARQUET:
        return [name.strip() for name in _parquet(path).schema_arrow.names], ""
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a CSV or Parquet file")
        with path.open(encoding="utf-8-sig", newline="") as file:
            line = file.readline(100_000)
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except UnicodeDecodeError:
        raise FileError("not UTF-8 text", file=str(path), expected="a CSV, or a name that ends in .parquet") from None
    if not line.strip():
        raise FileError("the file is empty", file=str(path))
    delimiter = max(",;\t", key=line.count)
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter))], delimiter


def pieces(path: Path, delimiter: str, header: Sequence[str], wanted: Wanted) -> Iterator[Piece]:
    """All rows of an export, piece by piece.

    Raises
    ------
    FileError
        For what is no CSV or Parquet.
    ExtraError
        For Parquet, where the extra [tables] is not installed.
    """
    if path.suffix.lower() in PARQUET:
        names = [name.strip() for name in header]
        for batch in _parquet(path).iter_batches(batch_size=CHUNK):
            yield _from_arrow(batch.rename_columns(names), wanted, 0)
        return
    try:
        import pyarrow
    except ImportError:
        yield from _by_text(path, delimiter, header, wanted)
        return
    try:
        yield from _by_arrow(path, delimiter, header, wanted)
    except pyarrow.ArrowInvalid:
        # Numbers given so far are kept by the coders, and rows are given again from the first on.
        raise RereadError from None


class RereadError(Exception):
    """Arrow refuses the file part way: all pieces so far are void, `text_pieces` reads it from the start."""


def text_pieces(path: Path, delimiter: str, header: Sequence[str], wanted: Wanted) -> Iterator[Piece]:
    """All rows of a CSV by the standard library, which forgives more.

    Raises
    ------
    FileError
    """
    yield from _by_text(path, delimiter, header, wanted)


def _parquet(path: Path) -> Untyped:  # a pyarrow.parquet.ParquetFile: Arrow brings no types
    TABLES.need(str(path))
    import pyarrow
    import pyarrow.parquet

    try:
        return pyarrow.parquet.ParquetFile(path)
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except pyarrow.ArrowException as error:
        raise FileError("not a Parquet file", file=str(path), found=str(error).splitlines()[0]) from None


def _by_text(path: Path, delimiter: str, header: Sequence[str], wanted: Wanted) -> Iterator[Piece]:
    with path.open(encoding="utf-8-sig", newline="", errors="replace") as file:
        reader = csv.reader((line.replace("\0", "") for line in file), delimiter=delimiter)
        next(reader)
        try:
            while chunk := list(islice(reader, CHUNK)):
                rows = [cells for cells in chunk if cells]
                whole = [cells for cells in rows if len(cells) == len(header)]
                yield _from_text(whole, header, wanted, len(rows))
        except csv.Error as error:
            raise FileError("not a CSV", file=str(path), place=f"line {reader.line_num}", found=str(error)) from None


def _from_text(whole: list[list[str]], header: Sequence[str], wanted: Wanted, rows: int) -> Piece:
    at = {name: list(map(itemgetter(header.index(name)), whole)) for name in wanted.headings}
    codes = {key: wanted.coders[key].codes(at[name]) for key, name in wanted.keys.items()}
    table = [_floats(at[name]) for name in wanted.numbers.values()]
    return Piece(
        rows=rows,
        short=rows - len(whole),
        codes=codes,
        numbers=np.array(table, dtype=np.float32).reshape(len(table), len(whole)),
        moments=_moments(codes["panel"], wanted, lambda name, row: at[name][row]),
    )


def _by_arrow(path: Path, delimiter: str, header: Sequence[str], wanted: Wanted) -> Iterator[Piece]:
    import pyarrow
    from pyarrow import csv as arrow

    short = 0

    def leave(row: Untyped) -> str:
        nonlocal short
        short += bool(row.text)
        return "skip"

    text = pyarrow.string()
    coded = pyarrow.dictionary(pyarrow.int32(), text)
    # What is a number can't be told before every cell was seen: the cells stay text, and are read below.
    kinds = dict.fromkeys(wanted.headings, text) | dict.fromkeys(set(wanted.keys.values()) - _shared(wanted), coded)
    with arrow.open_csv(
        path,
        read_options=arrow.ReadOptions(block_size=BLOCK, column_names=list(header), skip_rows=1),
        parse_options=arrow.ParseOptions(delimiter=delimiter, invalid_row_handler=leave),
        convert_options=arrow.ConvertOptions(
            include_columns=wanted.headings,
            column_types=kinds,
            strings_can_be_null=False,
            quoted_strings_can_be_null=False,
        ),
    ) as reader:
        for batch in reader:
            left, short = short, 0
            yield _from_arrow(batch, wanted, left)
    if short:  # at the end, or in a file without one whole row
        yield _from_text([], header, wanted, short)


def _shared(wanted: Wanted) -> set[str]:
    """Headings that are read both as a key and as a number."""
    return set(wanted.keys.values()) & {*wanted.numbers.values(), *wanted.moments}


def _from_arrow(batch: Untyped, wanted: Wanted, short: int) -> Piece:
    import pyarrow
    from pyarrow import compute

    codes: dict[str, Codes] = {}
    for key, name in wanted.keys.items():
        column = batch.column(name)
        if not pyarrow.types.is_dictionary(column.type):
            column = compute.dictionary_encode(compute.fill_null(column.cast(pyarrow.string()), ""))
        texts = [text if text is not None else "" for text in column.dictionary.to_pylist()]
        indices = column.indices.to_numpy(zero_copy_only=False)
        known = wanted.coders[key].codes(texts)
        codes[key] = known[indices] if len(known) else np.zeros(len(indices), dtype=np.int32)
    table = [_numbers(batch.column(name)) for name in wanted.numbers.values()]
    return Piece(
        rows=batch.num_rows + short,
        short=short,
        codes=codes,
        numbers=np.array(table, dtype=np.float32).reshape(len(table), batch.num_rows),
        moments=_moments(codes["panel"], wanted, lambda name, row: str(batch.column(name)[row].as_py() or "")),
    )


def _numbers(column: Untyped) -> NDArray[np.float64]:
    """A column of Arrow's as numbers; nan for what is none."""
    import pyarrow
    from pyarrow import compute

    number = pyarrow.float64()
    if not pyarrow.types.is_string(column.type):
        found: NDArray[np.float64] = column.cast(number).to_numpy(zero_copy_only=False)
        return found
    try:
        return np.asarray(column.cast(number).to_numpy(zero_copy_only=False))
    except pyarrow.ArrowInvalid:
        pass
    fine = compute.match_substring_regex(column, _NUMBER)
    trimmed = compute.ascii_trim_whitespace(compute.if_else(fine, column, None))
    found = np.array(trimmed.cast(number).to_numpy(zero_copy_only=False), dtype=float)
    odd = np.flatnonzero(~np.asarray(compute.fill_null(fine, False).to_numpy(zero_copy_only=False), dtype=bool))
    found[odd] = [number_of(text or "") for text in column.take(pyarrow.array(odd)).to_pylist()]
    return found


def _moments(panel: Codes, wanted: Wanted, cell: Callable[[str, int], str]) -> dict[int, str]:
    if not wanted.moments:
        return {}
    return {
        int(code): " ".join(cell(name, int(row)).strip() for name in wanted.moments)
        for code, row in zip(*np.unique(panel, return_index=True), strict=True)
    }


def _floats(texts: Sequence[str]) -> NDArray[np.float64]:
    """Numbers; nan for what is none."""
    try:
        return np.array(texts, dtype=float)
    except ValueError:
        return np.array([number_of(text) for text in texts])


def number_of(text: str) -> float:
    """A cell's number, with a point or a decimal comma; nan for what is none."""
    try:
        return float(text)
    except ValueError:
        try:
            return float(text.replace(",", ".", 1))  # a comma is a decimal one: a row has its own delimiter
        except ValueError:
            return float("nan")
