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
