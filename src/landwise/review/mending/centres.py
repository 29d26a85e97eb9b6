"""Prints under a body's middle, prints without a land, and shapes that a user's rules ask for on chips."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from landwise.errors import InputError
from landwise.printing.apertures import ApertureRules, panes
from landwise.review.checks.parts import FLOATS_COVER
from landwise.review.mending.rules import Drawn
from landwise.review.mending.sheet import Draft, Outlines, Sheet
from landwise.review.mending.sizes import DrawnOf
from landwise.review.model import Finding
from landwise.shapes import Geometry, Placed, rectangle

PLAIN_SHARE = 0.9  # of its box: a centre pad that fills less has a shape of its own, to which panes are cut
LEAST_PANE = 0.3  # of a whole pane: smaller pieces at a pad's edge are slivers
LIKE_AREA, ALIKE_COVER = 0.03, 0.1  # pads of one size, and prints that cover alike
FEW = "few or small windows are often meant: vias between them, or a part that must not float"
ODD = "the pad has a shape of its own, to which the panes were cut"


def strays(sheet: Sheet, findings: Sequence[Finding]) -> Iterator[Draft]:
    """Openings without a land, and on what looks like a fiducial, are taken off."""
    given = sheet.given
    for finding in findings:
        if finding.side != given.side or finding.key not in ("extra", "fiducial"):
            continue
        rows: dict[int, Outlines] = dict.fromkeys(finding.apertures, ())
        parts = tuple(sorted({int(given.part_of[row]) for row in rows}))
        if finding.key == "extra":
            asked = "" if finding.level == "fails" else "copper lies below, under the mask"
            yield Draft("stray", parts, rows, {}, "removed", "no land below", asked)
        else:
            yield Draft(
                "fiducial", parts, rows, {}, "removed", "looks like a fiducial", "it may be a contact that wants paste"
            )


def centres(sheet: Sheet, of: DrawnOf) -> Iterator[Draft]:
    """Centre pads covered too far get panes, those of like parts where there are; too little covered ones are asked."""
    for its in _by_package(sheet).values():
        yield from _as_likes(sheet, of, its)
        yield from _paned(sheet, of, its)


def _by_package(sheet: Sheet) -> dict[int, list[tuple[int, int]]]:
    """Parts with a land under their middle, and that land, by package."""
    found: dict[int, list[tuple[int, int]]] = {}
    for number, part in enumerate(sheet.given.parts):
        for land in part.centre:
            found.setdefault(int(sheet.package[number]), []).append((number, land))
    return found


def _as_likes(sheet: Sheet, of: DrawnOf, its: list[tuple[int, int]]) -> Iterator[Draft]:
    """Centre pads out of range, or bare, drawn as most pads of the package are that lie in it."""
    given = sheet.given
    cover = given.matched.coverage[[land for _, land in its]]
    drawn = of(its[0][0])
    sound = [one for one, share in zip(its, cover, strict=True) if drawn.centre_least <= share <= drawn.centre_most]
    rows: dict[int, Outlines] = {}
    added: dict[int, Outlines] = {}
    parts, donors = [], set()
    for (number, land), share in zip(its, cover.tolist(), strict=True):
        if (number, land) in sound or of(number).leave:
            continue
        likes = [one for one in sound if _one_size(sheet, land, one[1])]
        middle = float(np.median(given.matched.coverage[[like for _, like in likes]])) if likes else 0.0
        near = [one for one in likes if abs(float(given.matched.coverage[one[1]]) - middle) < ALIKE_COVER]
        if len(near) < max(1, len(its) - len(sound)):
            continue
        own = [int(row) for row in sheet.rows_of(land)]
        if any(row in sheet.changed for row in own):
            continue
        shapes = _brought(sheet, near[0], (number, land))
        if own:
            rows[own[0]] = shapes
            rows.update(dict.fromkeys(own[1:], ()))
        else:
            added[land] = shapes
        parts.append(number)
        donors |= {number for number, _ in near}
        worst = share
    if parts:
        few = min(len(donors), 4)
        names = ", ".join(given.name(donor) for donor in sorted(donors)[:few]) + (" …" if len(donors) > few else "")
        reason = f"{100 * worst:.0f} % of the centre pad is printed, {100 * middle:.0f} % on {names}"
        yield Draft("panes", tuple(parts), rows, added, "drawn as on like parts", reason)


def _one_size(sheet: Sheet, one: int, other: int) -> bool:
    lands = sheet.given.lands
    return bool(abs(lands.area_mm2[one] / lands.area_mm2[other] - 1) < LIKE_AREA)


def _brought(sheet: Sheet, donor: tuple[int, int], to: tuple[int, int]) -> Outlines:
    """The openings of one part's centre pad, turned and moved onto another's."""
    from shapely import affinity

    given = sheet.given
    turn = float(np.degrees(given.frames.turn_rad[to[0]] - given.frames.turn_rad[donor[0]]))
    at = float(given.lands.x_mm[donor[1]]), float(given.lands.y_mm[donor[1]])
    dx, dy = float(given.lands.x_mm[to[1]]) - at[0], float(given.lands.y_mm[to[1]]) - at[1]
    shapes = [given.paste.polygon[int(row)] for row in sheet.rows_of(donor[1])]
    if abs((turn + 180) % 360 - 180) > 1e-6:
        shapes = [affinity.rotate(shape, turn, origin=at) for shape in shapes]
    return tuple(affinity.translate(shape, dx, dy) for shape in shapes)


def _paned(sheet: Sheet, of: DrawnOf, its: list[tuple[int, int]]) -> Iterator[Draft]:
    """Centre pads out of range with panes of ours."""
    given = sheet.given
    lands, matched = given.lands, given.matched
    its = [(number, land) for number, land in its if matched.printed[land]]
    if not its:
        return
    drawn = of(its[0][0])
    cover = np.array([matched.coverage[land] for _, land in its])
    for out, few in ((cover > drawn.centre_most, False), (cover < drawn.centre_least, True)):
        rows: dict[int, Outlines] = {}
        what, parts, whole, odd = "", [], 0.0, False
        for (number, land), bad in zip(its, out.tolist(), strict=True):
            own = [int(row) for row in sheet.rows_of(land)]
            if not bad or of(number).leave or any(row in sheet.changed for row in own):
                continue
            made = _panes(sheet, land, drawn, float(matched.coverage[land]))
            if made is None:
                continue
            odd |= bool(lands.area_mm2[land] < PLAIN_SHARE * _box(sheet, land))
            what = f"{len(made)} panes" if len(made) > 1 else "reduced"
            rows[own[0]] = made
            rows.update(dict.fromkeys(own[1:], ()))
            parts.append(number)
            whole += float(lands.area_mm2[land])
        if rows:
            worst = float(cover[out].min() if few else cover[out].max())
            share = sum(shape.area for shapes in rows.values() for shape in shapes) / whole
            reason = (
                f"{100 * worst:.0f} % of the centre pad is printed, makers print 48 to 78 %; this prints"
                f" {100 * share:.0f} %"
            )
            yield Draft("panes", tuple(parts), rows, {}, what, reason, FEW if few else ODD if odd else "")


def _box(sheet: Sheet, land: int) -> float:
    return float(sheet.given.lands.length_mm[land] * sheet.given.lands.width_mm[land])


def _around(sheet: Sheet, land: int) -> Placed:
    """The rectangle around a land."""
    lands = sheet.given.lands
    return Placed(
        rectangle(float(lands.length_mm[land]), float(lands.width_mm[land])),
        float(lands.x_mm[land]),
        float(lands.y_mm[land]),
        float(lands.angle_deg[land]),
    )


def _panes(sheet: Sheet, land: int, drawn: Drawn, cover: float) -> Outlines | None:
    """The panes, or one smaller opening, over a centre pad; None where its print is left."""
    lands = sheet.given.lands
    box = _around(sheet, land)
    plain = lands.area_mm2[land] >= PLAIN_SHARE * _box(sheet, land)
    if lands.width_mm[land] > drawn.pane_from_mm or not plain:
        rules = ApertureRules(
            pane_coverage=drawn.centre_target,
            pane_from_mm=drawn.pane_from_mm,
            pane_bar_mm=drawn.pane_bar_mm,
            largest_pane_mm=drawn.pane_most_mm,
        )
        try:
            made = tuple(pane.geometry() for pane in panes(box, rules))
        except InputError:
            return None  # the bars a rule asks for leave no room for its coverage
        return made if plain else _cut_to(sheet, land, made, drawn)
    if cover <= FLOATS_COVER:
        return None
    side = float(np.sqrt(drawn.centre_target))
    return (box.with_shape(rectangle(box.shape.length_mm * side, box.shape.width_mm * side)).geometry(),)


def _cut_to(sheet: Sheet, land: int, made: Outlines, drawn: Drawn) -> Outlines | None:
    """Panes over a pad of odd shape cut to it; None where what is left is out of range or in slivers."""
    import shapely

    shape = sheet.given.lands.polygon[land]
    cut = [part for pane in made for part in shapely.get_parts(pane.intersection(shape))]
    kept = tuple(part for part in cut if part.geom_type == "Polygon" and part.area >= LEAST_PANE * made[0].area)
    share = sum(part.area for part in kept) / float(sheet.given.lands.area_mm2[land])
    return kept if drawn.centre_least <= share <= drawn.centre_most else None


def chip_shapes(sheet: Sheet, of: DrawnOf) -> Iterator[Draft]:
    """Openings of chips shaped as a user's rule asks."""
    given = sheet.given
    done: dict[tuple[int, str], dict[int, Outlines]] = {}
    for number, part in enumerate(given.parts):
        if part.kind != "chip":
            continue
        drawn = of(number)
        if drawn.chip_shape == "as drawn" or drawn.leave:
            continue
        for land in part.lands:
            rows = [int(row) for row in sheet.rows_of(land)]
            if len(rows) == 1 and rows[0] not in sheet.changed:
                shape = _chip(sheet, part.x_mm, part.y_mm, rows[0], drawn)
                done.setdefault((int(sheet.package[number]), drawn.chip_shape), {})[rows[0]] = (shape,)
    for (_, word), changed in done.items():
        # A rule may hold for some parts of a package only, such as its capacitors.
        parts = tuple(sorted({int(given.part_of[row]) for row in changed}))
        yield Draft("chip-shape", parts, changed, {}, word, "asked for by a rule")


def _chip(sheet: Sheet, x0: float, y0: float, row: int, drawn: Drawn) -> Geometry:
    """An opening with its inner end run to a point, or its inner edge taken back."""
    import shapely
    from shapely import affinity

    paste = sheet.given.paste
    x, y = float(paste.x_mm[row]), float(paste.y_mm[row])
    turn = float(np.degrees(np.arctan2(y - y0, x - x0)))
    flat = affinity.rotate(paste.polygon[row], -turn, origin=(x, y))
    left, low, right, high = flat.bounds
    reach = (right - left) * drawn.chip_share
    if drawn.chip_shape == "cut-back":
        cut = shapely.box(left + reach, low, right, high)
    else:
        cut = shapely.Polygon([(left, y), (left + reach, low), (right, low), (right, high), (left + reach, high)])
    turned = affinity.rotate(flat.intersection(cut), turn, origin=(x, y))
    made: Geometry = shapely.set_precision(turned, 1e-6)
    return made
