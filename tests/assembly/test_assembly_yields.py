"""Boards: yields with what a board shares, and the industry's counting."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from assembly_brute import share_of_good_boards

from landwise.assembly.boards import Kind, good_boards
from landwise.assembly.partrates import OwnRate, part_rates
from landwise.assembly.rare import Estimate, rates
from landwise.assembly.yields import board_yield, dpmo, opportunities
from landwise.errors import InputError


def kind(part, count):
    good = rates(part, asked=0.1).first_pass
    return Kind(part, count, Estimate(1 - good.value, 1 - good.high, 1 - good.low))


# A gull-wing row, a leadless pair of rows and a grid; few and many parts; little and much in common.
BOARDS = [
    ((("TVSOP-14", 100.0, 1),), 100_000),
    ((("TVSOP-14", 100.0, 30),), 6_000),
    ((("SON-5-0.8x0.8", 100.0, 12),), 20_000),
    ((("WLP-5-0.5", 150.0, 10), ("TSSOP-14", 60.0, 20)), 6_000),
    ((("SON-5-0.8x0.8", 150.0, 5), ("TVSOP-14", 125.0, 8)), 10_000),
]


@pytest.mark.parametrize("common", [0.05, 0.5, 0.95])
@pytest.mark.parametrize(("parts", "boards"), BOARDS)
def test_boards_are_as_good_as_counting_says(model, parts, boards, common):
    kinds = [kind(model(name, foil, own=(("volume_common", common),)), count) for name, foil, count in parts]
    worked = good_boards(kinds)
    counted = share_of_good_boards([(one.model, one.count) for one in kinds], boards)
    error = 1.645 * math.sqrt(counted * (1 - counted) / boards)
    # Two 90 % intervals; fifteen comparisons at once.
    assert abs(worked.value - counted) < 1.5 * ((worked.high - worked.low) / 2 + error)
    assert (worked.high - worked.low) / 2 <= 0.2 * (1 - worked.value) + 1e-9


def test_shared_paste_makes_more_good_boards_than_independent_parts_would(model):
    # Thirty parts that bridge on days of high slump fail together: fewer boards are bad than the product says.
    one = kind(model("TVSOP-14"), 30)
    found = good_boards([one])
    assert found.low > (1 - one.bad.value) ** 30


def test_a_part_s_yield_is_a_board_of_one(model):
    one = kind(model("SON-5-0.8x0.8"), 1)
    found = good_boards([one])
    assert 1 - found.value == pytest.approx(one.bad.value, rel=0.25)


def test_rare_defects_add_up_over_a_board(model):
    one = kind(model("TSSOP-14", 80.0), 40)
    found = good_boards([one])
    assert 0.5 < (1 - found.value) / (40 * one.bad.value) <= 1.01


def test_the_same_board_gives_the_same_bytes(model):
    one = kind(model("TVSOP-14"), 3)
    assert good_boards([one]) == good_boards([one])


def test_a_board_adds_up_its_parts_at_every_draw(model):
    one, other = part_rates(model("TSSOP-14")), part_rates(model("TVSOP-14"))
    board = board_yield([(one, 3), (other, 2)])
    total = sum(3 * one.draws()[name] + 2 * other.draws()[name] for name in one.draws())
    assert board.defects.value == pytest.approx(total.mean())
    assert board.defects.high == pytest.approx(np.quantile(total, 0.95))
    assert board.opportunities == 2 * 5 + 5 * 14
    assert board.first_pass.low < board.first_pass.value < board.first_pass.high < 1
    assert board.first_pass.value > board.apart


def test_own_rates_are_independent_of_the_day(model):
    own = OwnRate("gull-wing dual", 500.0, 500.0)
    found = part_rates(model("TSSOP-14"), own)
    board = board_yield([(found, 10)])
    other = found.draws()["other"]
    assert board.first_pass.value == pytest.approx(np.mean(np.exp(-10 * (14e-3 + other))), rel=1e-9)


def test_hidden_defects_are_kept_apart(model, with_geometry):
    part = model("QFN-16-2.5x3.5")
    assert part_rates(part).hidden == 0
    under = with_geometry(
        part,
        joints=tuple(replace(joint, hidden=True) for joint in part.geometry.joints),
        pair_classes=tuple((n, count, count) for n, count, _ in part.geometry.pair_classes),
        joint_classes=tuple((n, count, count) for n, count, _ in part.geometry.joint_classes),
    )
    hidden = part_rates(under)
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
