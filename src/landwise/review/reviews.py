"""A whole review: both sides matched, grouped, judged under every foil, corrected and judged again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.assembly.lines import Line
from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.printing.model import Foil, Powder
from landwise.review.corrections import correct, corrected
from landwise.review.findings import Situation, find_all, part_index
from landwise.review.foilchoice import FoilChoice, FoilRow, choose, foils_of, row_of
from landwise.review.grouping import components, shifted
from landwise.review.matching import lands_of, match, registration, with_touch
from landwise.review.model import BoardInput, Change, Component, Finding, Lands, Openings, Side, SideInput
from landwise.review.verdicts import Neighbours, UnderFoil, neighbours, under_foil, word


@dataclass(frozen=True)
class PartVerdict:
    """One part under the side's best foil: its verdict, its weakest aperture, expected defects."""

    part: int
    verdict: Verdict
    apertures: int
    least_ratio: float
    defects: float


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
    changes : tuple of Change
    after : Openings
        The corrected layer.
    after_row : FoilRow
        What it counts under the best foil.
    parts : tuple of PartVerdict
        Those with paste, worst first.
    """

    given: Situation
    unders: Mapping[float, UnderFoil]
    near: Neighbours
    choice: FoilChoice
    findings: tuple[Finding, ...]
    changes: tuple[Change, ...]
    after: Openings
    after_row: FoilRow
    parts: tuple[PartVerdict, ...]

    @property
    def side(self) -> Side:
        """Which side."""
        return self.given.side


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

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, side by side."""
        return tuple(finding for side in self.sides for finding in side.findings)

    @property
    def verdict(self) -> Verdict:
        """The worst finding's level; what only wants a look does not count."""
        levels = {finding.level for finding in self.findings}
        return "fails" if "fails" in levels else "marginal" if "marginal" in levels else "holds"


def review(
    board: BoardInput, line: Line, *, foils_um: Sequence[float] = (), powder: Powder | None = None, run: int = 500
) -> Review:
    """Review every side of a board that has paste.

    Parameters
    ----------
    board : BoardInput
    line : Line
        Gives foils, powder, foil technology and print offset where nothing else is said.
    foils_um : sequence of float, optional
        Foils to compare. [µm]
    powder : str, optional
    run : int
        Boards, for what a step must save.

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
    >>> found.sides[0].choice.best_um, found.verdict
    (100.0, 'marginal')
    """
    foils = foils_of(foils_um or line.foils_um)
    if not any(len(side.paste) for side in board.sides):
        raise InputError("no paste aperture to review", file=board.name, expected="a paste layer with openings")
    notes: list[str] = list(board.notes)
    sides = tuple(
        _side(side, board, line, foils, powder or line.powder, run, notes) for side in board.sides if len(side.paste)
    )
    return Review(board, line, foils, powder or line.powder, run, sides, tuple(notes))


def _side(
    side: SideInput, board: BoardInput, line: Line, foils: tuple[float, ...], powder: Powder, run: int, notes: list[str]
) -> SideReview:
    lands = lands_of(side.paste, side.copper, side.mask, board.holes)
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
    by_land = part_index(parts, len(lands))
    part_of = np.where(matched.land >= 0, by_land[matched.land], -1) if len(lands) else np.full(len(side.paste), -1)
    unders = {
        um: under_foil(side.paste, matched, lands, parts, near, Foil(um, line.technology), powder) for um in foils
    }
    choice = choose(unders, side.paste, part_of, line.foil_um, run)
    given = Situation(
        side.side,
        side.paste,
        lands,
        matched,
        parts,
        by_land,
        part_of,
        unders[choice.best_um],
        registration(side.paste, lands, matched),
        line.print_offset_mm,
    )
    findings = find_all(given)
    changes = correct(given, near, findings)
    after = corrected(side.paste, changes)
    after_row = after_of(given, after) if changes else row_of(given.under)
    return SideReview(given, unders, near, choice, findings, changes, after, after_row, _part_verdicts(given, findings))


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
    return components(lands, side.side, moved)


def after_of(given: Situation, after: Openings) -> FoilRow:
    """The corrected layer under the same foil."""
    matched = match(after, given.lands) if given.lands.basis != "paste" else None
    lands = given.lands
    parts = given.parts
    if matched is None:
        lands = lands_of(after, None, None)
        matched, parts = match(after, lands), ()
    near = neighbours(after, matched)
    return row_of(under_foil(after, matched, lands, parts, near, given.under.foil, given.under.powder))


def _part_verdicts(given: Situation, findings: Sequence[Finding]) -> tuple[PartVerdict, ...]:
    under = given.under
    order = ("holds", "not known", "marginal", "fails")
    level: dict[str, Verdict] = {}
    for finding in findings:
        if finding.component and order.index(finding.level) > order.index(level.get(finding.component, "holds")):
            level[finding.component] = finding.level
    defects = under.starved + under.touching
    its = given.part_of
    count = len(given.parts)
    number = np.bincount(its[its >= 0], minlength=count)
    total = np.bincount(its[its >= 0], weights=defects[its >= 0], minlength=count)
    least = np.full(count, np.inf)
    np.minimum.at(least, its[its >= 0], under.area_ratio[its >= 0])
    worst = np.zeros(count, dtype=np.int64)
    np.maximum.at(worst, its[its >= 0], under.code[its >= 0])
    found = []
    for k in np.flatnonzero(number):
        verdict = word(worst[k])
        other = level.get(given.parts[k].name, "holds")
        if order.index(other) > order.index(verdict):
            verdict = other
        found.append(PartVerdict(int(k), verdict, int(number[k]), float(least[k]), float(total[k])))
    return tuple(sorted(found, key=lambda p: (-order.index(p.verdict), -p.defects, p.least_ratio)))


def counted(findings: Sequence[Finding]) -> Mapping[str, Mapping[Verdict, int]]:
    """Findings by check and level."""
    by: dict[str, Counter[Verdict]] = {}
    for finding in findings:
        by.setdefault(finding.key, Counter())[finding.level] += 1
    return by
