"""What the report of a review says, as plain data for the page's and the PDF's templates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from landwise.evidence.figures import Verdict
from landwise.evidence.sources import all_sources
from landwise.quantities import several, significant
from landwise.review.causes import Cause, boards_at_stake, causes, lands_left_bare, named
from landwise.review.checks import KEYS
from landwise.review.comparing import SideCompared
from landwise.review.foilchoice import FoilRow, Step, counted_says
from landwise.review.mending import RULES
from landwise.review.model import Finding, Proposal
from landwise.review.reviewfile import Written
from landwise.review.reviews import Review, SideReview
from landwise.sheets.look import VERDICT_LOOKS
from landwise.sheets.reportdata import FUMES, SUPPORT
from landwise.sheets.reviewasks import asked_of, mended
from landwise.sheets.reviewboard import drawable
from landwise.untyped import Fields
from landwise.version import DATA_DATE, __version__

MOST_FINDINGS, MOST_CHANGES, MOST_PARTS, MOST_CAUSES = 60, 80, 40, 8
MOST_PICTURED = 3
HOW_COUNTED = (
    "Bad joints bridge, stay open or stand skewed; a land without paste counts as open. They are counted as in a study,"
    " with the catalogue's terminals where the placement file names a package that fits its lands; else, an assumption,"
    " with terminals read from the lands (land formula at nominal level solved for the part; balls: lands over 0.8)."
    " They rank foils and corrections; they are no capability data of a line."
)


def content_of(result: Review, details: list[list[Finding]]) -> Fields:
    """Everything the report says; `details` are the findings enlarged on each side."""
    used = {key for finding in result.findings for key in finding.sources} | {
        "transfer-prior-memory",
        "slump-ipc-a-21",
        "ipc-7351b-goals",
    }
    sources = all_sources()
    every = ranked_causes(result)
    proposals = [one for side in result.sides for one in side.proposals]
    return {
        "board": result.board.name,
        "headline": headline(result),
        "verdict": look(result.verdict),
        "stake": _stake(result),
        "panel": panel(result),
        "causes": [_cause(cause, proposals) for cause in every[:MOST_CAUSES]],
        "pictured": [_cause(cause, proposals) for cause in pictured(result)],
        "more_causes": max(0, len(every) - MOST_CAUSES),
        "ask": asked_of(result, every),
        "reading": list(result.board.reading),
        "notes": list(result.notes),
        "line": f"{result.line.name} ({result.line.says}), {result.line.technology} foils, {result.powder} powder",
        "sides": [_side(side, some) for side, some in zip(result.sides, details, strict=True)],
        "run": result.run,
        "cautions": [SUPPORT, FUMES],
        "how": HOW_COUNTED,
        "names": _own_names(result),
        "sources": [
            {"title": sources[k].title, "where": sources[k].where, "mark": sources[k].mark}
            for k in sorted(used)
            if k in sources
        ],
        "version": __version__,
        "data_date": DATA_DATE,
    }


def ranked_causes(result: Review) -> list[Cause]:
    """The causes of all sides: what fails first, then by expected defects."""
    every = (cause for side in result.sides for cause in causes(side))
    return sorted(every, key=lambda c: (c.level != "fails", -c.defects))


def pictured(result: Review) -> list[Cause]:
    """The causes that the first page shows enlarged: the first ones that can be drawn, no openings twice."""
    found: dict[tuple[object, ...], Cause] = {}
    for cause in ranked_causes(result)[:MOST_CAUSES]:
        if drawable(cause.worst):
            where = cause.worst.apertures or (cause.worst.component,)
            found.setdefault((cause.side, *where), cause)
    return list(found.values())[:MOST_PICTURED]


def _cause(cause: Cause, proposals: Sequence[Proposal]) -> dict[str, object]:
    return {
        **look(cause.level),
        "side": cause.side,
        "cause": KEYS[cause.key],
        "package": cause.package or ("several kinds" if cause.parts else "board"),
        "parts": named(cause.parts) or "–",
        "count": len(cause.parts),
        "apertures": cause.apertures,
        "says": cause.worst.says,
        "defects": small(cause.defects) if cause.parts else "–",
        "mended": mended(cause, proposals),
    }


def _stake(result: Review) -> str:
    middle, low, high = boards_at_stake(result)
    if high < 0.5:
        return f"Of {result.run:,} boards none is expected to need rework."
    about = f"about {middle:,.0f}" if middle >= 0.5 else "fewer than one"
    span = f"{low:,.0f} to {high:,.0f}"
    written = any(side.written for side in result.sides)
    film = "with the corrections as written" if written else "with the film as it came"
    best = ", ".join(f"{side.choice.best_um:g} µm {side.side}" for side in result.sides)
    bare = sum(lands_left_bare(side) for side in result.sides)
    if bare and middle > result.run - 0.5:
        one = _many(bare, "land of a known part gets", "lands of known parts get")
        return f"Each of {result.run:,} boards would need rework {film}: {one} no paste, under any foil."
    return f"Of {result.run:,} boards {about} ({span} within what is known) would need rework {film}, under {best}."


def _own_names(result: Review) -> str:
    """A word on parts that no file names."""
    ours = [part.name for side in result.sides for part in side.given.parts if part.named_by == "geometry"]
    if not ours:
        return ""
    return (
        f"Names such as {ours[0]} are ours, a letter for the side and a number: no file names these parts. Where they"
        " lie stands in findings.csv and in the pictures."
    )


def panel(result: Review) -> str:
    """What a film of several boards is counted for; nothing for one board."""
    found = []
    for side in result.sides:
        its = side.array
        if its is None:
            continue
        how = its.says()
        count = len(side.given.paste)
        if side.boards == 1:
            found.append(
                f"{_capital(side.side)}: a panel of {how}. Its image of {count:,} openings is reviewed once: every"
                f" figure here is for one board, and a correction stands on all {its.boards}."
            )
        else:
            found.append(
                f"{_capital(side.side)}: a panel of {how}, each drawn by itself: openings, findings and defects are"
                f" those of all {its.boards} boards together."
            )
    return " ".join(found)


def headline(result: Review) -> str:
    """What to do, in a few sentences."""
    bits = []
    for side in result.sides:
        levels = [finding.level for finding in side.findings]
        fails, marginal = levels.count("fails"), levels.count("marginal")
        said = [_many(fails, "finding fails", "findings fail"), _many(marginal, "is marginal", "are marginal")]
        found = ", ".join(said) if fails or marginal else "nothing to mend"
        count = several(len(side.given.paste), "aperture")
        bits.append(f"{side.side.capitalize()}, {count}: {found}. {_capital(side.choice.says)}.")
        if side.proposals:
            asked = sum(1 for one in side.proposals if one.asked)
            plain = len(side.proposals) - asked
            kinds = [f"{plain} that nobody is likely to mind"] if plain else []
            kinds += [f"{asked} to be asked about"] if asked else []
            changed = _many(len(side.written), "opening is", "openings are")
            end = f"{changed} changed in the layer written" if side.written else "nothing is changed until you say so"
            bits.append(f"Corrections proposed: {', '.join(kinds)}; {end}.")
    return " ".join(bits)


def _many(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def small(value: float) -> str:
    """An expectation, to two figures.

    >>> small(0.0123), small(1e-6)
    ('0.012', '< 0.0005')
    """
    return "< 0.0005" if value < 5e-4 else significant(value, 2)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def look(verdict: Verdict) -> dict[str, str]:
    """A verdict's word and sign."""
    look = VERDICT_LOOKS[verdict]
    return {"word": look.word, "sign": look.sign}


def expected(value: float, low: float, high: float) -> str:
    """An expectation with its range; below half a defect in a thousand boards figures are no finer than the model.

    >>> expected(0.39, 0.00097, 2.0), expected(0.0013, 9e-10, 0.0019), expected(1e-4, 1e-9, 6e-4)
    ('0.39 (0.00097…2)', '0.0013 (0…0.0019)', '< 0.0005 (0…0.0006)')
    """
    if high < 5e-4:
        return "< 0.0005"
    return f"{small(value)} ({significant(low, 2) if low >= 5e-4 else '0'}…{significant(high, 2)})"


def _foil(row: FoilRow, best: float) -> dict[str, object]:
    return {
        "um": f"{row.foil_um:g}",
        "best": row.foil_um == best,
        "holds": row.holds,
        "marginal": row.marginal,
        "fails": row.fails,
        "ratio": f"{row.least_ratio:.2f}",
        "defects": expected(row.defects, row.defects_low, row.defects_high),
        "after": expected(row.after, row.after_low, row.after_high),
    }


def _side(side: SideReview, details: list[Finding]) -> dict[str, object]:
    given = side.given
    step = side.choice.step
    changed = _changed(side)
    return {
        "side": side.side,
        "apertures": len(given.paste),
        "parts_count": len(side.parts),
        "lands_from": given.lands.basis,
        "says": _capital(side.choice.says) + ".",
        "best": f"{side.choice.best_um:g}",
        "foils": [_foil(row, side.choice.best_um) for row in side.choice.rows],
        "step": None if step is None else _step(step),
        "equal": [f"{um:g}" for um in side.choice.equal_um],
        "told": f"{side.choice.best.told} of {side.choice.best.parts}",
        "counted": counted_says(side.choice.best) + ".",
        "corrections": _corrections(side),
        "expected": expected(*side.expected),
        "written": len(side.written),
        "proposals": [_proposal(side, one) for one in side.proposals],
        "findings": [_finding(f) for f in side.findings[:MOST_FINDINGS]],
        "more_findings": max(0, len(side.findings) - MOST_FINDINGS),
        "parts": [_part(side, k) for k in range(min(len(side.parts), MOST_PARTS)) if side.parts[k].verdict != "holds"],
        "changes": changed[:MOST_CHANGES],
        "more_changes": sum(int(str(row["count"])) for row in changed[MOST_CHANGES:]),
        "details": [
            {"title": f"{f.component or 'no part'}: {KEYS[f.key]}", "says": f.says, **look(f.level)} for f in details
        ],
        "film": _film(side),
    }


def _changed(side: SideReview) -> list[dict[str, object]]:
    """Openings that change, those of a part that change alike in one row."""
    written = Written(side)
    rows: dict[tuple[object, ...], list[str]] = {}
    for c in side.changes:
        asked = "ask" if side.proposals[c.proposal].asked else "proposed"
        state = c.decided or ("written" if c in written else asked)
        key = (c.component or "–", c.proposal, state, c.what, c.reason, c.effect)
        rows.setdefault(key, []).append("new" if c.aperture < 0 else str(c.aperture))
    names = ("component", "proposal", "state", "what", "reason", "effect")
    return [
        {**dict(zip(names, key, strict=True)), "aperture": _numbers(its), "count": len(its)}
        for key, its in rows.items()
    ]


def _numbers(names: Sequence[str], most: int = 4) -> str:
    """Openings by their numbers.

    >>> _numbers(["3", "4", "9"]), _numbers(["1", "2", "3", "4", "5", "6"]), _numbers(["new", "new"])
    ('3, 4, 9', '1, 2, 3, 4 and 2 more', '2 new')
    """
    if len(names) > 1 and set(names) == {"new"}:
        return f"{len(names)} new"
    return named(tuple(names), most)


def _corrections(side: SideReview) -> str:
    """What the corrections have in common, and what became of them."""
    text = (
        "Each makes expected defects or the prints that an inspection of the paste would reject fewer, and neither"
        f" more, judged with the whole part under {side.choice.best_um:g} µm; what was missing its land may bridge as"
        " its likes do. Accept or refuse them in decisions.toml by proposal, part, package, rule or opening, and run"
        " again with it. "
    )
    if not side.written:
        return text + "Nothing was changed in this run: no corrected layer is written."
    changed = _many(len(side.written), "opening is", "openings are")
    return text + f"{changed} changed in the layer written, which leaves {expected(*side.expected)} defects a board."


def _film(side: SideReview) -> str:
    film = side.given.registration
    if film is None:
        return ""
    shift = 1000 * float(np.hypot(film.shift_x_mm, film.shift_y_mm))
    return (
        f"Paste film against copper, from {film.count} lands: shifted {shift:.1f} µm, scale {film.scale_ppm:+.0f} ppm,"
        f" turn {film.turn_urad:+.0f} µrad."
    )


def _finding(finding: Finding) -> dict[str, object]:
    return {
        **look(finding.level),
        "check": KEYS[finding.key],
        "component": finding.component or "–",
        "says": finding.says,
        "at": f"{finding.x_mm:.1f}, {finding.y_mm:.1f}",
        "apertures": len(finding.apertures),
    }


def _part(side: SideReview, number: int) -> Fields:
    verdict = side.parts[number]
    part = side.given.parts[verdict.part]
    return {
        "name": part.name,
        "kind": part.kind + (f", {part.package}" if part.package else ""),
        "lands": len(part.lands),
        "pitch": "–" if part.pitch_mm is None else f"{part.pitch_mm:.2f}",
        "ratio": f"{verdict.least_ratio:.2f}",
        "defects": small(verdict.defects) + ("" if verdict.known else " (prints)"),
        **look(verdict.verdict),
    }


def _step(step: Step) -> dict[str, object]:
    zones = [
        f"{zone.bounds[2] - zone.bounds[0]:.2f} × {zone.bounds[3] - zone.bounds[1]:.2f} mm from"
        f" {zone.bounds[0]:.2f}, {zone.bounds[1]:.2f}"
        for zone in step.zones
    ]
    money = f"{significant(step.saves, 2)} ({significant(step.saves_low, 2)}…{significant(step.saves_high, 2)})"
    return {
        "text": (
            f"{step.thin_um:g} µm in a foil of {step.base_um:g} µm, for {named(step.parts)}:"
            f" {several(int(step.apertures.sum()), 'aperture')} lie in {several(len(zones), 'zone')}."
            f" Kept clear: {step.keep_out_mm:.2f} mm from a step's edge to the first aperture inside (0.9 mm per"
            f" 25 µm), {step.keep_out_thick_mm:.2f} mm to the first outside (from memory)."
        ),
        "zones": zones,
        "defects": small(step.defects),
        "money": money,
    }


def _proposal(side: SideReview, one: Proposal) -> dict[str, object]:
    known = one.defects_before is not None and one.defects_after is not None
    state = {change.decided for change in side.changes if change.proposal == one.number}
    written = any(change.proposal == one.number for change in side.written)
    return {
        "number": f"{one.side} {one.number}",
        "rule": RULES[one.rule],
        "key": one.rule,
        "package": one.package or "no part",
        "parts": named(one.parts) or "–",
        "openings": sum(change.proposal == one.number for change in side.changes),
        "what": one.what,
        "reason": one.reason,
        "asked": one.asked,
        "defects": f"{small(one.defects_before or 0.0)} → {small(one.defects_after or 0.0)}" if known else "not known",
        "rejects": f"{small(one.rejects_before)} → {small(one.rejects_after)}",
        "state": "written" if written else "refused" if state == {"refused"} else "ask" if one.asked else "proposed",
    }


def compared(side: SideCompared) -> dict[str, object]:
    """One side against an older revision."""
    counts = {fate: sum(one.fate == fate for one in side.openings) for fate in ("moved", "reshaped", "new", "gone")}
    bits = [f"{count} {fate}" for fate, count in counts.items() if count]
    whole = side.shift_mm != (0.0, 0.0)
    return {
        "side": side.side,
        "says": (f"{', '.join(bits)}; " if bits else "")
        + f"{side.unchanged} openings as they were"
        + (f"; the whole film moved by {side.shift_mm[0]:+.3f}, {side.shift_mm[1]:+.3f} mm" if whole else ""),
        "defects": f"{expected(*side.before)} before, {expected(*side.after)} now, both under {side.foils_um[1]:g} µm",
        "foils": f"best foil {side.foils_um[0]:g} µm before, {side.foils_um[1]:g} µm now",
        "parts": [
            {
                "name": one.name,
                "package": one.package,
                "before": small(one.before),
                "after": small(one.after),
                "way": "worse" if one.after > one.before else "better",
            }
            for one in side.parts[:MOST_PARTS]
        ],
    }
