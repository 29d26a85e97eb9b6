"""From what the line worked out to Figures: each with its interval, its limit, its verdict and its trail."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from landwise.costs.board import PartCost
from landwise.evidence.figures import Figure, Step, Verdict
from landwise.judging.assembly import assembly_figures
from landwise.judging.exact import exact
from landwise.judging.joints import joint_figures
from landwise.judging.life import life_figures
from landwise.judging.service import service_figures
from landwise.outlines import GRIDS
from landwise.printing.foils import KEEP_OUT_SOURCE
from landwise.printing.paste import BALLS_SOURCE, POWDER_SOURCE, least_opening_um
from landwise.printing.release import AREA_RATIO_LIMIT
from landwise.printing.transfer import PASS_LEVEL, PASS_SOURCE
from landwise.printing.transfer import SOURCE as TRANSFER_SOURCE
from landwise.quantities import show
from landwise.service.clearance import SOURCE as CLEARANCE_SOURCE
from landwise.service.clearance import spacing
from landwise.service.contamination import CAUTION, HAZARD_V

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable


def figures_of(
    geometry: Geometry, part: PartTable, cost: PartCost, area_mm2: float, hidden: int, bench: Bench
) -> Mapping[str, Figure]:
    """All figures of one option, by key, in reading order."""
    if bench.memory is None:
        return _all(geometry, part, cost, area_mm2, hidden, bench)
    known = bench.recalled(
        ("figures", bench.told(part), cost, hidden),
        geometry,
        lambda: _all(geometry, part, cost, area_mm2, hidden, bench),
    )
    # Only these follow from the study's wishes, so only these are made anew when a limit moves.
    wished = (
        _area(geometry, area_mm2, bench),
        _height(geometry, bench),
        _gap(geometry, bench),
        _seen(geometry, hidden, bench),
        _reach(geometry, bench),
    )
    return MappingProxyType({**known, **{figure.key: figure for figure in wished}})


def _all(
    geometry: Geometry, part: PartTable, cost: PartCost, area_mm2: float, hidden: int, bench: Bench
) -> Mapping[str, Figure]:
    found = (
        _area(geometry, area_mm2, bench),
        _height(geometry, bench),
        _pitch(geometry, bench),
        _area_ratio(geometry),
        _transfer(geometry),
        _foil(geometry, bench),
        _powder(geometry),
        _solder(geometry),
        *joint_figures(geometry, part, bench),
        _gap(geometry, bench),
        _clearance(geometry, bench),
        _slump(geometry),
        _seen(geometry, hidden, bench),
        _reach(geometry, bench),
        _probing(geometry),
        _layers(geometry, bench),
        *assembly_figures(geometry, part, bench),
        *life_figures(geometry, part, bench),
        *service_figures(geometry, part, bench),
        _cost(cost, bench),
    )
    return MappingProxyType({figure.key: figure for figure in found})


def _area(geometry: Geometry, area_mm2: float, bench: Bench) -> Figure:
    width, height = geometry.pattern.courtyard_mm
    limit = bench.content.want.max_area
    steps = list(geometry.pattern.trail)
    steps.append(Step(f"courtyard {width:g} × {height:g} mm", value=geometry.pattern.courtyard_area_mm2, unit="mm2"))
    if bench.content.want.probe_access:
        probing = geometry.probing
        steps.append(Step(probing.says, value=probing.area_mm2, unit="mm2", sources=("testpro-guideline",)))
    verdict: Verdict = "holds" if limit is None or geometry.pattern.courtyard_area_mm2 <= limit else "fails"
    return exact(
        "area",
        "board area",
        area_mm2,
        "mm2",
        better="less",
        limit=limit,
        verdict=verdict,
        why=f"courtyard {width:g} × {height:g} mm around lands of style {geometry.pattern.style}",
        trail=tuple(steps),
    )


def _height(geometry: Geometry, bench: Bench) -> Figure:
    height, limit = geometry.outline.height_mm, bench.content.want.max_height
    verdict: Verdict = "holds" if limit is None or height.max <= limit else "fails"
    why = f"up to {height.max:g} mm" + (f", allowed {limit:g} mm" if limit else ", no limit stated")
    step = Step("largest height of the outline", value=height.max, unit="mm", sources=geometry.outline.sources)
    return Figure(
        "height", "height", height.max, "mm", height.min, height.max, "less", limit, "study", verdict, why, (step,)
    )


def _pitch(geometry: Geometry, bench: Bench) -> Figure:
    outline, line = geometry.outline, bench.line
    limit = line.least_ball_pitch_mm if outline.family in GRIDS else line.least_pitch_mm
    ok = outline.drilled or outline.pitch_mm >= limit - 1e-9
    why = (
        "drilled: the pitch does not limit the printer"
        if outline.drilled
        else f"pitch {outline.pitch_mm:g} mm, the line places {limit:g} mm and wider"
    )
    step = Step("pitch of the outline", value=outline.pitch_mm, unit="mm", sources=outline.sources)
    return exact(
        "pitch",
        "pitch",
        outline.pitch_mm,
        "mm",
        better="more",
        limit=None if outline.drilled else limit,
        limit_source="line-practice",
        verdict="holds" if ok else "fails",
        why=why,
        trail=(step,),
    )


def _weakest(geometry: Geometry):  # type: ignore[no-untyped-def]
    return min(geometry.printed.deposits, key=lambda d: d.area_ratio, default=None)


def _area_ratio(geometry: Geometry) -> Figure:
    printed, deposit = geometry.printed, _weakest(geometry)
    limit, source = AREA_RATIO_LIMIT[printed.foil.technology]
    if deposit is None:
        return Figure("area-ratio", "least area ratio", None, verdict="holds", why="drilled: nothing is printed")
    opening = next(a for a in printed.apertures if a.terminal == deposit.terminal).openings[0].shape
    step = Step(
        f"open area over wall area at terminal {deposit.terminal}",
        {
            "opening": f"{opening.length_mm:.3f} × {opening.width_mm:.3f} mm ({opening.kind})",
            "foil": f"{printed.foil.thickness_um:g} µm",
        },
        deposit.area_ratio,
        "",
        "area-ratio",
        "any aperture",
        (source,),
    )
    below = deposit.area_ratio < limit
    return exact(
        "area-ratio",
        "least area ratio",
        deposit.area_ratio,
        "",
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


def _transfer(geometry: Geometry) -> Figure:
    printed, deposit = geometry.printed, _weakest(geometry)
    if deposit is None:
        return Figure(
            "transfer", "paste transfer, worst land", None, verdict="holds", why="drilled: nothing is printed"
        )
    band = deposit.transfer
    step = Step(
        f"transfer band at area ratio {deposit.area_ratio:.2f}; 90 % interval between laboratories",
        {"technology": printed.foil.technology, "powder": printed.powder},
        band.mean,
        "",
        "paste-transfer",
        "area ratio 0.30 and above; a prior until your own inspection data replace it",
        (TRANSFER_SOURCE,),
    )
    return Figure(
        "transfer",
        "paste transfer, worst land",
        band.mean,
        "",
        band.low,
        band.high,
        "more",
        PASS_LEVEL,
        PASS_SOURCE,
        deposit.verdict,
        printed.why,
        (*_area_ratio(geometry).trail, step),
    )


def _foil(geometry: Geometry, bench: Bench) -> Figure:
    window, demand = geometry.window, geometry.demand
    verdict: Verdict = "holds" if demand.kind == "none" else "marginal" if demand.kind == "step-down zone" else "fails"
    if demand.kind == "none" and geometry.printed.verdict == "marginal":
        verdict = "marginal"
    shown = ", ".join(f"{um:g} µm {word}" for um, word in window.verdicts)
    step = Step(
        f"foils on hand: {shown}" if shown else "no foil", sources=(TRANSFER_SOURCE, PASS_SOURCE, KEEP_OUT_SOURCE)
    )
    return exact(
        "foil",
        "thickest foil that works",
        window.thickest_works_um,
        "um",
        better="more",
        limit=bench.line.foil_um,
        limit_source="study",
        verdict=verdict,
        why=demand.says,
        trail=(step,),
    )


def _powder(geometry: Geometry) -> Figure:
    printed = geometry.printed
    if not printed.apertures:
        return Figure("opening", "narrowest opening", None, verdict="holds", why="drilled: nothing is printed")
    narrow = min(min(o.shape.length_mm, o.shape.width_mm) for a in printed.apertures for o in a.openings) * 1000
    need = least_opening_um(printed.powder)
    verdict = _worst_of(deposit.powder_verdict for deposit in printed.deposits)
    step = Step(
        "five of the largest particles side by side",
        {"powder": printed.powder},
        need,
        "um",
        "powder-opening",
        "",
        (POWDER_SOURCE, BALLS_SOURCE),
    )
    return exact(
        "opening",
        "narrowest opening",
        narrow,
        "um",
        better="more",
        limit=need,
        limit_source=BALLS_SOURCE,
        verdict=verdict,
        why=f"{narrow:.0f} µm wide, {printed.powder} powder wants {need:.0f} µm",
        trail=(step,),
    )


def _worst_of(verdicts) -> Verdict:  # type: ignore[no-untyped-def]
    from landwise.evidence.figures import worst

    return worst(verdicts)


def _solder(geometry: Geometry) -> Figure:
    deposit = _weakest(geometry)
    if deposit is None:
        return Figure(
            "solder", "solder on the worst land", None, verdict="holds", why="drilled: soldered by wave or by hand"
        )
    factor = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 else 0.0
    step = Step(
        "aperture volume × transfer × metal by volume",
        {"metal": f"{factor:.3f}"},
        deposit.solder_mm3 * 1000,
        "nL",
        "paste-volume",
        "",
        ("metal-load", "solder-densities"),
    )
    return Figure(
        "solder",
        "solder on the worst land",
        deposit.solder_mm3 * 1000,
        "nL",
        deposit.paste_low_mm3 * factor * 1000,
        deposit.paste_high_mm3 * factor * 1000,
        "neither",
        verdict=deposit.verdict,
        why=f"terminal {deposit.terminal}: {deposit.paste_mm3 * 1000:.2f} nL of paste, {factor:.0%} of it metal",
        trail=(step,),
    )


def _gap(geometry: Geometry, bench: Bench) -> Figure:
    gap, limit = geometry.pattern.least_copper_gap_mm, bench.content.want.least_gap
    binds = tuple(Step(f"{bind.rule}: {bind.says}") for bind in geometry.pattern.binds)
    step = Step("smallest clear distance between coppers", value=gap, unit="mm")
    return exact(
        "gap",
        "gap between lands",
        gap,
        "mm",
        better="more",
        limit=limit,
        limit_source="study",
        verdict="holds" if gap >= limit - 1e-6 else "fails",
        why=f"{gap:.3f} mm, wanted {limit:g} mm",
        trail=(step, *binds),
    )


def _clearance(geometry: Geometry, bench: Bench) -> Figure:
    voltage, gap = bench.content.use.voltage, geometry.pattern.least_copper_gap_mm
    leads, copper = spacing(voltage, "a6"), spacing(voltage, "b2")
    verdict: Verdict = "holds" if gap >= leads else "marginal" if gap >= copper else "fails"
    step = Step(
        f"bare leads (A6) {leads:g} mm, bare outer copper (B2) {copper:g} mm at {voltage:g} V",
        {"voltage": f"{voltage:g} V"},
        leads,
        "mm",
        "clearance",
        "safety standards and local codes override it",
        (CLEARANCE_SOURCE,),
    )
    return exact(
        "clearance",
        "gap against voltage",
        gap,
        "mm",
        better="more",
        limit=leads,
        limit_source=CLEARANCE_SOURCE,
        verdict=verdict,
        why=f"{gap:.3f} mm at {voltage:g} V: bare leads want {leads:g}, bare copper {copper:g} mm"
        + (f". Caution: {CAUTION}" if voltage > HAZARD_V else ""),
        trail=(step,),
    )


def _slump(geometry: Geometry) -> Figure:
    side = geometry.bridging
    if side is None:
        return Figure("slump-gap", "gap against slump", None, verdict="holds", why="no neighbouring deposits")
    step = Step(
        "hot slump criterion for this width and foil, scaled by proportion (the scaling is ours)",
        value=side.slump_spacing_mm,
        unit="mm",
        formula="slump-spacing",
        sources=("slump-ipc-a-21", "slump-ipc-a-20"),
    )
    return exact(
        "slump-gap",
        "gap between deposits",
        side.gap_mm,
        "mm",
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


def _seen(geometry: Geometry, hidden: int, bench: Bench) -> Figure:
    seen, views = geometry.sights, " and ".join(bench.line.inspection)
    verdict: Verdict = "holds" if hidden == 0 else "marginal" if bench.content.want.hidden_joints == "any" else "fails"
    why = f"{seen.why}; this line looks by {views}"
    step = Step(seen.why, value=seen.seen_share, sources=("visibility-practice", "aoi-surface-only"))
    return exact(
        "seen", "joints seen from above", seen.seen_share, "", better="more", verdict=verdict, why=why, trail=(step,)
    )


def _reach(geometry: Geometry, bench: Bench) -> Figure:
    wanted, open_ = bench.content.want.terminals, geometry.exposure
    value = 1 - open_.share if wanted == "hidden" else open_.share
    title = "terminals out of a probe's reach" if wanted == "hidden" else "terminals within reach"
    verdict: Verdict = "holds" if wanted == "either" or value == 1 else "marginal" if value > 0 else "fails"
    says = "" if wanted == "either" else f" (the study wants them {wanted})"
    step = Step(open_.says, value=open_.share, sources=("exposure-practice",))
    return exact("reach", title, value, "", better="more", verdict=verdict, why=open_.says + says, trail=(step,))


def _probing(geometry: Geometry) -> Figure:
    probing = geometry.probing
    step = Step(probing.says, value=probing.area_mm2, unit="mm2", sources=("testpro-guideline",))
    return exact(
        "test-lands",
        "area of test lands for full access",
        probing.area_mm2,
        "mm2",
        better="less",
        verdict="holds" if probing.test_lands == 0 else "marginal",
        why=probing.says,
        trail=(step,),
    )


def _layers(geometry: Geometry, bench: Bench) -> Figure:
    way_out, layers = geometry.escape, bench.content.board.layers
    if way_out is None:
        return exact(
            "layers",
            "layers to fan out",
            1.0,
            "",
            better="less",
            limit=float(layers),
            verdict="holds",
            why="every land lies open at the edge",
        )
    step = Step(
        way_out.says,
        value=float(way_out.layers),
        formula="escape-tracks",
        sources=("escape-geometry", "ths7319-escape"),
    )
    return exact(
        "layers",
        "layers to fan out",
        float(way_out.layers),
        "",
        better="less",
        limit=float(layers),
        limit_source="study",
        verdict="holds" if way_out.layers <= layers else "fails",
        why=way_out.says,
        trail=(step,),
    )


def _cost(cost: PartCost, bench: Bench) -> Figure:
    unit = bench.content.costs.unit
    steps = tuple(
        Step(
            f"{item.title}: {show(item.value, '')} ({show(item.low, '')}…{show(item.high, '')}) {unit}",
            value=item.value,
            unit="money",
            sources=("study",) if item.rate == "price" else (bench.rates[item.rate].source,),
        )
        for item in cost.items
    )
    known = "part price included" if cost.price_known else "part price not known, left out"
    return Figure(
        "cost",
        "cost on one good board",
        cost.total,
        "money",
        cost.low,
        cost.high,
        "less",
        verdict="holds" if cost.price_known else "not known",
        why=f"{known}; rates marked as assumptions where not stated",
        trail=steps,
    )
