"""Minimum gaps: what binds is cut, and said; what can't be held is refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from landwise.errors import InputError
from landwise.lands import LandRules, land_pattern
from landwise.outlines import PublishedLand, Range, find
from landwise.shapes import least_gap_mm

TSSOP = replace(find("TSSOP-14"), name="leaded", published_land=None)
QFN = replace(find("QFN-16-3x3"), name="leadless", published_land=None)
WLP = replace(find("WLP-6-0.5"), name="balls", published_land=None)


def said(pattern, rule):
    return [bind.says for bind in pattern.binds if bind.rule == rule]


def test_no_minimum_binds_on_a_roomy_part():
    assert land_pattern(TSSOP, rules=LandRules(trim_heels=False)).binds == ()


def test_width_is_cut_to_the_gap_and_said_with_numbers():
    fine = replace(TSSOP, pitch_mm=0.5)
    free = land_pattern(fine, rules=LandRules(copper_gap_mm=0.15, mask_margin_mm=0.05))
    held = land_pattern(fine)
    assert held.lands[0].place.shape.width_mm == pytest.approx(0.30)
    assert held.least_copper_gap_mm == pytest.approx(0.20)
    assert free.lands[0].place.shape.width_mm > 0.30
    assert said(held, "copper gap") == ["width cut from 0.330 to 0.300 mm: copper gap 0.200 mm"]


def test_a_land_narrower_than_the_foot_is_reported():
    pattern = land_pattern(replace(TSSOP, pitch_mm=0.4))
    assert pattern.lands[0].place.shape.width_mm == pytest.approx(0.20)
    assert any("past the side of its land" in says for says in said(pattern, "foot off its land"))


def test_a_pitch_without_room_for_copper_is_refused():
    with pytest.raises(InputError, match="no land fits the pitch"):
        land_pattern(replace(TSSOP, pitch_mm=0.15))


def test_feet_that_meet_are_refused():
    # Feet of 2.35 mm on a span of 4.8 mm: the tolerances take more than the 0.1 mm between them.
    meeting = replace(TSSOP, family="flat-lead dual", span_mm=Range(4.75, 4.8, 4.85), foot_mm=Range(2.3, 2.35, 2.4))
    with pytest.raises(InputError, match="no gap between opposite lands"):
        land_pattern(meeting)


def test_heels_are_trimmed_for_corner_neighbours():
    close = replace(QFN, exposed_length_mm=None, exposed_width_mm=None, pitch_mm=0.52)
    pattern = land_pattern(close)
    assert said(pattern, "heel gap")
    assert pattern.least_copper_gap_mm >= 0.15
    assert pattern.least_web_mm >= 0.07 - 1e-6
    without = land_pattern(close, rules=LandRules(least_mask_web_mm=0.0, least_copper_gap_mm=0.0))
    assert without.lands[0].place.shape.length_mm > pattern.lands[0].place.shape.length_mm


def test_feet_come_before_the_web_at_a_corner():
    # At 0.55 mm the feet themselves are too near for a web: the copper gap holds, the web is reported.
    close = replace(QFN, exposed_length_mm=None, exposed_width_mm=None, pitch_mm=0.55)
    pattern = land_pattern(close)
    assert pattern.least_copper_gap_mm >= 0.15
    assert pattern.least_web_mm < 0.07
    assert any("web between rows" in says for says in said(pattern, "mask web"))
    assert not said(pattern, "foot off its land")


def test_copper_comes_before_the_foot_at_a_corner():
    close = replace(QFN, exposed_length_mm=None, exposed_width_mm=None, pitch_mm=0.62)
    pattern = land_pattern(close)
    assert pattern.least_copper_gap_mm >= 0.15
    assert any("past the heel" in says for says in said(pattern, "foot off its land"))


def test_pad_is_cut_only_where_heels_can_give_no_more():
    large = replace(QFN, exposed_length_mm=Range(1.8, 1.9, 2.0), exposed_width_mm=Range(1.8, 1.9, 2.0))
    pattern = land_pattern(large)
    pad = pattern.lands[-1].place.shape
    # Feet end 1.1 mm from the middle: heels stop there, the pad keeps 0.20 to them.
    assert (pad.length_mm, pad.width_mm) == pytest.approx((1.8, 1.8))
    assert any("pad land cut from 2.00 × 2.00 to 1.80 × 1.80" in says for says in said(pattern, "exposed pad gap"))
    assert said(pattern, "foot off its land") == ["terminal EP reaches 0.050 mm past the edge of its land"]


def test_a_pad_without_room_is_refused():
    with pytest.raises(InputError, match="no room for the exposed pad"):
        land_pattern(QFN, rules=LandRules(exposed_gap_mm=1.2))


def test_centre_terminal_cuts_corners_and_takes_the_mask():
    outline = find("SON-5-0.8x0.8")
    pattern = land_pattern(outline, style="goals")
    assert said(pattern, "centre terminal gap")
    assert all(land.mask_defined for land in pattern.lands)
    assert least_gap_mm([land.place for land in pattern.lands]) >= 0.15 - 1e-9
    assert pattern.lands[0].place.shape.kind == "polygon"
    # The cut corner is the one that looks at the middle: no corner of the land is nearer to it than the cut.
    for land in pattern.lands:
        if land.terminal != outline.centre_terminal:
            x, y = abs(land.place.points[:, 0]), abs(land.place.points[:, 1])
            assert not ((x == x.min()) & (y == y.min())).any()


def test_centre_terminal_without_room_is_refused():
    with pytest.raises(InputError, match="terminal in the middle"):
        land_pattern(
            find("SON-5-0.8x0.8"), style="goals", rules=LandRules(copper_gap_mm=0.25, least_copper_gap_mm=0.25)
        )


# --- mask ---


def test_margin_gives_way_before_the_web():
    pattern = land_pattern(TSSOP, rules=LandRules(mask_margin_mm=0.08))
    opening, land = pattern.lands[0].opening.shape, pattern.lands[0].place.shape
    assert (opening.width_mm - land.width_mm) / 2 == pytest.approx(0.075, abs=1e-6)
    assert pattern.least_web_mm == pytest.approx(0.07, abs=1e-5)
    assert said(pattern, "mask web") == ["margin cut from 0.08 to 0.075 mm: web 0.07 mm"]


def test_rows_share_an_opening_where_no_web_fits():
    pattern = land_pattern(TSSOP, rules=LandRules(least_mask_web_mm=0.15))
    assert pattern.least_web_mm == 0
    assert any("each row shares its opening" in says for says in said(pattern, "mask web"))
    left = sorted((land for land in pattern.lands if land.place.x_mm < 0), key=lambda land: land.place.y_mm)
    boxes = [land.opening.box for land in left]
    assert all(low[3] == pytest.approx(high[1], abs=1e-9) for low, high in pairwise(boxes))
    # Neighbours meet halfway between their lands.
    assert boxes[0][3] == pytest.approx((left[0].copper.box[3] + left[1].copper.box[1]) / 2)
    # The row's ends keep the wanted margin, and so do toe and heel.
    assert left[0].copper.box[1] - boxes[0][1] == pytest.approx(0.06)
    assert boxes[-1][3] - left[-1].copper.box[3] == pytest.approx(0.06)
    assert left[0].copper.box[0] - boxes[0][0] == pytest.approx(0.06)


def test_rows_of_a_quad_share_openings_on_all_sides():
    pattern = land_pattern(QFN, rules=LandRules(least_mask_web_mm=0.12))
    for side in (0.0, 90.0, 180.0, 270.0):
        row = [land for land in pattern.lands if land.terminal != "EP" and land.place.angle_deg == side]
        assert least_gap_mm([land.opening for land in row]) == pytest.approx(0, abs=1e-9)


def test_balls_without_a_web_are_defined_by_the_mask():
    pattern = land_pattern(replace(WLP, pitch_mm=0.36))
    assert all(land.mask_defined for land in pattern.lands)
    land = pattern.lands[0]
    assert land.opening.shape.length_mm == pytest.approx(0.20)
    assert land.copper.shape.length_mm == pytest.approx(0.26)  # 0.10 stays between covered copper
    assert pattern.least_copper_gap_mm == pytest.approx(0.10, abs=1e-6)
    assert any("the mask defines the lands" in says for says in said(pattern, "mask web"))


def test_ball_land_is_cut_to_the_gap_within_its_range():
    pattern = land_pattern(replace(WLP, pitch_mm=0.34))
    assert pattern.lands[0].place.shape.length_mm == pytest.approx(0.19)
    assert said(pattern, "copper gap") == ["land cut from 0.200 to 0.190 mm: copper gap 0.150 mm"]


def test_ball_pitch_below_the_range_is_refused():
    with pytest.raises(InputError, match="no land of this ball fits the pitch"):
        land_pattern(replace(WLP, pitch_mm=0.31))


def test_mask_defined_lands_too_close_for_copper_are_refused():
    land = PublishedLand(0.28, 0.28, "spraa99c-lands", mask_defined=True)
    with pytest.raises(InputError, match="no gap for the copper under the mask"):
        land_pattern(replace(WLP, pitch_mm=0.37, published_land=land))


def test_a_makers_margin_below_the_least_is_kept():
    pattern = land_pattern(find("WLP-4-0.35"))
    assert pattern.lands[0].opening.shape.length_mm == pytest.approx(0.245)
    assert pattern.binds == ()


# --- drilled ---


def test_close_drilled_rows_get_oblong_lands():
    dip = replace(find("DIP-14"), name="close", pitch_mm=1.5)
    pattern = land_pattern(dip)
    assert pattern.lands[1].place.shape.kind == "oblong"
    assert pattern.least_copper_gap_mm == pytest.approx(0.15)
    assert said(pattern, "copper gap") == ["lands narrowed from 1.50 to 1.35 mm along the row: copper gap 0.150 mm"]
    assert pattern.drilled


def test_drilled_pitch_without_a_ring_is_refused():
    with pytest.raises(InputError, match="no ring around the hole"):
        land_pattern(replace(find("DIP-14"), pitch_mm=1.1))


def test_drilled_outline_needs_the_thickness():
    with pytest.raises(InputError, match="terminal_thickness_mm"):
        land_pattern(replace(find("DIP-14"), terminal_thickness_mm=None))


def test_terminal_one_is_square():
    lands = land_pattern(find("DIP-14")).lands
    assert [land.terminal for land in lands if land.place.shape.kind == "rectangle"] == ["1"]
