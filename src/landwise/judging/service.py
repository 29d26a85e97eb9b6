"""Figures of what the board does in service: shaking, heat, signals, dirt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure
from landwise.judging.dirt import dirt_figures
from landwise.judging.ends import end_figures
from landwise.judging.shaken import shaking_figures
from landwise.judging.signal import signal_figures
from landwise.judging.warm import heat_figures

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry
    from landwise.study.file import PartTable


def service_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Figures of one option."""
    heat = heat_figures(geometry, part, bench)
    return (
        *shaking_figures(geometry, part, bench),
        *heat,
        *signal_figures(geometry, part, bench),
        *dirt_figures(geometry, part, bench),
        *end_figures(geometry, part, bench, heat[0].value),
    )
