"""Placing items one after the other, in many orders, and then in better ones."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from landwise.choosing.packing.free import Rects, largest_free, without
from landwise.choosing.packing.model import BOTTOM, NO_PRINT, TOP, Item, Placed, Rect, Room, Strip, free_area

Stop = Callable[[], bool]
RULES = ("low", "left", "snug", "small")
ORDERS = ("area", "long", "short", "round", "steps")
THROUGH = -1  # the room that is free on both sides
BAD_MOVES = 60  # moves without gain after which the search starts again from the next best order


@dataclass(frozen=True)
class Trial:
    """One order tried: what was placed where, and what was not."""

    placement: tuple[Placed, ...]
    left_out: tuple[Item, ...]
    strips: tuple[Strip, ...]

    @property
    def missing(self) -> int:
        """Area without a place. [µm²]"""
        return sum(item.area for item in self.left_out)


@dataclass(frozen=True)
class Search:
    """The best trial and how many there were."""

    best: Trial
    trials: int


def pack(items: Sequence[Item], room: Room, *, effort: int, seed: int = 1, stop: Stop | None = None) -> Search:
    """Look for a placement of all items.

    Parameters
    ----------
    items : sequence of Item
    room : Room
    effort : int
        How many times an item may be placed, over all trials; the first trial always ends.
    seed : int
        Of the changes tried; the same seed gives the same answer.
    stop : callable, optional
        True ends the search.

    Notes
    -----
    Each item goes into the lower left corner of one of the largest free rectangles, as one of four rules prefers.
    First every rule takes every order; then single moves in the best orders are kept while they leave no larger
    area out. The reserved area is a strip at one end of a side.

    Examples
    --------
    >>> found = pack([Item("U1", 6, 4), Item("U2", 6, 4), Item("U3", 4, 8)], Room(10, 8), effort=100)
    >>> [(place.item.name, place.rect.x1, place.rect.y1) for place in found.best.placement], found.best.left_out
    ([('U3', 0, 0), ('U1', 4, 0), ('U2', 4, 4)], ())
    """
    space = _Space(items, room)
    tried: list[tuple[int, int, list[Item], str, tuple[Strip, ...]]] = []
    spent = 0

    def attempt(order: list[Item], rule: str, strips: tuple[Strip, ...]) -> Trial:
        nonlocal spent
        found = space.fill(order, rule, strips)
        spent += max(len(order), 1)
        tried.append((found.missing, len(tried), order, rule, strips))
        return found

    def over() -> bool:
        return not best.left_out or spent >= effort or (stop is not None and stop())

    starts = [(sorted(items, key=_order(key, room)), rule, strips) for key, rule, strips in _starts(room)]
    best = attempt(*starts[0])
    for start in starts[1:]:
        if over():
            break
        best = min(best, attempt(*start), key=lambda trial: trial.missing)
    dice = random.Random(seed)
    queue = sorted(tried, key=lambda entry: entry[:2])
    turn = 0
    while not over():
        missing, _, order, rule, strips = queue[turn % len(queue)]
        turn += 1
        idle = 0
        while idle < BAD_MOVES and not over():
            changed = _moved(order, dice)
            found = attempt(changed, dice.choice(RULES) if dice.random() < 0.1 else rule, strips)
            best = min(best, found, key=lambda trial: trial.missing)
            idle = 0 if found.missing < missing else idle + 1
            if found.missing <= missing:
                order, missing = changed, found.missing
    return Search(best, len(tried))


def _moved(order: list[Item], dice: random.Random) -> list[Item]:
    """Another order: two items change places, or one moves to another place in it."""
    changed = list(order)
    i, j = dice.randrange(len(order)), dice.randrange(len(order))
    if dice.random() < 0.5:
        changed[i], changed[j] = changed[j], changed[i]
    else:
        changed.insert(j, changed.pop(i))
    return changed


def _starts(room: Room) -> Iterator[tuple[str, str, tuple[Strip, ...]]]:
    """Every order under every rule, for every way of keeping the reserved area."""
    for key, rule in product(ORDERS, RULES):
        for strips in reserves(room) or ((),):
            yield key, rule, strips


def _order(key: str, room: Room) -> Callable[[Item], tuple[float, ...]]:
    def rank(item: Item) -> tuple[float, ...]:
        long, short = max(item.length, item.width), min(item.length, item.width)
        alone = max((gap for one, other, gap in room.gaps if item.foil in (one, other)), default=0)
        first = 0.0 if item.through else 1.0
        sizes = {
            "area": (-item.area,),
            "long": (-long, -short),
            "short": (-short, -long),
            "round": (-(long + short),),
            "steps": (-alone, item.foil, -item.area),
        }[key]
        return (first, *sizes)

    return rank


def reserves(room: Room) -> tuple[tuple[Strip, ...], ...]:
    """Ways to keep the reserved area free: at any end of a side, on one side or shared by both.

    Examples
    --------
    >>> [[strip.rect for strip in strips] for strips in reserves(Room(10, 8, reserved=20))][:2]
    [[Rect(x1=7, y1=0, x2=10, y2=8)], [Rect(x1=0, y1=6, x2=10, y2=8)]]
    """
    if not room.reserved:
        return ((),)
    if room.sides == 1:
        shares = [(room.reserved, 0)]
    else:
        below = free_area(room.blocked(BOTTOM), room.inside)
        wanted = (min(room.reserved, below), room.reserved // 2, 0)
        shares = [(room.reserved - share, share) for share in dict.fromkeys(wanted)]
    found = []
    for shared in shares:
        for end in ("right", "top", "left", "bottom"):
            strips = [_strip(room, side, share, end) for side, share in zip((TOP, BOTTOM), shared, strict=True)]
            if all(strip is not None or not share for strip, share in zip(strips, shared, strict=True)):
                found.append(tuple(strip for strip in strips if strip is not None))
    return tuple(found)


def _strip(room: Room, side: int, share: int, end: str) -> Strip | None:
    """The shortest strip at one end that holds so much free area."""
    inside, blocked = room.inside, room.blocked(side)
    if not share or free_area(blocked, inside) < share:
        return None
    low, high = 0, inside.x2 - inside.x1 if end in ("right", "left") else inside.y2 - inside.y1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if free_area(blocked, _end(inside, end, middle)) >= share else (middle, high)
    return Strip(_end(inside, end, high), side)


def _end(inside: Rect, end: str, deep: int) -> Rect:
    x1, y1, x2, y2 = inside.x1, inside.y1, inside.x2, inside.y2
    return {
        "right": Rect(x2 - deep, y1, x2, y2),
        "left": Rect(x1, y1, x1 + deep, y2),
        "top": Rect(x1, y2 - deep, x2, y2),
        "bottom": Rect(x1, y1, x2, y1 + deep),
    }[end]


class _Space:
    """Free room by side and foil: courtyards of another foil take their distance with them."""

    def __init__(self, items: Sequence[Item], room: Room) -> None:
        self.room = room
        self.least = min((min(item.length, item.width) for item in items), default=1)
        foils = sorted({item.foil for item in items if not item.through})
        self.keys = [(side, foil) for side in range(room.sides) for foil in foils]
        if any(item.through for item in items):
            self.keys.append((THROUGH, NO_PRINT))
        self.empty: dict[tuple[Strip, ...], dict[tuple[int, int], Rects]] = {}

    def start(self, strips: tuple[Strip, ...]) -> dict[tuple[int, int], Rects]:
        """The empty board, worked once for each way of keeping the reserved area."""
        if strips not in self.empty:
            self.empty[strips] = {}
            for side, foil in self.keys:
                sides = range(self.room.sides) if side == THROUGH else (side,)
                taken = [rect for s in sides for rect in self.room.blocked(s)]
                taken += [strip.rect for strip in strips if strip.side in sides]
                self.empty[strips][side, foil] = largest_free(self.room.inside, taken, self.least)
        return self.empty[strips]

    def fill(self, order: Sequence[Item], rule: str, strips: tuple[Strip, ...]) -> Trial:
        """Place what can be placed, in this order."""
        free = dict(self.start(strips))
        placed, left = [], []
        for item in order:
            place = self._place(item, free, rule)
            if place is None:
                left.append(item)
                continue
            placed.append(place)
            for side, foil in self.keys:
                if side in (THROUGH, place.side) or item.through:
                    gap = 0 if item.through else self.room.gap(item.foil, foil)
                    free[side, foil] = without(free[side, foil], place.rect.grown(gap), self.least)
        return Trial(tuple(placed), tuple(left), strips)

    def _place(self, item: Item, free: dict[tuple[int, int], Rects], rule: str) -> Placed | None:
        best: tuple[tuple[int, ...], Placed] | None = None
        sides = (THROUGH,) if item.through else range(self.room.sides)
        for side in sides:
            rects = free[side, NO_PRINT if item.through else item.foil]
            for x, y in item.sizes():
                found = _choose(rects, x, y, rule)
                if found is None:
                    continue
                score, x1, y1 = found
                if best is None or score < best[0]:
                    here = Rect(x1, y1, x1 + x, y1 + y)
                    best = score, Placed(item, here, TOP if side == THROUGH else side)
        return None if best is None else best[1]


def _choose(rects: Rects, x: int, y: int, rule: str) -> tuple[tuple[int, ...], int, int] | None:
    """The free rectangle a rule prefers for an extent, with its score; None where none takes it."""
    room_x, room_y = rects[:, 2] - rects[:, 0] - x, rects[:, 3] - rects[:, 1] - y
    fits = np.flatnonzero((room_x >= 0) & (room_y >= 0))
    if not len(fits):
        return None
    x1, y1, over_x, over_y = rects[fits, 0], rects[fits, 1], room_x[fits], room_y[fits]
    if rule == "low":
        first, second = y1 + y, x1
    elif rule == "left":
        first, second = x1 + x, y1
    elif rule == "snug":
        first, second = np.minimum(over_x, over_y), np.maximum(over_x, over_y)
    else:
        first, second = (over_x + x) * (over_y + y), np.minimum(over_x, over_y)
    at = np.lexsort((x1, y1, second, first))[0]
    return (int(first[at]), int(second[at])), int(x1[at]), int(y1[at])
