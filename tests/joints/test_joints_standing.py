"""How a grid stands on its melted balls."""

from dataclasses import replace

import pytest

from landwise.joints.standing import ball_stand, cap_volume
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.outlines.catalogue import catalogue
from landwise.outlines.model import GRIDS
from landwise.printing import Foil, print_part
from landwise.sheets.solder import grid_solder
from whole import of_each_family


def stand_of(outline, foil_um=100.0):
    pattern = land_pattern(outline)
    return ball_stand(outline, pattern, print_part(pattern, Foil(foil_um), outline=outline))


@pytest.mark.parametrize("name", [o.name for o in of_each_family(catalogue().values(), 3) if o.family in GRIDS])
def test_every_grid_stands_between_its_interval_below_its_free_balls(name):
    outline = find(name)
    stand = stand_of(outline)
    assert 0 < stand.low_mm < stand.height_mm < stand.high_mm
    assert stand.gap_mm > 0, "joints of one grid never touch at rest"
    assert stand.max_diameter_mm < outline.pitch_mm


def test_only_grids_stand_on_balls():
    assert stand_of(find("TSSOP-14")) is None


def test_more_paste_lifts_and_more_weight_lowers():
    grid = find("WLP-5-0.5")
    thin, thick = stand_of(grid, 80), stand_of(grid, 125)
    assert thin.height_mm < thick.height_mm
    heavy = replace(grid, weight_mg=100.0)
    assert stand_of(heavy, 80).height_mm < thin.height_mm


def test_a_cap_as_high_as_its_half_sphere_is_half_a_sphere():
    assert cap_volume(0.5, 1.0) == pytest.approx(2 / 3 * 3.141592653589793 * 0.5**3)


def test_the_drawn_contour_is_the_computed_one():
    stand = stand_of(find("WLP-5-0.5"))
    assert stand.contour_mm[:, 0].max() * 2 == pytest.approx(stand.max_diameter_mm, rel=1e-3)
    assert stand.contour_mm[-1, 1] == pytest.approx(stand.height_mm, rel=1e-9)


def test_solder_of_no_stand_is_nothing():
    assert grid_solder(find("TSSOP-14"), None) is None
