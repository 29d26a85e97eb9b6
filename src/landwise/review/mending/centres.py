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

PLAIN_SHARE = 0.9  # of its box: a centre pad that fills less has a shape of its own, and its print is left to people


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
    """Centre pads covered too far get panes; those covered too little are asked about."""
    given = sheet.given
    lands, matched = given.lands, given.matched
    by_package: dict[int, list[tuple[int, int]]] = {}
    for number, part in enumerate(given.parts):
        for land in part.centre:
            if matched.printed[land]:
                by_package.setdefault(int(sheet.package[number]), []).append((number, land))
    for its in by_package.values():
        drawn = of(its[0][0])
        cover = np.array([matched.coverage[land] for _, land in its])
        for out, few in ((cover > drawn.centre_most, False), (cover < drawn.centre_least, True)):
            rows: dict[int, Outlines] = {}
            what, parts = "", []
            for (number, land), bad in zip(its, out.tolist(), strict=True):
                if not bad or of(number).leave or lands.area_mm2[land] < PLAIN_SHARE * _box(sheet, land):
                    continue
                made = _panes(sheet, land, drawn, float(matched.coverage[land]))
                if made is None:
                    continue
                own = [int(row) for row in sheet.rows_of(land) if int(row) not in sheet.changed]
                if not own:
                    continue
                what = f"{len(made)} panes" if len(made) > 1 else "reduced"
                rows[own[0]] = made
                rows.update(dict.fromkeys(own[1:], ()))
                parts.append(number)
            if rows:
                worst = float(cover[out].min() if few else cover[out].max())
                whole = sum(shape.area for shapes in rows.values() for shape in shapes) / sum(
                    float(lands.area_mm2[land]) for (_, land), bad in zip(its, out.tolist(), strict=True) if bad
                )
                reason = (
                    f"{100 * worst:.0f} % of the centre pad is printed, makers print 50 to 80 %; this prints"
                    f" {100 * whole:.0f} %"
                )
                asked = "few or small windows are often meant: vias between them, or a part that must not float"
                yield Draft("panes", tuple(parts), rows, {}, what, reason, asked if few else "")


def _box(sheet: Sheet, land: int) -> float:
    return float(sheet.given.lands.length_mm[land] * sheet.given.lands.width_mm[land])


def _panes(sheet: Sheet, land: int, drawn: Drawn, cover: float) -> Outlines | None:
    """The panes, or one smaller opening, over a centre pad; None where its print is left."""
    lands = sheet.given.lands
    place = Placed(
        rectangle(float(lands.length_mm[land]), float(lands.width_mm[land])),
        float(lands.x_mm[land]),
        float(lands.y_mm[land]),
        float(lands.angle_deg[land]),
    )
    if lands.width_mm[land] > drawn.pane_from_mm:
        rules = ApertureRules(
            pane_coverage=drawn.centre_target,
            pane_from_mm=drawn.pane_from_mm,
            pane_bar_mm=drawn.pane_bar_mm,
            largest_pane_mm=drawn.pane_most_mm,
        )
        try:
            return tuple(pane.geometry() for pane in panes(place, rules))
        except InputError:
            return None  # the bars a rule asks for leave no room for its coverage
    if cover <= FLOATS_COVER:
        return None
    side = float(np.sqrt(drawn.centre_target))
    return (place.with_shape(rectangle(place.shape.length_mm * side, place.shape.width_mm * side)).geometry(),)


def chip_shapes(sheet: Sheet, of: DrawnOf) -> Iterator[Draft]:
    """Openings of chips shaped as a user's rule asks."""
    given = sheet.given
    done: dict[int, dict[int, Outlines]] = {}
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
                done.setdefault(int(sheet.package[number]), {})[rows[0]] = (shape,)
    for package, changed in done.items():
        parts = tuple(int(p) for p in np.flatnonzero(sheet.package == package))
        word = of(parts[0]).chip_shape
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
