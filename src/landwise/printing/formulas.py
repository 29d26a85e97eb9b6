"""Formula-book entries of the printing room."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.evidence.book import Formula, Input, Output, Outputs, gathered
from landwise.printing import foils, paste, release
from landwise.printing.apertures import pane_coverage
from landwise.printing.holes import TURNS, DrilledJoint, Turns, paste_in_hole
from landwise.printing.model import POWDERS, TECHNOLOGIES, Technology, powder_of
from landwise.printing.transfer import SOURCE, transfer
from landwise.shapes import Shape, circle, oblong, rectangle, rounded

_SHAPES = ("rectangle", "circle", "oblong", "rounded")
_SHAPE_INPUTS = (
    Input("shape", "choice", "form of the aperture", "rectangle", _SHAPES),
    Input("length", "length", "length, or the diameter of a circle"),
    Input("width", "length", "width; a circle needs none", optional=True),
    Input("corner", "length", "corner radius of a rounded rectangle", "0 mm"),
    Input("foil", "thin length", "foil thickness"),
)
_TECHNOLOGY = Input("technology", "choice", "how the foil's apertures are made", "laser-cut", TECHNOLOGIES)
_POWDER = Input("powder", "choice", "powder type", "t4", tuple(powder.lower() for powder in POWDERS))


def _shape(shape: str, length: float, width: float | None, corner: float) -> Shape:
    if shape == "circle":
        if width is not None and width != length:
            raise InputError("a circle has one diameter", place="width", found=f"{width:g} mm", expected="length only")
        return circle(length)
    if width is None:
        raise InputError("the width is missing", place="width", expected=f"the width of a {shape}")
    if shape == "rounded":
        return rounded(length, width, corner)
    if corner:
        raise InputError("only a rounded rectangle has a corner radius", place="corner", found=f"{corner:g} mm")
    return oblong(length, width) if shape == "oblong" else rectangle(length, width)


def _area_ratio(shape: str, length: float, width: float | None, corner: float, foil: float) -> Outputs:
    opening = _shape(shape, length, width, corner)
    return {"area_ratio": release.area_ratio(opening, foil), "aspect_ratio": release.aspect_ratio(opening, foil)}


def _transfer(area_ratio: float, technology: Technology, powder: str) -> Outputs:
    band = transfer(area_ratio, technology, powder_of(powder))
    return {
        "mean": band.mean,
        "sd": band.sd,
        "low": band.low,
        "high": band.high,
        "usual_low": band.usual_low,
        "usual_high": band.usual_high,
    }


def _volume(
    shape: str,
    length: float,
    width: float | None,
    corner: float,
    foil: float,
    technology: Technology,
    powder: str,
    alloy: str,
) -> Outputs:
    opening = _shape(shape, length, width, corner)
    band = transfer(release.area_ratio(opening, foil), technology, powder_of(powder))
    full = opening.area_mm2 * foil / 1000
    metal = paste.paste_metal_fraction(powder_of(powder), alloy)
    return {
        "volume": full * band.mean,
        "sd": full * band.sd,
        "solder_volume": full * band.mean * metal,
        "low": full * band.low,
        "high": full * band.high,
    }


def _metal(load: float, alloy_density: float, flux_density: float) -> Outputs:
    return {"fraction": paste.metal_fraction(load, alloy_density, flux_density)}


def _keep_out(step: float) -> Outputs:
    return {"keep_out": foils.step_keep_out(step), "keep_out_thick": foils.THICK_KEEP_OUT_MM}


def _opening(powder: str) -> Outputs:
    return {"opening": paste.least_opening_um(powder_of(powder)) / 1000}


def _slump(width: float, foil: float) -> Outputs:
    return {"cold": paste.slump_spacing(width, foil, hot=False), "hot": paste.slump_spacing(width, foil, hot=True)}


def _panes(count: int, length: float, width: float, pad_length: float, pad_width: float) -> Outputs:
    return {"coverage": pane_coverage(count, length, width, pad_length, pad_width)}


@dataclass(frozen=True)
class _Hole:
    hole: float
    lead: float
    board: float
    foil: float
    metal: float
    ring: float
    fillets: int
    turns_about: Turns
    losses: float


def _hole(at: _Hole) -> Outputs:
    joint = DrilledJoint(at.hole, at.lead, at.board, ring_mm=at.ring, fillets=at.fillets, turns_about=at.turns_about)
    need = paste_in_hole(joint, at.foil, metal_fraction=at.metal, losses=at.losses)
    return {
        "paste": need.paste_mm3,
        "solder": need.solder_mm3,
        "area": need.aperture_area_mm2,
        "side": math.sqrt(need.aperture_area_mm2),
    }


BOOK: tuple[Formula, ...] = (
    Formula(
        "area-ratio",
        "Area and aspect ratio of a stencil aperture",
        _SHAPE_INPUTS,
        (Output("area_ratio", "", "open area over wall area"), Output("aspect_ratio", "", "smaller side over foil")),
        _area_ratio,
        "any aperture",
        ("stencil-sheet", "area-ratio-makers"),
        "AR = A/(P·t); aspect = w/t",
    ),
    Formula(
        "paste-transfer",
        "Share of an aperture's volume that stays on the land",
        (Input("area_ratio", "ratio", "area ratio of the aperture"), _TECHNOLOGY, _POWDER),
        (
            Output("mean", "", "mean"),
            Output("sd", "", "from deposit to deposit"),
            Output("low", "", "90 % interval between laboratories"),
            Output("high", "", "its upper end"),
            Output("usual_low", "", "band of an ordinary line"),
            Output("usual_high", "", "its upper end"),
        ),
        _transfer,
        "area ratio 0.30 and above; a recalled prior until your own inspection data replace it",
        (SOURCE, "lentz-2019", "smith-2019", "holtzer-2017"),
    ),
    Formula(
        "paste-volume",
        "Paste and solder that one aperture leaves",
        (
            *_SHAPE_INPUTS,
            _TECHNOLOGY,
            _POWDER,
            Input("alloy", "choice", "solder alloy", "sac305", tuple(paste.ALLOY_DENSITY_G_CM3)),
        ),
        (
            Output("volume", "mm3", "paste"),
            Output("sd", "mm3", "from deposit to deposit"),
            Output("solder_volume", "mm3", "solder after reflow"),
            Output("low", "mm3", "90 % interval between laboratories"),
            Output("high", "mm3", "its upper end"),
        ),
        _volume,
        "area ratio 0.30 and above; the transfer is a recalled prior",
        (SOURCE, "metal-load", "solder-densities", "flux-density"),
        "V = A·t·transfer; solder = V·φ",
    ),
    Formula(
        "metal-fraction",
        "Metal by volume of a paste",
        (
            Input("load", "ratio", "metal by weight, such as 89.5 %"),
            Input("alloy_density", "density", "of the alloy", "7.38 g/cm3"),
            Input("flux_density", "density", "of the flux", "1.0 g/cm3"),
        ),
        (Output("fraction", "", "metal by volume"),),
        _metal,
        "0 < load < 1",
        ("solder-densities", "flux-density", "stencil-sheet"),
        "φ = (w/ρs)/(w/ρs + (1 − w)/ρf)",
    ),
    Formula(
        "step-keep-out",
        "Clear distance from a step's edge",
        (Input("step", "thin length", "depth of the step"),),
        (
            Output("keep_out", "mm", "to the first aperture in the thin zone"),
            Output("keep_out_thick", "mm", "to an aperture in the full thickness"),
        ),
        _keep_out,
        "step-down zones; foils of 100 to 200 µm with steps of 25 to 80 µm in the examples",
        (
            foils.KEEP_OUT_SOURCE,
            foils.THICK_KEEP_OUT_SOURCE,
        ),
        "36 × step; 0.65 mm to the full thickness (from memory)",
    ),
    Formula(
        "powder-opening",
        "Smallest opening for a powder",
        (Input("powder", "choice", "powder type", None, tuple(p.lower() for p in POWDERS)),),
        (Output("opening", "mm", "five of the largest particles"),),
        _opening,
        "types 3 to 7; rectangular apertures; circles are often held to eight",
        (paste.POWDER_SOURCE, paste.BALLS_SOURCE),
        "5 × the largest main size",
    ),
    Formula(
        "slump-spacing",
        "Spacing at which a qualified paste must not bridge",
        (Input("width", "length", "width of the deposits"), Input("foil", "thin length", "foil thickness")),
        (Output("cold", "mm", "at 25 °C"), Output("hot", "mm", "at 150 °C")),
        _slump,
        "deposits at least half a foil wide; scaled by proportion between the tested patterns",
        ("slump-ipc-a-21", "slump-ipc-a-20"),
        "spacing/foil against width/foil through the tested rows",
    ),
    Formula(
        "pane-coverage",
        "Open share of a pad under window panes",
        (
            Input("count", "count", "openings"),
            Input("length", "length", "of one opening"),
            Input("width", "length", "of one opening"),
            Input("pad_length", "length", "largest length of the pad"),
            Input("pad_width", "length", "largest width of the pad"),
        ),
        (Output("coverage", "", "open area over the largest land"),),
        _panes,
        "equal openings inside the pad; makers print 50 to 80 %",
        ("pane-coverage-makers", "aperture-gap-slits"),
        "N·l·w/(L·W)",
    ),
    Formula(
        "paste-in-hole",
        "Paste that fills a drilled joint",
        (
            Input("hole", "length", "hole diameter"),
            Input("lead", "length", "lead diameter"),
            Input("board", "length", "board thickness"),
            Input("foil", "thin length", "foil"),
            Input("metal", "ratio", "metal by volume", "0.5"),
            Input("ring", "length", "annular ring, for fillets", "0 mm"),
            Input("fillets", "count", "fillets, 0 to 2", "0"),
            Input("turns_about", "choice", "radius about which a fillet's section turns", "hole", TURNS),
            Input("losses", "ratio", "factor for paste knocked out by the lead", "1"),
        ),
        (
            Output("paste", "mm3", "paste"),
            Output("solder", "mm3", "solder"),
            Output("area", "mm2", "aperture area"),
            Output("side", "mm", "side of a square aperture"),
        ),
        gathered(_Hole, _hole),
        "round leads, clear holes; keep 0.5 mm between overprints",
        ("paste-in-hole-sheet",),
        "V = (π/4·(hole² − lead²)·board + fillets)/φ·losses; fillet 2π·0.215 r²·(0.2234 r + a)",
        "a is the hole's radius in the cited sheet, the lead's in other texts (from memory); paste pressed into the"
        " hole is not credited",
    ),
)
