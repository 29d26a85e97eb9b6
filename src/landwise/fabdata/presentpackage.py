"""Which outline a logic part of a bill comes in today: from its footprint, order code, texts, socket or words.

A wrong present outline is a false saving, so every step says what it rests on, and a text that fits several outlines,
or another one than the order code names, is never taken in silence.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from landwise.fabdata.bills import Bill, BillLine
from landwise.fabdata.functions import LogicReading
from landwise.fabdata.kinds import SOCKET, text_of
from landwise.fabdata.ordercodes import OrderCode, house_of, read_order_code
from landwise.fabdata.packageoutlines import names_the_body_alone, outline_for
from landwise.fabdata.packages import PackageReading, read_package, says_drilled
from landwise.fabdata.partnumbers import read_number
from landwise.fabdata.placements import Placements
from landwise.outlines import Outline

QSOP_OF_14 = (14, 16)  # the quarter-size body has no 14 leads: such functions come in 16 with two unconnected


@dataclass(frozen=True)
class Guess:
    """One thing that the text did not say: the field, what was taken, and why."""

    field: str
    value: str
    reason: str


@dataclass(frozen=True)
class Present:
    """The outline in use: its name (empty where not known), the terminals its text counts, and what was guessed."""

    outline: str
    terminals: int | None
    guesses: tuple[Guess, ...] = ()


@dataclass(frozen=True)
class _Said:
    """A package text as understood; `outline` None where the catalogue has no such body."""

    reading: PackageReading
    outline: Outline | None
    assumed: str

    @property
    def exact(self) -> bool:
        """Whether the text fits one outline only."""
        return self.outline is not None and not self.assumed

    @property
    def vague(self) -> bool:
        """Whether the text tells neither pitch nor body, so that its style may be a loose word."""
        return self.reading.pitch_mm is None and self.reading.body_mm is None


def present_package(
    line: BillLine,
    reading: LogicReading,
    terminals: int | None,
    placements: Placements | None,
    sockets: Mapping[str, PackageReading],
) -> Present:
    """The package in use.

    Parameters
    ----------
    line : BillLine
    reading : LogicReading
        Its part number, whose letters name a package.
    terminals : int or None
        Of the function, where it is known.
    placements : Placements or None
    sockets : mapping
        Package readings of the bill's sockets, by reference.

    Notes
    -----
    In this order: a footprint's name that fits one outline; the order code's letters, where they fit what the texts
    say or the texts are vague; a text that fits one outline; the first of several that a text fits; the socket;
    words about drilling. Distributors' words and letters differ in about 2 of 100 rows, mostly loose words
    (counted over 6,330 rows of one assembler's published parts list, May 2026).
    """
    # A socket is no footprint of the part in it, and a drilled part may sit in one of another style's name.
    design = _said_by([line.text("footprint"), _placed(line, placements)], terminals)
    texts = _said_by([line.text(field) for field in ("description", "value", "part_number")], terminals)
    code = _order_code(line, reading, terminals)
    lettered = _outline_of(code, terminals) if code else None
    if design and design.exact and not _loose(design, lettered):
        return _from_design(design, code, lettered)
    if lettered and code and _agrees(lettered, design):
        return _from_letters(code, lettered, design, texts)
    for found in (design, texts):
        if found and found.outline:
            reason = f"from {found.reading.text!r}" + (f": {found.assumed}" if found.assumed else "")
            marks = (Guess("package", found.outline.name, reason),) if found.assumed else ()
            return Present(found.outline.name, found.reading.terminals, marks)
    for found in (design, texts):
        if found:
            lost = Guess("package", "", f"{found.reading.text!r} is no outline of the catalogue")
            return Present("", found.reading.terminals, (lost,))
    hint = _from_socket(line, terminals, sockets) or _from_words(line, terminals)
    if hint:
        return hint
    said_nothing = (
        f"the letters {code.code!r} name a package that the catalogue lacks"
        if code and not lettered
        else "nothing in the bill tells it"
    )
    return Present("", None, (Guess("package", "", said_nothing),))


def _said_by(texts: list[str], terminals: int | None) -> _Said | None:
    """The first exact package text, or the first that says anything."""
    found: list[_Said] = []
    for text in texts:
        reading = read_package(text) if text else None
        if reading is None or reading.style in ("chip", "TO"):
            continue
        outline, assumed = outline_for(reading, terminals)
        if names_the_body_alone(reading, terminals):
            reading = replace(reading, terminals=None)
        found.append(_Said(reading, outline, assumed))
    return next(
        (one for one in found if one.exact), next((one for one in found if one.outline), found[0] if found else None)
    )


def _placed(line: BillLine, placements: Placements | None) -> str:
    places = placements.by_reference if placements else {}
    return next((places[ref].package for ref in line.references if ref in places), "")


def _order_code(line: BillLine, reading: LogicReading, terminals: int | None) -> OrderCode | None:
    """The package letters of the number, or of another spelling of the same number elsewhere in the line."""
    spellings = [reading]
    for text in (line.text("part_number"), line.text("value"), line.text("order_note"), *line.extra.values()):
        other = read_number(text)
        if (other and other.number == reading.number and other.family in (reading.family, "")) or (
            other and not reading.number
        ):
            spellings.append(other)
    for one in spellings:
        for letters in (one.suffix, _parted_letters(line, one)):
            code = read_order_code(letters, terminals, house_of(one.maker, one.tail)) if letters else None
            if code:
                return code
    return None


_PARTED = re.compile(r"[\s/_-]([DNPE]|[A-Z]{2,3}\d{0,2}|[SPD]\d{2})(?=$|[\s,;(-])")


def _parted_letters(line: BillLine, reading: LogicReading) -> str:
    """Package letters that a blank, dash or slash parts from the number: `74HC14-D`, `U74HC14G-S14-R`."""
    if len(reading.suffix) > 1:
        return ""  # they are letters already, though of no known package
    for field in ("part_number", "value"):
        text = line.text(field)
        at = text.find(reading.text) if reading.text else -1
        match = _PARTED.match(text, at + len(reading.text)) if at >= 0 else None
        if match:
            return match[1]
    return ""


def _outline_of(code: OrderCode, terminals: int | None) -> Outline | None:
    count = code.terminals or terminals
    if code.style == "QSOP" and count == QSOP_OF_14[0]:
        count = QSOP_OF_14[1]
    reading = PackageReading(code.style, count, None, None, code.code)
    return outline_for(reading, terminals)[0] if count else None


def _agrees(lettered: Outline, design: _Said | None) -> bool:
    """Whether the letters' outline may stand against what footprint or placement file say."""
    if design is None:
        return True
    if design.outline is None:
        return design.vague
    return (design.outline.family == lettered.family and design.outline.terminals == lettered.terminals) or design.vague


def _loose(design: _Said, lettered: Outline | None) -> bool:
    """Whether a footprint's word is one of the four that designers use for each other, against letters that tell.

    Eight leads at 0.65 mm or less: 2.3, 3.0 and 4.4 mm bodies go by all these names (`8-TSSOP, 8-MSOP` is one entry of
    distributors' lists, and one maker's letters for the 3.0 mm body meet `TSSOP` as often as `MSOP`).
    """
    return (
        design.vague
        and lettered is not None
        and design.outline is not None
        and lettered.name != design.outline.name
        and {lettered.name, design.outline.name} <= _EIGHT_LEAD_SHRINK
    )


_EIGHT_LEAD_SHRINK = frozenset(["SSOP-8", "MSOP-8", "VSSOP-8", "TSSOP-8"])


def _from_design(design: _Said, code: OrderCode | None, lettered: Outline | None) -> Present:
    assert design.outline is not None
    marks: tuple[Guess, ...] = ()
    drilled_by_both = code is not None and code.style == "DIP" and design.outline.drilled  # N tells no row spacing
    if code and lettered and lettered.name != design.outline.name and not drilled_by_both:
        reason = (
            f"the footprint {design.reading.text!r}; the order code's letters {code.code!r} ({code.mark}) name"
            f" {lettered.name}: look at it"
        )
        marks = (Guess("package", design.outline.name, reason),)
    return Present(design.outline.name, design.reading.terminals, marks)


def _from_letters(code: OrderCode, lettered: Outline, design: _Said | None, texts: _Said | None) -> Present:
    other = design if design and design.outline else texts
    if design is None and texts and texts.exact and texts.outline:
        if texts.outline.name == lettered.name:
            return Present(lettered.name, texts.reading.terminals)
        if code.mark != "verified" and not texts.vague:
            letters = f"the order code's letters {code.code!r} ({code.mark}) name {lettered.name}"
            reason = f"from {texts.reading.text!r}; {letters}"
            return Present(texts.outline.name, texts.reading.terminals, (Guess("package", texts.outline.name, reason),))
    against = f", over the text {other.reading.text!r}" if other and not _same(other, lettered) else ""
    reason = f"from the package letters {code.code!r} ({code.mark}){against}"
    count = code.terminals or (other.reading.terminals if other and _same(other, lettered) else None)
    return Present(lettered.name, count, (Guess("package", lettered.name, reason),))


def _same(said_text: _Said, outline: Outline) -> bool:
    return said_text.outline is not None and said_text.outline.name == outline.name


def _from_socket(line: BillLine, terminals: int | None, sockets: Mapping[str, PackageReading]) -> Present | None:
    for ref in line.references:
        found = outline_for(sockets[ref], terminals)[0] if ref in sockets else None
        if found:
            reason = f"a socket {sockets[ref].text!r} stands in the bill for {ref}"
            return Present(found.name, sockets[ref].terminals, (Guess("package", found.name, reason),))
    return None


def _from_words(line: BillLine, terminals: int | None) -> Present | None:
    if not terminals or not says_drilled(text_of(line)):
        return None
    found, _ = outline_for(PackageReading("DIP", terminals, None, None, ""), terminals)
    return (
        Present(found.name, None, (Guess("package", found.name, "the text speaks of a drilled part"),))
        if found
        else None
    )


def sockets_of(bill: Bill) -> dict[str, PackageReading]:
    """Package readings of the sockets of a bill, by the references they stand under."""
    found: dict[str, PackageReading] = {}
    for line in bill.lines:
        if SOCKET.search(text_of(line)):
            package = read_package(line.text("description") or line.text("value") or text_of(line))
            if package:
                found.update(dict.fromkeys(line.references, package))
    return found
