"""Checks of parts: centre pads, large openings, chips."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.printing.apertures import ApertureRules
from landwise.review.checks.situation import PRACTICE_SOURCE, Situation, by_part, count, finding, rows_of_lands
from landwise.review.model import Finding

PANES_SOURCE, LARGE_SOURCE = "pane-coverage-makers", "segment-large"
LEAST_COVER, MOST_COVER, FLOATS_COVER = 0.45, 0.80, 0.95  # pages of makers go from 48 to 78 %
UNLIKE_PASTE = (1.15, 1.5)
UNLIKE_COPPER = 0.5
SMALL_CHIP_MM = 1.1  # longer side of a land: chips up to about 1.6 × 0.8 mm lift when pulled unevenly
BALLING_FOIL_UM = 140.0
BALLING_SOURCE = "mid-chip-balls-quoted"


def _centres(given: Situation) -> Iterator[Finding]:
    lands, matched = given.lands, given.matched
    rows_of = rows_of_lands(given)
    for number, part in enumerate(given.parts):
        for k in part.centre:
            rows = rows_of(k)
            if not len(rows) or lands.basis == "paste":
                continue
            cover = float(matched.coverage[k])
            small = lands.width_mm[k] <= ApertureRules().pane_from_mm
            if cover > MOST_COVER:
                level: Verdict = "fails" if cover > FLOATS_COVER and not small else "marginal"
                effect = "above that the part floats and its outer terminals lift"
            elif cover < LEAST_COVER:
                level, effect = "marginal", "below that the pad carries less heat"
            else:
                continue
            panes = f"{len(rows)} openings cover" if len(rows) > 1 else "one opening covers"
            says = f"{panes} {100 * cover:.0f} % of the centre pad; makers print 48 to 78 %, {effect}"
            yield finding(
                given,
                "centre",
                level,
                rows,
                number,
                says,
                value=cover,
                limit=MOST_COVER if cover > MOST_COVER else LEAST_COVER,
                sources=(PANES_SOURCE,),
            )


def _large(given: Situation) -> Iterator[Finding]:
    limit = ApertureRules().divide_above_mm
    for part, rows in by_part(given, np.flatnonzero(given.paste.width_mm > limit)):
        size = float(given.paste.width_mm[rows].max())
        says = f"{count(rows)} {size:.1f} mm wide: the blade scoops openings above about {limit:g} mm"
        yield finding(
            given, "large", "marginal", rows, part, says, value=size, limit=limit, unit="mm", sources=(LARGE_SOURCE,)
        )


def _chips(given: Situation) -> Iterator[Finding]:
    lands, matched = given.lands, given.matched
    if lands.basis == "paste":
        return
    rows_of = rows_of_lands(given)
    for number, part in enumerate(given.parts):
        if part.kind != "chip" or len(part.lands) != 2:
            continue
        a, b = part.lands
        if not (matched.printed[a] and matched.printed[b]):
            continue
        covers = sorted(matched.coverage[k] * lands.area_mm2[k] for k in (a, b))
        unlike = covers[1] / max(covers[0], 1e-9)
        if unlike > UNLIKE_PASTE[0]:
            level: Verdict = "fails" if unlike > UNLIKE_PASTE[1] else "marginal"
            says = f"one land gets {100 * (unlike - 1):.0f} % more paste than the other: the part may swim or stand up"
            yield finding(
                given,
                "unlike-paste",
                level,
                np.concatenate([rows_of(a), rows_of(b)]),
                number,
                says,
                value=unlike,
                limit=UNLIKE_PASTE[0],
                sources=(PRACTICE_SOURCE,),
            )
        touch = abs(float(lands.touch[a] - lands.touch[b]))
        if touch > UNLIKE_COPPER and lands.length_mm[a] <= SMALL_CHIP_MM:
            less, more = sorted((float(lands.touch[a]), float(lands.touch[b])))
            says = (
                f"one land runs into copper along {100 * more:.0f} % of its edge, the other along {100 * less:.0f} %:"
                " the first melts later, and the small part may stand up"
            )
            yield finding(
                given,
                "unlike-copper",
                "marginal",
                np.concatenate([rows_of(a), rows_of(b)]),
                number,
                says,
                value=touch,
                limit=UNLIKE_COPPER,
                sources=(PRACTICE_SOURCE,),
            )


def _balling(given: Situation) -> Iterator[Finding]:
    if given.under.foil.thickness_um < BALLING_FOIL_UM or given.lands.basis == "paste":
        return
    chips = [p for p in given.parts if p.kind == "chip" and given.lands.length_mm[p.lands[0]] >= 0.5]
    full = [p for p in chips if min(given.matched.coverage[list(p.lands)]) > 0.9]
    if full:
        at = np.array([k for p in full for k in p.lands])
        rows = np.flatnonzero(np.isin(given.matched.land, at))
        says = (
            f"{len(full)} chips are printed one to one on {given.under.foil.thickness_um:g} µm: 150 µm foils made far"
            " more balls beside chips than 125 µm; openings with a pointed inner end made fewest"
        )
        yield finding(
            given,
            "balling",
            "marginal",
            rows,
            -1,
            says,
            value=given.under.foil.thickness_um,
            limit=BALLING_FOIL_UM,
            unit="um",
            sources=(BALLING_SOURCE,),
        )


CHECKS: tuple[Callable[[Situation], Iterator[Finding]], ...] = (_centres, _large, _chips, _balling)
