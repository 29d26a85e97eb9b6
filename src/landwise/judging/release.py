"""Figures of the print: area ratio, paste transfer, foils, openings, solder, slump."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict, worst
from landwise.judging.exact import exact
from landwise.printing.foils import KEEP_OUT_SOURCE
from landwise.printing.model import Deposit
from landwise.printing.paste import BALLS_SOURCE, POWDER_SOURCE, least_opening_um
from landwise.printing.release import AREA_RATIO_LIMIT
from landwise.printing.transfer import PASS_LEVEL, PASS_SOURCE
from landwise.printing.transfer import SOURCE as TRANSFER_SOURCE

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry


def _weakest(geometry: Geometry) -> Deposit | None:
    return min(geometry.printed.deposits, key=lambda d: d.area_ratio, default=None)


def area_ratio_figure(geometry: Geometry) -> Figure:
    printed, deposit = geometry.printed, _weakest(geometry)
    limit, source = AREA_RATIO_LIMIT[printed.foil.technology]
    if deposit is None:
        return Figure(
            key="area-ratio", title="least area ratio", value=None, verdict="holds", why="drilled: nothing is printed"
        )
    opening = next(a for a in printed.apertures if a.terminal == deposit.terminal).openings[0].shape
    step = Step(
        says=f"open area over wall area at terminal {deposit.terminal}",
        inputs={
            "opening": f"{opening.length_mm:.3f} × {opening.width_mm:.3f} mm ({opening.kind})",
            "foil": f"{printed.foil.thickness_um:g} µm",
        },
        value=deposit.area_ratio,
        unit="",
        formula="area-ratio",
        valid="any aperture",
        sources=(source,),
    )
    below = deposit.area_ratio < limit
    return exact(
        key="area-ratio",
        title="least area ratio",
        value=deposit.area_ratio,
        unit="",
        better="more",
        limit=limit,
        limit_source=source,
        verdict="marginal" if below and deposit.verdict != "fails" else "fails" if below else "holds",
        why=(
            f"{deposit.area_ratio:.2f} on {printed.foil.thickness_um:g} µm, the {printed.foil.technology} limit is"
            f" {limit:.2f}: below it too little paste leaves the foil"
        ),
        trail=(step,),
    )


def transfer_figure(geometry: Geometry) -> Figure:
    printed, deposit = geometry.printed, _weakest(geometry)
    if deposit is None:
        return Figure(
            key="transfer",
            title="paste transfer, worst land",
            value=None,
            verdict="holds",
            why="drilled: nothing is printed",
        )
    band = deposit.transfer
    step = Step(
        says=f"transfer band at area ratio {deposit.area_ratio:.2f}; 90 % interval between laboratories",
        inputs={"technology": printed.foil.technology, "powder": printed.powder},
        value=band.mean,
        unit="",
        formula="paste-transfer",
        valid="area ratio 0.30 and above; a prior until your own inspection data replace it",
        sources=(TRANSFER_SOURCE,),
    )
    return Figure(
        key="transfer",
        title="paste transfer, worst land",
        value=band.mean,
        unit="",
        low=band.low,
        high=band.high,
        better="more",
        limit=PASS_LEVEL,
        limit_source=PASS_SOURCE,
        verdict=deposit.verdict,
        why=printed.why,
        trail=(*area_ratio_figure(geometry).trail, step),
    )


def foil_figure(geometry: Geometry, bench: Bench) -> Figure:
    window, demand = geometry.window, geometry.demand
    verdict: Verdict = "holds" if demand.kind == "none" else "marginal" if demand.kind == "step-down zone" else "fails"
    if demand.kind == "none" and geometry.printed.verdict == "marginal":
        verdict = "marginal"
    shown = ", ".join(f"{um:g} µm {word}" for um, word in window.verdicts)
    step = Step(
        says=f"foils on hand: {shown}" if shown else "no foil", sources=(TRANSFER_SOURCE, PASS_SOURCE, KEEP_OUT_SOURCE)
    )
    return exact(
        key="foil",
        title="thickest foil that works",
        value=window.thickest_works_um,
        unit="um",
        better="more",
        limit=bench.line.foil_um,
        limit_source="study",
        verdict=verdict,
        why=demand.says,
        trail=(step,),
    )


def opening_figure(geometry: Geometry) -> Figure:
    printed = geometry.printed
    if not printed.apertures:
        return Figure(
            key="opening", title="narrowest opening", value=None, verdict="holds", why="drilled: nothing is printed"
        )
    narrow = min(min(o.shape.length_mm, o.shape.width_mm) for a in printed.apertures for o in a.openings) * 1000
    need = least_opening_um(printed.powder)
    verdict = worst(deposit.powder_verdict for deposit in printed.deposits)
    step = Step(
        says="five of the largest particles side by side",
        inputs={"powder": printed.powder},
        value=need,
        unit="um",
        formula="powder-opening",
        valid="",
        sources=(POWDER_SOURCE, BALLS_SOURCE),
    )
    return exact(
        key="opening",
        title="narrowest opening",
        value=narrow,
        unit="um",
        better="more",
        limit=need,
        limit_source=BALLS_SOURCE,
        verdict=verdict,
        why=f"{narrow:.0f} µm wide, {printed.powder} powder wants {need:.0f} µm",
        trail=(step,),
    )


def solder_figure(geometry: Geometry) -> Figure:
    deposit = _weakest(geometry)
    if deposit is None:
        return Figure(
            key="solder",
            title="solder on the worst land",
            value=None,
            verdict="holds",
            why="drilled: soldered by wave or by hand",
        )
    factor = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 else 0.0
    step = Step(
        says="aperture volume × transfer × metal by volume",
        inputs={"metal": f"{factor:.3f}"},
        value=deposit.solder_mm3 * 1000,
        unit="nL",
        formula="paste-volume",
        valid="",
        sources=("metal-load", "solder-densities"),
    )
    return Figure(
        key="solder",
        title="solder on the worst land",
        value=deposit.solder_mm3 * 1000,
        unit="nL",
        low=deposit.paste_low_mm3 * factor * 1000,
        high=deposit.paste_high_mm3 * factor * 1000,
        better="neither",
        verdict=deposit.verdict,
        why=f"terminal {deposit.terminal}: {deposit.paste_mm3 * 1000:.2f} nL of paste, {factor:.0%} of it metal",
        trail=(step,),
    )


def slump_figure(geometry: Geometry) -> Figure:
    side = geometry.bridging
    if side is None:
        return Figure(
            key="slump-gap", title="gap against slump", value=None, verdict="holds", why="no neighbouring deposits"
        )
    step = Step(
        says="hot slump criterion for this width and foil, scaled by proportion (the scaling is ours)",
        value=side.slump_spacing_mm,
        unit="mm",
        formula="slump-spacing",
        sources=("slump-ipc-a-21", "slump-ipc-a-20"),
    )
    return exact(
        key="slump-gap",
        title="gap between deposits",
        value=side.gap_mm,
        unit="mm",
        better="more",
        limit=side.slump_spacing_mm,
        limit_source="slump-ipc-a-21",
        verdict=side.slump_verdict,
        why=(
            f"{side.gap_mm:.3f} mm between apertures; a qualified paste must not bridge at {side.slump_spacing_mm:.3f}"
            f" mm when hot; the solder would stand {side.solder_height_um:.0f} µm high on the land"
        ),
        trail=(step,),
    )
