"""Openings drawn from a design's few numbers: the quick sizes are those of the shapes that are cut."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.designing.variables import (
    Changes,
    chamfers,
    edge_points,
    edge_shape,
    edge_sizes,
    most_coverage,
    openings_of,
    pad_openings,
    round_points,
    round_sizes,
)
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import ApertureRules, apertures
from landwise.shapes import Placed, least_gap_mm, polygon, rectangle

CUT = polygon([(-0.21, -0.11), (0.21, -0.11), (0.21, 0.11), (-0.15, 0.11), (-0.21, 0.05)])
CHANGES = [
    Changes(),
    Changes(width_mm=-0.03, toe_mm=0.05, heel_mm=0.1),
    Changes(corner=-0.5),
    Changes(corner=0.7, heel_mm=0.02),
    Changes(width_mm=0.04, corner=-0.6),
]


@pytest.mark.parametrize("land", [rectangle(0.6, 0.2), CUT])
@pytest.mark.parametrize("changes", CHANGES)
def test_sizes_are_those_of_the_shape_that_is_cut(land, changes):
    area, perimeter, narrow = (float(value[0]) for value in edge_sizes(land, changes.row[None]))
    made, shift = edge_shape(land, changes)
    tolerance = 5e-3 if changes.corner < 0 else 1e-6  # arcs beside a cut are drawn as chords
    assert area == pytest.approx(made.area_mm2, rel=tolerance)
    assert perimeter == pytest.approx(made.perimeter_mm, rel=tolerance)
    assert narrow == pytest.approx(min(made.length_mm, made.width_mm))
    assert shift == pytest.approx((changes.toe_mm + changes.heel_mm) / 2)


@pytest.mark.parametrize("changes", CHANGES)
def test_outlines_are_those_of_the_shape_that_is_cut(changes):
    import shapely

    drawn = shapely.Polygon(edge_points(CUT, changes.row[None])[0])
    made, shift = edge_shape(CUT, changes)
    cut = Placed(made, shift, 0.0).geometry()
    assert drawn.is_valid
    assert drawn.symmetric_difference(cut).area < 2e-3 * cut.area


def test_a_land_cut_at_one_corner_keeps_it_and_another_polygon_is_not_read():
    assert chamfers(CUT) == (0.0, 0.06, 0.0, 0.0)
    assert chamfers(polygon([(0, 0), (1, 0), (0.5, 1)])) is None
    deeper, _ = edge_shape(CUT, Changes(corner=1.0))
    assert deeper.area_mm2 < CUT.area_mm2


def test_a_round_opening_is_a_disc_and_becomes_a_rounded_square():
    sizes = np.array([0.25, 0.25])
    area, perimeter, _ = round_sizes(sizes, np.array([1.0, 0.4]))
    assert area[0] == pytest.approx(np.pi * 0.25**2 / 4)
    assert perimeter[0] == pytest.approx(np.pi * 0.25)
    assert area[1] > 1.1 * area[0]
    assert round_points(sizes, np.array([1.0, 0.4])).shape[0] == 2


@pytest.mark.parametrize("name", ["QFP-48", "QFN-16-3x3", "WLP-5-0.4", "SON-5-0.8x0.8", "SC-70-6"])
def test_no_change_is_the_print_drawn_from_the_lands(name):
    part = find(name)
    lands, rules = land_pattern(part), ApertureRules(published=False)
    coverage = 0.0 if part.centre_terminal else rules.pane_coverage
    made = openings_of(lands.lands, part, Changes(coverage=coverage), rules)
    drawn = apertures(lands, rules, part)
    for one, other in zip(made, drawn, strict=True):
        assert one.terminal == other.terminal
        assert one.area_mm2 == pytest.approx(other.area_mm2)


@pytest.mark.parametrize("coverage", [0.5, 0.65, 0.75])
def test_panes_keep_the_foil_its_bars(coverage):
    rules = ApertureRules()
    place = Placed(rectangle(2.7, 2.7))
    assert coverage <= most_coverage(place, rules)
    made = pad_openings(place, coverage, rules)
    assert least_gap_mm(made) >= rules.pane_bar_mm - 1e-9
    assert sum(one.shape.area_mm2 for one in made) == pytest.approx(coverage * 2.7**2, rel=1e-6)


def test_the_most_coverage_is_where_bars_get_too_narrow():
    rules = ApertureRules()
    place = Placed(rectangle(1.8, 1.8))
    most = most_coverage(place, rules)
    assert least_gap_mm(pad_openings(place, most, rules)) >= rules.pane_bar_mm - 1e-9
    assert (1.8 - 2 * 1.8 * (most + 0.02) ** 0.5 / 2) < rules.pane_bar_mm
