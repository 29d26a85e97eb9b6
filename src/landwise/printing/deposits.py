"""Printing one part: what every aperture leaves under one foil."""

from __future__ import annotations

import math
from dataclasses import replace

from landwise.evidence.figures import Verdict, worst
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.apertures import ApertureRules, apertures
from landwise.printing.holes import ENOUGH_FILL
from landwise.printing.model import Aperture, Deposit, Foil, Powder, Print
from landwise.printing.paste import paste_metal_fraction, powder_verdict
from landwise.printing.release import area_ratio, aspect_ratio
from landwise.printing.transfer import least_area_ratio, release_verdict, transfer_or_none
from landwise.shapes import Shape


def print_part(
    pattern: LandPattern,
    foil: Foil,
    powder: Powder = "T4",
    *,
    rules: ApertureRules | None = None,
    outline: Outline | None = None,
    alloy: str = "sac305",
    openings: tuple[Aperture, ...] | None = None,
) -> Print:
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
    openings : tuple of Aperture, optional
        Openings that were designed for this foil, in place of those that `rules` would draw.

    Notes
    -----
    An aperture whose area ratio lies below the known band (0.30) gets a band that starts at zero, and says
    so (see `transfer_or_none`); it fails.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> outline = find("SON-5-0.8x0.8")
    >>> printed = print_part(land_pattern(outline), Foil(100), outline=outline)
    >>> printed.verdict, round(printed.least_area_ratio, 2)
    ('marginal', 0.6)
    """
    if openings is None:
        openings = apertures(pattern, rules, outline, foil_um=foil.thickness_um)
    if not openings:
        return Print(foil, powder, (), (), math.inf, "holds", "drilled: nothing is printed")
    metal = paste_metal_fraction(powder, alloy)
    deposits = _deposits(openings, foil, powder, metal)
    verdict = worst([d.verdict for d in deposits] + [d.powder_verdict for d in deposits])
    weakest = min(deposits, key=lambda deposit: deposit.area_ratio)
    return Print(foil, powder, openings, deposits, weakest.area_ratio, verdict, _why(deposits, weakest, foil))


def _deposits(openings: tuple[Aperture, ...], foil: Foil, powder: Powder, metal: float) -> tuple[Deposit, ...]:
    """One for each opening; openings that are alike in all but their place are worked once."""
    found: dict[tuple[tuple[Shape, ...], float, float | None], Deposit] = {}
    deposits = []
    for opening in openings:
        alike = (tuple(one.shape for one in opening.openings), opening.land_area_mm2, opening.paste_wanted_mm3)
        one = found.get(alike)
        if one is None:
            one = found[alike] = _deposit(opening, foil, powder, metal)
        deposits.append(one if one.terminal == opening.terminal else replace(one, terminal=opening.terminal))
    return tuple(deposits)


def _deposit(opening: Aperture, foil: Foil, powder: Powder, metal: float) -> Deposit:
    # The weakest opening of an aperture decides its release; panes are equal, so one stands for all.
    shape = min((one.shape for one in opening.openings), key=lambda s: area_ratio(s, foil.thickness_um))
    ratio = area_ratio(shape, foil.thickness_um)
    band = transfer_or_none(ratio, foil.technology, powder)
    full = opening.area_mm2 * foil.thickness_um / 1000
    fill = None if opening.paste_wanted_mm3 is None else full * band.usual_low / opening.paste_wanted_mm3
    verdict = release_verdict(band)
    return Deposit(
        terminal=opening.terminal,
        area_ratio=ratio,
        aspect_ratio=aspect_ratio(shape, foil.thickness_um),
        transfer=band,
        paste_mm3=full * band.mean,
        paste_low_mm3=full * band.low,
        paste_high_mm3=full * band.high,
        paste_sd_mm3=full * band.sd,
        solder_mm3=full * band.mean * metal,
        verdict=verdict if fill is None else worst([verdict, fill_verdict(fill)]),
        powder_verdict=powder_verdict(1000 * min(shape.length_mm, shape.width_mm), powder),
        wet_height_um=foil.thickness_um * band.mean,
        solder_height_um=full * band.mean * metal / opening.land_area_mm2 * 1000,
        fill=fill,
    )


def fill_verdict(fill: float) -> Verdict:
    """Whether a drilled joint gets enough paste: all of it holds, three quarters are marginal.

    >>> fill_verdict(1.1), fill_verdict(0.8), fill_verdict(0.5)
    ('holds', 'marginal', 'fails')
    """
    return "holds" if fill >= 1 else "marginal" if fill >= ENOUGH_FILL else "fails"


def _why(deposits: tuple[Deposit, ...], weakest: Deposit, foil: Foil) -> str:
    starved = min((d for d in deposits if d.fill is not None), key=lambda d: d.fill or 0.0, default=None)
    if starved is not None and starved.fill is not None and starved.fill < 1:
        return f"terminal {starved.terminal} gets {starved.fill:.0%} of the paste its hole needs"
    usual = f"{weakest.transfer.usual_low:.0%} to {weakest.transfer.usual_high:.0%} of the paste transfers"
    if weakest.area_ratio < least_area_ratio():
        usual = "so slender an opening may keep all its paste"
    return (
        f"terminal {weakest.terminal} has the least area ratio, {weakest.area_ratio:.2f} on {foil.thickness_um:g} µm: "
        f"{usual}"
    )
