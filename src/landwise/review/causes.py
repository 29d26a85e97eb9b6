"""Findings brought together by cause and package: what an assembler acts on, and whom to ask."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.printing.model import Technology
from landwise.quantities import some_of
from landwise.review.model import Finding, Proposal
from landwise.review.reviews import Review, SideReview

Whom = Literal["designer", "stencil maker", "assembler"]
# Whom a cause is put to, and the question. `{parts}` are the parts' names.
QUESTIONS: Mapping[str, tuple[Whom, str]] = MappingProxyType(
    {
        "release": ("stencil maker", "Can these openings be cut smoother, or coated, so that they release: {parts}?"),
        "powder": ("assembler", "Is a finer powder on hand for {parts}?"),
        "contact": ("assembler", "Are the terminals of {parts} flat enough for this foil?"),
        "volume": ("designer", "Is the paste of {parts} meant to differ so much from its lands?"),
        "bridging": ("stencil maker", "Can the bars between these openings be cut: {parts}?"),
        "off-land": ("designer", "Is paste beyond the lands of {parts} meant?"),
        "extra": ("designer", "Is paste where no land is meant, or does a layer not match?"),
        "spanning": ("designer", "Is one opening over several lands of {parts} meant?"),
        "missing": ("designer", "Are the lands of {parts} meant to stay bare?"),
        "fiducial": ("designer", "Are the round lands near {parts} fiducials? They should have no paste."),
        "via": ("designer", "Are the vias in the lands of {parts} filled and capped?"),
        "hole": ("assembler", "Are the leads of {parts} soldered in paste, and does the part stand the oven?"),
        "registration": (
            "designer",
            "Were paste, copper and mask written from one revision, with one origin and unit?",
        ),
        "centre": ("designer", "Is the paste on the centre pad of {parts} meant as it is drawn?"),
        "large": ("stencil maker", "Do you divide openings as large as those of {parts} by bars?"),
        "unlike-paste": ("designer", "Are the unlike openings of {parts} meant?"),
        "unlike-copper": ("designer", "Can the copper at both ends of {parts} be made alike in the next revision?"),
        "balling": ("assembler", "Are balls beside chips a matter on this line?"),
    }
)
# The rules that mend a cause; see `mending.RULES`.
MENDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "volume": ("raise", "to-land", "unlike"),
        "bridging": ("narrow",),
        "release": ("grow",),
        "off-land": ("to-land", "unlike", "film"),
        "extra": ("stray",),
        "missing": ("missing",),
        "fiducial": ("fiducial",),
        "centre": ("panes",),
        "large": ("panes",),
        "unlike-paste": ("unlike", "to-land"),
        "registration": ("film",),
    }
)
MOST_NAMES = 6
# What better walls can still be had over the foil that the line orders.
RELEASE_ASKED: Mapping[Technology, str] = MappingProxyType(
    {
        "laser-polished": "Would a coated or electroformed foil release these openings: {parts}?",
        "electroformed": "These release badly from an electroformed foil too: what do you print of {parts}?",
        "nano-coated": "These release badly from a coated foil too: would an electroformed one print {parts}?",
    }
)


@dataclass(frozen=True)
class Cause:
    """One cause on one kind of part.

    Parameters
    ----------
    key, level : str
        Check, and the worst level among its findings.
    side : str
    package : str
        Kind of part, in words; empty for the board.
    parts : tuple of str
    apertures : int
    defects : float
        Expected on these parts of one board, from whatever cause.
    worst : Finding
    proposals : tuple of int
        Corrections of this side that touch these parts.
    """

    key: str
    level: Verdict
    side: str
    package: str
    parts: tuple[str, ...]
    apertures: int
    defects: float
    worst: Finding
    proposals: tuple[int, ...]


def named(parts: tuple[str, ...], most: int = MOST_NAMES) -> str:
    """Some names.

    >>> named(("R1", "R2", "R3"), 2)
    'R1, R2 and 1 more'
    """
    return some_of(parts, most)


def causes(side: SideReview) -> tuple[Cause, ...]:
    """The causes of one side: what fails before what is marginal, then by expected defects."""
    known = {side.given.parts[one.part].name: one for one in side.parts}
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in side.findings:
        if finding.level in ("fails", "marginal"):
            one = known.get(finding.component)
            groups.setdefault((finding.key, one.package if one else ""), []).append(finding)
    found = []
    for (key, package), its in groups.items():
        names = tuple(dict.fromkeys(name for f in its for name in _parts(side, f)))
        level: Verdict = "fails" if any(f.level == "fails" for f in its) else "marginal"
        worst = next(f for f in its if f.level == level)
        touched = tuple(p.number for p in side.proposals if set(p.parts) & set(names))
        defects = sum(known[name].defects for name in names if name in known)
        apertures = sum(len(f.apertures) for f in its)
        found.append(Cause(key, level, side.side, package, names, apertures, defects, worst, touched))
    return tuple(sorted(found, key=lambda c: (c.level != "fails", -c.defects, -c.apertures)))


def _parts(side: SideReview, finding: Finding) -> tuple[str, ...]:
    """The part of a finding; of one that is about a whole kind of part, those whose openings it names."""
    if finding.component or finding.key != "contact":
        return (finding.component,) if finding.component else ()
    its = np.unique(side.given.part_of[list(finding.apertures)])
    return tuple(side.given.parts[int(part)].name for part in its if part >= 0)


def questions(
    causes_: Sequence[Cause], proposals: Sequence[Proposal] = (), technology: Technology = "laser-cut"
) -> Mapping[Whom, tuple[str, ...]]:
    """What to ask whom: one question a check, with the parts of all kinds it is about.

    Nobody is asked for what the foil's technology is already.

    Parts for which a correction of that very cause is proposed are left out: there the correction is the question, or
    nobody need be asked.
    """
    parts: dict[str, list[str]] = {}
    for cause in causes_:
        if cause.key not in QUESTIONS:
            continue
        mended = {part for one in proposals if one.rule in MENDS.get(cause.key, ()) for part in one.parts}
        left = [part for part in cause.parts if part not in mended]
        if left or not cause.parts:
            parts.setdefault(cause.key, []).extend(left)
    found: dict[Whom, list[str]] = {"designer": [], "stencil maker": [], "assembler": []}
    for key, names in parts.items():
        whom, text = QUESTIONS[key]
        text = RELEASE_ASKED.get(technology, text) if key == "release" else text
        found[whom].append(text.format(parts=named(tuple(dict.fromkeys(names))) or "the board"))
    return {whom: tuple(asks) for whom, asks in found.items() if asks}


def boards_at_stake(result: Review) -> tuple[float, float, float]:
    """Boards of the run with at least one defect: middle, low, high.

    A land that no opening prints is open on every board. All other defects are taken to fall on boards by chance
    (Poisson), which is the most boards they can reach.
    """
    sure = [lands_left_bare(side) / side.boards for side in result.sides]
    spared = math.prod(max(0.0, 1.0 - bare) for bare in sure)
    totals = [
        sum(max(0.0, side.expected[k] / side.boards - bare) for side, bare in zip(result.sides, sure, strict=True))
        for k in range(3)
    ]
    middle, low, high = (result.run * (1.0 - spared * math.exp(-total)) for total in totals)
    return middle, low, high


def lands_left_bare(side: SideReview) -> int:
    """Lands of parts whose joints are counted that get no paste, also not from what was written."""
    given = side.given
    added = {change.unit for change in side.written if change.aperture < 0}
    count = 0
    for one in side.parts:
        part = given.parts[one.part]
        if one.known:
            outer = [land for land in part.lands if land not in part.centre]
            count += sum(not given.matched.printed[land] and land not in added for land in outer)
    return count
