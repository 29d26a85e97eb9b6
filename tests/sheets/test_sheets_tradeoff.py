"""The plot of whole boards, and what the report says about the choice."""

from __future__ import annotations

import re

import pytest

from landwise.board.result import board_result
from landwise.sheets.boardpage import board_page, tradeoff_svg
from landwise.sheets.clashes import texts_clash
from landwise.sheets.tradeoff import CHOICE, TODAY, Board, tradeoff_chart, tradeoff_picture
from worked_example import worked_example

BOARDS = [
    Board(10, 5, "1", "point"),
    Board(12, 3, "the choice", CHOICE),
    Board(30, 9, "today", TODAY),
    Board(13, 4, "", "other"),
]


def test_boards_are_labelled_without_clashes():
    picture = tradeoff_picture(BOARDS, "area", "cost")
    assert texts_clash(picture) == []
    svg = tradeoff_chart(BOARDS, "area", "cost", prefix="t")
    assert all(word in svg for word in ("the choice", "today"))


@pytest.fixture(scope="module")
def result():
    return worked_example().result


def test_the_section_numbers_the_boards_as_the_plot_does(result):
    page = board_page(result)
    assert page is not None
    assert [row[0] for row in page["points"]] == [str(n) for n in range(1, len(page["points"]) + 1)]
    assert sum(row[3] == "the choice" for row in page["points"]) == 1
    assert page["steps"][-1][3] == "100%"
    assert ">the choice<" in (tradeoff_svg(result) or "")


def test_ranking_by_part_has_no_section(result):
    alone = result.judged
    assert board_page(board_result(alone)) is None
    assert tradeoff_svg(board_result(alone)) is None


def test_a_far_board_of_today_does_not_squeeze_the_others():
    near = [Board(100 + 10 * n, 9 - 0.1 * n, str(n), "point") for n in range(5)]

    def width(boards):
        spots = re.findall(r'<circle cx="([\d.]+)"', tradeoff_chart(boards, "area", "cost", prefix="t"))
        return max(map(float, spots)) - min(map(float, spots))

    assert width([*near, Board(900, 30, "today", TODAY)]) == width(near)
    assert "off this plot: 900, 30" in tradeoff_chart([*near, Board(900, 30, "today", TODAY)], "a", "c", prefix="t")
