"""The few numbers that an aperture design may change, and the openings they make."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.lands.model import Land
from landwise.outlines import GRIDS, Outline
from landwise.printing.apertures import ApertureRules, panes
from landwise.printing.model import Aperture
from landwise.shapes import Placed, Shape, circle, polygon, rectangle, rounded

Array = NDArray[np.float64]
# Columns of a table of designs. Lengths in mm.
WIDTH, TOE, HEEL, CORNER, CENTRE, ROUND = range(6)
NAMES = ("width", "toe", "heel", "corner", "centre", "round")
DEEPEST_CUTS = {1: 0.6, 2: 0.45}  # of an opening's width or half its length, for one corner and two: a blunt end stays
ROUNDED_SQUARE = 0.4  # corner radius over half the side: 0.05 on the 0.25 that one maker prints over balls
ROUNDED_SOURCE = "ti-sces217-yzp0005"
ARC = np.linspace(0.0, np.pi / 2, 9)
Kind = Literal["edge", "ball", "pad", "middle"]
# Corners of a box counterclockwise from outer upper; the two inner ones look at the body.
SIGNS = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
INNER = (1, 2)


@dataclass(frozen=True)
class Changes:
    """What a design changes on the openings of one part against its lands.

    Parameters
    ----------
    width_mm : float
        Added to the width of every opening along its row; to the diameter of an opening over a ball. [mm]
    toe_mm, heel_mm : float
        How far the outer and the inner end lie further out than the land's. [mm]
    corner : float
        Below zero the corners are rounded, by that share of half the shorter side; above zero the corners that look
        at the body's middle are cut, by that share of the deepest cut.
    coverage : float
        Open share of a pad under the body; of a terminal in the middle, its opening's growth. [-, mm]
    roundness : float
        Corner radius over half the side of an opening on a round land: 1 is a disc.
    """

    width_mm: float = 0.0
    toe_mm: float = 0.0
    heel_mm: float = 0.0
    corner: float = 0.0
    coverage: float = 0.0
    roundness: float = 1.0

    @property
    def row(self) -> Array:
        """As a row of a table of designs."""
        return np.array([self.width_mm, self.toe_mm, self.heel_mm, self.corner, self.coverage, self.roundness])

    @classmethod
    def of(cls, row: Array) -> Changes:
        """From a row of a table of designs."""
        return cls(*(float(value) for value in row))


def kind_of(land: Land, outline: Outline) -> Kind:
    """What an opening's land is: of a row, of a ball, the pad under the body, or a terminal in the middle."""
    if land.terminal == "EP":
        return "pad"
    if outline.centre_terminal and land.terminal == outline.centre_terminal:
        return "middle"
    return "ball" if outline.family in GRIDS else "edge"


def chamfers(shape: Shape) -> tuple[float, float, float, float] | None:
    """How deep the four corners of a land are cut at 45°; None for any other polygon. [mm]

    >>> chamfers(rectangle(0.4, 0.2))
    (0.0, 0.0, 0.0, 0.0)
    """
    if shape.kind == "rectangle":
        return (0.0, 0.0, 0.0, 0.0)
    if shape.kind != "polygon":
        return None
    points = np.asarray(shape.points)
    low, high = points.min(axis=0), points.max(axis=0)

    def cut_at(sign: Array) -> float:
        reach = np.abs(points - np.where(sign > 0, high, low))
        beside = [float(r[1 - axis]) for axis in (0, 1) for r in reach if r[axis] < 1e-9]
        return round(min(beside, default=math.inf), 9)

    one, two, three, four = (cut_at(sign) for sign in SIGNS)
    cuts = (one, two, three, four)
    area = shape.length_mm * shape.width_mm - sum(cut**2 / 2 for cut in cuts)
    return cuts if abs(area - shape.area_mm2) < 1e-6 else None


def edge_box(shape: Shape, table: Array) -> tuple[Array, Array, Array]:
    """Inner end, outer end and width of openings over a land, one for each row of a table of designs. [mm]"""
    half = shape.length_mm / 2
    return -half + table[:, HEEL], half + table[:, TOE], shape.width_mm + table[:, WIDTH]


def corner_depths(shape: Shape, table: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Depth of every corner, (designs, 4), and where it is an arc rather than a cut. [mm]"""
    inner, outer, width = edge_box(shape, table)
    base = np.array(chamfers(shape) or (0.0,) * 4)
    shorter = np.minimum(width, outer - inner)
    depth = np.tile(base, (len(table), 1))
    # A land that is cut at one inner corner already has only that one to look at the middle.
    facing = [k for k in INNER if base[k] > 0] or list(INNER)
    deepest = DEEPEST_CUTS[len(facing)] * np.minimum(width, (outer - inner) / 2)
    for k in facing:
        depth[:, k] = np.maximum(base[k], np.minimum(base[k] + np.maximum(table[:, CORNER], 0.0) * deepest, deepest))
    arcs = np.zeros(depth.shape, dtype=bool)
    for k in range(4):
        if base[k] == 0:
            round_ = table[:, CORNER] < 0
            depth[round_, k] = -table[round_, CORNER] * shorter[round_] / 2
            arcs[round_, k] = True
    return depth, arcs


def edge_points(shape: Shape, table: Array) -> Array:
    """Outlines over a land in its own frame, (designs, points, 2), counterclockwise. [mm]"""
    inner, outer, width = edge_box(shape, table)
    depth, arcs = corner_depths(shape, table)
    return _box_points(inner, outer, width, depth, arcs)


def _box_points(inner: Array, outer: Array, width: Array, depth: Array, arcs: NDArray[np.bool_]) -> Array:
    share = ARC / (np.pi / 2)
    found = []
    for k, sign in enumerate(SIGNS):
        corner = np.stack([outer if sign[0] > 0 else inner, sign[1] * width / 2], axis=1)
        order = 1 if sign[0] * sign[1] > 0 else -1
        curve = np.stack([1 - np.cos(ARC), 1 - np.sin(ARC)], axis=1)[::order]
        line = np.stack([share, 1 - share], axis=1)[::order]
        way = np.where(arcs[:, k, None, None], curve[None], line[None])
        found.append(corner[:, None, :] - sign * depth[:, k, None, None] * way)
    return np.concatenate(found, axis=1)


def round_points(diameter: Array, roundness: Array) -> Array:
    """Outlines over a round land in its own frame, (designs, points, 2). [mm]"""
    radius = np.repeat((roundness * diameter / 2)[:, None], 4, axis=1)
    return _box_points(-diameter / 2, diameter / 2, diameter, radius, np.ones(radius.shape, dtype=bool))


def edge_sizes(shape: Shape, table: Array) -> tuple[Array, Array, Array]:
    """Area, perimeter and narrowest side of openings over a land, exact. [mm², mm, mm]"""
    inner, outer, width = edge_box(shape, table)
    depth, arcs = corner_depths(shape, table)
    length = outer - inner
    lost = np.where(arcs, (1 - math.pi / 4) * depth**2, depth**2 / 2).sum(axis=1)
    shorter = np.where(arcs, (2 - math.pi / 2) * depth, (2 - math.sqrt(2)) * depth).sum(axis=1)
    return length * width - lost, 2 * (length + width) - shorter, np.minimum(length, width)


def round_sizes(diameter: Array, roundness: Array) -> tuple[Array, Array, Array]:
    """Area, perimeter and narrowest side of openings over a round land. [mm², mm, mm]"""
    radius = roundness * diameter / 2
    return diameter**2 - (4 - math.pi) * radius**2, 4 * diameter - (8 - 2 * math.pi) * radius, diameter


def pad_openings(place: Placed, coverage: float, rules: ApertureRules) -> tuple[Placed, ...]:
    """Openings over the pad under a body for a coverage: panes from a size on, one opening below it."""
    made = replace(rules, pane_coverage=coverage)
    shape = place.shape
    if min(shape.length_mm, shape.width_mm) > rules.pane_from_mm:
        return panes(place, made)
    side = math.sqrt(coverage)
    if shape.kind == "circle":
        return (place.with_shape(circle(shape.length_mm * side)),)
    return (place.with_shape(rectangle(shape.length_mm * side, shape.width_mm * side)),)


def most_coverage(place: Placed, rules: ApertureRules) -> float:
    """The largest coverage of a pad that leaves its foil the least bars: what `panes` reaches in full. [-]

    >>> round(most_coverage(Placed(rectangle(1.8, 1.8)), ApertureRules()), 2)
    0.79
    """
    length, width = place.shape.length_mm, place.shape.width_mm
    if min(length, width) <= rules.pane_from_mm:
        return 1.0
    best = rules.pane_coverage
    for coverage in np.arange(0.30, 1.0, 0.01):
        side = math.sqrt(coverage)
        columns = max(2, math.ceil(length * side / rules.largest_pane_mm - 1e-9))
        rows = max(2, math.ceil(width * side / rules.largest_pane_mm - 1e-9))
        pane = (length * side / columns, width * side / rows)
        bars = (length - columns * pane[0]) / (columns - 1), (width - rows * pane[1]) / (rows - 1)
        if min(bars) >= rules.pane_bar_mm - 1e-9:
            best = max(best, round(float(coverage), 2))
    return min(best, 1.0)


def edge_shape(shape: Shape, changes: Changes) -> tuple[Shape, float]:
    """The opening over a land as a shape around its own origin, and how far that lies outward of the land's. [mm]"""
    table = changes.row[None]
    inner, outer, width = (float(value[0]) for value in edge_box(shape, table))
    depth, arcs = (value[0] for value in corner_depths(shape, table))
    length, shift = outer - inner, (outer + inner) / 2
    if not depth.any():
        return rectangle(length, width), shift
    if arcs.all():
        return rounded(length, width, float(depth[0])), shift
    corners = []
    for k, sign in enumerate(SIGNS):
        at = sign * np.array([length, width]) / 2
        if depth[k] == 0:
            corners.append(tuple(at))
            continue
        order = 1 if sign[0] * sign[1] > 0 else -1
        if arcs[k]:
            way = np.stack([1 - np.cos(ARC), 1 - np.sin(ARC)], axis=1)
        else:
            way = np.array([[0.0, 1.0], [1.0, 0.0]])
        corners += [tuple(at - sign * depth[k] * step) for step in way[::order]]
    return polygon([(round(float(x), 9), round(float(y), 9)) for x, y in corners]), shift


def openings_of(
    lands: tuple[Land, ...], outline: Outline, changes: Changes, rules: ApertureRules
) -> tuple[Aperture, ...]:
    """The apertures of a design, in the order of the lands."""
    return tuple(_opening(land, outline, changes, rules) for land in lands)


def _opening(land: Land, outline: Outline, changes: Changes, rules: ApertureRules) -> Aperture:
    kind, shape = kind_of(land, outline), land.place.shape
    area = shape.area_mm2
    if kind == "pad":
        return Aperture("EP", pad_openings(land.place, changes.coverage, rules), area)
    if shape.kind == "circle":
        size = shape.length_mm + (changes.coverage if kind == "middle" else changes.width_mm)
        made = circle(size) if changes.roundness > 1 - 1e-9 else rounded(size, size, changes.roundness * size / 2)
        return Aperture(land.terminal, (land.place.with_shape(made),), area)
    made, shift = edge_shape(shape, changes)
    angle = math.radians(land.place.angle_deg)
    moved = replace(
        land.place.with_shape(made),
        x_mm=round(land.place.x_mm + shift * math.cos(angle), 9),
        y_mm=round(land.place.y_mm + shift * math.sin(angle), 9),
    )
    return Aperture(land.terminal, (moved,), area)
