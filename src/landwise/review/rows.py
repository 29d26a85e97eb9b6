"""Rows, facing rows and grids of like lands, found by geometry alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from landwise.review.model import Bools, Floats, Ints, Lands

LONGEST_PITCH_MM = 2.6  # rows at 2.54 mm are the widest of surface-mount parts
LIKE_MM, LIKE_SHARE = 0.02, 0.04  # two lands are of one size when their sides agree this well
ASIDE_MM = 0.04  # how far lands of a row may stand off its line
PITCH_SHARE = 0.03
SLENDER = 1.12  # lands at least this much longer than wide stand side by side along their shorter side
WIDEST_ROW_MM = 32.0  # across a part, row to row
ROUND_SHARE = 1.05


@dataclass(frozen=True)
class Row:
    """Lands side by side: their rows in `Lands`, pitch, middle, direction of the line, sides of a land. [mm, rad]"""

    lands: tuple[int, ...]
    pitch_mm: float
    x_mm: float
    y_mm: float
    along_rad: float
    length_mm: float
    width_mm: float

    @property
    def reach_mm(self) -> float:
        """First land's middle to the last's. [mm]"""
        return self.pitch_mm * (len(self.lands) - 1)


def like(one: Ints, other: Ints, lands: Lands, *, turned: bool = False) -> Bools:
    """Pairs of lands of one size and, unless `turned`, one direction."""
    size = np.ones(len(one), dtype=bool)
    for side in (lands.length_mm, lands.width_mm):
        gap = np.abs(side[one] - side[other])
        size &= gap <= np.maximum(LIKE_MM, LIKE_SHARE * np.minimum(side[one], side[other]))
    if turned:
        return size
    turn = np.abs((lands.angle_deg[one] - lands.angle_deg[other] + 90) % 180 - 90)
    square = lands.length_mm[one] <= ROUND_SHARE * lands.width_mm[one]
    return size & ((turn < 2) | square)


def near_pairs(lands: Lands, free: Bools, reach_mm: float) -> tuple[Ints, Ints]:
    """Pairs of free lands whose middles are within reach, each pair once."""
    from scipy.spatial import cKDTree

    rows = np.flatnonzero(free)
    if len(rows) < 2:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    pairs = cKDTree(np.column_stack([lands.x_mm[rows], lands.y_mm[rows]])).query_pairs(reach_mm, output_type="ndarray")
    return rows[pairs[:, 0]].astype(np.int64), rows[pairs[:, 1]].astype(np.int64)


def local(one: Ints, other: Ints, lands: Lands) -> tuple[Floats, Floats]:
    """Displacement from one land to the other along the first one's length, and across it. [mm]"""
    turn = np.radians(lands.angle_deg[one])
    dx, dy = lands.x_mm[other] - lands.x_mm[one], lands.y_mm[other] - lands.y_mm[one]
    return dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)


def rows_of(lands: Lands, free: Bools) -> list[Row]:
    """Rows of at least two slender lands at one pitch.

    A land is tied to the nearest like land on either side along its shorter side; ties much longer than the
    shorter one at either end are cut, so that neighbouring parts at another distance fall apart.
    """
    slender = free & (lands.length_mm >= SLENDER * lands.width_mm)
    one, other = near_pairs(lands, slender, LONGEST_PITCH_MM)
    one, other = np.r_[one, other], np.r_[other, one]
    kept = like(one, other, lands)
    one, other = one[kept], other[kept]
    along, across = local(one, other, lands)
    beside = (np.abs(along) < ASIDE_MM) & (np.abs(across) > 1.02 * lands.width_mm[one])
    one, other, across = one[beside], other[beside], across[beside]
    nearest = _nearest(one, other, across)
    shortest: dict[int, float] = {}
    for at, to, gap in nearest:
        shortest[at] = min(gap, shortest.get(at, gap))
        shortest[to] = min(gap, shortest.get(to, gap))
    ties = [(at, to) for at, to, gap in nearest if gap <= (1 + PITCH_SHARE) * min(shortest[at], shortest[to])]
    return [_row(members, lands) for members in _chains(ties)]


def _nearest(one: Ints, other: Ints, across: Floats) -> list[tuple[int, int, float]]:
    """For each land its nearest neighbour on the positive side that in turn has it as the nearest on its negative."""
    found = []
    best: dict[tuple[int, bool], tuple[float, int]] = {}
    for a, b, d in zip(one.tolist(), other.tolist(), across.tolist(), strict=True):
        key = (a, d > 0)
        if key not in best or abs(d) < best[key][0]:
            best[key] = (abs(d), b)
    for (a, _), (gap, b) in best.items():
        if a < b and any(best.get((b, side), (0.0, -1))[1] == a for side in (True, False)):
            found.append((a, b, gap))
    return found


def _chains(ties: Iterable[tuple[int, int]]) -> list[list[int]]:
    parent: dict[int, int] = {}

    def root(x: int) -> int:
        while parent.setdefault(x, x) != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    for a, b in ties:
        parent[root(a)] = root(b)
    groups: dict[int, list[int]] = {}
    for x in list(parent):
        groups.setdefault(root(x), []).append(x)
    return list(groups.values())


def _row(members: list[int], lands: Lands) -> Row:
    at = np.array(members)
    across = np.radians(lands.angle_deg[members[0]] + 90)
    place = lands.x_mm[at] * np.cos(across) + lands.y_mm[at] * np.sin(across)
    at = at[np.argsort(place)]
    pitch = float(np.ptp(place)) / (len(members) - 1)
    return Row(
        tuple(int(k) for k in at),
        pitch,
        float(lands.x_mm[at].mean()),
        float(lands.y_mm[at].mean()),
        float(across % np.pi),
        float(lands.length_mm[at[0]]),
        float(lands.width_mm[at[0]]),
    )


def facing(rows: list[Row]) -> list[tuple[int, ...]]:
    """Rows that face each other, as pairs, and pairs that share a middle, as fours.

    The distance between facing rows is a package's own: among equal rows the distance that occurs most
    often comes first, then the shorter one.
    """
    pairs = _paired(rows)
    return _squared(rows, pairs)


def _across(one: Row, other: Row) -> tuple[float, float]:
    dx, dy = other.x_mm - one.x_mm, other.y_mm - one.y_mm
    cos, sin = np.cos(one.along_rad), np.sin(one.along_rad)
    return float(dx * cos + dy * sin), float(dy * cos - dx * sin)


def _paired(rows: list[Row]) -> list[tuple[int, int]]:
    from scipy.spatial import cKDTree

    if len(rows) < 2:
        return []
    tree = cKDTree([(row.x_mm, row.y_mm) for row in rows])
    found: list[Facing] = []
    for at, near in enumerate(_neighbours(tree, rows)):
        for to in near:
            if to <= at:
                continue
            one, other = rows[at], rows[to]
            turn = abs((one.along_rad - other.along_rad + np.pi / 2) % np.pi - np.pi / 2)
            same = (
                turn < 0.03
                and _close(one.length_mm, other.length_mm)
                and _close(one.width_mm, other.width_mm)
                and _commensurable(one, other)
            )
            if not same:
                continue
            along, across = _across(one, other)
            longest = max(one.reach_mm, other.reach_mm)
            aside = abs(along) > max(0.06, abs(one.reach_mm - other.reach_mm) / 2 + 0.6 * one.pitch_mm)
            if aside or abs(across) < 1.05 * one.length_mm or abs(across) > max(8.0, 4.0 * longest):
                continue
            key = (
                round(one.length_mm, 1),
                round(one.width_mm, 1),
                round(max(one.pitch_mm, 0.1), 1),
                max(len(one.lands), len(other.lands)),
                round(abs(across), 2),
            )
            unlike = (len(one.lands) != len(other.lands)) + (abs(along) > 0.06)
            found.append((at, to, across, key, unlike))
    found = _adjacent(found)
    often = Counter(key for *_, key, _ in found)
    taken: set[int] = set()
    pairs = []
    for at, to, _, _, _ in sorted(found, key=lambda f: (f[4], -often[f[3]], abs(f[2]))):
        if at not in taken and to not in taken:
            taken |= {at, to}
            pairs.append((at, to))
    return pairs


Facing = tuple[int, int, float, tuple[float, ...], int]


def _adjacent(found: list[Facing]) -> list[Facing]:
    """Without pairs that reach across an equal row in line: no part holds another's row."""
    nearest: dict[tuple[int, bool], float] = {}
    for at, to, across, _, unlike in found:
        if unlike:
            continue
        for key in ((at, across > 0), (to, across < 0)):
            nearest[key] = min(nearest.get(key, np.inf), abs(across))
    return [
        one
        for one in found
        if one[4] or abs(one[2]) <= min(nearest[one[0], one[2] > 0], nearest[one[1], one[2] < 0]) + 1e-6
    ]


# The tree is scipy's, which ships no types.
def _neighbours(tree: Any, rows: list[Row]) -> Iterable[list[int]]:
    for row in rows:
        reach = min(WIDEST_ROW_MM, max(8.2, 4.2 * row.reach_mm))
        yield tree.query_ball_point((row.x_mm, row.y_mm), reach)


def _close(a: float, b: float) -> bool:
    return abs(a - b) <= max(LIKE_MM, 0.06 * min(a, b))


def _commensurable(one: Row, other: Row) -> bool:
    """Equal pitch, or one row with every second land left out."""
    fine, coarse = sorted((one.pitch_mm, other.pitch_mm))
    times = round(coarse / fine)
    return 1 <= times <= 2 and abs(coarse / fine - times) < 0.04


def _squared(rows: list[Row], pairs: list[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Pairs at right angles around one middle are one part."""
    from scipy.spatial import cKDTree

    if not pairs:
        return []
    middles = np.array([[(rows[a].x_mm + rows[b].x_mm) / 2, (rows[a].y_mm + rows[b].y_mm) / 2] for a, b in pairs])
    tree = cKDTree(middles)
    used: set[int] = set()
    found: list[tuple[int, ...]] = []
    for at, pair in enumerate(pairs):
        if at in used:
            continue
        used.add(at)
        group = pair
        for to in tree.query_ball_point(middles[at], 0.35):
            if to in used:
                continue
            one, other = rows[pair[0]], rows[pairs[to][0]]
            turn = abs((one.along_rad - other.along_rad) % np.pi - np.pi / 2)
            if turn < 0.05 and abs(one.pitch_mm / other.pitch_mm - 1) < 0.05:
                used.add(to)
                group = pair + pairs[to]
                break
        found.append(group)
    return found


def grids_of(lands: Lands, free: Bools) -> list[tuple[tuple[int, ...], float]]:
    """Grids of round or square lands: at least two by two at one pitch both ways, with the pitch. [mm]"""
    square = free & (lands.length_mm <= ROUND_SHARE * lands.width_mm) & (lands.length_mm <= 0.9)
    one, other = near_pairs(lands, square, 1.6)
    kept = like(one, other, lands, turned=True)
    one, other = one[kept], other[kept]
    dx, dy = np.abs(lands.x_mm[one] - lands.x_mm[other]), np.abs(lands.y_mm[one] - lands.y_mm[other])
    straight = np.minimum(dx, dy) < ASIDE_MM
    one, other = one[straight], other[straight]
    gap = np.maximum(dx, dy)[straight]
    flat = (dx > dy)[straight]
    nearest = np.full(len(lands), np.inf)
    np.minimum.at(nearest, one, gap)
    np.minimum.at(nearest, other, gap)
    tied = gap <= (1 + PITCH_SHARE) * np.minimum(nearest[one], nearest[other])
    both = np.zeros((2, len(lands)), dtype=bool)
    for axis in (0, 1):
        chosen = tied & (flat == bool(axis))
        both[axis, one[chosen]] = both[axis, other[chosen]] = True
    found = []
    for members in _chains(zip(one[tied].tolist(), other[tied].tolist(), strict=True)):
        corners = [k for k in members if both[0, k] and both[1, k]]
        if len(members) >= 4 and len(corners) >= 4:
            found.append((tuple(members), float(np.median(nearest[np.array(members)]))))
    return found
