"""One part as its assembly sees it: every joint with its deposit, and every pair that could bridge."""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.capacity import ball_capacity, land_hold
from landwise.assembly.geometry import (
    Deposited,
    Footing,
    Hold,
    JointGeometry,
    PairGeometry,
    PartGeometry,
    Resting,
    Seat,
    SkewRow,
    classes_of_joints,
    classes_of_pairs,
    cold_slump_mm,
)
from landwise.joints.contact import dome_height
from landwise.joints.mounted import leadless_stand
from landwise.lands.model import Land, LandPattern
from landwise.lately import Lately
from landwise.outlines import GRIDS, LEADED, LEADLESS, Outline, Terminal, terminals
from landwise.outlines.coplanarity import coplanarity_limit_mm
from landwise.printing.model import Deposit, Print
from landwise.printing.paste import LARGEST_PARTICLE_UM
from landwise.shapes import Geometry

FACING = 1.3  # pairs further apart than this times the part's least gap add nothing
BOW_STEPS = 4
USUAL_COLLAPSE = 0.25  # of a ball's height, where its joint isn't computed: published 20 to 33 %
TILTING = 8  # terminals up to which a part is small enough to tilt


def part_geometry(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    *,
    stand_mm: float | None = None,
    hidden: Collection[str] = (),
    facing: float = FACING,
) -> PartGeometry | None:
    """A part under one print; None where nothing is printed. Arguments as of `partmodel.part_model`.

    Pairs are left out that lie further apart than the nearest by more than `facing - 1` times the least gap of lands:
    openings reduced on all edges then leave the same pairs.
    """
    if not printed.apertures or outline.drilled:
        return None

    def built() -> PartGeometry:
        builder = _Builder(outline, pattern, printed, stand_mm)
        builder.facing = facing
        return builder.geometry()

    # A print is built while it is designed, when it is held against another, and when its rates are worked.
    found = _BUILT.of((outline, pattern), (printed, stand_mm, facing), built)
    return _hiding(found, frozenset(hidden)) if hidden else found


_BUILT: Lately[PartGeometry] = Lately(most=128)


def _hiding(geometry: PartGeometry, hidden: frozenset[str]) -> PartGeometry:
    """The same part with joints that can't be seen from above."""
    joints = tuple(replace(one, hidden=True) if one.terminal in hidden else one for one in geometry.joints)
    return replace(
        geometry,
        joints=joints,
        pair_classes=classes_of_pairs(joints, geometry.pairs),
        joint_classes=classes_of_joints(joints),
    )


class _Builder:
    """Holds what the joints and pairs of one part share."""

    def __init__(
        self,
        outline: Outline,
        pattern: LandPattern,
        printed: Print,
        stand_mm: float | None,
    ) -> None:
        self.outline, self.pattern, self.printed = outline, pattern, printed
        self.stand_mm = stand_mm
        self.facing = FACING
        self.lands: dict[str, Land] = {land.terminal: land for land in pattern.lands}
        self.deposits: dict[str, Deposit] = {deposit.terminal: deposit for deposit in printed.deposits}
        self.terminals: dict[str, Terminal] = {one.number: one for one in terminals(outline)}
        self.names = [a.terminal for a in printed.apertures if a.terminal in self.terminals]
        self.foil = printed.foil.thickness_um
        leaded, grid = outline.family in LEADED, outline.family in GRIDS
        self.seat: Seat = "lead" if leaded else "ball" if grid else "float" if "EP" in self.names else "film"
        self.openings = {aperture.terminal: aperture.openings for aperture in printed.apertures}
        self.feet = {name: _terminal_shape(self.terminals[name]) for name in self.names}
        self.alike: dict[Hashable, tuple[float, float, float]] = {}

    def geometry(self) -> PartGeometry:
        """Everything together."""
        outline = self.outline
        rest = self._rest()
        joints = tuple(self._joint(name) for name in self.names)
        pairs = tuple(self._pairs(joints, rest.height_um))
        sides = self._sides()
        return PartGeometry(
            name=outline.name,
            family=outline.family,
            foil_um=self.foil,
            least_um=LARGEST_PARTICLE_UM[self.printed.powder],
            diagonal_mm=math.hypot(outline.body_length_mm.nom, outline.body_width_mm.nom),
            rest=rest,
            joints=joints,
            pairs=pairs,
            skew=self._skew(),
            sides=sides,
            span_mm=2 * max(abs(t.x_mm) for t in self.terminals.values()),
            pair_classes=classes_of_pairs(joints, pairs),
            joint_classes=classes_of_joints(joints),
        )

    def _rest(self) -> Resting:
        limit = 1000 * coplanarity_limit_mm(self.outline)
        if self.seat == "lead":
            return Resting("lead", 0.0, 0.0, 0.0, limit)
        if self.seat == "ball":
            before = self.outline.standoff_mm.nom
            after = before * (1 - USUAL_COLLAPSE) if self.stand_mm is None else self.stand_mm
            return Resting("ball", max(0.0, before - after) * 1000, 0.0, 0.0, limit)
        # Where pad, edge joints and weight balance: as the joints room has it.
        stand = leadless_stand(self.outline, self.pattern, self.printed) if self.outline.family in LEADLESS else None
        if self.seat == "float":
            deposit = self.deposits["EP"]
            aperture = next(one for one in self.printed.apertures if one.terminal == "EP")
            balance = 1000 * stand.height_mm / stand.window.nominal_um if stand and stand.window else 1.0
            spread = balance * deposit.solder_height_um
            apart = spread / min(1.0, aperture.coverage)
            return Resting("float", spread, apart, _cv(deposit), limit, deposit.area_ratio)
        films = [self.deposits[name] for name in self.names]
        height = 1000 * stand.height_mm if stand else float(np.mean([d.solder_height_um for d in films]))
        return Resting("film", height, height, _cv(films[0]), limit, films[0].area_ratio)

    def _joint(self, name: str) -> JointGeometry:
        deposit, land, terminal = self.deposits[name], self.lands[name], self.terminals[name]
        shape = self.openings[name][0].shape
        width = min(shape.length_mm, shape.width_mm)
        held, pressed, edge = self._pressed_once(name, terminal, land)
        ball = self.seat == "ball"
        return JointGeometry(
            terminal=name,
            x_mm=terminal.x_mm,
            y_mm=terminal.y_mm,
            hidden=False,  # who looks says what is hidden: `part_geometry`
            deposit=Deposited(
                transfer=deposit.transfer.mean,
                low=deposit.transfer.low,
                high=deposit.transfer.high,
                cv=_cv(deposit),
                metal_mm3=deposit.solder_mm3,
                height_um=deposit.solder_height_um,
                dome_um=1000 * self._dome(land, deposit.solder_mm3),
                slump_mm=float(cold_slump_mm(width, self.foil)),
                area_ratio=deposit.area_ratio,
            ),
            foot=Footing(
                land_mm2=land.place.shape.area_mm2,
                held_mm2=held,
                pressed_mm2=pressed,
                pressed_edge_mm=edge,
                ball_mm3=self._ball(),
                ball_radius_mm=terminal.length_mm / 2 if ball else 0.0,
                bow=self._bow(terminal),
            ),
            counts=name != "EP",
        )

    def _pressed_once(self, name: str, terminal: Terminal, land: Land) -> tuple[float, float, float]:
        """The same for every terminal that lies alike on an alike land."""
        turn = math.radians(terminal.outward_deg)
        along, across = land.place.x_mm - terminal.x_mm, land.place.y_mm - terminal.y_mm
        key = (
            terminal.length_mm,
            terminal.width_mm,
            terminal.round,
            land.place.shape,
            tuple(one.shape for one in self.openings[name]),
            round(along * math.cos(turn) + across * math.sin(turn), 6),
        )
        if name == "EP" or key not in self.alike:
            self.alike[key] = self._pressed(name, land)
        return self.alike[key]

    def _pressed(self, name: str, land: Land) -> tuple[float, float, float]:
        """Overlap of terminal and land; area and outline of what a flat terminal presses of the paste."""
        if self.seat == "ball":
            return land.place.shape.area_mm2, 0.0, 0.0
        import shapely

        foot = self.feet[name]
        opening = shapely.union_all([one.geometry() for one in self.openings[name]])
        pressed = foot.intersection(opening)
        return float(foot.intersection(land.place.geometry()).area), float(pressed.area), float(pressed.length)

    def _ball(self) -> float:
        if self.seat != "ball":
            return 0.0
        width, height = self.outline.terminal_width_mm.nom, self.outline.standoff_mm.nom
        if self.outline.package_land_mm is None:
            return math.pi / 6 * width**3
        return math.pi * height / 6 * (3 * (self.outline.package_land_mm.nom / 2) ** 2 + height**2)

    def _dome(self, land: Land, solder_mm3: float) -> float:
        key = ("dome", land.place.shape, solder_mm3)
        if key not in self.alike:
            shape = land.place.shape
            self.alike[key] = (dome_height(shape.length_mm, shape.width_mm, solder_mm3), 0.0, 0.0)
        return self.alike[key][0]

    def _bow(self, terminal: Terminal) -> float:
        """Part of a bow, +½ at the corner and −½ in the middle, in steps so that joints fall into few kinds.

        Leads take a bow up; it is part of their coplanarity.
        """
        if self.seat == "lead":
            return 0.0
        far = max(math.hypot(one.x_mm, one.y_mm) for one in self.terminals.values()) or 1.0
        share = (math.hypot(terminal.x_mm, terminal.y_mm) / far) ** 2
        return round(share * BOW_STEPS) / BOW_STEPS - 0.5

    def _pairs(self, joints: tuple[JointGeometry, ...], sink_um: float) -> list[PairGeometry]:
        import shapely

        shapes, owners = [], []
        for number, name in enumerate(self.names):
            for opening in self.openings[name]:
                shapes.append(opening.geometry())
                owners.append(number)
        geometry, owner = np.array(shapes), np.array(owners)
        reach, first = 0.3, np.empty(0, dtype=int)
        tree = shapely.STRtree(geometry)
        while reach < 1.5 and not first.size:
            # two rows of places, where the library's own types know of one alone
            near: Any = tree.query(geometry, predicate="dwithin", distance=reach)
            first, second = near[:, owner[near[0]] < owner[near[1]]]
            reach *= 2
        if not first.size:
            return []
        gaps = shapely.distance(geometry[first], geometry[second])
        furthest = gaps.min() + (self.facing - 1) * self._least_land_gap(gaps.min())
        if furthest > reach / 2:
            near = tree.query(geometry, predicate="dwithin", distance=furthest)
            first, second = near[:, owner[near[0]] < owner[near[1]]]
            gaps = shapely.distance(geometry[first], geometry[second])
        best: dict[tuple[int, int], tuple[float, int]] = {}
        for k, gap in enumerate(gaps):
            key = int(owner[first[k]]), int(owner[second[k]])
            if gap <= furthest + 1e-9 and (key not in best or gap < best[key][0]):
                best[key] = float(gap), k
        lines = shapely.shortest_line(geometry[first], geometry[second])
        found = []
        for (i, j), (gap, k) in best.items():
            if gap > 0:
                ends = (geometry[first[k]], geometry[second[k]])
                found.append(self._pair((i, j), gap, ends, np.asarray(lines[k].coords), joints, sink_um))
        return found

    def _least_land_gap(self, otherwise: float) -> float:
        """Least gap between lands of terminals: what is near is measured by it, whatever is taken off the openings."""
        names = tuple(name for name in self.names if name != "EP")
        found = _LAND_GAPS.of((self.pattern,), names, lambda: _least_gap([self.lands[name] for name in names]))
        return otherwise if found is None else found

    def _pair(
        self,
        numbers: tuple[int, int],
        gap: float,
        ends: tuple[Geometry, Geometry],
        line: NDArray[np.float64],
        joints: tuple[JointGeometry, ...],
        sink_um: float,
    ) -> PairGeometry:
        direction = (line[1] - line[0]) / gap
        nx, ny = (round(float(part), 6) for part in direction)
        terminal, land = [], []
        for number, aperture, sign in zip(numbers, ends, (1.0, -1.0), strict=True):
            name = self.names[number]
            towards = sign * direction
            edge = _support(np.asarray(aperture.exterior.coords), towards)
            terminal.append(_support(np.asarray(self.feet[name].exterior.coords), towards) - edge)
            land.append(_support(self.lands[name].place.points, towards) - edge)
        apart = max(gap - land[0] - land[1], 1e-3)
        holds = tuple(
            self._hold(joints[number], direction, apart, sink_um)
            for number in numbers
            if joints[number].counts  # a pad under the body takes its own back
        )
        return PairGeometry(numbers[0], numbers[1], gap, nx, ny, (terminal[0], terminal[1]), (land[0], land[1]), holds)

    def _hold(self, joint: JointGeometry, direction: NDArray[np.float64], gap_mm: float, sink_um: float) -> Hold:
        name = joint.terminal
        points = self.lands[name].place.points
        width = _support(points, direction) + _support(points, -direction)
        if self.seat == "ball":
            package = self.outline.package_land_mm
            radius = (width + (package.nom if package else width)) / 4
            return Hold(fixed_mm3=ball_capacity(radius, self.outline.standoff_mm.nom - sink_um / 1000, gap_mm))
        thick = self.outline.terminal_thickness_mm
        lead = (self.terminals[name].width_mm, thick.nom) if self.seat == "lead" and thick else None
        return land_hold(width, gap_mm, joint.foot.land_mm2, joint.foot.held_mm2, lead_mm=lead)

    def _skew(self) -> tuple[SkewRow | None, SkewRow | None]:
        """Terminals in rows along y (which slide along y), and in rows along x; the tightest land of all decides."""
        found: list[SkewRow | None] = []
        for sides, axis in ((("left", "right"), "x_mm"), (("top", "bottom"), "y_mm")):
            row = [
                t
                for t in self.terminals.values()
                if (self.seat == "ball" or t.side in sides) and t.number in self.lands
            ]
            if not row:
                found.append(None)
                continue
            tightest = min(row, key=lambda t: self.lands[t.number].place.shape.width_mm - t.width_mm)
            land = self.lands[tightest.number].place.shape.width_mm
            lever = max(abs(getattr(t, axis)) for t in row)
            found.append(SkewRow(land, 0.0 if self.seat == "ball" else tightest.width_mm, lever))
        return found[0], found[1]

    def _sides(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Who stands in the left and the right row of a part that can tilt."""
        numbers = {name: k for k, name in enumerate(self.names)}
        left, right = (
            tuple(numbers[t.number] for t in self.terminals.values() if t.side == side and t.number in numbers)
            for side in ("left", "right")
        )
        if self.seat != "film" or len(self.names) > TILTING or not (left and right):
            return (), ()
        return left, right


_LAND_GAPS: Lately[float | None] = Lately(most=16)


def _least_gap(lands: Sequence[Land]) -> float | None:
    """None where there is but one land."""
    import shapely

    shapes = np.array([land.place.geometry() for land in lands])
    one, other = shapely.STRtree(shapes).query_nearest(shapes, exclusive=True, all_matches=False)
    return float(shapely.distance(shapes[one], shapes[other]).min()) if one.size else None


def _cv(deposit: Deposit) -> float:
    return deposit.transfer.sd / deposit.transfer.mean if deposit.transfer.mean > 0 else 0.0


def _support(points: NDArray[np.float64], direction: NDArray[np.float64]) -> float:
    return float((points @ direction).max())


@lru_cache(maxsize=512)  # a part is built under one foil after the other
def _terminal_shape(terminal: Terminal) -> Geometry:
    from landwise.shapes import Placed, circle, rectangle

    shape = circle(terminal.length_mm) if terminal.round else rectangle(terminal.length_mm, terminal.width_mm)
    return Placed(shape, terminal.x_mm, terminal.y_mm, terminal.outward_deg).geometry()
