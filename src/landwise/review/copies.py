"""Panels that a film draws board by board: one image is kept, with the places at which it comes again.

What a film states as a step and repeat is read in `repeats`; here the copies are found by comparing what is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from landwise.fabdata.gerber import Drawn
from landwise.review.model import Array, Bools, Floats, Ints

LEAST_IMAGE = 6  # openings: what repeats with fewer is a pattern of a board, not a board
LEAST_SIZES = 3  # of openings in an image: rows and parts of one board come again too, with one size or two
LEAST_PITCH_MM = 5.0  # boards stand further apart
SAME_MM = 0.006  # two steps of the coarsest grid in use, a tenth of a mil: each copy is rounded for itself
STROKE = 0.02  # of an opening: strokes beside flashes and regions are mostly lines of a frame
ALIKE = 0.95  # of an image in a place, strokes being what is left out; flashes and regions must all be there
FRAME = 0.5  # of a pitch: longer shapes are lines of a frame, which may lie where a film is cut
MOST_REST = 0.03  # of the openings that may stand outside of all copies: marks on the rim
MOST_OF_IMAGE = 0.2  # of an image in one place: more, and it is a board drawn otherwise, which nobody would look at
SEEDS, TRIED_STEPS, TRIED_PITCHES = 16, 80, 4
SAMPLE = 400
LEAST_AGAIN = 0.3  # of the openings have a next one at the pitch: half, where there are two boards


@dataclass(frozen=True)
class Copies:
    """Where a film draws its image.

    Parameters
    ----------
    array : Array
        The grid that the places lie on; `Array.empty` of them hold no board.
    at_mm : array (boards, 2)
        From the image to each copy, the image itself first. [mm]
    low_mm, pitch_mm : array (2,)
        Lower left corner of the image's cell, and its size. [mm]
    """

    array: Array
    at_mm: Floats
    low_mm: Floats
    pitch_mm: Floats


@dataclass(frozen=True)
class Table:
    """Drawn objects as columns: middles, boxes, what they look like, and of drawn ones width, height, root of area."""

    at: Floats
    low: Floats
    high: Floats
    look: Ints
    form: Floats
    weight: Floats  # what it counts among those that may be in no copy

    def __len__(self) -> int:
        return len(self.look)

    def of(self, rows: Ints | Bools) -> Table:
        """Some of them."""
        return Table(
            self.at[rows], self.low[rows], self.high[rows], self.look[rows], self.form[rows], self.weight[rows]
        )


def copies_of(objects: Sequence[Drawn]) -> tuple[Copies, list[Drawn], list[Drawn]] | None:
    """The image that a film draws at least twice, with the statements of all its copies, and what belongs to no copy.

    Notes
    -----
    A pitch is a distance between openings that look alike, over which the film finds itself again.
    Along it the film is cut where no opening lies. Every cell must then hold the same openings within 6 µm; what
    lies in other cells may be marks on a rim, but no board drawn otherwise.

    Examples
    --------
    >>> from landwise.fabdata.gerber.apertures import standard
    >>> pads = [standard("R", [1.0, 0.1 * k + 0.3]) for k in range(8)]
    >>> film = [Drawn(pads[k], 2.0 * k + 30 * n, 0.0, True, 10, 1, (8 * n + k,)) for n in range(3) for k in range(8)]
    >>> copies, image, rest = copies_of(film)
    >>> copies.array.boards, len(image), image[0].statements, len(rest)
    (3, 8, (0, 8, 16), 0)
    """
    if len(objects) < 2 * LEAST_IMAGE or any(not one.dark or one.copied for one in objects):
        return None
    table = _table(objects)
    for pitch in _lattices(table):
        found = _split(table, pitch)
        if found is None:
            continue
        copies, member, of = found
        rows: list[list[int]] = [[] for _ in range(int(member.max()) + 1)]
        for row in np.lexsort([of, member]).tolist():
            if member[row] >= 0:
                rows[member[row]].append(row)
        image = [
            replace(objects[its[0]], statements=tuple(n for row in its for n in objects[row].statements))
            for its in sorted(rows)
        ]
        return copies, image, [objects[row] for row in np.flatnonzero(member < 0).tolist()]
    return None


def within_image(objects: Sequence[Drawn], copies: Copies) -> list[Drawn] | None:
    """What a film of copper or mask draws in the image's cell; None where its pads are not the same in every copy."""
    if not objects:
        return []
    table = _table(objects)
    flashed = np.array([one.flash for one in objects], dtype=bool)
    found = _matched(table.of(flashed), copies.low_mm, copies.pitch_mm, _cells(copies.at_mm, copies.pitch_mm))
    if found is None:
        return None
    high = copies.low_mm + copies.pitch_mm
    middle = np.all((table.at >= copies.low_mm) & (table.at < high), axis=1)
    reaches = np.all((table.high > copies.low_mm) & (table.low < high), axis=1)
    return [objects[row] for row in np.flatnonzero(np.where(flashed, middle, reaches)).tolist()]


def _table(objects: Sequence[Drawn]) -> Table:
    import shapely

    looks: dict[tuple[int, str, str], int] = {}
    code = np.array(
        [looks.setdefault((id(one.shapes), one.component, one.pin), len(looks)) for one in objects], dtype=np.int64
    )
    first = np.full(len(looks), -1, dtype=np.int64)
    first[code[::-1]] = np.arange(len(objects))[::-1]
    samples = [objects[row] for row in first.tolist()]
    count = np.array([len(one.shapes) for one in samples])
    starts = np.append(0, np.cumsum(count))[:-1]
    polygons = np.empty(int(count.sum()), dtype=object)
    polygons[:] = [shape.polygon for one in samples for shape in one.shapes]
    box = shapely.bounds(polygons)
    low, high = np.minimum.reduceat(box[:, :2], starts), np.maximum.reduceat(box[:, 2:], starts)
    flash = np.array([one.flash for one in samples])
    own = np.where(flash[:, None], 0.0, (low + high) / 2)
    known: dict[tuple[str, str], int] = {}
    look = np.array([known.setdefault((one.component, one.pin), len(known)) for one in samples], dtype=np.int64)
    area = np.array([sum(shape.area_mm2 for shape in one.shapes) for one in samples])
    form = np.column_stack([high - low, np.sqrt(area)])
    at = np.array([(one.x_mm, one.y_mm) for one in objects], dtype=np.float64)
    stroked = np.array([not one.flash and one.code >= 0 for one in objects])
    weight = np.where(stroked & (not stroked.all()), STROKE, 1.0)
    return Table(at + own[code], at + low[code], at + high[code], look[code], form[code], weight)


def grid_of(table: Table) -> Array | None:
    """The grid that objects repeat on; None where they don't."""
    if len(table) < 2 * LEAST_IMAGE:
        return None
    found = (_split(table, pitch) for pitch in _lattices(table))
    return next((one[0].array for one in found if one is not None), None)


def _points(table: Table, at: Floats) -> Floats:
    """Places in more dimensions, so that only objects that look alike lie near each other."""
    return np.column_stack([at, 1000.0 * table.look, table.form])


def _lattices(table: Table) -> Iterator[tuple[float | None, float | None]]:
    """Pitches worth a try, first those at which most recurs; None along an axis without."""
    from scipy.spatial import cKDTree

    points = _points(table, table.at)
    some = points[np.random.default_rng(1).choice(len(points), min(len(points), SAMPLE), replace=False)]
    tree = cKDTree(points)

    def again(step: Floats) -> float:
        share = 0.0
        for few, least in ((some[:40], LEAST_AGAIN / 2), (some, LEAST_AGAIN)):  # of a few, chance hides a half
            near, _ = tree.query(few + step, distance_upper_bound=SAME_MM)
            share = float(np.isfinite(near).mean())
            if share < least:
                return 0.0
        return share

    along, across = (_pitches(points, axis, again) for axis in (0, 1))
    for x in [*along, None]:
        for y in [*across, None]:
            if x is not None or y is not None:
                yield x, y


def _pitches(points: Floats, axis: int, again: Callable[[Floats], float]) -> list[float]:
    """Distances along an axis between openings that look alike, at which many recur: first the most, then the smallest.

    Whatever recurs at twice a board's pitch recurs at once it, so that the boards' own pitch comes before its
    multiples, and before distances at which rows of one board come again.
    """
    others = [k for k in range(points.shape[1]) if k != axis]
    seeds = np.random.default_rng(2).choice(len(points), min(len(points), SEEDS), replace=False)
    found: dict[float, float] = {}
    for seed in points[seeds]:
        alike = np.all(np.abs(points[:, others] - seed[others]) < SAME_MM, axis=1)
        steps = np.unique(np.round(np.abs(points[alike, axis] - seed[axis]), 9))
        for pitch in steps[steps >= LEAST_PITCH_MM][:TRIED_STEPS].tolist():
            step = np.zeros(points.shape[1])
            step[axis] = pitch
            if all(abs(pitch - other) > SAME_MM for other in found) and (share := again(step)):
                found[_refined(pitch, steps)] = share
    return sorted(found, key=lambda pitch: (-found[pitch], pitch))[:TRIED_PITCHES]


def _refined(pitch: float, steps: Floats) -> float:
    """A pitch from the farthest copy in line: each is rounded to the film's grid for itself."""
    count, found = 2, pitch
    while True:
        nearest = float(steps[np.argmin(np.abs(steps - count * found))])
        if abs(nearest - count * found) > SAME_MM:
            return found
        count, found = count + 1, nearest / count


def _cuts(low: Floats, high: Floats, pitch: float) -> list[float]:
    """Where cells of a pitch may begin so that next to no opening is cut.

    Of several places the one that needs fewest cells, then the one that cuts least, then the widest; cells counted
    over all openings, and without the outermost, which may be marks on the rim.
    """
    start, length = low % pitch, np.minimum(high - low, pitch)
    end = start + length
    wrapped = end > pitch
    # How many openings lie over each stretch between two ends, going once around the pitch.
    ends = np.concatenate([start, np.where(wrapped, end - pitch, end), [0.0, pitch]])
    change = np.concatenate([np.ones(len(start)), -np.ones(len(start)), [float(wrapped.sum()), 0.0]])
    order = np.argsort(ends, kind="stable")
    over = np.cumsum(change[order])[:-1]
    ends = ends[order]
    wide = np.diff(ends)
    over[wide <= SAME_MM] = np.inf
    cuts = (ends[1:] + ends[:-1]) / 2
    middle = (low + high) / 2
    found: list[float] = []
    for trim in (0.0, MOST_REST / 3, MOST_REST):
        first, last = np.quantile(middle, [trim, 1 - trim])
        cells = np.floor((last - cuts) / pitch) - np.floor((first - cuts) / pitch)
        best = int(np.lexsort([-wide, over, np.where(over <= MOST_REST * len(low), cells, np.inf)])[0])
        if over[best] <= MOST_REST * len(low) and cuts[best] not in found:
            found.append(float(cuts[best]))
    return found


def _cells(at_mm: Floats, pitch: Floats) -> Ints:
    """Columns and rows of copies, from the image's."""
    return np.round(at_mm / np.where(np.isfinite(pitch), pitch, 1.0)).astype(np.int64)


def _numbered(cell: Ints) -> tuple[Ints, Ints]:
    """Columns and rows that occur, in order, and for each given one which of them it is."""
    if not len(cell):
        return cell, np.zeros(0, dtype=np.int64)
    least = cell.min(axis=0)
    across = int(np.ptp(cell[:, 1])) + 1
    number, label = np.unique((cell[:, 0] - least[0]) * across + cell[:, 1] - least[1], return_inverse=True)
    return np.column_stack(np.divmod(number, across)) + least, label


def _split(table: Table, pitch: tuple[float | None, float | None]) -> tuple[Copies, Ints, Ints] | None:
    """Copies under a pitch; for every object which of the image's it is (-1 for none) and in which copy."""
    size = np.array([np.inf if step is None else step for step in pitch])
    ways: list[list[float]] = []
    for axis, step in enumerate(pitch):
        if step is None:
            ways.append([-np.inf])
            continue
        low, high = table.low[:, axis], table.high[:, axis]
        short = high - low < FRAME * step
        ways.append(_cuts(low[short], high[short], step) if short.any() else [])
    found = (_cut_up(table, np.array(corner), size) for corner in product(*ways))
    return next((one for one in found if one is not None), None)


def _cut_up(table: Table, low: Floats, size: Floats) -> tuple[Copies, Ints, Ints] | None:
    """Copies in cells that begin at a corner; what reaches over the edge of its cell, such as a frame, is in none."""
    finite = np.isfinite(size)
    steps, start = np.where(finite, size, 0.0), np.where(finite, low, 0.0)
    cell = np.floor((table.at - start) / np.where(finite, size, np.inf)).astype(np.int64)
    inside = np.all(
        ~finite | ((table.low >= start + cell * steps) & (table.high <= start + (cell + 1) * steps)), axis=1
    )
    rows = np.flatnonzero(inside)
    every, label = _numbered(cell[rows])
    count = np.bincount(label)
    usual = int(np.bincount(count).argmax())
    full = np.flatnonzero(count == usual)
    if usual < LEAST_IMAGE or len(full) < 2:
        return None
    low = low + np.where(finite, every[full[0]] * steps, 0.0)
    found = _matched(table.of(rows), low, size, None)
    if found is None:
        return None
    places, its, of_its = found
    span = places.max(axis=0) - places.min(axis=0) + 1
    grid = Array(int(span[0]), int(span[1]), float(steps[0]), float(steps[1]), int(span.prod() - len(places)))
    member, of = np.full(len(table), -1, dtype=np.int64), np.full(len(table), -1, dtype=np.int64)
    member[rows], of[rows] = its, of_its
    if len(np.unique(np.round(np.sort(table.form[of == 0, :2], axis=1), 2), axis=0)) < LEAST_SIZES:
        return None
    home = np.zeros((int(member.max()) + 1, 2))
    home[member[of == 0]] = table.at[of == 0]
    copied = of >= 0
    away = table.at[copied] - home[member[copied]]
    times = np.bincount(of[copied])
    at_mm = np.column_stack([np.bincount(of[copied], weights=away[:, axis]) / times for axis in (0, 1)])
    return Copies(grid, at_mm, low, size), member, of


def _matched(table: Table, low: Floats, size: Floats, wanted: Ints | None) -> tuple[Ints, Ints, Ints] | None:
    """Cells that hold what the image's cell does, and each object's match in it; None where they don't do for copies.

    With `wanted`, those cells must all hold it: a copper film under copies that are known.
    """
    from scipy.spatial import cKDTree

    finite = np.isfinite(size)
    steps = np.where(finite, size, 1.0)
    cell = np.where(finite, np.floor((table.at - np.where(finite, low, 0.0)) / steps), 0).astype(np.int64)
    home = np.flatnonzero(~cell.any(axis=1))
    places, label = _numbered(cell)
    if not len(home):
        return (places[:0], label, label) if wanted is not None and not len(table) else None
    rest = table.at - cell * np.where(finite, size, 0.0)
    away, nearest = cKDTree(_points(table.of(home), table.at[home])).query(
        _points(table, rest), distance_upper_bound=SAME_MM
    )
    hit = np.isfinite(away)
    pairs = label[hit] * len(home) + nearest[hit]
    times = np.bincount(pairs, minlength=len(places) * len(home)).reshape(len(places), len(home))
    own = np.bincount(nearest[home], minlength=len(home))  # what is drawn twice in one place counts twice everywhere
    held = np.bincount(label, weights=table.weight, minlength=len(places))
    same = (times == own) & (own > 0)
    weight = np.where(own > 0, table.weight[home], 0.0)
    whole = (same @ weight >= ALIKE * weight.sum()) & np.all(same | (weight < 1), axis=1)
    if wanted is not None:
        its = {tuple(place) for place in places[np.all(same | (own == 0), axis=1)].tolist()}
        return (places, label, label) if all(tuple(one) in its for one in wanted.tolist()) else None
    part = ~whole & (held > MOST_OF_IMAGE * weight.sum())
    if whole.sum() < 2 or part.any():
        return None
    chosen = np.flatnonzero(whole)
    order = chosen[np.argsort(np.abs(places[chosen]).sum(axis=1), kind="stable")]
    number = np.full(len(places), -1, dtype=np.int64)
    number[order] = np.arange(len(order))
    every = same[whole].all(axis=0)
    copied = hit & (number[label] >= 0)
    copied[copied] = every[nearest[copied]]
    if table.weight[~copied].sum() > MOST_REST * table.weight.sum():
        return None
    of = np.where(copied, number[label], -1)
    index = np.cumsum(every) - 1
    return places[order], np.where(copied, index[np.minimum(nearest, len(home) - 1)], -1), of
