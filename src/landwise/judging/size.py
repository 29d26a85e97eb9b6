"""Figures of how much room a part takes: board area, height, pitch, gaps between its lands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict
from landwise.judging.exact import exact
from landwise.outlines import GRIDS
from landwise.service.clearance import SOURCE as CLEARANCE_SOURCE
from landwise.service.clearance import judge_spacing
from landwise.service.contamination import CAUTION, HAZARD_V

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry


def area_figure(geometry: Geometry, area_mm2: float, bench: Bench) -> Figure:
    width, height = geometry.pattern.courtyard_mm
    limit = bench.content.want.max_area
    steps = list(geometry.pattern.trail)
    steps.append(
        Step(says=f"courtyard {width:g} × {height:g} mm", value=geometry.pattern.courtyard_area_mm2, unit="mm2")
    )
    if bench.content.want.probe_access:
        probing = geometry.probing
        steps.append(Step(says=probing.says, value=probing.area_mm2, unit="mm2", sources=("testpro-guideline",)))
    verdict: Verdict = "holds" if limit is None or geometry.pattern.courtyard_area_mm2 <= limit else "fails"
    return exact(
        key="area",
        title="board area",
        value=area_mm2,
        unit="mm2",
        better="less",
        limit=limit,
        verdict=verdict,
        why=f"courtyard {width:g} × {height:g} mm around lands of style {geometry.pattern.style}",
        trail=tuple(steps),
    )


def height_figure(geometry: Geometry, bench: Bench) -> Figure:
    height, limit = geometry.outline.height_mm, bench.content.want.max_height
    verdict: Verdict = "holds" if limit is None or height.max <= limit else "fails"
    why = f"up to {height.max:g} mm" + (f", allowed {limit:g} mm" if limit else ", no limit stated")
    step = Step(says="largest height of the outline", value=height.max, unit="mm", sources=geometry.outline.sources)
    return Figure(
        key="height",
        title="height",
        value=height.max,
        unit="mm",
        low=height.min,
        high=height.max,
        better="less",
        limit=limit,
        limit_source="study",
        verdict=verdict,
        why=why,
        trail=(step,),
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
    step = Step(says="pitch of the outline", value=outline.pitch_mm, unit="mm", sources=outline.sources)
    return exact(
        key="pitch",
        title="pitch",
        value=outline.pitch_mm,
        unit="mm",
        better="more",
        limit=None if outline.drilled else limit,
        limit_source="line-practice",
        verdict="holds" if ok else "fails",
        why=why,
        trail=(step,),
    )


def gap_figure(geometry: Geometry, bench: Bench) -> Figure:
    gap, limit = geometry.pattern.least_copper_gap_mm, bench.content.want.least_gap
    binds = tuple(Step(says=f"{bind.rule}: {bind.says}") for bind in geometry.pattern.binds)
    step = Step(says="smallest clear distance between coppers", value=gap, unit="mm")
    return exact(
        key="gap",
        title="gap between lands",
        value=gap,
        unit="mm",
        better="more",
        limit=limit,
        limit_source="study",
        verdict="holds" if gap >= limit - 1e-6 else "fails",
        why=f"{gap:.3f} mm, wanted {limit:g} mm",
        trail=(step, *binds),
    )


def clearance_figure(geometry: Geometry, bench: Bench) -> Figure:
    voltage, gap = bench.content.use.voltage, geometry.pattern.least_copper_gap_mm
    judged = judge_spacing(voltage, gap)
    leads, copper, verdict = judged.leads_mm, judged.copper_mm, judged.verdict
    step = Step(
        says=f"bare leads (A6) {leads:g} mm, bare outer copper (B2) {copper:g} mm at {voltage:g} V",
        inputs={"voltage": f"{voltage:g} V"},
        value=judged.wanted_mm,
        unit="mm",
        formula="clearance",
        valid="safety standards and local codes override it",
        sources=(CLEARANCE_SOURCE,),
    )
    return exact(
        key="clearance",
        title="gap against voltage",
        value=gap,
        unit="mm",
        better="more",
        limit=judged.wanted_mm,
        limit_source=CLEARANCE_SOURCE,
        verdict=verdict,
        why=f"{gap:.3f} mm at {voltage:g} V: bare leads want {leads:g}, bare copper {copper:g} mm"
        + (f". Caution: {CAUTION}" if voltage > HAZARD_V else ""),
        trail=(step,),
    )
