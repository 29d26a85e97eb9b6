"""Joint draws of everything uncertain that the board's money depends on, over the decisions that are compared.

All options share the same draw of a rate, of the run, of a part's price level: a comparison of two options is then far
better known than either by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from landwise.board.model import BoardModel
from landwise.choosing.optimum.market import Term
from landwise.choosing.optimum.model import Array
from landwise.costs.loads import RUN, Line
from landwise.judging.fieldcost import life_in
from landwise.judging.results import OptionResult
from landwise.service.lives import COMMON_DRAWS

DRAWS = 256
SEED = 20261128
MOST_NUMBERS = 60_000_000  # cells of the drawn tables; a larger board gets fewer draws
FEWEST_DRAWS = 64
# Lines whose size follows from the expected defects of an option, so that they move with how far those are known.
DEFECT_LINES = frozenset(
    line.value for line in (Line.REWORK, Line.REWORK_HIDDEN, Line.LATE, Line.REPRINT, Line.SCRAP, Line.ESCAPES)
)


@dataclass(frozen=True)
class Unknown:
    """What is drawn: a rate or the run, all prices of a part or their level, an outline's price, defects or life.

    `of` is the rate's name or the outline's; empty for the prices of all options of a part and for their level.
    """

    kind: Literal["rate", "prices", "price-level", "price", "defects", "life"]
    of: str = ""

    @property
    def of_part(self) -> bool:
        """Whether it is drawn for one part alone."""
        return self.kind != "rate"


@dataclass(frozen=True)
class Drawn:
    """Costs in every draw, over the decisions that were drawn.

    Parameters
    ----------
    decisions : tuple of int
        Their numbers in the model; the board's own first.
    cost : array (draws, decisions, parts, options)
        Money per board of all places of a part; infinite where the option is out under the decision.
    shared : array (draws, decisions)
    due : array (draws, charges)
    inputs : mapping of Unknown to array (draws,)
        What was drawn for the whole board.
    own : mapping of (part, Unknown) to array (draws,)
        What was drawn for one part: its price level, the price of an option, the defects of an option.
    bought : array (draws, parts, options)
        What of the costs is the price of the parts themselves, in money per board; zero where nothing is priced.
    """

    decisions: tuple[int, ...]
    cost: Array
    shared: Array
    due: Array
    inputs: Mapping[Unknown, Array]
    own: Mapping[tuple[int, Unknown], Array]
    bought: Array

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return int(self.cost.shape[0])


def draw_costs(model: BoardModel, near: tuple[int, ...], *, draws: int = DRAWS, seed: int = SEED) -> Drawn:
    """Draw rates, run, prices and defect levels together, and cost every option under some decisions.

    Parameters
    ----------
    model : BoardModel
    near : tuple of int
        The decisions to draw, that of the board first.
    draws, seed : int
    """
    shape = (len(near), *model.problem.cost.shape[1:])
    count = int(min(draws, max(FEWEST_DRAWS, MOST_NUMBERS // max(1, int(np.prod(shape))))))
    market = model.money
    values = market.values(seed, count)
    place = {one.name: n for n, one in enumerate(market.inputs)}
    levels, names = _levels(model, near, count, "defects")
    lasting, ends = _levels(model, near, count, "life")
    cost = np.zeros((count, *shape))
    shared, due = np.zeros((count, len(near))), np.zeros((count, len(model.problem.charges)))
    for term in market.terms:
        product = _product(term, values, place)
        load = np.broadcast_to(term.load, model.problem.cost.shape)[list(near)]
        if load.any():
            moved = product[:, None, None, None] * load
            if term.key in DEFECT_LINES:
                moved = moved * levels
            elif term.key == Line.FIELD.value:
                moved = moved * lasting
            cost += moved
        shared += product[:, None] * term.shared[list(near)]
        if term.charged is not None:
            due += product[:, None] * term.charged
    own, bought = dict(names) | ends, np.zeros((count, *shape[1:]))
    if market.prices is not None:
        factors, level = market.prices.factors(seed, count)
        held = np.searchsorted(market.prices.breaks, values[:, place[RUN]], side="right")
        bought = np.stack(market.prices.cost)[held] * factors
        cost += bought[:, None]
        own |= _price_inputs(model, factors, level)
    allowed = model.problem.allowed[list(near)]
    cost = np.where(allowed, cost, np.inf)
    own = _choosable(model, own, np.any(allowed, axis=0))
    inputs = {
        Unknown("rate", one.name): values[:, n] for n, one in enumerate(market.inputs) if np.ptp(values[:, n]) > 0
    }
    return Drawn(near, cost, shared, due, MappingProxyType(inputs), MappingProxyType(own), bought)


def _choosable(
    model: BoardModel, own: Mapping[tuple[int, Unknown], Array], allowed: NDArray[np.bool_]
) -> dict[tuple[int, Unknown], Array]:
    """What was drawn of options that can be chosen: nobody finds out about another to learn of these."""
    out = {(p, name) for p, names in enumerate(model.names) for k, name in enumerate(names) if not allowed[p, k]}
    return {(p, one): values for (p, one), values in own.items() if (p, one.of) not in out}


def _product(term: Term, values: Array, place: Mapping[str, int]) -> Array:
    found = np.ones(len(values))
    for name, power in term.powers.items():
        found = found * values[:, place[name]] ** power
    return found


def _price_inputs(model: BoardModel, factors: Array, level: Array) -> dict[tuple[int, Unknown], Array]:
    found: dict[tuple[int, Unknown], Array] = {}
    prices = model.money.prices
    for p, names in enumerate(model.names):
        if prices is not None and prices.level_sd is not None and prices.level_sd[p].any():
            found[p, Unknown("price-level")] = level[:, p]
        for k, name in enumerate(names):
            if np.ptp(factors[:, p, k]) > 0:
                found[p, Unknown("price", name)] = factors[:, p, k]
    return found


def _levels(
    model: BoardModel, near: Sequence[int], count: int, kind: Literal["defects", "life"]
) -> tuple[Array, dict[tuple[int, Unknown], Array]]:
    """What each draw multiplies an option's expected defects, or failures in the field, with: (draws, decisions, parts,
    options), 1 on average.

    These are the common draws of what is known of a line, or of lives: row k is the same line for every option, so that
    what two options share (the line's level, its scatter, the method of a kind of joint) cancels where they are
    compared.
    """
    levels = np.ones((count, len(near), *model.problem.exists.shape))
    found: dict[tuple[int, Unknown], Array] = {}
    for p, names in enumerate(model.names):
        if kind == "life" and not model.parts[p].counts_field:
            continue
        for k, name in enumerate(names):
            moves = False
            for n, d in enumerate(near):
                own = _drawn_level(model.judged[d, p, k], count, kind)
                if own is None:
                    continue
                moves = moves or float(np.ptp(own)) > 0
                levels[:, n, p, k] = own
            if moves:
                found[p, Unknown(kind, name)] = levels[:, 0, p, k]
    return levels, found


def _drawn_level(option: OptionResult, count: int, kind: Literal["defects", "life"]) -> Array | None:
    """An option's expected defects or failures at each draw of what is known, over their mean (draws,); drawn round
    where more draws are wanted than there are. None where nothing is drawn of it.
    """
    if kind == "defects":
        rates = option.geometry.rates
        if rates is None:
            return None
        whole = np.asarray(np.sum(list(rates.draws().values()), axis=0))
    else:
        lived = life_in(option.figures["life"])
        if lived is None:
            return None
        whole = lived[0].failing(lived[1].years, COMMON_DRAWS)
    taken: Array = whole[np.arange(count) % len(whole)]
    middle = float(taken.mean())
    return taken / middle if middle > 0 else np.ones(count)
