"""The logic functions that landwise knows, by number: words, terminals with supply, and units in a package."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

SOURCE = "logic-functions-memory"


@dataclass(frozen=True)
class Function:
    """One standard function: its number, words, terminals with supply, and units in a package.

    `connected` counts the terminals that carry a signal or supply where its usual packages leave some open; 0: all do.
    """

    number: str
    words: str
    terminals: int
    units: int
    connected: int = 0


@dataclass(frozen=True)
class LogicReading:
    """What a text says about a logic part.

    Parameters
    ----------
    number : str
        Function number such as `245` or `1G08`; empty where only words were found.
    family : str
        Family letters such as `HCT`; `TTL` for the first family; a maker's own lead-in such as `NC7SZ` for little
        logic that it names a family of its own; empty where the text leaves it open.
    function : Function or None
        None where the number is well-formed but not in the table.
    suffix : str
        What follows the number: revision, package and reel letters.
    text : str
        The part of the text that was understood.
    little : bool
        A one- to three-gate part.
    by : str
        `number`, `short number`, `loose number`, `bare number` or `words`: what the reading rests on.
    maker : str
        Letters before the series number, such as `SN` or `MC`: whose package letters follow.
    tail : str
        What follows the letters of the suffix up to the next blank: reel and finish marks such as `,115` or `-7`.
    """

    number: str
    family: str
    function: Function | None
    suffix: str
    text: str
    little: bool
    by: str
    maker: str = ""
    tail: str = ""


@cache
def functions() -> Mapping[str, Function]:
    """Every known function by number, 74-series, 4000-series and little logic.

    A number that means two functions stands under the family's letters too: `LVC/3245` has 24 terminals, `3245` 20.

    >>> functions()["595"].terminals, functions()["1G08"].words
    (16, 'single 2-input AND gate')
    """
    found: dict[str, Function] = {}
    for name in ("functions.csv", "little_functions.csv"):
        for row in _rows(name):
            found[row["number"]] = Function(
                row["number"].rpartition("/")[2],
                row["words"],
                int(row["terminals"]),
                int(row["units"]),
                int(row.get("connected") or 0),
            )
    return MappingProxyType(found)


@cache
def other_logic() -> Mapping[str, Function]:
    """Logic with names of its own, by the letters and digits a part number begins with, longest first.

    >>> other_logic()["TXS0104"].terminals
    14
    """
    rows = sorted(_rows("other_logic.csv"), key=lambda row: -len(row["start"]))
    return MappingProxyType(
        {row["start"]: Function(row["start"], row["words"], int(row["terminals"] or 0), 1) for row in rows}
    )


def known(number: str, family: str = "") -> Function | None:
    """The function of a number; `U` (unbuffered) and `T` (of TTL inputs) do not change its terminals.

    >>> known("3245", "CBT").terminals, known("3245", "LVC").terminals, known("1GT08").words
    (20, 24, 'single 2-input AND gate')
    """
    table = functions()
    return (
        table.get(f"{family}/{number}")
        or table.get(number)
        or table.get(number.removeprefix("U"))
        or table.get(re.sub(r"(\dG)[TU]", r"\1", number))
    )


LEAST_UNKNOWN = 4  # of a function of five terminals that no number names: an inverter or buffer leaves one open


def least_terminals(number: str, family: str, terminals: int) -> int:
    """The fewest terminals that a function of `terminals` can do with: those that carry a signal or supply.

    Where the study states another count than the table's, the study knows better.

    >>> least_terminals("1G04", "LVC", 5), least_terminals("1G08", "LVC", 5), least_terminals("2G17", "LVC", 6)
    (4, 5, 6)
    >>> least_terminals("", "", 5)
    4
    """
    function = known(number, family) if number else None
    if function is not None and function.terminals == terminals:
        return function.connected or terminals
    return LEAST_UNKNOWN if function is None and terminals == LEAST_UNKNOWN + 1 else terminals


def is_little(number: str) -> bool:
    """Whether a function number is that of one- to three-gate logic: `1G08`, `2T45`, never `32T245`.

    >>> is_little("1G08"), is_little("3GU04"), is_little("2T45"), is_little("32T245"), is_little("245")
    (True, True, True, False, False)
    """
    return bool(re.match(r"[1-3]G[A-Z]?\d|[12]T\d", number.strip().upper()))


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("landwise.fabdata").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
