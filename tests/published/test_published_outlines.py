"""Catalogue dimensions against the texts that print them, typed into proving/data/outline_drawings.toml.

A dimension's limits must span what its drawings print, and nothing more; where a drawing prints one limit or a
basic size, that one is held. Then every dimension that a text covers is changed by a little, and must be noticed.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.evidence import all_sources
from landwise.outlines import Range, catalogue
from landwise.outlines.marks import readings
from landwise.proving.gathered import INCH_MM, data, drawn_limits


def complaints(outline):
    found = []
    for reading in readings(outline):
        value = getattr(outline, reading.dimension)
        ours = value if isinstance(value, Range) else Range.exact(value)
        for limit, (printed, within, _) in drawn_limits(outline, reading.dimension, reading.sources).items():
            if abs(getattr(ours, limit) - printed) > within:
                found.append(f"{outline.name} {reading.dimension} {limit} {getattr(ours, limit)} but printed {printed}")
    return found


def covered(outline):
    """Dimensions of an outline that a typed text covers."""
    return [r.dimension for r in readings(outline) if drawn_limits(outline, r.dimension, r.sources)]


def test_every_typed_text_names_a_source():
    assert set(data("outline_drawings")) <= set(all_sources())


def test_dimensions_span_what_the_drawings_print():
    assert [line for outline in catalogue().values() for line in complaints(outline)] == []


@pytest.mark.parametrize("factor", [0.88, 1.12])
def test_a_changed_dimension_is_noticed(factor):
    missed, tried = [], 0
    for outline in catalogue().values():
        for dimension in covered(outline):
            value = getattr(outline, dimension)
            if isinstance(value, Range):
                changed = Range(value.min * factor, value.nom * factor, value.max * factor)
                if value.max * abs(factor - 1) < 2 * INCH_MM:
                    continue  # smaller than the rounding of inches
            else:
                changed = value * factor
            tried += 1
            if not complaints(replace(outline, **{dimension: changed})):
                missed.append(f"{outline.name} {dimension}")
    assert tried > 700
    assert missed == []


def test_most_read_dimensions_are_typed_in():
    """Of the dimensions that a text was read for, nearly nine in ten are typed in here; family relations hold more."""
    texts = [
        (outline, reading)
        for outline in catalogue().values()
        for reading in readings(outline)
        if reading.mark in ("verified", "second-hand")
    ]
    typed = sum(1 for outline, reading in texts if reading.dimension in covered(outline))
    assert typed / len(texts) > 0.88
