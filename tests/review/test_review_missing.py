"""Openings left out, centre pads unlike those of like parts: put back, asked about where the film tells too little."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.review.building import openings
from landwise.review.mending.centres import ODD
from landwise.review.mending.likeness import ALONE, OWN
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviews import Asked, review
from landwise.review.seating import seat_of

from .boards import board, box, chip, grown, quad, side
from .secondmodel import harmful, prints_unlike


def row(x, y, count, pitch, length, width):
    """Lands of a connector: one row, nothing that faces it."""
    return [box(x, y + k * pitch, length, width) for k in range(count)]


def four(x, y, pad, share=0.65):
    """Four panes over a square pad."""
    edge, step = pad * np.sqrt(share) / 2, pad * 0.25
    return [box(x + dx, y + dy, edge, edge) for dx in (-step, step) for dy in (-step, step)]


def slotted(x, y):
    """A pad that fills three quarters of its box."""
    return shapely.union_all([box(x, y, 2.6, 1.8), box(x, y, 1.3, 2.6)])


@pytest.fixture(scope="module")
def found():
    """One made-up side with a fault of each kind, under one foil."""
    lands, paste, self = [], [], {}
    for name, its, left in (
        ("row", row(0, 0, 8, 0.5, 1.6, 0.3), 3),
        ("chip", chip(20, 0, 1.9, 0.9, 1.2), 0),
    ):
        self[name] = its[left]
        lands += its
        paste += [one for k, one in enumerate(its) if k != left]
    for k in range(3):
        at = 12.0 * k, 20.0
        its = quad(*at, 6, 0.5, 3.9, 0.8, 0.26)
        lands += [*its, box(*at, 2.6, 2.6)]
        paste += [*its, *([box(*at, 2.6, 2.6)] if k == 1 else four(*at, 2.6))]
    its = quad(40, 20, 7, 0.5, 4.4, 0.8, 0.26)
    lands += [*its, slotted(40, 20)]
    paste += [*its, slotted(40, 20)]
    made = review(board(side(lands, paste)), preset("ordinary"), Asked(foils_um=(100,), apply="all")).sides[0]
    return made, self


def proposed(found, x, y):
    """The proposal and the outlines that lie around a place."""
    made, _ = found
    here = shapely.Point(x, y).buffer(0.9)
    its = [change for change in made.changes if any(shape.intersects(here) for shape in change.after)]
    [number] = {change.proposal for change in its}
    return made.proposals[number], [shape for change in its for shape in change.after]


def test_an_opening_left_out_of_a_row_is_put_back_as_its_likes_are(found):
    one, [shape] = proposed(found, 0, 1.5)
    assert shape.symmetric_difference(found[1]["row"]).area < 1e-6
    assert (one.rule, one.asked) == ("missing", "")
    assert one.defects_before is None  # a row tells no family: nothing is claimed of its joints
    assert one.rejects_before - one.rejects_after == pytest.approx(1.0, abs=1e-3)


def test_a_bare_land_of_a_lone_chip_is_drawn_as_its_other_land(found):
    one, [shape] = proposed(found, *found[1]["chip"].centroid.coords[0])
    assert shape.symmetric_difference(found[1]["chip"]).area < 1e-6
    assert one.asked == OWN


def test_a_bare_land_of_a_size_of_its_own_is_drawn_as_the_land_and_said_to_be_a_guess():
    lands = [*(box(x, 0, 1.0, 1.6) for x in (-2.3, 0, 2.3)), box(0, 6, 3.4, 1.8)]
    named = openings(lands, ["V1"] * 4, ["1", "2", "3", "4"])
    one = SideInput("top", openings(lands[:3]), named, openings(grown(lands, 0.05)))
    made = review(BoardInput("tab", (one,)), preset("ordinary"), Asked(foils_um=(100,))).sides[0]
    [change] = [change for change in made.changes if made.proposals[change.proposal].rule == "missing"]
    assert change.after[0].equals(lands[3])
    assert made.proposals[change.proposal].asked == ALONE


def test_a_full_centre_pad_is_printed_as_on_its_likes(found):
    one, shapes = proposed(found, 12, 20)
    assert shapely.union_all(shapes).symmetric_difference(shapely.union_all(four(12, 20, 2.6))).area < 1e-6
    assert one.what == "drawn as on like parts"


def test_a_full_pad_of_a_shape_of_its_own_gets_panes_that_are_cut_to_it(found):
    one, shapes = proposed(found, 40, 20)
    assert one.asked == ODD
    assert shapely.union_all(shapes).difference(slotted(40, 20)).area < 1e-9
    assert 0.45 < sum(shape.area for shape in shapes) / slotted(40, 20).area < 0.8


def test_nothing_of_it_is_harmful(found):
    assert harmful(found[0]) == []


@pytest.mark.parametrize(
    ("panes", "says"),
    [
        ([], "nothing"),
        (four(0, 0, 2.6, 0.35), "paste"),
        ([box(x, y, 0.13, 0.13) for x in np.arange(-1.1, 1.2, 0.2) for y in np.arange(-1.1, 1.2, 0.2)], "area ratio"),
        ([box(0, 0, 1.2, 1.7)], "spans"),
        ([shapely.affinity.translate(one, 0.35, 0) for one in four(0, 0, 2.6)], "off the middle"),
        ([box(0, 0, 2.1, 2.1)], "wide"),
    ],
)
def test_the_second_model_tells_panes_that_print_otherwise(panes, says):
    assert any(says in text for text in prints_unlike(panes, four(0, 0, 2.6), box(0, 0, 2.6, 2.6), 100))
    assert prints_unlike(four(0, 0, 2.6, 0.7), four(0, 0, 2.6), box(0, 0, 2.6, 2.6), 100) == []


def test_a_film_moved_over_dense_copper_and_a_gang_mask_is_found():
    """Where tracks cover most of a board, most of a film that moved by 4 mm still lies on something."""
    rng = np.random.default_rng(4)
    pads = [box(x, y, 0.6, 0.3) for x, y in zip(rng.uniform(0, 40, 90), rng.uniform(0, 40, 90), strict=True)]
    tracks = [box(20, y, 44, 0.35) for y in np.arange(-2, 44, 0.5)]
    gang = [box(x, y, 2.2, 1.6) for x, y in ((one.centroid.x, one.centroid.y) for one in pads[:45])]
    mask = openings([*gang, *(one.buffer(0.05) for one in pads[45:])])
    copper = openings([*pads, *tracks], kinds=["flash"] * len(pads) + ["stroke"] * len(tracks))
    paste = openings([shapely.affinity.translate(one, 0, -4.0) for one in pads])
    seat = seat_of(paste, copper, mask)
    assert seat is not None
    assert seat.says == "paste lies 4.00 mm below copper"
    assert seat_of(openings(pads), copper, mask) is None
