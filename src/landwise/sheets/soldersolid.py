"""Computed solder as solids: each mesh encloses what its joint's model says, between land and terminal.

Frames: a lead's or terminal's joint has x outward from its terminal's middle, y along the row, z over the land.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from landwise.errors import ValidityError
from landwise.joints.gullwing import Foot, GullwingFillet
from landwise.joints.meniscus import Arc
from landwise.joints.pad import Faces, pad_surface
from landwise.joints.section import sheet
from landwise.memory import known
from landwise.sheets.mesh import AROUND, Array, Mesh, chord_radius, fan, grid, joined, loft, revolved, rounded_ring
from landwise.sheets.profilelines import hollow

LEVELS = 10  # between two heights at which a fillet ends
CORNER_STEPS = 8  # chords of the quarter turn between two fillets
FINEST_MM = 0.001  # heights and volumes are rounded as in the side view, so that both share one computed shape
NARROWER = 0.95  # a terminal as wide as its land is taken a little narrower, as in the side view
SIDE_STEPS = 6  # of a thin sheet's bulging side


@dataclass(frozen=True)
class _Column:
    """A line up the solder's surface at one corner of the foot's flat.

    `x`, `y`: the corner; `end`, `side`: +1 or −1, towards tip or heel and towards +y or −y; `turn`: from the end to the
    side [rad]; `top`: where it ends.
    """

    x: float
    y: float
    end: float
    side: float
    turn: float
    top: float


def fillet_solid(foot: Foot, fillet: GullwingFillet) -> Mesh:
    """The solder of one gull-wing or flat lead, from its sections.

    Parameters
    ----------
    foot, fillet
        As computed: the foot as it stands.

    Notes
    -----
    Heel and toe are as wide as the foot, sides as long as its flat; between them stand quarter ellipses, as the joint's
    model has it. The mesh's volume lies within a hundredth of the model's.
    """
    surface = _Surface(foot, fillet)
    corners = [surface.corner(end, side) for end, side in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
    patches: list[Mesh] = []
    for corner, after in zip(corners, (*corners[1:], corners[0]), strict=True):
        patches += surface.patch(corner[1:-1]) + surface.patch([corner[-1], after[0]])
        patches += [surface.flank(corner[0], corner[1], leaving=True), surface.flank(corner[-1], corner[-2])]
    ring = [column for corner in corners for column in corner]
    base = np.array([surface.outer(column)[0] for column in ring])
    under = np.array([surface.inner(column)[0] for column in ring])
    return joined([*patches, fan(base, up=False), fan(under, up=True), *surface.crests()])


class _Surface:
    """The free surface of a fillet and the lead's faces behind it, column by column."""

    def __init__(self, foot: Foot, fillet: GullwingFillet) -> None:
        self.foot, self.fillet = foot, fillet
        self.wall = np.array(fillet.heel_wall_mm)
        tops = (fillet.toe.height_mm, fillet.heel.height_mm, *(side.height_mm for side in fillet.sides))
        self.heights = _levels(sorted({0.0, foot.gap_mm, *tops}))

    def corner(self, end: float, side: float) -> list[_Column]:
        """Its columns counterclockwise: one of the strip before, the quarter turn, one of the strip behind."""
        x = self.foot.length_mm / 2 - (0.0 if end > 0 else self.foot.flat_mm)
        y = side * self.foot.width_mm / 2
        tops = self._end(end).height_mm, self._side(side).height_mm
        turns = np.linspace(0.0, math.pi / 2, CORNER_STEPS + 1)
        columns = [_Column(x, y, end, side, float(turn), min(tops)) for turn in turns]
        columns = [replace(columns[0], top=tops[0]), *columns, replace(columns[-1], top=tops[1])]
        return columns if end * side > 0 else columns[::-1]

    def _end(self, end: float) -> Arc:
        return self.fillet.toe if end > 0 else self.fillet.heel

    def _side(self, side: float) -> Arc:
        return self.fillet.sides[0 if side < 0 else 1]

    def outer(self, column: _Column) -> Array:
        """Points of the free surface up a column. (levels, 3)"""
        z = np.clip(self.heights, 0.0, column.top)
        along = _outward(self._end(column.end), z) + (0.0 if column.end > 0 else self.wall[-1, 0])
        across = _outward(self._side(column.side), z)
        x = column.x + column.end * along * round(math.cos(column.turn), 15)
        return np.column_stack([x, column.y + column.side * across * math.sin(column.turn), z])

    def inner(self, column: _Column) -> Array:
        """Points of the lead behind them; behind the heel it bends away from the land."""
        z = np.clip(self.heights, self.foot.gap_mm, column.top)
        x = np.full(len(z), column.x)
        if column.end < 0:
            reach = (_outward(self.fillet.heel, z) + self.wall[-1, 0]) * round(math.cos(column.turn), 15)
            x -= np.minimum(np.interp(z, self.wall[:, 1], self.wall[:, 0]), reach)
        return np.column_stack([x, np.full(len(z), column.y), z])

    def patch(self, columns: list[_Column]) -> list[Mesh]:
        """Free surface, the lead's face behind it, and what lies between their upper edges."""
        outer = np.stack([self.outer(one) for one in columns], axis=1)
        inner = np.stack([self.inner(one) for one in columns], axis=1)
        faces = (outer, np.stack([outer[-1], inner[-1]]), inner[::-1])
        return [grid(rows, closed=False) for rows in faces]

    def crests(self) -> list[Mesh]:
        """What bulges above a contact line that is pinned to an edge, over each strip."""
        foot, half, tip = self.foot, self.foot.width_mm / 2, self.foot.length_mm / 2
        start, heel = tip - foot.flat_mm, tip - foot.flat_mm - self.wall[-1, 0]
        strips = (
            (self.fillet.toe, (tip, -half), (tip, half), (1.0, 0.0)),
            (self.fillet.heel, (heel, half), (heel, -half), (-1.0, 0.0)),
            (self.fillet.sides[1], (tip, half), (start, half), (0.0, 1.0)),
            (self.fillet.sides[0], (start, -half), (tip, -half), (0.0, -1.0)),
        )
        return [_crest(*strip) for strip in strips if strip[0].wall_rad < -0.02 and strip[0].height_mm > 0]

    def flank(self, strip: _Column, corner: _Column, *, leaving: bool = False) -> Mesh:
        """The upright face of a fillet that climbs higher than its neighbour; `leaving` where it comes first."""
        z = self.heights
        sides = [self.outer(strip), self.inner(strip)] if leaving else [self.inner(strip), self.outer(strip)]
        rows = np.stack(sides, axis=1)[z >= corner.top - 1e-12]
        return grid(rows, closed=False)


def _levels(knots: list[float]) -> Array:
    """Heights from the land to the highest contact line, closest where a surface begins or ends and turns fastest."""
    found = [np.zeros(1)]
    for low, high in pairwise(knots):
        share = (1 - np.cos(np.linspace(0.0, math.pi, LEVELS + 1)[1:])) / 2
        found.append(low + (high - low) * share)
    return np.concatenate(found)


def _outward(arc: Arc, z: Array) -> Array:
    """Distance of an arc from its wall at heights, none above its contact line. [mm]"""
    if arc.height_mm <= 0:
        return np.zeros(len(z))
    return np.array([max(0.0, arc.outward_mm(float(min(one, arc.height_mm)))) for one in z])


def _crest(arc: Arc, begin: tuple[float, float], end: tuple[float, float], out: tuple[float, float]) -> Mesh:
    """The segment of an arc above its contact line, between two points of that line; `out` points off the wall."""
    above = np.array([point for point in arc.points(33) if point[1] > arc.height_mm])
    back = arc.outward_mm(arc.height_mm)
    profile = np.vstack([(0.0, arc.height_mm), above, (back, arc.height_mm)])
    rings = [np.column_stack([np.array(at) + profile[:, :1] * np.array(out), profile[:, 1]]) for at in (begin, end)]
    return loft(np.stack(rings))


def flat_solid(faces: Faces, solder_mm3: float, height_mm: float) -> Mesh | None:
    """The solder between a land and a leadless terminal, from the meshed free surface; None where there is none.

    Parameters
    ----------
    faces : Faces
    solder_mm3, height_mm : float
        As computed for the part; the height is the standoff.

    Returns
    -------
    Mesh
        x along the land from its middle. It encloses the solder, to a thousandth.
    """
    try:
        rings = known(
            lambda: pad_surface(faces, solder_mm3, height_mm), "surface of a flat joint", faces, solder_mm3, height_mm
        )
    except ValidityError:
        return None
    lower, upper = rings[:-1], rings[1:]
    # Four triangles meet in each cell's middle, as in the model, so that the volume is the model's.
    right_lower, right_upper = np.roll(lower, -1, axis=1), np.roll(upper, -1, axis=1)
    middle = (lower + upper + right_lower + right_upper) / 4
    corners = [(lower, right_lower), (right_lower, right_upper), (right_upper, upper), (upper, lower)]
    triangles = np.concatenate([np.stack([a, b, middle], axis=2).reshape(-1, 3, 3) for a, b in corners])
    points, faces_ = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    skin = Mesh(points, faces_.ravel().reshape(-1, 3))
    return joined([skin, fan(rings[0], up=False), fan(rings[-1], up=True)])


def sheet_solid(land_mm: tuple[float, float], filled_mm3: float, height_mm: float) -> Mesh:
    """Solder and gas between a centre pad and its land, each of the same size, the side an arc.

    Parameters
    ----------
    land_mm : (float, float)
        Along x and along y.
    filled_mm3 : float
        Solder with its gas pockets.
    height_mm : float

    Notes
    -----
    Corners are left out as in the thin sheet's model; where its side would bulge or neck beyond a half circle, it is
    drawn upright, on so much of the land as holds it.
    """
    x, y = land_mm
    try:
        curvature, _ = sheet(x * y, 2 * (x + y), filled_mm3, height_mm)
    except ValidityError:
        share = math.sqrt(filled_mm3 / (x * y * height_mm))
        x, y, curvature = x * share, y * share, 0.0
    z = np.linspace(0.0, height_mm, 2 * SIDE_STEPS + 1)
    half = math.asin(max(-1.0, min(1.0, curvature * height_mm / 2)))
    out = np.zeros(len(z)) if abs(half) < 1e-6 else _bulge(z, height_mm, curvature, half)
    rows = []
    for height, by in zip(z, out, strict=True):
        ring = rounded_ring(x / 2 + by, y / 2 + by, max(by, 0.0) + 1e-4)
        rows.append(np.column_stack([ring, np.full(len(ring), height)]))
    return loft(np.stack(rows))


def _bulge(z: Array, height: float, curvature: float, half: float) -> Array:
    """How far an arc between two edges stands out of the upright between them."""
    middle = z - height / 2
    out = np.sqrt(np.maximum(0.0, 1 / curvature**2 - middle**2)) - abs(math.cos(half) / curvature)
    return np.asarray(np.copysign(out, curvature))


def ball_solid(contour_mm: ArrayLike) -> Mesh:
    """A ball joint, turned about its axis. (n, 2): radius and height [mm]"""
    contour = np.asarray(contour_mm, dtype=float)
    return revolved(contour[::8] if len(contour) > 80 else contour)


def cap_contour(height_mm: float, land_mm: float, steps: int = 20) -> Array:
    """A free ball on its package's land: a sphere cut by the land, its lowest point at zero. (n, 2): radius, height

    >>> from landwise.joints.standing import cap_volume
    >>> round(revolved(cap_contour(0.249, 0.25, 60)).volume_mm3 / cap_volume(0.249, 0.25), 2)
    1.0
    """
    radius = ((land_mm / 2) ** 2 + height_mm**2) / (2 * height_mm)
    turn = np.linspace(0.02, math.acos(max(-1.0, 1 - height_mm / radius)), steps)
    return np.column_stack([radius * np.sin(turn), radius - radius * np.cos(turn)])


def barrel_solid(hole_mm: float, lead_mm: tuple[float, float], depth_mm: float, top_mm: float) -> Mesh:
    """Solder in a drilled hole around its lead, from `top_mm` down by `depth_mm`.

    Parameters
    ----------
    lead_mm : (float, float)
        Thickness along x and width along y of the lead's section.
    """
    turn = 2 * math.pi * np.arange(AROUND) / AROUND
    wall = hole_mm / 2 * chord_radius() * np.column_stack([np.cos(turn), np.sin(turn)])
    return _around_lead(np.stack([wall, wall]), lead_mm, (top_mm - depth_mm, top_mm))


def cone_solid(outer_mm: float, lead_mm: tuple[float, float], foot_mm: float, tip_mm: float) -> Mesh:
    """A hollow cone of solder from a land up (or down) its lead: a schematic, as in the side view."""
    turn = 2 * math.pi * np.arange(AROUND) / AROUND
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    inside = _section(lead_mm)
    curve = hollow((0.0, foot_mm), (1.0, tip_mm))
    share = np.array([along for along, _ in curve])[:, None, None]
    rings = (1 - share) * (outer_mm / 2 * circle)[None] + share * (inside * 1.001)[None]
    heights = [z for _, z in curve]
    return _around_lead(rings if tip_mm > foot_mm else rings[::-1], lead_mm, sorted(heights))


def _section(lead_mm: tuple[float, float]) -> Array:
    """A lead's rectangle, at the turns of a circle's chords. (around, 2)"""
    turn = 2 * math.pi * np.arange(AROUND) / AROUND
    half = np.array(lead_mm) / 2
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(way * np.min(half / np.maximum(np.abs(way), 1e-12), axis=1)[:, None])


def _around_lead(rings: Array, lead_mm: tuple[float, float], heights: Sequence[float]) -> Mesh:
    inside = _section(lead_mm)
    outer = np.stack([np.column_stack([ring, np.full(AROUND, z)]) for ring, z in zip(rings, heights, strict=True)])
    inner = np.stack([np.column_stack([inside, np.full(AROUND, z)]) for z in heights])
    rows = np.concatenate([outer, inner[::-1], outer[:1]])
    return grid(rows, closed=True)


def schematic_solid(
    land_mm: tuple[float, float], terminal_mm: tuple[float, float], shift_mm: float, rise_mm: float
) -> Mesh:
    """Solder whose shape is not computed: hollow slopes from the land's edges to the terminal's, as in the side view.

    `shift_mm`: of the terminal's middle from the land's, outward; the origin is the land's middle.
    """
    land = rounded_ring(land_mm[0] / 2, land_mm[1] / 2, 0.02)
    inside = (min(terminal_mm[0], land_mm[0]), min(terminal_mm[1], land_mm[1]))
    terminal = rounded_ring(inside[0] / 2, inside[1] / 2, 0.02) + np.array([shift_mm, 0.0])
    rows = []
    for share, z in hollow((0.0, 0.0), (1.0, rise_mm)):
        rows.append(np.column_stack([(1 - share) * land + share * terminal, np.full(len(land), z)]))
    return loft(np.stack(rows))
