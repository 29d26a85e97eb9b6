"""Figures of how a part lasts in service."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.figures import Figure

if TYPE_CHECKING:
    from landwise.studies import Bench, Geometry
    from landwise.studyfile import PartTable


def service_figures(geometry: Geometry, part: PartTable, bench: Bench) -> tuple[Figure, ...]:
    """Figures of one option; empty while this room works none."""
    return ()
