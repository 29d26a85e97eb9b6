"""A whole review: both sides matched, grouped, judged under every foil, corrected and judged again."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

import numpy as np

from landwise.assembly.lines import Line
from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.heap import give_back
from landwise.printing.model import Foil, Powder
from landwise.quantities import some_of
from landwise.review.checks import Situation, find_all
from landwise.review.checks.situation import MOST_KINDS
from landwise.review.decisions import Apply, Decision, applied, decided, idle
from landwise.review.foilchoice import FoilChoice, FoilRow, PartGains, best_step, choose, foils_of, says
from landwise.review.frames import frames
from landwise.review.grouping import components
from landwise.review.lands import lands_of, with_touch
from landwise.review.levels import Levels
from landwise.review.matching import match, part_index, registration
from landwise.review.mending import Mended, mend, with_designs
from landwise.review.mending.rules import Rules, shipped
from landwise.review.mending.sheet import Sheet
from landwise.review.model import (
    Array,
    BoardInput,
    Change,
    Component,
    Finding,
    Lands,
    Openings,
    Proposal,
    Side,
    SideInput,
)
from landwise.review.naming import packages_of
from landwise.review.outfilm import corrected
from landwise.review.pacing import FOR_ALL, RAISE, Pace, counted_in_time, left_unweighed
from landwise.review.panelling import array_of
from landwise.review.partlevels import PartLevels, part_levels
from landwise.review.partverdicts import PartVerdict, part_verdicts
from landwise.review.placing import shifted
from landwise.review.verdicts import Neighbours, UnderFoil, neighbours, under_foil

AGAIN = "write all films again from one revision, with one origin and unit"


@dataclass(frozen=True)
class SideReview:
    """One side of the board, judged.

    Parameters
    ----------
    given : Situation
        Openings, lands, parts and verdicts under the best foil.
    unders : mapping of foil [µm] to UnderFoil
    near : Neighbours
    choice : FoilChoice
    findings : tuple of Finding
    proposals : tuple of Proposal
        Corrections under the best foil, whether written or not.
    changes : tuple of Change
        Their apertures.
    written : tuple of Change
        Those that go into the corrected layer.
    after : Openings
        The corrected layer.
    expected : (float, float, float)
        Defects of one board with the corrected layer as written: middle, low, high.
    parts : tuple of PartVerdict
        Those with paste, worst first.
    array : Array or None
        The panel that the film is of.
    boards : int
        How many boards the figures are for: one, also where the film repeats one image; all that a film holds which
        draws each by itself.
    """

    given: Situation
    unders: Mapping[float, UnderFoil]
    near: Neighbours
    choice: FoilChoice
    findings: tuple[Finding, ...]
    proposals: tuple[Proposal, ...]
    changes: tuple[Change, ...]
    written: tuple[Change, ...]
    after: Openings
    expected: tuple[float, float, float]
    parts: tuple[PartVerdict, ...]
    array: Array | None = None
    boards: int = 1

    @property
    def side(self) -> Side:
        """Which side."""
        return self.given.side


def _go_on(stage: str) -> None:
    """Never stops."""


def _endless() -> float:
    """All the time that it takes."""
    return math.inf


@dataclass(frozen=True)
class Asked:
    """How a board is to be reviewed.

    Parameters
    ----------
    foils_um : tuple of float
        Foils to compare; the line's where empty. [µm]
    powder : str or None
        The line's where None.
    run : int
        Boards, for what a step must save.
    rules : Rules
        How openings may be redrawn.
    decisions : tuple of Decision
    apply : {"none", "safe", "all"}
        Which proposals are written that no decision speaks of.
    going : callable
        Called with what is about to be worked; may raise to stop the review, such as when a caller's time is spent.
    most_kinds : int
        Of parts, printed alike, whose joints are counted: those that carry most openings. For the others prints are.
    left : callable
        Seconds that are left. Where they don't do for all joints and corrections, what was not worked is said.
    jobs : int
        Processes that joints are worked by.
    """

    foils_um: tuple[float, ...] = ()
    powder: Powder | None = None
    run: int = 500
    rules: Rules | None = None
    decisions: tuple[Decision, ...] = ()
    apply: Apply = "none"
    going: Callable[[str], None] = _go_on
    most_kinds: int = MOST_KINDS
    left: Callable[[], float] = _endless
    jobs: int = 1


@dataclass(frozen=True)
class Review:
    """A board's review."""

    board: BoardInput
    line: Line
    foils_um: tuple[float, ...]
    powder: Powder
    run: int
    sides: tuple[SideReview, ...]
    notes: tuple[str, ...]
    asked: Asked = Asked()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, side by side."""
        return tuple(finding for side in self.sides for finding in side.findings)

    @property
    def verdict(self) -> Verdict:
        """The worst finding's level; what only wants a look does not count."""
        levels = {finding.level for finding in self.findings}
        return "fails" if "fails" in levels else "marginal" if "marginal" in levels else "holds"


def review(board: BoardInput, line: Line, asked: Asked | None = None) -> Review:
    """Review every side of a board that has paste.

    Parameters
    ----------
    board : BoardInput
    line : Line
        Gives foils, powder, foil technology and print offset where nothing else is said.
    asked : Asked, optional

    Raises
    ------
    InputError
        Where no side has paste.

    Examples
    --------
    >>> import shapely
    >>> from landwise.assembly.lines import preset
    >>> from landwise.review.building import openings
    >>> paste = openings([shapely.box(x, 0, x + 0.18, 0.6) for x in (0, 0.4, 0.8)])
    >>> found = review(BoardInput("three slots", (SideInput("top", paste),)), preset("ordinary"))
    >>> len(found.sides[0].choice.rows), found.verdict
    (4, 'marginal')
    """
    asked = asked or Asked()
    foils = foils_of(asked.foils_um or line.foils_um)
    if not any(len(side.paste) for side in board.sides):
        raise InputError("no paste aperture to review", file=board.name, expected="a paste layer with openings")
    notes: list[str] = list(board.notes)
    powder = asked.powder or line.powder
    if line.learned and line.learned.says:
        notes.append(f"levels of joints are worked with what the line's own data say: {line.learned.says}")
    levels = Levels(line, powder, asked.going)
    with_paste = [side for side in board.sides if len(side.paste)]
    many = [len(side.paste) for side in with_paste]
    sides = tuple(
        _side(side, board, foils, levels, asked, notes, Pace.of(asked.left, len(side.paste) / still))
        for side, still in zip(with_paste, reversed(list(accumulate(reversed(many)))), strict=True)
    )
    notes += idle([(side.proposals, side.changes) for side in sides], asked.decisions)
    return Review(board, line, foils, powder, asked.run, sides, tuple(notes), asked)


def _side(
    side: SideInput,
    board: BoardInput,
    foils: tuple[float, ...],
    levels: Levels,
    asked: Asked,
    notes: list[str],
    pace: Pace,
) -> SideReview:
    line = levels.line
    lands = lands_of(side.paste, side.copper, side.mask, side.holes or board.holes)
    matched = match(side.paste, lands)
    parts = components(lands, side.side)
    if side.placements:
        parts = _named(side, lands, parts, notes)
    if lands.basis != "copper and mask":
        what = {"paste": "the apertures themselves", "mask": "the mask openings", "copper": "the copper under paste"}
        notes.append(f"{side.side}: lands are {what[lands.basis]}; checks that need more are left out")
    if lands.basis != "paste":
        looked_at = [k for part in parts if part.kind in ("chip", "single") for k in part.lands]
        lands = with_touch(lands, np.array(looked_at, dtype=np.int64), side.copper)
    near = neighbours(side.paste, matched)
    drawn = array_of(side.paste) if side.array is None else None
    if drawn is not None:
        notes.append(f"{side.side}: the film holds {drawn.says()}, drawn one by one; counts are for the whole panel")
    give_back(len(side.paste))
    by_land = part_index(parts, len(lands))
    part_of = np.where(matched.land >= 0, by_land[matched.land], -1) if len(lands) else np.full(len(side.paste), -1)
    where = frames(parts, lands, by_land)
    film = registration(side.paste, lands, matched)
    unders: dict[float, UnderFoil] = {}
    for um in foils:
        foil, spread = Foil(um, line.technology), line.scatter.spread
        unders[um] = under_foil(side.paste, matched, lands, parts, near, foil, levels.powder, spread=spread)
    given = Situation(
        side.side,
        side.paste,
        lands,
        matched,
        parts,
        by_land,
        part_of,
        unders[foils[0]],
        film,
        line.print_offset_mm,
        where,
        side.seat,
        asked.most_kinds,
    )
    asked.going(f"{side.side}, joints as they came")
    given = counted_in_time(given, foils, levels, pace, asked.jobs, notes)
    worked: dict[float, _Worked] = {}
    for number, um in enumerate(foils):
        asked.going(f"{side.side}, foil of {um:g} µm")
        over = pace.for_foil(number, len(foils))
        worked[um] = _worked(replace(given, under=unders[um]), near, asked, levels, over)
        left_unweighed(side.side, um, worked[um].mended.unweighed, notes)
        give_back(len(side.paste))
    rows = tuple(one.row for one in worked.values())
    best_um, equal = choose(rows, line.foil_um)
    step = None
    if line.steps_allowed:
        gains = PartGains(
            *({um: getattr(one.after, name) for um, one in worked.items()} for name in ("defects", "low", "high"))
        )
        step = best_step(gains, rows, side.paste, part_of, [part.name for part in parts], asked.run)
    one = worked[best_um]
    asked.going(f"{side.side}, designing prints")
    found, left = with_designs(
        one.mended, one.given, asked.rules or shipped(), levels, lambda: pace.past(FOR_ALL) or not pace.left() > 0
    )
    if left:
        notes.append(f"{side.side}: no print was designed for {left:,} packages for want of time; {RAISE}")
    one = replace(one, mended=found)
    give_back(len(side.paste))
    changes = decided(one.mended.proposals, one.mended.changes, asked.decisions)
    written = applied(one.mended.proposals, changes, asked.apply) if not side.seat else ()
    if side.seat:
        notes.append(f"{side.side}: no corrected layer is written for a film that does not lie on its copper; {AGAIN}")
    choice = FoilChoice(rows, best_um, equal, choose(rows, line.foil_um, "defects")[0], step)
    choice = replace(choice, says=says(choice, asked.run, line.foil_um, steps=line.steps_allowed))
    return SideReview(
        one.given,
        {um: it.given.under for um, it in worked.items()},
        near,
        choice,
        one.findings,
        one.mended.proposals,
        changes,
        written,
        corrected(side.paste, written),
        expected_with(one.given, one.mended.sheet, written, levels),
        part_verdicts(one.given, one.findings, one.before),
        side.array or drawn,
        drawn.boards if drawn is not None else 1,
    )


@dataclass(frozen=True)
class _Worked:
    """A side under one foil."""

    given: Situation
    findings: tuple[Finding, ...]
    mended: Mended
    before: PartLevels
    after: PartLevels
    row: FoilRow


def _worked(given: Situation, near: Neighbours, asked: Asked, levels: Levels, over: Callable[[], bool]) -> _Worked:
    findings = find_all(given)
    mended = mend(given, near, findings, asked.rules or shipped(), levels, asked.going, over)
    before = part_levels(mended.sheet, levels, mended=False)
    after = part_levels(mended.sheet, levels, mended=True) if mended.changes else before
    code, ratio = given.under.code, given.under.area_ratio
    counts = np.bincount(code, minlength=4)
    row = FoilRow(
        given.under.foil.thickness_um,
        int(counts[0]),
        int(counts[1]),
        int(counts[2]),
        float(ratio.min()) if len(ratio) else float("inf"),
        *before.summed(),
        *after.summed(),
        int((before.known & before.printed).sum()),
        int(before.printed.sum()),
        tuple(before.draws.tolist()),
        tuple(after.draws.tolist()),
    )
    return _Worked(given, findings, mended, before, after, row)


def expected_with(
    given: Situation, sheet: Sheet, written: Sequence[Change], levels: Levels
) -> tuple[float, float, float]:
    """Defects expected on one board with the changes as written."""
    rows = {change.aperture: change.after for change in written if change.aperture >= 0}
    added = {change.unit: change.after for change in written if change.aperture < 0}
    sheet = Sheet(given, sheet.package, rows, added)
    return part_levels(sheet, levels, mended=True).summed()


def expected_again(side: SideReview, written: Sequence[Change], result: Review) -> tuple[float, float, float]:
    """Defects expected on one board with other changes written."""
    levels = Levels(result.line, result.powder)
    _, package = packages_of(side.given.parts, side.given.frames)
    return expected_with(side.given, Sheet(side.given, package), written, levels)


def _named(side: SideInput, lands: Lands, parts: tuple[Component, ...], notes: list[str]) -> tuple[Component, ...]:
    moved, move, met = shifted(side.placements, parts)
    if move is None:
        notes.append(
            f"{side.side}: the placement file meets no pattern of lands; parts keep numbers instead of references"
        )
        return parts
    if max(abs(move[0]), abs(move[1])) > 0.05:
        notes.append(
            f"{side.side}: placements moved by {move[0]:.2f}, {move[1]:.2f} mm onto the layers' origin ({met} parts"
            " met)"
        )
    found = components(lands, side.side, moved)
    known = {part.name for part in found if part.named_by != "geometry"}
    lost = [name for name, *_ in moved if name not in known]
    if lost:
        few = some_of(lost, 8)
        what = "placement matches" if len(lost) == 1 else "placements match"
        notes.append(f"{side.side}: {len(lost)} {what} no pattern of lands there: {few}")
    return found


def counted(findings: Sequence[Finding]) -> Mapping[str, Mapping[Verdict, int]]:
    """Findings by check and level."""
    by: dict[str, Counter[Verdict]] = {}
    for finding in findings:
        by.setdefault(finding.key, Counter())[finding.level] += 1
    return by
