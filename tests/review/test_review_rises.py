"""What no list of proposals may hold: defects that rise, a part twice, a land called bare that is printed."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.cli.reviewtold import proposal_line
from landwise.review.building import openings
from landwise.review.foilchoice import FoilRow, choose
from landwise.review.levels import Level
from landwise.review.mending import weighing
from landwise.review.mending.sheet import Draft
from landwise.review.reviews import Asked, review

from .boards import board, box, dual, grown, side
from .secondmodel import foil_by_hand, foil_row

LINE = preset("ordinary")


def judged(lands, paste, um=120):
    return review(board(side(lands, paste)), LINE, Asked(foils_um=(um,))).sides[0]


def weighed(shrunk):
    """A proposal as a real board had it: a chip's opening, 1.6 times its narrow land, drawn as the land or moved."""
    land = box(0, 0, 0.17, 0.86)
    opening = box(0.02, 0, 0.27, 0.86)
    after = land if shrunk else box(0, 0, 0.27, 0.86)
    sheet = SimpleNamespace(given=SimpleNamespace(paste=openings([opening])))
    draft = Draft("to-land", (0,), {0: (after,)}, {}, "drawn as the land", "the opening is 1.6 times its land")
    levels = [Level(value, value, value, known=True) for value in (0.0016, 0.0080)]
    return weighing.Weighed(draft, *levels, 1.345, 0.004, weighing._brings_back(sheet, draft))


def test_an_opening_is_not_cut_to_its_land_where_its_joints_come_out_worse():
    assert weighed(shrunk=True).harms
    assert not weighed(shrunk=False).harms  # a print brought back onto its land may bridge as its likes do


def odd_part():
    """Five lands that tell no family, two of unlike size printed far beyond them."""
    lands = [box(0, 0, 1, 0.5), box(1.3, 0.1, 1, 0.6), box(0.1, 0.9, 0.5, 0.9), box(1.2, 1.1, 0.8, 0.8)]
    lands.append(box(0.55, 1.9, 0.7, 0.5))
    return lands, [grown([land], 0.16)[0] if k < 2 else land for k, land in enumerate(lands)]


def test_a_part_is_listed_once_for_one_sort_of_change():
    lands, paste = odd_part()
    more = dual(20, 0, 8, 1.27, 5.4, 1.9, 0.6)
    found = judged(lands + more, paste + more)
    told = [(one.rule, one.parts, one.what, one.asked) for one in found.proposals]
    assert len(told) == len(set(told))
    its = [one for one in found.proposals if one.rule == "to-land"]
    assert len(its) == 1
    assert sum(change.proposal == its[0].number for change in found.changes) == 2
    assert its[0].rejects_after < its[0].rejects_before - 1  # both prints are counted
    assert proposal_line(its[0]).count(its[0].parts[0]) == 1


@pytest.mark.parametrize(("overlap", "bare"), [(0.4, False), (0.1, True)])
def test_a_land_that_the_opening_of_another_prints_in_part_is_not_bare(overlap, bare):
    lands = [*dual(0, 0, 8, 0.65, 5.8, 1.4, 0.35), box(10, 0, 0.8, 0.8), box(11.5, 0, 0.8, 0.8)]
    reach = 0.8 * overlap  # into the second land of the pair, which no opening is drawn for
    paste = [*lands[:-2], shapely.box(9.6, -0.4, 11.1 + reach, 0.4)]
    found = judged(lands, paste)
    assert any(finding.key == "missing" for finding in found.findings) == bare


def foil(um, defects, holds, openings=100, turned=0):
    """A foil that comes out better than its rivals in some of ten draws."""
    draws = tuple(defects * (0.01 if k < turned else 1.0) for k in range(10))
    return FoilRow(um, holds, openings - holds, 0, 0.8, *(defects,) * 6, after_draws=draws)


@pytest.mark.parametrize(
    ("rows", "chosen"),
    [
        ((foil(80, 0.020, 40), foil(100, 0.029, 100, turned=2)), 100),  # an equal, and all its openings hold
        ((foil(80, 0.020, 97), foil(100, 0.029, 100, turned=2)), 80),  # three in a hundred are no reason
        ((foil(80, 0.020, 40), foil(100, 0.029, 100)), 80),  # known to be worse
    ],
)
def test_of_foils_that_cannot_be_told_apart_the_one_whose_openings_hold(rows, chosen):
    best, others = choose(rows, 100)
    assert best == chosen
    assert (best, set(others)) == foil_by_hand([foil_row(row) for row in rows], 100)
