"""From a bill of materials to a commented study file: what was read, what was guessed, what could not be read."""

from __future__ import annotations

import json
from collections.abc import Sequence

from landwise.fabdata.functionnumbers import asked_for
from landwise.fabdata.parts import RecognisedPart, Recognition
from landwise.outlines.choice import proposals
from landwise.outlines.supply import supply_of
from landwise.quantities import some_of
from landwise.study.otherprocesses import OtherProcesses, processes_of_others
from landwise.study.othersfoil import OthersFoil, foil_of_others

HIDDEN_STYLES = ("QFN", "BGA", "WLP", "LGA")
KIND_WORDS = {
    "logic": "logic parts, studied below",
    "other IC": "other integrated circuits",
    "passive": "resistors, capacitors, coils, crystals",
    "discrete": "diodes, transistors, lamps",
    "connector": "connectors and sockets",
    "electromechanical": "switches, displays, sounders",
    "mechanical": "mounting holes, test points, signs",
    "unread": "could not be read: look at them",
}


def study_text(
    found: Recognition, *, bill: str, placement: str | None, board: str, line_file: str | None = None
) -> str:
    """The study file for a recognised bill, as commented TOML.

    Every part of the bill is accounted for: logic parts as tables, the rest counted by kind, unread lines
    listed with their reason. Every guess stands as a comment and in the part's `guesses`.
    """
    hidden, grid = _hidden_already(found, HIDDEN_STYLES), _hidden_already(found, ("BGA",))
    lines = [
        "#:schema ./landwise.schema.json",
        f"# Study of {_one_line(board)}, begun from {_one_line(bill)}"
        + (f" and {_one_line(placement)}" if placement else "")
        + ".",
        "# Lines marked `guess` were not said by the bill: look at them. Every default stands in `landwise defaults`.",
        "",
        "landwise = 1",
        "",
        "[board]",
        f"name = {_text(board)}",
        f"layers = {4 if grid else 2}              # guess: "
        + (
            f"{grid} is a ball grid, which hardly fans out on two"
            if grid
            else "the bill does not tell; each layer above two makes area dearer"
        ),
        'track = "0.15 mm"',
        'space = "0.15 mm"',
        "# With its size the board is checked for room, once for the choice and once for today's packages:",
        '# length = "90 mm"',
        '# width = "60 mm"',
        '# reserved = "1200 mm2"    # what all other parts and the tracks need',
        '# keepouts = [{ name = "screw", x = "0 mm", y = "0 mm", length = "7 mm", width = "7 mm" }]',
    ]
    if hidden:
        lines.append(f"xray_anyway = true      # guess: {hidden} has joints under its body already")
    lines += _other_processes(processes_of_others(found))
    lines += _others_foil(foil_of_others(found))
    lines += [
        "",
        "[line]",
        (
            f"file = {_text(line_file)}    # what stands here stands before it"
            if line_file
            else 'preset = "ordinary"     # guess: ordinary | fine | bench; then state what differs:'
        ),
        '# foil = "80 um"         # binds the board to this foil; without it the choice takes any of the foils on hand',
        '# foils = ["80 um", "100 um"]',
        "",
        "[use]",
        'voltage = "5 V"         # guess: the highest voltage between neighbouring terminals',
        "",
        "[want]",
        'hidden_joints = "as the line sees"',
        'supply = "likely"       # packages the function was seen in, or like functions were; "seen" | "any"',
        "",
        "[costs]",
        'unit = "units"          # your money',
        "run = 1000              # guess: boards to be built",
        "# Without quoted prices packages differ by ratios of one list, with wide bands around an assumed level.",
        '# Quote them, or name files that `landwise offers` wrote: offers = ["offers.toml"] at the top of this file.',
        (
            '#   options = [{ outline = "TSSOP-14", price = 0.11 }, { outline = "SO-14", prices = { "1" = 0.20, "1000"'
            " = 0.09 } }]"
        ),
        "",
        *_account(found),
    ]
    for part in found.logic:
        lines += ["", *_part(part)]
    if not found.logic:
        lines += [
            "",
            "# No logic part was found. Add one by hand:",
            "# [[part]]",
            '# refs = ["U1"]',
            '# function = "quad 2-input NAND gate"',
            "# terminals = 14",
        ]
    return "\n".join(lines) + "\n"


def _other_processes(others: OtherProcesses) -> list[str]:
    """Which processes the parts that are not studied bring to the board anyway, where the bill tells."""
    lines = []
    if others.drilled:
        lines.append(f"drilled_anyway = true   # guess: {_one_line(others.drilled)} is drilled already")
    if others.unprinted:
        lines.append(f"printed_anyway = false  # guess: {_one_line(others.unprinted)}")
    return lines


def _others_foil(others: OthersFoil) -> list[str]:
    """What the parts that are not studied bear of the foil, and whose pitch is not known."""
    lines = []
    if others.thickest_um is not None:
        lines.append(
            f'thickest_foil = "{others.thickest_um:g} um" # guess: {_one_line(others.who)} is printed by the same foil'
        )
    else:
        lines.append('# thickest_foil = "125 um" # the same foil prints all other parts: state what the finest bears')
    if others.untold:
        named = ", ".join(others.untold[:MOST_NAMED])
        more = f" and {len(others.untold) - MOST_NAMED} more" if len(others.untold) > MOST_NAMED else ""
        lines.append(f"# Their pitch is not told, so they don't count in it: {_one_line(named)}{more}")
    return lines


def _account(found: Recognition) -> list[str]:
    counts = found.count()
    lines = ["# What the bill holds:"]
    lines += [f"#   {counts[kind]:4d}  {words}" for kind, words in KIND_WORDS.items() if counts.get(kind)]
    if found.unread:
        lines += ["#", "# Could not be read (add them by hand if they are logic):"]
        lines += [
            f"#   {f'row {unread.row}' if unread.row else 'placement file'}: {_refs(unread.references)}:"
            f" {_one_line(unread.text)} ({unread.reason})"
            for unread in found.unread
        ]
    others = [part for part in found.parts if part.kind == "other IC"]
    if others:
        lines += ["#", "# Taken as other integrated circuits, not logic:"]
        lines += [f"#   {_refs(part.references)}: {_one_line(part.part_number) or 'no part number'}" for part in others]
    if found.notes:
        lines += ["#", "# Notes on reading the bill:"]
        lines += [f"#   {_one_line(note)}" for note in found.notes]
    return lines


def _part(part: RecognisedPart) -> list[str]:
    lines = [f"[[part]]                # {_rows(part)}: {_one_line(part.part_number)}"]
    lines.append(f"refs = [{', '.join(_text(ref) for ref in part.references)}]")
    lines.append(f"function = {_text(part.function)}")
    if part.number:
        lines.append(f"number = {_text(part.number)}")
        lines.append(f"family = {_text(part.family)}")
    if part.terminals:
        lines.append(f"terminals = {part.terminals}")
    if part.outline:
        lines.append(
            f"package = {_text(part.outline)}"
            + (f"  # the bill says {_one_line(part.package_text)}" if part.package_text else "")
        )
    else:
        lines.append('# package = "…"         # not known: totals before and after leave this part out')
    if part.price is not None:
        lines.append(f"price = {part.price:g}")
    if part.socketed:
        lines.append("socketed = true        # a socket stands in the bill for it")
    if not part.fitted:
        lines.append("fitted = false         # the bill marks it as not fitted")
    lines.append('options = "any"')
    lines += _seen_in(part)
    if part.guesses:
        lines += [
            f"# guess: {guess.field} = {guess.value or 'unknown'}: {_one_line(guess.reason)}" for guess in part.guesses
        ]
        lines.append(f"guesses = [{', '.join(_text(f'{g.field}: {g.value}: {g.reason}') for g in part.guesses)}]")
    return lines


def _rows(part: RecognisedPart) -> str:
    """Where the bill names a part."""
    if not part.row:
        return "placement file"
    rows = [str(row) for row in (part.row, *part.more_rows)]
    if len(rows) == 1:
        return f"row {rows[0]}"
    return f"rows {', '.join(rows[:4])}" + (f" and {len(rows) - 4} more" if len(rows) > 4 else "")


def _seen_in(part: RecognisedPart) -> list[str]:
    """A comment on the packages that the part was seen in, and those that like functions come in."""
    if not part.terminals:
        return []
    asked = asked_for(part.number, part.family, part.function, part.terminals, part.little)
    states = {outline.name: supply_of(asked, outline).state for outline in proposals(part.terminals, asked=asked)}
    lines = []
    for state, words in (("seen", "seen in"), ("likely", "likely in")):
        names = [name for name, found in states.items() if found == state]
        if names:
            lines.append(f"# {words} {some_of(names, MOST_NAMED)}")
    return lines or ["# not seen in any package of the catalogue: name its options, or offers"]


MOST_NAMED = 12


def _hidden_already(found: Recognition, styles: Sequence[str]) -> str:
    """A part that is no logic and comes in one of the styles whose joints lie under the body."""
    from landwise.fabdata.packages import read_package

    for part in found.parts:
        if part.kind != "other IC" or not part.fitted:
            continue
        reading = read_package(part.package_text or part.part_number)
        if reading and reading.style in styles:
            return f"{part.references[0]} ({_one_line(reading.text)})"
    return ""


def _refs(references: Sequence[str]) -> str:
    return some_of(references, 6)


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:110]


def _text(value: str) -> str:
    # JSON strings are TOML basic strings but for DEL, which no bill needs.
    return json.dumps(value.replace("\x7f", ""), ensure_ascii=False)
