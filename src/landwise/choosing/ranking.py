"""Ranking the options of one part: weighted values, and how far the first place can be trusted.

Three questions are kept apart:

- *stated*: who wins under the study's weights and the middle of every input;
- *support*: in what share of all weightings each option wins (stochastic acceptability, uniform weights);
- *confidence*: under the stated weights, in what share of draws of the uncertain inputs each option wins.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.choosing.values import CRITERIA, values_of
from landwise.errors import InputError

DRAWS = 4096  # standard error of a share is below 0.8 %
SEED = 20260101
WIDEST_FACTOR = 10.0  # a rate is varied from a tenth to ten times its value when looking for a flip


@dataclass(frozen=True)
class RankInput:
    """One feasible option as the ranking sees it.

    Parameters
    ----------
    name : str
    figures : mapping of str to float
        `area` [mm²], `transfer`, `gap` [mm], `seen`, `reach`.
    transfer_low, transfer_high : float
        90 % interval of the worst land's transfer.
    price : float
        The part's own price per board (zero where unknown, for all options of the part alike).
    loads : mapping of str to float
        How many units of each cost rate the option uses; cost = price + Σ load × rate.
    """

    name: str
    figures: Mapping[str, float]
    transfer_low: float
    transfer_high: float
    price: float
    loads: Mapping[str, float]


@dataclass(frozen=True)
class RateRange:
    """A cost rate with the range it may take."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Flip:
    """The value of one input at which the first place changes hands."""

    what: str
    now: float
    at: float
    to: str

    @property
    def factor(self) -> float:
        """How far the input must move, as a factor of at least 1 (infinite from zero)."""
        if self.now <= 0 or self.at <= 0:
            return float("inf")
        return max(self.at / self.now, self.now / self.at)


@dataclass(frozen=True)
class Ranking:
    """Options in order, best first, with the shares described in the module's docstring.

    `dominated_by` names, for each option, another that is at least as good in every criterion. `flips` are
    sorted by how small a change they take. `break_even` is, per option, how much its price may rise (first
    place) or must fall (the others) until the first place changes; None where no price does it.
    """

    order: tuple[str, ...]
    score: Mapping[str, float]
    values: Mapping[str, Mapping[str, float]]
    support: Mapping[str, float]
    confidence: Mapping[str, float]
    dominated_by: Mapping[str, str]
    flips: tuple[Flip, ...]
    break_even: Mapping[str, float | None]


def rank(
    options: Sequence[RankInput],
    weights: Mapping[str, float],
    rates: Mapping[str, RateRange],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Ranking:
    """Rank feasible options and test how firm the order is.

    Parameters
    ----------
    options : sequence of RankInput
        At least one.
    weights : mapping of str to float
        Per criterion, summing to one.
    rates : mapping of str to RateRange
        Every rate that an option's loads name.
    draws, seed : int
        Size and seed of the samples; the same seed gives the same result.

    Raises
    ------
    InputError
        Without options, or for a load on a rate that isn't given.

    Notes
    -----
    Additive value over `CRITERIA`. Rates and transfers are drawn log-uniformly and uniformly between their
    ends, one draw for all options alike: an expensive board is expensive for each of them. Ties go to the
    option named first.
    """
    if not options:
        raise InputError("nothing to rank", expected="at least one feasible option")
    names = [option.name for option in options]
    rate_names = sorted({name for option in options for name in option.loads})
    for name in rate_names:
        if name not in rates:
            raise InputError("a cost has no rate", found=name)
    table = _Table(options, rate_names)
    middle = np.array([rates[name].value for name in rate_names])
    weight = np.array([weights[name] for name in CRITERIA])
    value = table.values(middle[None, :], np.zeros(1))[0]
    score = value @ weight
    order = np.argsort(-score, kind="stable")
    first = int(order[0])

    generator = np.random.Generator(np.random.SFC64(seed))
    random_weights = generator.dirichlet(np.ones(len(CRITERIA)), size=draws)
    support = _shares(value @ random_weights.T, axis=0)
    drawn = np.array([_draw(rates[name], generator, draws) for name in rate_names]).reshape(-1, draws).T
    uncertain = table.values(drawn, generator.uniform(-1, 1, draws))
    confidence = _shares(uncertain @ weight, axis=1)

    flips = [
        *_rate_flips(table, middle, weight, first, rate_names, names),
        *_weight_flips(value, weight, first, names),
    ]
    return Ranking(
        order=tuple(names[i] for i in order),
        score=dict(zip(names, score.tolist(), strict=True)),
        values={name: dict(zip(CRITERIA, row.tolist(), strict=True)) for name, row in zip(names, value, strict=True)},
        support=dict(zip(names, support.tolist(), strict=True)),
        confidence=dict(zip(names, confidence.tolist(), strict=True)),
        dominated_by=_dominated(names, value),
        flips=tuple(sorted(flips, key=lambda flip: flip.factor)),
        break_even=_break_evens(table, middle, weight, first, names),
    )


class _Table:
    """The options as arrays, so that thousands of draws cost one pass."""

    def __init__(self, options: Sequence[RankInput], rate_names: Sequence[str]) -> None:
        self.prices = np.array([option.price for option in options])
        self.loads = np.array([[option.loads.get(name, 0.0) for name in rate_names] for option in options])
        self.fixed = {
            key: np.array([option.figures[key] for option in options])
            for key in ("area", "gap", "seen", "reach", "test-life", "push")
        }
        self.transfer = np.array([option.figures["transfer"] for option in options])
        self.below = self.transfer - np.array([option.transfer_low for option in options])
        self.above = np.array([option.transfer_high for option in options]) - self.transfer

    def values(
        self, rates: NDArray[np.float64], lean: NDArray[np.float64], extra: NDArray[np.float64] | float = 0.0
    ) -> NDArray[np.float64]:
        """Values (draws, options, criteria) for drawn rates (draws, rates) and the line's lean (−1…1)."""
        cost = self.prices + extra + rates @ self.loads.T
        lean = lean[:, None]
        transfer = self.transfer + np.where(lean > 0, lean * self.above, lean * self.below)
        figures = {key: np.broadcast_to(row, cost.shape) for key, row in self.fixed.items()}
        return values_of({**figures, "cost": cost, "transfer": transfer})


def _draw(rate: RateRange, generator: np.random.Generator, draws: int) -> NDArray[np.float64]:
    if rate.low <= 0:
        return generator.uniform(rate.low, rate.high, draws)
    drawn: NDArray[np.float64] = np.exp(generator.uniform(np.log(rate.low), np.log(rate.high), draws))
    return drawn


def _shares(scores: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    """Share of draws in which each option scores highest; `axis` is the options' axis."""
    winners = np.argmax(scores, axis=axis)
    shares: NDArray[np.float64] = np.bincount(winners, minlength=scores.shape[axis]) / winners.size
    return shares


def _dominated(names: Sequence[str], value: NDArray[np.float64]) -> dict[str, str]:
    found = {}
    for i, name in enumerate(names):
        better = np.all(value >= value[i] - 1e-12, axis=1) & np.any(value > value[i] + 1e-12, axis=1)
        if better.any():
            found[name] = names[int(np.argmax(np.where(better, value.sum(axis=1), -np.inf)))]
    return found


def _rate_flips(
    table: _Table,
    middle: NDArray[np.float64],
    weight: NDArray[np.float64],
    first: int,
    rate_names: Sequence[str],
    names: Sequence[str],
) -> list[Flip]:
    factors = np.geomspace(1 / WIDEST_FACTOR, WIDEST_FACTOR, 81)
    flips = []
    for k, name in enumerate(rate_names):
        if middle[k] <= 0 or np.ptp(table.loads[:, k]) == 0:
            continue
        varied = np.repeat(middle[None, :], factors.size, axis=0)
        varied[:, k] *= factors
        winners = np.argmax(table.values(varied, np.zeros(factors.size)) @ weight, axis=1)
        flips += _nearest(name, float(middle[k]), factors, winners, first, names)
    return flips


def _nearest(
    what: str,
    now: float,
    factors: NDArray[np.float64],
    winners: NDArray[np.intp],
    first: int,
    names: Sequence[str],
) -> list[Flip]:
    """The flips nearest to the present value, one upward and one downward."""
    found = []
    up = np.flatnonzero((winners != first) & (factors > 1))
    down = np.flatnonzero((winners != first) & (factors < 1))
    for at in ([up[0]] if up.size else []) + ([down[-1]] if down.size else []):
        found.append(Flip(what, now, now * float(factors[at]), names[int(winners[at])]))
    return found


def _weight_flips(
    value: NDArray[np.float64], weight: NDArray[np.float64], first: int, names: Sequence[str]
) -> list[Flip]:
    """Each weight moved alone, the others keeping their proportions."""
    flips = []
    for k, criterion in enumerate(CRITERIA):
        rest = weight.copy()
        rest[k] = 0
        if weight[k] <= 0 or rest.sum() <= 0:
            continue
        shares = np.linspace(0.0, 1.0, 201)
        mixed = shares[:, None] * np.eye(len(weight))[k] + (1 - shares[:, None]) * rest / rest.sum()
        winners = np.argmax(mixed @ value.T, axis=1)
        flips += _nearest(f"weight of {criterion}", float(weight[k]), shares / weight[k], winners, first, names)
    return flips


def _break_evens(
    table: _Table, middle: NDArray[np.float64], weight: NDArray[np.float64], first: int, names: Sequence[str]
) -> dict[str, float | None]:
    """Price change of one option at which the first place changes, by bisection on a monotone score, all at once."""
    count = len(names)
    if count < 2:
        return dict.fromkeys(names)
    itself = np.arange(count)
    rates, lean = np.repeat(middle[None, :], count, axis=0), np.zeros(count)

    def changed(changes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """For each option, whether the first place changes hands when it alone is dearer by its change."""
        winners = np.argmax(table.values(rates, lean, np.diag(changes)) @ weight, axis=1)
        found: NDArray[np.bool_] = np.where(itself == first, winners != first, winners == itself)
        return found

    costs = table.prices + table.loads @ middle
    # Cheaper than nothing is no price: at most the whole cost can be taken off.
    near, far = np.zeros(count), np.where(itself == first, 20 * costs.max(), -0.999 * costs)
    possible = changed(far)
    for _ in range(40):
        half = (near + far) / 2
        over = changed(half)
        near, far = np.where(over, near, half), np.where(over, half, far)
    return {name: float(near[k] + far[k]) / 2 if possible[k] else None for k, name in enumerate(names)}
