"""A user's decisions on proposed changes: a file that the next run obeys.

TOML, one `[[decision]]` each; a later one outranks an earlier one. All conditions that are given must hold:

    [[decision]]
    answer = "refuse"            # or "accept"
    package = "QFN-56*"          # words of the package, * for any letters
    part = "U3"                  # reference, * for any letters
    rule = "panes"               # key of the rule
    side = "top"
    opening = [12.35, 40.10]     # middle of one opening, mm on the film
    proposal = 3                 # number of a proposal: holds for this film only, not for the next revision
    note = "vias between the windows"
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Literal

from landwise.errors import FileError, InputError
from landwise.review.mending import RULES
from landwise.review.model import Change, Decided, Proposal
from landwise.untyped import Table

Apply = Literal["none", "safe", "all"]
APPLY: tuple[Apply, ...] = ("none", "safe", "all")
LONGEST_FILE = 5_000_000
HERE_MM = 0.05  # a decision on an opening holds for one whose middle lies this near
ANSWERS: Mapping[str, Decided] = {"accept": "accepted", "refuse": "refused"}


@dataclass(frozen=True)
class Decision:
    """One answer and what it holds for; None where any will do."""

    answer: Decided
    package: str | None = None
    part: str | None = None
    rule: str | None = None
    side: str | None = None
    opening: tuple[float, float] | None = None
    note: str = ""
    proposal: int | None = None

    def meets(self, proposal: Proposal, change: Change) -> bool:
        """Whether it is about this change."""
        if self.rule is not None and self.rule != proposal.rule:
            return False
        if self.proposal is not None and self.proposal != proposal.number:
            return False
        if self.side is not None and self.side != change.side:
            return False
        if self.package is not None and not fnmatchcase(proposal.package.upper(), self.package.upper()):
            return False
        if self.part is not None and not fnmatchcase(change.component, self.part):
            return False
        if self.opening is None:
            return True
        return max(abs(change.x_mm - self.opening[0]), abs(change.y_mm - self.opening[1])) <= HERE_MM


def read_decisions(path: Path | None) -> tuple[Decision, ...]:
    """The decisions of a file.

    Raises
    ------
    FileError, InputError
        For a file that can't be read or holds a name or value that is not known, with its number.
    """
    if path is None:
        return ()
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileError("can't read the decisions", file=str(path), found=error.strerror or str(error)) from None
    if len(data) > LONGEST_FILE:
        raise FileError("the file of decisions is too long", file=path.name, expected=f"at most {LONGEST_FILE} bytes")
    return parsed(data, path.name)


def parsed(data: bytes, file: str) -> tuple[Decision, ...]:
    """The decisions of a text.

    >>> parsed(b'[[decision]]\\nanswer = "refuse"\\npart = "U3"', "d.toml")[0].answer
    'refused'
    """
    try:
        read = tomllib.loads(data.decode("utf-8-sig"))
    except ValueError as error:  # no text, no TOML, or a number of too many digits
        raise FileError("the decisions can't be understood", file=file, found=str(error)[:120]) from None
    rows = read.get("decision", [])
    if set(read) - {"decision"} or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError("not a file of decisions", file=file, found=", ".join(read), expected="[[decision]] tables")
    return tuple(_decision(row, file, f"decision {number}") for number, row in enumerate(rows, 1))


def _decision(row: Table, file: str, place: str) -> Decision:
    if odd := set(row) - set(Decision.__dataclass_fields__):
        raise InputError(
            "unknown name in a decision",
            file=file,
            place=place,
            found=", ".join(sorted(odd)),
            expected=", ".join(Decision.__dataclass_fields__),
        )
    if row.get("answer") not in ANSWERS:
        raise InputError(
            "no answer", file=file, place=place, found=str(row.get("answer", ""))[:40], expected=" | ".join(ANSWERS)
        )
    texts = {name: row.get(name) for name in ("package", "part", "rule", "side", "note")}
    for name, value in texts.items():
        if value is not None and not isinstance(value, str):
            raise InputError("a text is asked", file=file, place=f"{place}, {name}", found=str(value)[:40])
    if texts["rule"] is not None and texts["rule"] not in RULES:
        raise InputError(
            "no such rule", file=file, place=f"{place}, rule", found=texts["rule"], expected=" | ".join(RULES)
        )
    if texts["side"] not in (None, "top", "bottom"):
        raise InputError(
            "no such side", file=file, place=f"{place}, side", found=str(texts["side"]), expected="top | bottom"
        )
    at = row.get("opening")
    if at is not None:
        plain = isinstance(at, list) and len(at) == 2 and all(type(one) in (int, float) for one in at)
        if not plain:
            raise InputError("a place is two numbers", file=file, place=f"{place}, opening", expected="[x, y] in mm")
        at = (float(at[0]), float(at[1]))
    number = row.get("proposal")
    if number is not None and type(number) is not int:
        raise InputError("a whole number is asked", file=file, place=f"{place}, proposal", found=str(number)[:40])
    return Decision(
        ANSWERS[row["answer"]],
        texts["package"],
        texts["part"],
        texts["rule"],
        texts["side"],
        at,
        texts["note"] or "",
        number,
    )


def decided(
    proposals: Sequence[Proposal], changes: Sequence[Change], decisions: Sequence[Decision]
) -> tuple[Change, ...]:
    """The changes with what was decided on each; what belongs together is decided together."""
    if not decisions:
        return tuple(changes)
    answers: dict[tuple[int, int], Decided] = {}
    for decision in decisions:
        for change in changes:
            if decision.meets(proposals[change.proposal], change):
                answers[change.proposal, change.unit] = decision.answer
    return tuple(replace(change, decided=answers.get((change.proposal, change.unit), "")) for change in changes)


def fates(changes: Sequence[Change]) -> Mapping[int, Decided]:
    """What became of each proposal all of whose openings were decided alike."""
    answers: dict[int, set[Decided]] = {}
    for change in changes:
        answers.setdefault(change.proposal, set()).add(change.decided)
    return {number: next(iter(its)) for number, its in answers.items() if len(its) == 1 and its != {""}}


def idle(
    sides: Sequence[tuple[Sequence[Proposal], Sequence[Change]]], decisions: Sequence[Decision]
) -> tuple[str, ...]:
    """Decisions that meet nothing on any side, in words: a name mistyped, or a matter that the film no longer has."""
    found = []
    for number, decision in enumerate(decisions, 1):
        if not any(decision.meets(some[change.proposal], change) for some, its in sides for change in its):
            names = ("package", "part", "rule", "side", "opening", "proposal")
            held = [f"{name} {getattr(decision, name)}" for name in names if getattr(decision, name) is not None]
            found.append(f"decision {number} ({', '.join(held) or 'for all'}) meets no proposal of this review")
    return tuple(found)


def applied(proposals: Sequence[Proposal], changes: Sequence[Change], apply: Apply) -> tuple[Change, ...]:
    """The changes that are written: accepted ones always, refused ones never, the others as `apply` says."""

    def wanted(change: Change) -> bool:
        if change.decided:
            return change.decided == "accepted"
        return apply == "all" or (apply == "safe" and not proposals[change.proposal].asked)

    return tuple(change for change in changes if wanted(change))


def decisions_text(proposals: Sequence[Proposal], decisions: Sequence[Decision], changes: Sequence[Change] = ()) -> str:
    """A file with what was decided so far, and a commented table for every proposal still open."""
    by_side: dict[str, list[Change]] = {}
    for change in changes:
        by_side.setdefault(change.side, []).append(change)
    settled = {(side, number) for side, its in by_side.items() for number in fates(its)}
    lines = ["# Decisions on a review's proposals; the next run obeys them: landwise review … --decisions FILE", ""]
    back = {value: key for key, value in ANSWERS.items()}
    for decision in decisions:
        lines += ["[[decision]]", f'answer = "{back[decision.answer]}"']
        for name in ("package", "part", "rule", "side", "note"):
            if value := getattr(decision, name):
                lines.append(f"{name} = {_quoted(value)}")
        if decision.proposal is not None:
            lines.append(f"proposal = {decision.proposal}")
        if decision.opening is not None:
            lines.append(f"opening = [{decision.opening[0]:.4f}, {decision.opening[1]:.4f}]")
        lines.append("")
    for proposal in proposals:
        if (proposal.side, proposal.number) in settled:
            continue
        parts = ", ".join(proposal.parts[:6]) + (" and others" if len(proposal.parts) > 6 else "")
        lines += [
            f"# {proposal.side}, {proposal.package or 'no part'} ({parts or '-'}): {proposal.what}; {proposal.reason}",
            "# [[decision]]",
            '# answer = "accept"' + ("  # asked: " + proposal.asked if proposal.asked else ""),
            f'# side = "{proposal.side}"',
            f'# rule = "{proposal.rule}"',
            f"# package = {_quoted(proposal.package)}",
            "",
        ]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    plain = "".join(ch if ch.isprintable() and ch not in '"\\' else f"\\u{ord(ch):04X}" for ch in text)
    return f'"{plain}"'
