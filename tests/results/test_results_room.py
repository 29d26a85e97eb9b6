"""Saved area on a fixed outline is room: what of the board's own packages it would hold, and where it is told.

Worked by hand on two SO-16 that become TSSOP-16; areas are those of the courtyards that the options themselves give.
"""

from __future__ import annotations

import math
import re

import pytest

from landwise.board.choice import choose_board
from landwise.cli.boardlines import board_lines
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.answer import reply
from landwise.results.roomwords import room_line, room_of
from landwise.sheets.frontpage import sentences
from landwise.study.file import study_from
from worked_example import worked_example

MEMORY = Memory()
PANEL = {"length": "200 mm", "width": "130 mm", "border": "5 mm", "gap": "2 mm", "price": 20.0}


def chosen(**board):
    options = [{"outline": "SO-16", "price": 0.10}, {"outline": "TSSOP-16", "price": 0.02}]
    part = {"refs": ["U1", "U2"], "number": "595", "family": "HC", "terminals": 16, "package": "SO-16"}
    whole = {"length": "40 mm", "width": "30 mm"} | board
    line = {"foil": "120 um", "print": "as lands"}
    stated = {"part": [part | {"options": options}], "board": whole, "line": line, "costs": {"rates": {"outline": 0.0}}}
    return choose_board(run_study(study_from(stated)), memory=MEMORY, reasons=False)


@pytest.fixture(scope="module")
def fixed():
    return chosen(may_shrink=False)


def test_saved_room_is_counted_in_the_largest_package_chosen(fixed):
    areas = {option.name: option.area_mm2 for option in fixed.parts[0].options}
    room = room_of(fixed)
    saved = 2 * (areas["SO-16"] - areas["TSSOP-16"])
    assert fixed.parts[0].chosen.name == "TSSOP-16"
    assert room.saved_mm2 == pytest.approx(saved)
    assert room.share == pytest.approx(saved / (2 * areas["SO-16"]))
    assert (room.package, room.of, room.fixed) == ("TSSOP-16", "U1", True)
    assert room.more == math.floor(saved / areas["TSSOP-16"])
    assert room_line(fixed).startswith(f"{saved:.3g} mm² saved on a fixed outline: room, not money; as much as")


def test_page_one_the_terminal_in_full_and_the_reply_tell_it(fixed):
    said = room_line(fixed)
    assert ("Room", f"{said}.") in [(name, text[0].lower() + text[1:]) for name, text in sentences(fixed)]
    assert any(line.plain == f"room: {said}" for line in board_lines(fixed, whole=True))
    assert not any("room" in line.plain for line in board_lines(fixed))  # ten lines are enough
    assert "the rest is room on your fixed outline, not money" in reply(fixed)


def test_where_the_outline_follows_a_panel_would_price_it():
    said = room_line(chosen(may_shrink=True))
    assert "room" not in said
    assert said.endswith("[board.panel] would count it in boards a panel")


@pytest.mark.parametrize("board", [{"panel": PANEL, "may_shrink": False}, {"length": None, "width": None}])
def test_nothing_is_said_twice_or_of_a_size_that_nobody_stated(board):
    assert room_line(chosen(**board)) == ""


def test_a_reply_has_five_sentences_at_most_and_three_figures(fixed):
    example = worked_example()
    texts = [(example.folder / "reply.txt").read_text(encoding="utf-8"), reply(fixed), reply(fixed, "U1")]
    texts += [reply(example.result, part.part.refs[0]) for part in example.result.parts]
    for text in texts:
        parts = re.split(r"(?<=[.!?])\s+(?=[A-Z])", text.strip())
        assert 3 <= len(parts) <= 5, text
        figures = next(one for one in parts if one.startswith("That takes"))
        told = r"That takes [\d.]+ mm².*, costs [^,]*board[^,]*(, [\d.]+ today)?, and .*joints?.*\."
        assert re.fullmatch(told, figures), figures


def test_the_reply_for_one_part_hangs_on_that_part_alone():
    result = worked_example().result
    for part in result.parts:
        told = reply(result, part.part.refs[0])
        if "hangs on: " in told:
            hangs = re.split(r"\.\s", told.split("hangs on: ")[1])[0]
            assert set(part.part.refs) & set(re.findall(r"\w+", hangs)), told
