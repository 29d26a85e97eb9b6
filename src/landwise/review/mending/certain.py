"""Where the film itself leaves no doubt what an opening must be, so that nobody need be asked.

A placement file that says nothing, or lands that don't tell what stands on them, are reasons to ask; the part's own
other openings, or its likes on the board, can be a better witness. Bare or small on purpose are lands of a middle, tabs
and jumpers: these are asked about as before.
"""

from __future__ import annotations

import numpy as np

from landwise.review.checks.onland import OFF_LAND, off_land
from landwise.review.mending.sheet import Draft, Sheet
from landwise.review.model import Ints
from landwise.review.verdicts import under_middle

# All of these are ours, chosen for harm to be far off; common practice, no source.
WITNESSES = 4  # other lands of the same part and size, printed alike
GRID_WITNESSES = 15  # balls: a bare one among fewer may stand under a test land
MISPRINT_WITNESSES = 3  # where more than a quarter of the opening lies beside its land, as no one draws it
ALIKE_COVER = 0.1  # what their covers may differ by
SAME_SIDE_MM = 0.02
TWIN_OFF = 0.3  # of the openings of a part's like lands: what differs more is not one design
FEW_CHANGED = 0.34  # of the witnesses: one side of four
LEAST_COVER = 0.45  # below it no part's lands are printed in one opening on purpose
FILM_LANDS, FILM_SHARE, FILM_COVER = 50, 0.9, (0.7, 1.2)  # how the rest of a film must be printed
MANY_LANDS = 6
LEADED = ("gull-wing dual", "gull-wing quad", "leadless dual", "leadless quad", "chip", "chip array")


def no_doubt(sheet: Sheet, draft: Draft) -> bool:
    """Whether the film tells by itself what the draft's openings must be.

    True for a land left bare while four or more of its part's other lands of that size are printed alike (of a grid
    fifteen), while all others of a part are printed that the files name and the lands tell, or while four or more like
    chips are printed at both ends; for openings unlike four or more of their part;
    for all terminals of a part of six or more printed at less than 45 % on a film that prints its lands whole.
    """
    if any(part < 0 for part in draft.parts) or not draft.parts:
        return False
    if draft.rule == "missing":
        return not draft.rows and all(_left_out(sheet, land) for land in draft.added)
    if draft.rule == "unlike":
        return not draft.added and _few_of_many(sheet, draft)
    if draft.rule == "raise":
        return _far_below_the_film(sheet, draft)
    return False


def unlike_its_twins(sheet: Sheet, draft: Draft) -> bool:
    """Whether on every part the other lands of the size are printed alike and otherwise than those of the draft.

    One land of a chip printed beyond all measure, its other as the land, is a mistake and no designer's own way.
    """
    given = sheet.given
    changed = {int(given.matched.land[row]) for row in draft.rows}
    cover = given.matched.coverage
    area = np.zeros(len(given.lands))
    has = given.matched.land >= 0
    np.add.at(area, given.matched.land[has], given.paste.area_mm2[has])
    share = area / np.maximum(given.lands.area_mm2, 1e-12)
    for land in changed:
        if given.part_of_land[land] < 0:
            return False
        its = np.array([k for k in _siblings(sheet, land).tolist() if k not in changed], dtype=np.int64)
        if not len(its) or (given.matched.printed[its] != 1).any():
            return False
        if float(np.ptp(share[its])) > ALIKE_COVER or float(cover[its].min()) < LEAST_COVER:
            return False
        if np.abs(share[land] / share[its] - 1).min() < TWIN_OFF:
            return False
    return bool(changed)


def _siblings(sheet: Sheet, land: int) -> Ints:
    """The other lands of a land's part that have its size, not under the middle."""
    lands = sheet.given.lands
    part = sheet.given.parts[int(sheet.given.part_of_land[land])]
    its = np.array([k for k in part.lands if k != land and k not in part.centre], dtype=np.int64)
    same = np.abs(lands.length_mm[its] - lands.length_mm[land]) <= SAME_SIDE_MM
    same &= np.abs(lands.width_mm[its] - lands.width_mm[land]) <= SAME_SIDE_MM
    found: Ints = its[same]
    return found


def _left_out(sheet: Sheet, land: int) -> bool:
    given = sheet.given
    part = given.parts[int(given.part_of_land[land])]
    outer = [k for k in part.lands if k not in part.centre]
    if part.kind in ("odd", "single") or land not in outer:
        return False
    if any(given.matched.printed[k] == 0 for k in outer if k != land):
        return False  # more than one is bare: somebody may have meant it
    its = _siblings(sheet, land)
    cover = given.matched.coverage[its]
    once = len(its) > 0 and bool((given.matched.printed[its] == 1).all()) and float(np.ptp(cover)) <= ALIKE_COVER
    if not once:
        return False
    if part.kind == "grid":
        return len(its) >= GRID_WITNESSES
    if len(its) >= WITNESSES or (part.named_by != "geometry" and part.kind in LEADED):
        return True
    return part.kind == "chip" and _printed_likes(sheet, int(given.part_of_land[land])) >= WITNESSES


def _printed_likes(sheet: Sheet, number: int) -> int:
    """Other parts of the package that are printed on every land, all alike; none where one is printed in part only."""
    given = sheet.given
    cover: list[float] = []
    count = 0
    for other in np.flatnonzero(sheet.package == sheet.package[number]).tolist():
        its = list(given.parts[other].lands)
        printed = given.matched.printed[its]
        if other == number or not printed.any():
            continue  # a part that is left out altogether tells nothing
        if (printed != 1).any():
            return 0
        cover += given.matched.coverage[its].tolist()
        count += 1
    return count if count and float(np.ptp(cover)) <= ALIKE_COVER else 0


def _few_of_many(sheet: Sheet, draft: Draft) -> bool:
    given = sheet.given
    changed = {int(given.matched.land[row]) for row in draft.rows}
    off = off_land(given)
    beside = {int(given.matched.land[row]) for row in draft.rows if off[row] > OFF_LAND[1]}
    for land in changed:
        its = np.array([k for k in _siblings(sheet, land).tolist() if k not in changed], dtype=np.int64)
        own = [k for k in changed if given.part_of_land[k] == given.part_of_land[land]]
        least = MISPRINT_WITNESSES if land in beside else WITNESSES
        if len(its) < least or len(own) > FEW_CHANGED * len(its):
            return False
        if (given.matched.printed[its] != 1).any() or float(np.ptp(given.matched.coverage[its])) > ALIKE_COVER:
            return False
    return bool(changed)


def _far_below_the_film(sheet: Sheet, draft: Draft) -> bool:
    given = sheet.given
    matched = given.matched
    changed = {int(matched.land[row]) for row in draft.rows}
    for number in draft.parts:
        part = given.parts[number]
        own = np.array([land for land in part.lands if land not in part.centre], dtype=np.int64)
        if part.kind in ("odd", "single") or len(own) < MANY_LANDS or part.pitch_mm is None:
            return False
        if not set(own.tolist()) <= changed or float(matched.coverage[own].max()) >= LEAST_COVER:
            return False
        if float(np.ptp(matched.coverage[own])) > ALIKE_COVER:
            return False
    others = (matched.printed == 1) & ~np.isin(given.part_of_land, draft.parts) & (given.part_of_land >= 0)
    others &= ~under_middle(given.parts, len(given.lands))
    cover = matched.coverage[others]
    low, high = FILM_COVER
    return len(cover) >= FILM_LANDS and float(((cover > low) & (cover < high)).mean()) >= FILM_SHARE
