"""Proofs that items do not fit, without trying to place them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from landwise.choosing.packing.free import largest_free
from landwise.choosing.packing.model import Item, Room, covered_pieces, free_area

MOST_LENGTHS = 40  # distinct edges from which thresholds are taken
FRACTIONS = 24
Scale = tuple[str, int]  # kind of the function and its parameter


def demand(items: Sequence[Item], room: Room) -> int:
    """Area of all items, drilled ones on each side, and the reserved area. [µm²]"""
    return sum(item.area * (room.sides if item.through else 1) for item in items) + room.reserved


def offer(room: Room) -> int:
    """Area outside clearance and keep-outs, over all sides. [µm²]"""
    return sum(free_area(room.blocked(side), room.inside) for side in range(room.sides))


def too_large(items: Sequence[Item], room: Room) -> Item | None:
    """An item that no free rectangle of the empty board takes."""
    free = {side: largest_free(room.inside, room.blocked(side)) for side in range(room.sides)}
    both = largest_free(room.inside, [rect for side in range(room.sides) for rect in room.blocked(side)])
    for item in items:
        places = [both] if item.through else list(free.values())
        if not any(
            ((place[:, 2] - place[:, 0] >= x) & (place[:, 3] - place[:, 1] >= y)).any()
            for place in places
            for x, y in item.sizes()
        ):
            return item
    return None


def scaled(scale: Scale, lengths: NDArray[np.int64], whole: int) -> tuple[NDArray[np.int64], int]:
    """Lengths and the whole as a dual-feasible function sees them.

    Parameters
    ----------
    scale : (str, int)
        "plain", ("steps", k), ("cut", k) or ("round", k).
    lengths : int array
        From 0 to `whole`.
    whole : int

    Returns
    -------
    array, int
        Whenever some lengths add up to no more than the whole, so do their images.

    Notes
    -----
    "steps" is Lueker's u⁽ᵏ⁾ in the form of Fekete and Schepers: k + 1 parts of the whole count as k where the
    division leaves a rest, and exactly where it leaves none. "cut" counts a length within k of the whole as the
    whole, and one below k as nothing. "round" measures both the length and what it leaves in lengths of k.

    References
    ----------
    S. P. Fekete, J. Schepers, A general framework for bounds for higher-dimensional orthogonal packing problems,
    Math. Methods of Operations Research 60 (2004); J. Carlier, F. Clautiaux, A. Moukrim, New reduction procedures
    and lower bounds for the two-dimensional bin packing problem with fixed orientation, Computers & Operations
    Research 34 (2007). Forms from memory; the tests prove each by exhaustion on short wholes.

    Examples
    --------
    Two lengths of 6 never stand in 10, and "round" by 6 says so:

    >>> values, room = scaled(("round", 6), np.array([6, 6, 4]), 10)
    >>> values.tolist(), room
    ([2, 2, 0], 2)
    """
    kind, k = scale
    x = lengths
    if kind == "steps":
        exact = (k + 1) * x % whole == 0
        return np.where(exact, x * k, (k + 1) * x // whole * whole), k * whole
    if kind == "cut":
        return np.where(x > whole - k, whole, np.where(x < k, 0, x)), whole
    if kind == "round":
        most = whole // k
        halves = np.where(2 * x == whole, most, 2 * (x // k))
        return np.where(2 * x > whole, 2 * (most - (whole - x) // k), halves), 2 * most
    return x, whole


def scales(lengths: Sequence[int], whole: int) -> list[Scale]:
    """The functions worth trying for such lengths."""
    picked = sorted(set(lengths))
    picked = [picked[round(at)] for at in np.linspace(0, len(picked) - 1, min(len(picked), MOST_LENGTHS))]
    marks = {k for x in picked for k in (x, whole - x) if 0 < 2 * k <= whole}
    found: list[Scale] = [("plain", 0)]
    found += [("steps", k) for k in range(1, FRACTIONS + 1)]
    found += [(kind, k) for kind in ("cut", "round") for k in sorted(marks)]
    return found


def weighed(items: Sequence[Item], room: Room) -> Fraction:
    """The largest share of the room that the items take by any pair of dual-feasible functions tried.

    Notes
    -----
    Keep-outs count as items that lie still. An item counts by the lesser of its two ways to lie, a drilled one on
    each side. A share above 1 proves that no placement exists; distances between courtyards and the reserved area
    are left out, which only weakens the proof. The best pair is found in floating point and worked again in whole
    numbers.

    Examples
    --------
    Five squares of 4 take 80 of 100, yet no five stand in 10 by 10:

    >>> weighed([Item(f"U{n}", 4, 4) for n in range(5)], Room(10, 10))
    Fraction(5, 4)
    """
    inside = room.inside
    length, width = inside.x2 - inside.x1, inside.y2 - inside.y1
    kinds: dict[tuple[int, int, bool], int] = {}
    for item in items:
        key = (item.length, item.width, True)
        kinds[key] = kinds.get(key, 0) + (room.sides if item.through else 1)
    for side in range(room.sides):
        for piece in covered_pieces(room.blocked(side), inside):
            key = (piece.x2 - piece.x1, piece.y2 - piece.y1, False)
            kinds[key] = kinds.get(key, 0) + 1
    if not kinds:
        return Fraction(0)
    edges = [edge for a, b, _ in kinds for edge in (a, b)]
    along, across = scales(edges, length), scales(edges, width)
    table = _shares(list(kinds), list(kinds.values()), (length, width), along, across)
    i, j = np.unravel_index(int(np.argmax(table)), table.shape)
    return _exactly(kinds, (length, width), along[int(i)], across[int(j)]) / room.sides


@dataclass(frozen=True)
class Tables:
    """Share of the room that each item takes as drawn, turned, and in the lesser way, by every pair of functions.

    `still` is what the keep-outs take. Whatever ways are chosen, no placement makes the sum exceed 1.
    """

    drawn: NDArray[np.float64]
    turned: NDArray[np.float64]
    least: NDArray[np.float64]
    still: NDArray[np.float64]


def tables(items: Sequence[Item], room: Room) -> Tables:
    """The tables of a few items; each is some ten thousand numbers.

    Examples
    --------
    A part of 3 by 8 can only lie along a board of 10 by 5; as drawn it is counted as endless:

    >>> table = tables([Item("U1", 3, 8)], Room(10, 5))
    >>> bool(np.isinf(table.drawn.max())), float(table.least.max()) <= 1
    (True, True)
    """
    inside = room.inside
    whole = inside.x2 - inside.x1, inside.y2 - inside.y1
    outs = [
        (piece.x2 - piece.x1, piece.y2 - piece.y1, False)
        for side in range(room.sides)
        for piece in covered_pieces(room.blocked(side), inside)
    ]
    edges = [edge for item in items for edge in (item.length, item.width)] + [e for a, b, _ in outs for e in (a, b)]
    along, across = scales(edges, whole[0]), scales(edges, whole[1])
    ways = [
        [
            _shares([(*size, False)], [room.sides if item.through else 1], whole, along, across)
            if size[0] <= whole[0] and size[1] <= whole[1]
            else np.full((len(along), len(across)), np.inf)
            for size in ((item.length, item.width), (item.width, item.length))
        ]
        for item in items
    ]
    both = np.array(ways) / room.sides
    still = _shares(outs, [1] * len(outs), whole, along, across) / room.sides
    return Tables(both[:, 0], both[:, 1], both.min(axis=1), still)


def _shares(
    kinds: Sequence[tuple[int, int, bool]],
    counts: Sequence[int],
    whole: tuple[int, int],
    along: Sequence[Scale],
    across: Sequence[Scale],
) -> NDArray[np.float64]:
    """Share of one side by every pair of functions, rows along, columns across."""
    if not kinds:
        return np.zeros((len(along), len(across)))
    a = np.array([kind[0] for kind in kinds])
    b = np.array([kind[1] for kind in kinds])
    turns = np.array([kind[2] for kind in kinds])
    count = np.array(counts, dtype=float)
    fa, fb = _images(along, a, whole[0]), _images(along, b, whole[0])
    ga, gb = _images(across, a, whole[1]), _images(across, b, whole[1])
    # A way to lie that leaves the board is no way.
    fa[:, turns & (a > whole[0])] = gb[:, turns & (b > whole[1])] = np.inf
    fb[:, turns & (b > whole[0])] = ga[:, turns & (a > whole[1])] = np.inf
    table = np.zeros((len(along), len(across)))
    with np.errstate(invalid="ignore"):  # nothing times a way that leaves the board
        for n in range(len(kinds)):
            drawn = np.outer(fa[:, n], gb[:, n])
            if turns[n]:
                drawn = np.fmin(drawn, np.outer(fb[:, n], ga[:, n]))
            table += count[n] * np.where(np.isfinite(drawn), drawn, 0.0)
    return table


def _images(functions: Sequence[Scale], lengths: NDArray[np.int64], whole: int) -> NDArray[np.float64]:
    cut = np.minimum(lengths, whole)
    rows = [scaled(function, cut, whole) for function in functions]
    return np.array([values / total for values, total in rows])


def _exactly(kinds: dict[tuple[int, int, bool], int], whole: tuple[int, int], along: Scale, across: Scale) -> Fraction:
    total = Fraction(0)
    for (a, b, turns), count in kinds.items():
        ways = [(a, b), (b, a)] if turns else [(a, b)]
        inside = [(x, y) for x, y in ways if x <= whole[0] and y <= whole[1]]
        total += count * min((_share(x, whole[0], along) * _share(y, whole[1], across) for x, y in inside), default=0)
    return total


def _share(length: int, whole: int, scale: Scale) -> Fraction:
    values, total = scaled(scale, np.array([length], dtype=np.int64), whole)
    return Fraction(int(values[0]), total)
