"""Findings, foils, steps and corrections on made-up boards."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.errors import InputError
from landwise.review.building import openings
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviewfile import review_text
from landwise.review.reviews import Asked, review
from landwise.review.reviewschema import review_schema
from landwise.review.reviewtables import changes_csv
from landwise.review.zones import zoned

from .boards import board, box, chip, drilled, dual, grown, quad, side

LINE = preset("ordinary")
STEPPED = replace(LINE, steps_allowed=True)


def keys(found):
    return {finding.key for finding in found.findings if finding.level != "not known"}


def fine_and_coarse():
    """A 0.4 mm leadless part and tall gull-wing lands, as many boards mix them."""
    fine = dual(0, 0, 8, 0.4, 2.6, 0.55, 0.16)
    return fine, dual(30, 0, 14, 1.27, 9.3, 2.0, 0.6)


def corrections(found):
    """Changes that mend something; the designed print of a recognised package is a question, of sound ones too."""
    side = found.sides[0]
    made = {proposal.number: proposal for proposal in side.proposals}
    assert all(proposal.asked for proposal in made.values() if proposal.rule == "designed")
    return [change for change in side.changes if made[change.proposal].rule != "designed"]


def test_a_sound_board_has_no_findings():
    lands = dual(0, 0, 10, 0.65, 5.8, 1.4, 0.35) + chip(15, 0, 0.96, 0.5, 0.6)
    found = review(board(side(lands)), LINE)
    assert found.findings == ()
    assert found.verdict == "holds"
    assert corrections(found) == []


def test_paste_without_land_fails_and_is_taken_off():
    lands = dual(0, 0, 10, 0.65, 5.8, 1.4, 0.35)
    found = review(board(side(lands, [*lands, box(20, 20, 1, 1)])), LINE)
    assert keys(found) == {"extra"}
    [change] = corrections(found)
    assert (change.aperture, change.what, change.after) == (20, "removed", ())


def test_a_land_without_paste_in_a_row_is_missed():
    lands = dual(0, 0, 10, 0.65, 5.8, 1.4, 0.35)
    found = review(board(side(lands, lands[1:])), LINE)
    assert keys(found) == {"missing"}
    assert found.findings[0].x_mm == pytest.approx(lands[0].centroid.x)


def test_paste_on_a_fiducial_is_told_from_a_test_land():
    disc, test_land = shapely.Point(0, 0).buffer(0.5, 32), box(6, 0, 1.5, 1.5)
    lands = [disc, test_land]
    mask = [*grown([disc], 0.5), *grown([test_land], 0.05)]
    one = SideInput("top", openings(lands), openings(lands), openings(mask))
    found = review(BoardInput("two lands", (one,)), LINE)
    assert [(f.key, f.level) for f in found.findings] == [("fiducial", "fails"), ("lone-land", "not known")]


def test_paste_beside_its_land_is_cut_back():
    lands = [box(0, 0, 2, 1), box(6, 0, 2, 1)]
    found = review(board(side(lands, [box(0.9, 0, 2, 1), box(6, 0, 2, 1)])), LINE)
    assert "off-land" in keys(found)
    [change] = found.sides[0].changes
    assert change.after[0].within(lands[0].buffer(1e-9))
    assert found.sides[0].proposals[0].asked  # a chip with one odd opening: somebody should look


def test_via_in_a_land_is_told_but_not_under_a_centre_pad():
    lands = [*quad(0, 0, 6, 0.5, 3.9, 0.8, 0.26), box(0, 0, 2.6, 2.6), *chip(10, 0, 1.8, 0.9, 0.95)]
    panes = [box(x, y, 1.05, 1.05) for x in (-0.65, 0.65) for y in (-0.65, 0.65)]
    paste = [*lands[:24], *panes, *lands[25:]]
    found = review(board(side(lands, paste), drilled((0.3, 0.3, 0.3), (10.9, 0, 0.3))), LINE)
    assert [(f.key, len(f.apertures)) for f in found.findings if f.key == "via"] == [("via", 1)]


def test_a_full_centre_pad_gets_panes_of_the_makers_coverage():
    lands = [*quad(0, 0, 6, 0.5, 3.9, 0.8, 0.26), box(0, 0, 2.6, 2.6)]
    found = review(board(side(lands)), LINE)
    assert keys(found) == {"centre"}
    [change] = found.sides[0].changes
    assert len(change.after) == 4
    assert change.area_after_mm2 / 2.6**2 == pytest.approx(0.65, abs=0.01)


def test_unlike_paste_and_unlike_copper_on_a_chip():
    lands = chip(0, 0, 0.96, 0.5, 0.6)
    paste = [lands[0], box(0.48, 0, 0.5, 0.4)]
    assert "unlike-paste" in keys(review(board(side(lands, paste)), LINE))
    plane = openings([*lands, box(-5.48, 0, 10.5, 5)], kinds=["flash", "flash", "region"])
    one = SideInput("top", openings(lands), plane, openings(grown(lands, 0.05)))
    assert keys(review(BoardInput("in a plane", (one,)), LINE)) == {"unlike-copper"}


def test_a_shifted_film_is_told_and_moved_back():
    lands = [box(3 * k, 2 * (k % 7), 0.9, 0.6) for k in range(30)]
    paste = [shapely.affinity.translate(land, 0.08, -0.05) for land in lands]
    found = review(board(side(lands, paste)), LINE)
    assert "registration" in keys(found)
    assert len(found.sides[0].changes) == 30
    moved = found.sides[0].changes[4].after[0]
    assert moved.centroid.x == pytest.approx(lands[4].centroid.x, abs=1e-6)


def test_a_step_is_taken_only_where_it_pays_and_only_as_large_as_it_must():
    fine, coarse = fine_and_coarse()
    foils = (80, 100, 120, 150)
    found = {
        run: review(board(side(fine + coarse)), STEPPED, Asked(foils_um=foils, run=run)) for run in (10, 1_000_000)
    }
    assert found[10].sides[0].choice.step is None
    choice = found[1_000_000].sides[0].choice
    if choice.step is not None:
        assert choice.step.thin_um < choice.step.base_um
        assert choice.step.saves > 0
        assert choice.step.defects < choice.best.after


def test_step_zones_hold_both_keep_outs():
    generator = np.random.default_rng(8)
    paste = openings([box(x, y, 0.8, 0.5) for x, y in generator.uniform(0, 60, (80, 2))])
    wanted = np.zeros(80, dtype=bool)
    wanted[:3] = True
    taken, zones = zoned(paste, np.arange(80), wanted, 1.8)
    assert taken[:3].all()
    edge = shapely.union_all([zone.exterior for zone in zones])
    assert shapely.distance(paste.polygon[taken], edge).min() >= 1.8 - 1e-9
    assert shapely.distance(paste.polygon[~taken], edge).min() >= 0.65 - 1e-9
    assert not shapely.intersects(paste.polygon[~taken], shapely.union_all(zones)).any()


def test_corrections_make_the_print_better_and_touch_nothing_else():
    fine, coarse = fine_and_coarse()
    found = review(board(side(fine + coarse)), LINE, Asked(foils_um=(100,), apply="all"))
    one = found.sides[0]
    row = one.choice.rows[0]
    assert one.written
    assert one.expected[0] < row.defects
    changed = {change.aperture for change in one.written}
    assert changed <= set(range(16))
    kept = [shape for k, shape in enumerate(one.given.paste.polygon) if k not in changed]
    assert all(a is b for a, b in zip(kept, one.after.polygon, strict=False))


def test_tight_prints_are_narrowed_alike_and_no_further_than_release_allows():
    lands = dual(0, 0, 8, 0.4, 5.8, 1.3, 0.3)
    found = review(board(side(lands)), LINE, Asked(foils_um=(100,)))
    narrowed = [change for change in found.sides[0].changes if "narrowed" in change.what]
    assert len(narrowed) == 16
    assert len({round(change.area_after_mm2, 6) for change in narrowed}) == 1
    assert all(change.ratio_after is not None and change.ratio_after > 0.64 for change in narrowed)
    [proposal] = found.sides[0].proposals
    assert proposal.defects_after < proposal.defects_before


def test_review_file_meets_its_schema_and_counts_every_aperture():
    fine, coarse = fine_and_coarse()
    found = review(board(side(fine + coarse)), LINE)
    data = json.loads(review_text(found))
    jsonschema.validate(data, review_schema())
    [one] = data["sides"]
    assert {len(column) for column in one["apertures"].values()} == {len(fine) + len(coarse)}
    assert one["foils"][0]["holds"] + one["foils"][0]["marginal"] + one["foils"][0]["fails"] == len(fine) + len(coarse)


def test_change_table_lists_every_change_and_no_formula_can_run_in_it():
    lands = [*quad(0, 0, 6, 0.5, 3.9, 0.8, 0.26), box(0, 0, 2.6, 2.6)]
    one = side(lands)
    named = openings(lands, ["=1+1"] * 25)
    found = review(BoardInput("x", (SideInput("top", named, named, one.mask),)), LINE)
    rows = changes_csv(found).splitlines()
    assert len(rows) == 1 + len(found.sides[0].changes)
    assert ",'=1+1," in rows[1]


def test_a_board_without_paste_says_so():
    with pytest.raises(InputError, match="no paste aperture"):
        review(BoardInput("bare", (SideInput("top", openings([])),)), LINE)


def test_paste_alone_is_judged_for_what_can_be_known():
    fine, _ = fine_and_coarse()
    found = review(BoardInput("paste only", (SideInput("top", openings(fine)),)), LINE)
    assert any("lands are the apertures themselves" in note for note in found.notes)
    assert keys(found) <= {"release", "powder", "bridging"}


def test_an_opening_over_several_lands_is_pointed_at_and_left_alone():
    lands = dual(0, 0, 8, 0.5, 5.8, 1.4, 0.28) + chip(12, 0, 1.0, 0.5, 0.6)
    rows = [box(x, 0, 1.4, 3.9) for x in (-2.9, 2.9)]  # each row of eight under one opening
    paste = [*rows, *lands[16:]]
    found = review(BoardInput("run together", (side(lands, paste),)), LINE, Asked(foils_um=(100,), apply="all")).sides[
        0
    ]
    [told] = [one for one in found.findings if one.key == "spanning"]
    assert told.level == "fails"
    assert told.value == 8
    assert set(told.apertures) == {0, 1}
    assert not [one for one in found.findings if one.key in ("missing", "extra")]
    assert not [one for one in found.written if one.aperture in (0, 1) or one.component == told.component]
    split = [box(s * 2.9, 0.5 * (k - 3.5), 1.4, 0.28) for s in (-1, 1) for k in range(8)]
    apart = review(BoardInput("apart", (side(lands, [*split, *lands[16:]]),)), LINE, Asked(foils_um=(100,))).sides[0]
    assert not [one for one in apart.findings if one.key == "spanning"]


def test_a_frame_over_a_whole_part_is_not_taken_off_as_paste_without_land():
    lands = [*quad(0, 0, 8, 0.5, 4.9, 0.8, 0.26)]
    frame = shapely.union_all([one.buffer(0.2, join_style="mitre") for one in lands])
    made = shapely.get_parts(frame).tolist()
    found = review(BoardInput("frame", (side(lands, made),)), LINE, Asked(foils_um=(100,), apply="all")).sides[0]
    assert "spanning" in {one.key for one in found.findings}
    assert found.written == ()
