"""One part as its assembly sees it: every joint with its deposit, and every pair that could bridge."""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from landwise.assembly.capacity import ball_capacity, land_capacity
from landwise.assembly.scatter import Scatter
from landwise.joints.contact import coplanarity_limit_mm, dome_height
from landwise.lands.model import Land, LandPattern
from landwise.outlines import GRIDS, LEADED, Outline, Terminal, terminals
from landwise.printing.model import Deposit, Print
from landwise.printing.paste import LARGEST_PARTICLE_UM, slump_spacing

Alike = tuple[int, int, int]
Seat = Literal["lead", "film", "float", "ball"]
WIDEST_TESTED = 1.65  # width over foil of the pads whose slump was measured: a wider deposit slumps by its height
NARROWEST_TESTED = 0.5
FACING = 1.3  # pairs further apart than this times the part's least gap add nothing
BOW_STEPS = 4
USUAL_COLLAPSE = 0.25  # of a ball's height, where its joint isn't computed: published 20 to 33 %
TILTING = 8  # terminals up to which a part is small enough to tilt


@dataclass(frozen=True)
class Joint:
    """One terminal, its land and its deposit. Lengths in mm, heights in µm, volumes in mm³.

    `held_mm2` is the terminal's overlap with its land, `pressed_mm2` and `pressed_edge_mm` area and outline of what
    it presses of the deposit, `slump_mm` how far an edge moves at the slump criterion, `lift_um` and `lift_sd_um`
    the terminal's height over the lowest ones, `dome_um` the top of its molten deposit by itself, `bow` the share of
    the part's bow it takes.
    """

    terminal: str
    x_mm: float
    y_mm: float
    hidden: bool
    transfer: float
    transfer_ends: tuple[float, float]
    cv: float
    metal_mm3: float
    ball_mm3: float
    film_mm3: float
    dome_um: float
    land_mm2: float
    held_mm2: float
    pressed_mm2: float
    pressed_edge_mm: float
    slump_mm: float
    lift_um: float
    lift_sd_um: float
    bow: float
    counts: bool = True

    @property
    def kind(self) -> Hashable:
        """What makes two joints alike but for their place."""
        sizes = (self.transfer, self.cv, self.metal_mm3, self.ball_mm3, self.film_mm3, self.dome_um)
        heights = (
            self.land_mm2,
            self.held_mm2,
            self.pressed_mm2,
            self.pressed_edge_mm,
            self.slump_mm,
            self.lift_um,
            self.lift_sd_um,
            self.bow,
        )
        return (self.counts, *(round(value, 7) for value in sizes + heights))


@dataclass(frozen=True)
class Pair:
    """Two deposits that face each other.

    `gap_mm` between their apertures along the direction (`nx`, `ny`) from the first joint to the second;
    `beyond` how far terminal and land of each stand out past its aperture towards the other (negative: inside);
    `capacity_mm3` what the two joints take back.
    """

    first: int
    second: int
    gap_mm: float
    nx: float
    ny: float
    terminal_beyond: tuple[float, float]
    land_beyond: tuple[float, float]
    capacity_mm3: float


@dataclass(frozen=True)
class PartModel:
    """A part under one print, ready to be assembled many times.

    Parameters
    ----------
    foil_um, wet_um, least_um : float
        Foil, mean wet height of the deposits, and the powder's largest particle, below which nothing is pressed.
    seat : {"lead", "film", "float", "ball"}
        What the part comes to rest on: its leads, the film under its terminals, a centre pad, or its balls.
    seat_um : float
        Nominal height of that; for balls how far they sink.
    seat_cv : float
        Spread of the paste that sets it.
    skew : tuple of (limit, lever) in mm
        For rows along y and along x: the offset at which a terminal overhangs too far, and the rows' distance from
        the middle, through which a turn adds to it.
    tilt_sd : float
        Standard deviation of the tilt over its limit; zero where a part can't tilt.
    pair_classes, joint_classes : tuple of (index, count, hidden)
        Pairs and joints that differ only by mirror images: one of each, how many there are, and how many of them
        can't be seen from above (a bridge shows where either of its joints does).
    """

    foil_um: float
    wet_um: float
    least_um: float
    seat: Seat
    seat_um: float
    seat_cv: float
    diagonal_mm: float
    joints: tuple[Joint, ...]
    pairs: tuple[Pair, ...]
    skew: tuple[tuple[float, float] | None, tuple[float, float] | None]
    tilt_sd: float
    sides: tuple[tuple[int, ...], tuple[int, ...]]
    tilt_um: float
    scatter: Scatter
    pair_classes: tuple[Alike, ...]
    joint_classes: tuple[Alike, ...]

    def with_transfer(self, end: Literal["low", "high"]) -> PartModel:
        """The same part where the paste transfers as at one end of its 90 % band."""
        number = 0 if end == "low" else 1
        factors = [joint.transfer_ends[number] / joint.transfer if joint.transfer > 0 else 1.0 for joint in self.joints]
        joints = tuple(
            replace(
                joint,
                transfer=joint.transfer * f,
                metal_mm3=joint.metal_mm3 * f,
                film_mm3=joint.film_mm3 * f,
                dome_um=joint.dome_um * f,
            )
            for joint, f in zip(self.joints, factors, strict=True)
        )
        mean = float(np.mean(factors))
        rests_on_paste = self.seat in ("film", "float")
        return replace(
            self,
            joints=joints,
            wet_um=self.wet_um * math.sqrt(mean),
            seat_um=self.seat_um * mean if rests_on_paste else self.seat_um,
        )

    def with_scatter(self, scatter: Scatter) -> PartModel:
        """The same part on a line with other scatter of paste, placement and heights.

        What the criteria made of the geometry (capacities, limits of overhang and tilt) stays.
        """
        name = "coplanarity_share" if self.seat == "lead" else "flush_coplanarity_share"
        factor = scatter[name] / self.scatter[name]
        joints = self.joints
        if factor != 1:
            joints = tuple(
                replace(joint, lift_um=joint.lift_um * factor, lift_sd_um=joint.lift_sd_um * factor) for joint in joints
            )
        return replace(self, joints=joints, scatter=scatter)


def part_model(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    scatter: Scatter,
    *,
    stand_mm: float | None = None,
    hidden: Collection[str] = (),
    facing: float = FACING,
) -> PartModel | None:
    """A part under one print; None where nothing is printed.

    Parameters
    ----------
    outline, pattern, printed
        The part, its lands, and the paste they get.
    scatter : Scatter
        The line's.
    stand_mm : float, optional
        Computed height of a grid on its molten balls. [mm]
    hidden : collection of str
        Terminals whose joints can't be seen from above.
    facing : float
        Pairs further apart than this times the part's least gap are left out.

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> part = find("TSSOP-14")
    >>> lands = land_pattern(part)
    >>> model = part_model(part, lands, print_part(lands, Foil(100), outline=part), scatter(0.03, 0.05))
    >>> model.seat, len(model.joints), len(model.pairs)
    ('lead', 14, 12)
    """
    if not printed.apertures or outline.drilled:
        return None
    builder = _Builder(outline, pattern, printed, scatter, stand_mm, frozenset(hidden))
    builder.facing = facing
    return builder.model()


class _Builder:
    """Holds what the joints and pairs of one part share."""

    def __init__(
        self,
        outline: Outline,
        pattern: LandPattern,
        printed: Print,
        scatter: Scatter,
        stand_mm: float | None,
        hidden: frozenset[str],
    ) -> None:
        self.outline, self.printed, self.scatter, self.hidden = outline, printed, scatter, hidden
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
        self.seat_um, self.seat_cv = self._seat()
        self.limit_mm = coplanarity_limit_mm(outline)
        self.lowest = lowest_of(len(self.names))
        self.alike: dict[Hashable, tuple[float, float, float]] = {}

    def model(self) -> PartModel:
        """Everything together."""
        outline = self.outline
        seat_um, seat_cv = self.seat_um, self.seat_cv
        joints = tuple(self._joint(name) for name in self.names)
        pairs = tuple(self._pairs(joints, seat_um))
        tilt_um, sides = self._tilt()
        return PartModel(
            foil_um=self.foil,
            wet_um=self.foil * float(np.mean([math.sqrt(joint.transfer) for joint in joints if joint.counts])),
            least_um=LARGEST_PARTICLE_UM[self.printed.powder],
            seat=self.seat,
            seat_um=seat_um,
            seat_cv=seat_cv,
            diagonal_mm=math.hypot(outline.body_length_mm.nom, outline.body_width_mm.nom),
            joints=joints,
            pairs=pairs,
            skew=self._skew(),
            tilt_sd=self._tilt_sd(joints, seat_um, tilt_um, sides),
            sides=sides,
            tilt_um=tilt_um,
            scatter=self.scatter,
            pair_classes=_pair_classes(joints, pairs),
            joint_classes=_joint_classes(joints),
        )

    def _seat(self) -> tuple[float, float]:
        if self.seat == "lead":
            return self.scatter["lead_film"], 0.0
        if self.seat == "ball":
            before = self.outline.standoff_mm.nom
            after = before * (1 - USUAL_COLLAPSE) if self.stand_mm is None else self.stand_mm
            return max(0.0, before - after) * 1000, 0.0
        if self.seat == "float":
            deposit = self.deposits["EP"]
            return deposit.solder_height_um / (1 - self.scatter["void_share"]), _cv(deposit)
        films = [self.deposits[name] for name in self.names]
        return float(np.mean([d.solder_height_um for d in films])), _cv(films[0])

    def _joint(self, name: str) -> Joint:
        deposit, land, terminal = self.deposits[name], self.lands[name], self.terminals[name]
        shape = self.openings[name][0].shape
        width = min(shape.length_mm, shape.width_mm)
        foil_mm = self.foil / 1000
        tested = min(max(width, NARROWEST_TESTED * foil_mm), WIDEST_TESTED * foil_mm)
        held, pressed, edge = self._pressed_once(name, terminal, land)
        share = self.scatter["coplanarity_share" if self.seat == "lead" else "flush_coplanarity_share"]
        sd = 1000 * self.limit_mm * share / 6
        # Leads rest on the lowest of them; soft paste and molten solder carry flush terminals at their mean.
        mean = sd * self.lowest if self.seat == "lead" else 0.0
        return Joint(
            terminal=name,
            x_mm=terminal.x_mm,
            y_mm=terminal.y_mm,
            hidden=name in self.hidden,
            transfer=deposit.transfer.mean,
            transfer_ends=(deposit.transfer.low, deposit.transfer.high),
            cv=_cv(deposit),
            metal_mm3=deposit.solder_mm3,
            ball_mm3=self._ball(),
            film_mm3=self._film(deposit, held),
            dome_um=1000 * self._dome(land, deposit.solder_mm3),
            land_mm2=land.place.shape.area_mm2,
            held_mm2=held,
            pressed_mm2=pressed,
            pressed_edge_mm=edge,
            slump_mm=slump_spacing(tested, self.foil, hot=False) / 2,
            lift_um=mean,
            lift_sd_um=sd,
            bow=self._bow(terminal),
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
            self.deposits[name].transfer.mean,
            round(along * math.cos(turn) + across * math.sin(turn), 6),
        )
        if name == "EP" or key not in self.alike:
            self.alike[key] = self._pressed(name, terminal, land)
        return self.alike[key]

    def _pressed(self, name: str, terminal: Terminal, land: Land) -> tuple[float, float, float]:
        """Overlap of terminal and land; area and outline of what it presses of the paste."""
        if self.seat == "ball":
            # A ball dips in by a cap: half as much as a flat disc of the cap's rim would displace.
            wet = self.foil / 1000 * math.sqrt(self.deposits[name].transfer.mean)
            dip, radius = wet * (1 - self.scatter["remaining_share"]), terminal.length_mm / 2
            rim = math.sqrt(max(0.0, 2 * radius * dip - dip**2))
            return land.place.shape.area_mm2, math.pi * rim**2 / 2, 2 * math.pi * rim
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

    def _film(self, deposit: Deposit, held_mm2: float) -> float:
        """Solder under a flush terminal: at the height the part rests on, as far as its own solder goes."""
        if self.seat in ("lead", "ball"):
            return 0.0
        return held_mm2 * min(self.seat_um, deposit.solder_height_um) / 1000

    def _bow(self, terminal: Terminal) -> float:
        """Part of a bow, +½ at the corner and −½ in the middle, in steps so that joints fall into few kinds.

        Leads take a bow up; it is part of their coplanarity.
        """
        if self.seat == "lead":
            return 0.0
        far = max(math.hypot(one.x_mm, one.y_mm) for one in self.terminals.values()) or 1.0
        share = (math.hypot(terminal.x_mm, terminal.y_mm) / far) ** 2
        return round(share * BOW_STEPS) / BOW_STEPS - 0.5

    def _pairs(self, joints: tuple[Joint, ...], seat_um: float) -> list[Pair]:
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
            near: Any = tree.query(geometry, predicate="dwithin", distance=reach)
            first, second = near[:, owner[near[0]] < owner[near[1]]]
            reach *= 2
        if not first.size:
            return []
        gaps = shapely.distance(geometry[first], geometry[second])
        if self.facing * gaps.min() > reach / 2:
            near = tree.query(geometry, predicate="dwithin", distance=self.facing * gaps.min())
            first, second = near[:, owner[near[0]] < owner[near[1]]]
            gaps = shapely.distance(geometry[first], geometry[second])
        best: dict[tuple[int, int], tuple[float, int]] = {}
        for k, gap in enumerate(gaps):
            key = int(owner[first[k]]), int(owner[second[k]])
            if gap <= self.facing * gaps.min() + 1e-9 and (key not in best or gap < best[key][0]):
                best[key] = float(gap), k
        lines = shapely.shortest_line(geometry[first], geometry[second])
        return [
            self._pair(i, j, gap, geometry[first[k]], geometry[second[k]], np.asarray(lines[k].coords), joints, seat_um)
            for (i, j), (gap, k) in best.items()
            if gap > 0
        ]

    def _pair(
        self, i: int, j: int, gap: float, one: Any, other: Any, line: Any, joints: tuple[Joint, ...], seat_um: float
    ) -> Pair:
        direction = (line[1] - line[0]) / gap
        nx, ny = (round(float(part), 6) for part in direction)
        terminal, land, capacity = [], [], 0.0
        for number, aperture, sign in ((i, one, 1.0), (j, other, -1.0)):
            name = self.names[number]
            towards = sign * direction
            edge = _support(np.asarray(aperture.exterior.coords), towards)
            terminal.append(_support(np.asarray(self.feet[name].exterior.coords), towards) - edge)
            land.append(_support(self.lands[name].place.points, towards) - edge)
        land_gap = max(gap - land[0] - land[1], 1e-3)
        for number in (i, j):
            if self.names[number] != "EP":  # a pad under the body takes its own back
                capacity += self._capacity(joints[number], self.names[number], direction, land_gap, seat_um)
        return Pair(i, j, gap, nx, ny, (terminal[0], terminal[1]), (land[0], land[1]), capacity)

    def _capacity(self, joint: Joint, name: str, direction: Any, gap_mm: float, seat_um: float) -> float:
        points = self.lands[name].place.points
        width = _support(points, direction) + _support(points, -direction)
        if self.seat == "ball":
            package = self.outline.package_land_mm
            radius = (width + (package.nom if package else width)) / 4
            return ball_capacity(radius, self.outline.standoff_mm.nom - seat_um / 1000, gap_mm)
        terminal = self.terminals[name]
        thick = self.outline.terminal_thickness_mm
        lead = (terminal.width_mm, thick.nom) if self.seat == "lead" and thick else None
        return land_capacity(
            width,
            gap_mm,
            joint.land_mm2,
            joint.held_mm2,
            lead_mm=lead,
            mask_angle_deg=self.scatter["mask_angle"],
        )

    def _skew(self) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
        """Limit and lever for terminals in rows along y (which slide along y), and in rows along x."""
        found: list[tuple[float, float] | None] = []
        for sides, axis in ((("left", "right"), "x_mm"), (("top", "bottom"), "y_mm")):
            row = [t for t in self.terminals.values() if t.side in sides and t.number in self.lands]
            if self.seat == "ball":
                row = [t for t in self.terminals.values() if t.number in self.lands]
            if not row:
                found.append(None)
                continue
            land, one = self.lands[row[0].number].place.shape, row[0]
            if self.seat == "ball":
                limit = land.width_mm / 2  # balls centre themselves from up to half a land away
            else:
                limit = self.scatter["overhang"] * one.width_mm + max(0.0, (land.width_mm - one.width_mm) / 2)
                limit /= 1.0 if self.seat == "lead" else 1 - self.scatter["self_centring"]
            found.append((limit, max(abs(getattr(t, axis)) for t in row)))
        return found[0], found[1]

    def _tilt(self) -> tuple[float, tuple[tuple[int, ...], tuple[int, ...]]]:
        """Difference in height of the two rows at which the part counts as tilted, and who stands in them."""
        numbers = {name: k for k, name in enumerate(self.names)}
        sides = tuple(
            tuple(numbers[t.number] for t in self.terminals.values() if t.side == side and t.number in numbers)
            for side in ("left", "right")
        )
        if self.seat != "film" or len(self.names) > TILTING or not all(sides):
            return 0.0, ((), ())
        span = 2 * max(abs(t.x_mm) for t in self.terminals.values())
        return math.tan(math.radians(self.scatter["tilt"])) * span * 1000, (sides[0], sides[1])

    def _tilt_sd(
        self, joints: tuple[Joint, ...], seat_um: float, tilt_um: float, sides: tuple[tuple[int, ...], tuple[int, ...]]
    ) -> float:
        if not tilt_um:
            return 0.0
        own = math.sqrt(1 - self.scatter["volume_common"] ** 2)
        variance = sum((seat_um * joints[k].cv * own / len(side)) ** 2 for side in sides for k in side)
        return math.sqrt(variance) / tilt_um


def _pair_classes(joints: tuple[Joint, ...], pairs: tuple[Pair, ...]) -> tuple[Alike, ...]:
    kinds = [joint.kind for joint in joints]
    found: dict[Hashable, list[int]] = {}
    for number, pair in enumerate(pairs):
        ends = []
        for k, terminal, land in zip((pair.first, pair.second), pair.terminal_beyond, pair.land_beyond, strict=True):
            lever = abs(pair.ny * joints[k].x_mm - pair.nx * joints[k].y_mm)
            ends.append((kinds[k], round(terminal, 5), round(land, 5), round(lever, 4)))
        ends.sort(key=repr)
        key = (round(pair.gap_mm, 5), round(abs(pair.nx), 4), round(abs(pair.ny), 4), *ends)
        found.setdefault(key, []).append(number)
    return tuple(
        (alike[0], len(alike), sum(joints[pairs[n].first].hidden and joints[pairs[n].second].hidden for n in alike))
        for alike in found.values()
    )


def _joint_classes(joints: tuple[Joint, ...]) -> tuple[Alike, ...]:
    found: dict[Hashable, list[int]] = {}
    for number, joint in enumerate(joints):
        if joint.counts:
            found.setdefault(joint.kind, []).append(number)
    return tuple((alike[0], len(alike), sum(joints[n].hidden for n in alike)) for alike in found.values())


def lowest_of(count: int) -> float:
    """How far the lowest of `count` normal numbers lies below their mean, in standard deviations (Blom 1958).

    >>> print(f"{lowest_of(14):.2f}")
    1.71
    """
    from scipy.special import ndtri

    return float(-ndtri((1 - 0.375) / (count + 0.25)))


def _cv(deposit: Deposit) -> float:
    return deposit.transfer.sd / deposit.transfer.mean if deposit.transfer.mean > 0 else 0.0


def _support(points: Any, direction: Any) -> float:
    return float((points @ direction).max())


def _terminal_shape(terminal: Terminal) -> Any:
    from landwise.shapes import Placed, circle, rectangle

    shape = circle(terminal.length_mm) if terminal.round else rectangle(terminal.length_mm, terminal.width_mm)
    return Placed(shape, terminal.x_mm, terminal.y_mm, terminal.outward_deg).geometry()
