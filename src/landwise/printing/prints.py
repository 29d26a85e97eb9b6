"""Printing one part: its deposits under a foil, the foils that work, and what it asks of the board's foil."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from landwise.evidence.figures import Verdict, worst
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.apertures import ApertureRules, apertures
from landwise.printing.model import Aperture, Deposit, Foil, Powder, Print, Technology, Transfer
from landwise.printing.paste import paste_metal_fraction, powder_verdict, slump_spacing
from landwise.printing.release import area_ratio, aspect_ratio
from landwise.printing.transfer import release_verdict, transfer_arrays
from landwise.shapes import least_gap_mm

KEEP_OUT_PER_STEP = 36.0  # 0.9 mm per 25 µm
KEEP_OUT_SOURCE = "step-keep-out"
# The thinnest and thickest foils worth offering: stock sheets run from 50 to 200 µm.
SCAN_UM = np.arange(50.0, 201.0, 1.0)


def print_part(
    pattern: LandPattern, foil: Foil, powder: Powder = "T4", *, rules: ApertureRules | None = None,
    outline: Outline | None = None, alloy: str = "sac305",
) -> Print:  # fmt: skip
    """Print one part with one foil.

    Parameters
    ----------
    pattern : LandPattern
    foil : Foil
    powder : {"T3", …, "T7"}
    rules : ApertureRules, optional
    outline : Outline, optional
        Given, a maker's published apertures are used.
    alloy : str
        Sets how much of the paste is metal.

    Notes
    -----
    An aperture whose area ratio lies below the known band (0.30) is reported with no transfer: its deposit
    is zero with an upper bound of what the band's first knot gives, and it fails.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> outline = find("SON-5-0.8x0.8")
    >>> printed = print_part(land_pattern(outline), Foil(100), outline=outline)
    >>> printed.verdict, round(printed.least_area_ratio, 2)
    ('marginal', 0.6)
    """
    openings = apertures(pattern, rules, outline)
    if not openings:
        return Print(foil, powder, (), (), float("inf"), float("inf"), "holds", "drilled: nothing is printed")
    deposits = _deposits(openings, foil, powder, alloy)
    gap = least_gap_mm([one for opening in openings for one in opening.openings])
    weakest = min(deposits, key=lambda deposit: deposit.area_ratio)
    verdict = worst([d.verdict for d in deposits] + [d.powder_verdict for d in deposits])
    why = (
        f"terminal {weakest.terminal} has the least area ratio, {weakest.area_ratio:.2f} on {foil.thickness_um:g} µm: "
        f"{weakest.transfer.usual_low:.0%} to {weakest.transfer.usual_high:.0%} of the paste transfers"
    )
    return Print(foil, powder, openings, deposits, weakest.area_ratio, gap, verdict, why)


def _deposits(openings: tuple[Aperture, ...], foil: Foil, powder: Powder, alloy: str) -> tuple[Deposit, ...]:
    # The weakest opening of an aperture decides its release; panes are equal, so one stands for all.
    shapes = [
        min((one.shape for one in opening.openings), key=lambda s: area_ratio(s, foil.thickness_um))
        for opening in openings
    ]
    ratios = np.array([area_ratio(shape, foil.thickness_um) for shape in shapes])
    known = np.maximum(ratios, 0.30)
    bands = transfer_arrays(known, foil.technology, powder)
    metal = paste_metal_fraction(powder, alloy)
    found = []
    for k, (opening, shape) in enumerate(zip(openings, shapes, strict=True)):
        band = Transfer(**{key: float(value[k]) for key, value in bands.items()})
        if ratios[k] < known[k]:
            band = Transfer(0.0, 0.0, band.usual_high, 0.0, band.usual_low, band.sd)
        full = opening.area_mm2 * foil.thickness_um / 1000
        found.append(
            Deposit(
                terminal=opening.terminal,
                area_ratio=float(ratios[k]),
                aspect_ratio=aspect_ratio(shape, foil.thickness_um),
                transfer=band,
                paste_mm3=full * band.mean,
                paste_low_mm3=full * band.low,
                paste_high_mm3=full * band.high,
                paste_sd_mm3=full * band.sd,
                solder_mm3=full * band.mean * metal,
                verdict=release_verdict(band),
                powder_verdict=powder_verdict(1000 * min(shape.length_mm, shape.width_mm), powder),
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class FoilWindow:
    """Which foils print a part.

    Parameters
    ----------
    verdicts : tuple of (float, Verdict)
        For each foil asked about. [µm]
    thickest_holds_um, thickest_works_um : float or None
        Thickest foil of 50 to 200 µm under which every land holds, and under which none fails. [µm]
    thinnest_works_um : float or None
        Thinnest foil whose solder still fills the gap of the part's own unevenness. [µm]
    """

    verdicts: tuple[tuple[float, Verdict], ...]
    thickest_holds_um: float | None
    thickest_works_um: float | None
    thinnest_works_um: float | None


COPLANARITY_UM = {"gull-wing dual": 100.0, "gull-wing quad": 100.0, "flat-lead dual": 80.0, "leadless dual": 50.0,
                  "leadless quad": 80.0, "ball grid": 100.0, "wafer-level": 50.0}  # fmt: skip
COPLANARITY_SOURCE = "jedec-coplanarity-memory"


def foil_window(
    pattern: LandPattern, foils_um: Sequence[float], technology: Technology = "laser-cut", powder: Powder = "T4", *,
    rules: ApertureRules | None = None, outline: Outline | None = None,
) -> FoilWindow:  # fmt: skip
    """Which foils print a part, and between which limits.

    Notes
    -----
    The thick end is release: `release_verdict` of the weakest land. The thin end is contact: the printed
    paste must be at least as high as the worst lead's coplanarity limit (makers' rule: foil thickness ≥
    worst coplanarity; JEDEC limits recalled). A ball brings its own solder, so grids have no thin end.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> outline = find("SON-6-1.0x1.0")
    >>> foil_window(land_pattern(outline), [80, 100, 120]).verdicts[2]
    (120, 'fails')
    """
    shapes = [one.shape for opening in apertures(pattern, rules, outline) for one in opening.openings]
    if not shapes:
        return FoilWindow(tuple((um, "holds") for um in foils_um), None, None, None)
    slenderness = np.array([shape.area_mm2 / shape.perimeter_mm for shape in shapes]).min() * 1000
    scan = [(float(um), _verdict_at(slenderness / um, technology, powder)) for um in SCAN_UM]
    holds = [um for um, verdict in scan if verdict == "holds"]
    works = [um for um, verdict in scan if verdict in ("holds", "marginal")]
    family = outline.family if outline else ""
    thin = None if family in ("ball grid", "wafer-level") else COPLANARITY_UM.get(family)
    return FoilWindow(
        tuple((um, _verdict_at(slenderness / um, technology, powder)) for um in foils_um),
        max(holds, default=None),
        max(works, default=None),
        thin,
    )


def _verdict_at(ratio: float, technology: Technology, powder: Powder) -> Verdict:
    if ratio < 0.30:
        return "fails"
    bands = transfer_arrays(np.array([ratio]), technology, powder)
    return release_verdict(Transfer(**{key: float(value[0]) for key, value in bands.items()}))


Kind = Literal["none", "thinner foil", "step-down zone", "better foil technology", "not printable"]


@dataclass(frozen=True)
class Demand:
    """What a part asks of the board's foil: nothing, or the least change that prints it."""

    kind: Kind
    foil_um: float | None
    keep_out_mm: float
    says: str


def line_demand(
    pattern: LandPattern, foil: Foil, powder: Powder, foils_um: Sequence[float], *, steps_allowed: bool,
    rules: ApertureRules | None = None, outline: Outline | None = None,
) -> Demand:  # fmt: skip
    """What a part asks of the board's foil.

    The base foil is kept where no land fails under it. Otherwise, in this order: a step-down zone where the
    line allows steps, a thinner foil on hand for the whole board, a better foil technology at the base
    thickness, and if none of these prints it, it is not printable here.

    Notes
    -----
    Keep-out from a step's edge to the first aperture of the thin zone: 36 times the step.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> outline = find("SON-6-0.9x1.0")
    >>> line_demand(land_pattern(outline), Foil(100), "T4", [80, 100], steps_allowed=False, outline=outline).kind
    'thinner foil'
    """

    def verdict(um: float, technology: Technology) -> Verdict:
        return foil_window(pattern, [um], technology, powder, rules=rules, outline=outline).verdicts[0][1]

    base = foil.thickness_um
    if pattern.drilled or verdict(base, foil.technology) != "fails":
        return Demand("none", base, 0.0, f"prints on the board's {base:g} µm foil")
    working = [um for um in foils_um if um < base and verdict(um, foil.technology) != "fails"]
    if working:
        best = max(working)
        keep_out = step_keep_out(base - best)
        if steps_allowed:
            return Demand(
                "step-down zone",
                best,
                keep_out,
                f"needs a step from {base:g} to {best:g} µm, {keep_out:.2f} mm clear all round",
            )
        return Demand("thinner foil", best, 0.0, f"pulls the whole board's foil from {base:g} down to {best:g} µm")
    better: tuple[Technology, ...] = ("laser-polished", "nano-coated", "electroformed")
    for technology in better:
        if technology != foil.technology and verdict(base, technology) != "fails":
            return Demand("better foil technology", base, 0.0, f"needs a {technology} foil at {base:g} µm")
    return Demand("not printable", None, 0.0, f"no foil on hand prints it; the base foil is {base:g} µm")


def step_keep_out(step_um: float) -> float:
    """Clear distance from a step's edge to the first aperture in the thin zone. [mm]

    >>> step_keep_out(50.0)
    1.8
    """
    return KEEP_OUT_PER_STEP * step_um / 1000


@dataclass(frozen=True)
class Bridging:
    """The "too much" side of a print: what stands between neighbouring deposits.

    Parameters
    ----------
    gap_mm : float
        Between neighbouring apertures. [mm]
    slump_spacing_mm : float
        Spacing at which a qualified paste must not bridge after hot slump. [mm]
    slump_verdict : Verdict
        `holds` above it, `marginal` down to a third of it (where measured pastes begin to bridge), else
        `fails`.
    solder_height_um : float
        Thickness if all solder of the weakest land stayed on it. [µm]
    """

    gap_mm: float
    slump_spacing_mm: float
    slump_verdict: Verdict
    solder_height_um: float


def bridging(printed: Print) -> Bridging | None:
    """The "too much" side of a print; None where fewer than two apertures stand near each other.

    Notes
    -----
    Slump, offset and squeeze-out bridge neighbours; volume alone does not. The slump criterion scales with
    the width of the deposit as well as the gap does, so it does not change at a pitch: it does not reproduce
    the trade's wording that ordinary foils deposit too much below 0.35 mm pitch. The area ratio does
    reproduce the pitches, by too little paste. Both are shown.
    """
    named = [opening for opening in printed.apertures if opening.terminal != "EP"]
    if len(named) < 2:
        return None
    width = min(min(one.shape.length_mm, one.shape.width_mm) for opening in named for one in opening.openings)
    gap = least_gap_mm([one for opening in named for one in opening.openings])
    spacing = slump_spacing(width, printed.foil.thickness_um)
    weakest = min((d for d in printed.deposits if d.terminal != "EP"), key=lambda d: d.area_ratio)
    area = next(o.land_area_mm2 for o in named if o.terminal == weakest.terminal)
    return Bridging(
        gap,
        spacing,
        "holds" if gap >= spacing else "marginal" if gap >= spacing / 3 else "fails",
        weakest.solder_mm3 / area * 1000,
    )
