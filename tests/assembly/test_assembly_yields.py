"""Boards: yields with what a board shares, and the industry's counting."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from landwise.assembly.partrates import OwnRate, part_rates
from landwise.assembly.yields import board_yield, dpmo, opportunities
from landwise.errors import InputError


def test_a_board_of_one_part_has_that_part_s_yield(model):
    found = part_rates(model("TSSOP-14"))
    board = board_yield([(found, 1)])
    assert board.first_pass.value == pytest.approx(found.first_pass.value, abs=2e-4)
    assert board.defects.value == found.defects.value
    assert board.opportunities == 2 + 14


def test_shared_paste_makes_more_good_boards_than_independent_parts_would(model):
    # Thirty parts that bridge on days of high slump fail together: fewer boards are bad than the product says.
    board = board_yield([(part_rates(model("TVSOP-14")), 30)])
    assert board.first_pass.value > board.apart
    assert board.first_pass.value < 1


def test_a_board_agrees_with_boards_put_together_one_by_one(model):
    found = part_rates(model("SON-5-0.8x0.8"))
    weights, good = found.worked.weights, found.worked.good
    expected = np.mean([np.sum(w * g**12) / np.sum(w) for w, g in zip(weights, good, strict=True)])
    assert board_yield([(found, 12)]).first_pass.value == pytest.approx(expected)


def test_own_rates_are_independent_of_the_day(model):
    own = OwnRate("gull-wing dual", 500.0, 500.0)
    found = part_rates(model("TSSOP-14"), own)
    board = board_yield([(found, 10)])
    assert board.first_pass.value == pytest.approx(math.exp(-10 * 14e-3), rel=1e-9)
    assert board.first_pass.value == pytest.approx(board.apart)


def test_hidden_defects_are_kept_apart(model):
    seen = part_rates(model("QFN-16-2.5x3.5"))
    part = model("QFN-16-2.5x3.5")
    under = replace(
        part,
        joints=tuple(replace(joint, hidden=True) for joint in part.joints),
        pair_classes=tuple((n, count, count) for n, count, _ in part.pair_classes),
        joint_classes=tuple((n, count, count) for n, count, _ in part.joint_classes),
    )
    hidden = part_rates(under)
    assert seen.hidden == 0
    assert hidden.hidden == pytest.approx(1, abs=1e-6)
    assert board_yield([(hidden, 2)]).hidden == pytest.approx(2 * hidden.defects.value)


def test_an_empty_board_has_no_yield():
    assert board_yield([]) is None


@pytest.mark.parametrize(("defects", "count"), [(1, 0), (-1, 5)])
def test_rates_without_opportunities_are_refused(defects, count):
    with pytest.raises(InputError):
        dpmo(defects, count)


def test_negative_counts_are_refused():
    with pytest.raises(InputError):
        opportunities(-1, 4)
