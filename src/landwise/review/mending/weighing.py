"""Whether a draft is kept: the part's expected defects before and after, judged with the whole part at one foil.

Two counts decide. Joints as the assembly room counts them (`levels`): they must not rise. And prints that an
inspection of the paste would reject: half a land's paste missing, a quarter of the print beside its land, half as much
again as the land carries. One of the two must fall. A draft that helps neither is dropped.

One exception: a print brought back onto its land may bridge as its likes do, up to a tenth of the rejects it saves
and to one defect in a hundred parts. An opening cut down to its land has no such excuse: it bridged before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.printing.model import Foil, Powder
from landwise.printing.transfer import holding_area_ratio
from landwise.review.levels import UNKNOWN, Level, Levels, PartPrinted
from landwise.review.mending.rejecting import rejects
from landwise.review.mending.sheet import Draft, Sheet
from landwise.shapes import as_array

SAME = 0.02  # relative: two levels nearer than that are one, the sums behind them are no finer
FLOOR = 1e-6  # defects a part: one in a million parts is nothing that matters, and no finer than the sums behind it
CLEAR_DEFECTS, CLEAR_SHARE = 1e-5, 0.7  # a draft that saves less is within what a designer may have meant; ours
TRADE = 0.1  # defects allowed for a reject saved, ours
MOST_TRADED = 0.01  # and no more than one in so many parts, whatever is saved; ours
LEAST_BACK = 0.8  # of an opening's area: what leaves less cuts it down and brings nothing back; ours
LEAST_REJECTS = 1e-3  # prints a part
SAFE_COVER = (0.45, 1.30)  # of a land: what a changed print may cover where nobody is asked
LEAST_GAP_MM = 0.10  # measured pastes ran together up to here


@dataclass(frozen=True)
class Weighed:
    """A draft with what it does to its parts: joints and prints, before and after, summed over them.

    `brings_back` says that its openings missed their lands, or differ from their likes, and are not merely cut down.
    """

    draft: Draft
    before: Level
    after: Level
    rejects_before: float
    rejects_after: float
    brings_back: bool = False

    @property
    def harms(self) -> bool:
        """Joints or rejected prints rise."""
        a, b = self.before.defects, self.after.defects
        # A print that missed its land also bridges less: brought back to where its likes print, it may bridge as they
        # do, as long as that is far less than the rejects it saves.
        room = TRADE * (self.rejects_before - self.rejects_after) if self.brings_back else 0.0
        room = min(room, MOST_TRADED * len(self.draft.parts))
        return (
            b > a * (1 + SAME) + FLOOR + max(room, 0.0)
            or self.rejects_after > self.rejects_before * (1 + SAME) + LEAST_REJECTS
        )

    @property
    def helps(self) -> bool:
        """Nothing rises, something falls."""
        if self.harms:
            return False
        a, b = self.before.defects, self.after.defects
        fewer = b < a * (1 - SAME) - FLOOR
        return fewer or self.rejects_after < self.rejects_before * (1 - SAME) - LEAST_REJECTS

    @property
    def gains(self) -> bool:
        """Whether joints gain so much that nobody would draw the parts as they are on purpose."""
        a, b = self.before.defects, self.after.defects
        return self.before.known and a - b > CLEAR_DEFECTS and b < CLEAR_SHARE * a


def weigh(sheet: Sheet, draft: Draft, levels: Levels, foil: Foil, powder: Powder) -> Weighed:
    """What a draft does to the parts it changes."""
    ways = _ways(sheet, draft)
    return _weighed(sheet, draft, ways, _rejects(sheet, draft, ways, levels, foil, powder), levels, foil)


def weigh_where_it_may_help(sheet: Sheet, draft: Draft, levels: Levels, foil: Foil, powder: Powder) -> Weighed | None:
    """What a draft does to its parts; None where its prints alone tell that it can't help.

    Prints cost a hundredth of joints. More of them rejected is harm whatever the joints do. As many, and the joints
    must gain: they can't where there is nothing to gain.
    """
    ways = _ways(sheet, draft)
    before, after = _rejects(sheet, draft, ways, levels, foil, powder)
    if after > before * (1 + SAME) + LEAST_REJECTS:
        return None
    if not after < before * (1 - SAME) - LEAST_REJECTS:
        most = 0.0
        for part, many in ways:
            level = level_of(sheet, part, levels, foil)
            most += many * level.defects if level.known else 0.0
        if most * (1 - SAME) <= FLOOR:
            return None
    return _weighed(sheet, draft, ways, (before, after), levels, foil)


def _ways(sheet: Sheet, draft: Draft) -> list[tuple[int, int]]:
    """One part of each kind and way in which the draft changes it, and how many there are."""
    drafted, moved = sheet.drafted(draft), sheet.touched_lands

    def touched(number: int) -> list[bool]:
        return [land in moved or land in drafted for land in sheet.given.parts[number].lands]

    found: list[tuple[int, int]] = []
    for its in sheet.variants_of(p for p in draft.parts if p >= 0).values():
        # Of alike parts the draft may change some and not others: each way is worked once.
        first = touched(its[0])
        other = [part for part in its[1:] if touched(part) != first]
        found.append((its[0], len(its) - len(other)))
        if other:
            found.append((other[0], len(other)))
    return found


def _rejects(
    sheet: Sheet, draft: Draft, ways: Sequence[tuple[int, int]], levels: Levels, foil: Foil, powder: Powder
) -> tuple[float, float]:
    """Prints rejected of all parts of a draft, and of openings without a part, before and after."""
    given, spread = sheet.given, levels.line.scatter.spread
    left = frozenset(draft.added) if draft.rule == "missing" else frozenset()
    lone = {int(given.matched.land[row]) for row in draft.rows if given.part_of[row] < 0}
    alone = [land for land in lone if land >= 0]
    found = []
    for its in (None, draft):
        total = sum(
            many * rejects(sheet, given.parts[one].lands, foil, powder, its, spread=spread, left=left)
            for one, many in ways
        )
        # paste without a land is a reject by itself
        total += sum(float(its is None or bool(draft.rows[row])) for row in draft.rows if given.matched.land[row] < 0)
        found.append(total + (rejects(sheet, alone, foil, powder, its, spread=spread) if alone else 0.0))
    return found[0], found[1]


def _weighed(
    sheet: Sheet,
    draft: Draft,
    ways: Sequence[tuple[int, int]],
    prints: tuple[float, float],
    levels: Levels,
    foil: Foil,
) -> Weighed:
    """A draft with its joints beside its prints."""
    sums, known = [0.0, 0.0], True
    for one, many in ways:
        before, after = (level_of(sheet, one, levels, foil, d) for d in (None, draft))
        known &= before.known and after.known
        if before.known and after.known:  # a level that is not known is no zero to hold the other against
            sums[0] += many * before.defects
            sums[1] += many * after.defects
    joints = [Level(total, total, total, known=known) for total in sums]
    return Weighed(draft, joints[0], joints[1], *prints, _brings_back(sheet, draft))


def together(kept: Sequence[tuple[Weighed, str]]) -> list[tuple[Weighed, str]]:
    """Drafts that do the same to the same parts for the same reason to ask, as one: a part is listed once.

    What each saves is taken off one after the other; `kept` holds each with why it is asked about.
    """
    alike: dict[tuple[object, ...], list[Weighed]] = {}
    for one, asked in kept:
        alike.setdefault((one.draft.rule, one.draft.parts, one.draft.what, asked, one.before.known), []).append(one)
    return [(_joined(its), str(key[3])) for key, its in alike.items()]


def _joined(its: Sequence[Weighed]) -> Weighed:
    if len(its) == 1:
        return its[0]
    drafts = [one.draft for one in its]
    rows = {row: shapes for draft in drafts for row, shapes in draft.rows.items()}
    added = {land: shapes for draft in drafts for land, shapes in draft.added.items()}
    reasons = "; ".join(dict.fromkeys(draft.reason for draft in drafts))

    def left(before: Sequence[float], after: Sequence[float]) -> tuple[float, float]:
        most = max(before)
        return most, max(0.0, most - sum(a - b for a, b in zip(before, after, strict=True)))

    first, last = left([one.before.defects for one in its], [one.after.defects for one in its])
    rejects = left([one.rejects_before for one in its], [one.rejects_after for one in its])
    known = all(one.after.known for one in its)
    return replace(
        its[0],
        draft=replace(drafts[0], rows=rows, added=added, reason=reasons),
        before=replace(its[0].before, defects=first),
        after=replace(its[0].after, defects=last, known=known),
        rejects_before=rejects[0],
        rejects_after=rejects[1],
    )


def _brings_back(sheet: Sheet, draft: Draft) -> bool:
    """Whether the draft puts prints where their likes lie, or back onto their lands with most of their size."""
    if draft.rule != "to-land":
        return draft.rule == "unlike"
    before = float(sheet.given.paste.area_mm2[list(draft.rows)].sum())
    return sum(shape.area for shapes in draft.rows.values() for shape in shapes) >= LEAST_BACK * before


def level_of(sheet: Sheet, part: int, levels: Levels, foil: Foil, draft: Draft | None = None) -> Level:
    """A part's level with what prints on it now, or would after a draft."""
    if not sheet.counted[part]:
        return UNKNOWN
    found = part_printed(sheet, part, draft)
    return levels.under(found, foil.thickness_um) if found else UNKNOWN


def part_printed(sheet: Sheet, part: int, draft: Draft | None = None) -> PartPrinted | None:
    """A part with what prints on it now, or would after a draft; None for one whose joints are nobody's."""
    one = sheet.given.parts[part]
    prints = sheet.prints(part, draft)
    if not any(prints):
        return None
    centre = tuple(one.lands.index(land) for land in one.centre)
    # Where nobody places a part, what is bare is no joint that stays open.
    bare = not all(prints[k] or k in centre for k in range(len(one.lands)))
    if bare and sheet.placed and one.named_by == "geometry":
        return None
    return PartPrinted(one.kind, sheet.lands(part), centre, one.pitch_mm, prints, sheet.package_name(part))


def doubts(sheet: Sheet, draft: Draft) -> str:
    """Why a draft that helps should still be asked about, by plain areas and gaps; empty for none."""
    import shapely

    given = sheet.given
    holding = holding_area_ratio(given.under.foil.technology, given.under.powder)
    for land in _lands_of(sheet, draft):
        shapes = sheet.shapes_on(land, draft)
        before = sum(shape.area for shape in sheet.shapes_on(land)) / given.lands.area_mm2[land]
        after = sum(shape.area for shape in shapes) / given.lands.area_mm2[land]
        low, high = SAFE_COVER
        if after < low and after < before:
            return f"a land would be covered {100 * after:.0f} %"
        if after > high and after > before:
            return f"a land would be covered {100 * after:.0f} %"
    for row, after in draft.rows.items():
        ratio = (
            min((shape.area / shape.length for shape in after), default=np.inf) / given.under.foil.thickness_um * 1000
        )
        if ratio < given.under.area_ratio[row] - 1e-9 and ratio < (holding or 0.0) * 0.97:
            return f"its area ratio would fall to {ratio:.2f}"
    changed = [shape for shapes in (*draft.rows.values(), *draft.added.values()) for shape in shapes]
    if not changed:
        return ""
    table = as_array(changed)
    number_of, row_of = given.paste.tree.query(table, predicate="dwithin", distance=LEAST_GAP_MM)
    order = np.lexsort([number_of, row_of])
    for row, number in zip(row_of[order].tolist(), number_of[order].tolist(), strict=True):
        if row in draft.rows or row in sheet.changed:
            continue
        land = given.matched.land[row]
        if land >= 0 and shapely.distance(given.lands.polygon[land], table[number]) == 0:
            continue  # a neighbour on the same land
        gap = float(shapely.distance(given.paste.polygon[row], table[number]))
        was = _gap_before(sheet, draft, row)
        if gap < was - 1e-6:
            return f"it would come within {gap:.2f} mm of another print"
    return ""


def _lands_of(sheet: Sheet, draft: Draft) -> set[int]:
    found = {int(sheet.given.matched.land[row]) for row in draft.rows} | set(draft.added)
    return {land for land in found if land >= 0}


def _gap_before(sheet: Sheet, draft: Draft, row: int) -> float:
    import shapely

    rows = np.array(sorted(draft.rows), dtype=np.int64)
    if not len(rows):
        return float("inf")
    return float(shapely.distance(sheet.given.paste.polygon[rows], sheet.given.paste.polygon[row]).min())
