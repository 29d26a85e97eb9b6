"""What of an option does not depend on its print: which terminals and pairs stand for all, how openings measure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.geometry import Hold, PairGeometry, PartGeometry
from landwise.assembly.partbuild import FACING, part_geometry
from landwise.designing.variables import (
    CENTRE,
    ROUND,
    WIDTH,
    Changes,
    Kind,
    chamfers,
    edge_points,
    edge_sizes,
    kind_of,
    openings_of,
    pad_openings,
    round_points,
    round_sizes,
)
from landwise.lands.model import Land, LandPattern
from landwise.lately import Lately
from landwise.outlines import GRIDS, Outline, Terminal, terminals
from landwise.printing.apertures import ApertureRules
from landwise.printing.deposits import print_part
from landwise.printing.model import Foil
from landwise.shapes import Geometry, Placed, circle, rectangle

Array = NDArray[np.float64]
Take = Callable[[Array], Array]
WIDE = 2.2  # pairs up to so many times the least gap are watched: a narrower row brings the pad's into play
MOST_PAIRS = 5  # kinds of pairs watched, the nearest ones
ANY_FOIL = 100.0  # the pairs follow from plan sizes; the foil only has to be one that can be printed


@dataclass(frozen=True)
class Stand:
    """One joint that stands for all of its kind; `alike` is the first joint whose openings measure the same."""

    number: int
    kind: Kind
    land: Land
    foot: Geometry
    foot_points: Array
    count: int
    alike: int


@dataclass(frozen=True)
class Facing:
    """One pair that stands for all of its kind."""

    first: int
    second: int
    count: int
    holds: tuple[Hold, ...]


@dataclass(frozen=True)
class Sizes:
    """What the openings of one joint measure, arrays over designs. [mm, mm²]"""

    area: Array
    slender: Array
    narrow: Array
    pressed: Array
    pressed_edge: Array

    def taken(self, take: Take) -> Sizes:
        """With something taken of every array."""
        return Sizes(
            take(self.area), take(self.slender), take(self.narrow), take(self.pressed), take(self.pressed_edge)
        )


@dataclass(frozen=True)
class Apart:
    """How the openings of one pair lie, arrays over designs. [mm]"""

    gap: Array
    nx: Array
    ny: Array
    terminal: tuple[Array, Array]
    land: tuple[Array, Array]

    def taken(self, take: Take) -> Apart:
        """With something taken of every array."""
        (first, second), (one, other) = self.terminal, self.land
        beyond = (take(first), take(second)), (take(one), take(other))
        return Apart(take(self.gap), take(self.nx), take(self.ny), *beyond)


@dataclass(frozen=True)
class Table:
    """Everything that a set of designs measures, whatever the foil.

    Arrays are over designs; where each foil has its own, over (curves, designs).
    """

    designs: Array
    sizes: Mapping[int, Sizes]
    pairs: tuple[Apart, ...]

    def taken(self, take: Take) -> Table:
        """With something taken of every array, such as some of the designs."""
        kinds = {id(one): one for one in self.sizes.values()}
        taken = {key: one.taken(take) for key, one in kinds.items()}
        sizes = {number: taken[id(one)] for number, one in self.sizes.items()}
        return Table(take(self.designs), sizes, tuple(one.taken(take) for one in self.pairs))


@dataclass(frozen=True)
class Frame:
    """One option ready to be designed.

    Parameters
    ----------
    base : PartGeometry
        With openings as large as the lands; what follows from the foil is worked anew.
    stands : mapping of int to Stand
        By number of the joint.
    facing : tuple of Facing
    """

    outline: Outline
    pattern: LandPattern
    rules: ApertureRules
    base: PartGeometry
    stands: Mapping[int, Stand]
    facing: tuple[Facing, ...]

    @property
    def kinds(self) -> frozenset[Kind]:
        """Which kinds of land the part has."""
        return frozenset(stand.kind for stand in self.stands.values())

    @cached_property
    def sides(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """The rows of a part that can tilt, by the joints that stand for their kinds, in the order of `stands`."""
        joints, order = self.base.joints, {number: k for k, number in enumerate(self.stands)}
        kinds = {joints[number].kind: order[number] for number in reversed(list(self.stands))}
        left, right = (tuple(kinds[joints[k].kind] for k in side) for side in self.base.sides)
        return left, right


def frame_of(
    outline: Outline, pattern: LandPattern, rules: ApertureRules, *, stand_mm: float | None = None
) -> Frame | None:
    """The frame of an option; None where its openings are none that a design changes.

    A land that is neither a rectangle with plain cut corners nor a disc, or one long enough to be divided, keeps the
    openings that `printing` draws.
    """
    numbered = [land for land in pattern.lands if land.terminal != "EP"]
    if outline.drilled or not numbered:
        return None
    for land in numbered:
        shape = land.place.shape
        if shape.kind != "circle" and chamfers(shape) is None:
            return None
        if max(shape.length_mm, shape.width_mm) > rules.divide_above_mm:
            return None
    plain = openings_of(pattern.lands, outline, Changes(coverage=_plain_coverage(outline, rules)), rules)
    printed = print_part(pattern, Foil(ANY_FOIL), outline=outline, openings=plain)
    wide = FACING if outline.family in GRIDS else WIDE
    base = part_geometry(outline, pattern, printed, stand_mm=stand_mm, facing=wide)
    if base is None:
        return None
    facing = _facing(base, outline)
    counts: dict[int, int] = {}
    for number, count, _ in base.joint_classes:
        counts[number] = count
    for pair in facing:
        for number in (pair.first, pair.second):
            counts.setdefault(number, 0)
    for number, joint in enumerate(base.joints):
        if not joint.counts:
            counts.setdefault(number, 0)
    lands = {land.terminal: land for land in pattern.lands}
    feet = {one.number: one for one in terminals(outline)}
    stands: dict[int, Stand] = {}
    alike: dict[object, int] = {}
    for number, count in counts.items():
        name = base.joints[number].terminal
        key = (lands[name].place.shape, _beyond(lands[name], feet[name]), feet[name].length_mm, feet[name].width_mm)
        first = alike.setdefault((key, name == "EP"), number)
        stands[number] = _stand(number, (lands[name], feet[name]), outline, count, first)
    return Frame(outline, pattern, rules, base, stands, facing)


def _plain_coverage(outline: Outline, rules: ApertureRules) -> float:
    return 0.0 if outline.centre_terminal else rules.pane_coverage


def _facing(base: PartGeometry, outline: Outline) -> tuple[Facing, ...]:
    """The nearest kinds of pairs; on a grid, pairs that differ only by their place are taken as the outermost."""
    found: dict[int | tuple[float, float], tuple[int, float, PairGeometry]] = {}
    for number, count, _ in base.pair_classes:
        pair = base.pairs[number]
        a, b = base.joints[pair.first], base.joints[pair.second]
        lever = max(abs(pair.ny * one.x_mm - pair.nx * one.y_mm) for one in (a, b))
        key: int | tuple[float, float] = number
        if outline.family in GRIDS:
            key = (round(pair.gap_mm, 4), round(abs(pair.nx), 2))
        before, longest, kept = found.get(key, (0, -1.0, pair))
        found[key] = (before + count, lever, pair) if lever > longest else (before + count, longest, kept)
    nearest = sorted(found.values(), key=lambda row: (row[2].gap_mm, row[2].first, row[2].second))[:MOST_PAIRS]
    return tuple(Facing(pair.first, pair.second, count, pair.holds) for count, _, pair in nearest)


def _beyond(land: Land, terminal: Terminal) -> tuple[float, float]:
    """How a land lies from its terminal, outward and across. [mm]"""
    turn = np.radians(terminal.outward_deg)
    x, y = land.place.x_mm - terminal.x_mm, land.place.y_mm - terminal.y_mm
    along, across = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    return round(float(along), 6), round(float(across), 6)


def _stand(number: int, at: tuple[Land, Terminal], outline: Outline, count: int, alike: int) -> Stand:
    land, terminal = at
    shape = circle(terminal.length_mm) if terminal.round else rectangle(terminal.length_mm, terminal.width_mm)
    foot = Placed(shape, terminal.x_mm, terminal.y_mm, terminal.outward_deg)
    return Stand(number, kind_of(land, outline), land, foot.geometry(), foot.points, count, alike)


def measured(frame: Frame, designs: Array) -> Table:
    """Openings of every design: their sizes, what the terminals press of them, and how pairs lie.

    Parameters
    ----------
    designs : array
        (designs, variables), see `variables`. [mm]

    Notes
    -----
    The same designs are asked for again: on every foil where a search begins, and by each check of the one it ends at.
    """
    return _MEASURED.of((frame,), (designs.shape, designs.tobytes()), lambda: _measured(frame, designs.copy()))


_MEASURED: Lately[Table] = Lately(most=128)


def _measured(frame: Frame, designs: Array) -> Table:
    local: dict[int, Array] = {}
    shapes = {number: _drawn(frame, stand, designs, local) for number, stand in frame.stands.items()}
    sizes: dict[int, Sizes] = {}
    for number, stand in frame.stands.items():
        first = frame.stands[stand.alike]
        if stand.alike not in sizes:
            sizes[stand.alike] = _sizes(frame, first, designs, shapes[stand.alike])
        sizes[number] = sizes[stand.alike]
    pairs = tuple(_apart(frame, pair, shapes) for pair in frame.facing)
    return Table(designs, sizes, pairs)


def _drawn(frame: Frame, stand: Stand, designs: Array, local: dict[int, Array]) -> NDArray[np.object_]:
    import shapely

    place = stand.land.place
    if stand.kind == "pad":
        each, row = np.unique(np.round(designs[:, CENTRE], 3), return_inverse=True)
        return np.array([_pad(place, float(coverage), frame.rules)[0] for coverage in each])[row]
    if stand.alike not in local:
        if place.shape.kind == "circle":
            column = designs[:, CENTRE if stand.kind == "middle" else WIDTH]
            points = round_points(place.shape.length_mm + column, designs[:, ROUND])
        else:
            points = edge_points(place.shape, designs)
        local[stand.alike] = np.concatenate([points, points[:, :1]], axis=1)
    points = local[stand.alike]
    return np.asarray(shapely.polygons(place.at(points.reshape(-1, 2)).reshape(points.shape)))


@lru_cache(maxsize=1024)
def _pad(place: Placed, coverage: float, rules: ApertureRules) -> tuple[Geometry, tuple[float, float, float]]:
    """Openings over a pad together, and their area, how slender they are and their narrowest side. [mm², mm, mm]"""
    import shapely

    made = pad_openings(place, coverage, rules)
    one = made[0].shape
    sizes = len(made) * one.area_mm2, one.area_mm2 / one.perimeter_mm, min(one.length_mm, one.width_mm)
    return shapely.multipolygons([opening.geometry() for opening in made]), sizes


def _sizes(frame: Frame, stand: Stand, designs: Array, shapes: NDArray[np.object_]) -> Sizes:
    import shapely

    place = stand.land.place
    if stand.kind == "pad":
        each, row = np.unique(np.round(designs[:, CENTRE], 3), return_inverse=True)
        area, slender, narrow = np.array([_pad(place, float(coverage), frame.rules)[1] for coverage in each])[row].T
    else:
        if place.shape.kind == "circle":
            column = designs[:, CENTRE if stand.kind == "middle" else WIDTH]
            area, edge, narrow = round_sizes(place.shape.length_mm + column, designs[:, ROUND])
        else:
            area, edge, narrow = edge_sizes(place.shape, designs)
        slender = area / edge
    if frame.base.rest.kind == "ball":
        nothing = np.zeros(len(designs))
        return Sizes(area, slender, narrow, nothing, nothing)
    pressed = shapely.intersection(stand.foot, shapes)
    return Sizes(area, slender, narrow, shapely.area(pressed), shapely.length(pressed))


def _apart(frame: Frame, pair: Facing, shapes: Mapping[int, NDArray[np.object_]]) -> Apart:
    import shapely

    one, other = shapes[pair.first], shapes[pair.second]
    lines = shapely.get_coordinates(shapely.shortest_line(one, other)).reshape(-1, 2, 2)
    way = lines[:, 1] - lines[:, 0]
    gap = np.hypot(way[:, 0], way[:, 1])
    direction = way / np.maximum(gap, 1e-9)[:, None]
    terminal, land = [], []
    for number, drawn, towards in ((pair.first, one, direction), (pair.second, other, -direction)):
        stand = frame.stands[number]
        edge = _support_each(drawn, towards)
        terminal.append((towards @ stand.foot_points.T).max(axis=1) - edge)
        land.append((towards @ stand.land.place.points.T).max(axis=1) - edge)
    return Apart(gap, direction[:, 0], direction[:, 1], (terminal[0], terminal[1]), (land[0], land[1]))


def _support_each(shapes: NDArray[np.object_], towards: Array) -> Array:
    """Furthest point of each shape in its own direction. [mm]"""
    import shapely

    points, owner = shapely.get_coordinates(shapes, return_index=True)
    along = (points * towards[owner]).sum(axis=1)
    starts = np.flatnonzero(np.diff(owner, prepend=-1))
    found: Array = np.maximum.reduceat(along, starts)
    return found
