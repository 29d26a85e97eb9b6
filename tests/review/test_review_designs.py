"""The designed print of a part whose lands tell what it is: proposed where the whole part gains, never by itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.review.building import openings
from landwise.review.decisions import parsed
from landwise.review.jobs import read_board
from landwise.review.mending.designs import LEAST_SAVED
from landwise.review.mending.rules import rules_of
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviews import Asked, review

from .boards import box, dual, grown, quad
from .secondmodel import harmful

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
TURNS = (0.0, 90.0, 180.0, 37.0)


def fine_board(turns=TURNS):
    """A leadless quad and a leaded dual of 0.5 mm pitch for each turn, printed one to one."""
    lands, paste = [], []
    for k, turn in enumerate(turns):
        at = (14.0 * k, 0.0)
        its = dual(*at, 16, 0.5, 7.4, 1.4, 0.30)
        turned = [shapely.affinity.rotate(shape, turn, origin=at) for shape in its]
        lands += turned
        paste += turned
        at = (14.0 * k, 14.0)
        its = quad(*at, 8, 0.5, 4.9, 0.8, 0.30)
        turned = [shapely.affinity.rotate(shape, turn, origin=at) for shape in its]
        lands += turned
        paste += turned
    return lands, paste


def judged(lands, paste, **asked):
    mask = openings(grown(lands, 0.05))
    one = SideInput("top", openings(paste), openings(lands), mask)
    return review(BoardInput("made up", (one,)), preset("ordinary"), Asked(foils_um=(100,), **asked)).sides[0]


@pytest.fixture(scope="module")
def side():
    return judged(*fine_board(), apply="safe")


def test_a_marginal_part_of_a_known_family_gets_its_designed_print_as_a_question(side):
    found = [one for one in side.proposals if one.rule == "designed"]
    assert found
    for one in found:
        assert one.asked
        assert one.defects_after < 0.7 * one.defects_before
        assert one.defects_before - one.defects_after >= LEAST_SAVED
        assert len(one.parts) == len(TURNS)  # all parts of a package get one treatment
        assert "sigma of the line's scatter" in one.reason
    numbers = {one.number for one in found}
    assert numbers.isdisjoint({change.proposal for change in side.written})
    assert [one.number for one in side.proposals] == list(range(len(side.proposals)))


def test_a_design_lies_on_its_lands_however_its_part_is_turned(side):
    numbers = {one.number for one in side.proposals if one.rule == "designed"}
    changed = [change for change in side.changes if change.proposal in numbers and change.after]
    assert changed
    lands = side.given.lands.polygon
    for change in changed:
        land = lands[side.given.matched.land[change.aperture]]
        print_ = shapely.union_all(change.after)
        assert print_.intersection(land).area > 0.85 * print_.area
        assert print_.distance(land.centroid) == 0
        away = print_.centroid.distance(land.centroid)
        assert away < 0.1


def test_all_parts_of_a_package_are_drawn_alike(side):
    numbers = {one.number for one in side.proposals if one.rule == "designed"}
    for number in numbers:
        areas = [change.area_after_mm2 for change in side.changes if change.proposal == number]
        assert np.ptp(areas) < 1e-5


def test_a_design_is_written_once_it_is_accepted_and_no_second_model_calls_it_harmful(side):
    everything = judged(*fine_board(), apply="all")
    numbers = {one.number for one in everything.proposals if one.rule == "designed"}
    assert numbers <= {change.proposal for change in everything.written}
    assert harmful(everything) == []
    promised = sum(one.defects_before - one.defects_after for one in side.proposals if one.rule == "designed")
    assert promised > 0
    assert side.expected[0] - everything.expected[0] == pytest.approx(promised, rel=0.01)
    text = '[[decision]]\nanswer = "accept"\nrule = "designed"\n'
    accepted = judged(*fine_board(), apply="none", decisions=parsed(text.encode(), "d.toml"))
    assert {change.proposal for change in accepted.written} == numbers


def test_parts_that_rules_leave_alone_get_no_design():
    rules = rules_of(b'[[rule]]\nkinds = ["gull-wing dual", "leadless dual"]\nleave = true\n', "r.toml")
    from landwise.review.mending.rules import shipped

    both = replace(shipped(), rules=shipped().rules + rules.rules)
    found = judged(*fine_board((0.0,)), rules=both)
    kinds = {one.package.split(",")[0] for one in found.proposals if one.rule == "designed"}
    assert not kinds & {"gull-wing dual", "leadless dual"}


def test_a_sound_print_is_not_drawn_anew():
    lands = dual(0, 0, 7, 1.27, 5.4, 1.9, 0.6)
    assert judged(lands, lands).proposals == ()


def test_a_part_with_an_opening_that_another_rule_mends_keeps_to_that_rule():
    lands, paste = fine_board((0.0, 0.0))
    film = [box(*shape.centroid.coords[0], 0.2, 0.1) if k == 3 else shape for k, shape in enumerate(paste)]
    found = judged(lands, film)
    mended = {name for one in found.proposals if one.rule != "designed" for name in one.parts}
    designed = {name for one in found.proposals if one.rule == "designed" for name in one.parts}
    assert mended
    assert not mended & designed


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
@pytest.mark.parametrize("name", ["gremlin", "snappergps"])
def test_no_design_on_a_real_board_is_harmful(name):
    read = read_board(BOARDS / name, {})
    found = review(read.board, preset("ordinary"), Asked(foils_um=(100,), apply="none"))
    count = 0
    for one in found.sides:
        numbers = {proposal.number for proposal in one.proposals if proposal.rule == "designed"}
        written = tuple(change for change in one.changes if change.proposal in numbers)
        count += len(written)
        assert harmful(replace(one, written=written)) == []
    assert count > 0
