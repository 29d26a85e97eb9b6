"""Catalogue dimensions against the texts that print them, typed in beside this file with their sources' keys.

A dimension's limits must span what its drawings print, and nothing more; where a drawing prints one limit or a
basic size, that one is held. Then every dimension that a text covers is changed by a little, and must be noticed.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from landwise.evidence import all_sources
from landwise.outlines import Range, catalogue
from landwise.outlines.marks import readings

DRAWINGS = tomllib.loads((Path(__file__).parent / "outline_drawings.toml").read_text(encoding="utf-8"))
INCH_MM = 0.0125  # drawings in inches are rounded to a thousandth, some to a hundredth of a millimetre
NOMINAL = 0.02  # how far our nominal may lie from a basic size printed without limits, as a share of it


def printed(key, outline, dimension):
    """What a drawing prints of a dimension for that terminal count: (min, max, nominal), None where it is silent."""
    table = DRAWINGS.get(key, {})
    single = table.get(outline.name, table.get(str(outline.terminals), {}))
    value = single.get(dimension, table.get(dimension))
    if value is None:
        return None
    if isinstance(value, dict):
        return value.get("min"), value.get("max"), None
    return (*value, None) if isinstance(value, list) else (None, None, value)


def complaints(outline):
    found = []
    for reading in readings(outline):
        texts = [text for key in reading.sources if (text := printed(key, outline, reading.dimension))]
        if not texts:
            continue
        value = getattr(outline, reading.dimension)
        ours = value if isinstance(value, Range) else Range.exact(value)
        lows = [low for low, _, _ in texts if low is not None]
        highs = [high for _, high, _ in texts if high is not None]
        nominals = [nominal for _, _, nominal in texts if nominal is not None]
        if lows and abs(ours.min - min(lows)) > INCH_MM:
            found.append(f"{outline.name} {reading.dimension} min {ours.min} but printed {min(lows)}")
        if highs and abs(ours.max - max(highs)) > INCH_MM:
            found.append(f"{outline.name} {reading.dimension} max {ours.max} but printed {max(highs)}")
        if nominals and min(abs(ours.nom - nominal) for nominal in nominals) > NOMINAL * ours.nom:
            found.append(f"{outline.name} {reading.dimension} {ours.nom} but printed {nominals}")
    return found


def covered(outline):
    """Dimensions of an outline that a typed text covers."""
    return [r.dimension for r in readings(outline) if any(printed(k, outline, r.dimension) for k in r.sources)]


def test_every_typed_text_names_a_source():
    assert set(DRAWINGS) <= set(all_sources())


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
