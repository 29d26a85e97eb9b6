"""Parts as their assembly sees them, for the tests of this room."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from landwise.assembly.partmodel import part_at, part_model
from landwise.assembly.scatter import scatter
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part


@cache
def made(name, foil_um=100.0, print_mm=0.03, place_mm=0.05, own=()):
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(foil_um), outline=outline)
    return part_model(outline, pattern, printed, scatter(print_mm, place_mm, dict(own)))


@pytest.fixture
def model():
    """A part's model by name, foil and scatter."""
    return made


def changed(part, **geometry):
    """The same part on the same line with some of its geometry replaced."""
    return part_at(replace(part.geometry, **geometry), part.scatter)


@pytest.fixture
def with_gap():
    """The same model with every gap between deposits widened."""

    def widened(part, by_mm):
        return changed(part, pairs=tuple(replace(pair, gap_mm=pair.gap_mm + by_mm) for pair in part.geometry.pairs))

    return widened


@pytest.fixture
def with_geometry():
    """A model with some of its geometry replaced."""
    return changed
