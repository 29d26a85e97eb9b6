"""The "too much" side of a print: slump and squeeze-out against the gap, and how high the solder stands."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.evidence.figures import Verdict
from landwise.printing.model import Print
from landwise.printing.paste import LARGEST_PARTICLE_UM, MEASURED_SHARE, slump_spacing
from landwise.shapes import Placed, Shape

REMAINING_SHARE = 0.5
REMAINING_SOURCE = "squeeze-assumption"
NEAR_MM = 1.5  # deposits further apart than this don't meet: more than twice the widest tested slump spacing

HONEST = (
    "Slump, offset and squeeze-out bridge neighbours; volume alone does not. None of these figures changes at a "
    "pitch by itself, so they do not reproduce the trade's wording that the ordinary foil deposits too much below "
    "about 0.35 mm pitch. The area ratio reproduces that pitch, but by too little paste. Both are shown."
)


@dataclass(frozen=True)
class Bridging:
    """The "too much" side of a print: what stands between neighbouring deposits.

    Parameters
    ----------
    gap_mm : float
        Between the two neighbouring apertures that come off worst against slump. [mm]
    slump_spacing_mm, cold_spacing_mm : float
        Spacing at which a qualified paste must not bridge after hot slump, and at 25 °C. [mm]
    slump_verdict : Verdict
        `holds` from the hot spacing on, `marginal` down to a third of it (where measured pastes begin to
        bridge), else `fails`.
    solder_height_um : float
        Thickness if all solder of the weakest land stayed on it. [µm]
    wet_height_um : float
        Mean height of its paste. [µm]
    remaining_um : float
        Height to which a placed part is taken to squeeze the paste. [µm]
    squeezed_gap_mm : float
        Least gap left between neighbouring deposits then, with the usual band's upper edge of paste;
        negative where they would overlap. [mm]
    squeeze_verdict : Verdict
        `holds` while that gap exceeds a third of the cold slump spacing, `fails` when it is closed.
    need_um : float or None
        Solder thickness that the part needs, where it was given. [µm]
    solder_per_need : float or None
        Thickness over need.
    says : str
    """

    gap_mm: float
    slump_spacing_mm: float
    slump_verdict: Verdict
    solder_height_um: float
    cold_spacing_mm: float
    wet_height_um: float
    remaining_um: float
    squeezed_gap_mm: float
    squeeze_verdict: Verdict
    need_um: float | None = None
    solder_per_need: float | None = None
    says: str = HONEST


def squeeze_spread(shape: Shape, height_um: float, remaining_um: float) -> float:
    """How far a deposit's edge moves out when it is squeezed flat. [mm]

    Parameters
    ----------
    shape : Shape
        The deposit's outline; convex.
    height_um, remaining_um : float
        Its mean height before and after. [µm]

    Raises
    ------
    InputError
        For heights that aren't positive.

    Notes
    -----
    Volume stays: the area grows by height / remaining. An edge that moves out evenly by s adds
    P·s + π·s² to a convex outline (Steiner). All paste is taken to lie under the terminal, so the spread is an
    upper bound. Zero where the paste is not squeezed.

    Examples
    --------
    A disc of 0.30 mm squeezed to a quarter of its height doubles its diameter:

    >>> from landwise.shapes import circle
    >>> round(squeeze_spread(circle(0.30), 100, 25), 6)
    0.15
    """
    if not (height_um > 0 and remaining_um > 0):
        raise InputError(
            "heights must be positive", place="squeeze", found=f"{height_um:g}, {remaining_um:g} µm", expected="> 0"
        )
    added = shape.area_mm2 * max(0.0, height_um / remaining_um - 1)
    perimeter = shape.perimeter_mm
    return (math.sqrt(perimeter**2 + 4 * math.pi * added) - perimeter) / (2 * math.pi)


def bridging(printed: Print, *, remaining_um: float | None = None, need_um: float | None = None) -> Bridging | None:
    """The "too much" side of a print; None where fewer than two numbered apertures stand near each other.

    Parameters
    ----------
    printed : Print
    remaining_um : float, optional
        Height to which placement squeezes the paste. By default half the foil, and no less than the
        powder's largest particle (an assumption; no source). [µm]
    need_um : float, optional
        Solder thickness that the part needs, to be compared. [µm]

    Notes
    -----
    Between two apertures the criterion is that of the wider one's shorter side. Panes of a pad under the
    body are left out: they may run together.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing.model import Foil
    >>> from landwise.printing.deposits import print_part
    >>> outline = find("SON-6-1.0x1.0")
    >>> side = bridging(print_part(land_pattern(outline), Foil(80), outline=outline))
    >>> side.slump_verdict, side.squeeze_verdict
    ('holds', 'holds')
    """
    foil = printed.foil.thickness_um
    if remaining_um is None:
        remaining_um = max(REMAINING_SHARE * foil, LARGEST_PARTICLE_UM[printed.powder])
    numbered = [d for d in printed.deposits if d.terminal != "EP"]
    near = list(_neighbours(printed))
    if not near:
        return None
    weakest = min(numbered, key=lambda deposit: deposit.area_ratio)
    spacings = {width: slump_spacing(width, foil) for width in {pair.width_mm for pair in near}}
    tight = min(near, key=lambda pair: pair.gap_mm / spacings[pair.width_mm])
    spacing, cold = spacings[tight.width_mm], slump_spacing(tight.width_mm, foil, hot=False)
    left = min(pair.squeezed(remaining_um) for pair in near)
    solder = weakest.solder_height_um
    return Bridging(
        gap_mm=tight.gap_mm,
        slump_spacing_mm=spacing,
        slump_verdict=_against(tight.gap_mm, spacing, MEASURED_SHARE * spacing),
        solder_height_um=solder,
        cold_spacing_mm=cold,
        wet_height_um=weakest.wet_height_um,
        remaining_um=remaining_um,
        squeezed_gap_mm=left,
        squeeze_verdict="fails" if left <= 0 else _against(left, MEASURED_SHARE * cold, 0.0),
        need_um=need_um,
        solder_per_need=None if need_um is None else solder / need_um,
    )


def _against(gap_mm: float, holds_mm: float, marginal_mm: float) -> Verdict:
    return "holds" if gap_mm >= holds_mm - 1e-9 else "marginal" if gap_mm >= marginal_mm - 1e-9 else "fails"


@dataclass(frozen=True)
class _Pair:
    gap_mm: float
    width_mm: float
    sides: tuple[tuple[Shape, float], tuple[Shape, float]]

    def squeezed(self, remaining_um: float) -> float:
        return self.gap_mm - sum(squeeze_spread(shape, height, remaining_um) for shape, height in self.sides)


def _neighbours(printed: Print) -> Iterator[_Pair]:
    """Every two openings of different numbered terminals that stand near each other."""
    import shapely

    foil = printed.foil.thickness_um
    heights = {deposit.terminal: foil * deposit.transfer.usual_high for deposit in printed.deposits}
    openings: list[tuple[str, Placed]] = [
        (aperture.terminal, one)
        for aperture in printed.apertures
        if aperture.terminal != "EP"
        for one in aperture.openings
    ]
    shapes: NDArray[np.object_] = np.array([one.geometry() for _, one in openings])
    if len(shapes) < 2:
        return
    first, second = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=NEAR_MM)
    for i, j in zip(first, second, strict=True):
        if i >= j or openings[i][0] == openings[j][0]:
            continue
        sides = [(one.shape, heights[terminal]) for terminal, one in (openings[i], openings[j])]
        width = max(min(shape.length_mm, shape.width_mm) for shape, _ in sides)
        yield _Pair(float(shapely.distance(shapes[i], shapes[j])), width, (sides[0], sides[1]))
