"""How an assembly goes wrong: limit states of bridge, open, float, skew and tilt, for many assemblies at once.

Every function takes arrays over assemblies (any shape that broadcasts) and is used both by the plain simulation
and by the method for rare events, so that the two can only differ by their sampling.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from landwise.assembly.partmodel import Joint, Pair, PartModel

Array = Any  # of float32 in the plain simulation, float64 elsewhere; a plain number where nothing is drawn
Ends = tuple[Joint, Joint]
# Normal numbers that all joints of a part share; the first of them the whole board shares.
COMMON = ("print_x", "print_y", "slump", "volume")
OWN = ("place_x", "place_y", "turn", "remaining", "float", "bow", "edge")
SHARED = len(COMMON) + len(OWN)
LEAST_NOISE_MM = 1e-4  # an edge of paste is never known better
FAINT = -13.0  # normal numbers below it come once in 1e38: no sum that reaches 1e-22 is told apart by any of them
FEW = 1000  # numbers of which it costs less to work all than to look for those that count
LEAST_PRESSED_UM = 1.0  # where hardly any paste is printed there is nothing to press thinner


@dataclass(frozen=True)
class Shared:
    """What all joints of one assembly share, in physical units; arrays over assemblies.

    Each is worked when it is first asked for: bridges, opens and skew follow from different ones.

    Parameters
    ----------
    normal : array
        Standard normal numbers, (SHARED, assemblies), in the order of `COMMON` and `OWN`.
    model : PartModel
    faint : bool
        Whether chances matter however small they are, as they do to who takes logarithms; without it, what no sum can
        show is none.
    """

    normal: Array
    model: PartModel
    faint: bool = True

    def chance(self, score: Array) -> Array:
        """Chance that a standard normal number stays below a score."""
        from scipy.special import ndtr

        if self.faint or np.size(score) < FEW:
            return ndtr(score)
        near = np.flatnonzero(score > FAINT)
        found = np.zeros(score.size)
        found[near] = ndtr(score.take(near))
        return found.reshape(score.shape)

    @cached_property
    def print_mm(self) -> Array:
        """Standard deviation of the print's offset along each axis, with what the foil stretches."""
        return np.hypot(self.model.scatter.print_mm, self.model.scatter["print_stretch"] / 1000)

    @cached_property
    def place_x_mm(self) -> Array:
        """Offset of the part."""
        return self.model.scatter.placement_mm * self.normal[4]

    @cached_property
    def place_y_mm(self) -> Array:
        """Offset of the part."""
        return self.model.scatter.placement_mm * self.normal[5]

    @cached_property
    def turn_rad(self) -> Array:
        """How far the part is turned."""
        return np.radians(self.model.scatter["placement_turn"]) * self.normal[6]

    @cached_property
    def slump(self) -> Array:
        """Share of the slump criterion."""
        line = self.model.scatter
        return line["slump_share"] * np.exp(line["slump_between"] * self.normal[2])

    @cached_property
    def volume(self) -> Array:
        """The standard normal number behind the common part of the paste volumes."""
        return self.normal[3]

    @cached_property
    def remaining_um(self) -> Array:
        """Height left under a terminal."""
        model, line = self.model, self.model.scatter
        printed = np.sqrt(np.maximum(0.0, 1 + model.joints[0].cv * line["volume_common"] * self.normal[3]))
        share = np.clip(line["remaining_share"] + line["remaining_spread"] * self.normal[7], 0.05, 1.0)
        least = np.maximum(LEAST_PRESSED_UM, np.minimum(model.least_um, model.wet_um))
        return np.maximum(share * model.wet_um * printed, least)

    @cached_property
    def seat_um(self) -> Array:
        """Height that the part rests on."""
        model, line = self.model, self.model.scatter
        seat = model.seat_um * (1 + model.seat_cv * line["volume_common"] * self.normal[3])
        return seat * np.exp(line["float_spread"] * self.normal[8]) if model.seat == "float" else seat

    @cached_property
    def bow_um(self) -> Array:
        """How far the part is bowed."""
        return self.model.scatter["warpage"] * self.model.diagonal_mm * self.normal[9]

    @cached_property
    def edge_mm(self) -> Array:
        """How far the edges of all lands stand out."""
        return self.model.scatter["edge"] / 1000 * self.normal[10]

    def printed_mm(self, pair: Pair) -> Array:
        """Offset of the print from the first joint of a pair towards the second."""
        return self.print_mm * (self.normal[0] * pair.nx + self.normal[1] * pair.ny)


def shared(normal: Array, model: PartModel, *, faint: bool = True) -> Shared:
    """Physical values from standard normal numbers, (SHARED, assemblies), in the order of `COMMON` and `OWN`."""
    return Shared(normal, model, faint)


def relative_volume(model: PartModel, joint: Joint, at: Shared, local: Array) -> Array:
    """A deposit's volume over its mean: a part common to the stroke and one of its own, normal, never negative.

    Widths of apertures print normally distributed volumes; the standard deviation is that of the transfer band.
    """
    common = model.scatter["volume_common"]
    return np.maximum(0.0, 1 + joint.cv * (common * at.volume + np.sqrt(1 - np.square(common)) * local))


def wet_um(joint: Joint, foil_um: float, volume: Array) -> Array:
    """Height of a deposit. [µm]

    What a deposit lacks of its aperture's volume is taken to be missing from height and footprint alike, so the
    height falls with the square root of the volume (an assumption; no source).
    """
    return foil_um * np.sqrt(joint.transfer * volume)


def squeezed_mm(joint: Joint, foil_um: float, remaining_um: Array, volume: Array) -> Array:
    """How far paste pressed from under a terminal moves the deposit's edge out. [mm]

    Notes
    -----
    Volume stays: what stood over the pressed area at the wet height lies at the remaining height on that area and an
    even strip around it, (A + P·s + π·s²) · remaining = A · wet.
    """
    wet = wet_um(joint, foil_um, volume)
    added = joint.pressed_mm2 * np.maximum(0.0, wet / remaining_um - 1)
    edge = joint.pressed_edge_mm
    return (np.sqrt(edge**2 + 4 * math.pi * added) - edge) / (2 * math.pi)


def spread_mm(model: PartModel, joint: Joint, at: Shared, volume: Array) -> Array:
    """How far slump and squeeze-out move a deposit's edge, without its own noise. [mm]

    The slump scales with the deposit's height.
    """
    slump = joint.slump_mm * at.slump * np.sqrt(joint.transfer * volume)
    return slump + squeezed_mm(joint, model.foil_um, at.remaining_um, volume)


def noise_mm(model: PartModel, joint: Joint) -> float:
    """Standard deviation of a deposit's own slump. [mm]"""
    share = model.scatter["slump_share"] * model.scatter["slump_within"]
    noise: float = np.maximum(joint.slump_mm * np.sqrt(joint.transfer) * share, LEAST_NOISE_MM)
    return noise


def offsets_mm(pair: Pair, ends: Ends, at: Shared) -> tuple[Array, Array, Array]:
    """Offset of the print towards the second joint, and of both terminals towards the other one. [mm]"""
    printed = at.printed_mm(pair)
    placed = at.place_x_mm * pair.nx + at.place_y_mm * pair.ny
    a, b = ends
    first = placed + at.turn_rad * (a.x_mm * pair.ny - a.y_mm * pair.nx)
    second = placed + at.turn_rad * (b.x_mm * pair.ny - b.y_mm * pair.nx)
    return printed, first, -second


def left_apart_mm(pair: Pair, ends: Ends, at: Shared, first_mm: Array, second_mm: Array) -> tuple[Array, Array, Array]:
    """What is left between two deposits, and between each and the metal of the other. [mm]

    Parameters
    ----------
    ends : (Joint, Joint)
        The pair's joints.
    first_mm, second_mm : array
        How far the edges of the two deposits have moved out.

    Notes
    -----
    Paste may meet paste, or the terminal or the land beside it; the least of the three decides. A print offset
    moves both deposits alike: it brings one nearer to its neighbour's land and terminal, not to its deposit.
    """
    printed, one, other = offsets_mm(pair, ends, at)
    metal_one = np.maximum(pair.terminal_beyond[0] + one, pair.land_beyond[0] + at.edge_mm)
    metal_other = np.maximum(pair.terminal_beyond[1] + other, pair.land_beyond[1] + at.edge_mm)
    paste = pair.gap_mm - first_mm - second_mm
    return (
        paste,
        pair.gap_mm - (printed + first_mm) - metal_other,
        pair.gap_mm - metal_one - (second_mm - printed),
    )


def fullness(pair: Pair, ends: Ends, first: Array, second: Array) -> Array:
    """Solder of two joints over what they take back; `first`, `second` are their relative volumes.

    The film under a flush terminal stays where it is and counts on neither side.
    """
    total: Array = 0.0
    for joint, volume in zip(ends, (first, second), strict=True):
        total = total + joint.counts * np.maximum(0.0, joint.metal_mm3 * volume + joint.ball_mm3 - joint.film_mm3)
    return total / pair.capacity_mm3


def lift_allowed_um(model: PartModel, joint: Joint, at: Shared, volume: Array) -> Array:
    """How far a terminal may stand above its plane before it stays open. [µm]

    Notes
    -----
    A terminal that touches the wet paste is wetted when it melts and hangs on until the solder between it and the
    land tears. A straight column stands as high as the solder over the terminal's own area; with parabolic necks
    pinned at both ends it has closed at three times that. A terminal that does not touch is reached only by the
    dome of the molten solder (or, for balls, once the part has sunk). The better of the two counts.
    """
    touch = wet_um(joint, model.foil_um, volume) - at.remaining_um
    cap = joint.dome_um * volume
    found: Array
    if model.seat == "ball":
        found = np.maximum(touch, at.seat_um + cap)
        return found
    tears = tears_um(model, joint, volume)
    found = np.maximum(np.minimum(touch, tears - at.seat_um), np.minimum(cap, tears) - at.seat_um)
    return found


def tears_um(model: PartModel, joint: Joint, volume: Array) -> Array:
    """Height at which the solder between a terminal and its land tears. [µm]"""
    found: Array = model.scatter["tear_factor"] * joint.metal_mm3 * volume / np.maximum(joint.held_mm2, 1e-9) * 1000
    return found


def bare_chance(model: PartModel, joint: Joint, at: Shared) -> Array:
    """Chance that a deposit's own volume leaves it too little flux to wet anything, given the common part."""
    common = model.scatter["volume_common"]
    spread = np.maximum(joint.cv, 1e-6)
    own = (joint.flux_share - 1) / spread - common * at.volume
    return at.chance(own / np.sqrt(1 - np.square(common)))


def lifted_chance(model: PartModel, joint: Joint, at: Shared, volume: Array, allowed_um: Array = None) -> Array:
    """Chance that a wetted terminal stands higher than it may, over its own height; what it may where that is known."""
    allowed = lift_allowed_um(model, joint, at, volume) if allowed_um is None else allowed_um
    lifted = at.chance((joint.lift_um + at.bow_um * joint.bow - allowed) / joint.lift_sd_um)
    return lifted * (volume >= joint.flux_share)


def floats(model: PartModel, at: Shared) -> Array:
    """Whether a centre pad carries its part out of reach of all other lands. Boolean."""
    if model.seat != "float":
        return np.zeros(np.shape(at.seat_um), dtype=bool)
    return at.seat_um > _reach_um(model, at)


def float_chance(model: PartModel, at: Shared, spread_score: Array) -> Array:
    """Chance of that over the spread of the float's height, whose drawn number is `spread_score`."""
    if model.seat != "float":
        return np.zeros(np.shape(at.seat_um))
    spread = model.scatter["float_spread"]
    middle = at.seat_um * np.exp(-spread * spread_score)
    return at.chance(np.log(np.maximum(middle, 1e-9) / np.maximum(_reach_um(model, at), 1e-9)) / spread)


def _reach_um(model: PartModel, at: Shared) -> Array:
    joint = model.joints[model.joint_classes[0][0]]
    return tears_um(model, joint, np.maximum(0.0, 1 + joint.cv * model.scatter["volume_common"] * at.volume))


def skewed(model: PartModel, at: Shared) -> Array:
    """Whether a terminal overhangs its land by more than is accepted. Boolean."""
    found = np.zeros(np.shape(at.turn_rad), dtype=bool)
    for row, offset in zip(model.skew, (at.place_y_mm, at.place_x_mm), strict=True):
        if row is not None:
            limit, lever = row
            found |= np.abs(offset) + np.abs(at.turn_rad) * lever > limit
    return found


def skew_chance(model: PartModel, at: Shared) -> Array:
    """Chance of that over the offsets, at the turns given."""
    from scipy.special import ndtr

    kept: Array = np.ones(np.shape(at.turn_rad))
    for row in model.skew:
        if row is not None:
            limit, lever = row
            left = np.maximum(0.0, limit - np.abs(at.turn_rad) * lever)
            kept = kept * (1 - 2 * ndtr(-left / model.scatter.placement_mm))
    return 1 - kept


def tilted(model: PartModel, volumes: Array) -> Array:
    """Whether the rows of a small leadless part stand too unlike in height; volumes (joints, assemblies)."""
    if not np.any(model.tilt_um):
        return np.zeros(volumes.shape[1], dtype=bool)
    heights = [model.seat_um * np.mean(volumes[list(side)], axis=0) for side in model.sides]
    found: Array = np.abs(heights[0] - heights[1]) > model.tilt_um
    return found


def tilt_chance(model: PartModel) -> Array:
    """Chance of that over the joints' own volumes."""
    from scipy.special import ndtr

    if not np.any(model.tilt_um):
        return np.zeros(np.shape(model.seat_um))
    found: Array = 2 * ndtr(-1 / np.maximum(model.tilt_sd, 1e-9))
    return found
