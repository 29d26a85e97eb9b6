"""Figures of what moisture and reflow ask of a part: time out of the bag, and the peak it is classed for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.errors import ValidityError
from landwise.evidence.figures import Figure, Verdict, figure
from landwise.evidence.trails import worked
from landwise.judging.leaves import of_outline, of_part
from landwise.judging.reasons import reason_of
from landwise.outlines import Outline
from landwise.service import moisture

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable


def hours_out_of_the_bag(level: str) -> float:
    """Floor life of a moisture level. [h]"""
    time = moisture.floor_life(level)
    if time is None:
        raise ValueError(f"level {level} has no floor life in hours")
    return time / moisture.HOUR


def classed_for(outline: Outline) -> float:
    """Peak temperature that a body of its size is classed for. [°C]"""
    thickness = outline.height_mm.max - outline.standoff_mm.min
    return moisture.classification_temperature(thickness, outline.body_area_mm2 * thickness)


FLOOR_KEY, FLOOR_TITLE = "floor-life", "time out of the bag"


def _untimed(verdict: Verdict, why: str) -> Figure:
    """The figure of a part whose time out of the bag is no number of hours."""
    return Figure(key=FLOOR_KEY, title=FLOOR_TITLE, value=None, unit="h", better="more", verdict=verdict, why=why)


def floor_life_figure(geometry: Geometry, part: PartTable, bench: Bench) -> Figure:
    level, outline = part.moisture_level, geometry.outline
    if outline.drilled:
        return _untimed("holds", "drilled: its body does not go through reflow")
    if not level:
        why = "no moisture level in the study: read it off the bag (moisture_level of the part)"
        return _untimed("not known", why)
    if level == "1":
        return _untimed("holds", "level 1: no limit at 30 °C and 85 % humidity")
    if level == "6":
        return _untimed("marginal", "level 6: bake before use, time on the label")
    baked = _bake_text(level, outline.height_mm.max)
    step = worked(
        f"level {level}",
        hours_out_of_the_bag,
        {"level": of_part(part, "moisture_level")},
        unit="h",
        formula="floor-life",
        valid="30 °C, 60 % humidity",
        sources=(moisture.FLOOR_SOURCE, moisture.BAKE_SOURCE, moisture.THICK_SOURCE),
    )
    exposure = bench.content.line.exposure / moisture.HOUR
    return figure(
        step,
        key=FLOOR_KEY,
        title=FLOOR_TITLE,
        better="more",
        limit=exposure,
        limit_source="study",
        verdict="holds" if (step.value or 0.0) >= exposure else "fails",
        why=f"level {level}, {exposure:g} h between bag and last reflow; {baked}",
    )


def _bake_text(level: str, thickness_mm: float) -> str:
    try:
        found = moisture.bake(level, thickness_mm)
    except ValidityError as reason:
        return f"bake after it: {reason_of(reason)}"
    if found is None:
        return "no bake needed"
    return (
        f"after it bake {found.at_125_s / 3600:g} h at 125 °C or {found.at_40_s / 86400:g} days at 40 °C (reels stand"
        " no more)"
    )


def reflow_peak_figure(geometry: Geometry, bench: Bench) -> Figure:
    outline, peak = geometry.outline, bench.content.line.peak
    key, title = "reflow-peak", "body temperature it is classed for"
    if outline.drilled:
        why = "drilled: soldered by wave or by hand; do not send it through reflow unless its maker allows it"
        return Figure(key=key, title=title, value=None, unit="degC", better="more", verdict="holds", why=why)
    thickness = outline.height_mm.max - outline.standoff_mm.min
    volume = outline.body_area_mm2 * thickness
    step = worked(
        f"body {thickness:.2f} mm thick, {volume:.0f} mm³",
        classed_for,
        {"outline": of_outline(outline)},
        unit="degC",
        formula="classification-temperature",
        valid="plastic packages, lead-free reflow; bare dice are classed by their maker",
        sources=("j-std-020c-classes",),
    )
    classed = step.value or 0.0
    return figure(
        step,
        key=key,
        title=title,
        better="more",
        limit=peak,
        limit_source="study",
        verdict="holds" if classed >= peak + 5 else "marginal" if classed >= peak else "fails",
        why=f"classed for {classed:g} °C, the hottest body of this board sees {peak:g} °C",
    )
