"""The table of a sweep, as CSV and Parquet: streamed from the journal, in the plan's order."""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from landwise.errors import FileError
from landwise.fabdata.tabletext import safe_cell
from landwise.sweeping.cases import NUMBERS, STUDY_COLUMNS
from landwise.sweeping.journal import Journal
from landwise.sweeping.plan import Plan
from landwise.sweeping.reviewed import REVIEW_COLUMNS, REVIEW_NUMBERS

CSV, PARQUET = "table.csv", "table.parquet"
ROWS_AT_ONCE = 20_000


def columns_of(plan: Plan) -> tuple[str, ...]:
    """Headings: case, study, the inputs varied, what came out, then every part's package and how sure it is."""
    head = ("case", plan.kind, *(axis.column for axis in plan.axes))
    if plan.kind == "review":
        return (*head, *REVIEW_COLUMNS)
    return (*head, *STUDY_COLUMNS, *(name for ref in parts_of(plan) for name in (ref, f"{ref} answer", f"{ref} equal")))


def parts_of(plan: Plan, source: int | None = None) -> tuple[str, ...]:
    """First references of the parts of one study or all, each once."""
    sources = plan.sources if source is None else plan.sources[source : source + 1]
    return tuple(dict.fromkeys(str(part["refs"][0]) for one in sources for part in one.data.get("part", ())))


def number_columns(plan: Plan) -> frozenset[str]:
    """Headings of columns that hold numbers only."""
    return frozenset({axis.column for axis in plan.axes if axis.numeric} | NUMBERS | REVIEW_NUMBERS)


# cells of columns of different types
def rows_of(plan: Plan, journal: Journal, numbers: Sequence[int] | range | None = None) -> Iterator[list[Any]]:
    """The finished cases as rows under `columns_of`."""
    columns = columns_of(plan)
    start = 2 + len(plan.axes)
    for number in range(len(plan)) if numbers is None else numbers:
        case = plan.case(number)
        row = journal.row(plan.key(case))
        if row is None:
            continue
        varied = [
            value.number if axis.numeric else value.says for axis, value in zip(plan.axes, case.values, strict=True)
        ]
        yield [number + 1, plan.sources[case.source].name, *varied, *(row.get(name) for name in columns[start:])]


def write_tables(plan: Plan, journal: Journal, folder: Path) -> tuple[Path, ...]:
    """Write the tables whole or not at all; Parquet only where the extra `tables` is installed.

    Raises
    ------
    FileError
    """
    columns = columns_of(plan)

    def as_csv(path: Path) -> None:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([safe_cell(name) for name in columns])
            writer.writerows([safe_cell(cell) for cell in row] for row in rows_of(plan, journal))

    written = [_whole(folder / CSV, as_csv)]
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        return tuple(written)
    numbers = number_columns(plan)
    types = [
        (name, pyarrow.int64() if name == "case" else pyarrow.float64() if name in numbers else pyarrow.string())
        for name in columns
    ]
    schema = pyarrow.schema(types)

    def as_parquet(path: Path) -> None:
        with parquet.ParquetWriter(path, schema) as out:
            for block in _blocks(rows_of(plan, journal)):
                arrays = [
                    pyarrow.array(
                        [str(cell) if kind == pyarrow.string() and cell is not None else cell for cell in column], kind
                    )
                    for (_, kind), column in zip(types, zip(*block, strict=True), strict=True)
                ]
                out.write_table(pyarrow.Table.from_arrays(arrays, schema=schema))

    written.append(_whole(folder / PARQUET, as_parquet))
    return tuple(written)


# cells of columns of different types
def _blocks(rows: Iterator[list[object]]) -> Iterator[list[list[Any]]]:
    block: list[list[object]] = []
    for row in rows:
        block.append(row)
        if len(block) == ROWS_AT_ONCE:
            yield block
            block = []
    if block:
        yield block


def _whole(target: Path, write: Callable[[Path], None]) -> Path:
    """A file too large for memory, written under another name and moved."""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        os.close(handle)
        try:
            write(Path(name))
            os.chmod(name, 0o644)
            os.replace(name, target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise FileError("can't write the table", file=str(target), found=error.strerror or str(error)) from None
    return target
