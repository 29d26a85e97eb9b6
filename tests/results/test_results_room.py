"""Packages larger than today's on a board of no stated size: whether there is room is asked first, not assumed."""

from __future__ import annotations

from functools import cache

import pytest

from landwise.board.choice import choose_board
from landwise.board.result import BoardResult
from landwise.judging.study import run_study
from landwise.results.answer import reply
from landwise.results.roomwords import more_room_mm2
from landwise.results.told import asked
from landwise.study.file import study_from
from landwise.workbench.boardresult import ROOM_FIELDS, asks

SMALL, LARGE = "TSSOP-14", "SO-14"
PRICES = [{"outline": SMALL, "price": 0.40}, {"outline": LARGE, "price": 0.10}]


@cache
def chosen(present: str = SMALL, size: str = "", most: str = "") -> BoardResult:
    part = {
        "refs": ["U1", "U2"],
        "terminals": 14,
        "package": present,
        "number": "00",
        "family": "HC",
        "options": PRICES,
    }
    board = {"length": size, "width": size} if size else {}
    want = {"board_limits": {"area": most}} if most else {}
    data = {"part": [part], "board": board, "want": want, "line": {"foil": "120 um"}}
    return choose_board(run_study(study_from(data)), reasons=False)


def test_a_package_larger_than_todays_asks_for_room_with_the_area_and_the_part() -> None:
    result = chosen()
    part = result.parts[0]
    assert part.chosen is not None
    assert part.present is not None
    assert (part.present.name, part.chosen.name) == (SMALL, LARGE)
    more = 2 * (part.chosen.area_mm2 - part.present.area_mm2)
    assert more_room_mm2(result) == pytest.approx(more)
    said = next(line for line in asked(result) if "room" in line)
    assert f"{more:.3g} mm² more" in said
    assert f"in {LARGE}" in said
    assert asks(result)[: len(ROOM_FIELDS)] == list(ROOM_FIELDS)
    assert "see that there is room" in reply(result)


@pytest.mark.parametrize(
    "given", [{"present": LARGE}, {"size": "60 mm"}, {"most": "500 mm2"}], ids=["no larger", "sized", "limited"]
)
def test_nothing_is_asked_where_nothing_grows_or_the_room_is_stated(given: dict[str, str]) -> None:
    result = chosen(**given)
    assert not any("is there room" in line for line in asked(result))
    assert "room" not in reply(result) or "size" in given
