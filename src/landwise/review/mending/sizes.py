"""Openings of a size or place that print badly: too far beside their land, too near each other, too small to release.

All openings of one kind in a package are treated alike, by what the worst of them allows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from landwise.printing.transfer import holding_area_ratio
from landwise.review.checks.onland import OFF_LAND, off_land
from landwise.review.frames import mixed, steps
from landwise.review.mending.filmway import FilmWay
from landwise.review.mending.rules import Drawn
from landwise.review.mending.sheet import Draft, Outlines, Sheet
from landwise.review.model import Bools, Floats, Ints, carries_lead
from landwise.review.verdicts import HALF, RAN_TOGETHER_MM, Neighbours, slump_spacings, under_middle
from landwise.shapes import Geometry

LEAST_GAIN = 0.02  # a change of the area ratio smaller than this is not worth a new film
OVER_SHARE = 1.5  # of the land's area: an opening beyond it prints more than the land carries
ASIDE_MM = 0.05  # a row that lies further off than this has moved
TAB_SHARE = 4.0  # a land this many times its part's middle one is a tab
UNTOLD = "the lands don't tell what the part is; a small print may be meant"
LEFT_SHARE = 0.8  # of the land that an opening cut to it must still cover
MOVED_SHARE = (0.6, 1.05)  # of its land: an opening of this size has moved and not grown
LINE_COVER = 0.01  # of a land: below it no per cent is worth reading
DrawnOf = Callable[[int], Drawn]


def classes_of(sheet: Sheet, rows: Ints, bad: Bools | None = None) -> Iterator[Ints]:
    """Openings of one size, on lands of one size, of one package, together; only those with one that is bad, if told.

    `bad` goes by opening. On a film without likes there are as many classes as openings: what none is wrong with is
    left out before any is looked at by itself.
    """
    given = sheet.given
    paste, lands, land = given.paste, given.lands, given.matched.land[rows]
    part = given.part_of[rows]
    # An opening without a part is a kind of its own.
    package = np.where(part >= 0, sheet.package[part] if len(sheet.package) else -1, -2 - rows)
    key = mixed(
        package.astype(np.int64),
        steps(paste.length_mm[rows]),
        steps(paste.width_mm[rows]),
        steps(lands.length_mm[land]),
        steps(lands.width_mm[land]),
    )
    if bad is not None and len(rows):
        _, number = np.unique(key, return_inverse=True)
        with_bad = np.bincount(number, weights=bad[rows])[number] > 0
        rows, key = rows[with_bad], key[with_bad]
    order = np.argsort(key, kind="stable")
    for some in np.split(rows[order], np.flatnonzero(np.diff(key[order].astype(np.int64))) + 1):
        if len(some):
            yield np.sort(some)


def _free(sheet: Sheet, of: DrawnOf) -> Ints:
    """Openings that may be changed: on a land, not a drilled lead's, not done already, not told to be left."""
    given = sheet.given
    land = given.matched.land
    free = land >= 0
    free[free] &= ~carries_lead(given.lands)[land[free]]
    for row in sheet.changed:
        free[row] = False
    for part in np.unique(given.part_of[free & (given.part_of >= 0)]):
        if of(int(part)).leave:
            free[given.part_of == part] = False
    found: Ints = np.flatnonzero(free)
    return found


def _draft(sheet: Sheet, rule: str, rows: dict[int, Outlines], what: str, reason: str, asked: str = "") -> Draft:
    parts = tuple(sorted({int(sheet.given.part_of[row]) for row in rows}))
    return Draft(rule, parts, rows, {}, what, reason, asked)


def to_lands(sheet: Sheet, of: DrawnOf, film: FilmWay) -> Iterator[Draft]:
    """Openings well beside their land, far larger or much smaller than it: moved back, or drawn in the film's way.

    Those of a row that lies beside its lands all to one side are moved back with the size that they have.
    """
    import shapely
    from shapely import affinity

    given = sheet.given
    paste, lands, matched = given.paste, given.lands, given.matched
    off = off_land(given)
    alone = _free(sheet, of)
    alone = alone[matched.printed[matched.land[alone]] == 1]
    middle = under_middle(given.parts, len(lands))
    alone = alone[~middle[matched.land[alone]]]
    cover = matched.coverage[matched.land]
    big = paste.area_mm2 / np.maximum(lands.area_mm2[matched.land], 1e-9)
    shifted = (off > OFF_LAND[0]) & (big < 1.25) & (big > 0.8)
    beside = ((off > OFF_LAND[1]) | shifted | (big > OVER_SHARE))[alone]
    for rows in classes_of(sheet, alone[beside]):
        way, aside = _way(sheet, rows, film), _aside(sheet, rows)
        back = aside and bool(((big[rows] >= MOVED_SHARE[0]) & (big[rows] <= MOVED_SHARE[1])).all())
        outlines: dict[int, Outlines] = {}
        for row in rows.tolist():
            land = int(matched.land[row])
            if back:
                dx, dy = -float(matched.dx_mm[row]), -float(matched.dy_mm[row])
                outlines[row] = (affinity.translate(paste.polygon[row], dx, dy),)
                continue
            kept = shapely.intersection(paste.polygon[row], lands.polygon[land])
            whole = way.whole and kept.geom_type == "Polygon" and kept.area >= LEFT_SHARE * lands.area_mm2[land]
            outlines[row] = (
                ((kept,) if whole else (way.on(lands.polygon[land]),)) if _plain(lands.polygon[land]) else ()
            )
        outlines = {row: shapes for row, shapes in outlines.items() if shapes}
        if outlines:
            worst = float(off[rows].max())
            reason = f"up to {100 * worst:.0f} % of the opening lies beside the land"
            if worst <= OFF_LAND[0]:
                reason = f"the opening is {float(big[rows].max()):.1f} times its land"
            what = "moved back onto the land" if back else way.says
            draft = _draft(sheet, "to-land", outlines, what, reason, _all_so(sheet, rows))
            yield replace(draft, aside=aside)
    small = alone[(cover[alone] < HALF) & ~beside]
    for rows in classes_of(sheet, small):
        way = _way(sheet, rows, film)
        its = {row: lands.polygon[int(matched.land[row])] for row in rows.tolist()}
        outlines = {row: (way.on(land),) for row, land in its.items() if _plain(land)}
        if outlines:
            least = float(cover[rows].min())
            reason = (
                f"covers {100 * least:.0f} % of its land" if least >= LINE_COVER else "covers next to none of its land"
            )
            yield _draft(sheet, "raise", outlines, way.says, reason, _tab(sheet, rows))


def _way(sheet: Sheet, rows: Ints, film: FilmWay) -> FilmWay:
    """The film's way; balls have their own, the land."""
    part = int(sheet.given.part_of[rows[0]])
    return FilmWay() if part >= 0 and sheet.given.parts[part].kind == "grid" else film


def _plain(shape: Geometry) -> bool:
    return shape.geom_type == "Polygon" and not shape.interiors


def _tab(sheet: Sheet, rows: Ints) -> str:
    """Whether a small print looks meant: on a tab, or on parts whose lands don't tell what they are."""
    given = sheet.given
    for row in rows.tolist():
        part = int(given.part_of[row])
        if part < 0 or given.parts[part].kind in ("odd", "single", "row"):
            return UNTOLD
        its = given.lands.area_mm2[list(given.parts[part].lands)]
        if given.lands.area_mm2[given.matched.land[row]] > TAB_SHARE * float(np.median(its)):
            return "a tab is often printed in part"
    return ""


def _aside(sheet: Sheet, rows: Ints) -> bool:
    """Whether on every part the openings lie off their lands by much the same way, to one side."""
    given = sheet.given
    for part in np.unique(given.part_of[rows]).tolist():
        its = rows[given.part_of[rows] == part]
        dx, dy = given.matched.dx_mm[its], given.matched.dy_mm[its]
        whole = float(np.hypot(dx.mean(), dy.mean()))
        if part < 0 or len(its) < 2 or whole < ASIDE_MM or np.hypot(dx - dx.mean(), dy - dy.mean()).max() > 0.3 * whole:
            return False
    return True


def _all_so(sheet: Sheet, rows: Ints) -> str:
    """Every opening of every one of two or more parts of a package drawn so is a designer's own way."""
    given = sheet.given
    parts = np.unique(given.part_of[rows])
    if (parts < 0).any() or any(given.parts[p].kind in ("odd", "single", "row") for p in parts.tolist()):
        return "the lands don't tell what the part is"
    alike = int(sheet.alike[sheet.package[parts[0]]])
    if alike >= 2 and len(parts) == alike:
        return f"{'both' if alike == 2 else f'all {alike}'} parts of the package are drawn so"
    return ""


def narrow(sheet: Sheet, near: Neighbours, of: DrawnOf) -> Iterator[Draft]:
    """Prints too near each other lose width, all of a kind alike, no more than release and rules allow."""
    given = sheet.given
    paste, under = given.paste, given.under
    foil = under.foil
    holding = holding_area_ratio(foil.technology, under.powder)
    if holding is None:
        return
    width = np.maximum(paste.width_mm[near.one], paste.width_mm[near.other])
    wanted = np.minimum(slump_spacings(width, foil.thickness_um), RAN_TOGETHER_MM * 1.5)
    lacking = wanted - near.gap_mm
    take = np.zeros(len(paste))
    for side in (near.one, near.other):
        np.maximum.at(take, side, lacking / 2)
    free = _free(sheet, of)
    free = free[(given.part_of[free] >= 0) & ~under_middle(given.parts, len(given.lands))[given.matched.land[free]]]
    near_by = (take > 0) & (under.bridge > 0)
    for rows in classes_of(sheet, free, near_by):
        bad = rows[near_by[rows]]
        # A lone neighbour across parts is a matter of layout, not of the package's print.
        if len(bad) < 0.5 * len(rows):
            continue
        drawn = of(int(given.part_of[rows[0]]))
        length, wide, loss = float(paste.length_mm[rows].mean()), float(paste.width_mm[rows].mean()), take[bad].max()
        slender = holding * foil.thickness_um / 1000
        least = 2 * slender * length / max(length - 2 * slender, 1e-6)
        slim = _stepped(max(wide - 2 * float(loss), min(least, wide), wide * (1 - drawn.narrow_share_most)), drawn)
        if wide - slim < drawn.step_mm:
            continue
        outlines = redrawn(sheet, rows, length, slim, drawn)
        what = f"narrowed to {1000 * slim:.0f} µm" + ends(length, slim, drawn)
        reason = f"only {float(under.gap_mm[bad].min()):.3f} mm to the next print"
        yield _draft(sheet, "narrow", outlines, what, reason)


def grow(sheet: Sheet, near: Neighbours, of: DrawnOf) -> Iterator[Draft]:
    """Openings that release badly grow, all of a kind alike, as far as the one with least room allows."""
    given = sheet.given
    paste, under, lands = given.paste, given.under, given.lands
    foil, holding = under.foil, holding_area_ratio(under.foil.technology, under.powder)
    if holding is None:
        return
    room = _room(near, paste.width_mm, foil.thickness_um, len(paste))
    middle = under_middle(given.parts, len(lands))
    free = _free(sheet, of)
    free = free[~middle[given.matched.land[free]]]
    for rows in classes_of(sheet, free, under.release > 0):
        bad = rows[under.release[rows] > 0]
        part = int(given.part_of[rows[0]])
        drawn = of(part)
        land = given.matched.land[rows]
        beyond = np.zeros(len(rows))
        if lands.basis != "paste":
            beyond = np.maximum(0.0, (lands.width_mm[land] - paste.width_mm[rows]) / 2)
        most = float(min((beyond + drawn.grow_beyond_mm).min(), room[rows].min()))
        length, wide = float(paste.length_mm[rows].mean()), float(paste.width_mm[rows].mean())
        step = _needed((length, wide), holding * foil.thickness_um / 1000, most, drawn)
        if step <= 0:
            continue
        outlines = redrawn(sheet, rows, length + 2 * step, wide + 2 * step, drawn)
        one = next(iter(outlines.values()))[0]
        if one.area / one.length / (foil.thickness_um / 1000) < float(under.area_ratio[bad].min()) * (1 + LEAST_GAIN):
            continue
        what = f"grown {1000 * step:.0f} µm a side" + ends(length, wide, drawn)
        yield _draft(
            sheet,
            "grow",
            outlines,
            what,
            f"area ratio {float(under.area_ratio[bad].min()):.2f}, {holding:.2f} holds",
            "" if part >= 0 and given.parts[part].kind not in ("odd", "single") else "the part is not known",
        )


def _room(near: Neighbours, width: Floats, foil_um: float, count: int) -> Floats:
    room = np.full(count, np.inf)
    wider = np.maximum(width[near.one], width[near.other])
    spare = (near.gap_mm - slump_spacings(wider + 0.1, foil_um)) / 2
    for side in (near.one, near.other):
        np.minimum.at(room, side, spare)
    return room


def _stepped(value: float, drawn: Drawn) -> float:
    return float(np.ceil(value / drawn.step_mm - 1e-6) * drawn.step_mm)


def _needed(sides: tuple[float, float], slenderness: float, most: float, drawn: Drawn) -> float:
    """The least growth that brings area over perimeter to the wanted value, within room and rules. [mm]"""
    length, width = sides
    last = 0.0
    for step in np.arange(drawn.step_mm, most + 1e-9, drawn.step_mm):
        long_, wide = length + 2 * step, width + 2 * step
        if long_ * wide > (1 + drawn.grow_share_most) * length * width:
            break
        last = float(step)
        if long_ * wide / (2 * (long_ + wide)) >= slenderness * 1.005:
            break
    return last


def ends(length: float, width: float, drawn: Drawn) -> str:
    """How the corners are drawn, in words."""
    return ", half-round ends" if length > drawn.round_ends_from * width else ", round corners"


def redrawn(sheet: Sheet, rows: Ints, length: float, width: float, drawn: Drawn) -> dict[int, Outlines]:
    """Openings of these sides where the old ones stand, round corners or ends; round ones stay round.

    Each direction is drawn once and put where the openings of that direction stand.
    """
    import shapely
    from shapely import affinity

    paste = sheet.given.paste
    first = int(rows[0])
    disc = (
        abs(length - width) < 0.02 * width
        and abs(paste.area_mm2[first] / (np.pi / 4 * paste.width_mm[first] ** 2) - 1) < 0.02
    )
    if disc:
        shape = shapely.Point(0, 0).buffer(width / 2, quad_segs=16)
    else:
        radius = width / 2 if length > drawn.round_ends_from * width else min(drawn.corner_mm, width / 4)
        core = shapely.box(-length / 2 + radius, -width / 2 + radius, length / 2 - radius, width / 2 - radius)
        if core.is_empty or core.area == 0:
            core = shapely.LineString([(-length / 2 + radius, 0), (length / 2 - radius, 0)])
        shape = core.buffer(radius, quad_segs=8) if radius > 0 else core
    found: dict[int, Outlines] = {}
    angles = np.zeros(len(rows)) if disc else np.round(paste.angle_deg[rows], 6)
    for angle in np.unique(angles):
        some = rows[angles == angle]
        turned = np.round(shapely.get_coordinates(affinity.rotate(shape, float(angle), origin=(0, 0))), 6)
        places = np.column_stack([paste.x_mm[some], paste.y_mm[some]])
        points = (turned[None, :, :] + places[:, None, :]).reshape(-1, 2)
        made = shapely.polygons(shapely.linearrings(points, indices=np.repeat(np.arange(len(some)), len(turned))))
        found.update({row: (one,) for row, one in zip(some.tolist(), made, strict=True)})
    return found
