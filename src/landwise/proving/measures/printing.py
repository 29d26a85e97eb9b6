"""Apertures, paste and steps as landwise computes them."""

from __future__ import annotations

from landwise.evidence.figures import Verdict
from landwise.lands.model import Land, LandPattern
from landwise.printing import (
    AREA_RATIO_LIMIT,
    ASPECT_LIMIT,
    ApertureRules,
    DrilledJoint,
    bounds_met,
    fillet_volume,
    foil_window,
    least_opening_um,
    metal_fraction,
    paste_in_hole,
    paste_metal_fraction,
    release_verdict,
    slump_spacing,
    transfer,
)
from landwise.printing import area_ratio as area_ratio_of
from landwise.printing.apertures import panes
from landwise.printing.holes import ENOUGH_FILL
from landwise.printing.model import Powder, Technology
from landwise.printing.paste import ALLOY_DENSITY_G_CM3, ROBUST_SHARE, joint_height
from landwise.shapes import Placed, Shape, circle, rectangle, rounded

__all__ = [
    "alloy_density",
    "enough_fill",
    "fillet",
    "foil_verdict",
    "height",
    "least_area_ratio",
    "least_aspect",
    "opening",
    "pane_pitch",
    "panes_of",
    "paste_density",
    "paste_metal",
    "pin_in_paste",
    "release",
    "slump",
    "square_over_circle",
    "tin_lead_metal",
    "transfer_bound",
]
MIL = 0.0254
WORDS: tuple[Verdict, ...] = ("fails", "marginal", "holds")


def _shape(shape: str, length: float, width: float) -> Shape:
    if shape == "circle":
        return circle(length)
    return rounded(length, width, 0.05) if shape == "rounded" else rectangle(length, width)


def release(
    shape: str,
    length: float,
    width: float,
    foil: float,
    technology: Technology = "laser-cut",
    powder: Powder = "T4",
) -> float:
    """How an opening [mm] through a foil [µm] releases its paste: 0 fails, 1 marginal, 2 holds."""
    ratio = area_ratio_of(_shape(shape, length, width), foil)
    return float(WORDS.index(release_verdict(transfer(ratio, technology, powder))))


def foil_verdict(opening: float, pitch: float, foil: float) -> str:
    """The verdict of a foil [µm] under two rows of square lands [mm]."""
    places = [Placed(rectangle(opening, opening), (k // 3 - 0.5) * 0.9, (k % 3 - 1) * pitch, 0.0) for k in range(6)]
    lands = tuple(Land(str(k + 1), place, place, place) for k, place in enumerate(places))
    pattern = LandPattern("typical", "published", "nominal", lands, (2.0, 1.5), pitch - opening, 0.0)
    return dict(foil_window(pattern, (foil,)).verdicts)[foil]


def least_area_ratio(technology: str) -> float:
    """The least area ratio of a foil technology."""
    found = {str(name): value[0] for name, value in AREA_RATIO_LIMIT.items()}
    return float(found[technology])


def alloy_density(alloy: str) -> float:
    """Density of a solder alloy [g/cm³]."""
    return float(ALLOY_DENSITY_G_CM3[alloy])


def enough_fill() -> float:
    """Fill of a drilled joint that is enough."""
    return float(ENOUGH_FILL)


def least_aspect() -> float:
    """The least ratio of an opening's width to its foil."""
    return float(ASPECT_LIMIT)


def square_over_circle() -> float:
    """How much more a square opening holds than the circle inside it."""
    return rectangle(0.3, 0.3).area_mm2 / circle(0.3).area_mm2 - 1


def panes_of(pad: float, coverage: float, largest: float, size: str) -> float:
    """Window panes over a square pad [mm] of that open share: their `count`, or the `side` of one [mm]."""
    found = panes(Placed(rectangle(pad, pad)), ApertureRules(pane_coverage=coverage, largest_pane_mm=largest))
    return float(len(found)) if size == "count" else float(found[0].shape.length_mm)


def pane_pitch(pad: float, coverage: float, largest: float) -> float:
    """Distance between the middles of neighbouring panes [mm]."""
    found = panes(Placed(rectangle(pad, pad)), ApertureRules(pane_coverage=coverage, largest_pane_mm=largest))
    places = sorted({round(pane.x_mm, 6) for pane in found})
    return places[1] - places[0]


def pin_in_paste(hole: float, lead: float, board: float, foil: float, losses: float, size: str) -> float:
    """Paste for a drilled joint, all in mil: `volume`, `area` of its opening, or `side` of a square opening."""
    need = paste_in_hole(DrilledJoint(hole * MIL, lead * MIL, board * MIL), foil * 25.4, losses=losses)
    sizes = {
        "volume": need.paste_mm3 / MIL**3,
        "area": need.aperture_area_mm2 / MIL**2,
        "side": need.aperture_area_mm2**0.5 / MIL,
    }
    return float(sizes[size])


def fillet(radius: float, reach: float) -> float:
    """Solder of one fillet around a pin [mil³], from its radius and reach [mil]."""
    return float(fillet_volume(radius * MIL, reach * MIL) / MIL**3)


def opening(powder: Powder) -> float:
    """The smallest opening for a powder [µm]."""
    return float(least_opening_um(powder))


def tin_lead_metal(load: float) -> float:
    """Metal by volume of a tin-lead paste with that metal load by weight."""
    return float(metal_fraction(load, 8.40))


def paste_density(load: float) -> float:
    """Density of a tin-lead paste [g/cm³] with that metal load by weight, flux 1.0."""
    share = metal_fraction(load, 8.40)
    return float(share * 8.40 + (1 - share) * 1.0)


def paste_metal(powder: Powder) -> float:
    """Metal by volume of a paste of that powder."""
    return float(paste_metal_fraction(powder))


def height(opening: float, lead: float, foil: float, size: str) -> float:
    """Height of a joint from its print, all in inch: `joint`, or what a lead may stand off (`robust`)."""
    found = joint_height(opening, lead, foil)
    return float(found * ROBUST_SHARE if size == "robust" else found)


def slump(width: float, foil: float, hot: str) -> float:
    """Spacing [mm] at which a qualified paste must not bridge, pads of that width under a foil [µm]."""
    return float(slump_spacing(width, foil, hot=hot == "hot"))


def transfer_bound(bound: str) -> str:
    """Whether the band of paste transfer agrees with a published statement of `printing/transfer_bounds.toml`."""
    found = next(one for one in bounds_met() if one.id == bound)
    return "agrees" if found.met else "does not agree"
