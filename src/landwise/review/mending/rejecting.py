"""Prints that an inspection of the paste would reject: half a land's paste missing, half too much, a quarter beside.

What prints on a land as the film came is worked once, some hundred lands at a time; only what a draft changes is
worked again. On a film of tens of thousands of openings without likes there are as many drafts.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from landwise.assembly.depositspread import DepositSpread
from landwise.printing.model import Foil, Powder
from landwise.review.lands import within
from landwise.review.mending.sheet import Draft, Sheet
from landwise.review.model import Floats, Ints, Objects
from landwise.review.verdicts import EXCESS, HALF, bands
from landwise.shapes import Geometry, as_array

BESIDE, BESIDE_SPREAD = 0.25, 0.08  # of an opening: misprints are rejected from a quarter; a print's own offset, ours
BESIDE_MM = 0.05
LEAST_BESIDE = 0.01  # of what prints on a land: less is none
AT_ONCE = 500  # lands


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

    A bare land counts where it is one of `left`, those that a draft says were left out. With `short_only` only what
    does not come out of the foil counts.
    """
    at = np.array(lands, dtype=np.int64)
    at = at[~sheet.leaded[at]]
    drafted = sheet.drafted(draft)
    anew = np.array([land in drafted or land in sheet.touched_lands for land in at.tolist()], dtype=bool)
    found = _as_it_came(sheet, at[~anew], foil, powder, spread, short_only=short_only)
    shapes = [(land, sheet.shapes_on(land, draft)) for land in at[anew].tolist()]
    printed = [(land, its) for land, its in shapes if its]
    if printed:
        own = np.array([land for land, _ in printed])
        number = np.repeat(np.arange(len(own)), [len(its) for _, its in printed])
        table = as_array([shape for _, its in printed for shape in its])
        found = np.append(found, _chances(sheet, own, table, number, foil, powder, spread, short_only=short_only))
    if not left:
        return float(found.sum())
    bare = {land for land, its in shapes if not its}
    bare |= {land for land in at[~anew].tolist() if not len(sheet.rows_of(land))}
    return float(found.sum()) + len(bare & set(left))


def _as_it_came(
    sheet: Sheet, at: Ints, foil: Foil, powder: Powder, spread: DepositSpread | None, *, short_only: bool
) -> Floats:
    """The chance of each land with what the film prints on it; zero for bare ones. Worked by blocks of lands, once."""
    count = len(sheet.given.lands)
    told = foil, powder, spread, short_only
    if told not in sheet.came:
        sheet.came[told] = np.full(count, np.nan)
    known = sheet.came[told]
    for block in np.unique(at[np.isnan(known[at])] // AT_ONCE).tolist():
        own = np.arange(block * AT_ONCE, min((block + 1) * AT_ONCE, count))
        rows = [sheet.rows_of(land) for land in own.tolist()]
        many = np.array([len(its) for its in rows])
        known[own] = 0.0
        if not many.any():
            continue
        has = many > 0
        number = np.repeat(np.arange(int(has.sum())), many[has])
        row = np.concatenate(rows)
        known[own[has]] = _chances(
            sheet,
            own[has],
            sheet.given.paste.polygon[row],
            number,
            foil,
            powder,
            spread,
            short_only=short_only,
        )
    found: Floats = known[at]
    return found


def _chances(
    sheet: Sheet,
    own: Ints,
    shapes: Objects,
    number: Ints,
    foil: Foil,
    powder: Powder,
    spread: DepositSpread | None,
    *,
    short_only: bool,
) -> Floats:
    """The chance of each land of `own` that its print is rejected; `number` tells which of them a shape prints on."""
    import shapely
    from scipy.special import ndtr

    def summed(values: Floats) -> Floats:
        total: Floats = np.bincount(number, weights=values, minlength=len(own)).astype(np.float64, copy=False)
        return total

    area, wall = shapely.area(shapes), shapely.length(shapes)
    band = bands(area / np.maximum(wall, 1e-9) / (foil.thickness_um / 1000), foil, powder, spread)
    whole = summed(area)
    cover = whole / sheet.given.lands.area_mm2[own]
    mean, sd = summed(area * band["mean"]) / whole, summed(area * band["sd"]) / whole
    # How much of a land is open is the designer's matter where only what comes out of the foil is asked.
    share = np.ones(len(own)) if short_only else np.maximum(cover, 1e-6)
    little = np.where(sheet.middle[own], 0.0, ndtr((HALF / share - mean) / np.maximum(sd, 1e-3)))
    if short_only:
        return little
    much = ndtr((mean * cover - EXCESS) / np.maximum(cover * sd, 1e-3))
    beside = _beside(sheet, own, shapes, number) / whole
    off = np.where(beside > LEAST_BESIDE, ndtr((beside - BESIDE) / BESIDE_SPREAD), 0.0)
    found: Floats = np.maximum.reduce([little, much, off])  # one print is rejected once
    return found


def _beside(sheet: Sheet, own: Ints, shapes: Objects, number: Ints) -> Floats:
    """How much of what prints on each land lies beside it. [mm²]"""
    import shapely

    found = np.zeros(len(own))
    polygon = sheet.given.lands.polygon
    # Whether it lies on lands at all doesn't tell: what is over another part's land is beside its own.
    open_ = np.flatnonzero(~within(shapes, polygon[own[number]]))
    if not len(open_):
        return found
    away = np.zeros(len(shapes))
    around = shapely.buffer(polygon[own[number[open_]]], BESIDE_MM)
    away[open_] = shapely.area(shapely.difference(shapes[open_], around))
    # Other lands of the part that a print reaches take some of it: looked at only where there is any.
    for k in np.unique(number[away > 0]).tolist():
        found[k] = beside_mm2(sheet, int(own[k]), shapes[number == k])
    return found


def beside_mm2(sheet: Sheet, land: int, shapes: Objects) -> float:
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
