"""Packing against published results on packing squares.

Sources:
- OEIS A038666, least area of a rectangle that holds squares of sizes 1 to n, and A081287 with the rectangles
  themselves ("verified best rectangles"; Korf, Optimal rectangle packing: new results, ICAPS 2004; Huang and Korf,
  New improvements in optimal rectangle packing, IJCAI 2009).
- OEIS A005842, least square that holds squares of sizes 1 to n.
- The squared rectangle 33 by 32 of order 9 (Z. Moroń, 1925) and the squared square 112 of order 21 (A. J. W.
  Duijvestijn, 1978): sizes from memory; that they tile is checked here, so a slip of memory would fail the test.
"""

from __future__ import annotations

import pytest

from landwise.choosing.packing import Item, Placed, Rect, Room, check_packing, faults

LEAST_AREA = {1: 1, 2: 6, 3: 15, 4: 35, 5: 60, 6: 99, 7: 154, 8: 210, 9: 300, 10: 405}  # A038666
BEST = {6: (9, 11), 7: (11, 14), 8: (14, 15), 9: (15, 20), 10: (15, 27), 11: (19, 27), 13: (22, 38), 15: (23, 55)}
LEAST_SQUARE = {2: 3, 3: 5, 4: 7, 5: 9, 6: 11, 7: 13, 8: 15, 9: 18, 10: 21, 11: 24, 12: 27}  # A005842
MORON = (18, 15, 14, 10, 9, 8, 7, 4, 1)
DUIJVESTIJN = (
    (50, 35, 27),
    (8, 19),
    (15, 17, 11),
    (6, 24),
    (29, 25, 9, 2),
    (7, 18),
    (16,),
    (42,),
    (4, 37),
    (33,),
)


def squares(n):
    return [Item(f"U{k}", k, k) for k in range(1, n + 1)]


@pytest.mark.parametrize(("n", "sides"), BEST.items())
def test_consecutive_squares_fit_into_their_published_best_rectangle(n, sides):
    for length, width in (sides, sides[::-1]):
        answer = check_packing(squares(n), Room(length, width))
        assert answer.verdict == "fits"


@pytest.mark.parametrize("n", range(2, 9))
def test_no_rectangle_of_less_than_the_published_area_takes_consecutive_squares(n):
    """Every rectangle of whole sides with less area that is at least n wide: all are proven not to fit."""
    total = n * (n + 1) * (2 * n + 1) // 6
    for area in range(total, LEAST_AREA[n]):
        for width in (w for w in range(n, int(area**0.5) + 1) if area % w == 0):
            answer = check_packing(squares(n), Room(area // width, width), effort=400)
            assert answer.verdict == "does not fit", (area // width, width)


@pytest.mark.parametrize(("n", "side"), LEAST_SQUARE.items())
def test_consecutive_squares_need_the_published_square(n, side):
    assert check_packing(squares(n), Room(side, side)).verdict == "fits"
    assert check_packing(squares(n), Room(side - 1, side - 1)).verdict == "does not fit"


def test_moron_squared_rectangle_just_fits():
    parts = [Item(str(k), k, k) for k in MORON]
    assert sum(part.area for part in parts) == 33 * 32
    answer = check_packing(parts, Room(33, 32))
    assert answer.verdict == "fits"
    assert answer.share == 1
    assert check_packing(parts, Room(33, 32, edge=1)).verdict == "does not fit"


def test_the_checker_takes_duijvestijn_square_and_the_packer_never_denies_it():
    """Bouwkamp code: rows of squares, each row laid into the lowest leftmost dent."""
    heights = [0] * 112
    parts, placement = [], []
    for row in DUIJVESTIJN:
        low = min(heights)
        at = heights.index(low)
        for size in row:
            assert heights[at : at + size] == [low] * size
            parts.append(Item(str(size), size, size))
            placement.append(Placed(parts[-1], Rect(at, low, at + size, low + size)))
            heights[at : at + size] = [low + size] * size
            at += size
    assert heights == [112] * 112
    room = Room(112, 112)
    assert faults(parts, room, placement) == []
    assert check_packing(parts, room, effort=600, nodes=2000).verdict != "does not fit"


def test_five_squares_just_over_a_third_do_not_fit_though_half_the_area_is_free():
    """Analytic: a stretch of more than a third of the edge has the mark at one or at two thirds inside it, so each
    such square covers one of the four points where these marks cross, and no two the same: at most four fit."""
    part = [Item(f"U{n}", 341, 341) for n in range(5)]
    assert sum(p.area for p in part) < 0.6 * 1000 * 1000
    assert check_packing(part, Room(1000, 1000)).verdict == "does not fit"
    assert check_packing(part[:4], Room(1000, 1000)).verdict == "fits"
