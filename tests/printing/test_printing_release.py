"""Area and aspect ratio of any opening."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.errors import InputError
from landwise.printing import area_ratio, aspect_ratio, thickest_for
from landwise.shapes import circle, oblong, polygon, rectangle, rounded


def test_rectangle_by_its_formula():
    # AR = L·W / [2·T·(L + W)], with all three sides different.
    assert area_ratio(rectangle(1.2, 0.3), 120) == pytest.approx(1.2 * 0.3 / (2 * 0.12 * 1.5))


def test_circle_and_square_of_one_size_are_equal():
    assert area_ratio(circle(0.28), 90) == pytest.approx(0.28 / (4 * 0.09))
    assert area_ratio(rectangle(0.28, 0.28), 90) == pytest.approx(area_ratio(circle(0.28), 90))


def test_oblong_by_hand():
    # 1.0 × 0.3 with round ends: area 0.7·0.3 + π·0.15², wall 2·0.7 + π·0.3.
    shape = oblong(1.0, 0.3)
    expected = (0.7 * 0.3 + np.pi * 0.15**2) / ((1.4 + np.pi * 0.3) * 0.1)
    assert area_ratio(shape, 100) == pytest.approx(expected)


def test_rounded_becomes_circle_and_rectangle_at_its_ends():
    assert area_ratio(rounded(0.3, 0.3, 0.15), 100) == pytest.approx(area_ratio(circle(0.3), 100))
    assert area_ratio(rounded(0.6, 0.3, 1e-9), 100) == pytest.approx(area_ratio(rectangle(0.6, 0.3), 100))


def test_any_polygon_by_shapely():
    import shapely

    corners = [(0.0, 0.0), (0.5, 0.0), (0.5, 0.2), (0.3, 0.35), (0.0, 0.2)]
    outside = shapely.Polygon(corners)
    assert area_ratio(polygon(corners), 80) == pytest.approx(outside.area / outside.length / 0.08)


def test_halving_the_foil_doubles_the_ratio():
    shape = rectangle(0.6, 0.17)
    assert area_ratio(shape, 60) == pytest.approx(2 * area_ratio(shape, 120))
    assert aspect_ratio(shape, 60) == pytest.approx(2 * aspect_ratio(shape, 120))


def test_thickest_foil_inverts_the_ratio():
    shape = rounded(0.5, 0.2, 0.04)
    assert area_ratio(shape, thickest_for(shape, 0.66)) == pytest.approx(0.66)


@pytest.mark.parametrize("foil", [0.0, -80.0, float("nan")])
@pytest.mark.parametrize("ratio", [area_ratio, aspect_ratio])
def test_foil_must_be_positive(ratio, foil):
    with pytest.raises(InputError, match="positive thickness"):
        ratio(rectangle(0.6, 0.2), foil)
