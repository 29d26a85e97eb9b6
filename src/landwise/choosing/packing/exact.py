"""Whether a few rectangles fit, settled for good: a search over how each two of them lie to each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from landwise.choosing.packing.bounds import tables
from landwise.choosing.packing.model import Item, Placed, Rect, Room

Stop = Callable[[], bool]
ROUNDING = 1e-9  # sums of a few shares are exact to a thousandth of this
WAYS = ((0, False), (0, True), (1, False), (1, True))  # axis, and whether the second of the pair comes first


@dataclass(frozen=True)
class Settled:
    """`fits` is None where the search was cut off."""

    fits: bool | None
    placement: tuple[Placed, ...]
    nodes: int


@dataclass
class _State:
    """Lowest and highest place of each box on both axes, and which boxes must follow which."""

    low: tuple[list[int], list[int]]
    high: tuple[list[int], list[int]]
    size: tuple[list[int], list[int]]
    follows: tuple[list[tuple[int, int, int]], list[tuple[int, int, int]]] = field(default_factory=lambda: ([], []))
    lies: list[tuple[int, int]] = field(default_factory=list)  # side and way to lie of each item so far

    def copy(self) -> _State:
        """To go on from, without changing this one."""
        return _State(
            (self.low[0][:], self.low[1][:]),
            (self.high[0][:], self.high[1][:]),
            (self.size[0][:], self.size[1][:]),
            (self.follows[0][:], self.follows[1][:]),
            self.lies[:],
        )

    def settle(self, axis: int) -> bool:
        """Carry every "follows" through; False where a box has no place left."""
        low, high = self.low[axis], self.high[axis]
        moved = True
        while moved:
            moved = False
            for one, other, apart in self.follows[axis]:
                if low[other] < low[one] + apart:
                    low[other] = low[one] + apart
                    moved = True
                    if low[other] > high[other]:
                        return False
                if high[one] > high[other] - apart:
                    high[one] = high[other] - apart
                    moved = True
                    if low[one] > high[one]:
                        return False
        return True


Pair = tuple[int, int, int]  # two boxes and the distance they keep


def settle(items: Sequence[Item], room: Room, *, nodes: int, stop: Stop | None = None) -> Settled:
    """Search every arrangement of a few items; the reserved area is left out.

    Parameters
    ----------
    items : sequence of Item
    room : Room
    nodes : int
        Most branches; beyond it the answer is open.
    stop : callable, optional
        True ends the search, with an open answer.

    Notes
    -----
    Two boxes on one side don't overlap exactly if one is left of, right of, below or above the other, by their
    distance. The search fixes side and turn of one item after the other, largest first, and for each pair one of
    the four; places are then bounded by longest paths, and a pair left with one way takes it at once. Turns whose
    weight by dual-feasible functions exceeds the board are passed over. Nothing else is left out: where the search
    ends without a placement there is none. Like items keep an order, and an empty board is searched only in one of
    its mirror images.

    Examples
    --------
    >>> three = [Item("U1", 6, 6), Item("U2", 6, 6), Item("U3", 1, 1)]
    >>> settle(three, Room(12, 6), nodes=1000).fits, settle(three, Room(12, 7), nodes=1000).fits
    (False, True)
    """
    return _Tree(items, room, nodes, stop).answer()


class _Cut(Exception):  # noqa: N818 - a signal that the search is cut off, never seen outside
    pass


class _Tree:
    def __init__(self, items: Sequence[Item], room: Room, most: int, stop: Stop | None) -> None:
        self.items = sorted(items, key=lambda i: (not i.through, -i.area, i.length, i.width, i.foil, i.kind))
        self.room, self.most, self.stop, self.nodes = room, most, stop, 0
        outs = [(rect, side) for side in range(room.sides) for rect in room.blocked(side)]
        self.outs = outs
        self.mirrored = not outs
        self.alike = room.sides == 2 and set(room.blocked(0)) == set(room.blocked(1))
        self.found: _State | None = None
        self.tables = tables(self.items, room)
        # What the items from each one on take at least, whatever way they lie.
        after = np.cumsum(self.tables.least[::-1], axis=0)[::-1]
        self.after = np.concatenate([after, np.zeros_like(after[:1])])
        self.open: dict[tuple[int, ...], bool] = {}

    def answer(self) -> Settled:
        first = _State(
            ([rect.x1 for rect, _ in self.outs], [rect.y1 for rect, _ in self.outs]),
            ([rect.x1 for rect, _ in self.outs], [rect.y1 for rect, _ in self.outs]),
            ([rect.x2 - rect.x1 for rect, _ in self.outs], [rect.y2 - rect.y1 for rect, _ in self.outs]),
        )
        try:
            fits = self._add(first, 0)
        except _Cut:
            return Settled(None, (), self.nodes)
        if not fits or self.found is None:
            return Settled(False, (), self.nodes)
        return Settled(True, self._placement(self.found), self.nodes)

    def _placement(self, state: _State) -> tuple[Placed, ...]:
        start = len(self.outs)
        placed = []
        for n, item in enumerate(self.items):
            x, y = state.low[0][start + n], state.low[1][start + n]
            rect = Rect(x, y, x + state.size[0][start + n], y + state.size[1][start + n])
            placed.append(Placed(item, rect, state.lies[n][0]))
        return tuple(placed)

    def _count(self) -> None:
        self.nodes += 1
        if self.nodes > self.most or (self.stop is not None and self.nodes % 64 == 0 and self.stop()):
            raise _Cut

    def _add(self, state: _State, n: int) -> bool:
        """Give item n a side and a way to lie, and go on."""
        if n == len(self.items):
            self.found = state
            return True
        item, inside = self.items[n], self.room.inside
        twin = n > 0 and _like(self.items[n - 1], item)
        sides = range(1) if item.through else range(self.room.sides)
        for side in sides:
            if side and self.alike and not any(not other.through for other in self.items[:n]):
                continue
            for way, (x, y) in enumerate(item.sizes()):
                if twin and (side, way) < state.lies[n - 1]:
                    continue
                top_x, top_y = inside.x2 - x, inside.y2 - y
                if top_x < inside.x1 or top_y < inside.y1:
                    continue
                if n == 0 and self.mirrored:
                    top_x, top_y = (inside.x1 + top_x) // 2, (inside.y1 + top_y) // 2
                new = state.copy()
                for axis, low, high, size in ((0, inside.x1, top_x, x), (1, inside.y1, top_y, y)):
                    new.low[axis].append(low)
                    new.high[axis].append(high)
                    new.size[axis].append(size)
                new.lies.append((side, way))
                if not self._can(tuple(way for _, way in new.lies)):
                    continue
                box = len(self.outs) + n
                if twin and (side, way) == state.lies[n - 1]:
                    new.follows[0].append((box - 1, box, 0))
                if self._arrange(new, self._pairs(new, n), n):
                    return True
        return False

    def _can(self, ways: tuple[int, ...]) -> bool:
        """Whether dual-feasible functions leave room for the first items lying so, and the rest as they may."""
        if ways not in self.open:
            taken = self.tables.still + self.after[len(ways)]
            for n, way in enumerate(ways):
                taken = taken + (self.tables.turned if way else self.tables.drawn)[n]
            self.open[ways] = bool(taken.max() <= 1 + ROUNDING)
        return self.open[ways]

    def _pairs(self, state: _State, n: int) -> list[Pair]:
        """Whom item n must keep clear of: keep-outs and earlier items on a common side."""
        item, side, box = self.items[n], state.lies[n][0], len(self.outs) + n
        found = [(at, box, 0) for at, (_, where) in enumerate(self.outs) if item.through or where == side]
        for at, other in enumerate(self.items[:n]):
            if item.through or other.through or state.lies[at][0] == side:
                found.append((len(self.outs) + at, box, self.room.gap(item.foil, other.foil)))
        return found

    def _arrange(self, state: _State, pairs: list[Pair], n: int) -> bool:
        """Settle all pairs, forced ones first, then by trying; then add the next item."""
        self._count()
        if not (state.settle(0) and state.settle(1)):
            return False
        while True:
            open_pairs: list[tuple[list[tuple[int, bool]], Pair]] = []
            forced = False
            for pair in pairs:
                ways = _ways(state, pair)
                if ways is None:
                    continue
                if not ways:
                    return False
                if len(ways) == 1:
                    if not _take(state, pair, ways[0]):
                        return False
                    forced = True
                else:
                    open_pairs.append((ways, pair))
            if not forced:
                break
            pairs = [pair for _, pair in open_pairs]
        if not open_pairs:
            return self._add(state, n + 1)
        ways, pair = min(open_pairs, key=lambda entry: len(entry[0]))
        rest = [other for _, other in open_pairs if other is not pair]
        for way in ways:
            new = state.copy()
            if _take(new, pair, way) and self._arrange(new, rest, n):
                return True
        return False


def _like(one: Item, other: Item) -> bool:
    return (one.length, one.width, one.foil, one.through) == (other.length, other.width, other.foil, other.through)


def _ways(state: _State, pair: Pair) -> list[tuple[int, bool]] | None:
    """The ways a pair can still lie; None where it is apart already."""
    one, other, gap = pair
    found = []
    for axis, turned in WAYS:
        first, second = (other, one) if turned else (one, other)
        low, high, apart = state.low[axis], state.high[axis], state.size[axis][first] + gap
        if high[first] + apart <= low[second]:
            return None
        if low[first] + apart <= high[second]:
            found.append((axis, turned))
    return found


def _take(state: _State, pair: Pair, way: tuple[int, bool]) -> bool:
    axis, turned = way
    first, second = (pair[1], pair[0]) if turned else (pair[0], pair[1])
    state.follows[axis].append((first, second, state.size[axis][first] + pair[2]))
    return state.settle(axis)
