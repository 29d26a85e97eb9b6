"""Whether a draft is kept: the part's expected defects before and after, judged with the whole part at one foil.

Two counts decide. Joints as the assembly room counts them (`levels`): they must not rise. And prints that an
inspection of the paste would reject: half a land's paste missing, a quarter of the print beside its land, half as much
again as the land carries. One of the two must fall. A draft that helps neither is dropped.

One exception: a print brought back onto its land may bridge as its likes do, up to a tenth of the rejects it saves
and to one defect in a hundred parts. An opening cut down to its land has no such excuse: it bridged before.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.assembly.depositspread import DepositSpread
from landwise.printing.model import Foil, Powder
from landwise.printing.transfer import holding_area_ratio
from landwise.review.levels import UNKNOWN, Level, Levels
from landwise.review.mending.sheet import Draft, Sheet
from landwise.review.model import Objects
from landwise.review.verdicts import EXCESS, HALF, bands
from landwise.shapes import Geometry

BESIDE, BESIDE_SPREAD = 0.25, 0.08  # of an opening: misprints are rejected from a quarter; a print's own offset, ours
BESIDE_MM = 0.05
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
    spread = levels.line.scatter.spread
    sums = np.zeros(6)
    moved = sheet.touched_lands(draft)
    left = frozenset(draft.added) if draft.rule == "missing" else frozenset()
    known = True
    for its in sheet.variants_of(p for p in draft.parts if p >= 0).values():
        # Of alike parts the draft may change some and not others: each way is worked once.
        ways: dict[bool, list[int]] = {}
        for part in its:
            ways.setdefault(_same_way(sheet, moved, part, its[0]), []).append(part)
        for some in ways.values():
            one, many = some[0], len(some)
            before, after = (level_of(sheet, one, levels, foil, d) for d in (None, draft))
            known &= before.known and after.known
            if before.known and after.known:  # a level that is not known is no zero to hold the other against
                sums[:2] += many * before.defects, many * after.defects
            for k, d in ((2, None), (3, draft)):
                sums[k] += many * rejects(
                    sheet, sheet.given.parts[one].lands, foil, powder, d, spread=spread, left=left
                )
    for row in draft.rows:
        if sheet.given.matched.land[row] < 0:
            sums[2] += 1.0  # paste without a land is a reject by itself
            sums[3] += float(bool(draft.rows[row]))
    lone = {int(sheet.given.matched.land[row]) for row in draft.rows if sheet.given.part_of[row] < 0}
    for k, d in ((2, None), (3, draft)):
        sums[k] += rejects(sheet, [land for land in lone if land >= 0], foil, powder, d, spread=spread)
    return Weighed(
        draft,
        Level(float(sums[0]), float(sums[0]), float(sums[0]), known=known),
        Level(float(sums[1]), float(sums[1]), float(sums[1]), known=known),
        float(sums[2]),
        float(sums[3]),
        _brings_back(sheet, draft),
    )


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


def _same_way(sheet: Sheet, moved: set[int], part: int, other: int) -> bool:
    def touched(number: int) -> list[bool]:
        return [land in moved for land in sheet.given.parts[number].lands]

    return part == other or touched(part) == touched(other)


def level_of(sheet: Sheet, part: int, levels: Levels, foil: Foil, draft: Draft | None = None) -> Level:
    """A part's level with what prints on it now, or would after a draft."""
    if not sheet.counted[part]:
        return UNKNOWN
    one = sheet.given.parts[part]
    prints = sheet.prints(part, draft)
    if not any(prints):
        return UNKNOWN
    centre = [one.lands.index(land) for land in one.centre]
    # Where nobody places a part, what is bare is no joint that stays open.
    bare = not all(prints[k] or k in centre for k in range(len(one.lands)))
    if bare and sheet.placed and one.named_by == "geometry":
        return UNKNOWN
    named = sheet.package_name(part)
    return levels.of(one.kind, sheet.lands(part), centre, one.pitch_mm, prints, package=named).under(foil.thickness_um)


def rejects(
    sheet: Sheet,
    lands: Sequence[int],
    foil: Foil,
    powder: Powder,
    draft: Draft | None = None,
    *,
    short_only: bool = False,
    spread: DepositSpread | None = None,
    left: Collection[int] = (),
) -> float:
    """Expected prints that an inspection rejects, of some lands: too little, too much, beside the land.

    A bare land counts where it is one of `left`, those that a draft says were left out.
    """
    import shapely
    from scipy.special import ndtr

    given = sheet.given
    leaded = sheet.leaded
    middle = _centre_of(sheet, lands)
    total = 0.0
    for land in lands:
        shapes = [] if leaded[land] else sheet.shapes_on(land, draft)
        if not shapes:
            total += float(land in left and not leaded[land])
            continue
        table = np.empty(len(shapes), dtype=object)
        table[:] = shapes
        area, wall = shapely.area(table), shapely.length(table)
        band = bands(area / np.maximum(wall, 1e-9) / (foil.thickness_um / 1000), foil, powder, spread)
        cover = float(area.sum() / given.lands.area_mm2[land])
        mean = float((area * band["mean"]).sum() / area.sum())
        sd = float((area * band["sd"]).sum() / area.sum())
        chances = [0.0]
        if land not in middle:
            # How much of a land is open is the designer's matter where only what comes out of the foil is asked.
            share = 1.0 if short_only else max(cover, 1e-6)
            chances.append(float(ndtr((HALF / share - mean) / max(sd, 1e-3))))
        if not short_only:
            chances.append(float(ndtr((mean * cover - EXCESS) / max(cover * sd, 1e-3))))
            beside = _beside_mm2(sheet, land, table) / float(area.sum())
            if beside > 0.01:
                chances.append(float(ndtr((beside - BESIDE) / BESIDE_SPREAD)))
        total += max(chances)  # one print is rejected once
    return total


def _beside_mm2(sheet: Sheet, land: int, shapes: Objects) -> float:
    """How much of what prints on a land lies beside it; nothing where the land covers all, as most do. [mm²]"""
    import shapely

    if shapely.covers(sheet.given.lands.polygon[land], shapes).all():
        return 0.0
    return float(shapely.area(shapely.difference(shapes, _around(sheet, land, shapes))).sum())


def _around(sheet: Sheet, land: int, shapes: object) -> Geometry:
    """The land with what paste is drawn back from around it, and other lands of its part that the print reaches."""
    import shapely

    lands = sheet.given.lands
    own: Geometry = lands.polygon[land].buffer(BESIDE_MM)
    part = int(sheet.given.part_of_land[land])
    if part < 0:
        return own
    others = lands.polygon[list(sheet.given.parts[part].lands)]
    reached = others[shapely.intersects(others, shapely.union_all(shapes))]
    around: Geometry = shapely.union_all([own, *reached])
    return around


def _centre_of(sheet: Sheet, lands: Sequence[int]) -> set[int]:
    parts = {int(sheet.given.part_of_land[land]) for land in lands} - {-1}
    return {land for part in parts for land in sheet.given.parts[part].centre}


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
    table = np.empty(len(changed), dtype=object)
    table[:] = changed
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
