"""What a review says of names, films and corrections is so: bottoms, headers, windows."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from landwise.assembly.lines import preset
from landwise.review.causes import boards_at_stake, causes, lands_left_bare, questions
from landwise.review.filmsout import films, writable
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, review
from landwise.sheets.reviewcontent import content_of
from landwise.sheets.revieworder import order_of, order_text

from .boards import board, box, dual, quad, side

LINE = preset("ordinary")
EXAMPLE = Path(__file__).parents[2] / "examples" / "logger" / "fabrication"
ONE_FOIL = Asked(foils_um=(100,))
ROWS = [land for k in range(4) for land in dual(14 * k, 0, 10, 0.65, 5.8, 1.4, 0.35)]


def placed(*more, package=""):
    return tuple((f"U{k + 1}", 14.0 * k, 0.0, 0.0, package) for k in range(4)) + more


def names_of(found):
    return {part.name for part in found.sides[0].given.parts}


# --- names ---


def test_bottom_parts_get_bottom_names():
    bare = replace(side(ROWS), side="bottom")
    assert names_of(review(board(bare), LINE, ONE_FOIL)) == {"b1", "b2", "b3", "b4"}
    assert names_of(review(board(side(ROWS)), LINE, ONE_FOIL)) == {"t1", "t2", "t3", "t4"}
    told = replace(bare, placements=placed())
    assert names_of(review(board(told), LINE, ONE_FOIL)) == {"U1", "U2", "U3", "U4"}


def test_a_placement_that_matches_nothing_is_said():
    one = replace(side(ROWS), placements=placed(("U9", 70.0, 40.0, 0.0, ""), ("R7", -30.0, 8.0, 0.0, "")))
    assert "top: 2 placements match no pattern of lands there: U9, R7" in review(board(one), LINE, ONE_FOIL).notes
    one = replace(side(ROWS), placements=placed(("U9", 70.0, 40.0, 0.0, "")))
    assert "top: 1 placement matches no pattern of lands there: U9" in review(board(one), LINE, ONE_FOIL).notes
    one = replace(side(ROWS), placements=placed())
    assert not any("no pattern of lands" in note for note in review(board(one), LINE, ONE_FOIL).notes)


@pytest.mark.parametrize(
    ("package", "lent"),
    [("TSSOP-20", True), ("TSSOP-20_P0.65mm", True), ("TSSOP-14", False), ("R_0603", False), ("SSOP-20_P0.5mm", False)],
)
def test_package_and_pitch_must_fit_before_a_placement_lends_its_name(package, lent):
    strange = (("U4", 42.0, 0.0, 0.0, package),)
    one = replace(side(ROWS), placements=placed()[:3] + strange)
    found = review(board(one), LINE, ONE_FOIL)
    assert ("U4" in names_of(found)) is lent
    assert any("no pattern of lands there: U4" in note for note in found.notes) is not lent


# --- films ---


def test_a_corrected_film_says_at_its_head_that_it_was_changed_by_what_and_from_which_file():
    read = read_board(EXAMPLE, {})
    found = writable(review(read.board, LINE, replace(ONE_FOIL, apply="safe")), read)
    [one] = found.sides
    assert one.written
    head = films(found, read)["paste-top.gbr"].decode().split("%FS")[0]
    source = EXAMPLE / "logger-top-paste.gbr"
    assert "Changed by landwise" in head
    assert f"{len(one.written)} openings; every other one as it came" in head
    assert f"From {source.name}, {source.stat().st_size} bytes" in head
    assert hashlib.sha256(source.read_bytes()).hexdigest() in head
    rules = {one.proposals[change.proposal].rule for change in one.written}
    assert all(rule in head for rule in rules)
    assert "For a foil of 100 um" in head


# --- deliberate designs ---


def windows(x, y, pad, share, count=2):
    """Small panes over a centre pad."""
    edge, step = pad * (share / count**2) ** 0.5, pad / count
    at = [(k - (count - 1) / 2) * step for k in range(count)]
    return [box(x + dx, y + dy, edge, edge) for dx in at for dy in at]


@pytest.mark.parametrize("share", [0.14, 0.25])
def test_small_windows_on_a_centre_pad_are_asked_about_and_never_raised_by_themselves(share):
    lands, paste = [], []
    for k in range(2):
        # Lands as wide as the house draws them. Under narrower ones (0.26 mm) the pad's paste would open more joints
        # than it keeps from bridging, so that nothing would be proposed at all.
        its = quad(14 * k, 0, 8, 0.5, 4.9, 0.8, 0.30)
        lands += [*its, box(14 * k, 0, 3.4, 3.4)]
        paste += [*its, *windows(14 * k, 0, 3.4, share)]
    found = review(board(side(lands, paste)), LINE, replace(ONE_FOIL, apply="safe")).sides[0]
    assert found.written == ()
    pads = [one for one in found.proposals if one.rule == "panes"]
    assert pads
    assert all(one.asked for one in found.proposals)
    assert all(f"{100 * share:.0f} %" in one.reason for one in pads)


def test_half_printed_power_tabs_are_asked_about_and_never_raised_by_themselves():
    """A tab of 6 mm by 6 mm with half its paste, as makers draw it where the part must lie flat; common practice."""
    lands, paste = [], []
    for k in range(3):
        leads = [box(16 * k - 6, y, 1.6, 1.0) for y in (-2.28, 2.28)]
        lands += [*leads, box(16 * k + 1, 0, 6.0, 6.0)]
        paste += [*leads, *windows(16 * k + 1, 0, 6.0, 0.5)]
    found = review(board(side(lands, paste)), LINE, replace(ONE_FOIL, apply="safe")).sides[0]
    assert found.written == ()
    assert all(one.asked for one in found.proposals)


# --- the first page and the order sheet ---


def test_a_land_left_bare_is_at_stake_on_every_board_and_an_order_with_open_corrections_is_not_released():
    read = read_board(EXAMPLE, {})
    found = review(read.board, LINE, ONE_FOIL)
    assert boards_at_stake(found) == (500.0, 500.0, 500.0)
    assert content_of(found, [[]])["stake"].startswith("Each of 500 boards would need rework")
    said = order_text(order_of(found, {}, date(2026, 11, 29)))
    source = EXAMPLE / "logger-top-paste.gbr"
    total = hashlib.sha256(source.read_bytes()).hexdigest()
    assert "NOT RELEASED: corrections proposed and not made for U8, C6, U4" in said
    assert f"{source.name}, as it came" in said
    assert f"{total[:32]} {total[32:]}" in said
    mended = writable(review(read.board, LINE, replace(ONE_FOIL, apply="all")), read)
    assert lands_left_bare(mended.sides[0]) == 0
    assert boards_at_stake(mended)[0] < 5
    layers = films(mended, read)
    said = order_text(order_of(mended, layers, date(2026, 11, 29)))
    assert "NOT RELEASED" not in said
    assert "made by us from logger-top-paste.gbr" in said
    assert hashlib.sha256(layers["paste-top.gbr"]).hexdigest()[:32] in said


@pytest.mark.parametrize(("technology", "never"), [("laser-cut", "electroformed"), ("nano-coated", "or coated")])
def test_the_stencil_maker_is_not_asked_for_what_the_foil_has_already(technology, never):
    line = replace(preset("ordinary"), technology=technology)
    found = review(board(side(dual(0, 0, 12, 0.4, 5.8, 1.2, 0.14))), line, Asked(foils_um=(150,)))
    asks = questions(causes(found.sides[0]), (), line.technology)[
        "stencil maker"
    ]  # as if nothing were proposed for them
    assert any("release" in text for text in asks)
    assert not any(never in text for text in asks)
