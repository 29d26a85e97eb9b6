"""Figures of how often the joints of a part go wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure

if TYPE_CHECKING:
    from landwise.studies import Bench, Geometry
    from landwise.studyfile import PartTable


def assembly_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Figures of one option; empty while this room works none."""
    return ()
