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
            f"{use.voltage:g} V over {gap:.3f} mm, air: {AIRS[use.air]}",
            {},
            found.field_v_mm,
            "V/mm",
            "migration-field",
            "a class of exposure, never a chance: residues decide",
            ("ecm-mechanism", "ecm-bell", "ecm-coated", TEST_SOURCE),
        )
    ]
    why = found.says
    if use.coat != "none" and use.air != "dry":
        why += "; a coat over residues is no cure"
    if use.voltage > HAZARD_V:
        why += f". Caution: {CAUTION}"
        steps.append(Step("voltage that touch can't take", value=HAZARD_V, unit="V", sources=(HAZARD_SOURCE,)))
    return exact(
        "migration-field",
        "field between terminals",
        found.field_v_mm,
        "V/mm",
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
        f"gap under the body {low:.0f} to {high:.0f} µm ({whence}) against two films of {coat}",
        {},
        (low + high) / 2,
        "um",
        "coat-reach",
        "a rule of landwise's own on recalled thicknesses",
        (*COAT_SOURCES, "coat-capillary"),
    )
    return Figure(
        "coat-reach",
        "gap under the body for the coat",
        (low + high) / 2,
        "um",
        low,
        high,
        "more",
        None,
        "",
        verdict,
        worse.says,
        (step,),
    )
