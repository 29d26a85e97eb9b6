"""Figures of how hard a part holds: pulled off, pushed off, and hanging on its molten joints."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, Verdict, figure
from landwise.evidence.trails import earlier, worked
from landwise.judging.leaves import dimension, of_outline, of_study
from landwise.service import moisture
from landwise.service.bands import Band
from landwise.service.sameness import Same
from landwise.service.strength import LEAD_SOURCES, LIMIT_SOURCE, PUSH_LIMIT_N, Strength, strength
from landwise.service.strength import SOURCES as STRENGTH_SOURCES

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.lands.model import LandPattern
    from landwise.outlines.model import Outline
    from landwise.printing.model import Print


def strength_of(geometry: Geometry, land_bond_mpa: float | None = None) -> Strength:
    """Strength of an option, worked once for each land pattern and its openings."""
    return _strength(Same(geometry.outline), Same(geometry.pattern), Same(geometry.printed), land_bond_mpa)


@lru_cache(maxsize=2048)
def _strength(
    outline: Same[Outline], pattern: Same[LandPattern], printed: Same[Print], land_bond_mpa: float | None
) -> Strength:
    return strength(outline.what, pattern.what, printed.what, land_bond_mpa=land_bond_mpa)


def pull_of(strength: Strength) -> Band:
    """Pull straight up that lifts the part. [N]"""
    return strength.pull_n


def push_of(strength: Strength) -> Band:
    """Push from the side that shears it off. [N]"""
    return strength.push_n


def hung_on(weight_mg: float, strength: Strength) -> float:
    """Weight over the wetted area. [mg/mm²]"""
    return moisture.hang(weight_mg, strength.area_mm2, strength.outline_mm).per_area_mg_mm2


def strength_step(geometry: Geometry, bench: Bench, held: Strength) -> Step:
    """The strength of all joints together."""
    return worked(
        "joints, leads and lands, the weakest link of each",
        strength,
        {
            "outline": of_outline(geometry.outline),
            "pattern": earlier(geometry.stations["lands"]),
            "printed": earlier(geometry.stations["print"]),
            "land_bond_mpa": of_study(bench.content, "use.land_bond", "MPa"),
        },
        result=held,
        key="strength",
    )


def pull_figure(held: Strength, geometry: Geometry, whole: Step) -> Figure:
    lands = f"; its lands must bear {held.land_stress_mpa:.0f} MPa" if held.pull_link != "land" else ""
    step = _strength_step("straight up, all terminals sharing", held, pull_of, geometry.outline.family, whole)
    return figure(
        step,
        key="pull",
        title="pull that lifts it off",
        better="more",
        verdict="holds",
        why=(
            f"{held.area_mm2:.2f} mm² of joint under a body of {held.body_mm2:.2f} mm² ({held.share:.0%}); gives first:"
            f" {held.pull_link}{lands}. No recognised limit exists, and no test of whole small parts backs it"
        ),
    )


def push_figure(held: Strength, whole: Step) -> Figure:
    found = held.push_n
    verdict: Verdict = "holds" if found.low >= PUSH_LIMIT_N else "fails" if found.high < PUSH_LIMIT_N else "marginal"
    step = _strength_step("shear and tilt shared by the joints", held, push_of, "", whole)
    return figure(
        step,
        key="push",
        title="push that shears it off",
        better="more",
        limit=PUSH_LIMIT_N,
        limit_source=LIMIT_SOURCE,
        verdict=verdict,
        why=(
            f"from the weaker side at half its height; gives first: {held.push_link}; the push test is"
            f" {PUSH_LIMIT_N:g} N"
        ),
        trail=(
            step,
            Step(says="push test", sources=(LIMIT_SOURCE,)),
        ),
    )


def _strength_step(says: str, held: Strength, by: Callable[..., Band], family: str, whole: Step) -> Step:
    leads = LEAD_SOURCES if "leadless" not in family and "ball" not in family and family != "wafer-level" else ()
    return worked(
        says,
        by,
        {"strength": earlier(whole)},
        inputs={"joint area": f"{held.area_mm2:.3f} mm²", "at": "0.5 mm/s, 20 °C"},
        unit="N",
        formula="joint-shear",
        valid="quasi-static, 20 to 100 °C; from geometry, for comparing packages",
        sources=(*STRENGTH_SOURCES, *leads, "no-strength-limit"),
    )


def hang_figure(held: Strength, geometry: Geometry, bench: Bench, whole: Step) -> Figure:
    outline = geometry.outline
    key, title = "hang", "weight on its molten joints upside down"
    unit, limit = "mg/mm2", moisture.HANG_MG_MM2
    if outline.drilled:
        return Figure(
            key=key,
            title=title,
            value=None,
            unit=unit,
            better="less",
            verdict="holds",
            why="drilled: never upside down in reflow",
        )
    if outline.weight_mg is None:
        return Figure(
            key=key,
            title=title,
            value=None,
            unit=unit,
            better="less",
            limit=limit,
            limit_source="hang-30g",
            why="its weight is not known",
        )
    found = moisture.hang(outline.weight_mg, held.area_mm2, held.outline_mm)
    once = "" if bench.content.board.sides == 2 else "; this board has parts on one side only"
    verdict: Verdict = "holds" if found.safe else "marginal" if found.holds else "fails"
    if bench.content.board.sides == 1:
        verdict = "holds"
    weight = dimension(outline, "weight", outline.weight_mg, "mg")
    step = worked(
        "weight over wetted area and outline",
        hung_on,
        {"weight_mg": earlier(weight), "strength": earlier(whole)},
        inputs={
            "weight": f"{outline.weight_mg:g} mg ({outline.weight_mark or 'stated'})",
            "outline": f"{held.outline_mm:.1f} mm",
        },
        unit=unit,
        formula="hang-on",
        valid="still air; no shock in the oven",
        sources=moisture.HANG_SOURCES,
    )
    return figure(
        step,
        key=key,
        title=title,
        better="less",
        limit=limit,
        limit_source="hang-30g",
        verdict=verdict,
        why=(
            f"{found.per_area_mg_mm2:.1f} of {limit:.1f} mg/mm², {found.per_outline_mg_mm:.2f} of"
            f" {moisture.HANG_MG_MM:g} mg/mm{once}"
        ),
    )
