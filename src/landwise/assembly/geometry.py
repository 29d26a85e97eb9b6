"""What a part's rates follow from, before anything scatters: its joints and the pairs of them that face each other.

Lengths in mm, heights in µm, volumes in mm³. A field may also hold an array, with which the limit states then work
all joints at once.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.printing.paste import slump_spacing

Alike = tuple[int, int, int]
Seat = Literal["lead", "film", "float", "ball"]
MEASURED = 1.65  # width over foil of the pads whose slump was measured


def cold_slump_mm(width_mm: float | NDArray[np.float64], foil_um: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each edge of a full deposit moves where the cold slump criterion just allows two of them. [mm]

    Parameters
    ----------
    width_mm : float or array
        Narrowest side of the opening. [mm]
    foil_um : float or array
        Foil. [µm]

    Notes
    -----
    Pastes were measured on pads 1.65 times as wide as the foil is thick. Wider deposits slump by their height alone,
    as only their edges give way. Of more slender ones all paste flows: a ridge of a fluid with a yield stress comes to
    rest at a width that follows from its section, not from the proportion it began with (two-dimensional slump, from
    memory), so its slump goes with the square root of width times height, and deposits of like proportion slump alike.

    Examples
    --------
    >>> wide, measured, slender = (float(cold_slump_mm(mm, 100)) for mm in (0.30, 0.165, 0.165 / 4))
    >>> round(wide, 4), round(measured, 4), round(slender, 4)
    (0.0625, 0.0625, 0.0312)
    """
    measured_mm = MEASURED * foil_um / 1000
    if isinstance(foil_um, np.ndarray):
        half = np.array([_half_spacing_mm(float(one)) for one in foil_um.flat]).reshape(foil_um.shape)
    else:
        half = np.asarray(_half_spacing_mm(foil_um))
    found: NDArray[np.float64] = half * np.sqrt(np.minimum(np.asarray(width_mm) / measured_mm, 1.0))
    return found


@lru_cache(maxsize=256)
def _half_spacing_mm(foil_um: float) -> float:
    return slump_spacing(MEASURED * foil_um / 1000, foil_um, hot=False) / 2


@dataclass(frozen=True)
class Deposited:
    """A deposit at its mean.

    Parameters
    ----------
    transfer, low, high : float
        Share of the aperture's volume that is printed, with the ends of its 90 % band.
    cv : float
        Its spread from deposit to deposit, standard deviation over mean.
    metal_mm3, height_um : float
        Solder, and how high it would stand spread over its land.
    dome_um : float
        Top of the molten deposit by itself.
    slump_mm : float
        How far an edge moves at the slump criterion.
    area_ratio : float
        Of its opening; no part of its text, since transfer and spread tell it apart already.
    """

    transfer: float
    low: float
    high: float
    cv: float
    metal_mm3: float
    height_um: float
    dome_um: float
    slump_mm: float
    area_ratio: float = field(default=1.0, repr=False)


@dataclass(frozen=True)
class Footing:
    """A terminal on its land.

    Parameters
    ----------
    land_mm2, held_mm2 : float
        The land, and the terminal's overlap with it.
    pressed_mm2, pressed_edge_mm : float
        Area and outline of what a flat terminal presses of the deposit.
    ball_mm3, ball_radius_mm : float
        Of a ball; zero elsewhere.
    bow : float
        The share of the part's bow that it takes.
    """

    land_mm2: float
    held_mm2: float
    pressed_mm2: float
    pressed_edge_mm: float
    ball_mm3: float = 0.0
    ball_radius_mm: float = 0.0
    bow: float = 0.0


@dataclass(frozen=True)
class JointGeometry:
    """One terminal, its land and its deposit.

    Parameters
    ----------
    terminal : str
    x_mm, y_mm : float
        Its place from the part's middle.
    hidden : bool
        Whether it can't be seen from above.
    deposit : Deposited
    foot : Footing
    counts : bool
        False for a centre pad: its opens are no defect of their own.
    """

    terminal: str
    x_mm: float
    y_mm: float
    hidden: bool
    deposit: Deposited
    foot: Footing
    counts: bool = True

    @cached_property
    def kind(self) -> tuple[Hashable, ...]:
        """What makes two joints alike but for their place."""
        one, foot = self.deposit, self.foot
        sizes = (one.transfer, one.low, one.high, one.cv, one.metal_mm3, one.height_um, one.dome_um, one.slump_mm)
        feet = (foot.land_mm2, foot.held_mm2, foot.pressed_mm2, foot.pressed_edge_mm, foot.ball_mm3, foot.bow)
        return (self.counts, *(round(value, 7) for value in sizes + feet))

    @property
    def printed_kind(self) -> Hashable:
        """The same without its last, the share of the bow, which lifts a terminal and moves no paste."""
        return self.kind[:-1]


@dataclass(frozen=True)
class Hold:
    """What one joint takes back of solder, before the mask's angle is known.

    Taken back: fixed + s·section·bare + max(0, s·section − lead)·foot, with s = √(1 − cos θ).

    Parameters
    ----------
    section_mm2 : float
        Cross-section of solder on its land, over s.
    bare_mm, foot_mm : float
        Length of bare land, and of land under a lead.
    lead_mm2 : float
        The lead's own section; infinite under a flush terminal, whose foot takes nothing.
    fixed_mm3 : float
        Of a ball joint, which no mask angle moves.
    """

    section_mm2: float = 0.0
    bare_mm: float = 0.0
    foot_mm: float = 0.0
    lead_mm2: float = 0.0
    fixed_mm3: float = 0.0


@dataclass(frozen=True)
class PairGeometry:
    """Two deposits that face each other.

    Parameters
    ----------
    first, second : int
        Numbers of their joints.
    gap_mm : float
        Between their apertures along the direction (`nx`, `ny`) from the first joint to the second.
    terminal_beyond, land_beyond : (first, second)
        How far terminal and land of each stand out past its aperture towards the other; negative inside.
    holds : tuple of Hold
        What the two take back; a centre pad takes its own back and is left out.
    """

    first: int
    second: int
    gap_mm: float
    nx: float
    ny: float
    terminal_beyond: tuple[float, float]
    land_beyond: tuple[float, float]
    holds: tuple[Hold, ...]


@dataclass(frozen=True)
class Resting:
    """What a part comes to rest on.

    Parameters
    ----------
    kind : {"lead", "film", "float", "ball"}
        Its leads, the film under its terminals, a centre pad, or its balls.
    height_um : float
        Of the film; of a centre pad's solder spread over the whole pad, without gas; of how far balls sink.
        None of a lead, whose film is a term of the scatter.
    unspread_um : float
        Of a centre pad: height of its deposits if they don't spread, above which gas lifts nothing.
    cv : float
        Spread of the paste that sets it.
    coplanarity_um : float
        Limit of the terminals' unevenness.
    area_ratio : float
        Of that paste's opening; no part of its text, as of a deposit's.
    """

    kind: Seat
    height_um: float
    unspread_um: float
    cv: float
    coplanarity_um: float
    area_ratio: float = field(default=1.0, repr=False)


@dataclass(frozen=True)
class SkewRow:
    """Terminals in rows: what their side overhang is held to.

    Parameters
    ----------
    land_mm, terminal_mm : float
        Widths across the row; the tightest of all its lands. Balls have no terminal width.
    lever_mm : float
        The row's distance from the middle, through which a turn adds.
    """

    land_mm: float
    terminal_mm: float
    lever_mm: float


@dataclass(frozen=True, repr=False)
class PartGeometry:
    """A part under one print.

    Parameters
    ----------
    name : str
        Of its outline; what no model knows of a package is drawn by it.
    family : str
        Of its outline.
    foil_um, least_um : float
        Foil, and the powder's largest particle, below which nothing is pressed.
    diagonal_mm : float
        Of the body.
    rest : Resting
    joints, pairs
    skew : tuple of SkewRow or None
        For rows along y and along x.
    sides : tuple of two tuples of int
        Joints of the left and the right row of a part small enough to tilt; else empty.
    span_mm : float
        Between those rows.
    pair_classes, joint_classes : tuple of (index, count, hidden)
        Pairs and joints that differ only by mirror images: one of each, how many there are, and how many of them
        can't be seen from above (a bridge shows where either of its joints does).
    """

    name: str
    family: str
    foil_um: float
    least_um: float
    diagonal_mm: float
    rest: Resting
    joints: tuple[JointGeometry, ...]
    pairs: tuple[PairGeometry, ...]
    skew: tuple[SkewRow | None, SkewRow | None]
    sides: tuple[tuple[int, ...], tuple[int, ...]]
    span_mm: float
    pair_classes: tuple[Alike, ...]
    joint_classes: tuple[Alike, ...]

    def __repr__(self) -> str:
        """All that it holds, as seeds want it; told once."""
        return self._text

    @cached_property
    def _text(self) -> str:
        return f"PartGeometry({', '.join(f'{one.name}={getattr(self, one.name)!r}' for one in fields(self))})"

    @cached_property
    def same_joints(self) -> tuple[int, ...]:
        """For every joint the number of the first that is exactly the same but for its place."""
        told = _Told()
        return _firsts((joint.counts, told(joint.deposit), told(joint.foot)) for joint in self.joints)

    @cached_property
    def same_pastes(self) -> tuple[int, ...]:
        """For every joint the number of the first whose paste and solder are the same; a bow may lift them unlike."""
        told, feet = _Told(), _Told(but="bow")
        return _firsts((joint.counts, told(joint.deposit), feet(joint.foot)) for joint in self.joints)

    @cached_property
    def bridge_classes(self) -> tuple[Alike, ...]:
        """`pair_classes` with those as one that only a bow tells apart, which moves no paste: on grids half as many."""
        if len(self.pair_classes) < 2 or np.ndim(self.pairs[0].gap_mm):
            return self.pair_classes
        kinds = [joint.printed_kind for joint in self.joints]
        found: dict[Hashable, Alike] = {}
        for number, count, hidden in self.pair_classes:
            key = _mirrored(self.joints, self.pairs[number], kinds)
            first, so_far, unseen = found.get(key, (number, 0, 0))
            found[key] = first, so_far + count, unseen + hidden
        return tuple(found.values())

    @cached_property
    def same_holds(self) -> tuple[int, ...]:
        """For every pair the number of the first that takes back exactly the same."""
        told = _Told()
        return _firsts(tuple(told(hold) for hold in pair.holds) for pair in self.pairs)


def content(value: object, but: str = "") -> Hashable:
    """What tells two values of one class apart: their fields bit by bit, also where these are arrays; all but one."""
    parts = [one for name, one in vars(value).items() if name != but]
    return tuple([(one.shape, one.tobytes()) if isinstance(one, np.ndarray) else one for one in parts])


class _Told:
    """The content of each object of a part, told once where several joints or pairs share it."""

    def __init__(self, but: str = "") -> None:
        self._but = but
        self._known: dict[int, Hashable] = {}

    def __call__(self, value: object) -> Hashable:
        found = self._known.get(id(value))
        if found is None:
            found = self._known[id(value)] = content(value, self._but)
        return found


def _firsts(keys: Iterable[Hashable]) -> tuple[int, ...]:
    """For every key the number of its first equal."""
    first: dict[Hashable, int] = {}
    return tuple(first.setdefault(key, number) for number, key in enumerate(keys))


def classes_of_pairs(joints: tuple[JointGeometry, ...], pairs: tuple[PairGeometry, ...]) -> tuple[Alike, ...]:
    """Pairs that are mirror images of each other."""
    kinds = [joint.kind for joint in joints]
    found: dict[Hashable, list[int]] = {}
    for number, pair in enumerate(pairs):
        found.setdefault(_mirrored(joints, pair, kinds), []).append(number)
    return tuple(
        (alike[0], len(alike), sum(joints[pairs[n].first].hidden and joints[pairs[n].second].hidden for n in alike))
        for alike in found.values()
    )


def _mirrored(joints: Sequence[JointGeometry], pair: PairGeometry, kinds: Sequence[Hashable]) -> Hashable:
    """What mirror images of a pair have in common; `kinds` are those of the joints."""
    ends = []
    for k, terminal, land in zip((pair.first, pair.second), pair.terminal_beyond, pair.land_beyond, strict=True):
        lever = abs(pair.ny * joints[k].x_mm - pair.nx * joints[k].y_mm)
        ends.append((kinds[k], round(terminal, 5), round(land, 5), round(lever, 4)))
    ends.sort(key=repr)
    return (round(pair.gap_mm, 5), round(abs(pair.nx), 4), round(abs(pair.ny), 4), *ends)


def classes_of_joints(joints: tuple[JointGeometry, ...]) -> tuple[Alike, ...]:
    """Joints that are alike but for their place; a centre pad is in none."""
    found: dict[Hashable, list[int]] = {}
    for number, joint in enumerate(joints):
        if joint.counts:
            found.setdefault(joint.kind, []).append(number)
    return tuple((alike[0], len(alike), sum(joints[n].hidden for n in alike)) for alike in found.values())
