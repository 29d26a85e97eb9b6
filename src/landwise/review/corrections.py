"""A corrected paste layer: which apertures change, into what, why, and with what effect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from landwise.printing.apertures import ApertureRules, panes
from landwise.printing.transfer import holding_area_ratio
from landwise.review.findings import FLOATS_COVER, LEAST_COVER, MOST_COVER, OFF_LAND, Situation, off_land
from landwise.review.model import Change, Finding, Openings, carries_lead
from landwise.review.verdicts import RAN_TOGETHER_MM, Neighbours, slump_spacings, under_middle
from landwise.shapes import Placed, rectangle

LEAST_SHIFT_MM = 0.0005  # below half a micrometre a film is not shifted but rounded
GROW_BEYOND_MM = 0.05  # how far an opening may print past its land; paste that near is drawn back on melting
ROUND_MM = 0.05
SLENDER = 1.8  # openings this slender get half-round ends instead of round corners
LEAST_GAIN = 0.02  # a change of the area ratio smaller than this is not worth a new film


@dataclass
class _Draft:
    """Changes of one side while they are gathered: the outlines of each changed aperture, and why."""

    after: dict[int, tuple[Any, ...]] = field(default_factory=dict)
    what: dict[int, list[str]] = field(default_factory=dict)
    reason: dict[int, list[str]] = field(default_factory=dict)

    def put(self, row: int, after: tuple[Any, ...], what: str, reason: str) -> None:
        self.after[row] = after
        self.what.setdefault(row, []).append(what)
        self.reason.setdefault(row, []).append(reason)


def correct(given: Situation, near: Neighbours, findings: Sequence[Finding]) -> tuple[Change, ...]:
    """The changes of one side's paste layer under its best foil, in file order.

    Parameters
    ----------
    given : Situation
        Judged under that foil.
    near : Neighbours
    findings : sequence of Finding
        Fiducials are taken from them.

    Notes
    -----
    In this order, each aperture by the first that applies: paste where no land is, and on fiducials, is
    taken off; centre pads outside 50 to 80 % coverage get panes at 65 %; openings well beside their land are
    cut to it; prints too near each other are narrowed as far as release allows; openings that release badly
    grow as far as neighbours and land allow, with round corners or ends. A film shifted as a whole by more
    than the printer's own offset is moved back. Nothing else is touched.
    """
    draft = _Draft()
    _remove(given, findings, draft)
    _panes(given, draft)
    _cut(given, draft)
    _narrow(given, near, draft)
    _grow(given, near, draft)
    _move(given, draft)
    return tuple(_change(given, row, draft) for row in sorted(draft.after))


def _remove(given: Situation, findings: Sequence[Finding], draft: _Draft) -> None:
    for finding in findings:
        if finding.side != given.side or finding.key not in ("extra", "fiducial"):
            continue
        why = "no land below" if finding.key == "extra" else "looks like a fiducial"
        for row in finding.apertures:
            draft.put(row, (), "removed", why)


def _panes(given: Situation, draft: _Draft) -> None:
    lands, matched = given.lands, given.matched
    if lands.basis == "paste":
        return
    rules = ApertureRules()
    for part in given.parts:
        for k in part.centre:
            rows = np.flatnonzero(matched.land == k)
            cover = float(matched.coverage[k])
            box = lands.length_mm[k] * lands.width_mm[k]
            rectangular = lands.area_mm2[k] > 0.9 * box
            wide = lands.width_mm[k] > rules.pane_from_mm
            outside = cover > MOST_COVER or cover < LEAST_COVER
            if not len(rows) or not outside or not rectangular or any(int(r) in draft.after for r in rows):
                continue
            place = Placed(
                rectangle(float(lands.length_mm[k]), float(lands.width_mm[k])),
                float(lands.x_mm[k]),
                float(lands.y_mm[k]),
                float(lands.angle_deg[k]),
            )
            if wide:
                made = tuple(pane.geometry() for pane in panes(place, rules))
                what = f"{len(made)} panes"
            elif cover > FLOATS_COVER:
                side = float(np.sqrt(rules.pane_coverage))
                smaller = rectangle(place.shape.length_mm * side, place.shape.width_mm * side)
                made, what = (place.with_shape(smaller).geometry(),), "reduced"
            else:
                continue
            whole = sum(pane.area for pane in made) / lands.area_mm2[k]
            reason = f"the centre pad is covered {cover:.0%}, makers print 50 to 80 %"
            draft.put(int(rows[0]), made, what, f"{reason}; now {whole:.0%}")
            for row in rows[1:]:
                draft.put(int(row), (), "removed", f"the {what} of its centre pad take its place")


def _cut(given: Situation, draft: _Draft) -> None:
    """Openings beside their land are cut to it."""
    import shapely

    lands, matched, paste = given.lands, given.matched, given.paste
    if lands.basis == "paste":
        return
    off = off_land(given)
    rows = np.flatnonzero(off > OFF_LAND[1])
    leaded = carries_lead(lands)
    for row in rows:
        land = int(matched.land[row])
        if int(row) in draft.after or leaded[land]:
            continue
        kept = shapely.intersection(paste.polygon[row], lands.polygon[land])
        if kept.geom_type == "Polygon" and kept.area > 0.3 * lands.area_mm2[land]:
            draft.put(int(row), (kept,), "cut to the land", f"{off[row]:.0%} of it lay beside the land")


def _narrow(given: Situation, near: Neighbours, draft: _Draft) -> None:
    """Prints too near each other lose width, no more than release allows."""
    paste, under = given.paste, given.under
    foil = under.foil
    holding = holding_area_ratio(foil.technology, under.powder)
    width = np.maximum(paste.width_mm[near.one], paste.width_mm[near.other])
    wanted = np.minimum(slump_spacings(width, foil.thickness_um), RAN_TOGETHER_MM * 1.5)
    lacking = wanted - near.gap_mm
    take = np.zeros(len(paste))
    for side in (near.one, near.other):
        np.maximum.at(take, side, lacking / 2)
    tight = np.zeros(len(paste), dtype=bool)
    for side in (near.one, near.other):
        tight[side[lacking > 0]] = True
    for row in np.flatnonzero(tight & (under.bridge > 0)):
        if int(row) in draft.after or holding is None:
            continue
        length, wide, loss = float(paste.length_mm[row]), float(paste.width_mm[row]), float(take[row])
        # Width at which release still holds, for a rectangle of this length.
        least = (
            2 * holding * foil.thickness_um / 1000 * length / max(length - 2 * holding * foil.thickness_um / 1000, 1e-6)
        )
        slim = max(wide - 2 * loss, min(least, wide))
        if wide - slim < 0.005:
            continue
        shape = _turned(given, int(row), length, slim)
        draft.put(
            int(row), (shape,), "narrowed" + _ends(length, slim), f"only {under.gap_mm[row]:.3f} mm to the next print"
        )


def _grow(given: Situation, near: Neighbours, draft: _Draft) -> None:
    """Openings that release badly grow, as far as land and neighbours leave room."""
    paste, under, lands = given.paste, given.under, given.lands
    foil, holding = under.foil, holding_area_ratio(under.foil.technology, under.powder)
    room = np.full(len(paste), np.inf)
    width = np.maximum(paste.width_mm[near.one], paste.width_mm[near.other])
    spare = (near.gap_mm - slump_spacings(width + 2 * GROW_BEYOND_MM, foil.thickness_um)) / 2
    for side in (near.one, near.other):
        np.minimum.at(room, side, spare)
    middle = under_middle(given.parts, len(lands))
    for row in np.flatnonzero(under.release > 0):
        land = int(given.matched.land[row])
        if int(row) in draft.after or holding is None or land < 0:
            continue
        beyond = 0.0
        if lands.basis != "paste":
            beyond = max(0.0, float(lands.width_mm[land] - paste.width_mm[row]) / 2)
        most = min(beyond + GROW_BEYOND_MM, float(room[row]))
        if most < 0.005 or (len(middle) and middle[land]):
            continue
        length, wide = float(paste.length_mm[row]), float(paste.width_mm[row])
        step = _needed(length, wide, holding * foil.thickness_um / 1000, most)
        shape = _turned(given, int(row), length + 2 * step, wide + 2 * step)
        ratio = shape.area / shape.length / (foil.thickness_um / 1000)
        if ratio < under.area_ratio[row] * (1 + LEAST_GAIN):
            continue
        what = f"grown {1000 * step:.0f} µm a side" + _ends(length, wide)
        draft.put(int(row), (shape,), what, f"area ratio {under.area_ratio[row]:.2f}, {holding:.2f} holds")


def _needed(length: float, width: float, slenderness: float, most: float) -> float:
    """The least growth that brings area over perimeter to the wanted value, at most `most`; 5 µm steps."""
    for step in np.arange(0.005, most + 1e-9, 0.005):
        long_, wide = length + 2 * step, width + 2 * step
        if long_ * wide / (2 * (long_ + wide)) >= slenderness * 1.005:
            return float(step)
    return float(np.floor(most / 0.005 + 1e-9) * 0.005) if most >= 0.005 else 0.0


def _ends(length: float, width: float) -> str:
    return ", half-round ends" if length > SLENDER * width else ", round corners"


def _turned(given: Situation, row: int, length: float, width: float) -> Any:
    """An opening of these sides where the old one stands, with round corners or half-round ends."""
    import shapely
    from shapely import affinity

    paste = given.paste
    radius = width / 2 if length > SLENDER * width else min(ROUND_MM, width / 4)
    core = shapely.box(-length / 2 + radius, -width / 2 + radius, length / 2 - radius, width / 2 - radius)
    if core.is_empty or core.area == 0:
        core = shapely.LineString([(-length / 2 + radius, 0), (length / 2 - radius, 0)])
    shape = core.buffer(radius, quad_segs=8)
    turned = affinity.rotate(shape, float(paste.angle_deg[row]), origin=(0, 0))
    moved = affinity.translate(turned, float(paste.x_mm[row]), float(paste.y_mm[row]))
    return shapely.set_precision(moved, 1e-6)


def _move(given: Situation, draft: _Draft) -> None:
    """A film that sits off the copper as a whole is moved back."""
    from shapely import affinity

    film = given.registration
    if film is None:
        return
    dx, dy = -film.shift_x_mm, -film.shift_y_mm
    if np.hypot(dx, dy) <= max(given.print_offset_mm, LEAST_SHIFT_MM):
        return
    reason = f"the film sits {1000 * np.hypot(dx, dy):.0f} µm off the copper"
    for row in range(len(given.paste)):
        now = draft.after.get(row, (given.paste.polygon[row],))
        draft.put(row, tuple(affinity.translate(shape, dx, dy) for shape in now), "moved", reason)


def _change(given: Situation, row: int, draft: _Draft) -> Change:
    paste, foil_mm = given.paste, given.under.foil.thickness_um / 1000
    after = draft.after[row]
    area = float(sum(shape.area for shape in after))
    ratios = [shape.area / shape.length / foil_mm for shape in after]
    before_ratio = float(given.under.area_ratio[row])
    ratio = min(ratios) if ratios else None
    if not after:
        effect = f"{paste.area_mm2[row]:.3f} mm² of opening less"
    elif len(after) > 1:
        effect = f"openings of {area:.3f} mm² in all, least area ratio {ratio:.2f}"
    else:
        effect = f"volume {area / paste.area_mm2[row] - 1:+.0%}, area ratio {before_ratio:.2f} → {ratio:.2f}"
    return Change(
        row,
        given.name(int(given.part_of[row])),
        given.side,
        "; ".join(draft.what[row]),
        "; ".join(draft.reason[row]),
        effect,
        (paste.polygon[row],),
        after,
        float(paste.area_mm2[row]),
        area,
        before_ratio,
        ratio,
    )


def corrected(paste: Openings, changes: Sequence[Change]) -> Openings:
    """The layer after the changes: untouched apertures first in file order, then the new outlines."""
    from landwise.review.building import openings

    gone = np.zeros(len(paste), dtype=bool)
    gone[[change.aperture for change in changes]] = True
    kept = {name: getattr(paste, name)[~gone] for name in Openings.__dataclass_fields__}
    shapes = [shape for change in changes for shape in change.after]
    names = [str(paste.component[change.aperture]) for change in changes for _ in change.after]
    pins = [str(paste.pin[change.aperture]) for change in changes for _ in change.after]
    new = openings(shapes, names, pins)
    return Openings(**{name: np.concatenate([kept[name], getattr(new, name)]) for name in kept})
