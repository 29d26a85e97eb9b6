"""A part on one line: its geometry with everything that follows from the line's scatter, ready to be assembled.

Every term may be a number, or an array over draws of what is known, (draws, 1): the same functions then work all draws
at once.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np

from landwise.assembly.geometry import (
    Alike,
    Deposited,
    Footing,
    Hold,
    JointGeometry,
    PartGeometry,
    Seat,
    SkewRow,
)
from landwise.assembly.partbuild import FACING, part_geometry
from landwise.assembly.scatter import Z90, Scatter
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.model import Print

Value = Any  # a float, or an array that broadcasts
LEAST_TRANSFER = 0.02  # a band's low end may be zero; a share of the mean below this prints nothing that matters


@dataclass(frozen=True)
class Joint:
    """A joint under the line's scatter: `JointGeometry` with what the terms make of it.

    `film_mm3` is the solder that stays under a flush terminal, `lift_um` and `lift_sd_um` the terminal's height over
    the plane the part stands on, `flux_share` the relative volume below which the deposit wets nothing.
    """

    x_mm: float
    y_mm: float
    hidden: bool
    counts: bool
    transfer: Value
    cv: Value
    metal_mm3: Value
    ball_mm3: Value
    film_mm3: Value
    dome_um: Value
    held_mm2: Value
    pressed_mm2: Value
    pressed_edge_mm: Value
    slump_mm: Value
    lift_um: Value
    lift_sd_um: Value
    flux_share: Value
    bow: Value


@dataclass(frozen=True)
class Pair:
    """A pair under the line's scatter; `capacity_mm3` is what its two joints take back."""

    first: int
    second: int
    gap_mm: float
    nx: float
    ny: float
    terminal_beyond: tuple[float, float]
    land_beyond: tuple[float, float]
    capacity_mm3: Value


@dataclass(frozen=True)
class PartModel:
    """A part under one print on one line.

    Parameters
    ----------
    geometry : PartGeometry
    scatter : Scatter
    wet_um : float
        Mean wet height of the deposits. [µm]
    seat_um : float
        Nominal height that the part comes to rest on; for balls how far they sink. [µm]
    joints, pairs
        Of the geometry, in its order.
    skew : tuple of (limit, lever) in mm, or None
        The offset at which a terminal overhangs too far, and the lever through which a turn adds to it.
    tilt_um, tilt_sd
        Difference in height of two rows at which a part counts as tilted, and its standard deviation over that; zero
        where a part can't tilt.
    """

    geometry: PartGeometry
    scatter: Scatter
    wet_um: Value
    seat_um: Value
    joints: tuple[Joint, ...]
    pairs: tuple[Pair, ...]
    skew: tuple[tuple[Value, float] | None, tuple[Value, float] | None]
    tilt_um: Value
    tilt_sd: Value

    @property
    def seat(self) -> Seat:
        """What the part rests on."""
        return self.geometry.rest.kind

    @property
    def foil_um(self) -> float:
        """Foil. [µm]"""
        return self.geometry.foil_um

    @property
    def least_um(self) -> float:
        """The powder's largest particle. [µm]"""
        return self.geometry.least_um

    @property
    def seat_cv(self) -> float:
        """Spread of the paste that the part rests on."""
        rest = self.geometry.rest
        return self.scatter.deposit_cv(rest.cv, rest.area_ratio)

    @property
    def diagonal_mm(self) -> float:
        """Of the body. [mm]"""
        return self.geometry.diagonal_mm

    @property
    def bridge_classes(self) -> tuple[Alike, ...]:
        """Pairs that differ only by mirror images, and by how far a bow lifts them."""
        return self.geometry.bridge_classes

    @property
    def joint_classes(self) -> tuple[Alike, ...]:
        """Joints that differ only by their place."""
        return self.geometry.joint_classes

    @property
    def sides(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Joints of the two rows between which the part may tilt."""
        return self.geometry.sides

    @property
    def counted(self) -> int:
        """Joints that can be open."""
        return sum(joint.counts for joint in self.geometry.joints)

    def with_scatter(self, scatter: Scatter) -> PartModel:
        """The same part on another line."""
        return part_at(self.geometry, scatter)


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
        Pairs further apart than the nearest by more than `facing - 1` least gaps of lands are left out.

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
    geometry = part_geometry(outline, pattern, printed, stand_mm=stand_mm, hidden=hidden, facing=facing)
    return None if geometry is None else part_at(geometry, scatter)


def part_at(geometry: PartGeometry, scatter: Scatter) -> PartModel:
    """A part's geometry on one line.

    The transfer band is moved with the scatter's `transfer` score: every deposit to the same place in its own band,
    since a laboratory's paste that prints less prints less everywhere; where the line measured its transfer at like
    openings, to what it measured.
    """
    rest, number = geometry.rest, len(geometry.joints)
    factors = _factors(geometry, scatter)
    counted = [k for k in range(number) if geometry.joints[k].counts]
    mean = sum(factors) / max(1, number)
    seat_um = _seat(geometry, scatter, factors, mean)
    share = scatter["coplanarity_share" if rest.kind == "lead" else "flush_coplanarity_share"]
    lift_sd = rest.coplanarity_um * share / 6
    # Leads rest on the lowest of them; soft paste and molten solder carry flush terminals at their mean.
    lift = lift_sd * lowest_of(number) if rest.kind == "lead" else 0.0 * lift_sd
    joints = _joints(geometry, scatter, seat_um, (lift, lift_sd), factors)
    wet = sum(np.sqrt(joints[k].transfer) for k in counted) / max(1, len(counted))
    tilt_um, tilt_sd = _tilt(geometry, scatter, seat_um, joints)
    skew = [None if row is None else (overhang_mm(row, rest.kind, scatter), row.lever_mm) for row in geometry.skew]
    return PartModel(
        geometry=geometry,
        scatter=scatter,
        wet_um=_plain(geometry.foil_um * wet),
        seat_um=_plain(seat_um),
        joints=joints,
        pairs=_pairs(geometry, scatter),
        skew=(skew[0], skew[1]),
        tilt_um=_plain(tilt_um),
        tilt_sd=_plain(tilt_sd),
    )


def _factors(geometry: PartGeometry, scatter: Scatter) -> list[Value]:
    """Volume over its mean, by joint; worked once for joints that are the same."""
    same = geometry.same_joints
    deposits = {k: geometry.joints[k].deposit for k in set(same)}
    each = {k: moved(one, scatter.place(one.area_ratio)) for k, one in deposits.items()}
    return [each[k] for k in same]


def _joints(
    geometry: PartGeometry, scatter: Scatter, seat_um: Value, lift: tuple[Value, Value], factors: list[Value]
) -> tuple[Joint, ...]:
    """All joints; what differs by its place alone shares what was worked for the first."""
    found: list[Joint] = []
    for number, (joint, first) in enumerate(zip(geometry.joints, geometry.same_joints, strict=True)):
        if first == number:
            found.append(joint_at(joint, geometry, scatter, seat_um, lift, factors[number]))
        else:
            here = {"x_mm": joint.x_mm, "y_mm": joint.y_mm, "hidden": joint.hidden}
            found.append(Joint(**{**vars(found[first]), **here}))
    return tuple(found)


def _pairs(geometry: PartGeometry, scatter: Scatter) -> tuple[Pair, ...]:
    """All pairs; what they take back is worked once for holds that are the same."""
    found: list[Pair] = []
    for number, (pair, first) in enumerate(zip(geometry.pairs, geometry.same_holds, strict=True)):
        if first == number:
            capacity = _plain(sum(held_mm3(hold, scatter["mask_angle"]) for hold in pair.holds))
        else:
            capacity = found[first].capacity_mm3
        ends = pair.terminal_beyond, pair.land_beyond
        found.append(Pair(pair.first, pair.second, pair.gap_mm, pair.nx, pair.ny, *ends, capacity))
    return tuple(found)


def _plain(value: Value) -> Value:
    """A plain number where it is one: arrays of single precision keep theirs beside it."""
    return float(value) if np.ndim(value) == 0 else value


def moved(deposit: Deposited, score: Value) -> Value:
    """A deposit's volume over its mean where the paste stands at a score of its transfer band."""
    return stood(deposit.transfer, deposit.low, deposit.high, score)


def stood(mean: Value, low: Value, high: Value, score: Value) -> Value:
    """Transfer over its mean at a score of its band, whose 90 % ends are `low` and `high`; each side by itself.

    >>> round(float(stood(0.8, 0.6, 0.9, 1.6449)), 3), round(float(stood(0.8, 0.6, 0.9, -1.6449)), 3)
    (1.125, 0.75)
    """
    up = np.asarray(high - mean) / np.maximum(mean, 1e-9)
    down = np.asarray(mean - low) / np.maximum(mean, 1e-9)
    share = np.asarray(score) / Z90
    return np.maximum(1 + np.where(share > 0, up, down) * share, LEAST_TRANSFER)


def joint_at(
    joint: JointGeometry,
    geometry: PartGeometry,
    scatter: Scatter,
    seat_um: Value,
    lift: tuple[Value, Value],
    factor: Value,
) -> Joint:
    """One joint on one line; `lift` is the mean and the spread of its terminal's height. [µm]"""
    deposit, foot = joint.deposit, joint.foot
    transfer = deposit.transfer * factor
    area, edge = _pressed(foot, geometry.foil_um, transfer, scatter)
    flush = geometry.rest.kind in ("film", "float")
    # At the height the part rests on, as far as its own solder goes.
    film = foot.held_mm2 * np.minimum(seat_um, deposit.height_um * factor) / 1000 if flush else 0.0
    return Joint(
        x_mm=joint.x_mm,
        y_mm=joint.y_mm,
        hidden=joint.hidden,
        counts=joint.counts,
        transfer=_plain(transfer),
        cv=scatter.deposit_cv(deposit.cv, deposit.area_ratio),
        metal_mm3=_plain(deposit.metal_mm3 * factor),
        ball_mm3=foot.ball_mm3,
        film_mm3=_plain(film),
        dome_um=_plain(deposit.dome_um * factor),
        held_mm2=foot.held_mm2,
        pressed_mm2=_plain(area),
        pressed_edge_mm=_plain(edge),
        slump_mm=deposit.slump_mm,
        lift_um=_plain(lift[0]),
        lift_sd_um=_plain(lift[1]),
        flux_share=_plain(scatter["least_paste"] / np.maximum(transfer, 1e-9)),
        bow=foot.bow,
    )


def overhang_mm(row: SkewRow, kind: Seat, scatter: Scatter) -> Value:
    """The offset at which a row's terminals overhang by more than is accepted. [mm]"""
    if kind == "ball":
        return row.land_mm / 2  # balls centre themselves from up to half a land away
    limit = scatter["overhang"] * row.terminal_mm + max(0.0, (row.land_mm - row.terminal_mm) / 2)
    return limit / (1.0 if kind == "lead" else 1 - scatter["self_centring"])


def lowest_of(count: int) -> float:
    """How far the lowest of `count` normal numbers lies below their mean, in standard deviations (Blom 1958).

    >>> print(f"{lowest_of(14):.2f}")
    1.71
    """
    from scipy.special import ndtri

    return float(-ndtri((1 - 0.375) / (count + 0.25)))


def held_mm3(hold: Hold, angle_deg: Value) -> Value:
    """Solder that a joint takes back over a mask that solder meets at an angle. [mm³]"""
    wetting = np.sqrt(1 - np.cos(np.radians(angle_deg)))
    section = hold.section_mm2 * wetting
    return hold.fixed_mm3 + section * hold.bare_mm + np.maximum(0.0, section - hold.lead_mm2) * hold.foot_mm


def _seat(geometry: PartGeometry, scatter: Scatter, factors: list[Value], mean: Value) -> Value:
    rest = geometry.rest
    if rest.kind == "lead":
        return scatter["lead_film"]
    if rest.kind == "ball":
        return rest.height_um
    if rest.kind == "film":
        return rest.height_um * mean
    pad = next(k for k, joint in enumerate(geometry.joints) if not joint.counts)
    # Gas fills what the solder leaves, but lifts nothing above deposits that keep their printed place.
    with_gas = np.minimum(rest.height_um / (1 - scatter["void_share"]), rest.unspread_um)
    return with_gas * factors[pad]


def _pressed(foot: Footing, foil_um: float, transfer: Value, scatter: Scatter) -> tuple[Value, Value]:
    """Area and outline of what a terminal presses of its paste."""
    if not np.any(foot.ball_radius_mm):
        return foot.pressed_mm2, foot.pressed_edge_mm
    # A ball dips in by a cap: half as much as a flat disc of the cap's rim would displace.
    dip = foil_um / 1000 * np.sqrt(transfer) * (1 - scatter["remaining_share"])
    rim = np.sqrt(np.maximum(0.0, 2 * foot.ball_radius_mm * dip - dip**2))
    return np.pi * rim**2 / 2, 2 * np.pi * rim


def _tilt(geometry: PartGeometry, scatter: Scatter, seat_um: Value, joints: tuple[Joint, ...]) -> tuple[Value, Value]:
    if not all(geometry.sides):
        return 0.0, 0.0
    tilt_um = np.tan(np.radians(scatter["tilt"])) * geometry.span_mm * 1000
    own = np.sqrt(1 - np.square(scatter["volume_common"]))
    variance = sum((seat_um * joints[k].cv * own / len(side)) ** 2 for side in geometry.sides for k in side)
    return tilt_um, np.sqrt(variance) / tilt_um
