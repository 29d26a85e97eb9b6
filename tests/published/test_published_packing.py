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

from landwise.choosing.packing import Item, Placed, Rect, Room, check_packing, faults

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
