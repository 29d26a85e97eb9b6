"""Figures of dirt and moisture: field between terminals, reach of a coat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step, figure
from landwise.evidence.trails import earlier, worked
from landwise.joints.mounted import Mounted
from landwise.joints.standing import BallStand
from landwise.judging.leaves import of_outline, of_study
from landwise.lands import LandPattern
from landwise.outlines import GRIDS, LEADLESS, Outline
from landwise.service.contamination import (
    AIRS,
    CAUTION,
    COAT_SOURCES,
    HAZARD_SOURCE,
    HAZARD_V,
    TEST_FIELD_V_MM,
    TEST_SOURCE,
    Air,
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


def nearest_metal(pattern: LandPattern, stand: BallStand | None) -> float:
    """Least gap between lands, or between molten joints that bulge past them. [mm]"""
    gap = pattern.least_copper_gap_mm
    return stand.gap_mm if stand is not None and 0 < stand.gap_mm < gap else gap


def field_over(voltage_v: float, gap_mm: float, air: Air) -> float:
    """Field between the nearest metal. [V/mm]"""
    return migration(voltage_v, gap_mm, air).field_v_mm


def middle_gap(low_um: float, high_um: float) -> tuple[float, float, float]:
    """A gap between its ends: low, middle, high. [µm]"""
    return low_um, (low_um + high_um) / 2, high_um


def least_gap_under(outline: Outline, stand: BallStand | None, joints: Mounted) -> float:
    """Least gap under the body. [µm]"""
    return _gap_under(outline, stand, joints)[0]


def most_gap_under(outline: Outline, stand: BallStand | None, joints: Mounted) -> float:
    """Most gap under the body. [µm]"""
    return _gap_under(outline, stand, joints)[1]


def _field(geometry: Geometry, bench: Bench) -> Figure:
    use = bench.content.use
    between = worked(
        "nearest bare metal",
        nearest_metal,
        {"pattern": earlier(geometry.stations["lands"]), "stand": earlier(geometry.stations["balls"])},
        unit="mm",
    )
    gap = between.value or 0.0
    found = migration(use.voltage, gap, use.air)
    steps = [
        worked(
            f"{use.voltage:g} V over {gap:.3f} mm, air: {AIRS[use.air]}",
            field_over,
            {
                "voltage_v": of_study(bench.content, "use.voltage", "V"),
                "gap_mm": earlier(between),
                "air": of_study(bench.content, "use.air"),
            },
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
    return figure(
        steps[0],
        key="migration-field",
        title="field between terminals",
        better="less",
        limit=TEST_FIELD_V_MM,
        limit_source=TEST_SOURCE,
        verdict=found.verdict,
        why=why,
        trail=tuple(steps),
    )


def _gap_under(outline: Outline, stand: BallStand | None, joints: Mounted) -> tuple[float, float, str]:
    """Gap under the body, least and most, and where it comes from. [µm]"""
    if stand is not None and outline.family in GRIDS:
        return stand.low_mm * 1000, stand.high_mm * 1000, "molten balls"
    flat = joints.leadless
    if flat is not None:
        return flat.low_mm * 1000, flat.high_mm * 1000, "standoff on its molten joints"
    return outline.standoff_mm.min * 1000, outline.standoff_mm.max * 1000, "the drawing's standoff"


def _coat(geometry: Geometry, bench: Bench) -> Figure:
    coat = bench.content.use.coat
    low, high, whence = _gap_under(geometry.outline, geometry.stand, geometry.mounted)
    hidden = geometry.outline.family in GRIDS | LEADLESS
    worse, better = (coat_reach(gap, coat, hidden) for gap in (low, high))
    verdict = worse.verdict if worse.verdict == better.verdict else "marginal"
    given = {
        "outline": of_outline(geometry.outline),
        "stand": earlier(geometry.stations["balls"]),
        "joints": earlier(geometry.joints),
    }
    ends = {
        "low_um": earlier(worked("least gap under the body", least_gap_under, given, unit="um")),
        "high_um": earlier(worked("most gap under the body", most_gap_under, given, unit="um")),
    }
    step = worked(
        f"gap under the body {low:.0f} to {high:.0f} µm ({whence}) against two films of {coat}",
        middle_gap,
        ends,
        unit="um",
        formula="coat-reach",
        valid="a rule of landwise's own on recalled thicknesses",
        sources=(*COAT_SOURCES, "coat-capillary"),
    )
    return figure(
        step,
        key="coat-reach",
        title="gap under the body for the coat",
        better="more",
        limit=None,
        limit_source="",
        verdict=verdict,
        why=worse.says,
    )
