"""Figures of how much room a part takes: board area, height, pitch, gaps between its lands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.access.probing import probe_access
from landwise.evidence.figures import Figure, Step, Verdict, figure
from landwise.evidence.trails import earlier, worked
from landwise.judging.leaves import dimension, of_outline, of_study
from landwise.lands import LandPattern
from landwise.outlines import GRIDS, LEADED, Outline
from landwise.service.clearance import SOURCE as CLEARANCE_SOURCE
from landwise.service.clearance import judge_spacing
from landwise.service.contamination import CAUTION, HAZARD_V

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry


def courtyard_area(pattern: LandPattern) -> float:
    """Area that a part claims. [mm²]"""
    return pattern.courtyard_area_mm2


def with_test_lands(courtyard_mm2: float, test_lands_mm2: float) -> float:
    """Courtyard and the test lands that its nets need. [mm²]"""
    return courtyard_mm2 + test_lands_mm2


def test_land_area(outline: Outline, pattern: LandPattern) -> float:
    """Area of the test lands for full access. [mm²]"""
    return probe_access(outline, pattern).area_mm2


def least_gap(pattern: LandPattern) -> float:
    """Smallest clear distance between coppers. [mm]"""
    return pattern.least_copper_gap_mm


def wanted_spacing(voltage_v: float, gap_mm: float, coat: str = "none") -> float:
    """Spacing that the table wants of leads and copper at a voltage, under a coat that covers them. [mm]"""
    return judge_spacing(voltage_v, gap_mm, coated=coat != "none").wanted_mm


def courtyard_step(geometry: Geometry) -> Step:
    """The courtyard's area."""
    width, height = geometry.pattern.courtyard_mm
    lands = earlier(geometry.stations["lands"])
    return worked(f"courtyard {width:g} × {height:g} mm", courtyard_area, {"pattern": lands}, unit="mm2")


def test_lands_step(geometry: Geometry) -> Step:
    """Area of a part's test lands."""
    return worked(
        geometry.probing.says,
        test_land_area,
        {"outline": of_outline(geometry.outline), "pattern": earlier(geometry.stations["lands"])},
        result=geometry.probing.area_mm2,
        unit="mm2",
        sources=("testpro-guideline",),
    )


def area_steps(geometry: Geometry, probed: bool) -> tuple[Step, ...]:
    """The area a part claims, last; with its test lands where every net is to be probed."""
    yard = courtyard_step(geometry)
    if not probed:
        return (yard,)
    tested = test_lands_step(geometry)
    both = {"courtyard_mm2": earlier(yard), "test_lands_mm2": earlier(tested)}
    return yard, tested, worked("courtyard and test lands", with_test_lands, both, unit="mm2")


def gap_step(geometry: Geometry) -> Step:
    """The smallest clear distance between coppers."""
    lands = earlier(geometry.stations["lands"])
    return worked("smallest clear distance between coppers", least_gap, {"pattern": lands}, unit="mm")


def area_figure(geometry: Geometry, bench: Bench) -> Figure:
    width, height = geometry.pattern.courtyard_mm
    limit = bench.content.want.max_area
    steps = area_steps(geometry, bench.content.want.probe_access)
    verdict: Verdict = "holds" if limit is None or geometry.pattern.courtyard_area_mm2 <= limit else "fails"
    return figure(
        steps[-1],
        key="area",
        title="board area",
        better="less",
        limit=limit,
        verdict=verdict,
        why=f"courtyard {width:g} × {height:g} mm around lands of style {geometry.pattern.style}",
        trail=(*geometry.pattern.trail, *steps),
    )


def height_figure(geometry: Geometry, bench: Bench) -> Figure:
    height, limit = geometry.outline.height_mm, bench.content.want.max_height
    verdict: Verdict = "holds" if limit is None or height.max <= limit else "fails"
    why = f"up to {height.max:g} mm" + (f", allowed {limit:g} mm" if limit else ", no limit stated")
    return figure(
        dimension(geometry.outline, "largest height of the outline", (height.min, height.max, height.max)),
        key="height",
        title="height",
        better="less",
        limit=limit,
        limit_source="study",
        verdict=verdict,
        why=why,
    )


def pitch_figure(geometry: Geometry, bench: Bench) -> Figure:
    outline, line = geometry.outline, bench.line
    limit = line.least_ball_pitch_mm if outline.family in GRIDS else line.least_pitch_mm
    ok = outline.drilled or outline.pitch_mm >= limit - 1e-9
    why = (
        "drilled: the pitch does not limit the printer"
        if outline.drilled
        else f"pitch {outline.pitch_mm:g} mm, the line places {limit:g} mm and wider"
    )
    return figure(
        dimension(outline, "pitch of the outline", outline.pitch_mm),
        key="pitch",
        title="pitch",
        better="more",
        limit=None if outline.drilled else limit,
        limit_source="line-practice",
        verdict="holds" if ok else "fails",
        why=why,
    )


def gap_figure(geometry: Geometry, bench: Bench) -> Figure:
    gap, limit = geometry.pattern.least_copper_gap_mm, bench.content.want.least_gap
    binds = tuple(Step(says=f"{bind.rule}: {bind.says}") for bind in geometry.pattern.binds)
    step = gap_step(geometry)
    return figure(
        step,
        key="gap",
        title="gap between lands",
        better="more",
        limit=limit,
        limit_source="study",
        verdict="holds" if gap >= limit - 1e-6 else "fails",
        why=f"{gap:.3f} mm, wanted {limit:g} mm",
        trail=(step, *binds),
    )


def clearance_figure(geometry: Geometry, bench: Bench) -> Figure:
    use, gap = bench.content.use, geometry.pattern.least_copper_gap_mm
    # A coat covers leads beside a body; what lies under one stays bare (figure `coat-reach`).
    coated = use.coat != "none" and geometry.outline.family in LEADED
    judged = judge_spacing(use.voltage, gap, coated=coated)
    state, rows = ("coated", ("A7", "A5")) if coated else ("bare", ("A6", "B2"))
    between = gap_step(geometry)
    given = {"voltage_v": of_study(bench.content, "use.voltage", "V"), "gap_mm": earlier(between)}
    if coated:
        given["coat"] = of_study(bench.content, "use.coat", "")
    step = worked(
        f"{state} leads ({rows[0]}) {judged.leads_mm:g} mm, {state} outer copper ({rows[1]}) {judged.copper_mm:g} mm"
        f" at {use.voltage:g} V",
        wanted_spacing,
        given,
        inputs={"voltage": f"{use.voltage:g} V", **({"coat": use.coat} if coated else {})},
        unit="mm",
        formula="clearance",
        valid="safety standards and local codes override it",
        sources=(CLEARANCE_SOURCE,),
    )
    return figure(
        between,
        key="clearance",
        title="gap against voltage",
        better="more",
        limit=judged.wanted_mm,
        limit_source=CLEARANCE_SOURCE,
        verdict=judged.verdict,
        why=f"{gap:.3f} mm at {use.voltage:g} V: {state} leads want {judged.leads_mm:g}, {state} copper"
        f" {judged.copper_mm:g} mm" + (f". Caution: {CAUTION}" if use.voltage > HAZARD_V else ""),
        trail=(step, between),
    )
