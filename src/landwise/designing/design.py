"""The print that suits an option best on one foil, and why it is that one: found fast, confirmed by the exact model."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.partbuild import part_geometry
from landwise.assembly.partmodel import part_model
from landwise.assembly.rare import rates as exact_rates
from landwise.assembly.scatter import Scatter
from landwise.designing.case import Case, Floor, Scored, scored
from landwise.designing.frame import Frame, frame_of
from landwise.designing.guard import TARGET, Held, beats_everywhere, held_joints
from landwise.designing.lockstep import Search, alone, together
from landwise.designing.margins import margin_of
from landwise.designing.overprint import overprints
from landwise.designing.search import finished, on_lattice, searched
from landwise.designing.stacked import Line
from landwise.designing.variables import Changes, kind_of, openings_of
from landwise.errors import LandwiseError
from landwise.joints.settling import TARGET_UM
from landwise.joints.standing import ball_stand
from landwise.lands.model import LandPattern
from landwise.lately import Lately
from landwise.outlines import Outline
from landwise.printing.apertures import ApertureRules, apertures
from landwise.printing.deposits import print_part
from landwise.printing.model import Aperture, Foil, Powder, Print

Array = NDArray[np.float64]
WIDE_ENOUGH = 1.5  # times the line's scatter at which a print that holds its target is left as it is
WORTH = 0.10  # standard deviations below which a gain is none
STEPS_BACK = (1.0, 0.8, 0.6, 0.4, 0.2)
STANDOFF_KEPT = 0.75  # of the height of a part without a pad: leaves half its life, and lives are known no better
STANDOFF_SOURCE = "leadless-life-height"
LEAST_METAL = 0.6  # of an opening's paste: tiny leadless parts are printed at 60 to 65 % of their footprint
METAL_SOURCE = "tiny-leadless-coverage"
ANY_FLOOR = 1e9  # defects per part: a comparison needs no tighter interval than the first points give, and no yield

Reason = Literal[
    "designed", "wide enough", "inside the uncertainty", "overprinted", "not worked", "nothing printed", "as lands"
]


@dataclass(frozen=True)
class Margins:
    """Standard deviations to the next defect: in the middle, and at the low and high end of the transfer's band."""

    middle: float
    low: float
    high: float

    @classmethod
    def of(cls, values: Array) -> Margins:
        """From three values."""
        return cls(*(float(value) for value in values))


@dataclass(frozen=True)
class Design:
    """The openings of one part on one foil.

    Parameters
    ----------
    outline : str
    foil : Foil
    reason : str
        `designed`; or why the openings stay as they are without a design: `wide enough` (nothing to gain), `inside the
        uncertainty`, `not worked` (a shape of land that is not designed), `nothing printed`, `as lands`; or
        `overprinted` for drilled leads that are soldered in their paste.
    openings : tuple of Aperture
        In the order of the lands that are printed.
    changes, before : Changes
        Against the lands; of the design, and of the print it was held against.
    margins, margins_before : Margins or None
        Of both, worked with the same numbers.
    ways : tuple of (key, margin)
        The margin of each way to fail by itself.
    defects, defects_before : float or None
        Expected on one part, by the exact model.
    """

    outline: str
    foil: Foil
    reason: Reason
    openings: tuple[Aperture, ...]
    changes: Changes
    before: Changes
    margins: Margins | None = None
    margins_before: Margins | None = None
    ways: tuple[tuple[str, float], ...] = ()
    defects: float | None = None
    defects_before: float | None = None

    @property
    def designed(self) -> bool:
        """Whether the openings differ from those drawn from the lands."""
        return self.reason in ("designed", "overprinted")

    def multiple(self, target: float = TARGET) -> float | None:
        """The largest multiple of the line's scatter at which defects stay under a target per million joints.

        A defect that lies β standard deviations away lies β/k away where everything scatters k times as much.
        """
        if self.margins is None:
            return None
        return self.margins.middle / float(margin_of(target / 1e6))


_FRAMES: Lately[Frame | None] = Lately(most=64)
_CASES: Lately[Case] = Lately(most=128)


class Designer:
    """Designs the print of one option on any foil of a line; what does not depend on the foil is worked once.

    Parameters
    ----------
    outline, pattern
        The option and its lands.
    line : Line
        Foil technology, powder and scatter.
    rules : ApertureRules, optional
        How the print is drawn that designs are held against.

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> part = find("QFP-48")
    >>> designer = Designer(part, land_pattern(part), Line(scatter(0.03, 0.05)))
    >>> design = designer.design(100)
    >>> design.designed, design.changes.width_mm < 0, design.defects < 0.1 * design.defects_before
    (True, True, True)
    """

    def __init__(self, outline: Outline, pattern: LandPattern, line: Line, rules: ApertureRules | None = None) -> None:
        self.outline, self.pattern, self.line = outline, pattern, line
        self.rules = rules or ApertureRules()
        self.frame: Frame | None = _FRAMES.of(
            (outline, pattern), self.rules, lambda: frame_of(outline, pattern, self.rules)
        )

    def design(self, foil_um: float, starts: Sequence[Array] | None = None) -> Design:
        """The design for a foil.

        Parameters
        ----------
        foil_um : float
            [µm]
        starts : sequence of array, optional
            Rows of designs to begin at, beside the print drawn from the lands; by default what is usual.

        Raises
        ------
        InputError
            For a foil that can't be.
        """
        (found,) = self.designs([foil_um], starts)
        return found

    def designs(self, foils_um: Sequence[float], starts: Sequence[Array] | None = None) -> list[Design]:
        """The designs for several foils, each as `design` makes it, in two thirds of the time."""
        searches = [self._search(foil_um, starts) for foil_um in foils_um]
        return together(self.frame, self.line, searches)

    def _search(self, foil_um: float, starts: Sequence[Array] | None) -> Search[Design]:
        foil = Foil(foil_um, self.line.technology)
        plain = apertures(self.pattern, self.rules, self.outline, foil_um=foil_um)
        if not plain:
            return self._plain(foil, plain, "nothing printed")
        if self.pattern.drilled:
            return self._plain(foil, overprints(self.outline, self.pattern, foil_um, self.rules), "overprinted")
        if self.frame is None:
            return self._plain(foil, plain, "not worked")
        case = yield from self._search_case(self.frame, foil_um)
        at_rest = case.base_rates
        if float(at_rest.of_print.min()) >= WIDE_ENOUGH * float(margin_of(TARGET / 1e6)):
            return self._kept(foil, plain, case, "wide enough")
        usual = usual_rows(case) if starts is None else list(starts)
        searched_row = yield from searched(case, usual)
        row = yield from finished(case, searched_row)
        held = self._held(foil, plain)
        before = self._exact(foil, plain)
        for share in STEPS_BACK:
            made, result = yield from self._at(case, case.base + share * (row - case.base))
            if np.allclose(made, case.base):
                break
            gain = result.margins[:, 0] - result.before
            if gain[0] < WORTH:
                continue
            changes = Changes.of(made)
            openings = openings_of(self.pattern.lands, self.outline, changes, self.rules)
            if not (yield from beats_everywhere(case, made, result)):
                continue
            if not held.kept_by(self._held(foil, openings)):
                continue
            after = self._exact(foil, openings)
            if after is None or before is None or after > before:
                continue
            return Design(
                self.outline.name,
                foil,
                "designed",
                openings,
                changes,
                Changes.of(case.base),
                Margins.of(result.margins[:, 0]),
                Margins.of(result.before),
                tuple(result.rates.by_mechanism(1).items()),
                after,
                before,
            )
        return self._kept(foil, plain, case, "inside the uncertainty", before)

    def held(self, design: Design) -> Held:
        """What the joints of a design come to."""
        return self._held(design.foil, design.openings)

    def defects(self, design: Design) -> float:
        """Expected defects of one part with a design, by the exact model; without end where it can't be worked."""
        known = design.defects if design.defects is not None else self._exact(design.foil, design.openings)
        return math.inf if known is None else known

    def case(self, foil_um: float) -> Case | None:
        """The option on one foil with the print that designs are held against; None where none is worked."""
        frame = self.frame
        if frame is None:
            return None
        return alone(frame, self.line, self._search_case(frame, foil_um))

    def _search_case(self, frame: Frame, foil_um: float) -> Search[Case]:
        # Asked for again by who wants to know why a design is as it is.
        held, key = (frame,), (self.line, foil_um)
        case = _CASES.known(held, key)
        if case is None:
            made = yield from self._case(frame, foil_um)
            case = _CASES.of(held, key, lambda: made)
        return case

    def _case(self, frame: Frame, foil_um: float) -> Search[Case]:
        base = as_lands_row(self.outline, self.pattern, self.rules)
        case = Case(frame, foil_um, self.line, base, balance=self._balance(foil_um))
        yield from case.settled()
        metal, standoff = LEAST_METAL, 0.0
        if frame.base.rest.kind == "film":
            standoff = STANDOFF_KEPT * float(case.base_rates.seat_um[0, 0])
        elif frame.base.rest.kind == "float":
            standoff = min(TARGET_UM[0], float(case.base_rates.seat_um[0, 0]))
        return case.held_to(Floor(metal, standoff))

    def _balance(self, foil_um: float) -> float:
        """Height by the balance of forces over that of the solder alone, of the print drawn from the lands."""
        foil = Foil(foil_um, self.line.technology)
        printed = self._print(foil, apertures(self.pattern, self.rules, self.outline, foil_um=foil_um))
        geometry = part_geometry(self.outline, self.pattern, printed)
        if geometry is None or geometry.rest.kind not in ("film", "float"):
            return 1.0
        on = [one for one in geometry.joints if one.counts != (geometry.rest.kind == "float")]
        return geometry.rest.height_um / float(np.mean([one.deposit.height_um for one in on]))

    def _at(self, case: Case, row: Array) -> Search[tuple[Array, Scored]]:
        made = on_lattice(case, row)
        centres = yield from case.search_centres(made)
        result = yield from scored(case, made[None], centres)
        return made, result

    def _print(self, foil: Foil, openings: tuple[Aperture, ...]) -> Print:
        return print_part(self.pattern, foil, self.line.powder, outline=self.outline, openings=openings)

    def _held(self, foil: Foil, openings: tuple[Aperture, ...]) -> Held:
        return held_joints(self.outline, self.pattern, self._print(foil, openings))

    def _exact(self, foil: Foil, openings: tuple[Aperture, ...]) -> float | None:
        """Expected defects of one part by the exact model."""
        printed = self._print(foil, openings)
        try:
            stand = ball_stand(self.outline, self.pattern, printed)
        except LandwiseError:
            stand = None
        height = stand.height_mm if stand else None
        model = part_model(self.outline, self.pattern, printed, self.line.scatter, stand_mm=height)
        return exact_rates(model, floor=ANY_FLOOR).defects.value if model else None

    def _plain(self, foil: Foil, openings: tuple[Aperture, ...], reason: Reason) -> Design:
        return Design(self.outline.name, foil, reason, openings, Changes(), Changes())

    def _kept(
        self,
        foil: Foil,
        openings: tuple[Aperture, ...],
        case: Case,
        reason: Reason,
        defects: float | None = None,
    ) -> Design:
        base = Changes.of(case.base)
        margins = Margins.of(case.base_rates.margin[:, 0])
        ways = tuple(case.base_rates.by_mechanism(0).items())
        return Design(self.outline.name, foil, reason, openings, base, base, margins, margins, ways, defects, defects)


def as_lands_row(outline: Outline, pattern: LandPattern, rules: ApertureRules) -> Array:
    """The row of the print that `printing` draws: reduced, rounded, or as the maker prints it."""
    cut = rules.reduction_mm
    edges = [land.place.shape for land in pattern.lands if kind_of(land, outline) == "edge"]
    row = Changes(width_mm=-2 * cut, toe_mm=-cut, heel_mm=cut, coverage=rules.pane_coverage).row
    if outline.centre_terminal:
        row[4] = -2 * cut
    if edges and rules.corner_mm:
        row[3] = -min(1.0, rules.corner_mm / (min(one.width_mm for one in edges) / 2 - cut))
    if rules.published and pattern.style == "published":
        published = maker_row(outline, pattern)
        row = row if published is None else published
    return row


def maker_row(outline: Outline, pattern: LandPattern) -> Array | None:
    """The row of the openings that a maker prints with its land; None where it prints none."""
    carried = outline.published_land
    if carried is None or (carried.aperture_length_mm is None and carried.exposed_aperture_mm is None):
        return None
    row = Changes(coverage=0.0 if outline.centre_terminal else 0.65).row
    for land in pattern.lands:
        shape, kind = land.place.shape, kind_of(land, outline)
        if kind == "middle" and carried.exposed_aperture_mm is not None:
            row[4] = carried.exposed_aperture_mm - shape.length_mm
        elif kind == "pad" and carried.exposed_aperture_mm is not None:
            row[4] = carried.exposed_aperture_mm**2 / shape.area_mm2
        elif kind in ("edge", "ball") and carried.aperture_length_mm and carried.aperture_width_mm:
            row[0] = carried.aperture_width_mm - shape.width_mm
            if kind == "ball":
                row[5] = 0.05 / (carried.aperture_width_mm / 2)
            else:
                row[1] = (carried.aperture_length_mm - shape.length_mm) / 2
                row[2] = -row[1]
    return row


def usual_rows(case: Case) -> list[Array]:
    """Where a search begins: openings as the lands, a tenth and a fifth smaller, the maker's, cut and rounded ones."""
    frame = case.frame
    plain = plain_row(frame)
    rows = [plain, reduced_row(frame, 0.1), reduced_row(frame, 0.2)]
    maker = maker_row(frame.outline, frame.pattern)
    if maker is not None:
        rows.append(maker)
    for corner in (-0.4, 0.6):
        other = plain.copy()
        other[3] = corner
        rows.append(other)
    return rows


def plain_row(frame: Frame) -> Array:
    """Openings as large as the lands, the pad under the body at the usual coverage."""
    return Changes(coverage=0.0 if frame.outline.centre_terminal else frame.rules.pane_coverage).row


def reduced_row(frame: Frame, share: float) -> Array:
    """Openings that lose a share of the land's area, by width for rows and by diameter for balls."""
    row = plain_row(frame)
    shapes = [s.land.place.shape for s in frame.stands.values() if s.kind in ("edge", "ball")]
    width = min(one.width_mm for one in shapes)
    balls = any(s.kind == "ball" for s in frame.stands.values())
    row[0] = -(1 - math.sqrt(1 - share)) * width if balls else -share * width
    return row


def design_print(
    outline: Outline,
    pattern: LandPattern,
    foil: Foil,
    scatter: Scatter,
    *,
    rules: ApertureRules | None = None,
    powder: Powder = "T4",
) -> Design:
    """The print that suits one option best on one foil. See `Designer`.

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> part = find("QFN-16-3x3")
    >>> found = design_print(part, land_pattern(part), Foil(125), scatter(0.03, 0.05))
    >>> 0.5 <= found.openings[-1].coverage <= 0.8
    True
    """
    line = Line(scatter, foil.technology, powder)
    return Designer(outline, pattern, line, rules).design(foil.thickness_um)
