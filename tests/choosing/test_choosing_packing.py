"""Packing: every answer against exhaustive enumeration, the bounds against exhaustion, the checker against shapely."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.choosing.packing import (
    BOTTOM,
    NO_PRINT,
    TOP,
    Item,
    Keepout,
    Placed,
    Rect,
    Room,
    Strip,
    check_packing,
    faults,
)
from landwise.choosing.packing.answer import MOST_ITEMS
from landwise.choosing.packing.bounds import scaled, scales, weighed
from landwise.choosing.packing.exact import settle
from landwise.choosing.packing.free import largest_free
from landwise.choosing.packing.model import covered_pieces, free_area
from landwise.choosing.packing.pack import pack, reserves
from landwise.errors import InputError
from whole import WHOLE


def overlaps(a, b, gap=0):
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap


def fits_by_enumeration(items, room):
    """Every whole-number place, side and turn of every item; the board is a few units wide."""
    low, right, top = room.edge, room.length - room.edge, room.width - room.edge

    def places(item):
        for x, y in {(item.length, item.width), (item.width, item.length)}:
            for side in (TOP,) if item.through else range(room.sides):
                sides = {TOP, BOTTOM} if item.through else {side}
                for at in product(range(low, right - x + 1), range(low, top - y + 1)):
                    box = (*at, at[0] + x, at[1] + y)
                    outs = [k.rect for k in room.keepouts if sides & set(k.sides)]
                    if not any(overlaps(box, (o.x1, o.y1, o.x2, o.y2)) for o in outs):
                        yield box, sides

    def go(rest, placed):
        if not rest:
            return True
        item = rest[0]
        return any(
            all(
                not (sides & other_sides) or not overlaps(box, other, room.gap(item.foil, foil))
                for other, other_sides, foil in placed
            )
            and go(rest[1:], [*placed, (box, sides, item.foil)])
            for box, sides in places(item)
        )

    return go(sorted(items, key=lambda i: -i.area), [])


def small_case(seed):
    dice = random.Random(seed)
    sides = dice.choice((1, 1, 2))
    room = Room(
        dice.randint(4, 6),
        dice.randint(3, 5),
        edge=dice.choice((0, 0, 0, 1)),
        sides=sides,
        keepouts=tuple(
            Keepout(f"K{n}", Rect(x, y, x + 1, y + dice.choice((1, 1, 2))), dice.choice(((TOP,), (TOP, BOTTOM))))
            for n, (x, y) in enumerate((dice.randint(0, 3), dice.randint(0, 1)) for _ in range(dice.randint(0, 2)))
        ),
        gaps=((0, 1, dice.choice((1, 2))),),
    )
    items = [
        Item(f"U{n}", dice.randint(1, 4), dice.randint(1, 3), foil=dice.choice((0, 0, 1)))
        for n in range(dice.randint(2, 4 if sides == 1 else 5))
    ]
    if dice.random() < 0.3:
        items[0] = replace(items[0], through=True, foil=NO_PRINT)
    return items, room


@pytest.mark.parametrize("block", range(10 if WHOLE else 5))
def test_random_small_boards_get_the_answer_of_exhaustive_enumeration(block):
    told = {"fits": 0, "does not fit": 0}
    for seed in range(40 * block, 40 * block + 40):
        items, room = small_case(seed)
        answer = check_packing(items, room, effort=400)
        truth = "fits" if fits_by_enumeration(items, room) else "does not fit"
        assert answer.verdict == truth, (seed, answer.why)
        told[truth] += 1
        if truth == "fits":
            assert faults(items, room, answer.placement, answer.strips) == []
    assert min(told.values()) >= 3  # both answers are met in every block


@pytest.mark.parametrize("block", range(4 if WHOLE else 2))
def test_the_exact_search_alone_agrees_with_enumeration(block):
    for seed in range(1000 + 50 * block, 1050 + 50 * block):
        items, room = small_case(seed)
        found = settle(items, room, nodes=50_000)
        assert found.fits is fits_by_enumeration(items, room), seed
        if found.fits:
            assert faults(items, room, found.placement) == []


def test_no_bound_ever_speaks_against_a_board_that_fits():
    checked = 0
    for seed in range(2000, 2300 if WHOLE else 2120):
        items, room = small_case(seed)
        if fits_by_enumeration(items, room):
            assert weighed(items, room) <= 1, seed
            checked += 1
    assert checked > (100 if WHOLE else 40)


@pytest.mark.parametrize("whole", [7, 10, 12])
def test_dual_feasible_functions_keep_their_promise_for_every_set_of_lengths(whole):
    """Exhaustion over all multisets of lengths that add up to no more than the whole: integer partitions."""

    def partitions(rest, most):
        yield ()
        for first in range(min(rest, most), 0, -1):
            for others in partitions(rest - first, first):
                yield (first, *others)

    sets = list(partitions(whole, whole))
    for scale in scales(range(1, whole + 1), whole):
        images, total = scaled(scale, np.arange(whole + 1), whole)
        assert max(sum(int(images[x]) for x in lengths) for lengths in sets) <= total, scale


def test_largest_free_rectangles_are_those_found_cell_by_cell():
    dice = random.Random(5)
    for _ in range(40):
        taken = [
            Rect(x, y, x + dice.randint(1, 3), y + dice.randint(1, 3))
            for x, y in ((dice.randint(0, 6), dice.randint(0, 5)) for _ in range(dice.randint(0, 5)))
        ]
        grid = np.ones((8, 7), dtype=bool)
        for r in taken:
            grid[r.x1 : r.x2, r.y1 : r.y2] = False
        clear = {
            (a, c, b, d)
            for a in range(8)
            for b in range(a + 1, 9)
            for c in range(7)
            for d in range(c + 1, 8)
            if grid[a:b, c:d].all()
        }
        largest = {
            r
            for r in clear
            if not any(o != r and o[0] <= r[0] and o[1] <= r[1] and o[2] >= r[2] and o[3] >= r[3] for o in clear)
        }
        inside = Rect(0, 0, 8, 7)
        found = largest_free(inside, taken)
        assert {tuple(row) for row in found.tolist()} == largest
        assert len(found) == len(largest)
        assert free_area(tuple(taken), inside) == int(grid.sum())
        assert sum(piece.area for piece in covered_pieces(tuple(taken), inside)) == int((~grid).sum())


def random_parts(seed, count=14):
    dice = random.Random(seed)
    return [
        Item(f"U{n}", dice.randint(1000, 9000), dice.randint(1000, 6000), foil=dice.choice((0, 0, 0, 1)))
        for n in range(count)
    ]


def enough_room(items, share, **more):
    area = sum(item.area for item in items) / share
    return Room(int((area * 1.5) ** 0.5), int((area / 1.5) ** 0.5) + 1, **more)


@given(seed=st.integers(0, 10**6), shrink=st.integers(50, 100), share=st.sampled_from([0.6, 0.75, 0.85]))
@settings(max_examples=40 if WHOLE else 15, deadline=None, derandomize=True)
def test_smaller_parts_still_lie_where_the_larger_ones_lay(seed, shrink, share):
    items = random_parts(seed)
    room = enough_room(items, share, gaps=((0, 1, 700),))
    answer = check_packing(items, room, effort=2000, nodes=500)
    small = [replace(item, length=item.length * shrink // 100, width=item.width * shrink // 100) for item in items]
    if answer.verdict == "fits":
        by_name = {item.name: item for item in small}
        same = [
            Placed(
                by_name[p.item.name],
                Rect(p.rect.x1, p.rect.y1, *_far(by_name[p.item.name], p)),
                p.side,
            )
            for p in answer.placement
        ]
        assert faults(small, room, same) == []
        assert check_packing(small, room, effort=2000, nodes=500).verdict != "does not fit"
    elif answer.verdict == "does not fit" and shrink == 100:
        assert check_packing(small, room, effort=2000, nodes=500).verdict == "does not fit"


def _far(item, place):
    x, y = (item.width, item.length) if place.turned else (item.length, item.width)
    return place.rect.x1 + x, place.rect.y1 + y


@given(seed=st.integers(0, 10**6), share=st.sampled_from([0.7, 0.85, 0.97, 1.05]))
@settings(max_examples=20 if WHOLE else 8, deadline=None, derandomize=True)
def test_turning_the_board_or_a_part_never_turns_the_answer_round(seed, share):
    items = random_parts(seed, count=8)
    room = enough_room(items, share, keepouts=(Keepout("hole", Rect(0, 0, 900, 1500)),))
    turned = Room(room.width, room.length, keepouts=(Keepout("hole", Rect(0, 0, 1500, 900)),))
    told = {
        check_packing(parts, board, effort=800, nodes=2000).verdict
        for board in (room, turned)
        for parts in (items, [replace(item, length=item.width, width=item.length) for item in items])
    }
    assert not {"fits", "does not fit"} <= told


def test_the_checker_agrees_with_shapely_on_right_and_wrong_placements():
    """Reference: shapely's own overlap area (GEOS), with the distance as a mitred buffer."""
    shapely = pytest.importorskip("shapely")
    dice = random.Random(8)
    wrong = 0
    for _ in range(300):
        room = Room(12, 9, edge=1, keepouts=(Keepout("K", Rect(0, 0, 3, 3)),), gaps=((0, 1, 1),))
        items = [Item(f"U{n}", dice.randint(1, 4), dice.randint(1, 3), foil=n % 2) for n in range(3)]
        placement = []
        for item in items:
            x, y = dice.choice(item.sizes())
            x1, y1 = dice.randint(0, 12 - x), dice.randint(0, 9 - y)
            placement.append(Placed(item, Rect(x1, y1, x1 + x, y1 + y)))
        boxes = [shapely.box(p.rect.x1, p.rect.y1, p.rect.x2, p.rect.y2) for p in placement]
        inside, hole = shapely.box(1, 1, 11, 8), shapely.box(0, 0, 3, 3)
        right = all(inside.covers(box) and box.intersection(hole).area == 0 for box in boxes)
        for n, box in enumerate(boxes):
            for m in range(n):
                gap = room.gap(items[n].foil, items[m].foil)
                right &= box.buffer(gap, join_style="mitre").intersection(boxes[m]).area < 1e-9
        assert (faults(items, room, placement) == []) is bool(right)
        wrong += not right
    assert 100 < wrong < 300


def test_the_checker_names_each_kind_of_fault():
    part, room = Item("U1", 3, 2), Room(9, 9, edge=1, keepouts=(Keepout("hole", Rect(7, 7, 9, 9)),), reserved=7)
    strip = Strip(Rect(1, 7, 8, 8), TOP)
    assert faults([part], room, [Placed(part, Rect(1, 1, 4, 3))], [strip]) == ["only 6 of 7 µm² are kept free"]
    wide = Strip(Rect(1, 6, 8, 8), TOP)
    assert faults([part], room, [Placed(part, Rect(1, 1, 4, 3))], [wide]) == []
    assert "stands in the reserved area" in faults([part], room, [Placed(part, Rect(1, 5, 4, 7))], [wide])[0]
    assert faults([part], room, [Placed(part, Rect(0, 1, 3, 3))], [wide]) == ["U1 leaves the board"]
    assert faults([part], room, [Placed(part, Rect(1, 1, 4, 4))], [wide]) == ["U1 has not its size"]
    assert faults([part], room, [], [wide]) == ["not every item stands in it exactly once"]
    assert "side" in faults([part], room, [Placed(part, Rect(1, 1, 4, 3), BOTTOM)], [wide])[0]


def test_a_drilled_part_takes_its_place_on_both_sides():
    drilled, flat = Item("J1", 4, 3, foil=NO_PRINT, through=True), Item("U1", 4, 3)
    assert check_packing([drilled, flat], Room(4, 3, sides=2)).verdict == "does not fit"
    assert check_packing([replace(drilled, through=False), flat], Room(4, 3, sides=2)).verdict == "fits"
    assert check_packing([drilled], Room(4, 3, sides=2)).share == 1
    assert check_packing([flat], Room(4, 3, sides=2)).share == 0.5


def test_parts_of_another_foil_keep_the_steps_distance_and_like_ones_do_not():
    one, two = Item("U1", 4, 4, foil=0), Item("U2", 4, 4, foil=1)
    for length, verdict in ((10, "does not fit"), (11, "fits")):
        assert check_packing([one, two], Room(length, 4, gaps=((0, 1, 3),))).verdict == verdict
    assert check_packing([one, replace(two, foil=0)], Room(8, 4, gaps=((0, 1, 3),))).verdict == "fits"
    assert check_packing([one, replace(two, foil=NO_PRINT)], Room(8, 4, gaps=((0, 1, 3),))).verdict == "fits"


def test_the_distance_of_a_step_may_lie_over_keepouts_and_past_the_edge():
    one, two = Item("U1", 4, 4, foil=0), Item("U2", 4, 4, foil=1)
    room = Room(11, 4, gaps=((0, 1, 3),), keepouts=(Keepout("hole", Rect(4, 0, 7, 4)),))
    assert check_packing([one, two], room).verdict == "fits"


def test_reserved_area_is_kept_free_in_one_stretch_of_a_side():
    parts = [Item("U1", 5, 5), Item("U2", 5, 5)]
    answer = check_packing(parts, Room(10, 8, reserved=30))
    assert answer.verdict == "fits"
    assert [free_area((), strip.rect) for strip in answer.strips] == [30]
    assert check_packing(parts, Room(10, 8, reserved=31)).verdict == "does not fit"
    # The area is there, but in no one stretch beside these parts: neither shown nor disproved.
    assert check_packing([Item("U1", 9, 7)], Room(10, 8, reserved=17), effort=50).verdict == "not shown"


def test_two_sides_share_the_reserved_area():
    room = Room(10, 10, sides=2, reserved=120)
    assert {sum(strip.rect.area for strip in strips) >= 120 for strips in reserves(room)} == {True}
    parts = [Item(f"U{n}", 5, 4) for n in range(4)]
    answer = check_packing(parts, room)
    assert answer.verdict == "fits"
    assert answer.share == pytest.approx(1.0)


def test_the_same_seed_gives_the_same_answer():
    items = random_parts(3, count=25)
    room = enough_room(items, 0.93)
    first, second = (check_packing(items, room, effort=1500, nodes=300) for _ in range(2))
    assert first == second
    assert pack(items, room, effort=1500, seed=1).trials == pack(items, room, effort=1500, seed=1).trials


def test_stopping_leaves_the_answer_open():
    items = random_parts(3, count=25)
    answer = check_packing(items, enough_room(items, 0.97), stop=lambda: True)
    assert answer.verdict == "not shown"
    assert answer.trials <= 2
    assert answer.left_out


def test_more_items_than_are_tried_get_only_what_can_be_proven():
    items = [Item(f"U{n}", 10, 10) for n in range(MOST_ITEMS + 1)]
    assert check_packing(items, Room(2000, 2000)).verdict == "not shown"
    assert check_packing(items, Room(1000, 1000)).verdict == "does not fit"


def test_nothing_to_place_fits():
    assert check_packing([], Room(10, 10)).verdict == "fits"
    assert check_packing([], Room(10, 10, reserved=101)).verdict == "does not fit"


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (lambda: Room(10, 10, edge=5), "leaves no board"),
        (lambda: Room(10, 10, sides=3), "one or two sides"),
        (lambda: Room(10, 10, reserved=-1), "negative"),
        (lambda: Room(10, 10, keepouts=(Keepout("K", Rect(8, 8, 11, 9)),)), "leaves the board"),
        (lambda: Item("U1", 0, 4), "positive edges"),
    ],
)
def test_rooms_and_items_that_make_no_sense_are_refused(made, says):
    with pytest.raises(InputError, match=says):
        made()
