"""What is told first: a foil that all parts share, and that nobody named, is asked about."""

from __future__ import annotations

import pytest

from landwise.board.choice import choose_board
from landwise.cli.boardlines import board_lines
from landwise.judging.study import run_study
from landwise.results.choicewords import gain_sentence
from landwise.results.told import asked, foils_counted
from landwise.sheets.frontpage import sentences
from landwise.study.file import study_from

QUAD = {"refs": ["U1"], "terminals": 14, "package": "TSSOP-14", "options": [{"outline": "TSSOP-14"}]}


@pytest.fixture(scope="module")
def free():
    return choose_board(run_study(study_from({"part": [QUAD]})))


def test_a_foil_that_nobody_named_is_asked_about_and_stands_beside_both_totals(free):
    today, proposed = foils_counted(free)
    assert proposed > today
    assert any(f"{proposed:g} µm foil" in line and "every part of the board" in line for line in asked(free))
    lines = [line.plain for line in board_lines(free)]
    assert "  no package changes: every part stays as it is" in lines
    assert any(f"({today:g} µm foil) →" in line and f"({proposed:g} µm foil) units" in line for line in lines)
    assert f"through a {today:g} µm foil" in dict(sentences(free))["What it gains"]
    assert gain_sentence(free.choice, ["U1"]).startswith(f"no package but {proposed:g} µm foil")


def test_a_stated_foil_is_the_board_s_and_nothing_is_asked():
    result = choose_board(run_study(study_from({"part": [QUAD], "line": {"foil": "120 um"}})))
    assert foils_counted(result) is None
    assert not any("foil" in line for line in asked(result))
