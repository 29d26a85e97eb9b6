"""What an engineer would point at: under the foil, on the lands, around vias, fiducials, chips and centre pads."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.printing.apertures import ApertureRules
from landwise.printing.foils import COPLANARITY_SOURCE, COPLANARITY_UM
from landwise.printing.holes import ENOUGH_FILL, FILL_SOURCE
from landwise.printing.holes import SOURCE as HOLE_SOURCE
from landwise.printing.paste import BALLS_SOURCE, least_opening_um, paste_metal_fraction
from landwise.printing.transfer import PASS_SOURCE
from landwise.printing.transfer import SOURCE as TRANSFER_SOURCE
from landwise.review.matching import Match, Registration
from landwise.review.model import Bools, Component, Finding, Floats, Ints, Lands, Openings, Side, carries_lead
from landwise.review.verdicts import SLUMP_SOURCE, VOLUME_SOURCE, UnderFoil, word

PANES_SOURCE, LARGE_SOURCE = "pane-coverage-makers", "segment-large"
PRACTICE_SOURCE = "review-practice"
LEAST_COVER, MOST_COVER, FLOATS_COVER = 0.45, 0.80, 0.95  # pages of makers go from 48 to 78 %
OFF_LAND = (0.05, 0.25)  # share of an aperture beside its land: marginal from the first, fails from the second on
BESIDE_MM = 0.05  # fine grids are printed this much over their lands on purpose
OFF_SOURCE = "misprint-quarter-memory"
FIDUCIAL_MM = (0.5, 3.2)
UNLIKE_PASTE = (1.15, 1.5)
UNLIKE_COPPER = 0.5
SMALL_CHIP_MM = 1.1  # longer side of a land: chips up to about 1.6 × 0.8 mm lift when pulled unevenly
BALLING_FOIL_UM = 140.0
BALLING_SOURCE = "mid-chip-balls-quoted"
KEYS: dict[str, str] = {
    "release": "paste release",
    "powder": "powder against opening",
    "contact": "foil against coplanarity",
    "volume": "paste on the land",
    "bridging": "gap between prints",
    "off-land": "paste beside its land",
    "extra": "aperture without land",
    "missing": "land without paste",
    "fiducial": "paste on a fiducial",
    "lone-land": "paste on a lone land",
    "unprinted": "lands left unprinted",
    "via": "via in a printed land",
    "hole": "paste in hole",
    "registration": "paste film against copper",
    "centre": "centre pad",
    "large": "large opening",
    "unlike-paste": "unlike paste on a chip",
    "unlike-copper": "unlike copper on a chip",
    "balling": "balls beside chips",
}


@dataclass(frozen=True)
class Situation:
    """Everything the checks of one side look at."""

    side: Side
    paste: Openings
    lands: Lands
    matched: Match
    parts: tuple[Component, ...]
    part_of_land: Ints
    part_of: Ints
    under: UnderFoil
    registration: Registration | None
    print_offset_mm: float

    def name(self, part: int) -> str:
        """A part's name; empty for none."""
        return self.parts[part].name if part >= 0 else ""


def part_index(parts: Sequence[Component], count: int) -> Ints:
    """The part of each land; -1 for none."""
    found = np.full(count, -1, dtype=np.int64)
    for number, part in enumerate(parts):
        found[list(part.lands)] = number
    return found


def find_all(given: Situation) -> tuple[Finding, ...]:
    """Every finding of one side, worst first."""
    found = [finding for check in CHECKS for finding in check(given)]
    order = {"fails": 0, "marginal": 1, "not known": 2, "holds": 3}
    keys = list(KEYS)
    return tuple(sorted(found, key=lambda f: (order[f.level], keys.index(f.key), -len(f.apertures), f.component)))


def _finding(
    given: Situation,
    key: str,
    level: Verdict,
    rows: Ints,
    part: int,
    says: str,
    *,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    sources: tuple[str, ...] = (),
    at: tuple[float, float] | None = None,
) -> Finding:
    if at is None:
        at = (float(given.paste.x_mm[rows].mean()), float(given.paste.y_mm[rows].mean()))
    return Finding(
        key,
        level,
        given.name(part),
        given.side,
        tuple(int(k) for k in rows),
        at[0],
        at[1],
        says,
        value,
        limit,
        unit,
        sources,
    )


def _by_part(given: Situation, rows: Ints) -> Iterator[tuple[int, Ints]]:
    """Apertures by the part they belong to; those without a part one by one."""
    its = given.part_of[rows]
    order = np.argsort(its, kind="stable")
    rows, its = rows[order], its[order]
    for some in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(its)) + 1):
        if not len(some):
            continue
        if its[some[0]] >= 0:
            yield int(its[some[0]]), rows[some]
        else:
            yield from ((-1, rows[k : k + 1]) for k in some)


def _count(rows: Ints, what: str = "aperture") -> str:
    return f"{len(rows)} {what}{'s' if len(rows) != 1 else ''}"


# --- under the foil ---


def _release(given: Situation) -> Iterator[Finding]:
    under = given.under
    for part, rows in _by_part(given, np.flatnonzero(under.release > 0)):
        worst = rows[np.argmin(under.area_ratio[rows])]
        ratio = float(under.area_ratio[worst])
        holds = ratio / (1 + float(under.margin[worst]))
        says = (
            f"{_count(rows)}: area ratio down to {ratio:.2f} on {under.foil.thickness_um:g} µm; "
            f"{under.usual_low[worst]:.0%} to {under.usual_high[worst]:.0%} of the paste transfers"
        )
        yield _finding(
            given,
            "release",
            word(under.release[rows].max()),
            rows,
            part,
            says,
            value=ratio,
            limit=holds,
            sources=(TRANSFER_SOURCE, PASS_SOURCE),
        )


def _powder(given: Situation) -> Iterator[Finding]:
    under = given.under
    least = least_opening_um(under.powder)
    for part, rows in _by_part(given, np.flatnonzero(under.powder_code > 0)):
        narrow = float(given.paste.width_mm[rows].min()) * 1000
        says = f"{_count(rows)}: {narrow:.0f} µm wide, {under.powder} powder wants {least:.0f} µm (five particles)"
        yield _finding(
            given,
            "powder",
            word(under.powder_code[rows].max()),
            rows,
            part,
            says,
            value=narrow,
            limit=least,
            unit="um",
            sources=(BALLS_SOURCE,),
        )


def _contact(given: Situation) -> Iterator[Finding]:
    """One finding a kind and level: thin foil is the board's matter, not a part's."""
    under, foil = given.under, given.under.foil.thickness_um
    by: dict[tuple[str, int], list[tuple[int, Ints]]] = {}
    for part, rows in _by_part(given, np.flatnonzero(under.contact > 0)):
        by.setdefault((given.parts[part].kind, int(under.contact[rows].max())), []).append((part, rows))
    for (kind, level), its in by.items():
        limit = COPLANARITY_UM[kind]
        names = ", ".join(given.name(part) for part, _ in its[:6]) + (" and others" if len(its) > 6 else "")
        says = (
            f"{len(its)} {kind} part{'s' if len(its) > 1 else ''} ({names}): terminals may stand {limit:g} µm out of"
            f" plane, the foil prints {foil:g} µm"
        )
        rows = np.concatenate([some for _, some in its])
        one = its[0][0] if len(its) == 1 else -1
        yield _finding(
            given,
            "contact",
            word(level),
            rows,
            one,
            says,
            value=foil,
            limit=limit,
            unit="um",
            sources=(COPLANARITY_SOURCE,),
        )


def _volume(given: Situation) -> Iterator[Finding]:
    under = given.under
    for part, rows in _by_part(given, np.flatnonzero(under.volume > 0)):
        share = under.share[rows]
        short = share < 1
        level, word_ = word(under.volume[rows].max()), "short of paste"
        if not short.any():
            word_ = "more paste than their lands carry"
        value = float(share.min() if short.any() else share.max())
        says = f"{_count(rows)} {word_}: {value:.0%} of land times foil"
        yield _finding(
            given,
            "volume",
            level,
            rows,
            part,
            says,
            value=value,
            limit=0.5 if short.any() else 1.5,
            sources=(VOLUME_SOURCE,),
        )


def _bridging(given: Situation) -> Iterator[Finding]:
    under = given.under
    for part, rows in _by_part(given, np.flatnonzero(under.bridge > 0)):
        worst = rows[np.argmin(under.slump_share[rows])]
        gap = float(under.gap_mm[worst])
        limit = gap / float(under.slump_share[worst]) if under.slump_share[worst] > 0 else None
        says = f"{_count(rows)}: {gap:.3f} mm to the next print" + (
            f"; hot paste may slump {limit:.3f} mm" if limit else "; the prints touch"
        )
        yield _finding(
            given,
            "bridging",
            word(under.bridge[rows].max()),
            rows,
            part,
            says,
            value=gap,
            limit=limit,
            unit="mm",
            sources=(SLUMP_SOURCE,),
        )


# --- on the lands ---


def _off_land(given: Situation) -> Iterator[Finding]:
    if given.lands.basis == "paste":
        return
    off = off_land(given)
    stray = (off > OFF_LAND[0]) & ~_holed(given)
    for part, rows in _by_part(given, np.flatnonzero(stray)):
        share = float(off[rows].max())
        level: Verdict = "fails" if share > OFF_LAND[1] else "marginal"
        says = (
            f"{_count(rows)}: up to {share:.0%} of the opening lies more than {1000 * BESIDE_MM:.0f} µm beside its land"
        )
        yield _finding(
            given, "off-land", level, rows, part, says, value=share, limit=OFF_LAND[1], sources=(OFF_SOURCE,)
        )


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


def _holed(given: Situation) -> Bools:
    land = given.matched.land
    if not len(given.lands):
        return np.zeros(len(land), dtype=bool)
    found: Bools = (land >= 0) & carries_lead(given.lands)[land]
    return found


def _extra(given: Situation) -> Iterator[Finding]:
    if given.lands.basis == "paste":
        return
    for row in np.flatnonzero(given.matched.land < 0):
        size = f"{given.paste.length_mm[row]:.2f} × {given.paste.width_mm[row]:.2f} mm"
        yield _finding(
            given,
            "extra",
            "fails",
            np.array([row]),
            -1,
            f"an opening of {size} prints where no land is",
            sources=(PRACTICE_SOURCE,),
        )


def _missing(given: Situation) -> Iterator[Finding]:
    lands, printed = given.lands, given.matched.printed
    leaded = carries_lead(lands)
    if lands.basis == "paste":
        return
    for number, part in enumerate(given.parts):
        if part.kind in ("single", "odd") or len(part.lands) < 2:
            continue
        its = np.array(part.lands)
        bare = its[(printed[its] == 0) & ~leaded[its]]
        if not len(bare) or len(bare) > len(its) / 2:
            continue
        middle = set(part.centre)
        only_middle = all(int(k) in middle for k in bare)
        level: Verdict = "marginal" if only_middle or part.kind in ("grid", "row") else "fails"
        what = "the land under the middle has" if only_middle else f"{len(bare)} of {len(its)} lands have"
        yield _finding(
            given,
            "missing",
            level,
            np.zeros(0, np.int64),
            number,
            f"{what} no paste while the others have",
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
    rows_of = _rows_of_lands(given)
    for k in fiducial:
        yield _finding(
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
            f"{_count(np.array(lone), 'lone land')} printed that no part claims: test lands, wire pads, or lands of a"
            " large part"
        )
        yield _finding(given, "lone-land", "not known", rows, -1, says, sources=(PRACTICE_SOURCE,))
    left = [p for p in given.parts if not printed[list(p.lands)].any() and not leaded[list(p.lands)].any()]
    if left:
        lands_left = sum(len(p.lands) for p in left)
        pairs = sum(p.kind == "chip" for p in left)
        says = (
            f"{lands_left} bare lands get no paste ({pairs} pairs among them): parts left out, contacts, fiducials or"
            " test lands"
        )
        yield _finding(
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


def _rows_of_lands(given: Situation) -> Callable[[int], Ints]:
    order = np.argsort(given.matched.land, kind="stable")
    sorted_land = given.matched.land[order]

    def rows(land: int) -> Ints:
        low, high = np.searchsorted(sorted_land, [land, land + 1])
        return np.sort(order[low:high])

    return rows


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
    for part_, some in _by_part(given, rows):
        holes = float(lands.hole_mm[land[some]].max())
        says = (
            f"{_count(some, 'printed land')} with a via ({holes:.2f} mm): solder drains unless it is filled and capped"
        )
        yield _finding(given, "via", "marginal", some, part_, says, value=holes, unit="mm", sources=(PRACTICE_SOURCE,))


def _holes(given: Situation) -> Iterator[Finding]:
    lands, under = given.lands, given.under
    rows = np.flatnonzero(_holed(given))
    if not rows.size:
        return
    metal = paste_metal_fraction(under.powder)
    barrel = np.pi / 4 * lands.hole_mm[given.matched.land[rows]] ** 2 * ApertureRules().board_mm
    # A lead fills a third to two thirds of its hole's section: 0.25 mm of clearance in holes of 0.6 to 1.2 mm.
    fill_low = (
        under.paste_mm3[rows] * under.usual_low[rows] / np.maximum(under.mean[rows], 1e-9) * metal / (barrel * 0.67)
    )
    fill_high = under.paste_mm3[rows] * metal / (barrel * 0.33)
    for part, some in _by_part(given, rows):
        at = np.searchsorted(rows, some)
        low, high = float(fill_low[at].min()), float(fill_high[at].max())
        level: Verdict = "fails" if high < ENOUGH_FILL else "marginal" if low < ENOUGH_FILL else "not known"
        says = (
            f"{_count(some, 'drilled land')} printed: the paste outside the hole fills {low:.0%} to {high:.0%} of the"
            " barrel around a lead of usual size in a 1.6 mm board; what the blade presses in comes on top"
        )
        yield _finding(
            given, "hole", level, some, part, says, value=low, limit=ENOUGH_FILL, sources=(HOLE_SOURCE, FILL_SOURCE)
        )


def _film(given: Situation) -> Iterator[Finding]:
    film = given.registration
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
            yield _finding(
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


# --- parts ---


def _centres(given: Situation) -> Iterator[Finding]:
    lands, matched = given.lands, given.matched
    rows_of = _rows_of_lands(given)
    for number, part in enumerate(given.parts):
        for k in part.centre:
            rows = rows_of(k)
            if not len(rows) or lands.basis == "paste":
                continue
            cover = float(matched.coverage[k])
            small = lands.width_mm[k] <= ApertureRules().pane_from_mm
            if cover > MOST_COVER:
                level: Verdict = "fails" if cover > FLOATS_COVER and not small else "marginal"
                effect = "the part floats and its outer terminals lift"
            elif cover < LEAST_COVER:
                level, effect = "marginal", "heat and voids suffer"
            else:
                continue
            panes = f"{len(rows)} opening{'s' if len(rows) > 1 else ''}"
            says = f"{panes} cover {cover:.0%} of the centre pad; makers print 50 to 80 %, else {effect}"
            yield _finding(
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
    for part, rows in _by_part(given, np.flatnonzero(given.paste.width_mm > limit)):
        size = float(given.paste.width_mm[rows].max())
        says = f"{_count(rows)} {size:.1f} mm wide: the blade scoops openings above about {limit:g} mm"
        yield _finding(
            given, "large", "marginal", rows, part, says, value=size, limit=limit, unit="mm", sources=(LARGE_SOURCE,)
        )


def _chips(given: Situation) -> Iterator[Finding]:
    lands, matched = given.lands, given.matched
    if lands.basis == "paste":
        return
    rows_of = _rows_of_lands(given)
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
            says = f"one land gets {unlike - 1:.0%} more paste than the other: the part may swim or stand up"
            yield _finding(
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
            says = (
                f"one land runs into copper along {max(lands.touch[a], lands.touch[b]):.0%} of its edge, the other"
                f" along {min(lands.touch[a], lands.touch[b]):.0%}: it melts later and the small part may stand up"
            )
            yield _finding(
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
        yield _finding(
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


CHECKS: tuple[Callable[[Situation], Iterator[Finding]], ...] = (
    _release,
    _powder,
    _contact,
    _volume,
    _bridging,
    _off_land,
    _extra,
    _missing,
    _lone,
    _vias,
    _holes,
    _film,
    _centres,
    _large,
    _chips,
    _balling,
)
