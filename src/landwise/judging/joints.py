"""Figures of the molten joints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure, Step
from landwise.joints.standing import SOURCES as GRID_SOURCES
from landwise.judging.exact import exact

if TYPE_CHECKING:
    from landwise.studies import Bench, Geometry
    from landwise.studyfile import PartTable


def joint_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Height and gap of a grid's molten joints; nothing for families whose joints are not computed yet."""
    stand = geometry.stand
    if stand is None:
        return ()
    weight = "" if stand.weight_known else "; the part's weight is not known and left out"
    step = Step(
        f"ball of {stand.before_mm:g} mm height melts together with its paste{weight}",
        {"widest": f"{stand.max_diameter_mm:.3f} mm"},
        stand.height_mm * 1000,
        "um",
        "ball-joint",
        "edges pinned, part flat",
        GRID_SOURCES,
    )
    collapse = 1 - stand.height_mm / stand.before_mm
    standoff = Figure(
        "standoff",
        "standoff after reflow",
        stand.height_mm * 1000,
        "um",
        stand.low_mm * 1000,
        stand.high_mm * 1000,
        "neither",
        verdict="holds",
        why=f"the balls sink by {collapse:.0%}, from {stand.before_mm * 1000:.0f} µm",
        trail=(step,),
    )
    gap = exact(
        "joint-gap",
        "gap between molten joints",
        stand.gap_mm,
        "mm",
        better="more",
        limit=0.0,
        limit_source="young-laplace",
        verdict="holds" if stand.gap_mm > 0 else "fails",
        why=f"joints bulge to {stand.max_diameter_mm:.3f} mm",
        trail=(step,),
    )
    return (standoff, gap)
