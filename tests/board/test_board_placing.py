"""The placement check of a study: from the study file to result.json, terminal text and drawing."""

from __future__ import annotations

import re
from functools import cache

import pytest

from invented_parts import LITTLE_GATE
from landwise.board.build import board_model
from landwise.board.choice import choose_board
from landwise.board.placing import NOT_A_LAYOUT, UM, place_board, room_of
from landwise.choosing.optimum import solve
from landwise.choosing.packing import NO_PRINT, faults
from landwise.choosing.packing.model import free_area
from landwise.errors import InputError
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.printing.foils import step_keep_out
from landwise.results.choice import choice_data
from landwise.results.choicejson import ChoiceJson
from landwise.results.choicewords import choice_lines
from landwise.sheets.clashes import texts_clash
from landwise.sheets.placing import PAGE_MM, placing_picture, placing_svg
from landwise.sheets.svg import Disc
from landwise.study.file import Board, study_from
from worked_example import worked_example

GATE = LITTLE_GATE | {"options": [{"outline": "SOT-23-5", "price": 0.03}, {"outline": "SC-70-5", "price": 0.03}]}
QUAD = {
    "refs": ["U3"],
    "number": "00",
    "family": "HC",
    "terminals": 14,
    "package": "DIP-14",
    "options": [{"outline": "DIP-14", "price": 0.1}, {"outline": "TSSOP-14", "price": 0.1}],
}
BUFFER = {
    "refs": ["U4"],
    "number": "245",
    "family": "LVC",
    "terminals": 20,
    "package": "SO-20W",
    "locked": True,
    "options": [{"outline": "SO-20W", "price": 0.1}],
}

ONE_FOIL = {"foils": ["100 um"], "foil": "100 um"}  # courtyards hang on no foil: one is enough to place parts


def placed(*parts, board, **tables):
    """The check of the best choice, without the explanations that take most of a study's time."""
    result = run_study(study_from({"part": list(parts), "board": board, "line": ONE_FOIL, **tables}))
    model = board_model(result)
    return place_board(model, solve(model.problem), result.parts)


@pytest.fixture(scope="module")
def example():
    return worked_example().result


def items(placing):
    return [place.item for place in placing.answer.placement]


def test_the_example_fits_and_todays_packages_do_not(example):
    placing = example.choice.placing
    assert placing.answer.verdict == "fits"
    assert placing.today.verdict == "does not fit"
    assert faults(items(placing), placing.room, placing.answer.placement, placing.answer.strips) == []
    assert placing.says.endswith("today's packages: does not fit")


def test_every_reference_lies_on_the_board_with_the_courtyard_of_its_choice(example):
    placing = example.choice.placing
    refs = [ref for part in example.parts for ref in part.part.refs]
    assert sorted(item.name for item in items(placing)) == sorted(refs)
    for part in example.parts:
        edges = sorted(round(edge * UM) for edge in part.chosen.geometry.pattern.courtyard_mm)
        for place in placing.answer.placement:
            if place.item.name in part.part.refs:
                rect = place.rect
                assert sorted((rect.x2 - rect.x1, rect.y2 - rect.y1)) == edges


def test_result_and_terminal_say_it_with_the_words_that_bound_it(example):
    told = ChoiceJson.model_validate(choice_data(example.choice))
    assert told.placing.verdict == "fits"
    assert {place.name for place in told.placing.places} == {ref for part in example.parts for ref in part.part.refs}
    lines = [text for text in choice_lines(told) if NOT_A_LAYOUT in text]
    assert lines == [f"on the board (a packing check, not a layout): {told.placing.says}"]
    stretch = sum(one.length_mm * one.width_mm for one in told.placing.reserved)
    assert stretch >= 4480


def test_where_the_choice_has_no_room_the_cheapest_board_that_has_is_named():
    gates = {**GATE, "options": [{"outline": "SOT-23-5", "price": 0.01}, {"outline": "SC-70-5", "price": 0.30}]}
    study = study_from(
        {"part": [gates], "board": {"length": "8 mm", "width": "4 mm", "edge_clearance": "0.1 mm"}, "line": ONE_FOIL}
    )
    result = choose_board(run_study(study))
    placing = result.choice.placing
    assert result.choice.options(result.choice.best) == {"U1": "SOT-23-5"}
    assert placing.answer.verdict == "does not fit"
    way = placing.way_out
    assert result.choice.options(way.point.found) == {"U1": "SC-70-5"}
    assert result.choice.points[way.number - 1] is way.point
    assert way.more == pytest.approx(way.point.values[0] - result.choice.cost)
    assert way.more > 0
    assert "units per board more: SC-70-5" in placing.says
    told = ChoiceJson.model_validate(choice_data(result.choice)).placing.way_out
    assert told.board == way.number


def test_a_memory_gives_the_same_answer_and_keeps_none_that_was_cut_off():
    study = study_from({"part": [GATE, BUFFER], "board": {"length": "17.5 mm", "width": "14.6 mm"}, "line": ONE_FOIL})
    memory = Memory()
    result = run_study(study)
    model = board_model(result, memory=memory)
    best = solve(model.problem)
    plain = placed(GATE, BUFFER, board={"length": "17.5 mm", "width": "14.6 mm"})
    calls = iter([False, *[True] * 10_000])
    place_board(model, best, result.parts, stop=lambda: next(calls))
    kept = place_board(model, best, result.parts)
    again = place_board(model, best, result.parts)
    assert kept.answer == plain.answer
    assert again.answer is kept.answer


def test_without_a_board_size_nothing_is_checked():
    result = choose_board(run_study(study_from({"part": [GATE], "line": ONE_FOIL})))
    assert result.choice.placing is None
    assert choice_data(result.choice)["placing"] is None
    assert not any(NOT_A_LAYOUT in line for line in choice_lines(ChoiceJson.model_validate(choice_data(result.choice))))


def test_a_board_too_small_is_denied_with_a_proof():
    placing = placed(BUFFER, board={"length": "40 mm", "width": "12 mm"})
    assert placing.answer.verdict == "does not fit"
    assert "larger than any free rectangle" in placing.says


def test_a_drilled_part_takes_both_sides_and_others_share_them():
    board = {"length": "35 mm", "width": "14.5 mm", "sides": 2}
    parts = {**QUAD, "locked": True}, {**BUFFER, "refs": ["U4", "U5"]}
    placing = placed(*parts, board=board)
    assert placing.answer.verdict == "fits"
    drilled = next(item for item in items(placing) if item.name == "U3")
    assert drilled.through
    assert drilled.foil == NO_PRINT
    assert {place.side for place in placing.answer.placement if not place.item.through} == {0, 1}
    assert placed(*parts, board={**board, "sides": 1}).answer.verdict == "does not fit"


def test_test_lands_are_placed_where_every_net_is_to_be_probed():
    board = {"length": "40 mm", "width": "30 mm"}
    without = placed(GATE, board=board)
    placing = placed(GATE, board=board, want={"probe_access": True})
    lands = [item for item in items(placing) if item.kind == "test land"]
    assert len(items(without)) == 2
    assert len(lands) == sum(option.geometry.probing.test_lands for option in placing.options.values()) > 0
    assert {(item.length, item.width) for item in lands} == {(1905, 1905)}


@cache
def stepped():
    line = {
        "preset": "fine",
        "foils": ["100 um", "80 um"],
        "foil": "100 um",
        "technology": "laser-cut",
        "powder": "T4",
        "least_ball_pitch": "0.4 mm",
        "steps_allowed": True,
    }
    small = {**GATE, "options": [{"outline": "WLP-5-0.4", "price": 0.01}], "alternates": ["WLP-5-0.4"]}
    even = {**BUFFER, "locked": False, "alternates": ["SO-20W"]}
    return placed(small, even, board={"length": "30 mm", "width": "20 mm"}, line=line)


def test_a_step_zone_keeps_its_distance_from_parts_of_the_other_foil():
    placing = stepped()
    assert placing.foils_um == (100.0, 80.0)
    assert placing.room.gap(0, 1) == round(step_keep_out(20.0) * UM)
    foils = {place.item.name: place.item.foil for place in placing.answer.placement}
    assert foils == {"U1": 1, "U2": 1, "U4": 0}
    rects = {place.item.name: place.rect for place in placing.answer.placement}
    for ref in ("U1", "U2"):
        assert not rects[ref].grown(placing.room.gap(0, 1)).meets(rects["U4"])


def test_a_fitted_part_of_unknown_package_is_named_not_forgotten():
    odd = {"refs": ["U9"], "number": "mystery", "terminals": 5, "options": [{"outline": "WLP-5-0.5"}]}
    placing = placed(GATE, odd, board={"length": "40 mm", "width": "30 mm"}, want={"hidden_joints": "never"})
    assert "left out, as no package is known: U9" in placing.says


@pytest.mark.parametrize(
    ("board", "place", "says"),
    [
        ({"length": "9 mm", "width": "5 mm", "edge_clearance": "2.5 mm"}, "board, edge_clearance", "leaves no board"),
        ({"edge_clearance": "-1 mm"}, "board, edge_clearance", "can't be negative"),
        ({"reserved": "-1 mm2"}, "board, reserved", "can't be negative"),
        ({"reserved": "30"}, "board, reserved", "unit of this area is missing"),
        ({"length": "0 mm", "width": "5 mm"}, "board, length", "no size of a board"),
        ({"length": "3 m", "width": "5 mm"}, "board, length", "no size of a board"),
        (
            {"keepouts": [{"x": "0 mm", "y": "0 mm", "length": "1 mm", "width": "1 mm"}]},
            "board, keepouts",
            "need the board's size",
        ),
        (
            {
                "length": "9 mm",
                "width": "5 mm",
                "keepouts": [{"name": "screw", "x": "8 mm", "y": "0 mm", "length": "2 mm", "width": "1 mm"}],
            },
            "board, keepouts, number 1 (screw)",
            "leaves the board",
        ),
        (
            {
                "length": "9 mm",
                "width": "5 mm",
                "keepouts": [{"x": "1 mm", "y": "0 mm", "length": "0 mm", "width": "1 mm"}],
            },
            "board, keepouts, number 1 (keep-out)",
            "needs a length and a width",
        ),
        ({"keepouts": [{"x": "1 mm", "length": "2 mm", "width": "1 mm"}]}, "board, keepouts, number 1, y", "missing"),
    ],
)
def test_a_board_that_makes_no_sense_is_refused_by_field(board, place, says):
    with pytest.raises(InputError) as caught:
        study_from({"board": board, "part": [GATE]})
    assert says in caught.value.message
    assert caught.value.place == place


def test_units_and_sides_of_keepouts_reach_the_room():
    out = {"x": "1 cm", "y": "100 mil", "length": "5 mm", "width": "2540 um", "side": "bottom"}
    room = room_of(Board(length="60 mm", width="40 mm", keepouts=[out], reserved="2 cm2", sides=2), (100.0,))
    keepout = room.keepouts[0]
    assert (keepout.rect.x1, keepout.rect.y1, keepout.rect.x2, keepout.rect.y2) == (10000, 2540, 15000, 5080)
    assert keepout.sides == (1,)
    assert room.reserved == 200 * UM * UM
    assert free_area(room.blocked(0), room.inside) - free_area(room.blocked(1), room.inside) == 5000 * 2540


def test_the_drawing_is_true_to_its_scale_and_its_texts_are_clear(example):
    placing = example.choice.placing
    picture, scale = placing_picture(placing)
    assert texts_clash(picture) == []
    assert picture.width <= PAGE_MM[0] + 0.5
    words = {text.text for text in picture.texts}
    assert {"90.00", "60.00", "kept for all else", "screw", *(item.name for item in items(placing))} <= words
    assert any("A packing check, not a layout" in text for text in words)
    svg = placing_svg(placing)
    board = re.search(r'<path d="M([\d.]+) ([\d.]+)L([\d.]+) \2L\3 ([\d.]+)', svg)
    assert float(board[3]) - float(board[1]) == pytest.approx(90 * scale)
    assert float(board[4]) - float(board[2]) == pytest.approx(60 * scale)


def test_two_sides_and_test_lands_are_drawn():
    board = {"length": "30 mm", "width": "24 mm", "sides": 2}
    placing = placed({**QUAD, "locked": True}, GATE, board=board, want={"probe_access": True})
    picture, _ = placing_picture(placing)
    assert texts_clash(picture) == []
    words = " ".join(text.text for text in picture.texts)
    assert "top side" in words
    assert "seen from above through the board" in words
    discs = [mark for mark in picture.marks if isinstance(mark, Disc)]
    assert len(discs) == sum(item.kind == "test land" for item in items(placing)) > 0


def test_step_zones_and_what_finds_no_place_are_drawn():
    words = " ".join(text.text for text in placing_picture(stepped())[0].texts)
    assert "stepped to 80\u2009µm with 0.72\u2009mm around" in words
    small = placed(GATE, QUAD, board={"length": "9 mm", "width": "4 mm"})
    assert small.answer.verdict == "does not fit"
    words = " ".join(text.text for text in placing_picture(small)[0].texts)
    assert "No place in the best attempt: " in words


def test_a_crowd_of_small_parts_is_drawn_without_names_and_says_so():
    crowd = {**GATE, "refs": [f"U{n}" for n in range(1, 71)]}
    picture, _ = placing_picture(placed(crowd, board={"length": "160 mm", "width": "90 mm"}))
    words = " ".join(text.text for text in picture.texts)
    assert "references of small parts stand in result.json" in words
    assert "U7" not in words
