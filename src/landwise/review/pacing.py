"""What a review gets done in the time it was given, and what it leaves undone and says.

Joints are the dear part: a kind of part takes some 30 ms a foil, and seconds where each of its lands has a size of its
own. So the kinds that carry most openings are worked first, under all foils, until half of the time is spent; the
foils then share what is left for weighing corrections, and prints are designed last. Nothing depends on time where
there is enough.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.assembly.lines import Line
from landwise.board.workers import Helpers
from landwise.printing.model import Powder
from landwise.review.checks.situation import Situation
from landwise.review.levels import Level, Levels, PartPrinted
from landwise.review.mending.sheet import Sheet
from landwise.review.mending.weighing import part_printed
from landwise.review.naming import packages_of

FOR_JOINTS, FOR_FOILS, FOR_ALL = 0.45, 0.8, 0.9  # of a side's time; the rest is for writing
RAISE = "--most-seconds gives it more"
SHARED_FROM = 200  # levels: a process takes a second or two to start, as long as some fifty of them


@dataclass(frozen=True)
class Pace:
    """The time of one side of a board, as what is left of a review's at its beginning and at its end. [s]"""

    left: Callable[[], float]
    begin: float
    mine: float

    @classmethod
    def of(cls, left: Callable[[], float], share: float) -> Pace:
        """Of a side that has so much of the openings that are still to be reviewed."""
        begin = left()
        return cls(left, begin, begin * share)

    def past(self, share: float) -> bool:
        """Whether so much of the side's time is spent."""
        return math.isfinite(self.begin) and self.begin - self.left() > share * self.mine

    def for_foil(self, number: int, foils: int) -> Callable[[], bool]:
        """Whether one foil's part of what joints left is spent, from now on; foils are numbered from 0."""
        if not math.isfinite(self.begin):
            return lambda: False
        now = self.left()
        end = now - max(now - self.begin + FOR_FOILS * self.mine, 0.0) / (foils - number)
        return lambda: self.left() < end


def counted_in_time(
    given: Situation, foils: Sequence[float], levels: Levels, pace: Pace, jobs: int, notes: list[str]
) -> Situation:
    """Joints of the kinds of part as they came, as many as there is time for; say it where that is not all."""
    if not given.parts:
        return given
    sheet = Sheet(given, packages_of(given.parts, given.frames)[1])
    most = kinds_in_time(sheet, foils, levels, pace, jobs)
    in_time = most >= min(len(sheet.kinds()), given.most_kinds)
    given = replace(given, most_kinds=most)
    its = Sheet(given, sheet.package).counted if not in_time else sheet.counted
    if not its.all():
        notes.append(
            f"{given.side}: joints are counted for the {most} kinds of part that carry most openings,"
            f" {int(its.sum()):,} of {len(its):,} parts, and prints for the others;"
            f" {'--most-kinds raises it' if in_time else RAISE}"
        )
    return given


def left_unweighed(side: str, foil_um: float, many: int, notes: list[str]) -> None:
    """Say it where corrections were not weighed for want of time."""
    if many:
        what = "possible correction was" if many == 1 else "possible corrections were"
        notes.append(f"{side}: under {foil_um:g} µm {many:,} {what} not weighed for want of time; {RAISE}")


def kinds_in_time(sheet: Sheet, foils_um: Sequence[float], levels: Levels, pace: Pace, jobs: int) -> int:
    """Work the joints of the side's kinds as they came, under all foils, in the order of what they carry.

    Parameters
    ----------
    sheet : Sheet
        With no change.
    foils_um : sequence of float
        [µm]
    levels : Levels
        Keeps what is worked.
    pace : Pace
    jobs : int
        Processes.

    Returns
    -------
    int
        How many of the kinds there was time for, from the first.
    """
    kinds = sheet.kinds()[: sheet.given.most_kinds].tolist()
    part_of = dict(zip(*(its.tolist() for its in np.unique(sheet.variant, return_index=True)), strict=True))
    by_kind = {kind: part_printed(sheet, part_of[kind]) for kind in sorted(kinds, key=part_of.__getitem__)}
    # Of kinds that come to one key the first in the file's order stands for all, in whatever order they are worked.
    met = [one for one in by_kind.values() if one is not None]
    known = {one.key: one for one in reversed(met)}
    first = levels.meet(met)
    parts = [known[one.key] if one is not None else None for one in (by_kind[kind] for kind in kinds)]
    if jobs > 1:
        _shared(first, parts, foils_um, levels, pace, jobs)
    for number, one in enumerate(parts):
        if one is None:
            continue
        for um in foils_um:
            if pace.past(FOR_JOINTS) and not levels.has(one, um):
                return number
            levels.under(one, um)
    return len(parts)


def _shared(
    first: tuple[PartPrinted, ...],
    parts: Sequence[PartPrinted | None],
    foils_um: Sequence[float],
    levels: Levels,
    pace: Pace,
    jobs: int,
) -> None:
    """Let several processes work what is not known yet, where it is so much that they are sooner done."""
    own = {part.key: part for part in parts if part}
    new = [part for part in own.values() if not all(levels.has(part, um) for um in foils_um)]
    if len(new) * len(foils_um) < SHARED_FROM:
        return
    # Neighbours in the order take about as long: dealt out in turn, what is done when time is up is a beginning.
    given = levels.line, levels.powder, first, tuple(new), tuple(foils_um)

    def stop() -> bool:
        levels.going("levels, in several processes")
        return pace.past(FOR_JOINTS)

    with Helpers(_ready, given, jobs - 1) as helpers:
        held = levels, tuple(new), tuple(foils_um)
        for number, worked in helpers.shared_out(_worked, range(len(new)), held, stop):
            for um, level in zip(foils_um, worked, strict=True):
                levels.keep(new[number], um, level)


Given = tuple[Line, Powder, tuple[PartPrinted, ...], tuple[PartPrinted, ...], tuple[float, ...]]
Held = tuple[Levels, tuple[PartPrinted, ...], tuple[float, ...]]


def _ready(given: Given) -> Held:
    line, powder, first, parts, foils_um = given
    levels = Levels(line, powder)
    levels.meet(first)
    return levels, parts, foils_um


def _worked(held: Held, number: int) -> tuple[Level, ...]:
    levels, parts, foils_um = held
    return tuple(levels.under(parts[number], um) for um in foils_um)
