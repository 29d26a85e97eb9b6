"""Parts in their own frame: turned and moved onto one place, so that alike parts are found and treated alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.review.model import Component, Floats, Ints, Lands

Hashes = NDArray[np.uint64]
STEP_MM = 0.02  # what is nearer is alike: films are drawn to a few micrometres
ASIDE = 0.137  # of a step: keeps dimensions on usual grids (multiples of 5 µm) off the edges of steps
SQUARE = 1.05


@dataclass(frozen=True)
class Frames:
    """Each part's own frame, and which parts are alike.

    Parameters
    ----------
    turn_rad : array
        Direction of the frame's x axis on the board, one a part. [rad]
    key : array of unsigned integers
        Equal for parts of one land pattern, however they are turned.
    x_mm, y_mm, turned_deg : array
        One a land: its middle in its part's frame, and the direction of its longer side there, 0 to 180. [mm, deg]
    """

    turn_rad: Floats
    key: Hashes
    x_mm: Floats
    y_mm: Floats
    turned_deg: Floats

    def groups(self) -> dict[int, list[int]]:
        """Parts by key, in order of the first."""
        found: dict[int, list[int]] = {}
        for part, key in enumerate(self.key.tolist()):
            found.setdefault(key, []).append(part)
        return found


def frames(parts: Sequence[Component], lands: Lands, part_of_land: Ints) -> Frames:
    """The frames of all parts of a side.

    Notes
    -----
    A frame's first direction is that of the part's most slender land, or from its first land to the nearest; of the
    four quarter turns from there the one with the least sum of hashes is taken, so that it does not depend on how
    the part lies on the board. Mirrored parts differ.

    Examples
    --------
    Two parts a quarter turn apart are of one pattern:

    >>> import shapely
    >>> from landwise.review.building import openings
    >>> from landwise.review.grouping import components
    >>> from landwise.review.matching import part_index
    >>> from landwise.review.lands import lands_of
    >>> one = [shapely.box(0, 0, 0.5, 0.6), shapely.box(1, 0, 1.5, 0.6)]
    >>> other = [shapely.affinity.rotate(shape, 90, origin=(9, 9)) for shape in one]
    >>> lands = lands_of(openings([*one, *other]), None, None)
    >>> parts = components(lands, "top")
    >>> len(set(frames(parts, lands, part_index(parts, 4)).key.tolist()))
    1
    """
    count = len(parts)
    x0 = np.array([part.x_mm for part in parts], dtype=np.float64)
    y0 = np.array([part.y_mm for part in parts], dtype=np.float64)
    own = part_of_land
    inside = own >= 0
    base = _directions(parts, lands, own)
    turn = np.where(inside, base[own], 0.0) if count else np.zeros(len(own))
    dx = np.where(inside, lands.x_mm - (x0[own] if count else 0.0), 0.0)
    dy = np.where(inside, lands.y_mm - (y0[own] if count else 0.0), 0.0)
    u, v = dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)
    slender = lands.length_mm > SQUARE * lands.width_mm
    lies = (lands.angle_deg - np.degrees(turn)) % 180
    sums = np.zeros((4, count), dtype=np.uint64)
    for quarter in range(4):
        a, b = _quartered(u, v, quarter)
        towards = np.where(slender, np.round(((lies - 90 * quarter) % 180) / 5) % 36, 40).astype(np.int64)
        rows = mixed(steps(a), steps(b), steps(lands.length_mm), steps(lands.width_mm), towards)
        np.add.at(sums[quarter], own[inside], rows[inside])
    chosen = np.argmin(sums, axis=0) if count else np.zeros(0, dtype=np.int64)
    key = np.min(sums, axis=0) if count else np.zeros(0, dtype=np.uint64)
    quarter_of = np.where(inside, chosen[own], 0) if count else np.zeros(len(own), dtype=np.int64)
    x, y = u.copy(), v.copy()
    for quarter in range(4):
        at = quarter_of == quarter
        x[at], y[at] = _quartered(u[at], v[at], quarter)
    return Frames(base + chosen * np.pi / 2, key, x, y, (lies - 90 * quarter_of) % 180)


def _quartered(u: Floats, v: Floats, quarter: int) -> tuple[Floats, Floats]:
    """Coordinates in a frame turned on by quarters."""
    return ((u, v), (v, -u), (-u, -v), (-v, u))[quarter]


def _directions(parts: Sequence[Component], lands: Lands, own: Ints) -> Floats:
    """First direction of each part's frame, 0 to a quarter turn. [rad]"""
    count = len(parts)
    if not count:
        return np.zeros(0)
    slender = lands.length_mm / np.maximum(lands.width_mm, 1e-9)
    # Of equally slender lands the first in file order; a land shorter by less than 2 % counts as equal.
    rank = np.round(slender, 2)
    best = np.full(count, -1.0)
    inside = own >= 0
    np.maximum.at(best, own[inside], rank[inside])
    found = np.zeros(count)
    first = np.full(count, -1, dtype=np.int64)
    its = np.flatnonzero(inside & (rank >= np.where(inside, best[own], np.inf) - 1e-9))
    first[own[its][::-1]] = its[::-1]
    found[first >= 0] = np.radians(lands.angle_deg[first[first >= 0]])
    for number in np.flatnonzero(best <= SQUARE):
        part = parts[int(number)]
        if len(part.lands) < 2:
            found[number] = 0.0
            continue
        at = np.array(part.lands)
        away = np.hypot(lands.x_mm[at[1:]] - lands.x_mm[at[0]], lands.y_mm[at[1:]] - lands.y_mm[at[0]])
        near = at[1:][int(np.argmin(away))]
        found[number] = np.arctan2(lands.y_mm[near] - lands.y_mm[at[0]], lands.x_mm[near] - lands.x_mm[at[0]])
    # A direction that is a whole quarter but for rounding is that quarter.
    turned = found % (np.pi / 2)
    return np.where(np.pi / 2 - turned < 1e-4, 0.0, turned)


def steps(values: Floats) -> Ints:
    """Lengths in whole steps."""
    found: Ints = np.floor(values / STEP_MM + 0.5 + ASIDE).astype(np.int64)
    return found


def mixed(*columns: Ints) -> Hashes:
    """One hash a row of whole numbers. Sums of them don't depend on the order of rows."""
    found = np.full(columns[0].shape, 0x9E3779B97F4A7C15, dtype=np.uint64)
    with np.errstate(over="ignore"):
        for column in columns:
            found ^= column.astype(np.uint64)
            found = (found ^ (found >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
            found = (found ^ (found >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
            found ^= found >> np.uint64(31)
    return found
