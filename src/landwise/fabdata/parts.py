"""What each line of a bill is: logic or something else, and for logic its function, terminals and package."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from landwise.fabdata.bills import Bill, BillLine
from landwise.fabdata.functions import Function, LogicReading
from landwise.fabdata.functionwords import NO_LOGIC, read_words
from landwise.fabdata.kinds import SOCKET, Kind, kind_of, text_of
from landwise.fabdata.mounting import Mounted, mounted_of
from landwise.fabdata.packages import PackageReading, read_package
from landwise.fabdata.partnumbers import read_bare_number, read_named_by_its_package, read_number
from landwise.fabdata.placements import Placements
from landwise.fabdata.presentpackage import Guess, present_package, sockets_of
from landwise.fabdata.references import prefix_of
from landwise.outlines.supply import LARGEST_SPARE, terminals_sighted
from landwise.quantities import some_of


@dataclass(frozen=True)
class RecognisedPart:
    """One part number and its places, as understood.

    `outline` is a catalogue name or empty; `number` the function number, `family` the family letters
    (`little` logic keeps its own letters); `package_text` what the bill or placement file wrote. `row` is the first
    row of the bill that names it, `more_rows` those that name the same part in the same package at other places;
    `mounted` says how a part that is no logic is mounted, where the bill tells, `socketed` whether a
    logic part has a socket in the bill.
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
    more_rows: tuple[int, ...] = ()
    mounted: Mounted | None = None
    socketed: bool = False


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
_NEVER_LOGIC = ("R", "C", "L", "F")  # resistors, capacitors, coils, fuses and beads
# Words that make an integrated circuit worth a second look when it could not be read.
_SUSPECT = re.compile(
    r"\b(logic|gate|gates|inverter|latch|flip[-"
    r" ]?flop|buffer|bus|transceiver|translator|shifter|counter|decoder|mux)\b",
    re.I,
)
_NEARLY = re.compile(r"(?<!\d)(?:54|74)(?:HC|LS|ALS|LVC?|AC|AHC|VHC|AUP|AVC|ALVC|ABT|LCX|F\d|S\d|X{2})", re.I)
_TEXT_ORDER = ("part_number", "value", "description", "order_note")


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
        Every line of the bill is in it: as a part of some kind, or among `unread`. Bills with a row for each place name
        one part many times: what is alike in all but its places is one part here.
    """
    sockets = sockets_of(bill)
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
            unread.append(Unread(line.references, line.row, text_of(line), reason))
            part = replace(part, kind="unread")
        parts.append(part)
    for line in bill.unplaced:
        reading = _logic(line) if not SOCKET.search(text_of(line)) else None
        if reading and reading.by == "number":
            reason = f"logic ({reading.text}), but the line names no reference"
            unread.append(Unread(("no reference",), line.row, text_of(line), reason))
    notes = [*bill.notes, *bill.problems]
    if extra:
        missing = [ref for line in extra for ref in line.references]
        notes.append(f"placed, but not in the bill: {some_of(missing, 8)}; read from the placement file")
    kept, others = _each_once(_alike(parts))
    for part, first in others:
        if part.number == first.number and part.terminals == first.terminals:
            named = ", ".join(word for word in (part.part_number, part.outline) if word)
            places = ", ".join(part.references[:6])
            notes.append(
                f"{places}: row {part.row} ({named}) is taken for another source of row {first.row}, left aside"
            )
        else:
            reason = f"row {first.row} names the same place as {first.function}: which of the two is fitted?"
            unread.append(Unread(part.references, part.row, part.part_number, reason))
    return Recognition(kept, tuple(unread), tuple(notes))


def _each_once(
    parts: tuple[RecognisedPart, ...],
) -> tuple[tuple[RecognisedPart, ...], list[tuple[RecognisedPart, RecognisedPart]]]:
    """Each place of a logic part once: rows of alternatives stand apart, beside the row that keeps the place.

    What is fitted comes before what is not, then the first row.
    """
    holder: dict[str, RecognisedPart] = {}
    kept: dict[int, RecognisedPart] = {}
    others: list[tuple[RecognisedPart, RecognisedPart]] = []
    for at, part in sorted(enumerate(parts), key=lambda numbered: not numbered[1].fitted):
        if part.kind != "logic":
            kept[at] = part
            continue
        taken = [ref for ref in part.references if ref in holder]
        free = tuple(ref for ref in part.references if ref not in holder)
        holder.update(dict.fromkeys(free, part))
        if free:
            kept[at] = part if not taken else replace(part, references=free)
        for first in {id(holder[ref]): holder[ref] for ref in taken}.values():
            shared = tuple(ref for ref in taken if holder[ref] is first)
            others.append((replace(part, references=shared), first))
    return tuple(kept[at] for at in sorted(kept)), others


def _alike(parts: Sequence[RecognisedPart]) -> tuple[RecognisedPart, ...]:
    """Logic parts that differ by their places alone, as one; all else as it stands."""
    found: dict[RecognisedPart | int, list[RecognisedPart]] = {}
    for number, part in enumerate(parts):
        key = replace(part, references=(), row=NOT_IN_BILL) if part.kind == "logic" and part.row else number
        found.setdefault(key, []).append(part)
    return tuple(
        replace(
            some[0],
            references=tuple(dict.fromkeys(ref for one in some for ref in one.references)),
            more_rows=tuple(one.row for one in some[1:]),
        )
        for some in found.values()
    )


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
    kind = kind_of(line)
    reading = _reading(line, kind)
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
        line.text("part_number") or line.text("value") or line.text("description"),
        (),
        line.row,
        fitted,
        line.price,
    )
    if reading is None:
        reason = _doubt(line) if kind == "other IC" else ""
        return (
            replace(part, kind="unread", guesses=(Guess("kind", "unread", reason),))
            if reason
            else replace(part, mounted=mounted_of(line, kind))
        )
    return _logic_part(part, line, reading, placements, sockets)


def _reading(line: BillLine, kind: Kind) -> LogicReading | None:
    """What a line says about logic; a full part number counts under references that usually mean something else."""
    if kind == "other IC":
        return _logic(line)
    if prefix_of(line.references[0])[:1] in _NEVER_LOGIC or SOCKET.search(text_of(line)):
        return None
    for field in ("part_number", "value"):
        reading = read_number(line.text(field))
        if reading and reading.function and reading.by == "number" and (reading.family or reading.little):
            return reading
    return None


def _doubt(line: BillLine) -> str:
    """Why an integrated circuit may be logic that was not understood, or an empty text."""
    words = text_of(line)
    if re.search(r"\blogic\b", line.text("category") or line.text("value"), re.I) or _NEARLY.search(words):
        return "called logic or numbered like it, but no function was understood"
    if NO_LOGIC.search(words):
        return ""
    bare = next((found for field in ("value", "part_number") if (found := read_bare_number(line.text(field)))), None)
    if bare and bare.function:
        return f"numbered like the {bare.function.words} {bare.number}, which has {bare.function.terminals} terminals"
    if _SUSPECT.search(words) and not _named(line):
        return "may be logic by its words, but no function was understood"
    words = " ".join(line.text(field) for field in ("value", "part_number", "description"))
    if not re.search(r"[A-Za-z]{3,}|[A-Za-z]+[\W_]?\d|\d[\W_]?[A-Za-z]|\d{3,}", words):
        return "nothing in the line tells what it is"
    return ""


def _named(line: BillLine) -> bool:
    """Whether an IC has a part number of its own that is no logic number: then its words are not taken for logic."""
    text = line.text("part_number") or line.text("value")
    return bool(re.search(r"[A-Z]{2,}\d{2,}|\d{2,}[A-Z]{2,}", text, re.I))


def _logic(line: BillLine) -> LogicReading | None:
    numbers = [read_number(line.text(field)) for field in _TEXT_ORDER]
    numbers += [reading for text in line.extra.values() if (reading := read_number(text)) and reading.function]
    found = [reading for reading in numbers if reading]
    if found:
        # A number whose function is known goes before one that only looks like one.
        return next((reading for reading in found if reading.function), found[0])
    told = _terminals_told(line)
    for field in ("value", "part_number"):
        bare = read_bare_number(line.text(field))
        if bare and told in (0, *_fitting(bare.function)):
            return bare
        named = read_named_by_its_package(line.text(field))
        if named and told in _fitting(named.function):
            return named
    for field in ("description", "value"):
        reading = read_words(line.text(field))
        if reading:
            return reading
    return None


def _terminals_told(line: BillLine) -> int:
    """Terminals that the line's package text counts; 0 where none does."""
    readings = (read_package(line.text(field)) for field in ("footprint", "description", "value"))
    return next((reading.terminals for reading in readings if reading and reading.terminals), 0)


def _fitting(function: Function | None) -> tuple[int, ...]:
    """Terminals of the packages that a function may come in, with one or two to spare."""
    return () if function is None else tuple(function.terminals + spare for spare in range(LARGEST_SPARE + 1))


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
    elif reading.by == "short number":
        guesses.append(Guess("number", reading.number, f"from {reading.text!r}, with the 74 left out"))
    elif reading.by != "number":
        guesses.append(Guess("number", reading.number, f"from {reading.text!r}, which names no family"))
    references = _one_per_package(part.references, function.units if function else 1)
    if references != part.references:
        reason = f"{', '.join(part.references[:6])} taken for the units of one package each"
        guesses.append(Guess("refs", ", ".join(references[:6]), reason))
        part = replace(part, references=references)
    if function and function.terminals:
        terminals = function.terminals
    if function is None:
        from_words = read_words(line.text("description"))
        if from_words and from_words.function:
            words, terminals = from_words.function.words, from_words.function.terminals or None
            guesses.append(
                Guess("function", words, f"number {reading.number} is not in the table; taken from {from_words.text!r}")
            )
    if terminals is None and reading.number:
        terminals = terminals_sighted(reading.number, reading.family)
        if terminals:
            guesses.append(Guess("terminals", str(terminals), "of the packages that the number was sighted in"))
    present = present_package(line, reading, terminals, placements, sockets)
    outline, package_terminals = present.outline, present.terminals
    guesses += present.guesses
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
        socketed=any(ref in sockets for ref in references),
    )


def _one_per_package(references: tuple[str, ...], units: int) -> tuple[str, ...]:
    """`U1A, U1B, U1C, U1D` as `U1`, where a package holds several units and all are lettered.

    >>> _one_per_package(("U1A", "U1B", "U2A", "U2B"), 4), _one_per_package(("U1A", "U2"), 4)
    (('U1', 'U2'), ('U1A', 'U2'))
    """
    lettered = [re.fullmatch(r"([A-Za-z]+\d+)([A-I])", ref) for ref in references]
    bases = Counter(match[1] for match in lettered if match)
    if units < 2 or not all(lettered) or not all(1 < count <= units + 1 for count in bases.values()):
        return references
    return tuple(bases)


def _package_text(line: BillLine, placements: Placements | None) -> str:
    text = line.text("footprint")
    if not text and placements:
        text = next(
            (placements.by_reference[ref].package for ref in line.references if ref in placements.by_reference), ""
        )
    return text
