"""Apertures over hand-made lands."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
import shapely

from landwise.errors import InputError
from landwise.evidence import source
from landwise.lands.model import Land, LandPattern
from landwise.outlines import find
from landwise.printing import RULE_REASONS, ApertureRules, apertures, pane_coverage
from landwise.printing.apertures import panes
from landwise.shapes import Placed, circle, rectangle


def one_land(shape, terminal="1", angle=0.0, **more):
    place = Placed(shape, 1.0, 2.0, angle)
    return LandPattern(
        "by hand", more.pop("style", "goals"), "nominal", (Land(terminal, place, place, place, **more),), (1, 1), 1, 1
    )


def test_every_rule_has_a_reason_with_a_source():
    assert set(RULE_REASONS) == {field.name for field in fields(ApertureRules)}
    for reason, key in RULE_REASONS.values():
        assert reason
        assert source(key)


def test_one_to_one(two_rows):
    pattern = two_rows(0.6, 0.2, 0.5)
    openings = apertures(pattern)
    assert [opening.terminal for opening in openings] == ["1", "2", "3", "4", "5", "6"]
    for opening, land in zip(openings, pattern.lands, strict=True):
        assert opening.openings == (land.place,)
        assert opening.coverage == pytest.approx(1.0)
        assert opening.paste_wanted_mm3 is None


def test_reduction_comes_off_every_edge(two_rows):
    shape = apertures(two_rows(0.6, 0.2, 0.5), ApertureRules(reduction_mm=0.02))[0].openings[0].shape
    assert (shape.length_mm, shape.width_mm) == pytest.approx((0.56, 0.16))


def test_reduction_that_leaves_nothing_is_refused(two_rows):
    with pytest.raises(InputError, match="positive size"):
        apertures(two_rows(0.6, 0.2, 0.5), ApertureRules(reduction_mm=0.1))


def test_corners_are_rounded_as_far_as_they_fit(two_rows):
    rounded = apertures(two_rows(0.6, 0.2, 0.5), ApertureRules(corner_mm=0.05))[0].openings[0].shape
    assert (rounded.kind, rounded.corner_mm) == ("rounded", 0.05)
    full = apertures(two_rows(0.6, 0.2, 0.5), ApertureRules(corner_mm=0.5))[0].openings[0].shape
    assert full.corner_mm == pytest.approx(0.1)
    upright = apertures(one_land(rectangle(0.2, 0.6)), ApertureRules(corner_mm=0.5))[0].openings[0].shape
    assert upright.corner_mm == pytest.approx(0.1)


@pytest.mark.parametrize("coverage", [0.4, 0.5, 0.65, 0.8])
@pytest.mark.parametrize("size", [(1.8, 1.8), (2.45, 2.45), (3.3, 2.1), (6.1, 6.1)])
def test_panes_reach_the_stated_coverage_inside_the_pad(coverage, size):
    place, rules = Placed(rectangle(*size), 0.4, -0.3, 90.0), ApertureRules(pane_coverage=coverage)
    found = panes(place, rules)
    opened = sum(pane.shape.area_mm2 for pane in found) / (size[0] * size[1])
    assert 0.9 * coverage <= opened <= coverage + 1e-9
    pad = place.geometry().buffer(1e-9)
    assert all(pad.contains(pane.geometry()) for pane in found)
    gaps = [shapely.distance(a.geometry(), b.geometry()) for k, a in enumerate(found) for b in found[:k]]
    assert min(gaps) >= rules.pane_bar_mm - 1e-9
    assert max(max(pane.shape.length_mm, pane.shape.width_mm) for pane in found) <= rules.largest_pane_mm + 1e-9


def test_panes_turn_with_their_pad():
    flat, turned = (panes(Placed(rectangle(3.3, 2.1), 0, 0, angle), ApertureRules()) for angle in (0.0, 90.0))
    swapped = {(round(-p.y_mm, 9) + 0.0, round(p.x_mm, 9) + 0.0) for p in flat}
    assert {(round(p.x_mm, 9) + 0.0, round(p.y_mm, 9) + 0.0) for p in turned} == swapped


def test_coverage_that_bars_forbid_is_refused():
    with pytest.raises(InputError, match="can't be reached; found 7"):
        panes(Placed(rectangle(1.5, 1.5)), ApertureRules(pane_coverage=0.9))
    with pytest.raises(InputError, match="can't be reached"):
        panes(Placed(rectangle(2.0, 2.0)), ApertureRules(pane_coverage=1.0, pane_bar_mm=0.3))


def test_small_exposed_pad_gets_one_smaller_opening(two_rows):
    openings = apertures(two_rows(0.4, 0.2, 0.5, pad=rectangle(1.0, 0.8)))[-1]
    assert len(openings.openings) == 1
    assert openings.coverage == pytest.approx(0.65)
    round_pad = apertures(one_land(circle(1.0), "EP"))[0]
    assert round_pad.openings[0].shape.kind == "circle"
    assert round_pad.coverage == pytest.approx(0.65)


def test_long_lands_are_divided_by_bars_only():
    opening = apertures(one_land(rectangle(8.0, 2.0), "4", 90.0))[0]
    assert len(opening.openings) == 2
    assert opening.area_mm2 == pytest.approx((8.0 - 0.2) * 2.0)
    assert {round(one.x_mm, 9) for one in opening.openings} == {1.0}
    assert sorted(round(one.y_mm, 9) for one in opening.openings) == [-0.05, 4.05]


def test_published_aperture_of_a_published_land():
    outline = find("SON-6-1.0x1.0")
    carried = outline.published_land
    assert carried is not None
    pattern = one_land(rectangle(carried.length_mm, carried.width_mm), style="published")
    shape = apertures(pattern, outline=outline)[0].openings[0].shape
    assert (shape.length_mm, shape.width_mm) == (carried.aperture_length_mm, carried.aperture_width_mm)
    ours = apertures(pattern, ApertureRules(published=False), outline)[0]
    assert ours.coverage == pytest.approx(1.0)
    by_goals = apertures(one_land(rectangle(0.6, 0.17)), outline=outline)[0]
    assert by_goals.coverage == pytest.approx(1.0)


def test_published_middle_aperture_of_a_published_land():
    outline = find("SON-5-0.8x0.8")
    assert outline.centre_terminal
    middle = apertures(one_land(circle(0.25), outline.centre_terminal, style="published"), outline=outline)[0]
    assert middle.openings[0].shape == circle(0.24)
    corner = apertures(one_land(rectangle(0.42, 0.22), "1", style="published"), outline=outline)[0]
    assert corner.coverage == pytest.approx(1.0)


@pytest.mark.parametrize(
    "wrong",
    [
        {"pane_coverage": 0.1},
        {"pane_coverage": 1.2},
        {"corner_mm": -0.1},
        {"pane_bar_mm": 0.0},
        {"largest_pane_mm": -1.0},
        {"board_mm": 0.0},
        {"drilled": "wave"},
    ],
)
def test_impossible_rules_are_refused(wrong):
    with pytest.raises(InputError, match=next(iter(wrong))):
        ApertureRules(**wrong)


@pytest.mark.parametrize("wrong", [(0, 0.9, 0.9, 3.3, 3.3), (9, 0.0, 0.9, 3.3, 3.3), (9, 1.2, 1.2, 3.3, 3.3)])
def test_impossible_coverage_is_refused(wrong):
    with pytest.raises(InputError, match="pane-coverage"):
        pane_coverage(*wrong)


def drilled(pitch=2.54, rows=7.62, each=4):
    lands = []
    for k in range(2 * each):
        side, place = divmod(k, each)
        at = Placed(circle(1.5), rows / 2 if side else -rows / 2, (place - 1.5) * pitch, 0.0 if side else 180.0)
        lands.append(Land(str(k + 1), at, at, at, hole_mm=0.9))
    return LandPattern("by hand", "goals", "nominal", tuple(lands), (10, 10), pitch - 1.5, 0.1)


def test_drilled_lands_are_printed_only_when_asked():
    assert apertures(drilled()) == ()
    with pytest.raises(InputError, match="needs the leads and the foil"):
        apertures(drilled(), ApertureRules(drilled="paste-in-hole"))


def test_overprint_grows_until_its_neighbours_and_keeps_clear():
    openings = apertures(drilled(), ApertureRules(drilled="paste-in-hole"), find("DIP-8"), foil_um=120.0)
    assert len(openings) == 8
    assert openings[0].paste_wanted_mm3 == pytest.approx(openings[7].paste_wanted_mm3)
    shapes = [opening.openings[0].geometry() for opening in openings]
    gaps = [shapely.distance(a, b) for k, a in enumerate(shapes) for b in shapes[:k]]
    assert min(gaps) == pytest.approx(0.5)
    box = openings[0].openings[0].shape
    assert (box.length_mm, box.width_mm) == pytest.approx((7.12, 2.04))


def test_overprint_stops_when_the_hole_has_enough():
    roomy = drilled(pitch=12.0, rows=30.0)
    opening = apertures(roomy, ApertureRules(drilled="paste-in-hole"), find("DIP-8"), foil_um=200.0)[0]
    assert opening.paste_wanted_mm3 is not None
    assert opening.area_mm2 * 0.2 == pytest.approx(opening.paste_wanted_mm3)
    shape = opening.openings[0].shape
    assert np.isclose(shape.length_mm, shape.width_mm)
