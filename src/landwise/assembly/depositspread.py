"""How far deposits spread on a line that measured it, by area ratio: in place of the shipped spread, near the data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError
from landwise.printing.model import Powder, Technology
from landwise.printing.transfer import curve, least_area_ratio, transfer_arrays

Array = NDArray[np.float64]
REACH = 0.10  # of area ratio: two classes of a calibration; further from any measured class the shipped spread stands
SETTLED = 0.80  # from the prior's last knot on its spread no longer falls, so a class beyond speaks for all above
WIDEST = 1.0  # the prior's last knot: openings above are all alike to it


@dataclass(frozen=True)
class Measured:
    """One class of a line's deposits.

    Parameters
    ----------
    area_ratio : float
        [-]
    low, value, high : float
        Standard deviation over mean with its 90 % interval. [-]
    technology, powder : str
        Of the print that was measured.
    """

    area_ratio: float
    low: float
    value: float
    high: float
    technology: Technology = "laser-cut"
    powder: Powder = "T4"

    def __post_init__(self) -> None:
        if not least_area_ratio() <= self.area_ratio or not 0 < self.low <= self.value <= self.high:
            raise InputError(
                "not a measured spread",
                place="line, spread",
                found=f"area ratio {self.area_ratio:g}: {self.low:g}, {self.value:g}, {self.high:g}",
                expected=f"an area ratio of {least_area_ratio():g} or more, and positive [low, value, high] in order",
            )

    @property
    def over(self) -> float:
        """Over the middle of the shipped spread of its own foil and powder."""
        return self.value / shipped_spread(self.area_ratio, self.technology, self.powder)


def shipped_spread(area_ratio: float, technology: Technology = "laser-cut", powder: Powder = "T4") -> float:
    """Middle of the shipped spread, standard deviation over mean. [-]

    >>> print(f"{shipped_spread(0.60):.3f}")
    0.115
    """
    found = transfer_arrays(np.array([area_ratio]), technology, powder)
    return float(found["sd"][0] / found["mean"][0])


def shipped_range(area_ratio: float, technology: Technology = "laser-cut", powder: Powder = "T4") -> Array:
    """Its ends: (low, high)."""
    prior = curve(technology, powder)
    at = np.array(area_ratio)
    return np.array([prior.at(prior.cv_low, at), prior.at(prior.cv_high, at)], dtype=float)


@dataclass(frozen=True)
class DepositSpread:
    """A line's measured spreads over the shipped ones, by area ratio.

    Parameters
    ----------
    ratios : tuple of float
        Area ratios of the measured classes, rising. [-]
    over : tuple of float
        Measured over shipped spread there. [-]

    Notes
    -----
    Straight lines of the logarithm of the ratio join classes that lie no more than 0.20 apart; beyond 0.10 of any class
    the shipped spread stands (factor 1). A class from 0.80 on speaks for all wider openings, whose shipped spread is
    one number. Held as a ratio so that another powder or foil keeps what the line adds or spares: the same reading as
    of the place in the transfer band. Own rule, no source.

    Examples
    --------
    >>> line = DepositSpread((0.55, 0.85), (2.0, 1.0))
    >>> [round(float(line.factor(ratio)), 2) for ratio in (0.40, 0.50, 0.55, 0.60, 0.70, 1.2)]
    [1.0, 1.41, 2.0, 1.41, 1.0, 1.0]
    """

    ratios: tuple[float, ...]
    over: tuple[float, ...]

    @cached_property
    def _nodes(self) -> tuple[Array, Array]:
        points = list(zip(self.ratios, np.log(self.over).tolist(), strict=True))
        nodes = [(self.ratios[0] - REACH, 0.0)]
        for (one, at), (other, _) in pairwise(points):
            nodes.append((one, at))
            if other - one > 2 * REACH:
                nodes += [(one + REACH, 0.0), (other - REACH, 0.0)]
        nodes.append(points[-1])
        if self.ratios[-1] < SETTLED:
            nodes.append((self.ratios[-1] + REACH, 0.0))
        ratios, logs = zip(*nodes, strict=True)
        return np.array(ratios), np.array(logs)

    def factor(self, area_ratio: float | Array) -> Array:
        """What the shipped spread is multiplied by; an array for an array."""
        ratios, logs = self._nodes
        found: Array = np.exp(np.interp(np.clip(area_ratio, least_area_ratio(), WIDEST), ratios, logs))
        return found

    @property
    def says(self) -> str:
        """Where it was measured."""
        ends = [f"{one:.2f}" for one in (self.ratios[0], self.ratios[-1])]
        return f"at area ratio {ends[0]}" if ends[0] == ends[1] else f"at area ratios {ends[0]} to {ends[1]}"

    def reaches(self, area_ratio: float) -> bool:
        """Whether anything was measured near an area ratio."""
        at = min(area_ratio, WIDEST)
        return any(abs(one - at) < REACH or SETTLED <= one <= at for one in self.ratios)


def deposit_spread(measured: Iterable[Measured]) -> DepositSpread | None:
    """The measured classes as one curve; None for none.

    Classes of one area ratio (all wider openings are one) are joined by the logarithm's mean, each weighed by how well
    it is known.

    Examples
    --------
    >>> classes = Measured(0.6, 0.2, 0.23, 0.26), Measured(1.2, 0.04, 0.05, 0.0625)
    >>> found = deposit_spread(classes)
    >>> [round(one, 2) for one in found.over]
    [2.0, 1.0]
    """
    by: dict[float, list[tuple[float, float]]] = {}
    for one in measured:
        width = max(float(np.log(one.high / one.low)), 1e-3)
        at = round(min(one.area_ratio, WIDEST), 4)
        by.setdefault(at, []).append((float(np.log(one.over)), width**-2))
    if not by:
        return None
    ratios = sorted(by)
    logs = [sum(log * weight for log, weight in by[at]) / sum(weight for _, weight in by[at]) for at in ratios]
    return DepositSpread(tuple(ratios), tuple(float(np.exp(log)) for log in logs))
