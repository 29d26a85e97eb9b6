"""Recognising logic: generic part numbers with their family letters, and functions written in words."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

SOURCE = "logic-functions-memory"
LONGEST_TEXT = 2000


@dataclass(frozen=True)
class Function:
    """One standard function: its number, words, terminals with supply, and units in a package."""

    number: str
    words: str
    terminals: int
    units: int


@dataclass(frozen=True)
class LogicReading:
    """What a text says about a logic part.

    Parameters
    ----------
    number : str
        Function number such as `245` or `1G08`; empty where only words were found.
    family : str
        Family letters such as `HCT`; empty for the first family.
    function : Function or None
        None where the number is well-formed but not in the table.
    suffix : str
        What follows the number: revision, package and reel letters.
    text : str
        The part of the text that was understood.
    little : bool
        A one- to three-gate part.
    """

    number: str
    family: str
    function: Function | None
    suffix: str
    text: str
    little: bool
    by: str


@cache
def functions() -> Mapping[str, Function]:
    """Every known function by number, 74-series, 4000-series and little logic.

    >>> functions()["595"].terminals, functions()["1G08"].words
    (16, 'single 2-input AND gate')
    """
    found: dict[str, Function] = {}
    for name in ("functions.csv", "little_functions.csv"):
        text = resources.files("landwise.fabdata").joinpath("data", name).read_text(encoding="utf-8")
        for row in csv.DictReader(text.splitlines()):
            found[row["number"]] = Function(row["number"], row["words"], int(row["terminals"]), int(row["units"]))
    return MappingProxyType(found)


FAMILIES = (
    "AUP",
    "AUC",
    "AVC",
    "AVCH",
    "AVCB",
    "AXP",
    "AXC",
    "LVC",
    "LVCH",
    "LVCZ",
    "LVT",
    "LVTH",
    "LV",
    "LCX",
    "VCX",
    "ALVC",
    "ALVCH",
    "ALVT",
    "ALVTH",
    "AHC",
    "AHCT",
    "AHCU",
    "AHCV",
    "VHC",
    "VHCT",
    "VHCU",
    "HC",
    "HCT",
    "HCU",
    "HCS",
    "HCTS",
    "AC",
    "ACT",
    "ACQ",
    "ACTQ",
    "ABT",
    "ABTH",
    "ABTE",
    "BCT",
    "FCT",
    "FCTH",
    "F",
    "LS",
    "ALS",
    "AS",
    "S",
    "L",
    "H",
    "CBT",
    "CBTLV",
    "CB3Q",
    "CB3T",
    "CBTD",
    "GTL",
    "GTLP",
    "GTLPH",
    "FST",
    "FACT",
    "C",
    "QST",
    "NLSV",
    "AHCT1",
    "NX",
    "LVX",
    "LVQ",
    "VHCV",
    "LXC",
    "SSTU",
    "SSTV",
    "TVC",
    "G",
    "",
)
_FAMILY = "|".join(sorted(FAMILIES, key=len, reverse=True))
# A maker's prefix of up to five letters, 54 or 74, family, then a little-logic or plain number.
_SERIES = re.compile(
    rf"(?<![A-Za-z0-9])(?P<maker>[A-Z]{{0,5}}?)(?P<series>54|74)(?P<family>{_FAMILY})"
    r"(?P<number>(?:16|20|32|[1-8])T\d{2,3}|[1-3]G[UXT]?\d{2,4}|U?\d{2,6})(?P<suffix>[A-Z0-9]*)(?![A-Za-z])",
    re.IGNORECASE,
)
# Little logic under makers' own lead-ins: one, two or three gates are letters here, the family a letter.
_MAKERS_LITTLE = re.compile(
    r"(?<![A-Za-z0-9])(?P<maker>NC7|TC7|NL17|NL27|NL37|NL7)(?P<gates>S|W|N|P)?(?P<family>HU|ZU|GU|ET|E|T|Z|V|P|H|SZ|HB|B|A|L|G|U)?"
    r"(?P<number>U?(?:3157|3208|\d{2,3}))(?P<suffix>[A-Z0-9]*)(?![A-Za-z])",
    re.IGNORECASE,
)
_FOUR_THOUSAND = re.compile(
    r"(?<![A-Za-z0-9])(?P<maker>CD|HEF|HCF|HCC|MC1|TC|BU|KK|UTC|HD1|MM|GD|F|K?R?CD)(?P<number>40(?:1\d{2}|257)|4[05]\d{2}|4724)(?P<suffix>U?B?[A-Z0-9]*)(?![A-Za-z])",
    re.IGNORECASE,
)
_GATES = MappingProxyType({"S": "1G", "W": "2G", "P": "2G", "N": "3G", "": "1G"})
# `74 HC 00`, `74-LS-245`, `74HC/HCT245`, `74HC(T)245`, `74xx245`: families left open or written apart.
_LOOSE = re.compile(
    r"(?<![A-Za-z0-9])(?:SN)?(?:54|74)[\s-]?(?P<family>[A-Z]{2,5})(?:/[A-Z]{2,5}|\([A-Z]\))?[\s-]?(?P<number>\d{2,3})(?![\d.])",
    re.IGNORECASE,
)


def read_number(text: str) -> LogicReading | None:
    """The first generic logic number in a text; one whose function is known goes before one that is not.

    Examples
    --------
    >>> reading = read_number("SN74LVC1G08DCKR")
    >>> reading.family, reading.number, reading.suffix
    ('LVC', '1G08', 'DCKR')
    >>> read_number("74F573 Octal D-Type Latch").function.terminals
    20
    >>> read_number("RC0402FR-074K7L") is None
    True
    """
    text = text[:LONGEST_TEXT]
    readings = (*_series(text), *_makers_little(text), *_four_thousand(text), *_loose(text), *_other(text))
    return next((reading for reading in readings if reading.function), readings[0] if readings else None)


def _series(text: str) -> Iterator[LogicReading]:
    for match in _SERIES.finditer(text):
        number, suffix = match["number"].upper(), match["suffix"].upper()
        found = _known(number)
        if found is None and not match["family"] and not match["maker"]:
            continue  # "7412" in a free text is any number; "74HC12" is not
        little = bool(re.match(r"[1-3]G|[12]T", number))
        family = match["family"].upper()
        yield LogicReading(number.lstrip("U") or number, family, found, suffix, match[0], little, "number")


def _makers_little(text: str) -> Iterator[LogicReading]:
    for match in _MAKERS_LITTLE.finditer(text):
        number = _GATES[(match["gates"] or "").upper()] + match["number"].upper()
        # `NC7SV74`: the letters before the number name a family of its own; the table of supply knows them as little.
        yield LogicReading(number, "", functions().get(number), match["suffix"].upper(), match[0], True, "number")


def _four_thousand(text: str) -> Iterator[LogicReading]:
    for match in _FOUR_THOUSAND.finditer(text):
        number, maker = match["number"], match["maker"].upper()
        if number not in functions() and maker not in ("CD", "HEF", "HCF", "MC1"):
            continue  # other makers give such numbers to other parts too
        yield LogicReading(number, maker, functions().get(number), match["suffix"].upper(), match[0], False, "number")


def _loose(text: str) -> Iterator[LogicReading]:
    for match in _LOOSE.finditer(text):
        family = match["family"].upper()
        open_family = set(family) <= {"X"}
        known = functions().get(match["number"])
        if known and (open_family or family in FAMILIES):
            yield LogicReading(
                match["number"], "" if open_family else family, known, "", match[0], False, "loose number"
            )


def _other(text: str) -> Iterator[LogicReading]:
    """Level translators and bus switches under names of their own."""
    for word in re.findall(r"(?<![A-Za-z0-9])(?:SN|IDT|ID)?([A-Z]{2,4}[A-Z0-9]{4,14})", text, re.IGNORECASE):
        upper = word.upper()
        start = next((start for start in other_logic() if upper.startswith(start)), None)
        if start:
            letters = re.match(r"[A-Z]+", start)
            known = other_logic()[start]
            # One revision letter may follow the number before the package letters.
            suffix = upper.removeprefix(start)
            yield LogicReading(start, letters[0] if letters else "", known, suffix, word, False, "number")


def read_bare_number(text: str) -> LogicReading | None:
    """A number of the 4000 series that stands alone, as on the sheets of small boards: `4017`, `40106BE`.

    >>> read_bare_number("4017").function.words
    'decade counter with decoded outputs'
    """
    match = re.fullmatch(r"(?P<number>4\d{3,4})(?P<suffix>[A-Z]{0,4})", text.strip(), re.IGNORECASE)
    known = functions().get(match["number"]) if match else None
    if match is None or known is None:
        return None
    return LogicReading(match["number"], "", known, match["suffix"].upper(), match[0], False, "bare number")


@cache
def other_logic() -> Mapping[str, Function]:
    """Logic with names of its own, by the letters and digits a part number begins with, longest first.

    >>> other_logic()["TXS0104"].terminals
    14
    """
    text = resources.files("landwise.fabdata").joinpath("data", "other_logic.csv").read_text(encoding="utf-8")
    rows = sorted(csv.DictReader(text.splitlines()), key=lambda row: -len(row["start"]))
    return MappingProxyType(
        {row["start"]: Function(row["start"], row["words"], int(row["terminals"] or 0), 1) for row in rows}
    )


def _known(number: str) -> Function | None:
    """The function of a number; `U` (unbuffered) and `T` (of TTL inputs) do not change its terminals."""
    table = functions()
    return table.get(number) or table.get(number.removeprefix("U")) or table.get(re.sub(r"(\dG)[TU]", r"\1", number))


_COUNT = {"single": 1, "dual": 2, "double": 2, "triple": 3, "quad": 4, "quadruple": 4, "hex": 6, "octal": 8}
_NAMES = {count: name for name, count in reversed(_COUNT.items())}
_GATE_WORDS = re.compile(
    r"(?P<count>single|dual|double|triple|quad(?:ruple)?|hex|octal)?[\s-]*(?P<inputs>\d|two|three|four)[\s-]*inp(?:ut)?s?"
    r"[\s-]*(?:positive[\s-]*)?(?P<gate>nand|nor|and|or|xor|exclusive[\s-]*or|xnor)\b",
    re.IGNORECASE,
)
_INVERTER_WORDS = re.compile(
    r"\b(?P<count>single|dual|triple|hex)[\s-]+(?:schmitt[\s-]*(?:trigger)?[\s-]*)?(?P<kind>inverter|buffer)s?\b", re.I
)
_OCTAL_WORDS = re.compile(
    r"\b(?P<count>octal|8[\s-]*bit|16[\s-]*bit|quad)[\s-]+(?:3[\s-]*state[\s-]+)?(?:non[\s-]*inverting[\s-]+)?"
    r"(?P<kind>bus transceiver|transceiver|buffer|line driver|d[\s-]*type latch|transparent latch|d[\s-]*type"
    r" flip[\s-]*flop)",
    re.I,
)
# The terse style of parts catalogues: "IC GATE NAND 4CH 2-INP 14SOIC".
_TERSE_GATE = re.compile(
    r"\bgate\s+(?P<gate>nand|nor|and|or|xor|xnor)\s+(?:schmitt\s+)?(?P<count>\d)ch\s+(?P<inputs>\d)-inp", re.I
)
_TERSE_INVERTER = re.compile(r"\binverter\s+(?:schmitt\s+|od\s+)?(?P<count>\d)ch\s+\d-inp", re.I)
_TERSE_OTHER = re.compile(
    r"\b(?P<kind>buffer|bus"
    r" transcvr|transceiver|transcvr|translator)\s+(?:bus\s+)?(?:non-invert|invert|tri-st|3-st|bidir|translation)"
    r"|\b(?P<flip>d-type)\s+(?:pos|neg)\s+trg|\b(?P<latch>d-type"
    r" transp)|\b(?P<other>(?:de)?multiplexer|decoder/demux|shift register|shift reg)\b",
    re.I,
)
_OTHER_WORDS = re.compile(
    r"\b(shift"
    r" register|flip[\s-]*flop|level[\s-]*(?:translator|shifter|translating)|voltage[\s-]*(?:level[\s-]*)?translator|"
    r"bus switch|binary counter|decade counter|line decoder|demultiplexer)\b",
    re.I,
)
_INPUTS = {"two": 2, "three": 3, "four": 4}


def read_words(text: str) -> LogicReading | None:
    """A function written in words, with the terminals that follow from it.

    Gates have one output and two supplies: terminals = units × (inputs + 1) + 2.

    >>> read_words("quad 2-input NAND gate").function.terminals
    14
    >>> read_words("SINGLE 2-INPUT POSITIVE-AND GATE").function.terminals
    5
    """
    match = _GATE_WORDS.search(text)
    if match:
        count = _COUNT.get((match["count"] or "single").lower(), 1)
        inputs = int(_INPUTS.get(match["inputs"].lower(), 0) or match["inputs"])
        gate = "XOR" if match["gate"].lower().startswith("exclusive") else match["gate"].upper()
        name = next(word for word, number in _COUNT.items() if number == count)
        function = Function("", f"{name} {inputs}-input {gate} gate", count * (inputs + 1) + 2, count)
        return LogicReading("", "", function, "", match[0], count <= 3 and function.terminals <= 8, "words")
    match = _INVERTER_WORDS.search(text)
    if match:
        count = _COUNT[match["count"].lower()]
        terminals = 5 if count == 1 else 2 * count + 2
        function = Function("", f"{match['count'].lower()} {match['kind'].lower()}", terminals, count)
        return LogicReading("", "", function, "", match[0], count <= 3, "words")
    match = _OCTAL_WORDS.search(text)
    if match:
        bits = {"octal": 8, "quad": 4}.get(match["count"].lower()) or int(re.match(r"\d+", match["count"])[0])  # type: ignore[index]
        terminals = {4: 14, 8: 20, 16: 48}[bits]
        function = Function("", f"{match['count'].lower()} {match['kind'].lower()}", terminals, bits)
        return LogicReading("", "", function, "", match[0], False, "words")
    match = _TERSE_GATE.search(text)
    if match:
        count, inputs = int(match["count"]), int(match["inputs"])
        words = f"{_NAMES.get(count, str(count))} {inputs}-input {match['gate'].upper()} gate"
        return LogicReading(
            "", "", Function("", words, count * (inputs + 1) + 2, count), "", match[0], count <= 3, "words"
        )
    match = _TERSE_INVERTER.search(text)
    if match:
        count = int(match["count"])
        function = Function("", f"{_NAMES.get(count, str(count))} inverter", 5 if count == 1 else 2 * count + 2, count)
        return LogicReading("", "", function, "", match[0], count <= 3, "words")
    return _terse_other(text)


def _terse_other(text: str) -> LogicReading | None:
    """Functions whose terminals only the package tells."""
    match = _TERSE_OTHER.search(text)
    if match:
        names = {
            "kind": match["kind"],
            "flip": "D-type flip-flop",
            "latch": "transparent latch",
            "other": match["other"],
        }
        words = next(names[group] for group in names if match[group])
        return LogicReading(
            "", "", Function("", words.lower() if words == match["kind"] else words, 0, 1), "", match[0], False, "words"
        )
    match = _OTHER_WORDS.search(text)
    if match:
        return LogicReading("", "", Function("", match[0].lower(), 0, 1), "", match[0], False, "words")
    return None


@dataclass(frozen=True)
class OrderCode:
    """A maker's package letters: the style they name, the terminals where they fix them, and how sure it is."""

    code: str
    style: str
    terminals: int | None
    mark: str


@cache
def order_codes() -> tuple[OrderCode, ...]:
    """The table of package letters, longest first."""
    text = resources.files("landwise.fabdata").joinpath("data", "order_codes.csv").read_text(encoding="utf-8")
    rows = [
        OrderCode(row["code"], row["style"], int(row["terminals"]) if row["terminals"] else None, row["mark"])
        for row in csv.DictReader(text.splitlines())
    ]
    return tuple(sorted(rows, key=lambda row: -len(row.code)))


def read_order_code(suffix: str) -> OrderCode | None:
    """The package letters at the head of a suffix, after at most one revision letter.

    >>> read_order_code("APWR").style, read_order_code("DCKR").style
    ('TSSOP', 'SC-70')
    """
    letters = re.match(r"[A-Z0-9]*", suffix.upper())
    text = letters[0] if letters else ""
    for start in (text, text[1:] if text[:1] in tuple("ABCDEH") else ""):
        for row in order_codes():
            rest = start.removeprefix(row.code)
            # One- and two-letter codes must end the suffix, but for reel and finish letters.
            if start.startswith(row.code) and re.fullmatch(
                r"(R|RG|RG4|T|TR|T1G|T2G|E4|G4|R2|R2G|G|X|3|RE4|TG4|LF|1|Q1|-T|T4|Q\d*)?", rest
            ):
                return row
    return None
