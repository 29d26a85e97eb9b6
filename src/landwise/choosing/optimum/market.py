"""What the money of a board depends on: rates, volume and part prices, each with its range."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.choosing.optimum.model import Array, Problem
from landwise.choosing.optimum.streams import stream
from landwise.errors import InputError


@dataclass(frozen=True)
class Input:
    """An uncertain number: what it is today, and its range."""

    name: str
    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.value <= self.high:
            raise InputError(
                "an uncertain input out of order",
                place=self.name,
                found=f"{self.low:g}, {self.value:g}, {self.high:g}",
                expected="0 < low ≤ value ≤ high",
            )


@dataclass(frozen=True)
class Term:
    """Money that is a product of inputs (power 1) or of their inverses (power -1), times a load.

    Parameters
    ----------
    powers : mapping of str to int
    load : array, broadcastable to (decisions, parts, options)
    shared : array (decisions,)
    charged : array (charges,), optional
    key : str
        The line of the cost it belongs to.
    """

    powers: Mapping[str, int]
    load: Array
    shared: Array
    charged: Array | None = None
    key: str = ""


@dataclass(frozen=True)
class Prices:
    """What the parts of a board cost to buy.

    Parameters
    ----------
    cost : tuple of arrays (parts, options)
        Price times count, one table for each stretch of the volume between price breaks.
    spread : array (parts, options)
        How far each quoted price may move, as a share of it.
    breaks : tuple of float
        The volumes at which the next table takes over; one less than there are tables.
    volume : str
        Name of the input that is the volume.
    log_sd, level_sd : array (parts, options), optional
        Of guessed prices, the spread of the logarithm: their own, and what all guessed prices of a part share. The
        tables then hold means.
    parts : tuple of str
        What each part's draws follow from: its content, so that its place among the others moves none of them. Its
        place, where nothing is given.
    options : tuple of tuple of str
        Likewise what each option's follow from, beside its part.
    """

    cost: tuple[Array, ...]
    spread: Array
    breaks: tuple[float, ...] = ()
    volume: str = "run"
    log_sd: Array | None = None
    level_sd: Array | None = None
    parts: tuple[str, ...] = ()
    options: tuple[tuple[str, ...], ...] = ()

    def factors(self, seed: int, draws: int) -> tuple[Array, Array]:
        """What each draw multiplies prices with, 1 on average: each option's own (draws, parts, options), and a part's.

        The second is the level (draws, parts), as a normal score.
        """
        parts, options = self.spread.shape
        own = np.ones((draws, parts, options))
        guessed = np.zeros(self.spread.shape) if self.log_sd is None else self.log_sd
        named = self.parts or tuple(str(p) for p in range(parts))
        for p, k in np.argwhere((self.spread > 0) | (guessed > 0)).tolist():
            of = self.options[p][k] if self.options else str(k)
            chance = stream(seed, "price", named[p], of)
            own[:, p, k] += self.spread[p, k] * chance.uniform(-1.0, 1.0, draws)
            own[:, p, k] *= np.exp(guessed[p, k] * chance.standard_normal(draws) - guessed[p, k] ** 2 / 2)
        if self.level_sd is None or not self.level_sd.any():
            return own, np.zeros((draws, parts))
        level = np.stack([stream(seed, "price level", name).standard_normal(draws) for name in named], axis=1)
        return own * np.exp(self.level_sd * level[:, :, None] - self.level_sd**2 / 2), level


@dataclass(frozen=True)
class Market:
    """The uncertain inputs and what each option and decision pays for them.

    Parameters
    ----------
    inputs : tuple of Input
    terms : tuple of Term
    prices : Prices, optional
    factor : float
        What a unit of money counts in what is minimised.
    """

    inputs: tuple[Input, ...]
    terms: tuple[Term, ...]
    prices: Prices | None = None
    factor: float = 1.0

    def __post_init__(self) -> None:
        names = {one.name for one in self.inputs}
        for term in self.terms:
            if not set(term.powers) <= names:
                raise InputError("a term of an input that isn't there", found=", ".join(term.powers))

    def power(self, name: str) -> int:
        """1 if money grows with the input, -1 if with its inverse, 0 if only by price breaks.

        Raises
        ------
        InputError
            If it does both: money is then not linear in either.
        """
        powers = {term.powers[name] for term in self.terms if name in term.powers}
        if len(powers) > 1:
            raise InputError("an input that acts in two ways", found=name)
        return powers.pop() if powers else 0

    def at(self, problem: Problem, name: str, value: float, stretch: int | None = None) -> Problem:
        """The choice with one input moved.

        Parameters
        ----------
        problem : Problem
        name : str
        value : float
        stretch : int, optional
            Which table of prices to take, for values at a break; by the value unless given.
        """
        today = {one.name: one.value for one in self.inputs}
        moved = today | {name: value}
        cost, shared, charged = problem.cost, problem.shared_cost, problem.charged
        for term in self.terms:
            if name in term.powers:
                change = self.factor * (_product(term, moved) - _product(term, today))
                cost = cost + change * term.load
                shared = shared + change * term.shared
                if term.charged is not None:
                    due = (problem.due if charged is None else charged) + change * term.charged
                    charged = np.maximum(due, 0.0)  # rounding, where an input goes to nothing
        if self.prices is not None and name == self.prices.volume and self.prices.breaks:
            place = self.stretch(value) if stretch is None else stretch
            bought = self.prices.cost[place] - self.prices.cost[self.stretch(today[name])]
            cost = cost + self.factor * bought
        return replace(problem, cost=cost, shared_cost=shared, charged=charged)

    def stretch(self, volume: float) -> int:
        """Which table of prices holds at a volume."""
        breaks = () if self.prices is None else self.prices.breaks
        return int(np.searchsorted(breaks, volume, side="right"))

    def draw(self, problem: Problem, draws: int, seed: int, elements: int) -> Iterator[tuple[Array, Array, Array]]:
        """By how much each draw changes what is minimised.

        (draws, decisions, parts, options), (draws, decisions), (draws, charges), in blocks of about so many elements;
        the draws do not depend on the size of the blocks.
        """
        values = self.values(seed, draws)
        middle = np.array([[one.value for one in self.inputs]])
        change = self.factor * (self._products(values) - self._products(middle))
        shape = problem.cost.shape
        loads = [np.broadcast_to(term.load, shape).ravel() for term in self.terms]
        table = np.stack(loads) if loads else np.zeros((0, problem.cost.size))
        shares = np.stack([term.shared for term in self.terms]) if loads else np.zeros((0, shape[0]))
        none = np.zeros(len(problem.charges))
        once = [none if term.charged is None else term.charged for term in self.terms]
        charges = np.stack(once) if loads else np.zeros((0, len(none)))
        factors = None if self.prices is None else self.prices.factors(seed, draws)[0]
        size = max(1, elements // problem.cost.size)
        for start in range(0, draws, size):
            block = change[start : start + size]
            moved = (block @ table).reshape(len(block), *shape)
            here = slice(start, start + size)
            bought = None if factors is None else self._bought(values[here], factors[here])
            if bought is not None:
                moved = moved + self.factor * bought[:, None]
            yield moved, block @ shares, block @ charges

    def values(self, seed: int, draws: int) -> Array:
        """The inputs as drawn (draws, inputs): on average, or in the inverse, what each is today.

        Each follows from its own name: what else moves a board's money moves none of its draws.
        """
        if not self.inputs:
            return np.zeros((draws, 0))
        each = [drawn(one, stream(seed, one.name), draws, self.power(one.name) < 0) for one in self.inputs]
        return np.stack(each, axis=1)

    def _products(self, values: Array) -> Array:
        """Each term's product of inputs (draws, terms)."""
        place = {one.name: n for n, one in enumerate(self.inputs)}
        found = np.ones((len(values), len(self.terms)))
        for n, term in enumerate(self.terms):
            for name, power in term.powers.items():
                found[:, n] *= values[:, place[name]] ** power
        return found

    def _bought(self, values: Array, factors: Array) -> Array | None:
        """How much more or less the parts cost to buy (draws, parts, options)."""
        prices = self.prices
        if prices is None:
            return None
        names = [one.name for one in self.inputs]
        tables = np.stack(prices.cost)
        today = tables[0]
        held = np.zeros(len(values), dtype=np.int64)
        if prices.breaks:
            column = names.index(prices.volume)
            held = np.searchsorted(prices.breaks, values[:, column], side="right")
            today = tables[self.stretch(self.inputs[column].value)]
        change: Array = tables[held] * factors - today
        return change


def _product(term: Term, values: Mapping[str, float]) -> float:
    found = 1.0
    for name, power in term.powers.items():
        found *= values[name] ** power
    return found


def drawn(one: Input, generator: np.random.Generator, draws: int, inverse: bool = False) -> Array:
    """An input within its range, log-uniformly below its value and above it.

    The share of draws below is such that the mean is the value (of the inverse, the inverse of the value): money that
    is linear in the input then costs on average what it costs at its value.

    Examples
    --------
    >>> values = drawn(Input("rate", 2.0, 1.0, 8.0), np.random.default_rng(1), 100_000)
    >>> round(float(values.mean()), 1), round(float(values.max()), 1)
    (2.0, 8.0)
    """
    low, value, high = (1 / one.high, 1 / one.value, 1 / one.low) if inverse else (one.low, one.value, one.high)
    under, over = _mean(low, value), _mean(value, high)
    below = 1.0 if over <= under else (over - value) / (over - under)
    side = generator.random(draws) < below
    place = generator.random(draws)
    found: Array = np.where(side, low * (value / low) ** place, value * (high / value) ** place)
    return 1 / found if inverse else found


def _mean(low: float, high: float) -> float:
    """Mean of a log-uniform number."""
    return low if high <= low * (1 + 1e-12) else float((high - low) / np.log(high / low))


def break_tables(
    breaks: Sequence[Mapping[float, float] | None], flat: Sequence[float]
) -> tuple[tuple[float, ...], Array]:
    """The volumes at which any price changes, and for each stretch between them each price's place in its own breaks.

    Parameters
    ----------
    breaks : sequence of mapping or None
        Price by the volume from which it holds; None for a flat price.
    flat : sequence of float

    Returns
    -------
    starts : tuple of float
    prices : array (stretches, prices)

    Examples
    --------
    >>> starts, prices = break_tables([{1: 0.2, 1000: 0.1}, None], [0.1, 0.3])
    >>> starts
    (1000,)
    >>> prices.tolist()
    [[0.2, 0.3], [0.1, 0.3]]
    """
    starts = tuple(sorted({start for one in breaks if one for start in sorted(one)[1:]}))
    table = np.array([list(flat)] * (len(starts) + 1), dtype=np.float64)
    for column, one in enumerate(breaks):
        if one:
            for place, volume in enumerate((0, *starts)):
                held = [start for start in one if start <= volume] or [min(one)]
                table[place, column] = one[max(held)]
    return starts, table
