"""Boards on a panel: hand-worked layouts, and counts that are worked apart.

The hand-worked ones are own arithmetic: each says what lies beside what. The cut layouts are enumerated as what they
are, every sequence of straight cuts from edge to edge (guillotine cuts, as of Gilmore and Gomory's stock cutting, from
memory), with nothing of `costs.panels` in it.
"""

from __future__ import annotations

import random
from functools import cache

import pytest

from landwise.costs.panels import BoardSize, Panel, coarser, images, panels_a_board, sizes
from landwise.errors import InputError


@pytest.mark.parametrize(
    ("panel", "board", "count", "why"),
    [
        (Panel(200, 130, border_mm=5, gap_mm=2), (40, 30), 12, "190/42 → 4 of 40 (166) by 120/32 → 3 of 30 (94)"),
        (Panel(200, 130, border_mm=5, gap_mm=2), (40, 28.5), 16, "4 × 28.5 + 3 × 2 = 120, exactly"),
        (Panel(200, 130, border_mm=5, gap_mm=2), (40, 28.6), 12, "4 × 28.6 + 3 × 2 = 120.4 is too much"),
        (Panel(200, 130, border_mm=5, gap_mm=2), (28.5, 40), 16, "the same board turned"),
        (Panel(130, 200, border_mm=5, gap_mm=2), (40, 28.5), 16, "and the panel turned"),
        (Panel(200, 130, border_mm=5, gap_mm=2, strip_mm=1), (40, 28.5), 12, "strips on both long edges leave 118"),
        (Panel(130, 200, border_mm=5, gap_mm=2, strip_mm=1), (40, 28.5), 12, "the long edges of this one run across"),
        (Panel(100, 100), (100, 100), 1, "the whole panel"),
        (Panel(100, 100), (100.1, 20), 0, "too long either way"),
        (Panel(457, 610, border_mm=12, gap_mm=0), (100, 80), 28, "433 × 586: 7 of 80 by 4 of 100 is 28, 5 by 5 is 25"),
    ],
)
def test_boards_lie_on_a_panel_as_worked_by_hand(panel, board, count, why):
    assert images(panel, *board) == count, why


@cache
def cut(x: int, y: int, a: int, b: int) -> int:
    """The most boards that straight cuts from edge to edge can part x × y into; no gap. All in whole millimetres."""
    if max(x, y) < min(a, b) or min(x, y) < min(a, b):
        return 0
    most = int((x >= a and y >= b) or (x >= b and y >= a))
    for at in range(min(a, b), x // 2 + 1):
        most = max(most, cut(at, y, a, b) + cut(x - at, y, a, b))
    for at in range(min(a, b), y // 2 + 1):
        most = max(most, cut(x, at, a, b) + cut(x, y - at, a, b))
    return most


def test_mixed_rows_are_no_more_than_all_cuts_and_no_fewer_than_one_way_round():
    rng, better, short = random.Random(7), 0, 0
    for _ in range(150):
        x, y, a, b = rng.randint(15, 40), rng.randint(15, 40), rng.randint(5, 14), rng.randint(5, 14)
        one_way, mixed = images(Panel(x, y), a, b), images(Panel(x, y, mixed=True), a, b)
        assert one_way == max((x // a) * (y // b), (x // b) * (y // a))
        assert one_way <= mixed <= cut(x, y, a, b) <= x * y // (a * b)
        better += mixed > one_way
        short += mixed < cut(x, y, a, b)
    assert better > 20  # mixing pays now and then
    assert short < 30  # and mostly is all that cuts can do


def test_a_gap_counts_between_boards_only():
    # A gap added to the board and to the panel is the same as a gap between boards.
    rng = random.Random(3)
    for _ in range(200):
        x, y, a, b = rng.randint(40, 90), rng.randint(40, 90), rng.randint(8, 30), rng.randint(8, 30)
        for mixed in (False, True):
            told = images(Panel(x, y, gap_mm=2, mixed=mixed), a, b)
            assert told == images(Panel(x + 2, y + 2, mixed=mixed), a + 2, b + 2)


@pytest.mark.parametrize("mixed", [False, True])
@pytest.mark.parametrize("side", ["length", "width", "either"])
def test_the_steps_of_a_size_are_all_there_are(mixed, side):
    """Against a fine sweep of areas: at every one, the count is that of the smallest size that still holds it."""
    rng = random.Random(11)
    for _ in range(12):
        panel = Panel(rng.uniform(120, 260), rng.uniform(100, 200), 5, 0, rng.choice((0.0, 2.0)), mixed)
        length, width = rng.uniform(25, 60), rng.uniform(20, 45)
        least, most = 0.7 * length * width, 1.2 * length * width
        found = sizes(panel, length, width, (least, most), side)
        for n in range(301):
            area = least + (most - least) * n / 300
            ways = [(length, area / length)] * (side != "length") + [(area / width, width)] * (side != "width")
            told = max((one.images for one in found if one.area_mm2 >= area * (1 - 1e-9)), default=0)
            assert told == max(images(panel, *way) for way in ways), (panel, length, width, area)


def test_sizes_that_are_left_out_count_as_the_next_larger_one():
    every = [BoardSize(n, 100.0 / n, 10.0) for n in range(1, 40)]
    kept = coarser(every, 10, 17)
    assert len(kept) <= 10
    assert {every[0], every[17], every[-1]} <= set(kept)
    assert coarser(every, 50, 3) == every


def test_whole_panels_are_bought():
    assert panels_a_board(1, 100) == 1
    assert panels_a_board(101, 100) * 101 == pytest.approx(2)


def test_a_board_has_two_sides():
    with pytest.raises(InputError, match="a length and a width"):
        images(Panel(100, 100), 0, 10)
