"""Openings unlike those of like lands: rows that moved, openings left out, doubled or reduced by mistake.

On a good film lands of one size in one kind of part are printed in one way: so much longer or shorter than the land,
so far out along it. Where most of a kind agree, the few that don't are held against them.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from landwise.review.checks.onland import OFF_LAND, off_land
from landwise.review.checks.situation import Situation
from landwise.review.frames import mixed, steps
from landwise.review.mending.sheet import Draft, Outlines, Sheet
from landwise.review.model import Bools, Floats, Ints, carries_lead
from landwise.review.verdicts import under_middle
from landwise.shapes import Geometry

LEAST_ALIKE = 3  # lands that must agree before one is held against them
AGREE_SHARE = 0.6  # of a kind of land
WITHIN_MM = 0.025  # how far openings of one kind differ: film grids, and corners lettered off for a first terminal
OUT_MM, OUT_SHARE = 0.045, 0.15  # from here on, and from this share of a side on, an opening is held unlike
COVER = 0.15
ROUND = 1.05
OWN = "only the part's own other lands of that size tell how it would be printed"
SIZE = "only lands of that size on other kinds of part tell how it would be printed"
ALONE = "no land of its size is printed: how it would be is a guess"


@dataclass(frozen=True)
class LandPrints:
    """How each land of a side is printed, against itself. One entry a land.

    Parameters
    ----------
    outward_rad : array
        Direction from the part's middle out along the land. [rad]
    count : array of int
        Openings.
    cover : array
        Open area over the land, over its area. [-]
    along_mm, across_mm : array
        Opening less land, along the outward direction and across it; NaN unless it is one opening. [mm]
    out_mm, aside_mm : array
        Opening's middle against the land's. [mm]
    row : array of int
        The opening where it is one, else -1.
    """

    outward_rad: Floats
    count: Ints
    cover: Floats
    along_mm: Floats
    across_mm: Floats
    out_mm: Floats
    aside_mm: Floats
    row: Ints


def land_prints(given: Situation) -> LandPrints:
    """How each land is printed."""
    lands, paste, matched = given.lands, given.paste, given.matched
    count = len(lands)
    outward = _outward(given)
    row = np.full(count, -1, dtype=np.int64)
    has = np.flatnonzero(matched.land >= 0)
    row[matched.land[has]] = has
    one = matched.printed == 1
    row[~one] = -1
    numbers = {name: np.full(count, np.nan) for name in ("along", "across", "out", "aside")}
    at = np.flatnonzero(one)
    its = row[at]
    turn = outward[at]
    out_x, out_y = np.cos(turn), np.sin(turn)
    dx, dy = paste.x_mm[its] - lands.x_mm[at], paste.y_mm[its] - lands.y_mm[at]
    numbers["out"][at], numbers["aside"][at] = dx * out_x + dy * out_y, dy * out_x - dx * out_y
    own = sides_along(lands.length_mm[at], lands.width_mm[at], lands.angle_deg[at], turn)
    its_sides = sides_along(paste.length_mm[its], paste.width_mm[its], paste.angle_deg[its], turn)
    numbers["along"][at], numbers["across"][at] = its_sides[0] - own[0], its_sides[1] - own[1]
    along, across, out, aside = (numbers[name] for name in ("along", "across", "out", "aside"))
    return LandPrints(outward, matched.printed, matched.coverage, along, across, out, aside, row)


def sides_along(length: Floats, width: Floats, angle_deg: Floats, turn: Floats) -> tuple[Floats, Floats]:
    """Sides along a direction [rad] and across it, to the nearest quarter turn. [mm]"""
    lies = np.abs((angle_deg - np.degrees(turn) + 90) % 180 - 90) < 45
    return np.where(lies, length, width), np.where(lies, width, length)


def _outward(given: Situation) -> Floats:
    """Along each land's longer side, away from the part's middle; along the part's own axis for square ones."""
    lands, own = given.lands, given.part_of_land
    x0 = np.array([part.x_mm for part in given.parts] or [0.0])[own]
    y0 = np.array([part.y_mm for part in given.parts] or [0.0])[own]
    turn = np.radians(lands.angle_deg)
    dx, dy = lands.x_mm - x0, lands.y_mm - y0
    square = lands.length_mm <= ROUND * lands.width_mm
    axis = np.where(own >= 0, given.frames.turn_rad[own] if len(given.parts) else 0.0, 0.0)
    u, v = dx * np.cos(axis) + dy * np.sin(axis), dy * np.cos(axis) - dx * np.sin(axis)
    chip = np.array([part.kind.startswith("chip") for part in given.parts] or [False])[own] & (own >= 0)
    # Chips lie along the line through their lands, whichever way these are longer.
    radial = axis + np.where(np.abs(u) >= np.abs(v), 0.0, np.pi / 2)
    turn = np.where(chip | square, radial, turn)
    inward = dx * np.cos(turn) + dy * np.sin(turn) < -1e-6
    found: Floats = (turn + np.where(inward, np.pi, 0.0)) % (2 * np.pi)
    grid = np.array([part.kind == "grid" for part in given.parts] or [False])[own] & (own >= 0)
    found[grid] = axis[grid] % (2 * np.pi)
    return found


def unlike(sheet: Sheet, prints: LandPrints, drawn: Callable[[Geometry], Geometry], how: str) -> Iterator[Draft]:
    """Drafts that print lands as their likes are printed.

    Parameters
    ----------
    sheet : Sheet
    prints : LandPrints
    drawn : callable
        The opening on a land that has no like, and
    how : str
        how that is drawn, in words.
    """
    given = sheet.given
    lands, own = given.lands, given.part_of_land
    usable = _usable(given)
    if not usable.any():
        return
    sizes = steps(lands.length_mm), steps(lands.width_mm)
    kinds = np.array([hash(part.kind) % 1_000_003 for part in given.parts] or [0])[own]
    pitch = steps(np.array([part.pitch_mm or 0.0 for part in given.parts] or [0.0])[own])
    package = sheet.package[own] if len(given.parts) else own
    narrow = mixed(package.astype(np.int64), *sizes)
    wide = mixed(kinds.astype(np.int64), pitch, *sizes)
    own_size = mixed(own.astype(np.int64), *sizes)
    donor = np.full(len(lands), -1, dtype=np.int64)
    on_land = _on_land(given)
    for classes in (narrow, wide, own_size):
        open_ = usable & (donor < 0)
        _held(prints, classes, usable, open_, donor)
        # Where half of a kind has moved there is no majority; those that lie on their lands then say how it is printed.
        _held(prints, classes, usable, usable & (donor < 0) & ~on_land, donor, witness=on_land)
    out = np.flatnonzero((donor >= 0) & _stands_out(prints, donor, given))
    by_package: dict[int, list[int]] = {}
    for land in out.tolist():
        by_package.setdefault(int(package[land]), []).append(land)
    for its in by_package.values():
        yield from _drafts(sheet, prints, donor, its)
    bare = usable & (donor < 0) & (prints.count == 0)
    left = yield from _guessed(sheet, prints, bare, own_size, mixed(*sizes), usable)
    for part in np.unique(own[left]).tolist():
        alone = np.flatnonzero(left & (own == part)).tolist()
        shapes = {land: (drawn(lands.polygon[land]),) for land in alone}
        reason = "no opening while the part's other lands have one"
        yield Draft("missing", (part,), {}, shapes, f"added, {how}", reason, ALONE)


def _on_land(given: Situation) -> Bools:
    """Lands of which no opening lies beside."""
    beside = np.flatnonzero((given.matched.land >= 0) & (off_land(given) > OFF_LAND[0]))
    found = np.ones(len(given.lands), dtype=bool)
    found[given.matched.land[beside]] = False
    return found


def _guessed(
    sheet: Sheet, prints: LandPrints, bare: Bools, own_size: NDArray[np.uint64], size: NDArray[np.uint64], usable: Bools
) -> Generator[Draft, None, Bools]:
    """Bare lands whose kind has too few likes: as the part's other lands of the size, else as any of the size.

    Nobody can know what the designer would have printed there: each is asked about, with what it was taken from.
    Returns the lands for which neither tells.
    """
    left, package = bare.copy(), sheet.package
    if not left.any():
        return left
    for classes, least, why in ((own_size, 1, OWN), (size, LEAST_ALIKE, SIZE)):
        donor = np.full(len(bare), -1, dtype=np.int64)
        _held(prints, classes, usable, left, donor, least)
        found = np.flatnonzero(left & (donor >= 0))
        left[found] = False
        for number in np.unique(package[sheet.given.part_of_land[found]]):
            its = found[package[sheet.given.part_of_land[found]] == number].tolist()
            for draft in _drafts(sheet, prints, donor, its):
                yield replace(draft, asked=draft.asked or why)
    return left


def _usable(given: Situation) -> Bools:
    """Lands of parts whose likes can be told: not under a body's middle, not for drilled leads, not odd ones."""
    found = (given.part_of_land >= 0) & ~carries_lead(given.lands)
    own, inside = given.part_of_land, given.part_of_land >= 0
    count = len(given.parts)
    lands = np.bincount(own[inside], minlength=count)
    printed = np.bincount(own[inside], weights=given.matched.printed[inside] > 0, minlength=count)
    told = np.array([part.kind not in ("odd", "single") for part in given.parts], dtype=bool)
    found[inside] &= (told & (printed >= 0.5 * lands))[own[inside]]
    return found & ~under_middle(given.parts, len(own))


def _held(
    prints: LandPrints,
    classes: NDArray[np.uint64],
    usable: Bools,
    open_: Bools,
    donor: Ints,
    least: int = LEAST_ALIKE,
    *,
    witness: Bools | None = None,
) -> None:
    """Find in each class the way most (of its witnesses) are printed, and for those that are not a land that is."""
    if not open_.any():
        return
    rows = np.flatnonzero(usable & np.isin(classes, classes[open_]))
    order = rows[np.argsort(classes[rows], kind="stable")]
    cuts = np.flatnonzero(np.diff(classes[order].astype(np.int64))) + 1
    table = np.column_stack([prints.along_mm, prints.across_mm, prints.out_mm, prints.aside_mm])
    for its in np.split(order, cuts):
        asked = its if witness is None else its[witness[its]]
        single = asked[prints.count[asked] == 1]
        if len(single) < least:
            continue
        middle = np.median(table[single], axis=0)
        away = np.abs(table[single] - middle).max(axis=1)
        agree = single[away <= WITHIN_MM]
        if len(agree) < max(least, AGREE_SHARE * len(asked) if least > 1 else len(single)):
            continue
        best = single[int(np.argmin(away))]
        rest = its[open_[its]]
        donor[rest] = best
        donor[agree] = agree  # each is its own


def _stands_out(prints: LandPrints, donor: Ints, given: Situation) -> Bools:
    lands = given.lands
    at = np.maximum(donor, 0)
    found: Bools = prints.count != 1
    for values, side in (
        (prints.along_mm, lands.length_mm),
        (prints.across_mm, lands.width_mm),
        (prints.out_mm, lands.length_mm),
        (prints.aside_mm, lands.width_mm),
    ):
        away = np.abs(values - values[at])
        with np.errstate(invalid="ignore"):
            found |= away > np.maximum(OUT_MM, OUT_SHARE * side)
    found &= donor != np.arange(len(donor))
    return found


def _drafts(sheet: Sheet, prints: LandPrints, donor: Ints, its: list[int]) -> Iterator[Draft]:
    """One draft for the openings missing in a package, one for those drawn otherwise."""
    given = sheet.given
    own = given.part_of_land
    bare = [land for land in its if prints.count[land] == 0]
    other = [land for land in its if prints.count[land] > 0]
    for rule, some in (("missing", bare), ("unlike", other)):
        if not some:
            continue
        rows: dict[int, Outlines] = {}
        added: dict[int, Outlines] = {}
        for land in some:
            shapes = _as(sheet, prints, int(donor[land]), land)
            its_rows = [int(r) for r in sheet.rows_of(land)]
            if its_rows:
                rows[its_rows[0]] = shapes
                rows.update(dict.fromkeys(its_rows[1:], ()))
            else:
                added[land] = shapes
        parts = tuple(sorted({int(own[land]) for land in some}))
        what = "added, as on like lands" if rule == "missing" else "drawn as on like lands"
        reason = (
            "no opening while like lands have one"
            if rule == "missing"
            else "its size or place differs from the openings of like lands"
        )
        asked = _deliberate(sheet, some)
        yield Draft(rule, parts, rows, added, what, reason, asked)


def _deliberate(sheet: Sheet, some: list[int]) -> str:
    """The same lands of every part of a package, twice or more: somebody drew it so."""
    own, package = sheet.given.part_of_land, sheet.package
    parts = {int(own[land]) for land in some}
    alike = int(sheet.alike[package[next(iter(parts))]])
    if alike >= 2 and len(parts) == alike:
        return f"{'both' if alike == 2 else f'all {alike}'} parts of the package are drawn so"
    return ""


def _as(sheet: Sheet, prints: LandPrints, donor: int, land: int) -> Outlines:
    """The outlines on a donor's land, brought onto another."""
    from shapely import affinity

    lands = sheet.given.lands
    turn = float(np.degrees(prints.outward_rad[land] - prints.outward_rad[donor]))
    at = float(lands.x_mm[donor]), float(lands.y_mm[donor])
    dx, dy = float(lands.x_mm[land] - at[0]), float(lands.y_mm[land] - at[1])
    found = []
    for row in sheet.rows_of(donor):
        shape = sheet.given.paste.polygon[int(row)]
        if abs((turn + 180) % 360 - 180) > 1e-6:
            shape = affinity.rotate(shape, turn, origin=at)
        found.append(affinity.translate(shape, dx, dy))
    return tuple(found)
