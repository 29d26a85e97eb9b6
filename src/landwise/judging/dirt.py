"""Figures of dirt and moisture: field between terminals, reach of a coat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step
from landwise.judging.exact import exact
from landwise.outlines import GRIDS, LEADLESS
from landwise.service.contamination import (
    AIRS,
    CAUTION,
    COAT_SOURCES,
    HAZARD_SOURCE,
    HAZARD_V,
    TEST_FIELD_V_MM,
    TEST_SOURCE,
    coat_reach,
    migration,
)

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable


def dirt_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Migration field, and the coat's reach where the study has one."""
    found = [_field(geometry, bench)]
    if bench.content.use.coat != "none":
        found.append(_coat(geometry, bench))
    return tuple(found)


def _field(geometry: Geometry, bench: Bench) -> Figure:
    use = bench.content.use
    gap = geometry.pattern.least_copper_gap_mm
    if geometry.stand is not None and 0 < geometry.stand.gap_mm < gap:
        gap = geometry.stand.gap_mm  # molten joints bulge past their lands
    found = migration(use.voltage, gap, use.air)
    steps = [
        Step(
            says=f"{use.voltage:g} V over {gap:.3f} mm, air: {AIRS[use.air]}",
            inputs={},
            value=found.field_v_mm,
            unit="V/mm",
            formula="migration-field",
            valid="a class of exposure, never a chance: residues decide",
            sources=("ecm-mechanism", "ecm-bell", "ecm-coated", TEST_SOURCE),
        )
    ]
    why = found.says
    if use.coat != "none" and use.air != "dry":
        why += "; a coat over residues is no cure"
    if use.voltage > HAZARD_V:
        why += f". Caution: {CAUTION}"
        steps.append(Step(says="voltage that touch can't take", value=HAZARD_V, unit="V", sources=(HAZARD_SOURCE,)))
    return exact(
        key="migration-field",
        title="field between terminals",
        value=found.field_v_mm,
        unit="V/mm",
        better="less",
        limit=TEST_FIELD_V_MM,
        limit_source=TEST_SOURCE,
        verdict=found.verdict,
        why=why,
        trail=tuple(steps),
    )


def _gap_um(geometry: Geometry) -> tuple[float, float, str]:
    """Gap under the body, least and most, and where it comes from. [µm]"""
    stand, outline = geometry.stand, geometry.outline
    if stand is not None and outline.family in GRIDS:
        return stand.low_mm * 1000, stand.high_mm * 1000, "molten balls"
    flat = geometry.mounted.leadless
    if flat is not None:
        return flat.low_mm * 1000, flat.high_mm * 1000, "standoff on its molten joints"
    return outline.standoff_mm.min * 1000, outline.standoff_mm.max * 1000, "the drawing's standoff"


def _coat(geometry: Geometry, bench: Bench) -> Figure:
    coat = bench.content.use.coat
    low, high, whence = _gap_um(geometry)
    hidden = geometry.outline.family in GRIDS | LEADLESS
    worse, better = (coat_reach(gap, coat, hidden) for gap in (low, high))
    verdict = worse.verdict if worse.verdict == better.verdict else "marginal"
    step = Step(
        says=f"gap under the body {low:.0f} to {high:.0f} µm ({whence}) against two films of {coat}",
        inputs={},
        value=(low + high) / 2,
        unit="um",
        formula="coat-reach",
        valid="a rule of landwise's own on recalled thicknesses",
        sources=(*COAT_SOURCES, "coat-capillary"),
    )
    return Figure(
        key="coat-reach",
        title="gap under the body for the coat",
        value=(low + high) / 2,
        unit="um",
        low=low,
        high=high,
        better="more",
        limit=None,
        limit_source="",
        verdict=verdict,
        why=worse.says,
        trail=(step,),
    )
