"""Every shipped outline gives a sound land pattern in every style it can have, at every level.

`make test` takes each third of every family.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely

from landwise.evidence import all_formulas, source
from landwise.lands import LEVELS, LandRules, land_pattern
from landwise.lands.courtyard import courtyard_form
from landwise.lands.goals import goals
from landwise.outlines import GRIDS, LEADLESS, catalogue, terminals
from landwise.shapes import bounding_box, geometries, least_gap_mm
from whole import of_each_family

RULES = LandRules()
CLOSE = 1e-6


def styles_of(outline):
    styles = ["auto", "goals"]
    if outline.family in LEADLESS:
        styles.append("pad-for-pad")
    if outline.published_land is not None:
        styles.append("published")
    return styles


@pytest.mark.parametrize("outline", of_each_family(catalogue().values(), 3), ids=lambda outline: outline.name)
def test_pattern_is_sound(outline):
    for style, level in itertools.product(styles_of(outline), LEVELS):
        pattern = land_pattern(outline, style=style, level=level)
        assert [land.terminal for land in pattern.lands] == [terminal.number for terminal in terminals(outline)]
        check_gaps(outline, pattern)
        check_courtyard(outline, pattern, level)
        check_openings(pattern)
        check_words(pattern)
        if style in ("goals", "pad-for-pad"):
            assert not [bind for bind in pattern.binds if bind.rule == "foot off its land"]
        if style == "auto":
            assert pattern.style != "auto"


def check_gaps(outline, pattern):
    least = (
        RULES.least_covered_gap_mm if any(land.mask_defined for land in pattern.lands) else RULES.least_copper_gap_mm
    )
    if pattern.style == "published":
        least = 0.1  # nothing the catalogue carries is printed closer
    assert pattern.least_copper_gap_mm >= least - CLOSE
    assert pattern.least_copper_gap_mm == pytest.approx(
        least_gap_mm([land.copper for land in pattern.lands]), abs=CLOSE
    )
    pads = [land for land in pattern.lands if land.terminal == "EP"]
    if pads and pattern.style != "published":
        others = geometries([land.copper for land in pattern.lands if land.terminal != "EP"])
        pad = pads[0].copper.geometry()
        assert shapely.distance(pad, others).min() >= RULES.exposed_gap_mm - CLOSE
        assert pads[0].copper.shape.length_mm >= outline.exposed_length_mm.nom - CLOSE
        assert pads[0].copper.shape.width_mm >= outline.exposed_width_mm.nom - CLOSE


def check_courtyard(outline, pattern, level):
    excess = goals(courtyard_form(outline), level).courtyard_mm
    x0, y0, x1, y1 = bounding_box([land.copper for land in pattern.lands])
    half_x, half_y = pattern.courtyard_mm[0] / 2 - excess, pattern.courtyard_mm[1] / 2 - excess
    assert min(half_x + x0, half_x - x1, half_y + y0, half_y - y1) >= -CLOSE
    assert half_x >= outline.body_width_mm.max / 2 - CLOSE
    assert half_y >= outline.body_length_mm.max / 2 - CLOSE


def check_openings(pattern):
    openings = geometries([land.opening for land in pattern.lands])
    coppers = geometries([land.copper for land in pattern.lands])
    by_mask = np.array([land.mask_defined for land in pattern.lands])
    outer, inner = np.where(by_mask, coppers, openings), np.where(by_mask, openings, coppers)
    assert shapely.covers(shapely.buffer(outer, CLOSE), inner).all()
    assert (shapely.area(coppers) > shapely.area(openings))[by_mask].all()
    for land in pattern.lands:
        assert land.place == (land.opening if land.mask_defined else land.copper)
    if pattern.least_web_mm < RULES.least_mask_web_mm - CLOSE:
        assert any(bind.rule == "mask web" for bind in pattern.binds)
    # An opening may be shared, but it must not lay bare a neighbour's copper only in part.
    opening, copper = shapely.STRtree(coppers).query(openings, predicate="intersects")
    if (opening != copper).any():
        assert pattern.least_web_mm == 0


def check_words(pattern):
    assert pattern.trail
    for step in pattern.trail:
        assert step.says
        assert all(source(key) for key in step.sources)
        assert step.formula is None or step.formula in all_formulas()
    assert any(step.formula == "courtyard" for step in pattern.trail)
    for bind in pattern.binds:
        assert any(character.isdigit() for character in bind.says)


ROWS = [o for o in catalogue().values() if o.family not in GRIDS]


@pytest.mark.parametrize("outline", of_each_family(ROWS, 3), ids=lambda o: o.name)
def test_more_density_never_makes_lands_longer_or_courtyards_larger(outline):
    areas = [land_pattern(outline, style="goals", level=level).courtyard_area_mm2 for level in LEVELS]
    assert areas == sorted(areas, reverse=True)
    assert areas[0] > areas[2]
