"""Openings whose own size or place is lost are drawn as the rest of the film is, moved rows with their own size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.review.reviews import Asked, review

from .boards import board, box, chip, dual, side
from .secondmodel import harmful

# Eight sizes of land: a rule of the film is what holds for most of them.
OTHERS = [land for k in range(8) for land in chip(20.0, 6.0 * k, 2.0 + 0.1 * k, 0.9 + 0.11 * k, 1.1 + 0.13 * k)]
NAMED = [(f"C{k}", 20.0, 6.0 * k, 0.0, "") for k in range(8)]
PART = dual(0, 0, 7, 0.65, 5.8, 1.4, 0.35)
WAYS = {
    "as the land": lambda one: one,
    "an edge of 40 µm less": lambda one: one.buffer(-0.04, join_style="mitre"),
    "85 % of each side": lambda one: shapely.affinity.scale(one, 0.85, 0.85),
}


def corrected(lands, paste):
    """What the review writes unasked, by row, and its proposals; the second model finds no harm."""
    one = replace(side(lands, paste), placements=(("U1", 0.0, 0.0, 0.0, ""), *NAMED))
    made = review(board(one), preset("ordinary"), Asked(foils_um=(100,), apply="safe")).sides[0]
    assert harmful(made) == []
    return {change.aperture: change.after[0] for change in made.written}, made.proposals


@pytest.mark.parametrize("way", WAYS)
def test_a_part_printed_far_too_small_is_drawn_as_the_film_draws_its_other_lands(way):
    lands = [*PART, *OTHERS]
    good = [WAYS[way](land) for land in lands]
    wrong = [shapely.affinity.scale(one, 0.6, 0.6) for one in good[:14]]
    changes, _ = corrected(lands, [*wrong, *good[14:]])
    assert set(changes) == set(range(14))
    off = [changes[k].symmetric_difference(good[k]).area / good[k].area for k in range(14)]
    assert max(off) < 0.02


def test_where_films_sizes_follow_no_rule_the_land_is_drawn():
    rng = np.random.default_rng(5)
    lands = [*PART, *OTHERS]
    others = [shapely.affinity.scale(one, *rng.uniform(0.8, 1.0, 2)) for one in OTHERS]
    changes, _ = corrected(lands, [*(shapely.affinity.scale(one, 0.6, 0.6) for one in PART), *others])
    assert max(changes[k].symmetric_difference(lands[k]).area for k in range(14)) < 1e-6


@pytest.mark.parametrize("share", [0.85, 0.9])
def test_half_of_a_part_that_moved_is_printed_as_the_half_that_lies_on_its_lands(share):
    lands = [*PART, *OTHERS]
    good = [shapely.affinity.scale(one, share, share) for one in lands]
    moved = [shapely.affinity.translate(one, 0.13, 0.17) for one in good[:7]]
    changes, proposals = corrected(lands, [*moved, *good[7:]])
    assert set(changes) == set(range(7))
    assert [one.rule for one in proposals if not one.asked] == ["unlike"]
    assert max(changes[k].symmetric_difference(good[k]).area for k in range(7)) < 0.01 * good[0].area


def test_a_part_that_moved_as_a_whole_is_moved_back_with_the_size_it_had():
    lands = [*PART, *OTHERS]
    good = [*(shapely.affinity.scale(one, 0.85, 0.85) for one in PART), *OTHERS]
    moved = [shapely.affinity.translate(one, 0.13, 0.17) for one in good[:14]]
    changes, proposals = corrected(lands, [*moved, *OTHERS])
    assert set(changes) == set(range(14))
    assert "moved back onto the land" in {one.what for one in proposals}
    assert max(changes[k].symmetric_difference(good[k]).area for k in range(14)) < 0.01 * good[0].area


@pytest.mark.parametrize("one_of_two", [True, False])
def test_one_end_of_a_chip_printed_beyond_its_land_is_no_designers_own_way(one_of_two):
    """On so large a chip no joint gains; both ends alike may be meant then, and are asked about."""
    lands = chip(0, 30, 3.0, 1.35, 1.4)
    large = [shapely.affinity.scale(land, 1.6, 1.5) for land in lands]
    paste = [large[0], lands[1] if one_of_two else large[1]]
    one = side([*lands, *PART, *OTHERS], [*paste, *PART, *OTHERS])
    one = replace(one, placements=(("C9", 0.0, 30.0, 0.0, ""), ("U1", 0.0, 0.0, 0.0, ""), *NAMED))
    made = review(board(one), preset("ordinary"), Asked(foils_um=(100,), apply="safe")).sides[0]
    assert [change.aperture for change in made.written] == ([0] if one_of_two else [])
    assert {one.rule for one in made.proposals if one.rule != "designed"} == {"to-land"}


@pytest.mark.parametrize("by", [1.6, 1.2])
def test_three_like_lands_are_witnesses_enough_for_one_that_is_printed_far_beside(by):
    """Nobody draws a quarter of one opening of four beside its land; a little more may be meant, and is asked about."""
    lands = [box(x, y, 0.5, 0.3) for x in (-0.5, 0.5) for y in (-0.25, 0.25)]
    large = shapely.affinity.scale(lands[0], by, by)
    one = replace(side([*lands, *PART, *OTHERS], [large, *lands[1:], *PART, *OTHERS]), placements=tuple(NAMED))
    made = review(board(one), preset("ordinary"), Asked(foils_um=(100,), apply="safe")).sides[0]
    assert bool(made.written) is (by > 1.5)
