"""Checks of the print on its lands: beside them, missing, on fiducials, on vias and holes, and the film as a whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.printing.apertures import ApertureRules
from landwise.printing.holes import ENOUGH_FILL, FILL_SOURCE
from landwise.printing.holes import SOURCE as HOLE_SOURCE
from landwise.printing.paste import paste_metal_fraction
from landwise.quantities import several
from landwise.review.checks.situation import PRACTICE_SOURCE, Situation, by_part, count, finding, holed, rows_of_lands
from landwise.review.model import Finding, Floats, carries_lead

OFF_LAND = (0.05, 0.25)  # share of an aperture beside its land: marginal from the first, fails from the second on
BESIDE_MM = 0.05  # fine grids are printed this much over their lands on purpose
OFF_SOURCE = "misprint-quarter-memory"
FIDUCIAL_MM = (0.5, 3.2)
PARTLY = 0.25  # of a land: an opening that prints so much of it, whichever land it serves, leaves it not bare; ours


def _off_land(given: Situation) -> Iterator[Finding]:
    if given.lands.basis == "paste":
        return
    off = off_land(given)
    stray = (off > OFF_LAND[0]) & ~holed(given)
    for part, rows in by_part(given, np.flatnonzero(stray)):
        share = float(off[rows].max())
        level: Verdict = "fails" if share > OFF_LAND[1] else "marginal"
        much = f"{100 * share:.0f} % of the opening"
        says = f"{count(rows)}: up to {much} lies more than {1000 * BESIDE_MM:.0f} µm beside its land"
        yield finding(given, "off-land", level, rows, part, says, value=share, limit=OFF_LAND[1], sources=(OFF_SOURCE,))


def off_land(given: Situation) -> Floats:
    """Share of each opening that lies further beside its land than paste is drawn back from on melting. [-]"""
    import shapely

    matched, found = given.matched, np.zeros(len(given.paste))
    rows = np.flatnonzero((matched.land >= 0) & (matched.on_land < 1 - OFF_LAND[0]))
    if len(rows):
        around = shapely.buffer(given.lands.polygon[matched.land[rows]], BESIDE_MM)
        beside = shapely.area(shapely.difference(given.paste.polygon[rows], around))
        # What prints on a neighbouring land is no stray paste; it was counted as on land.
        found[rows] = np.minimum(beside / given.paste.area_mm2[rows], 1 - matched.on_land[rows])
    return found


def _extra(given: Situation) -> Iterator[Finding]:
    if given.lands.basis == "paste":
        return
    for row in np.flatnonzero(given.matched.land < 0):
        size = f"{given.paste.length_mm[row]:.2f} × {given.paste.width_mm[row]:.2f} mm"
        yield finding(
            given,
            "extra",
            "fails",
            np.array([row]),
            -1,
            f"an opening of {size} prints where no land is",
            sources=(PRACTICE_SOURCE,),
        )


def _spanning(given: Situation) -> Iterator[Finding]:
    """One opening over several lands: their solder runs together, unless they are one terminal's."""
    matched = given.matched
    for part, rows in by_part(given, np.flatnonzero(matched.spans > 1)):
        told = part >= 0 and given.parts[part].kind not in ("odd", "single")
        most = int(matched.spans[rows].max())
        says = f"{count(rows)} over up to {most} lands each: what they print runs together on melting"
        level: Verdict = "fails" if told else "marginal"
        yield finding(
            given, "spanning", level, rows, part, says, value=float(most), limit=1.0, sources=(PRACTICE_SOURCE,)
        )


def _missing(given: Situation) -> Iterator[Finding]:
    lands, printed = given.lands, given.matched.printed
    leaded = carries_lead(lands)
    if lands.basis == "paste":
        return
    # What an opening of another land prints in part is no bare land: copper drawn in pieces, a pad beside a flash.
    partly = given.matched.spanned | (given.matched.coverage > PARTLY)
    nothing = (printed == 0) & ~leaded & ~partly
    for number in np.unique(given.part_of_land[nothing & (given.part_of_land >= 0)]).tolist():
        part = given.parts[number]
        if part.kind in ("single", "odd") or len(part.lands) < 2:
            continue
        its = np.array(part.lands)
        bare = its[nothing[its]]
        if len(bare) > len(its) / 2:
            continue
        middle = set(part.centre)
        only_middle = all(int(k) in middle for k in bare)
        level: Verdict = "marginal" if only_middle or part.kind in ("grid", "row") else "fails"
        some = f"{len(bare)} of {len(its)} lands {'has' if len(bare) == 1 else 'have'}"
        what = "the land under the middle has" if only_middle else some
        yield finding(
            given,
            "missing",
            level,
            np.zeros(0, np.int64),
            number,
            f"{what} no paste while the other{'s have' if len(its) - len(bare) > 1 else ' has'}",
            at=(float(lands.x_mm[bare].mean()), float(lands.y_mm[bare].mean())),
            value=float(len(bare)),
            limit=0.0,
            sources=(PRACTICE_SOURCE,),
        )


def _lone(given: Situation) -> Iterator[Finding]:
    lands, printed = given.lands, given.matched.printed
    leaded = carries_lead(lands)
    if lands.basis == "paste":
        return
    lone, fiducial = [], []
    for part in given.parts:
        k = part.lands[0]
        if part.kind != "single" or not printed[k] or leaded[k] or lands.holes[k] > 1:
            continue
        wide = FIDUCIAL_MM[0] <= lands.length_mm[k] <= FIDUCIAL_MM[1]
        disc = abs(lands.area_mm2[k] / (np.pi / 4 * lands.length_mm[k] ** 2) - 1) < 0.03
        if disc and wide and lands.clearance_mm[k] > 0.3 and lands.touch[k] == 0 and not lands.holes[k]:
            fiducial.append(k)
        elif lands.area_mm2[k] < 12 and part.named_by == "geometry":
            lone.append(k)
    rows_of = rows_of_lands(given)
    for k in fiducial:
        yield finding(
            given,
            "fiducial",
            "fails",
            rows_of(k),
            int(given.part_of_land[k]),
            "paste on a lone round land with wide mask clearance: it looks like a fiducial",
            sources=(PRACTICE_SOURCE,),
        )
    if lone:
        rows = np.concatenate([rows_of(k) for k in lone])
        says = (
            f"{count(np.array(lone), 'lone land')} printed that no part claims: test lands, wire pads, or lands of a"
            " large part"
        )
        yield finding(given, "lone-land", "not known", rows, -1, says, sources=(PRACTICE_SOURCE,))
    used = (given.part_of_land >= 0) & ((printed > 0) | leaded)
    kept = np.zeros(len(given.parts), dtype=bool)
    kept[given.part_of_land[used]] = True
    left = [given.parts[number] for number in np.flatnonzero(~kept).tolist()]
    if left:
        lands_left = sum(len(p.lands) for p in left)
        pairs = sum(p.kind == "chip" for p in left)
        among = f" ({several(pairs, 'pair')} among them)" if pairs and lands_left > 2 else ""
        says = (
            f"{count(np.arange(lands_left), 'bare land')} {'gets' if lands_left == 1 else 'get'} no paste{among}: parts"
            " left out, contacts, fiducials or test lands"
        )
        yield finding(
            given,
            "unprinted",
            "not known",
            np.zeros(0, np.int64),
            -1,
            says,
            at=(left[0].x_mm, left[0].y_mm),
            value=float(lands_left),
            sources=(PRACTICE_SOURCE,),
        )


def _vias(given: Situation) -> Iterator[Finding]:
    lands, land = given.lands, given.matched.land
    if not len(lands):
        return
    drilled = (lands.holes > 0) & ~carries_lead(lands)
    middle = np.zeros(len(lands), dtype=bool)
    for part in given.parts:
        middle[list(part.centre)] = True
    # A big land has room for open vias beside its paste; a terminal's land hasn't.
    small = drilled & ~middle & (lands.area_mm2 < 4.0)
    rows = np.flatnonzero((land >= 0) & small[land])
    for part_, some in by_part(given, rows):
        holes = float(lands.hole_mm[land[some]].max())
        says = (
            f"{count(some, 'printed land')} with a via ({holes:.2f} mm): solder drains unless it is filled and capped"
        )
        yield finding(given, "via", "marginal", some, part_, says, value=holes, unit="mm", sources=(PRACTICE_SOURCE,))


def _holes(given: Situation) -> Iterator[Finding]:
    lands, under = given.lands, given.under
    rows = np.flatnonzero(holed(given))
    if not rows.size:
        return
    metal = paste_metal_fraction(under.powder)
    barrel = np.pi / 4 * lands.hole_mm[given.matched.land[rows]] ** 2 * ApertureRules().board_mm
    # A lead fills a third to two thirds of its hole's section: 0.25 mm of clearance in holes of 0.6 to 1.2 mm.
    fill_low = (
        under.paste_mm3[rows] * under.usual_low[rows] / np.maximum(under.mean[rows], 1e-9) * metal / (barrel * 0.67)
    )
    fill_high = under.paste_mm3[rows] * metal / (barrel * 0.33)
    for part, some in by_part(given, rows):
        at = np.searchsorted(rows, some)
        low, high = float(fill_low[at].min()), float(fill_high[at].max())
        level: Verdict = "fails" if high < ENOUGH_FILL else "marginal" if low < ENOUGH_FILL else "not known"
        says = (
            f"{count(some, 'drilled land')} printed: the paste outside the hole fills {100 * low:.0f} % to"
            f" {100 * high:.0f} % of the barrel around a lead of usual size in a 1.6 mm board;"
            " what the blade presses in comes on top"
        )
        yield finding(
            given, "hole", level, some, part, says, value=low, limit=ENOUGH_FILL, sources=(HOLE_SOURCE, FILL_SOURCE)
        )


def _film(given: Situation) -> Iterator[Finding]:
    film = given.registration
    if given.seat:
        none = np.zeros(0, dtype=np.int64)
        at = (float(given.paste.x_mm.mean()), float(given.paste.y_mm.mean()))
        yield finding(given, "registration", "fails", none, -1, given.seat, at=at, sources=(PRACTICE_SOURCE,))
    if film is None:
        return
    shift = float(np.hypot(film.shift_x_mm, film.shift_y_mm))
    span = np.array([np.ptp(given.paste.x_mm), np.ptp(given.paste.y_mm)])
    stretch = abs(film.scale_ppm) * 1e-6 * float(np.hypot(*span)) / 2
    middle = (float(given.paste.x_mm.mean()), float(given.paste.y_mm.mean()))
    none = np.zeros(0, dtype=np.int64)
    for value, what in ((shift, "shifted"), (stretch, "stretched at its corners")):
        if value > given.print_offset_mm:
            level: Verdict = "fails" if value > 2 * given.print_offset_mm else "marginal"
            says = f"the whole paste film is {what} by {1000 * value:.0f} µm against the copper ({film.count} lands)"
            yield finding(
                given,
                "registration",
                level,
                none,
                -1,
                says,
                value=1000 * value,
                limit=1000 * given.print_offset_mm,
                unit="um",
                at=middle,
                sources=("print-offset-memory",),
            )


CHECKS: tuple[Callable[[Situation], Iterator[Finding]], ...] = (
    _off_land,
    _extra,
    _spanning,
    _missing,
    _lone,
    _vias,
    _holes,
    _film,
)
