"""Faults of which the film leaves no doubt are mended without a question; with fewer witnesses they are asked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.review.reviews import Asked, review

from .boards import board, box, chip, dual, side
from .secondmodel import harmful

SAFE = Asked(foils_um=(100,), apply="safe")
FAR = dual(60, 0, 30, 0.65, 5.8, 1.4, 0.35)  # sixty lands that are printed whole: how this film prints

# A placement file that names these and no other part.
NAMED = [(30.0 + 9 * k, 20.0 + 3.0 * k * k) for k in range(8)]
OTHERS = [*FAR, *(land for at in NAMED for land in chip(*at, 3.0, 1.1, 2.5))]
LISTED = [("U1", 60.0, 0.0, 0.0, ""), *((f"R{k}", *at, 0.0, "R_1206") for k, at in enumerate(NAMED, 1))]


def row(count, x=0.0):
    """A connector's lands."""
    return [box(x, 0.5 * k, 1.6, 0.3) for k in range(count)]


def scaled(shapes, by=0.62):
    return [shapely.affinity.scale(one, by, by) for one in shapes]


def written(lands, paste, placements=()):
    """What is written unasked, and the proposals; the second model agrees."""
    one = replace(side(lands, paste), placements=tuple(placements))
    made = review(board(one), preset("ordinary"), SAFE).sides[0]
    assert harmful(made) == []
    return made.written, made.proposals


def without(shapes, *left):
    return [one for k, one in enumerate(shapes) if k not in left]


def test_one_opening_left_out_of_many_alike_is_put_back_unasked():
    lands = row(8)
    [change], _ = written([*lands, *FAR], [*without(lands, 3), *FAR])
    assert change.after[0].equals_exact(lands[3], 1e-6)


@pytest.mark.parametrize(("count", "left"), [(4, (2,)), (8, (3, 5))])
def test_with_too_few_witnesses_or_more_than_one_bare_it_is_asked(count, left):
    lands = row(count)
    changes, proposals = written([*lands, *FAR], [*without(lands, *left), *FAR])
    assert changes == ()
    assert all(one.asked for one in proposals)


@pytest.mark.parametrize("named", [True, False])
def test_the_bare_end_of_a_chip_is_printed_unasked_where_a_file_names_the_chip(named):
    chips = [chip(0, 8.0 * k, 1.9, 0.9, 1.2) for k in range(3)]
    lands = [land for one in chips[:1] for land in one]
    listed = [("U1", 60.0, 0.0, 0.0, ""), ("R1", 0.0, 0.0, 0.0, "R_0805"), ("R2", 30.0, 0.0, 0.0, "R_0805")]
    more = chip(30, 0, 1.9, 0.9, 1.4)
    changes, proposals = written([*lands, *more, *FAR], [lands[1], *more, *FAR], listed if named else ())
    assert len(changes) == int(named)
    assert any(one.rule == "missing" and bool(one.asked) is not named for one in proposals)


@pytest.mark.parametrize(("likes", "unasked"), [(4, True), (3, False)])
def test_the_bare_end_of_a_chip_is_printed_unasked_where_enough_like_chips_are_printed(likes, unasked):
    lands = [land for k in range(likes + 1) for land in chip(-9.0 * k, 3.0 * k * k, 1.9, 0.9, 1.2)]
    changes, proposals = written([*lands, *OTHERS], [*lands[1:], *OTHERS], LISTED)
    assert len(changes) == int(unasked)
    assert [bool(one.asked) for one in proposals if one.rule == "missing"] == [not unasked]
    if unasked:
        assert changes[0].after[0].symmetric_difference(lands[0]).area < 1e-6


def test_a_like_chip_that_is_printed_at_one_end_too_makes_it_a_question():
    lands = [land for k in range(7) for land in chip(-9.0 * k, 3.0 * k * k, 1.9, 0.9, 1.2)]
    changes, _ = written([*lands, *OTHERS], [*without(lands, 0, 4), *OTHERS], LISTED)
    assert changes == ()


@pytest.mark.parametrize(("across", "left", "unasked"), [(5, (7,), True), (5, (7, 13), False), (3, (4,), False)])
def test_one_bare_ball_of_many_is_printed_unasked(across, left, unasked):
    lands = [box(0.8 * i, 0.8 * j, 0.4, 0.4) for i in range(across) for j in range(across)]
    changes, proposals = written([*lands, *OTHERS], [*without(lands, *left), *OTHERS], LISTED)
    assert len(changes) == int(unasked)
    assert any(one.rule == "missing" for one in proposals)


def test_a_part_printed_far_below_a_film_that_prints_its_lands_whole_is_raised_unasked():
    lands = row(12)
    changes, _ = written([*lands, *FAR], [*scaled(lands), *FAR])
    assert len(changes) == 12
    areas = np.array([shapely.union_all(change.after).area for change in changes])
    assert areas == pytest.approx(np.full(12, lands[0].area), rel=0.05)


@pytest.mark.parametrize("by", [0.62, 0.72])
def test_it_is_asked_where_the_film_tells_too_little_or_half_a_land_is_printed(by):
    lands = row(12)
    others = FAR if by > 0.65 else FAR[:20]
    changes, proposals = written([*lands, *others], [*scaled(lands, by), *others])
    assert changes == ()
    assert all(one.asked for one in proposals)
