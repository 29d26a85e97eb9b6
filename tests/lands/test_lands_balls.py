"""Balls to lands between and beyond the table's rows."""

from __future__ import annotations

import pytest

from landwise.errors import InputError, ValidityError
from landwise.evidence import source
from landwise.lands.balls import ball_land, ball_table, rigid_ball_land


@pytest.mark.parametrize(
    ("ball", "row"),
    [
        (0.23, 0.25),
        (0.26, 0.25),
        (0.275, 0.25),
        (0.276, 0.30),
        (0.225, 0.20),
        (0.775, 0.75),
        (0.125, 0.15),
    ],
)
def test_nearest_row_and_the_smaller_one_at_a_tie(ball, row):
    assert ball_land(ball).ball_mm == row


def test_gap_between_the_large_rows_goes_to_the_nearest():
    assert ball_land(0.66).ball_mm == 0.60
    assert ball_land(0.69).ball_mm == 0.75


@pytest.mark.parametrize("ball", [0.0, 0.10, 0.79, float("nan"), -0.3])
def test_balls_outside_the_table_are_refused(ball):
    with pytest.raises(ValidityError, match="no published land"):
        ball_land(ball)


def test_rows_are_in_order_and_within_their_range():
    rows = ball_table()
    assert [row.ball_mm for row in rows] == sorted((row.ball_mm for row in rows), reverse=True)
    for row in rows:
        assert row.low_mm <= row.land_mm <= row.high_mm
        assert row.land_mm < row.ball_mm
        assert source(row.source)


def test_rigid_balls_stand_on_larger_lands():
    # 15, 10 and 5 % of the ball (from memory).
    assert [rigid_ball_land(0.6, level).land_mm for level in ("most", "nominal", "least")] == [0.69, 0.66, 0.63]


@pytest.mark.parametrize(("ball", "level"), [(0.0, "nominal"), (float("inf"), "nominal"), (0.6, "B")])
def test_impossible_rigid_balls_are_refused(ball, level):
    with pytest.raises(InputError):
        rigid_ball_land(ball, level)
