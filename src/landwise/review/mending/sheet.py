"""A paste layer while it is being mended: which outlines stand where openings were, and which are new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Set
from dataclasses import dataclass, field

import numpy as np

from landwise.review.checks.situation import Situation, rows_of_lands
from landwise.review.families import Spot
from landwise.review.frames import mixed, steps
from landwise.review.levels import Prints, spots_of
from landwise.review.measuring import measured
from landwise.review.model import Bools, Floats, Ints, carries_lead
from landwise.review.verdicts import under_middle
from landwise.shapes import Geometry, as_array

Outlines = tuple[Geometry, ...]


@dataclass(frozen=True)
class Draft:
    """One proposal before it is weighed: a rule applied to alike parts.

    Parameters
    ----------
    rule : str
        Key of the rule, such as `panes`.
    parts : tuple of int
        Parts it changes.
    rows : mapping of opening to outlines
        What stands in its place; none for a removal.
    added : mapping of land to outlines
        New openings.
    what, reason : str
    asked : str
        Why somebody must say yes first; empty where nobody would object.
    aside : bool
        Whether the openings lie off their lands all to one side of the part, which nobody draws on purpose.
    """

    rule: str
    parts: tuple[int, ...]
    rows: Mapping[int, Outlines]
    added: Mapping[int, Outlines]
    what: str
    reason: str
    asked: str = ""
    aside: bool = False


@dataclass
class Sheet:
    """The layer of a side, and what has been changed so far.

    Parameters
    ----------
    given : Situation
    package : tuple of int
        The package of each part: parts with one number are alike.
    """

    given: Situation
    package: Ints
    changed: dict[int, Outlines] = field(default_factory=dict)
    added: dict[int, Outlines] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rows_of = rows_of_lands(self.given)
        self.leaded = carries_lead(self.given.lands)
        self.middle = under_middle(self.given.parts, len(self.given.lands))
        self.alike = np.bincount(self.package) if len(self.package) else np.zeros(0, dtype=np.int64)
        self.came: dict[Hashable, Floats] = {}  # what was worked of the lands as the film came, by what it is
        self._moved = {int(self.given.matched.land[row]) for row in self.changed} | set(self.added)
        self.variant = self._variants()
        self.counted = self._counted()
        named = sum(part.named_by == "placement" for part in self.given.parts)
        self.placed = named > len(self.given.parts) / 3  # whether a placement file names this side's parts

        self._named = self._names()

    def _names(self) -> dict[int, str]:
        """What files call the package of each land pattern: the name most of its parts bear."""
        said: dict[int, Counter[str]] = {}
        for part, number in zip(self.given.parts, self.given.frames.key.tolist(), strict=True):
            if part.package:
                said.setdefault(number, Counter())[part.package] += 1
        return {number: max(sorted(its), key=its.__getitem__) for number, its in said.items()}

    def package_name(self, part: int) -> str:
        """What a file calls a part's package, or that of others on the same lands; empty if none does."""
        return self._named.get(int(self.given.frames.key[part]), "")

    def _variants(self) -> Ints:
        """Which parts are alike and printed alike, as a number a part."""
        given = self.given
        paste, count = given.paste, len(given.parts)
        own = given.part_of
        inside = own >= 0
        at = own[inside]
        x0 = np.array([part.x_mm for part in given.parts], dtype=np.float64)
        y0 = np.array([part.y_mm for part in given.parts], dtype=np.float64)
        turn = given.frames.turn_rad[at] if count else np.zeros(0)
        dx, dy = paste.x_mm[inside] - x0[at], paste.y_mm[inside] - y0[at]
        x, y = dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)
        size = steps(paste.length_mm[inside]), steps(paste.width_mm[inside]), steps(np.sqrt(paste.area_mm2[inside]))
        sums = np.zeros(count, dtype=np.uint64)
        np.add.at(sums, at, mixed(steps(x), steps(y), *size))
        both = mixed(given.frames.key.astype(np.int64), sums.astype(np.int64))
        return np.unique(both, return_inverse=True)[1].astype(np.int64)

    def _counted(self) -> Bools:
        """Parts whose joints are counted: of more kinds than there is time for, those that carry most openings."""
        if not len(self.variant):
            return np.zeros(0, dtype=bool)
        often = np.bincount(self.variant)
        if len(often) <= self.given.most_kinds:
            return np.ones(len(self.variant), dtype=bool)
        chosen = np.zeros(len(often), dtype=bool)
        chosen[self.kinds()[: self.given.most_kinds]] = True
        found: Bools = chosen[self.variant]
        return found

    def kinds(self) -> Ints:
        """Kinds of part printed alike, those that carry most openings first; of equals the one that comes first."""
        kinds, first = np.unique(self.variant, return_index=True)
        its = self.given.part_of[self.given.part_of >= 0]
        carried = np.bincount(self.variant[its], minlength=len(kinds))
        order: Ints = np.lexsort([first, -carried])
        return order

    def shapes_on(self, land: int, draft: Draft | None = None) -> list[Geometry]:
        """What prints on a land now, or would after a draft."""
        found: list[Geometry] = []
        for row in self.rows_of(land):
            row = int(row)
            if draft is not None and row in draft.rows:
                found += draft.rows[row]
            elif row in self.changed:
                found += self.changed[row]
            else:
                found.append(self.given.paste.polygon[row])
        if draft is not None and land in draft.added:
            return found + list(draft.added[land])
        return found + list(self.added.get(land, ()))

    @property
    def touched_lands(self) -> Set[int]:
        """Lands on which anything is not as it was drawn."""
        return self._moved

    def drafted(self, draft: Draft | None) -> Set[int]:
        """Lands that a draft draws anew; none without one."""
        if draft is None:
            return frozenset()
        land = self.given.matched.land
        return set(draft.added) | set(land[list(draft.rows)].tolist())

    def touched(self, land: int, draft: Draft | None = None) -> bool:
        """Whether anything on a land is not as it was drawn."""
        if land in self._moved or (draft is not None and land in draft.added):
            return True
        return draft is not None and any(int(r) in draft.rows for r in self.rows_of(land))

    def prints(self, part: int, draft: Draft | None = None) -> Prints:
        """What prints on each land of a part, in its frame."""
        given = self.given
        one = given.parts[part]
        turn = float(given.frames.turn_rad[part])
        out = []
        for land in one.lands:
            if self.touched(land, draft):
                columns = measured(as_array(self.shapes_on(land, draft)))
            else:
                rows, paste = self.rows_of(land), given.paste
                columns = {name: getattr(paste, name)[rows] for name in _COLUMNS}
            out.append(_spots(columns, one.x_mm, one.y_mm, turn))
        return tuple(out)

    def lands(self, part: int) -> tuple[Spot, ...]:
        """The lands of a part, in its frame."""
        return spots_of(self.given.parts[part], self.given.lands, self.given.frames)

    def take(self, draft: Draft) -> None:
        """Make a draft part of the sheet."""
        self.changed.update(draft.rows)
        self.added.update(draft.added)
        self._moved |= self.drafted(draft)

    def hold(self, draft: Draft) -> None:
        """Leave a draft's openings as they came, and closed to later rules: somebody is asked about them."""
        self.changed.update({row: (self.given.paste.polygon[row],) for row in draft.rows})
        self._moved |= set(self.given.matched.land[list(draft.rows)].tolist())

    def variants_of(self, parts: Iterable[int]) -> dict[int, list[int]]:
        """Parts that are alike in everything, by variant; those changed already stand alone by what was done."""
        found: dict[int, list[int]] = {}
        for part in parts:
            found.setdefault(int(self.variant[part]), []).append(part)
        return found


_COLUMNS = ("x_mm", "y_mm", "length_mm", "width_mm", "angle_deg", "area_mm2")


def _spots(columns: Mapping[str, object], x0: float, y0: float, turn: float) -> tuple[Spot, ...]:
    cos, sin = float(np.cos(turn)), float(np.sin(turn))
    return tuple(
        Spot(
            (x - x0) * cos + (y - y0) * sin,
            (y - y0) * cos - (x - x0) * sin,
            float(length),
            float(width),
            float((angle - np.degrees(turn)) % 180),
            float(area),
        )
        for x, y, length, width, angle, area in zip(*(columns[name] for name in _COLUMNS), strict=True)
    )
