"""Figures of the print: area ratio, paste transfer, foils, openings, solder, slump."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.assembly.lineprint import LineRelease, weakest
from landwise.designing import design_words
from landwise.evidence.figures import Figure, Step, Verdict, figure, worst
from landwise.evidence.trails import earlier, worked
from landwise.printing.bridging import Bridging
from landwise.printing.foils import KEEP_OUT_SOURCE, FoilWindow
from landwise.printing.model import Deposit, Print
from landwise.printing.paste import BALLS_SOURCE, POWDER_SOURCE, least_opening_um
from landwise.printing.release import AREA_RATIO_LIMIT
from landwise.printing.transfer import PASS_LEVEL, PASS_SOURCE
from landwise.printing.transfer import SOURCE as TRANSFER_SOURCE

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry


Band = tuple[float, float, float]


def _weakest(printed: Print) -> Deposit | None:
    return min(printed.deposits, key=lambda d: d.area_ratio, default=None)


def worst_deposit(printed: Print) -> Deposit:
    """The deposit with the least area ratio."""
    return min(printed.deposits, key=lambda d: d.area_ratio)


def least_area_ratio(printed: Print) -> float:
    """Open area over wall area of the worst opening."""
    return worst_deposit(printed).area_ratio


def worst_transfer(printed: Print) -> Band:
    """Share of the worst opening's paste that leaves it: low, mean, high."""
    band = worst_deposit(printed).transfer
    return band.low, band.mean, band.high


def worst_solder(printed: Print) -> Band:
    """Solder on the worst land: low, mean, high. [nL]"""
    deposit = worst_deposit(printed)
    factor = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 else 0.0
    return (
        deposit.paste_low_mm3 * factor * 1000,
        deposit.solder_mm3 * 1000,
        deposit.paste_high_mm3 * factor * 1000,
    )


def narrowest_opening(printed: Print) -> float:
    """Narrowest side of all openings. [µm]"""
    return min(min(o.shape.length_mm, o.shape.width_mm) for a in printed.apertures for o in a.openings) * 1000


def thickest_that_works(window: FoilWindow) -> float | None:
    """Thickest foil on hand that prints the part. [µm]"""
    return window.thickest_works_um


def gap_between(side: Bridging) -> float:
    """Gap between the nearest deposits. [mm]"""
    return side.gap_mm


def slump_gap(side: Bridging) -> float:
    """Spacing at which a qualified paste must not bridge. [mm]"""
    return side.slump_spacing_mm


def area_ratio_figure(geometry: Geometry) -> Figure:
    printed, deposit = geometry.printed, _weakest(geometry.printed)
    limit, source = AREA_RATIO_LIMIT[printed.foil.technology]
    if deposit is None:
        return Figure(
            key="area-ratio", title="least area ratio", value=None, verdict="holds", why="drilled: nothing is printed"
        )
    opening = next(a for a in printed.apertures if a.terminal == deposit.terminal).openings[0].shape
    step = worked(
        f"open area over wall area at terminal {deposit.terminal}",
        least_area_ratio,
        {"printed": earlier(geometry.stations["print"])},
        inputs={
            "opening": f"{opening.length_mm:.3f} × {opening.width_mm:.3f} mm ({opening.kind})",
            "foil": f"{printed.foil.thickness_um:g} µm",
        },
        formula="area-ratio",
        valid="any aperture",
        sources=(source,),
    )
    below = deposit.area_ratio < limit
    return figure(
        step,
        key="area-ratio",
        title="least area ratio",
        better="more",
        limit=limit,
        limit_source=source,
        verdict="marginal" if below and deposit.verdict != "fails" else "fails" if below else "holds",
        why=(
            f"{deposit.area_ratio:.2f} on {printed.foil.thickness_um:g} µm, the {printed.foil.technology} limit is"
            f" {limit:.2f}: below it too little paste leaves the foil"
        ),
    )


def line_transfer(printed: Print, release: LineRelease) -> Band:
    """Share of the worst opening's paste that leaves it on the line as it was measured: low, mean, high."""
    found = release.band(weakest(printed, release).area_ratio, printed.foil.technology, printed.powder)
    return worst_transfer(printed) if found is None else found


def transfer_figure(geometry: Geometry, bench: Bench) -> Figure:
    printed, line = geometry.printed, bench.release
    deposit = weakest(printed, line) if printed.deposits else None
    if deposit is None:
        return Figure(
            key="transfer",
            title="paste transfer, worst land",
            value=None,
            verdict="holds",
            why="drilled: nothing is printed",
        )
    given = bench.release_given
    if (
        line is not None
        and given is not None
        and line.band(deposit.area_ratio, printed.foil.technology, printed.powder) is not None
    ):
        step = worked(
            f"transfer at area ratio {deposit.area_ratio:.2f} as your line measured it, with its 90 % interval",
            line_transfer,
            {"printed": earlier(geometry.stations["print"]), "release": given},
            inputs={"technology": printed.foil.technology, "powder": printed.powder},
            valid="within 0.10 of a measured area ratio; another foil or powder keeps its place in the shipped band",
            sources=("study",),
        )
        return _transfer(geometry, step, deposit.verdict)
    step = worked(
        f"transfer band at area ratio {deposit.area_ratio:.2f}; 90 % interval between laboratories",
        worst_transfer,
        {"printed": earlier(geometry.stations["print"])},
        inputs={"technology": printed.foil.technology, "powder": printed.powder},
        formula="paste-transfer",
        valid="area ratio 0.30 and above; a prior until your own inspection data replace it",
        sources=(TRANSFER_SOURCE,),
    )
    return _transfer(geometry, step, deposit.verdict)


def _transfer(geometry: Geometry, step: Step, verdict: Verdict) -> Figure:
    return figure(
        step,
        key="transfer",
        title="paste transfer, worst land",
        better="more",
        limit=PASS_LEVEL,
        limit_source=PASS_SOURCE,
        verdict=verdict,
        why=geometry.printed.why,
        trail=(*area_ratio_figure(geometry).trail, step),
    )


def foil_figure(geometry: Geometry, bench: Bench) -> Figure:
    window, demand = geometry.window, geometry.demand
    verdict: Verdict = "holds" if demand.kind == "none" else "marginal" if demand.kind == "step-down zone" else "fails"
    if demand.kind == "none" and geometry.printed.verdict == "marginal":
        verdict = "marginal"
    shown = ", ".join(f"{um:g} µm {word}" for um, word in window.verdicts)
    step = worked(
        f"foils on hand: {shown}" if shown else "no foil",
        thickest_that_works,
        {"window": earlier(geometry.stations["foils"])},
        unit="um",
        sources=(TRANSFER_SOURCE, PASS_SOURCE, KEEP_OUT_SOURCE),
    )
    return figure(
        step,
        key="foil",
        title="thickest foil that works",
        better="more",
        limit=bench.line.foil_um,
        limit_source="study",
        verdict=verdict,
        why=demand.says,
    )


def opening_figure(geometry: Geometry) -> Figure:
    printed = geometry.printed
    if not printed.apertures:
        return Figure(
            key="opening", title="narrowest opening", value=None, verdict="holds", why="drilled: nothing is printed"
        )
    verdict = worst(deposit.powder_verdict for deposit in printed.deposits)
    wanted = worked(
        "five of the largest particles side by side",
        least_opening_um,
        {"powder": geometry.leaves["powder"]},
        inputs={"powder": printed.powder},
        unit="um",
        formula="powder-opening",
        valid="",
        sources=(POWDER_SOURCE, BALLS_SOURCE),
    )
    given = {"printed": earlier(geometry.stations["print"])}
    step = worked("narrowest side of all openings", narrowest_opening, given, unit="um")
    need = wanted.value or 0.0
    return figure(
        step,
        key="opening",
        title="narrowest opening",
        better="more",
        limit=need,
        limit_source=BALLS_SOURCE,
        verdict=verdict,
        why=f"{step.value:.0f} µm wide, {printed.powder} powder wants {need:.0f} µm",
        trail=(wanted, *_design_steps(geometry), step),
    )


def _design_steps(geometry: Geometry) -> tuple[Step, ...]:
    """How the openings came to be what they are."""
    design = geometry.design
    if design is None:
        return (Step(says="openings drawn from the lands, as asked"),)
    inputs = {"left as they are": "no"} if design.designed else {"left as they are": "yes"}
    if design.margins is not None:
        inputs["margin"] = f"{design.margins.middle:.2f} standard deviations"
    return (Step(says=design_words(design), inputs=inputs, sources=("landwise-rule",)),)


def solder_figure(geometry: Geometry) -> Figure:
    deposit = _weakest(geometry.printed)
    if deposit is None:
        return Figure(
            key="solder",
            title="solder on the worst land",
            value=None,
            verdict="holds",
            why="drilled: soldered by wave or by hand",
        )
    factor = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 else 0.0
    step = worked(
        "aperture volume × transfer × metal by volume",
        worst_solder,
        {"printed": earlier(geometry.stations["print"])},
        inputs={"metal": f"{factor:.3f}"},
        unit="nL",
        formula="paste-volume",
        valid="",
        sources=("metal-load", "solder-densities"),
    )
    return figure(
        step,
        key="solder",
        title="solder on the worst land",
        better="neither",
        verdict=deposit.verdict,
        why=f"terminal {deposit.terminal}: {deposit.paste_mm3 * 1000:.2f} nL of paste, {factor:.0%} of it metal",
    )


def slump_figure(geometry: Geometry) -> Figure:
    side = geometry.bridging
    if side is None:
        return Figure(
            key="slump-gap", title="gap against slump", value=None, verdict="holds", why="no neighbouring deposits"
        )
    given = {"side": earlier(geometry.stations["neighbours"])}
    step = worked(
        "hot slump criterion for this width and foil, scaled by proportion (the scaling is ours)",
        slump_gap,
        given,
        unit="mm",
        formula="slump-spacing",
        sources=("slump-ipc-a-21", "slump-ipc-a-20"),
    )
    between = worked("gap between the nearest deposits", gap_between, given, unit="mm")
    return figure(
        between,
        key="slump-gap",
        title="gap between deposits",
        better="more",
        limit=side.slump_spacing_mm,
        limit_source="slump-ipc-a-21",
        verdict=side.slump_verdict,
        why=(
            f"{side.gap_mm:.3f} mm between apertures; a qualified paste must not bridge at {side.slump_spacing_mm:.3f}"
            f" mm when hot; the solder would stand {side.solder_height_um:.0f} µm high on the land"
        ),
        trail=(step, between),
    )
