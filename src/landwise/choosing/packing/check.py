"""Checks a placement pair by pair, knowing nothing of how it was made."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from landwise.choosing.packing.model import SIDE_NAMES, Item, Placed, Room, Strip


def faults(items: Sequence[Item], room: Room, placement: Sequence[Placed], strips: Sequence[Strip] = ()) -> list[str]:
    """What is wrong with a placement; nothing where it is right.

    Parameters
    ----------
    items : sequence of Item
        Everything that must lie on the board, each once.
    room : Room
    placement : sequence of Placed
    strips : sequence of Strip
        Where the reserved area is said to be.

    Notes
    -----
    Every rule is checked from its definition: sizes, edge clearance, keep-outs, distances between each two
    courtyards on a common side, and the free area within the strips.

    Examples
    --------
    >>> from landwise.choosing.packing.model import Rect
    >>> part, room = Item("U1", 3000, 2000), Room(5000, 5000)
    >>> faults([part], room, [Placed(part, Rect(0, 0, 2000, 3000))])
    []
    >>> faults([part], room, [Placed(part, Rect(3000, 0, 6000, 2000))])
    ['U1 leaves the board']
    """
    found = _count(items, placement)
    for place in placement:
        found += _alone(place, room)
    # From left to right, against those that still reach this far.
    widest = max((gap for _, _, gap in room.gaps), default=0)
    near: list[Placed] = []
    for one in sorted(placement, key=lambda place: place.rect.x1):
        near = [other for other in near if other.rect.x2 + widest > one.rect.x1]
        for other in near:
            if _sides(one) & _sides(other) and not _apart(one, other, room.gap(one.item.foil, other.item.foil)):
                found.append(f"{one.item.name} and {other.item.name} are too near each other")
        near.append(one)
    return found + _reserved(room, placement, strips)


def _count(items: Sequence[Item], placement: Sequence[Placed]) -> list[str]:
    wanted = sorted(map(repr, items))
    return [] if wanted == sorted(repr(p.item) for p in placement) else ["not every item stands in it exactly once"]


def _sides(place: Placed) -> set[int]:
    return {0, 1} if place.item.through else {place.side}


def _alone(place: Placed, room: Room) -> list[str]:
    rect, item, found = place.rect, place.item, []
    size = [rect.x2 - rect.x1, rect.y2 - rect.y1]
    if sorted(size) != sorted((item.length, item.width)):
        found.append(f"{item.name} has not its size")
    if place.side not in range(room.sides):
        found.append(f"{item.name} is on a side that carries no parts")
    if min(rect.x1, rect.y1) < room.edge or rect.x2 > room.length - room.edge or rect.y2 > room.width - room.edge:
        found.append(f"{item.name} leaves the board")
    for keepout in room.keepouts:
        other = keepout.rect
        if _sides(place) & set(keepout.sides) and (
            min(rect.x2, other.x2) > max(rect.x1, other.x1) and min(rect.y2, other.y2) > max(rect.y1, other.y1)
        ):
            found.append(f"{item.name} stands in keep-out {keepout.name}")
    return found


def _apart(one: Placed, other: Placed, gap: int) -> bool:
    a, b = one.rect, other.rect
    return a.x2 + gap <= b.x1 or b.x2 + gap <= a.x1 or a.y2 + gap <= b.y1 or b.y2 + gap <= a.y1


def _reserved(room: Room, placement: Sequence[Placed], strips: Sequence[Strip]) -> list[str]:
    found, free = [], 0
    for strip in strips:
        rect = strip.rect
        if (
            min(rect.x1, rect.y1) < room.edge
            or rect.x2 > room.length - room.edge
            or rect.y2 > room.width - room.edge
            or strip.side not in range(room.sides)
        ):
            found.append("reserved area leaves the board")
        free += _free(room, strip)
        for place in placement:
            a = place.rect
            if strip.side in _sides(place) and (
                min(a.x2, rect.x2) > max(a.x1, rect.x1) and min(a.y2, rect.y2) > max(a.y1, rect.y1)
            ):
                found.append(f"{place.item.name} stands in the reserved area on the {SIDE_NAMES[strip.side]}")
    if len({strip.side for strip in strips}) < len(strips):
        found.append("two reserved areas on one side")
    if free < room.reserved:
        found.append(f"only {free} of {room.reserved} µm² are kept free")
    return found


def _free(room: Room, strip: Strip) -> int:
    """Area of a strip outside all keep-outs, counted cell by cell between their edges. [µm²]"""
    rect = strip.rect
    outs = [keepout.rect for keepout in room.keepouts if strip.side in keepout.sides]
    xs = sorted({rect.x1, rect.x2, *(x for o in outs for x in (o.x1, o.x2) if rect.x1 < x < rect.x2)})
    ys = sorted({rect.y1, rect.y2, *(y for o in outs for y in (o.y1, o.y2) if rect.y1 < y < rect.y2)})
    return sum(
        (right - left) * (top - low)
        for left, right in pairwise(xs)
        for low, top in pairwise(ys)
        if not any(o.x1 <= left and right <= o.x2 and o.y1 <= low and top <= o.y2 for o in outs)
    )
