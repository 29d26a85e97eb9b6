"""Published thermal resistances: ranges per package, and an order of packages only inside one sheet of one kind."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import InputError, ValidityError

WARNING = (
    "a table's θJA belongs to its die, its test board and its still air: one package's values differ by two times "
    "between sheets, so it compares packages inside one sheet and predicts no temperature on your board"
)


@dataclass(frozen=True)
class Resistance:
    """One row of a sheet: junction to ambient, to board, and psi to board. [K/W]"""

    ja: float
    jb: float | None = None
    psi_jb: float | None = None

    @property
    def to_board(self) -> float | None:
        """Best figure of the junction over the board at the leads: psi where printed, else θJB. [K/W]"""
        return self.psi_jb if self.psi_jb is not None else self.jb


@dataclass(frozen=True)
class Sheet:
    """One data sheet's table. `kind` is recent, older or mixed; `terminals` 0 where it covers many counts."""

    key: str
    device: str
    source: str
    terminals: int
    kind: str
    rows: Mapping[str, Resistance]


@cache
def sheets() -> Mapping[str, Sheet]:
    """Every sheet by key.

    >>> sheets()["gate-1g08"].rows["SOT-23-5"].ja
    207.6
    """
    text = resources.files("landwise.service").joinpath("resistances.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {
            key: Sheet(
                key,
                table["device"],
                table["source"],
                table["terminals"],
                table["kind"],
                MappingProxyType({name: Resistance(**row) for name, row in table["rows"].items()}),
            )
            for key, table in tomllib.loads(text).items()
        }
    )


@dataclass(frozen=True)
class Spread:
    """What all sheets say of one package. [K/W]"""

    outline: str
    low: float
    high: float
    found: tuple[tuple[str, float], ...]

    @property
    def factor(self) -> float:
        """Highest over lowest."""
        return self.high / self.low


def spread_of(outline: str) -> Spread | None:
    """Range of θJA over all sheets that print the package; None where none does.

    >>> spread = spread_of("TSSOP-14")
    >>> (spread.low, spread.high, round(spread.factor, 2))
    (113.0, 195.0, 1.73)
    """
    found = tuple((sheet.key, sheet.rows[outline].ja) for sheet in sheets().values() if outline in sheet.rows)
    if not found:
        return None
    return Spread(outline, min(v for _, v in found), max(v for _, v in found), found)


def best_sheet(outlines: Iterable[str], terminals: int) -> Sheet | None:
    """The sheet that covers most of these packages, of one kind and of that terminal count before others.

    >>> best_sheet(["SOT-23-5", "SC-70-5", "WLP-5-0.5"], 5).key
    'gate-1g08'
    >>> best_sheet(["BGA-96-0.8"], 96) is None
    True
    """
    names = set(outlines)

    def rank(sheet: Sheet) -> tuple[int, bool, bool, bool]:
        to_board = any(row.to_board is not None for name, row in sheet.rows.items() if name in names)
        return len(names & set(sheet.rows)), sheet.kind == "recent", sheet.terminals == terminals, to_board

    able = [sheet for sheet in sheets().values() if names & set(sheet.rows) and sheet.terminals in (0, terminals)]
    able = able or [sheet for sheet in sheets().values() if names & set(sheet.rows)]
    return max(able, key=rank, default=None)


def order_of(outlines: Iterable[str], sheet: Sheet) -> tuple[str, ...]:
    """Packages from coolest to hottest by one sheet.

    Raises
    ------
    InputError
        For a package that the sheet doesn't print: its rank among the others isn't known.
    ValidityError
        For a sheet that mixes older and recent values.

    >>> order_of(["SC-70-5", "SOT-23-5", "WLP-5-0.5"], sheets()["gate-1g08"])
    ('WLP-5-0.5', 'SOT-23-5', 'SC-70-5')
    """
    names = list(outlines)
    for name in names:
        if name not in sheet.rows:
            raise InputError(
                "that sheet does not print this package", place=sheet.key, found=name, expected=", ".join(sheet.rows)
            )
    if sheet.kind == "mixed":
        raise ValidityError(
            "a sheet that mixes older and recent values gives no order", found=sheet.key, expected="a sheet of one kind"
        )
    return tuple(sorted(names, key=lambda name: sheet.rows[name].ja))
