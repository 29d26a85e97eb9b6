"""How far a design stays from its defects, in standard deviations, for many designs at once.

The limit states are those of the rare-defect method, worked on joints that stand for their kinds and on few, fixed
points; so a margin is a smooth function of the design. What is left out (a ball joint's sinking with its paste, a pair
that comes near only on one design) is caught when the exact model confirms the design.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import SimpleNamespace

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.geometry import PartGeometry
from landwise.assembly.partmodel import PartModel, part_at
from landwise.assembly.rare import LOCAL, bridge_chances, open_chances
from landwise.assembly.scatter import Scatter
from landwise.assembly.sobol import Sobol, normal_block, shifted_normals
from landwise.designing.curves import Curve
from landwise.designing.frame import Frame, Table
from landwise.designing.points import Centres
from landwise.designing.stacked import Line, stacked
from landwise.lately import Lately
from landwise.untyped import Number

Array = NDArray[np.float64]
WAYS = ("bridge", "open", "float", "tilt", "skew")
POINTS = 64
TURNS, WIDER_TURN = 512, 1.5
FLOAT = len(m.COMMON) + m.OWN.index("float")
LEAST_RATE = 1e-10  # defects per joint: nothing that could be told apart lies below


@dataclass(frozen=True)
class Rates:
    """Defects of one part for each design, and what they follow from.

    Parameters
    ----------
    bridges, opens, floats, tilts, skews : array
        Expected number on one part. (curves, designs)
    joints : int
        Joints that count.
    seat_um : array
        Height on which the part rests. (curves, designs) [µm]
    metal : mapping of int to array
        Solder of each joint that stands for its kind. (curves, designs) [mm³]
    ratio : mapping of int to array
        Area ratio of its weakest opening. (designs,), or (curves, designs) on several foils
    """

    bridges: Array
    opens: Array
    floats: Array
    tilts: Array
    skews: Array
    joints: int
    seat_um: Array
    metal: Mapping[int, Array]
    ratio: Mapping[int, Array]

    @property
    def defects(self) -> Array:
        """Their sum."""
        return self.bridges + self.opens + self.floats + self.tilts + self.skews

    @property
    def margin(self) -> Array:
        """Standard deviations between the print and a defect, all of them together. (curves, designs)"""
        return np.asarray(margin_of(self.defects / self.joints))

    @property
    def of_print(self) -> Array:
        """The margin without skew, which no opening changes. (curves, designs)"""
        return np.asarray(margin_of((self.defects - self.skews) / self.joints))

    def of_rows(self, rows: slice, count: int) -> Rates:
        """Some of the curves, all on one foil, with their first designs."""

        def its(values: Array) -> Array:
            return values[rows, :count]

        return Rates(
            bridges=its(self.bridges),
            opens=its(self.opens),
            floats=its(self.floats),
            tilts=its(self.tilts),
            skews=its(self.skews),
            joints=self.joints,
            seat_um=its(self.seat_um),
            metal={number: its(values) for number, values in self.metal.items()},
            ratio={number: values[rows.start, :count] for number, values in self.ratio.items()},
        )

    def by_mechanism(self, design: int = 0, curve: int = 0) -> dict[str, float]:
        """The margin of each way to fail by itself."""
        rows = {
            "bridge": self.bridges,
            "open": self.opens,
            "float": self.floats,
            "tilt": self.tilts,
            "skew": self.skews,
        }
        return {key: float(margin_of(value[curve, design] / self.joints)) for key, value in rows.items()}


def margin_of(rate: Number) -> Number:
    """Standard deviations of a normal number beyond which a rate lies; no rate below 1e-10 is told apart.

    >>> print(f"{margin_of(1e-4):.2f}")
    3.72
    """
    from scipy.special import ndtri

    return -ndtri(np.clip(rate, LEAST_RATE, 0.5))


@lru_cache(maxsize=8)
def _spread(points: int) -> Array:
    drawn = normal_block(Sobol(m.SHARED + LOCAL, 1), 0, points)
    drawn.setflags(write=False)
    return drawn


def worked(
    frame: Frame,
    table: Table,
    foil_um: float | Array,
    line: Line,
    cases: Sequence[tuple[Curve, Centres]],
    *,
    points: int = POINTS,
    balance: float | Array = 1.0,
    scatter: Scatter | None = None,
) -> Rates:
    """Expected defects of every design, for one or more curves of transfer at once, each on its own foil if asked.

    Parameters
    ----------
    frame, table
        The option, and what its designs measure.
    foil_um : float, or array (curves, 1)
        As of `stacked`. [µm]
    line : Line
    cases : sequence of (curve, Centres)
        Mean transfer and spread over area ratio, with the design points that belong to them: the numbers are drawn
        around those and weighted back.
    points : int
        Of what joints share, a power of two.
    balance, scatter
        As of `stacked`; terms drawn many times at once stand in place of the curves.
    """
    model = stacked(frame, table, foil_um, line, [paste for paste, _ in cases], balance=balance, scatter=scatter)
    shape = (len(cases), table.designs.shape[-2])
    if scatter is not None:
        # Terms that a study states are plain numbers; the others come in as many rows as they were drawn.
        several = [np.shape(term.value) for term in scatter.terms]
        shape = np.broadcast_shapes((*shape, 1), np.shape(scatter.transfer_score), *several)[:2]
    drawn = _spread(points)[:, None, None, :]

    def around(centres: list[tuple[float, ...]]) -> tuple[Array, Array]:
        middle = np.array(centres).T[:, :, None, None]
        return drawn + middle, np.exp(-(middle * drawn).sum(axis=0) - (middle**2).sum(axis=0) / 2)

    def mean(value: Number, weight: Number) -> Array:
        return np.broadcast_to((weight * value).mean(axis=-1), shape)

    numbers, weight = around([centres.bridge for _, centres in cases])
    bridge, _ = bridge_chances(model, m.shared(numbers[: m.SHARED], model), numbers[m.SHARED :])
    bridges = mean(bridge, weight)
    numbers, weight = around([centres.open for _, centres in cases])
    at = m.shared(numbers[: m.SHARED], model)
    opened, _ = open_chances(model, at, numbers[m.SHARED])
    up = m.float_chance(model, at, numbers[FLOAT])
    numbered = list(frame.stands)
    return Rates(
        bridges=bridges,
        opens=mean(opened * (1 - up), weight),
        floats=mean(_floats(model, drawn), np.ones(points)),
        tilts=np.broadcast_to(np.asarray(m.tilt_chance(model)).reshape(_rows(m.tilt_chance(model))), shape),
        skews=np.full(shape, _skews(frame.base, line.scatter)),
        joints=sum(joint.counts for joint in frame.base.joints),
        seat_um=np.broadcast_to(np.asarray(model.seat_um).reshape(_rows(model.seat_um)), shape),
        metal={n: np.asarray(model.geometry.joints[k].deposit.metal_mm3)[..., 0] for k, n in enumerate(numbered)},
        ratio={number: sizes.slender / foil_um * 1000 for number, sizes in table.sizes.items()},
    )


def _floats(model: PartModel, drawn: Array) -> Array:
    """Chance that a centre pad carries the part off; none where it rests on something else."""
    if model.seat != "float":
        return np.zeros(1)
    found: Array = m.float_chance(model, m.shared(drawn[: m.SHARED], model), drawn[FLOAT])
    return found


def _rows(value: Number) -> tuple[int, ...]:
    """Shape of a value over curves and designs, without its points."""
    shape = np.shape(value)
    return shape[:-1] if len(shape) == 3 else (1, 1)


_SKEWS: Lately[float] = Lately(most=256)


def _skews(base: PartGeometry, scatter: Scatter) -> float:
    """Chance of too much side overhang; no opening changes it."""
    return _SKEWS.of((base, scatter), "skew", lambda: _skewed(base, scatter))


def _skewed(base: PartGeometry, scatter: Scatter) -> float:
    model = part_at(base, scatter)
    turns = shifted_normals(1, 1, [1], 0, TURNS)[:, 0]
    at: Number = SimpleNamespace(turn_rad=np.radians(scatter["placement_turn"]) * WIDER_TURN * turns[0])
    weight = WIDER_TURN * np.exp(-0.5 * turns[0] ** 2 * (WIDER_TURN**2 - 1))
    return float(np.mean(weight * m.skew_chance(model, at)))
