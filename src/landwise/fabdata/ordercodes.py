"""Makers' package letters at the end of order codes: which outline they name, and which grade of part.

Source `order-codes`, row by row in `data/order_codes.csv`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

# Which house's letters follow a lead-in or mark a tail. Houses are numbered: what counts is that their letters differ.
_HOUSE_BY_MAKER: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("SN", "CD", "TXB", "TXS", "TXU", "TXV", "LSF", "TCA", "TMUX", "TS", "CY", "TPIC"), "h1"),
        **dict.fromkeys(("HEF", "NTS", "NTB", "NVT", "NX", "P"), "h2"),
        **dict.fromkeys(("MC", "M", "NL17", "NL27", "NL37", "NL7", "NC7", "NLV", "MC1", "NLSV", "NLSX"), "h3"),
        **dict.fromkeys(("FXMA", "FXL", "FXLP"), "h3"),
        **dict.fromkeys(("NLU", "NLX"), "h3/little"),  # the same letters, and some of its smallest bodies' own
        **dict.fromkeys(("TC", "TC7"), "h5"),
        **dict.fromkeys(("QS", "IDT"), "h6"),
        **dict.fromkeys(("PI",), "h7"),
        **dict.fromkeys(("ADG",), "h8"),
        **dict.fromkeys(("DG",), "h9"),
        **dict.fromkeys(("MAX",), "h10"),
        **dict.fromkeys(("SGM", "SGM7"), "h11"),
        **dict.fromkeys(("RS",), "h12"),
        **dict.fromkeys(("HD",), "h13"),
        **dict.fromkeys(("U",), "h14"),
    }
)
_TAIL_BY_HOUSE = (
    (re.compile(r",\d{3}\b|-Q100"), "h2"),
    (re.compile(r"-(?:7|13)\b"), "h4"),
    (re.compile(r"\((?:EL|TE|T5|F|J)|[,.]L[FJ]?\b"), "h5"),
)
# What may follow the package letters: reel, finish and grade marks.
_REST = re.compile(
    r"(?:R|RG|RG3|RG4|T|TR|TE|T1G|T2G|T3G|T[BC]G|TG|TAG|E|E4|G4|R2|R2G|G|X|3|RE4|TG4|TE4|LF|1|T4|T5G|96|96E4|96G4|7|8|J|H|Z|EL|TE12LF|EP|REP"
    r"|LX|(?:R|T|TR|RG4|G4)?Q\d+|G3|L|M\d*)?"
)
_HOUSES_OF_LONE_LETTERS = ("h1", "h2", "h3", "")  # D, N, E, P mean the same at many makers; others' lone letters do not
_TEMPERATURE_FIRST = ("h8", "h10", "h11")  # these houses put a letter of the temperature range before the package's
_UNCONNECTED_LEFT_OUT = (12, 14)  # tiny quads leave out the two unconnected terminals of fourteen
SINGLE_GATE = 5  # terminals; with one input its bodies of four terminals leave the unconnected one out
GRADES = ("", "extended", "automotive", "military")


@dataclass(frozen=True)
class OrderCode:
    """A maker's package letters: the style they name, the terminals where they fix them, and how sure it is.

    `house` is empty where every maker that uses the letters means the same.
    """

    code: str
    style: str
    terminals: int | None
    mark: str
    house: str = ""


@cache
def order_codes() -> tuple[OrderCode, ...]:
    """The table of package letters, longest first."""
    text = resources.files("landwise.fabdata").joinpath("data", "order_codes.csv").read_text(encoding="utf-8")
    rows = [
        OrderCode(
            row["code"],
            row["style"],
            int(row["terminals"]) if row["terminals"] else None,
            row["mark"],
            row["house"],
        )
        for row in csv.DictReader(text.splitlines())
    ]
    return tuple(sorted(rows, key=lambda row: -len(row.code)))


@cache
def _by_code() -> Mapping[str, tuple[OrderCode, ...]]:
    found: dict[str, list[OrderCode]] = {}
    for row in order_codes():
        found.setdefault(row.code, []).append(row)
    return MappingProxyType({code: tuple(rows) for code, rows in found.items()})


def house_of(maker: str, tail: str = "") -> str:
    """The house whose letters follow a lead-in, or that a tail gives away; empty where neither tells.

    >>> house_of("SN"), house_of("", ",115"), house_of("", "-7"), house_of("")
    ('h1', 'h2', 'h4', '')
    """
    for pattern, house in _TAIL_BY_HOUSE:
        if pattern.match(tail):
            return house
    return _HOUSE_BY_MAKER.get(maker.upper(), "")


def read_order_code(suffix: str, terminals: int | None = None, house: str = "") -> OrderCode | None:
    """The package letters of a suffix, after at most a revision and a grade letter.

    Parameters
    ----------
    suffix : str
        What follows the function's number, without commas and dashes.
    terminals : int, optional
        Of the function: letters that fix another count are passed over. One terminal more than the function needs is
        allowed, and one less, since bodies without the unconnected terminal of a single gate are made.
    house : str
        See `house_of`; letters of another house are passed over.

    Examples
    --------
    >>> read_order_code("APWR").style, read_order_code("DCKR").style, read_order_code("QPWRG4Q1").style
    ('TSSOP', 'SC-70', 'TSSOP')
    >>> read_order_code("FU", 5, "h5").style, read_order_code("FU", 8, "h5").style, read_order_code("DBQR").style
    ('SC-70', 'SSOP-8', 'QSOP')
    """
    letters = re.match(r"[A-Z0-9]*", suffix.upper())
    text = letters[0] if letters else ""
    for start in _starts(text, house):
        for length in range(min(len(start), 6), 0, -1):
            rows = [row for row in _by_code().get(start[:length], ()) if _may_be(row, terminals, house)]
            rest = start[length:]
            if rows and (_REST.fullmatch(rest) or (length >= 3 and _REST.fullmatch(rest[1:]))):
                return max(rows, key=lambda row: _rank(row, terminals, house))
    return None


def _starts(text: str, house: str) -> tuple[str, ...]:
    """The suffix itself, then without revision letters, then without a grade letter too."""
    if house in _TEMPERATURE_FIRST and len(text) > 1:
        return text[1:], text
    found = [text]
    revised = re.sub(r"^(?:UB|[A-HU])", "", text)
    speed = re.sub(r"^[A-D]T", "", text)
    for one in (revised, text.removeprefix("Q"), revised.removeprefix("Q"), re.sub(r"^[IM]", "", text), speed):
        if one and one not in found:
            found.append(one)
    return tuple(found)


def _may_be(row: OrderCode, terminals: int | None, house: str) -> bool:
    if house and row.house and row.house not in (house, house.partition("/")[0]):
        return False
    if not house and len(row.code) == 1 and row.house not in _HOUSES_OF_LONE_LETTERS:
        return False
    if terminals is None or row.terminals is None:
        return True
    if (row.terminals, terminals) == _UNCONNECTED_LEFT_OUT:
        return True
    return row.terminals - terminals in ((-1, 0, 1) if terminals == SINGLE_GATE else (0, 1))


def _rank(row: OrderCode, terminals: int | None, house: str) -> tuple[bool, bool, bool]:
    return (
        terminals is not None and row.terminals == terminals,
        bool(house) and row.house == house,
        row.mark == "verified",
    )


def grade_of(order_code: str) -> str:
    """The grade that an order code's marks tell: `automotive`, `extended`, `military` or an empty text.

    >>> grade_of("SN74HC14QPWRQ1"), grade_of("74LVC1G08GW-Q100,125"), grade_of("SN54HC00J"), grade_of("SN74HC14PWR")
    ('automotive', 'automotive', 'military', '')
    """
    text = order_code.upper()
    if re.search(r"-?Q1(?:\b|$)|-Q100|^NLV|Q1$", text):
        return "automotive"
    if re.search(r"(?<![A-Z0-9])(?:[A-Z]{0,4})54[A-Z]{1,5}\d", text):
        return "military"
    return "extended" if re.search(r"-EP\b|(?:REP|MDREP)$", text) else ""
