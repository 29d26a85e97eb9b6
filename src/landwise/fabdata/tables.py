"""Recognising the columns of a table: headers by their spelling, preambles, repeated headers, none at all."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from landwise.errors import InputError
from landwise.fabdata.grids import HEADER_SEARCH_ROWS, SAMPLE_ROWS, Grid, Reading, Table, heading_word, read_table

LONGEST_HEADER = 60
MOST_OF_A_HEADER = 60  # cells looked at to know a header that is repeated
KEY_SHARE = 0.6  # of the cells of a column taken for the key field by its content


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


def read_headed(
    path: str | Path,
    fields: Mapping[str, Sequence[str]],
    *,
    key: str,
    what: str,
    guess: Callable[[Grid], list[str] | None] | None = None,
    is_key: Callable[[str], bool] | None = None,
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
    is_key : callable, optional
        Whether a cell looks like one of the key field: finds the key column where no header, or a
        misleading one, tells it.

    Raises
    ------
    FileError
        Missing, a folder, empty, too large, or not text.
    InputError
        If no header row holds the key field.
    """
    spellings = {spelling: field for field, names in fields.items() for spelling in names}
    table = read_table(path, spellings.keys())
    found = _with_known_header(table, spellings, key, is_key)
    if found is None and guess is not None:
        found = _without_header(table, spellings, key, guess)
    if found is None:
        raise InputError(
            f"no header row of {what} was found",
            file=table.file,
            expected=f"a row with a column such as {', '.join(fields[key][:4])}, and others beside it",
        )
    return replace(found, notes=(*table.notes, *found.notes))


def _with_known_header(
    table: Table, spellings: Mapping[str, str], key: str, is_key: Callable[[str], bool] | None
) -> HeadedTable | None:
    best: tuple[float, int, Reading, int | None] | None = None
    for reading in table.readings:
        rows = reading.rows(SAMPLE_ROWS)
        for at, (_, cells) in enumerate(rows[:HEADER_SEARCH_ROWS]):
            score = _header_score(cells, spellings)
            if score < 1:
                continue
            column, sure = _key_column(cells, rows[at + 1 :], spellings, key, is_key)
            # One known heading alone is a header only over a column that looks like the key.
            if score < 2 and column is None:
                continue
            if column is not None or sure:
                # A header that names the key column beats one in which only the cells below tell it.
                value = score + (0.5 if sure else 0.0)
                if best is None or value > best[0]:
                    best = (value, at, reading, column)
    if best is None:
        return None
    _, at, reading, column = best
    return _with_header(table.file, at, reading.rows(None), reading.how, spellings, (key, column))


def _without_header(
    table: Table, spellings: Mapping[str, str], key: str, guess: Callable[[Grid], list[str] | None]
) -> HeadedTable | None:
    for reading in table.readings:
        header = guess(reading.rows(SAMPLE_ROWS))
        if header:
            note = "no header: the columns were told by their content"
            how = f"{reading.how}; {note}" if reading.how else note
            return _with_header(table.file, 0, [(0, header), *reading.rows(None)], how, spellings, (key, None))
    return None


_REMARK = re.compile(r"""[(\[（][^)\]）"']{0,24}[)\]）]|[\d_]+$""")


def _field(cell: str, spellings: Mapping[str, str]) -> str | None:
    """The field a header cell names: by its spelling, or by it without counts and remarks in brackets."""
    # A header line that begins as a comment, `# Ref`, names its first column all the same.
    bare = cell.lstrip("#;!/ ")
    return spellings.get(heading_word(cell)) or spellings.get(heading_word(_REMARK.sub("", bare)))


def _header_score(cells: Sequence[str], spellings: Mapping[str, str]) -> int:
    found = {field for cell in cells if len(cell) <= LONGEST_HEADER and (field := _field(cell, spellings))}
    # A header has hardly any cell with a number in it.
    numbers = sum(bool(re.fullmatch(r"[\d.,\s]+", cell)) for cell in cells if cell.strip())
    return len(found) - numbers


def _key_column(
    header: Sequence[str], body: Grid, spellings: Mapping[str, str], key: str, is_key: Callable[[str], bool] | None
) -> tuple[int | None, bool]:
    """Which column holds the key field where the header misleads or is silent; and whether the header named it."""
    named = [at for at, cell in enumerate(header) if _field(cell, spellings) == key]
    if is_key is None:
        return None, bool(named)
    shares = [_share_of(body, at, is_key) for at in range(len(header))]
    if not shares:
        return None, False
    best = max(range(len(header)), key=lambda at: shares[at])
    if named and (shares[named[0]] >= 0.3 or shares[best] < KEY_SHARE):
        return None, True
    return (best, False) if shares[best] >= KEY_SHARE else (None, False)


def _share_of(body: Grid, at: int, fits: Callable[[str], bool]) -> float:
    filled = [cells[at] for _, cells in body[:SAMPLE_ROWS] if at < len(cells) and cells[at].strip()]
    return sum(map(fits, filled)) / len(filled) if filled else 0.0


def _names(
    header: Sequence[str], spellings: Mapping[str, str], key: tuple[str, int | None]
) -> tuple[list[str], dict[str, str]]:
    """A field name or `+ header` for each column, and the header's spelling of each field."""
    field_of_key, forced = key
    columns: dict[str, str] = {}
    names: list[str] = []
    for at, cell in enumerate(header):
        field = _field(cell, spellings)
        if forced is not None and field == field_of_key:
            field = None
        if at == forced:
            field = field_of_key
        if field and field not in columns:
            columns[field] = cell
            names.append(field)
        else:
            # Two columns of one heading are both kept.
            extra = f"+ {cell}" if cell else ""
            names.append(f"{extra} ({at + 1})" if extra in names and extra else extra)
    return names, columns


def _with_header(
    file: str, at: int, rows: Grid, how: str, spellings: Mapping[str, str], key: tuple[str, int | None]
) -> HeadedTable:
    names, columns = _names([cell.strip() for cell in rows[at][1]], spellings, key)
    notes = [how] if how else []
    if key[1] is not None:
        notes.append(f"column {key[1] + 1} ({columns[key[0]]!r}) is taken for the {key[0]} by its content")
    if at > 0:
        notes.append(f"{at} rows before the header were passed over")
    found: list[Row] = []
    long: list[int] = []
    section = 0
    for number, cells in rows[at + 1 :]:
        if not any(cell.strip() for cell in cells):
            continue
        if _repeats_header(cells, spellings):
            section += 1
            continue
        if any(cell.strip() for cell in cells[len(names) :]):
            long.append(number)
        found.append(Row(number, _cells(names, cells), section))
    if long:
        shown = ", ".join(map(str, long[:5])) + (f" and {len(long) - 5} more" if len(long) > 5 else "")
        notes.append(f"more cells than columns in row {shown}: a delimiter inside a text? The rest was kept aside")
    extra = tuple(name[2:] for name in names if name.startswith("+ "))
    return HeadedTable(file, columns, extra, tuple(found), tuple(notes))


def _repeats_header(cells: Sequence[str], spellings: Mapping[str, str]) -> bool:
    head = [cell for cell in cells[:MOST_OF_A_HEADER] if cell.strip()]
    return len(head) >= 2 and _header_score(head, spellings) >= max(2, len(head) // 2)


def _cells(names: Sequence[str], cells: Sequence[str]) -> dict[str, str]:
    found = {name: cell.strip() for name, cell in zip(names, cells, strict=False) if name}
    unnamed = [cell.strip() for name, cell in zip(names, cells, strict=False) if not name and cell.strip()]
    rest = [*unnamed, *(cell.strip() for cell in cells[len(names) :] if cell.strip())]
    if rest:
        found["+ (no heading)"] = "; ".join(rest)
    return found
