"""What a bill's other parts bring to the board anyway: soldering of drilled parts, or the print of printed ones."""

from __future__ import annotations

from dataclasses import dataclass

from landwise.fabdata.mounting import Mounted
from landwise.fabdata.parts import RecognisedPart, Recognition
from landwise.outlines import find
from landwise.quantities import several


@dataclass(frozen=True)
class OtherProcesses:
    """What is on a board beside the logic.

    Parameters
    ----------
    drilled : str
        A part that is drilled, in words; empty where the bill tells of none.
    unprinted : str
        Why nothing else is taken to be printed, in words; empty where something is, or too little is told.
    """

    drilled: str
    unprinted: str


def processes_of_others(found: Recognition) -> OtherProcesses:
    """What the fitted parts of a bill tell of the processes that a board goes through whatever its logic comes in.

    Parameters
    ----------
    found : Recognition

    Notes
    -----
    Nearly every board carries printed chips. That one carries none is taken only from a bill in which no line tells
    of a printed part, the logic's present packages among them, and at least half of the lines of resistors, capacitors
    and the like tell that they are drilled (landwise's own rule).

    Examples
    --------
    >>> rows = [RecognisedPart((f"R{n}",), "passive", "", "", "", None, "", "", "10k axial", (), n, mounted="drilled")
    ...         for n in (1, 2)]
    >>> found = processes_of_others(Recognition(tuple(rows), (), ()))
    >>> found.drilled, found.unprinted
    ('R1 (10k axial)', 'R1 (10k axial) and 1 more row are drilled, and none tells of a printed part')
    """
    others = [part for part in found.parts if part.kind != "logic" and part.fitted and part.references]
    drilled = [part for part in others if part.mounted == "drilled"]
    if not drilled:
        return OtherProcesses("", "")
    first = f"{drilled[0].references[0]} ({drilled[0].package_text or drilled[0].part_number})"
    printed = any(_mounted(part) == "printed" for part in (*others, *found.logic))
    passives = [part.mounted for part in others if part.kind == "passive"]
    if printed or not passives or 2 * passives.count("drilled") < len(passives):
        return OtherProcesses(first, "")
    more = len(drilled) - 1
    rest = f" and {several(more, 'more row')} are" if more else " is"
    return OtherProcesses(first, f"{first}{rest} drilled, and none tells of a printed part")


def _mounted(part: RecognisedPart) -> Mounted | None:
    """How a part is mounted; of logic, by the package it comes in today."""
    if part.kind != "logic" or not part.outline:
        return part.mounted
    return "drilled" if find(part.outline).drilled else "printed"
