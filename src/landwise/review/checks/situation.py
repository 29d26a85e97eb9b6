"""Everything the checks of one side look at, and how a check says what it found."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypedDict, Unpack

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.quantities import several
from landwise.review.frames import Frames
from landwise.review.matching import Match, Registration
from landwise.review.model import Bools, Component, Finding, Ints, Lands, Openings, Side, carries_lead
from landwise.review.verdicts import UnderFoil

# Each is some 30 ms of processor time a foil; the real boards seen have at most a third of it.
MOST_KINDS = 600
PRACTICE_SOURCE = "review-practice"
KEYS: dict[str, str] = {
    "release": "paste release",
    "powder": "powder against opening",
    "contact": "foil against coplanarity",
    "volume": "paste on the land",
    "bridging": "gap between prints",
    "off-land": "paste beside its land",
    "extra": "aperture without land",
    "spanning": "opening over several lands",
    "missing": "land without paste",
    "fiducial": "paste on a fiducial",
    "lone-land": "paste on a lone land",
    "unprinted": "lands left unprinted",
    "via": "via in a printed land",
    "hole": "paste in hole",
    "registration": "paste film against copper",
    "centre": "centre pad",
    "large": "large opening",
    "unlike-paste": "unlike paste on a chip",
    "unlike-copper": "unlike copper on a chip",
    "balling": "balls beside chips",
}


@dataclass(frozen=True)
class Situation:
    """Everything the checks of one side look at."""

    side: Side
    paste: Openings
    lands: Lands
    matched: Match
    parts: tuple[Component, ...]
    part_of_land: Ints
    part_of: Ints
    under: UnderFoil
    registration: Registration | None
    print_offset_mm: float
    frames: Frames
    seat: str = ""
    most_kinds: int = MOST_KINDS  # of parts whose joints are counted, those that carry most openings first

    def name(self, part: int) -> str:
        """A part's name; empty for none."""
        return self.parts[part].name if part >= 0 else ""


class Measured(TypedDict, total=False):
    """What was measured and what it was held to; where, if not in the middle of the apertures; what it rests on."""

    value: float | None
    limit: float | None
    unit: str
    sources: tuple[str, ...]
    at: tuple[float, float]


def finding(
    given: Situation, key: str, level: Verdict, rows: Ints, part: int, says: str, **more: Unpack[Measured]
) -> Finding:
    """A finding on some apertures of a part; -1 for no part."""
    at = more.get("at") or (float(given.paste.x_mm[rows].mean()), float(given.paste.y_mm[rows].mean()))
    return Finding(
        key,
        level,
        given.name(part),
        given.side,
        tuple(int(k) for k in rows),
        at[0],
        at[1],
        says,
        more.get("value"),
        more.get("limit"),
        more.get("unit", ""),
        more.get("sources", ()),
    )


def by_part(given: Situation, rows: Ints) -> Iterator[tuple[int, Ints]]:
    """Apertures by the part they belong to; those without a part one by one."""
    its = given.part_of[rows]
    order = np.argsort(its, kind="stable")
    rows, its = rows[order], its[order]
    for some in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(its)) + 1):
        if not len(some):
            continue
        if its[some[0]] >= 0:
            yield int(its[some[0]]), rows[some]
        else:
            yield from ((-1, rows[k : k + 1]) for k in some)


def count(rows: Ints, what: str = "aperture") -> str:
    """How many, in words."""
    return several(len(rows), what)


def holed(given: Situation) -> Bools:
    """Which openings print on a drilled lead's land."""
    land = given.matched.land
    if not len(given.lands):
        return np.zeros(len(land), dtype=bool)
    found: Bools = (land >= 0) & carries_lead(given.lands)[land]
    return found


def rows_of_lands(given: Situation) -> Callable[[int], Ints]:
    """The openings of a land, by its number."""
    order = np.argsort(given.matched.land, kind="stable")  # of one land in file order
    start = np.searchsorted(given.matched.land[order], np.arange(len(given.lands) + 1)).tolist()

    def rows(land: int) -> Ints:
        return order[start[land] : start[land + 1]]

    return rows
