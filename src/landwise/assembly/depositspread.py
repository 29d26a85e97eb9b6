"""How much paste a line that measured it transfers and how far deposits spread, by area ratio.

In place of the shipped band and the shipped spread, near the data.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
Z90 = 1.6449  # half width of a 90 % interval, in standard deviations
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
    mean : (low, value, high), optional
        Mean transfer with its 90 % interval, where that was measured too. [-]
    """

    area_ratio: float
    low: float
    value: float
    high: float
    technology: Technology = "laser-cut"
    powder: Powder = "T4"
    mean: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        if not least_area_ratio() <= self.area_ratio or not 0 < self.low <= self.value <= self.high:
            raise InputError(
                "not a measured spread",
                place="line, spread",
                found=f"area ratio {self.area_ratio:g}: {self.low:g}, {self.value:g}, {self.high:g}",
                expected=f"an area ratio of {least_area_ratio():g} or more, and positive [low, value, high] in order",
            )

        if self.mean is not None and not 0 < self.mean[0] <= self.mean[1] <= self.mean[2]:
            raise InputError(
                "not a measured transfer",
                place="line, spread, mean",
                found=f"area ratio {self.area_ratio:g}: {', '.join(f'{one:g}' for one in self.mean)}",
                expected="positive [low, value, high] in order",
            )

    @property
    def over(self) -> float:
        """Over the middle of the shipped spread of its own foil and powder."""
        return self.value / shipped_spread(self.area_ratio, self.technology, self.powder)

    @property
    def place(self) -> tuple[float, float] | None:
        """Where its mean stands in the shipped band of its own foil and powder, and how well that is known.

        Both in standard deviations of the band, whose ends are 1.64 from its middle on either side.

        Examples
        --------
        >>> [round(one, 2) for one in Measured(0.66, 0.08, 0.1, 0.12, mean=(0.84, 0.90, 0.96)).place]
        [0.92, 0.56]
        """
        if self.mean is None:
            return None
        band = {name: float(edge[0]) for name, edge in self._band.items()}
        low, value, high = self.mean
        side = band["high"] - band["mean"] if value >= band["mean"] else band["mean"] - band["low"]
        unit = max(side / Z90, 1e-6)
        return (value - band["mean"]) / unit, max((high - low) / (2 * Z90 * unit), 1e-3)

    @property
    def _band(self) -> Mapping[str, Array]:
        return transfer_arrays(np.array([min(self.area_ratio, WIDEST)]), self.technology, self.powder)


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
    """A line's measured spreads over the shipped ones, and its place in the transfer band, by area ratio.

    Parameters
    ----------
    ratios : tuple of float
        Area ratios of the measured classes, rising. [-]
    over : tuple of float
        Measured over shipped spread there. [-]
    widths : tuple of float
        Standard deviations of the logarithm of each, as far as it is not known; none for exactly known ones.
    places : tuple of (area ratio, score, standard deviation)
        Where mean transfer stands in the shipped band, in standard deviations of it, and how well that is known; of the
        classes whose mean was measured, rising.

    Notes
    -----
    Straight lines of the logarithm of the ratio join classes that lie no more than 0.20 apart; beyond 0.10 of any class
    the shipped spread stands (factor 1). A class from 0.80 on speaks for all wider openings, whose shipped spread is
    one number. Held as a ratio so that another powder or foil keeps what the line adds or spares: the same reading as
    of the place in the transfer band, which is joined by straight lines alike and falls back to the line's one place
    for all openings. Own rule, no source.

    Examples
    --------
    >>> line = DepositSpread((0.55, 0.85), (2.0, 1.0))
    >>> [round(float(line.factor(ratio)), 2) for ratio in (0.40, 0.50, 0.55, 0.60, 0.70, 1.2)]
    [1.0, 1.41, 2.0, 1.41, 1.0, 1.0]
    """

    ratios: tuple[float, ...]
    over: tuple[float, ...]
    widths: tuple[float, ...] = ()
    places: tuple[tuple[float, float, float], ...] = ()

    @cached_property
    def _nodes(self) -> tuple[Array, Array]:
        widths = self.widths or (0.0,) * len(self.ratios)
        return _joined(self.ratios, np.column_stack([np.log(self.over), widths]))

    @cached_property
    def _placed(self) -> tuple[Array, Array]:
        ratios, scores, widths = zip(*self.places, strict=True)
        return _joined(ratios, np.column_stack([np.ones(len(ratios)), scores, widths]))

    def factor(self, area_ratio: float | Array, score: float | Array = 0.0) -> Array:
        """What the shipped spread is multiplied by; an array for an array.

        `score` says where the line is in the intervals of its measured spreads, as a standard normal number.
        """
        log, width = _at(self._nodes, area_ratio)
        found: Array = np.exp(log + width * np.asarray(score))
        return found

    def place(self, area_ratio: float | Array, general: float | Array, score: float | Array = 0.0) -> Array:
        """Where paste stands in the transfer band, in its standard deviations.

        Parameters
        ----------
        area_ratio : float or array
        general : float or array
            The line's one place for all openings, which stands where none was measured near.
        score : float or array
            Where the line is in the intervals of its measured means, as a standard normal number.

        Examples
        --------
        >>> line = DepositSpread((0.55,), (1.0,), places=((0.55, 1.0, 0.2),))
        >>> [round(float(line.place(ratio, -0.4)), 2) for ratio in (0.40, 0.50, 0.55, 0.70)]
        [-0.4, 0.3, 1.0, -0.4]
        """
        if not self.places:
            return np.asarray(general)
        weight, placed, width = _at(self._placed, area_ratio)
        found: Array = (1 - weight) * np.asarray(general) + placed + width * np.asarray(score)
        return found

    def knows_transfer(self, area_ratio: float) -> bool:
        """Whether mean transfer was measured near an area ratio."""
        return _near(area_ratio, (ratio for ratio, _, _ in self.places))

    @property
    def says(self) -> str:
        """Where it was measured."""
        return _where(self.ratios)

    @property
    def says_transfer(self) -> str:
        """Where mean transfer was; empty where it was not."""
        return _where([ratio for ratio, _, _ in self.places]) if self.places else ""

    def reaches(self, area_ratio: float) -> bool:
        """Whether anything was measured near an area ratio."""
        return _near(area_ratio, self.ratios)


def _where(ratios: Sequence[float]) -> str:
    ends = [f"{one:.2f}" for one in (ratios[0], ratios[-1])]
    return f"at area ratio {ends[0]}" if ends[0] == ends[1] else f"at area ratios {ends[0]} to {ends[1]}"


def _near(area_ratio: float, ratios: Iterable[float]) -> bool:
    at = min(area_ratio, WIDEST)
    return any(abs(one - at) < REACH or SETTLED <= one <= at for one in ratios)


def _joined(ratios: Sequence[float], values: Array) -> tuple[Array, Array]:
    """Knots of straight lines through rows of values that fall to none away from them: (knots,) and (knots, values)."""
    none = np.zeros(values.shape[1])
    points = list(zip(ratios, values, strict=True))
    nodes = [(ratios[0] - REACH, none)]
    for (one, at), (other, _) in pairwise(points):
        nodes.append((one, at))
        if other - one > 2 * REACH:
            nodes += [(one + REACH, none), (other - REACH, none)]
    nodes.append(points[-1])
    if ratios[-1] < SETTLED:
        nodes.append((ratios[-1] + REACH, none))
    return np.array([ratio for ratio, _ in nodes]), np.array([row for _, row in nodes])


def _at(nodes: tuple[Array, Array], area_ratio: float | Array) -> list[Array]:
    """Each value at area ratios."""
    ratios, rows = nodes
    at = np.clip(area_ratio, least_area_ratio(), WIDEST)
    return [np.interp(at, ratios, column) for column in rows.T]


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
    by: dict[float, list[Measured]] = {}
    for one in measured:
        by.setdefault(round(min(one.area_ratio, WIDEST), 4), []).append(one)
    if not by:
        return None
    ratios = sorted(by)
    spreads = [
        _weighed((float(np.log(one.over)), float(np.log(one.high / one.low)) / (2 * Z90)) for one in by[at])
        for at in ratios
    ]
    places = []
    for at in ratios:
        told = [one.place for one in by[at] if one.place is not None]
        if told:
            places.append((at, *_weighed(told)))
    return DepositSpread(
        tuple(ratios),
        tuple(float(np.exp(log)) for log, _ in spreads),
        tuple(width for _, width in spreads),
        tuple(places),
    )


def _weighed(told: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Mean of values with standard deviations, and its own: each weighed by how well it is known."""
    values, widths = np.array(list(told)).T
    if len(values) == 1:
        return float(values[0]), float(widths[0])
    weights = np.maximum(widths, 1e-3) ** -2.0
    return float(weights @ values / weights.sum()), float(weights.sum() ** -0.5)
