"""Lands are matched and grouped into parts from geometry alone; the patterns are made up."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
import shapely
from shapely import affinity

from landwise.review.building import openings
from landwise.review.grouping import components
from landwise.review.lands import lands_of, with_touch
from landwise.review.matching import match, registration
from landwise.review.model import Component
from landwise.review.placing import shifted

from .boards import box, chip, drilled, dual, grown, quad


def found(shapes: list[shapely.Polygon]) -> tuple[Component, ...]:
    pads = openings(shapes)
    return components(lands_of(pads, pads, openings(grown(shapes, 0.05))), "top")


def kinds(shapes: list[shapely.Polygon]) -> Counter[tuple[str, int]]:
    return Counter((part.kind, len(part.lands)) for part in found(shapes))


@pytest.mark.parametrize(
    ("shapes", "kind", "count"),
    [
        (dual(0, 0, 10, 0.65, 5.8, 1.4, 0.35), "gull-wing dual", 20),
        (dual(0, 0, 3, 0.5, 0.9, 0.45, 0.25), "leadless dual", 6),
        (quad(0, 0, 25, 0.5, 15.4, 1.5, 0.30), "gull-wing quad", 100),
        ([*quad(0, 0, 6, 0.5, 3.9, 0.8, 0.26), box(0, 0, 2.6, 2.6)], "leadless quad", 25),
        ([box(x * 0.5, y * 0.5, 0.25, 0.25) for x in range(4) for y in range(4)], "grid", 16),
        (chip(0, 0, 0.96, 0.5, 0.6), "chip", 2),
        ([box(0, 0, 3, 2)], "single", 1),
    ],
)
def test_one_pattern_is_one_part_of_its_kind(shapes, kind, count):
    assert kinds(shapes) == {(kind, count): 1}


@pytest.mark.parametrize("turn", [0, 30, 90, 137.5])
def test_a_turned_pattern_is_the_same_part(turn):
    shapes = [affinity.rotate(land, turn, origin=(3, 1)) for land in dual(0, 0, 10, 0.65, 5.8, 1.4, 0.35)]
    assert kinds(shapes) == {("gull-wing dual", 20): 1}


def test_rows_of_equal_parts_in_line_pair_up_with_their_own_partner():
    # Three parts in a column stand nearer to each other (2.5 mm) than their own rows do (5.8 mm).
    shapes = [land for k in range(3) for land in dual(8.3 * k, 0, 10, 0.65, 5.8, 1.4, 0.35)]
    assert kinds(shapes) == {("gull-wing dual", 20): 3}
    assert sorted(round(part.x_mm, 3) for part in found(shapes)) == [0, 8.3, 16.6]


def test_chips_side_by_side_and_end_to_end_stay_apart():
    shapes = [land for k in range(8) for land in chip(0, 0.85 * k, 0.96, 0.5, 0.6)]
    shapes += [land for k in range(5) for land in chip(4 + 1.75 * k, 0, 0.96, 0.5, 0.6)]
    assert kinds(shapes) == {("chip", 2): 13}


def test_a_missing_corner_land_does_not_split_a_quad():
    shapes = quad(0, 0, 11, 0.8, 11.4, 1.8, 0.45)
    shapes[5] = affinity.scale(shapes[5], 1.0, 1.4)
    assert [part.kind for part in found(shapes) if len(part.lands) >= 43] == ["gull-wing quad"]


def test_attributes_outrank_geometry():
    shapes = chip(0, 0, 0.96, 0.5, 0.6) + chip(0, 1, 0.96, 0.5, 0.6)
    pads = openings(shapes, ["R1", "R2", "R1", "R2"], ["1", "1", "2", "2"])
    parts = components(lands_of(pads, pads, openings(grown(shapes, 0.05))), "top")
    assert {part.name: part.lands for part in parts} == {"R1": (0, 2), "R2": (1, 3)}


def test_placements_from_another_origin_find_their_parts():
    generator = np.random.default_rng(4)
    places = generator.uniform(0, 60, (30, 2)).round(2)
    shapes = [land for x, y in places for land in chip(x, y, 0.96, 0.5, 0.6)]
    listed = tuple((f"R{k}", x - 101.5, y + 7.25, 0.0, "R0402") for k, (x, y) in enumerate(places))
    moved, move, met = shifted(listed, found(shapes))
    assert move == pytest.approx((101.5, -7.25), abs=1e-6)
    assert met >= 25  # boxes of 0.1 mm split a few votes
    assert [(x, y) for _, x, y, _, _ in moved] == [pytest.approx(tuple(place)) for place in places]


def test_placements_of_another_board_are_left_alone():
    generator = np.random.default_rng(5)
    shapes = [land for x, y in generator.uniform(0, 60, (30, 2)) for land in chip(x, y, 0.96, 0.5, 0.6)]
    listed = tuple((f"R{k}", x, y, 0.0, "") for k, (x, y) in enumerate(generator.uniform(0, 60, (30, 2))))
    assert shifted(listed, found(shapes))[1] is None


def test_land_is_flashed_copper_cut_to_its_opening():
    copper = openings([box(0, 0, 2, 1), box(30, 0, 30, 30)])
    mask = openings([box(0, 0, 1.6, 2)])
    lands = lands_of(openings([box(0, 0, 1, 1)]), copper, mask)
    assert lands.basis == "copper and mask"
    assert lands.area_mm2.tolist() == pytest.approx([1.6])


def test_copper_cut_by_mask_decides_not_a_small_anchor():
    anchor, drawn = box(0, 0, 0.2, 0.2), box(0.6, 0, 2, 1)
    copper = openings([anchor, drawn], kinds=["flash", "region"])
    under_mask = openings([anchor, box(10, 0, 30, 30)], kinds=["flash", "region"])
    mask = openings([box(0.5, 0, 1.6, 1.4)])
    assert lands_of(openings([anchor]), copper, mask).area_mm2.tolist() == pytest.approx([1.6])
    assert lands_of(openings([anchor]), under_mask, mask).area_mm2.tolist() == pytest.approx([1.6 * 1.4])


def test_a_plane_in_the_mask_s_clearance_is_no_other_land():
    pad, plane = box(0, 0, 0.3, 0.8), box(0, 0, 20, 20)
    copper = openings([pad, plane], kinds=["flash", "region"])
    lands = lands_of(openings([pad]), copper, openings(grown([pad], 0.05)))
    assert lands.area_mm2.tolist() == pytest.approx([0.24])


def test_land_in_a_plane_is_its_mask_opening():
    copper = openings([box(0, 0, 40, 40)], kinds=["region"])
    lands = lands_of(openings([box(3, 3, 1, 1)]), copper, openings([box(3, 3, 1.2, 1.2)]))
    assert lands.area_mm2.tolist() == pytest.approx([1.44])
    assert with_touch(lands, np.array([0]), copper).touch.tolist() == [1.0]


def test_track_that_leaves_a_land_is_seen_on_its_edge():
    pad, track = box(0, 0, 0.6, 0.6), box(2, 0, 4, 0.2)
    copper = openings([pad, track], kinds=["flash", "stroke"])
    lands = lands_of(openings([pad]), copper, openings(grown([pad], 0.05)))
    assert lands.area_mm2.tolist() == pytest.approx([0.36])
    assert 0 < with_touch(lands, np.array([0]), copper).touch[0] < 0.2


def test_vias_are_counted_in_their_land():
    pads = openings([box(0, 0, 3, 3), box(5, 0, 1, 1)])
    holes = drilled((0.5, 0.5, 0.3), (-0.5, 0.5, 0.2), (9, 9, 1.0))
    lands = lands_of(pads, pads, openings(grown([box(0, 0, 3, 3), box(5, 0, 1, 1)], 0.05)), holes)
    assert lands.holes.tolist() == [2, 0]
    assert lands.hole_mm.tolist() == [0.3, 0.0]


def test_panes_share_their_land_and_its_coverage():
    land = box(0, 0, 3, 3)
    panes = [box(x, y, 1, 1) for x in (-0.8, 0.8) for y in (-0.8, 0.8)]
    pads = openings([land])
    lands = lands_of(openings(panes), pads, openings(grown([land], 0.05)))
    matched = match(openings(panes), lands)
    assert matched.land.tolist() == [0] * 4
    assert matched.printed.tolist() == [4]
    assert matched.coverage[0] == pytest.approx(4 / 9)


def test_shift_scale_and_turn_of_a_film_are_recovered():
    generator = np.random.default_rng(6)
    places = generator.uniform(0, 80, (60, 2))
    copper = [box(x, y, 0.6, 0.4) for x, y in places]
    middle = places.mean(axis=0)
    # Turn in radians of 1e-4, 200 ppm longer, then shifted by 20 and -12 µm.
    moved = (places - middle) * 1.0002
    moved = moved + 1e-4 * np.column_stack([-moved[:, 1], moved[:, 0]]) + middle + [0.020, -0.012]
    paste = openings([box(x, y, 0.6, 0.4) for x, y in moved])
    lands = lands_of(paste, openings(copper), openings(grown(copper, 0.05)))
    film = registration(paste, lands, match(paste, lands))
    assert film is not None
    assert (film.shift_x_mm, film.shift_y_mm) == pytest.approx((0.020, -0.012), abs=2e-4)
    assert film.scale_ppm == pytest.approx(200, abs=3)
    assert film.turn_urad == pytest.approx(100, abs=3)
