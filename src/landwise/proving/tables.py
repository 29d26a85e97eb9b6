"""Published cases as they stand in the files of `proving/cases/`: inputs, the printed value, its source and its mark.

A file holds tables; a table holds rows that one formula of the book or one measure answers:

- `key`, `title`, `says`: a name, what is held against what, and where in the source it stands;
- `formula` with `output`, or `measure` with `unit`: what answers a row;
- `source`: a key of `evidence/sources/`; `mark` only where the rows were read less well than their source;
- `kind` (outside where it is not given): `outside` where the expected value was read in the source or comes from a
  general-purpose library, `identity` where mathematics gives it, `own arithmetic` where we worked it from constants of
  a source, `recalled` where the value is from memory. Only the first kind counts;
- `held`: the row is one of a table that landwise carries, so that the check shows a true copy and no computation;
- `fixed`: inputs of all rows; `columns`: inputs of each row with their units, in the order of its cells;
- `rows`: the cells, then what is expected: a number (within `within`, from the printed digits, or `within_share`),
  two limits, or a word. With `own_source` each row's last cell is the key of its own source;
  with `own_within` the cell after the expected one is its own tolerance.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import InputError
from landwise.evidence import source
from landwise.evidence.sources import MARKS
from landwise.untyped import Table

KINDS = ("outside", "identity", "own arithmetic", "recalled")
# What a check shows: a computed number, a row of a table that landwise carries, a dimension of the catalogue.
SORTS = ("worked", "table row", "catalogue row")
# Marks of sources that no check against the outside may rest on; what a library computes is told by its kind.
NOT_OUTSIDE = ("from memory", "common practice, no source", "computed")


@dataclass(frozen=True)
class Case:
    """One published case.

    Parameters
    ----------
    table, title, says : str
        Key and title of its table, and where in the source it stands.
    answers : str
        `formula KEY.OUTPUT` or `measure KEY`.
    inputs : mapping of str to str, float or int
        By name; texts with their unit for a formula, plain values in the measure's own units otherwise.
    expected : float, str or None
        The printed number or word; None where only limits are printed.
    low, high : float
        What the computed number must lie between, both included.
    unit, source, mark, kind, sort : str
    known : str
        Why it is known not to hold, where it doesn't; shown and counted as a deviation all the same.

    Raises
    ------
    InputError
        For a kind or mark that there is not, and for a check against the outside that rests on nothing read.
    """

    table: str
    title: str
    says: str
    answers: str
    inputs: Table
    expected: float | str | None
    low: float
    high: float
    unit: str
    source: str
    mark: str
    kind: str
    sort: str
    known: str = ""

    def __post_init__(self) -> None:
        for found, known in ((self.kind, KINDS), (self.mark, MARKS), (self.sort, SORTS)):
            if found not in known:
                raise InputError("unknown kind of check", place=self.table, found=found, expected=" | ".join(known))
        if self.kind != "outside":
            return
        if not self.source:
            raise InputError("a check against the outside names no source", place=self.table)
        if self.mark in NOT_OUTSIDE and source(self.source).kind != "library":
            expected = "a text that was read, or a general-purpose library"
            raise InputError("no check against the outside", place=self.table, found=self.mark, expected=expected)

    @property
    def formula(self) -> str:
        """The book's entry that answers it, or an empty text."""
        kind, _, key = self.answers.partition(" ")
        return key.partition(".")[0] if kind == "formula" else ""


def limits(
    table: Table, expected: str | list[float] | float, own: float | None
) -> tuple[float | str | None, float, float]:
    """What is expected, and the limits the computed value must keep.

    >>> limits({"within": 0.5}, 12.0, None), limits({}, [3000, float("inf")], None)
    ((12.0, 11.5, 12.5), (None, 3000.0, inf))
    """
    if isinstance(expected, str):
        return expected, -math.inf, math.inf
    if isinstance(expected, list):
        return None, float(expected[0]), float(expected[1])
    share = table.get("within_share")
    within = own if own is not None else abs(expected) * share if share is not None else table["within"]
    within = max(float(within), 1e-12)
    return float(expected), expected - within, expected + within


def cases_of(table: Table, file: str) -> Iterator[Case]:
    """The cases of one table.

    Raises
    ------
    InputError
        For rows that don't fit the columns, and for what `Case` refuses.
    """
    columns: Mapping[str, str] = table.get("columns", {})
    by_formula = "formula" in table
    answers = f"formula {table['formula']}.{table['output']}" if by_formula else f"measure {table['measure']}"
    extra = bool(table.get("own_within")) + bool(table.get("own_source"))
    for number, row in enumerate(table["rows"], 1):
        if len(row) != len(columns) + 1 + extra:
            place = f"{file}, table {table['key']}, row {number}"
            raise InputError("a row does not fit its columns", place=place, found=f"{len(row)} cells")
        cells, rest = row[: len(columns)], list(row[len(columns) :])
        origin = rest.pop() if table.get("own_source") else table.get("source", "")
        own = rest.pop() if table.get("own_within") else None
        inputs: dict[str, object] = dict(table.get("fixed", {}))
        for (name, unit), cell in zip(columns.items(), cells, strict=True):
            inputs[name] = f"{cell} {unit}" if unit and by_formula else cell
        expected, low, high = limits(table, rest[0], own)
        yield Case(
            table=table["key"],
            title=table["title"],
            says=table.get("says", ""),
            answers=answers,
            inputs=MappingProxyType(inputs),
            expected=expected,
            low=low,
            high=high,
            unit=table.get("unit", ""),
            source=origin,
            mark=table.get("mark") or source(origin).mark,
            kind=table.get("kind", "outside"),
            sort="table row" if table.get("held") else "worked",
        )


@cache
def tables() -> Mapping[str, Table]:
    """Every table by key, with the name of its file under `file`.

    >>> "torsion" in tables()
    True
    """
    found: dict[str, Mapping[str, object]] = {}
    for file in sorted(resources.files("landwise.proving").joinpath("cases").iterdir(), key=lambda f: f.name):
        if not file.name.endswith(".toml"):
            continue
        for table in tomllib.loads(file.read_text(encoding="utf-8"))["table"]:
            if table["key"] in found:
                raise InputError("two tables have one key", file=file.name, place=table["key"])
            found[table["key"]] = {**table, "file": file.name}
    return MappingProxyType(found)
