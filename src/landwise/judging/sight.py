"""Figures of what can be seen, reached and led out: joints from above, terminals, test lands, layers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict
from landwise.judging.exact import exact

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry


def seen_figure(geometry: Geometry, hidden: int, bench: Bench) -> Figure:
    seen, views = geometry.sights, " and ".join(bench.line.inspection)
    verdict: Verdict = "holds" if hidden == 0 else "marginal" if bench.content.want.hidden_joints == "any" else "fails"
    why = f"{seen.why}; this line looks by {views}"
    step = Step(says=seen.why, value=seen.seen_share, sources=("visibility-practice", "aoi-surface-only"))
    return exact(
        key="seen",
        title="joints seen from above",
        value=seen.seen_share,
        unit="",
        better="more",
        verdict=verdict,
        why=why,
        trail=(step,),
    )


def reach_figure(geometry: Geometry, bench: Bench) -> Figure:
    wanted, open_ = bench.content.want.terminals, geometry.exposure
    value = 1 - open_.share if wanted == "hidden" else open_.share
    title = "terminals out of a probe's reach" if wanted == "hidden" else "terminals within reach"
    verdict: Verdict = "holds" if wanted == "either" or value == 1 else "marginal" if value > 0 else "fails"
    says = "" if wanted == "either" else f" (the study wants them {wanted})"
    step = Step(says=open_.says, value=open_.share, sources=("exposure-practice",))
    return exact(
        key="reach",
        title=title,
        value=value,
        unit="",
        better="more",
        verdict=verdict,
        why=open_.says + says,
        trail=(step,),
    )


def probing_figure(geometry: Geometry) -> Figure:
    probing = geometry.probing
    step = Step(says=probing.says, value=probing.area_mm2, unit="mm2", sources=("testpro-guideline",))
    return exact(
        key="test-lands",
        title="area of test lands for full access",
        value=probing.area_mm2,
        unit="mm2",
        better="less",
        verdict="holds" if probing.test_lands == 0 else "marginal",
        why=probing.says,
        trail=(step,),
    )


def layers_figure(geometry: Geometry, bench: Bench) -> Figure:
    way_out, layers = geometry.escape, bench.content.board.layers
    if way_out is None:
        return exact(
            key="layers",
            title="layers to fan out",
            value=1.0,
            unit="",
            better="less",
            limit=float(layers),
            verdict="holds",
            why="every land lies open at the edge",
        )
    step = Step(
        says=way_out.says,
        value=float(way_out.layers),
        formula="escape-tracks",
        sources=("escape-geometry", "ths7319-escape"),
    )
    return exact(
        key="layers",
        title="layers to fan out",
        value=float(way_out.layers),
        unit="",
        better="less",
        limit=float(layers),
        limit_source="study",
        verdict="holds" if way_out.layers <= layers else "fails",
        why=way_out.says,
        trail=(step,),
    )
