"""Figures of what can be seen, reached and led out: joints from above, terminals, test lands, layers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.access.escape import escape
from landwise.access.exposure import exposure
from landwise.access.inspection import sights
from landwise.evidence.figures import Figure, Verdict, figure
from landwise.evidence.trails import Step, earlier, worked
from landwise.judging.leaves import of_outline, of_study
from landwise.judging.size import test_lands_step
from landwise.lands import LandPattern
from landwise.outlines import Outline

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry


def share_seen(outline: Outline) -> float:
    """Share of a part's joints that can be seen from above."""
    return sights(outline).seen_share


def share_reached(outline: Outline, pattern: LandPattern) -> float:
    """Share of terminals that a needle reaches beside the body."""
    return exposure(outline, pattern).share


def share_hidden(reached: float) -> float:
    """Share of terminals out of a needle's reach."""
    return 1 - reached


def layers_to_fan_out(outline: Outline, pattern: LandPattern, track_mm: float, space_mm: float) -> float:
    """Signal layers that a grid needs; one where every land lies open at the edge."""
    way_out = escape(outline, pattern, track_mm, space_mm)
    return 1.0 if way_out is None else float(way_out.layers)


def seen_figure(geometry: Geometry, hidden: int, bench: Bench) -> Figure:
    seen, views = geometry.sights, " and ".join(bench.line.inspection)
    verdict: Verdict = "holds" if hidden == 0 else "marginal" if bench.content.want.hidden_joints == "any" else "fails"
    why = f"{seen.why}; this line looks by {views}"
    step = worked(
        seen.why,
        share_seen,
        {"outline": of_outline(geometry.outline)},
        result=seen.seen_share,
        sources=("visibility-practice", "aoi-surface-only"),
    )
    return figure(
        step,
        key="seen",
        title="joints seen from above",
        better="more",
        verdict=verdict,
        why=why,
    )


def reach_figure(geometry: Geometry, bench: Bench) -> Figure:
    wanted, open_ = bench.content.want.terminals, geometry.exposure
    value = 1 - open_.share if wanted == "hidden" else open_.share
    title = "terminals out of a probe's reach" if wanted == "hidden" else "terminals within reach"
    verdict: Verdict = "holds" if wanted == "either" or value == 1 else "marginal" if value > 0 else "fails"
    says = "" if wanted == "either" else f" (the study wants them {wanted})"
    given = {"outline": of_outline(geometry.outline), "pattern": earlier(geometry.stations["lands"])}
    steps: list[Step] = [worked(open_.says, share_reached, given, result=open_.share, sources=("exposure-practice",))]
    if wanted == "hidden":
        steps.append(worked("the others are out of reach", share_hidden, {"reached": earlier(steps[0])}))
    return figure(
        steps[-1],
        key="reach",
        title=title,
        better="more",
        verdict=verdict,
        why=open_.says + says,
        trail=steps,
    )


def probing_figure(geometry: Geometry) -> Figure:
    probing = geometry.probing
    return figure(
        test_lands_step(geometry),
        key="test-lands",
        title="area of test lands for full access",
        better="less",
        verdict="holds" if probing.test_lands == 0 else "marginal",
        why=probing.says,
    )


def layers_figure(geometry: Geometry, bench: Bench) -> Figure:
    way_out, layers = geometry.escape, bench.content.board.layers
    step = worked(
        "every land lies open at the edge" if way_out is None else way_out.says,
        layers_to_fan_out,
        {
            "outline": of_outline(geometry.outline),
            "pattern": earlier(geometry.stations["lands"]),
            "track_mm": of_study(bench.content, "board.track", "mm"),
            "space_mm": of_study(bench.content, "board.space", "mm"),
        },
        result=1.0 if way_out is None else float(way_out.layers),
        formula=None if way_out is None else "escape-tracks",
        sources=("escape-geometry", "ths7319-escape"),
    )
    return figure(
        step,
        key="layers",
        title="layers to fan out",
        better="less",
        limit=float(layers),
        limit_source="" if way_out is None else "study",
        verdict="holds" if way_out is None or way_out.layers <= layers else "fails",
        why=step.says,
    )
