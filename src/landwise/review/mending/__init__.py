"""Corrections of a side's film under one foil: proposed by rules, weighed with the whole part, kept where they help.

In this order, each opening by the first that applies: prints without a land; openings unlike those of like lands
(missing ones among them); openings beside, far beyond or far below their land; centre pads; prints too near each other;
openings that release badly; what a user's rules ask for.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from landwise.review.checks.situation import Situation
from landwise.review.levels import Levels
from landwise.review.mending import centres, likeness, sizes
from landwise.review.mending.certain import no_doubt, unlike_its_twins
from landwise.review.mending.designs import LEAST_SAVED, designs
from landwise.review.mending.filmway import film_way
from landwise.review.mending.rules import Drawn, Rules
from landwise.review.mending.sheet import Draft, Outlines, Sheet
from landwise.review.mending.weighing import Weighed, doubts, level_of, together, weigh, weigh_where_it_may_help
from landwise.review.model import Change, Finding, Proposal
from landwise.review.naming import packages_of
from landwise.review.verdicts import Neighbours
from landwise.shapes import Geometry

RULES: Mapping[str, str] = MappingProxyType(
    {
        "film": "paste film moved back",
        "stray": "paste without land",
        "fiducial": "paste on a fiducial",
        "missing": "opening left out",
        "unlike": "unlike its likes",
        "to-land": "beside or beyond its land",
        "raise": "far smaller than its land",
        "panes": "centre pad",
        "narrow": "prints too near",
        "grow": "releases badly",
        "chip-shape": "shape asked for by a rule",
        "designed": "print designed for the part",
    }
)
UNSURE = "what kind of part it is can't be told from its lands, so its joints can't be weighed"
BARE = "what kind of part it is can't be told from its lands, so this one may be bare on purpose"
MEANT = "all openings of these lands are drawn so, and their joints would not gain: it may be meant"
LEAST_SHIFT_MM = 0.0005  # below half a micrometre a film is not shifted but rounded
OFF = "its parts would not gain; the copper may be what is off"
JUMPER_MM = 0.22  # the smallest chips keep more between their lands; solder bridges less; common practice, no source
WORTH = 0.5  # of what a design must save: alike parts differ by what rounding leaves, and each is weighed anew
# Rules whose drafts are kept or asked about also where they don't help.
ALWAYS_WEIGHED = frozenset({"chip-shape", "fiducial", "film", "panes"})
# Rules that mend what no joint model is needed to see.
PLAIN = frozenset({"stray", "fiducial", "missing", "unlike", "to-land", "chip-shape"})


@dataclass(frozen=True)
class Mended:
    """The corrections of one side under one foil.

    `proposals` and `changes` go together by number; `sheet` holds the layer with those that nobody would object to.
    `unweighed` tells how many more drafts there were than time to weigh them.
    """

    proposals: tuple[Proposal, ...]
    changes: tuple[Change, ...]
    sheet: Sheet
    unweighed: int = 0


def mend(
    given: Situation,
    near: Neighbours,
    findings: Sequence[Finding],
    rules: Rules,
    levels: Levels,
    going: Callable[[str], None] = lambda _: None,
    over: Callable[[], bool] = lambda: False,
) -> Mended:
    """Propose and weigh under the situation's foil.

    Parameters
    ----------
    given : Situation
    near : Neighbours
    findings : sequence of Finding
    rules : Rules
    levels : Levels
    going : callable
        Called before each draft is weighed; may raise to stop.
    over : callable
        Whether the time for weighing is spent.

    Notes
    -----
    Openings over several lands are pointed at and left as they are. A film that sits off the copper as a whole by
    more than the printer's own offset is moved back, and nothing else is proposed: what else is wrong shows once it
    sits.
    """
    words, package = packages_of(given.parts, given.frames)
    sheet = Sheet(given, package)
    kept: list[tuple[Weighed, str]] = []
    if given.lands.basis == "paste":
        return Mended((), (), sheet)
    moved, unweighed = _film(given), 0
    for one in [moved] if moved is not None else _drafts(sheet, near, findings, rules, words):
        draft = one if one is moved else _single(given, one)
        if draft is None:
            continue
        if over():
            unweighed += 1
            continue
        going(f"{given.side}, weighing a correction of {len(draft.parts)} parts")
        found = _kept(sheet, draft, levels)
        if found is None:
            continue
        kept.append(found)
        if not found[1]:
            sheet.take(draft)
        else:
            # Asked: it stands in the way of later rules on the same openings, but not in the corrected layer.
            sheet.hold(draft)
    return replace(_listed(given, words, sheet, kept), unweighed=unweighed)


def with_designs(
    mended: Mended, given: Situation, rules: Rules, levels: Levels, over: Callable[[], bool] = lambda: False
) -> tuple[Mended, int]:
    """The corrections, and the designed print of every package that they leave alone, where the whole part gains.

    Under the foil that serves best only: designs are asked about, so they decide no foil. Beside it, how many packages
    that could gain were left without, because `over` said that the time is spent.
    """
    if given.lands.basis == "paste" or any(one.rule == "film" for one in mended.proposals):
        return mended, 0
    words, _ = packages_of(given.parts, given.frames)
    under = given.under
    kept: list[tuple[Weighed, str]] = []
    left: list[int] = []

    def pays(draft: Draft, times: float) -> bool:
        tried = weigh(mended.sheet, draft, levels, under.foil, under.powder)
        return times * (tried.before.defects - tried.after.defects) >= LEAST_SAVED

    def worth(its: Sequence[int]) -> bool:
        """No design saves more defects than there are."""
        total = 0.0
        for some in mended.sheet.variants_of(its).values():
            level = level_of(mended.sheet, some[0], levels, under.foil)
            total += len(some) * level.defects if level.known else 0.0
        if total < LEAST_SAVED * WORTH:
            return False
        if over():
            left.append(its[0])
            return False
        return True

    def of(part: int) -> Drawn:
        return rules.of(given.parts[part], words[part])

    for draft in designs(mended.sheet, of, levels.line, levels.powder, pays, worth):
        weighed = weigh(mended.sheet, draft, levels, under.foil, under.powder)
        saved = weighed.before.defects - weighed.after.defects
        if weighed.helps and weighed.gains and saved >= LEAST_SAVED:
            kept.append((weighed, draft.asked))
    more = _listed(given, words, mended.sheet, kept, len(mended.proposals))
    found = replace(mended, proposals=mended.proposals + more.proposals, changes=mended.changes + more.changes)
    return found, len(left)


def _listed(
    given: Situation, words: Sequence[str], sheet: Sheet, kept: Sequence[tuple[Weighed, str]], start: int = 0
) -> Mended:
    """Drafts that are kept as proposals with their changes, numbered on from `start`."""
    proposals: list[Proposal] = []
    changes: list[Change] = []
    for number, (weighed, asked) in enumerate(together(kept), start):
        draft = weighed.draft
        names = tuple(given.name(part) for part in draft.parts if part >= 0)
        first = next((part for part in draft.parts if part >= 0), -1)
        proposals.append(
            Proposal(
                number,
                given.side,
                draft.rule,
                words[first] if first >= 0 else "",
                names,
                draft.what,
                draft.reason,
                asked,
                weighed.before.defects if weighed.before.known else None,
                weighed.after.defects if weighed.after.known else None,
                weighed.rejects_before,
                weighed.rejects_after,
            )
        )
        changes += list(_changes(given, draft, number, asked))
    return Mended(tuple(proposals), tuple(changes), sheet)


def _film(given: Situation) -> Draft | None:
    """The whole film moved back onto the copper, where it sits off by more than the printer's own offset."""
    import shapely

    film = given.registration
    if film is None:
        return None
    dx, dy = -film.shift_x_mm, -film.shift_y_mm
    away = float(np.hypot(dx, dy))
    if away <= max(given.print_offset_mm, LEAST_SHIFT_MM):
        return None
    shapes = shapely.transform(given.paste.polygon, lambda xy: xy + np.array([dx, dy]))
    rows: dict[int, Outlines] = {row: (shape,) for row, shape in enumerate(shapes)}
    parts = tuple(sorted({int(part) for part in given.part_of}))
    reason = f"the film sits {1000 * away:.0f} µm off the copper ({film.count} lands)"
    return Draft("film", parts, rows, {}, "moved back", reason)


def _drafts(
    sheet: Sheet, near: Neighbours, findings: Sequence[Finding], rules: Rules, words: Sequence[str]
) -> Iterator[Draft]:
    given = sheet.given
    known: dict[int, Drawn] = {}

    def of(part: int) -> Drawn:
        """The rules of a part; of an opening without one, those for every part."""
        if part not in known:
            one = given.parts[part] if part >= 0 else None
            known[part] = rules.of(one, words[part]) if one is not None else rules.plain()
        return known[part]

    yield from centres.strays(sheet, findings)
    prints = likeness.land_prints(given)
    way = film_way(given, prints)
    for draft in likeness.unlike(sheet, prints, way.on, way.says):
        if not any(of(part).leave for part in draft.parts):
            yield draft
    yield from sizes.to_lands(sheet, of, way)
    yield from centres.centres(sheet, of)
    yield from sizes.narrow(sheet, near, of)
    yield from sizes.grow(sheet, near, of)
    yield from centres.chip_shapes(sheet, of)


def _single(given: Situation, draft: Draft) -> Draft | None:
    """A draft without the openings that print over several lands: what they are meant for is for people to say.

    Nor does it add one where an opening lies already, whichever land that is taken to serve: it would print twice.
    """
    matched = given.matched
    rows = {row: shapes for row, shapes in draft.rows.items() if matched.spans[row] < 2}
    added = {
        land: shapes
        for land, shapes in draft.added.items()
        if not matched.spanned[land] and not _printed(given, shapes, draft.rows)
    }
    if len(rows) == len(draft.rows) and len(added) == len(draft.added):
        return draft
    return replace(draft, rows=rows, added=added) if rows or added else None


def _printed(given: Situation, shapes: Sequence[Geometry], drawn_anew: Container[int]) -> bool:
    """Whether outlines overlap an opening of the film that stays as it is."""
    paste = given.paste
    return any(
        int(row) not in drawn_anew and paste.polygon[row].intersection(shape).area > 0
        for shape in shapes
        for row in paste.tree.query(shape)
    )


def _kept(sheet: Sheet, draft: Draft, levels: Levels) -> tuple[Weighed, str] | None:
    """A draft that helps, with why it should be asked about; None for one that doesn't."""
    under = sheet.given.under
    way = weigh if draft.rule in ALWAYS_WEIGHED else weigh_where_it_may_help
    weighed = way(sheet, draft, levels, under.foil, under.powder)
    if weighed is None:
        return None
    if draft.rule == "chip-shape":
        worse = weighed.after.defects > weighed.before.defects * 1.02 + 1e-7
        return weighed, "its joints come out worse" if worse else ""
    if draft.rule in ("fiducial", "film"):
        return weighed, draft.asked if draft.rule == "fiducial" or weighed.helps else OFF
    if not weighed.before.known and draft.rule == "panes":
        return weighed, draft.asked or UNSURE
    if draft.rule == "panes" and not weighed.helps and not weighed.harms:
        # Outside what makers print, and the count sees neither gain nor harm: no change without being asked about.
        return weighed, draft.asked or MEANT
    if not weighed.helps:
        return None
    sure = no_doubt(sheet, draft)
    asked = "" if sure and draft.asked in (likeness.OWN, sizes.UNTOLD) else draft.asked
    asked = asked or _unsure_of(sheet, draft, sure=sure) or doubts(sheet, draft)
    if sure:
        return weighed, asked
    meant = draft.rule in ("to-land", "raise") and not draft.aside and not weighed.gains
    if not asked and meant and not unlike_its_twins(sheet, draft):
        asked = MEANT
    if not asked and not weighed.before.known:
        asked = BARE if draft.rule == "missing" else "" if draft.rule in PLAIN else UNSURE
    return weighed, asked


def _unsure_of(sheet: Sheet, draft: Draft, *, sure: bool) -> str:
    """What makes the parts themselves doubtful: not placed, or lands so near that a bridge may be wanted."""
    if draft.rule == "stray":
        return ""
    given = sheet.given
    if not sure and sheet.placed and any(given.parts[p].named_by == "geometry" for p in draft.parts if p >= 0):
        return "the placement file names no part there"
    for number in draft.parts:
        part = given.parts[number]
        if number < 0:
            continue
        if draft.rule == "to-land" and part.kind == "grid":
            return "fine grids are often printed over their lands"
        if part.kind == "chip" and len(part.lands) == 2:
            one, other = (given.lands.polygon[land] for land in part.lands)
            if one.distance(other) < JUMPER_MM:
                return "its lands lie so near that a solder bridge may be wanted"
    return ""


def _changes(given: Situation, draft: Draft, number: int, asked: str) -> Iterator[Change]:
    paste, lands = given.paste, given.lands
    del asked
    for row, after in sorted(draft.rows.items()):
        land = int(given.matched.land[row])
        part = int(given.part_of[row])
        yield _change(
            given,
            draft,
            number,
            row=row,
            after=after,
            part=part,
            unit=land if land >= 0 else -2 - row,
            at=(float(paste.x_mm[row]), float(paste.y_mm[row])),
        )
    for land, after in sorted(draft.added.items()):
        yield _change(
            given,
            draft,
            number,
            row=-1,
            after=after,
            part=int(given.part_of_land[land]),
            unit=land,
            at=(float(lands.x_mm[land]), float(lands.y_mm[land])),
        )


def _change(
    given: Situation,
    draft: Draft,
    number: int,
    *,
    row: int,
    after: tuple[Geometry, ...],
    part: int,
    unit: int,
    at: tuple[float, float],
) -> Change:
    paste, foil_mm = given.paste, given.under.foil.thickness_um / 1000
    area = float(sum(shape.area for shape in after))
    ratios = [shape.area / shape.length / foil_mm for shape in after]
    ratio = min(ratios) if ratios else None
    before = float(paste.area_mm2[row]) if row >= 0 else 0.0
    ratio_before = float(given.under.area_ratio[row]) if row >= 0 else None
    if row < 0:
        effect = f"{area:.3f} mm² of opening more"
    elif not after:
        effect = f"{before:.3f} mm² of opening less"
    elif len(after) > 1:
        effect = f"openings of {area:.3f} mm² in all, least area ratio {ratio:.2f}"
    else:
        effect = f"volume {area / before - 1:+.0%}, area ratio {ratio_before:.2f} → {ratio:.2f}"
    return Change(
        row,
        given.name(part),
        given.side,
        draft.what if after or row < 0 else "removed",
        draft.reason,
        effect,
        (paste.polygon[row],) if row >= 0 else (),
        after,
        before,
        area,
        ratio_before,
        ratio,
        at[0],
        at[1],
        number,
        unit,
    )
