"""Which foils print a part, and what the part asks of the board's foil."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from landwise.errors import InputError
from landwise.evidence.figures import Verdict, worst
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.outlines.coplanarity import PRINTED, coplanarity_limit_mm
from landwise.printing.apertures import ApertureRules, apertures
from landwise.printing.deposits import print_part
from landwise.printing.model import Aperture, Foil, Powder, Technology
from landwise.printing.paste import finest_powder_needed, powder_verdict
from landwise.printing.transfer import (
    Release,
    failing_area_ratio,
    holding_area_ratio,
    least_area_ratio,
    release_verdict,
    transfer,
)

KEEP_OUT_PER_STEP = 36.0  # 0.9 mm per 25 µm
KEEP_OUT_SOURCE = "step-keep-out"
THICK_KEEP_OUT_MM = 0.65  # step's edge to an aperture in the full thickness
THICK_KEEP_OUT_SOURCE = "step-keep-out-memory"
DEEPEST_STEP_UM = 50.0  # what a metal blade still wipes well
# Of the coplanarity limit: printed less, a terminal at it may hang free. Terminals lie well inside their limit (the
# assembly's scatter fills half of it), and molten solder domes above its paste; so connector makers' "as thick as the
# limit" is kept with a quarter off, as for a finished board.
CONTACT_SHARE = 0.75
# From the cheapest to the dearest.
BETTER: tuple[Technology, ...] = ("laser-polished", "nano-coated", "electroformed")


@dataclass(frozen=True)
class FoilWindow:
    """Which foils print a part.

    Parameters
    ----------
    verdicts : tuple of (float, Verdict)
        For each foil asked about. [µm]
    thickest_holds_um, thickest_works_um : float or None
        Thickness up to which every land holds, and up to which none fails: where the release limits fall,
        whether such a sheet is sold or not. None where nothing is printed, or no thickness ever holds. [µm]
    thinnest_works_um : float or None
        Thinnest foil whose paste still bridges the part's own unevenness, three quarters of its coplanarity limit; None
        where a ball brings its own solder or the outline isn't known. [µm]
    """

    verdicts: tuple[tuple[float, Verdict], ...]
    thickest_holds_um: float | None
    thickest_works_um: float | None
    thinnest_works_um: float | None


def foil_window(
    pattern: LandPattern,
    foils_um: Sequence[float],
    technology: Technology = "laser-cut",
    powder: Powder = "T4",
    *,
    rules: ApertureRules | None = None,
    outline: Outline | None = None,
    openings: tuple[Aperture, ...] | None = None,
    release: Release | None = None,
) -> FoilWindow:
    """Which foils print a part, and between which limits.

    Parameters
    ----------
    pattern : LandPattern
    foils_um : sequence of float
        Foils to judge. [µm]
    technology : str
    powder : str
    rules : ApertureRules, optional
    outline : Outline, optional
        For published apertures, the thin end, and the leads of paste in hole.
    openings : tuple of Aperture, optional
        Openings that were designed, in place of those that `rules` would draw.
    release : callable, optional
        What a line that measured its own release says of an area ratio, technology and powder; None where it measured
        none near, and the shipped band judges. The thick ends stay those of the shipped band.

    Notes
    -----
    The thick end is release: area over perimeter of the weakest opening, over the area ratio at which
    `release_verdict` changes. The thin end is contact: the foil must be at least three quarters as thick as the worst
    terminal's coplanarity limit (`CONTACT_SHARE`; limits recalled). For paste in hole the overprint grows as
    the foil thins, so each foil is judged by itself and no limits are given.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> outline = find("SON-6-1.0x1.0")
    >>> foil_window(land_pattern(outline), [80, 100, 120]).verdicts[2]
    (120, 'fails')
    """
    if pattern.drilled and rules is not None and rules.drilled == "paste-in-hole":
        verdicts = tuple((um, _filled(pattern, Foil(um, technology), powder, rules, outline)) for um in foils_um)
        return FoilWindow(verdicts, None, None, None)
    weakest = _slenderness_um(pattern, rules, outline, openings)
    if weakest is None:
        return FoilWindow(tuple((um, "holds") for um in foils_um), None, None, None)
    holding = holding_area_ratio(technology, powder)
    return FoilWindow(
        tuple((um, _verdict_at(weakest / um, technology, powder, release)) for um in foils_um),
        None if holding is None else weakest / holding,
        weakest / failing_area_ratio(technology, powder),
        1000 * CONTACT_SHARE * coplanarity_limit_mm(outline) if outline and outline.family in PRINTED else None,
    )


def _slenderness_um(
    pattern: LandPattern,
    rules: ApertureRules | None,
    outline: Outline | None,
    openings: tuple[Aperture, ...] | None = None,
) -> float | None:
    """Least area over perimeter among the openings: the foil at which the area ratio is 1. [µm]"""
    drawn = apertures(pattern, rules, outline) if openings is None else openings
    shapes = [one.shape for opening in drawn for one in opening.openings]
    return min((shape.area_mm2 / shape.perimeter_mm * 1000 for shape in shapes), default=None)


def _narrowest_um(
    pattern: LandPattern,
    rules: ApertureRules | None,
    outline: Outline | None,
    openings: tuple[Aperture, ...] | None,
) -> float:
    drawn = apertures(pattern, rules, outline) if openings is None else openings
    shapes = [one.shape for opening in drawn for one in opening.openings]
    return min((1000 * min(shape.length_mm, shape.width_mm) for shape in shapes), default=math.inf)


def _verdict_at(ratio: float, technology: Technology, powder: Powder, release: Release | None) -> Verdict:
    if ratio < least_area_ratio():
        return "fails"
    own = None if release is None else release(ratio, technology, powder)
    if own is not None:
        return own
    return release_verdict(transfer(ratio, technology, powder))


def _filled(pattern: LandPattern, foil: Foil, powder: Powder, rules: ApertureRules, outline: Outline | None) -> Verdict:
    printed = print_part(pattern, foil, powder, rules=rules, outline=outline)
    return worst(deposit.verdict for deposit in printed.deposits)


Kind = Literal["none", "thinner foil", "step-down zone", "better foil technology", "not printable"]


@dataclass(frozen=True)
class Demand:
    """What a part asks of the board's foil: nothing, or the least change that prints it.

    Parameters
    ----------
    kind : str
    foil_um : float or None
        Foil over this part; None where none prints it. [µm]
    keep_out_mm : float
        Clear distance from a step's edge to the part's apertures. [mm]
    says : str
    technology : str or None
        Foil technology that prints it.
    keep_out_thick_mm : float
        Clear distance from a step's edge to the neighbours' apertures in the full thickness. [mm]
    powder_needed : str or None
        A finer powder, where the line's does not pass the narrowest opening.
    """

    kind: Kind
    foil_um: float | None
    keep_out_mm: float
    says: str
    technology: Technology | None = None
    keep_out_thick_mm: float = 0.0
    powder_needed: Powder | None = None


@dataclass(frozen=True)
class Stencils:
    """What a line prints with: the board's base foil, its powder, and what else may be had.

    Parameters
    ----------
    foil : Foil
        The board's base foil.
    powder : str
    foils_um : tuple of float
        Foils on hand. [µm]
    steps_allowed : bool
        Whether the line prints through stepped foils.
    technologies : tuple of str
        Better foil technologies to be had, in order of preference.
    release : callable, optional
        As for `foil_window`.
    """

    foil: Foil
    powder: Powder
    foils_um: tuple[float, ...]
    steps_allowed: bool
    technologies: tuple[Technology, ...] = BETTER
    release: Release | None = None


def line_demand(
    pattern: LandPattern,
    stencils: Stencils,
    *,
    rules: ApertureRules | None = None,
    outline: Outline | None = None,
    openings: tuple[Aperture, ...] | None = None,
) -> Demand:
    """What a part asks of the board's foil.

    Parameters
    ----------
    pattern : LandPattern
    stencils : Stencils
    rules, outline, openings
        As for `foil_window`; openings designed for the base foil stand for other foils too.

    Notes
    -----
    The base foil is kept where no land fails under it. Otherwise the first of these that prints the part: a
    step-down zone where the line allows steps, or else a thinner foil on hand for the whole board; a better
    foil technology at the base thickness; a better technology on a thinner foil on hand. If none does, the
    part is not printable here. Keep-out from a step's edge to the first aperture of the thin zone: 36 times
    the step (verified); to the apertures of the full thickness 0.65 mm (from memory).

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> outline = find("SON-6-0.9x1.0")
    >>> stencils = Stencils(Foil(100), "T4", (80, 100), steps_allowed=False)
    >>> line_demand(land_pattern(outline), stencils, outline=outline).kind
    'thinner foil'
    """
    foil, powder = stencils.foil, stencils.powder

    def prints(um: float, technology: Technology) -> bool:
        window = foil_window(
            pattern,
            [um],
            technology,
            powder,
            rules=rules,
            outline=outline,
            openings=openings,
            release=stencils.release,
        )
        return window.verdicts[0][1] != "fails"

    base, needed, note = foil.thickness_um, *_powder(pattern, powder, rules, outline, openings)
    if prints(base, foil.technology):
        return Demand(
            "none", base, 0.0, f"prints on the board's {base:g} µm foil{note}", foil.technology, powder_needed=needed
        )
    thinner = sorted((um for um in stencils.foils_um if um < base), reverse=True)
    for um in thinner:
        if prints(um, foil.technology):
            return _thinned(base, um, foil.technology, stencils.steps_allowed, needed, note)
    others = [technology for technology in stencils.technologies if technology != foil.technology]
    for um in (base, *thinner):
        for technology in others:
            if prints(um, technology):
                says = f"needs a {technology} foil at {um:g} µm{note}"
                return Demand("better foil technology", um, 0.0, says, technology, powder_needed=needed)
    return Demand(
        "not printable",
        None,
        0.0,
        f"no foil on hand prints it; the base foil is {base:g} µm{note}",
        powder_needed=needed,
    )


def _thinned(
    base: float, um: float, technology: Technology, steps_allowed: bool, needed: Powder | None, note: str
) -> Demand:
    if not steps_allowed:
        says = f"pulls the whole board's foil from {base:g} down to {um:g} µm{note}"
        return Demand("thinner foil", um, 0.0, says, technology, powder_needed=needed)
    keep_out = step_keep_out(base - um)
    deep = f"; deeper than the {DEEPEST_STEP_UM:g} µm a blade wipes well" if base - um > DEEPEST_STEP_UM else ""
    says = f"needs a step from {base:g} to {um:g} µm, {keep_out:.2f} mm clear all round{deep}{note}"
    return Demand("step-down zone", um, keep_out, says, technology, THICK_KEEP_OUT_MM, needed)


def _powder(
    pattern: LandPattern,
    powder: Powder,
    rules: ApertureRules | None,
    outline: Outline | None,
    openings: tuple[Aperture, ...] | None,
) -> tuple[Powder | None, str]:
    """The finer powder the narrowest opening asks for, and the words for it; none where the line's passes."""
    if pattern.drilled:
        return None, ""
    narrow = _narrowest_um(pattern, rules, outline, openings)
    if powder_verdict(narrow, powder) != "fails":
        return None, ""
    needed = finest_powder_needed(narrow)
    return needed, f"; {powder} powder does not pass its {narrow:.0f} µm opening, {needed or 'no powder'} does"


def step_keep_out(step_um: float) -> float:
    """Clear distance from a step's edge to the first aperture in the thin zone. [mm]

    Parameters
    ----------
    step_um : float
        Depth of the step. [µm]

    Raises
    ------
    InputError
        For a step that isn't positive.

    Examples
    --------
    >>> step_keep_out(50.0)
    1.8
    """
    if not step_um > 0:
        raise InputError("a step needs a positive depth", found=f"{step_um:g} µm", expected="> 0")
    return KEEP_OUT_PER_STEP * step_um / 1000


def thickest_by_limit(
    pattern: LandPattern, limit: float, *, rules: ApertureRules | None = None, outline: Outline | None = None
) -> float | None:
    """Thickest foil by a plain area-ratio limit, beside the band's own limits; None where nothing is printed. [µm]"""
    weakest = _slenderness_um(pattern, rules, outline)
    return None if weakest is None else weakest / limit
