"""Slump, squeeze-out, and the gaps they leave."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from landwise.errors import InputError, ValidityError
from landwise.printing import Foil, bridging, print_part, slump_spacing, squeeze_spread
from landwise.shapes import circle, rectangle


def test_squeezed_disc_keeps_its_volume():
    spread = squeeze_spread(circle(0.3), 90.0, 40.0)
    assert math.pi * (0.15 + spread) ** 2 * 40.0 == pytest.approx(math.pi * 0.15**2 * 90.0)


def test_squeezed_rectangle_keeps_its_volume_by_shapely():
    import shapely

    spread = squeeze_spread(rectangle(0.6, 0.17), 85.0, 50.0)
    grown = shapely.box(0, 0, 0.6, 0.17).buffer(spread, quad_segs=200)
    assert grown.area * 50.0 == pytest.approx(0.6 * 0.17 * 85.0, rel=1e-4)


def test_paste_that_is_not_squeezed_stays():
    assert squeeze_spread(circle(0.3), 40.0, 40.0) == 0.0
    assert squeeze_spread(circle(0.3), 30.0, 40.0) == 0.0


def test_heights_must_be_positive():
    with pytest.raises(InputError, match="heights"):
        squeeze_spread(circle(0.3), 40.0, 0.0)


def test_gap_and_criterion_of_neighbours(two_rows):
    side = bridging(print_part(two_rows(0.6, 0.17, 0.35), Foil(100)))
    assert side is not None
    assert side.gap_mm == pytest.approx(0.18)
    assert side.slump_spacing_mm == pytest.approx(slump_spacing(0.17, 100))
    assert side.cold_spacing_mm == pytest.approx(slump_spacing(0.17, 100, hot=False))
    assert side.cold_spacing_mm < side.slump_spacing_mm
    assert side.remaining_um == 50.0
    assert 0 < side.squeezed_gap_mm < side.gap_mm


@pytest.mark.parametrize(
    ("pitch", "word"), [(0.40, "holds"), (0.30, "marginal"), (0.21, "fails")]
)  # gaps 0.23, 0.13, 0.04 against 0.157
def test_slump_verdict(two_rows, pitch, word):
    side = bridging(print_part(two_rows(0.6, 0.17, pitch), Foil(100)))
    assert side is not None
    assert side.slump_verdict == word


@pytest.mark.parametrize(("remaining", "word"), [(60.0, "holds"), (36.0, "marginal"), (30.0, "fails")])
def test_squeeze_verdict(two_rows, remaining, word):
    side = bridging(print_part(two_rows(0.6, 0.17, 0.35), Foil(100)), remaining_um=remaining)
    assert side is not None
    assert side.squeeze_verdict == word
    assert (side.squeezed_gap_mm <= 0) == (word == "fails")


def test_paste_is_not_squeezed_flatter_than_its_powder(two_rows):
    side = bridging(print_part(two_rows(0.6, 0.17, 0.35), Foil(60)))
    assert side is not None
    assert side.remaining_um == 38.0


def test_need_is_compared(two_rows):
    side = bridging(print_part(two_rows(0.6, 0.17, 0.35), Foil(100)), need_um=50.0)
    assert side is not None
    assert side.solder_per_need == pytest.approx(side.solder_height_um / 50.0)


def test_panes_do_not_count_and_lonely_lands_have_no_neighbour(two_rows):
    alone = two_rows(0.6, 0.3, 0.5, each=1, rows=5.0, pad=rectangle(3.0, 2.0))
    assert bridging(print_part(alone, Foil(100))) is None


def test_slump_spacing_rises_with_width_without_jumps():
    widths = [0.06 + 0.005 * k for k in range(200)]
    for hot in (True, False):
        found = [slump_spacing(width, 100, hot=hot) for width in widths]
        steps = [b - a for a, b in pairwise(found)]
        assert min(steps) >= -1e-12
        assert max(steps) < 0.012


def test_slump_scales_with_proportion():
    assert slump_spacing(0.5, 200) == pytest.approx(2 * slump_spacing(0.25, 100))


def test_slump_refuses_what_no_pattern_tests():
    with pytest.raises(ValidityError, match="slender"):
        slump_spacing(0.05, 150)
    with pytest.raises(InputError, match="positive"):
        slump_spacing(0.0, 100)
