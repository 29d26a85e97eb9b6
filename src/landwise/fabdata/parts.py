"""What each line of a bill is: logic or something else, and for logic its function, terminals and package."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from landwise.fabdata.bills import Bill, BillLine
from landwise.fabdata.logic import LogicReading, read_number, read_order_code, read_words
from landwise.fabdata.packages import PackageReading, outline_for, read_package, says_drilled
from landwise.fabdata.placements import Placements
from landwise.fabdata.references import prefix_of
from landwise.outlines import catalogue

Kind = Literal["logic", "other IC", "passive", "discrete", "connector", "electromechanical", "mechanical", "unread"]


@dataclass(frozen=True)
class Guess:
    """One thing that the text did not say: the field, what was taken, and why."""

    field: str
    value: str
    reason: str


@dataclass(frozen=True)
class RecognisedPart:
    """One part number and its places, as understood.

    `outline` is a catalogue name or empty; `number` the function number, `family` the family letters
    (`little` logic keeps its own letters); `package_text` what the bill or placement file wrote.
    """

    references: tuple[str, ...]
    kind: Kind
    function: str
    number: str
    family: str
    terminals: int | None
    outline: str
    package_text: str
    part_number: str
    guesses: tuple[Guess, ...]
    row: int
    fitted: bool = True
    price: float | None = None
    little: bool = False


@dataclass(frozen=True)
class Unread:
    """A line that may hold a logic part but could not be understood."""

    references: tuple[str, ...]
    row: int
    text: str
    reason: str


@dataclass(frozen=True)
class Recognition:
    """All parts of a bill, what could not be read, and notes."""

    parts: tuple[RecognisedPart, ...]
    unread: tuple[Unread, ...]
    notes: tuple[str, ...]

    @property
    def logic(self) -> tuple[RecognisedPart, ...]:
        """The logic parts."""
        return tuple(part for part in self.parts if part.kind == "logic")

    def count(self) -> Mapping[str, int]:
        """References by kind."""
        counts: Counter[str] = Counter()
        for part in self.parts:
            counts[part.kind] += len(part.references)
        return counts


NOT_IN_BILL = 0  # row of a part that only the placement file knows
_BY_PREFIX: Mapping[str, Kind] = {
    **dict.fromkeys(("R", "C", "L", "FB", "RN", "RR", "RP", "RA", "CN_", "VR", "RV", "F", "FR", "T", "TR", "FL", "CE", "CP", "CBYP", "CF", "RT", "POT", "Y", "X", "XTAL", "CR", "TC"), "passive"),
    **dict.fromkeys(("D", "Q", "LED", "Z", "ZD", "DZ", "VT", "M", "TVS", "ESD", "V"), "discrete"),
    **dict.fromkeys(("J", "P", "CN", "CON", "JP", "USB", "XS", "XP", "K", "PJ", "PL", "SK", "EXT", "UEXT", "BUS", "DVI", "AUDIO", "SD"), "connector"),
    **dict.fromkeys(("SW", "S", "BT", "BTN", "SP", "BZ", "LS", "LCD", "DISP", "KEY", "PB", "RLY", "RST", "BAT", "ANT", "E", "MK_"), "electromechanical"),
    **dict.fromkeys(("TP", "MK", "H", "MH", "FID", "LOGO", "MP", "HOLE", "SIGN", "REF", "PCB", "TEST", "NT"), "mechanical"),
}  # fmt: skip
_IC_PREFIXES = ("U", "IC", "N", "DD", "DA", "VD")
_KIND_WORDS: tuple[tuple[str, Kind], ...] = (
    (r"\bsockets?\b", "connector"),
    (r"\b(resistor|capacitor|inductor|ferrite|crystal|oscillator|fuse|varistor|thermistor|transformer|choke|bead)s?\b|^(res|cap|ind|fixed ind|ferrite)\b", "passive"),
    (r"\b(diode|transistor|mosfet|led|schottky|zener|rectifier)s?\b", "discrete"),
    (r"\b(connector|header|receptacle|jack|terminal block|card edge)\b", "connector"),
    (r"\b(switch(?!es)|button|relay|buzzer|speaker|battery|display)\b", "electromechanical"),
    (r"\b(screw|bracket|standoff|mounting|fiducial|test ?point|logo|label|heatsink)\b", "mechanical"),
    (r"\b(integrated circuit|microcontroller|mcu|regulator|ldo|op ?amp|eeprom|flash|sram|dram|fpga|cpld|adc|dac|phy|transceiver|converter|supervisor|memory|processor|mpu)\b", "other IC"),
)  # fmt: skip
# Words that make an integrated circuit worth a second look when it could not be read.
_SUSPECT = re.compile(
    r"\b(logic|gate|gates|inverter|latch|flip[- ]?flop|buffer|bus|transceiver|translator|shifter|counter|decoder|mux)\b|(?<!\d)7[45](?:HC|LS|ALS|LVC?|AC|AHC|ABT|F\d|S\d)",
    re.I,
)
_TEXT_ORDER = ("part_number", "value", "description", "order_note", "footprint")
_PACKAGE_ORDER = ("footprint", "description", "value", "part_number")


def recognise(bill: Bill, placements: Placements | None = None) -> Recognition:
    """Classify every part of a bill.

    Parameters
    ----------
    bill : Bill
    placements : Placements, optional
        Gives package texts where the bill has none.

    Returns
    -------
    Recognition
        Every line of the bill is in it: as a part of some kind, or among `unread`.
    """
    sockets = _sockets(bill)
    parts: list[RecognisedPart] = []
    unread: list[Unread] = []
    extra = _only_placed(bill, placements) if placements else []
    for line in (*bill.lines, *extra):
        part = _recognise_line(line, placements, sockets)
        if line.row == NOT_IN_BILL and part.kind == "logic":
            part = replace(
                part,
                guesses=(
                    Guess("part", part.references[0], "stands in the placement file, not in the bill"),
                    *part.guesses,
                ),
            )
        if part.kind == "unread" or (part.kind == "logic" and part.terminals is None):
            reason = part.guesses[0].reason if part.guesses else "nothing in the text was understood"
            if part.kind == "logic":
                reason = f"logic ({part.function}), but neither function nor package tells how many terminals"
            unread.append(Unread(line.references, line.row, _said(line), reason))
            part = replace(part, kind="unread")
        parts.append(part)
    notes = [*bill.notes, *bill.problems]
    if extra:
        missing = [ref for line in extra for ref in line.references]
        more = f" and {len(missing) - 8} more" if len(missing) > 8 else ""
        notes.append(f"placed, but not in the bill: {', '.join(missing[:8])}{more}; read from the placement file")
    return Recognition(tuple(parts), tuple(unread), tuple(notes))


def _only_placed(bill: Bill, placements: Placements) -> list[BillLine]:
    """Lines for what is placed without standing in the bill, alike parts together."""
    listed = {ref for line in bill.lines for ref in line.references}
    groups: dict[tuple[str, str], list[str]] = {}
    for ref, placed in placements.by_reference.items():
        if ref not in listed:
            groups.setdefault((placed.value, placed.package), []).append(ref)
    return [
        BillLine(
            NOT_IN_BILL,
            tuple(refs),
            None,
            MappingProxyType({name: text for name, text in (("value", value), ("footprint", package)) if text}),
        )
        for (value, package), refs in groups.items()
    ]


def _recognise_line(
    line: BillLine, placements: Placements | None, sockets: Mapping[str, PackageReading]
) -> RecognisedPart:
    kind = _kind(line)
    reading = None if kind in ("passive", "discrete", "connector", "mechanical", "electromechanical") else _logic(line)
    fitted = len(line.not_fitted) < len(line.references)
    part = RecognisedPart(
        line.references,
        kind,
        "",
        "",
        "",
        None,
        "",
        _package_text(line, placements),
        line.text("part_number") or line.text("value"),
        (),
        line.row,
        fitted,
        line.price,
    )
    if reading is None:
        if kind == "other IC" and _SUSPECT.search(_said(line)) and not _named(line):
            reason = "may be logic by its words, but no function was understood"
            return replace(part, kind="unread", guesses=(Guess("kind", "unread", reason),))
        return part
    return _logic_part(part, line, reading, placements, sockets)


def _named(line: BillLine) -> bool:
    """Whether an IC has a part number of its own that is no logic number: then its words are not taken for logic."""
    text = line.text("part_number") or line.text("value")
    return bool(re.search(r"[A-Z]{2,}\d{2,}|\d{2,}[A-Z]{2,}", text, re.I))


def _logic(line: BillLine) -> LogicReading | None:
    for field in _TEXT_ORDER:
        reading = read_number(line.text(field)) if field != "footprint" else None
        if reading:
            return reading
    for text in line.extra.values():
        reading = read_number(text)
        if reading and reading.function:
            return reading
    for field in ("description", "value"):
        reading = read_words(line.text(field))
        if reading:
            return reading
    return None


def _logic_part(
    part: RecognisedPart,
    line: BillLine,
    reading: LogicReading,
    placements: Placements | None,
    sockets: Mapping[str, PackageReading],
) -> RecognisedPart:
    guesses: list[Guess] = []
    function, terminals = reading.function, None
    words = function.words if function else ""
    if reading.by == "words":
        guesses.append(Guess("function", words, f"from the words {reading.text!r}, no logic number was found"))
    if function and function.terminals:
        terminals = function.terminals
    if function is None:
        from_words = read_words(line.text("description"))
        if from_words and from_words.function:
            words, terminals = from_words.function.words, from_words.function.terminals or None
            guesses.append(
                Guess("function", words, f"number {reading.number} is not in the table; taken from {from_words.text!r}")
            )
    outline, package_terminals = _outline(line, reading, terminals, placements, sockets, guesses)
    if terminals is None and package_terminals:
        terminals = package_terminals
        guesses.append(Guess("terminals", str(terminals), "from the package, the function is not in the table"))
    elif terminals and package_terminals and package_terminals not in (terminals, terminals + 1):
        guesses.append(
            Guess(
                "terminals",
                str(package_terminals),
                f"the package has {package_terminals}, the function usually {terminals}",
            )
        )
        terminals = package_terminals
    return replace(
        part,
        kind="logic",
        function=words or f"function {reading.number}",
        number=reading.number,
        family=reading.family,
        terminals=terminals,
        outline=outline,
        guesses=tuple(guesses),
        little=reading.little,
    )


def _outline(
    line: BillLine, reading: LogicReading, terminals: int | None, placements: Placements | None,
    sockets: Mapping[str, PackageReading], guesses: list[Guess],
) -> tuple[str, int | None]:  # fmt: skip
    """The package in use: from its text, the socket, the placement file, or the order code, in this order."""
    texts = [line.text(field) for field in _PACKAGE_ORDER]
    texts += [
        placements.by_reference[ref].package
        for ref in line.references[:1]
        if placements and ref in placements.by_reference
    ]
    for text in texts:
        package = read_package(text) if text else None
        if package is None or package.style in ("chip", "TO"):
            continue
        found, assumed = outline_for(package, terminals)
        if found is None:
            guesses.append(Guess("package", "", f"{package.text!r} is no outline of the catalogue"))
            return "", package.terminals
        if assumed:
            guesses.append(Guess("package", found.name, f"from {package.text!r}: {assumed}"))
        return found.name, package.terminals
    hinted = (
        _from_socket(line, terminals, sockets) or _from_order_code(reading, terminals) or _from_words(line, terminals)
    )
    guesses.append(hinted[0] if hinted else Guess("package", "", "nothing in the bill tells it"))
    return (hinted[0].value, hinted[1]) if hinted else ("", None)


def _from_socket(
    line: BillLine, terminals: int | None, sockets: Mapping[str, PackageReading]
) -> tuple[Guess, int | None] | None:
    for ref in line.references:
        found = outline_for(sockets[ref], terminals)[0] if ref in sockets else None
        if found:
            reason = f"a socket {sockets[ref].text!r} stands in the bill for {ref}"
            return Guess("package", found.name, reason), sockets[ref].terminals
    return None


def _from_order_code(reading: LogicReading, terminals: int | None) -> tuple[Guess, int | None] | None:
    code = read_order_code(reading.suffix) if reading.suffix else None
    if code is None:
        return None
    if code.style in catalogue():
        found, assumed = catalogue()[code.style], ""
    else:
        package = PackageReading(code.style, code.terminals or terminals, None, None, code.code)
        outline, assumed = outline_for(package, terminals)
        if outline is None:
            return None
        found = outline
    more = f"; {assumed}" if assumed else ""
    return Guess("package", found.name, f"from the package letters {code.code!r} ({code.mark}){more}"), code.terminals


def _from_words(line: BillLine, terminals: int | None) -> tuple[Guess, int | None] | None:
    if not terminals or not says_drilled(_said(line)):
        return None
    found, _ = outline_for(PackageReading("DIP", terminals, None, None, ""), terminals)
    return (Guess("package", found.name, "the text speaks of a drilled part"), None) if found else None


def _package_text(line: BillLine, placements: Placements | None) -> str:
    text = line.text("footprint")
    if not text and placements:
        text = next(
            (placements.by_reference[ref].package for ref in line.references if ref in placements.by_reference), ""
        )
    return text


def _kind(line: BillLine) -> Kind:
    prefixes = Counter(prefix_of(ref) for ref in line.references)
    prefix = prefixes.most_common(1)[0][0]
    category = line.text("category")
    for pattern, kind in _KIND_WORDS:
        if category and re.search(pattern, category, re.I):
            return kind
    if prefix in _IC_PREFIXES:
        text = f"{line.text('description')} {line.text('value')}"
        if re.search(r"\bsocket\b", text, re.I):
            return "connector"
        return "other IC"
    if prefix in _BY_PREFIX:
        return _BY_PREFIX[prefix]
    said = _said(line)
    for pattern, kind in _KIND_WORDS:
        if re.search(pattern, said, re.I):
            return kind
    # Long prefixes are names of connectors and signs; one that begins like a known one follows it.
    for length in (3, 2, 1):
        if prefix[:length] in _BY_PREFIX:
            return _BY_PREFIX[prefix[:length]]
    return "other IC" if prefix.startswith("U") else "mechanical"


def _sockets(bill: Bill) -> dict[str, PackageReading]:
    found: dict[str, PackageReading] = {}
    for line in bill.lines:
        said = _said(line)
        if re.search(r"\bsocket\b", said, re.I):
            package = read_package(line.text("description") or line.text("value") or said)
            if package:
                found.update(dict.fromkeys(line.references, package))
    return found


def _said(line: BillLine) -> str:
    fields = ("category", "value", "part_number", "description", "footprint")
    return " ".join(dict.fromkeys(line.text(field) for field in fields if line.text(field)))
