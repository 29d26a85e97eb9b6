"""How firm the whole-board choice is: the study's uncertain inputs put to the robustness of the choice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from landwise.board.model import BoardModel
from landwise.choosing.optimum.flips import Flip, price_flips, print_flip, rate_flips
from landwise.choosing.optimum.front import Axis, Point
from landwise.choosing.optimum.market import Input, Market
from landwise.choosing.optimum.model import Array, Problem, Solution
from landwise.choosing.optimum.robust import Robustness, robustness
from landwise.printing.transfer import PASS_LEVEL

DRAWS = 1000
WORK = 50_000_000  # numbers drawn at most; a large board gets fewer draws, and says how many
FEWEST_DRAWS = 100
CHARGED_DRAWS = 120  # where things are paid once for several parts, every draw wants a search of its own
TRANSFER = "transfer"  # the input of a flip that a print gives
Stop = Callable[[], bool]
FlipKey = Literal["rate", "price", "transfer"]


@dataclass(frozen=True)
class Firmness:
    """Robustness of the choice, and what flips it first.

    Parameters
    ----------
    inputs : Robustness
        Over the uncertain inputs, for what the study minimises.
    weights : Robustness or None
        Over the inputs and all weightings of the trade-off's axes; None where there is nothing to trade.
    axes : tuple of str
        The axes that were weighed.
    flips : tuple of Flip
        Nearest first.
    ranges : tuple of Input
        What was drawn, with its range.
    """

    inputs: Robustness
    weights: Robustness | None
    axes: tuple[str, ...]
    flips: tuple[Flip, ...]
    ranges: tuple[Input, ...]


def firmness(
    model: BoardModel,
    problem: Problem,
    best: Solution,
    points: Sequence[Point],
    axes: Sequence[Axis],
    *,
    factor: float = 1.0,
    draws: int = DRAWS,
    stop: Stop | None = None,
) -> Firmness:
    """Draw rates, prices, volume and the line's lean, then weights as well; look for the nearest flips.

    Parameters
    ----------
    model : BoardModel
    problem : Problem
        What is minimised.
    best : Solution
    points, axes : sequence
        The trade-off.
    factor : float
        What a unit of money counts in what is minimised.
    """
    market = market_of(model, factor)
    needed = lean_needed(model)
    most = CHARGED_DRAWS if problem.charges else draws
    count = int(min(draws, most, max(FEWEST_DRAWS, WORK // problem.cost.size)))
    found = robustness(problem, best, market, lean_needed=needed, draws=count, stop=stop)
    weighed = None
    if len(points) > 1:
        spans = np.ptp(np.array([point.values for point in points]), axis=0)
        scaled = [(axis, max(float(span), 1e-9)) for axis, span in zip(axes, spans, strict=True)]
        weighed = robustness(
            problem, best, market_of(model, 1.0), lean_needed=needed, axes=scaled, draws=count, stop=stop
        )
    flips = rate_flips(problem, best, market, stop=stop)
    flips += price_flips(problem, best, market, [part.count for part in model.parts], stop=stop)
    lean = print_flip(problem, best, needed)
    if lean is not None:
        flips += (_as_transfer(model, best.decision, lean),)
    ordered = tuple(sorted(flips, key=lambda flip: flip.factor))
    return Firmness(found, weighed, tuple(axis.name for axis in axes), ordered, market.inputs)


def market_of(model: BoardModel, factor: float = 1.0) -> Market:
    """What the board's money depends on; `factor` is what a unit of it counts in what is minimised."""
    return replace(model.money, factor=factor)


def lean_needed(model: BoardModel) -> Array:
    """How far the line must lean to the good end of its transfer band for the worst land to reach the pass level."""
    needed = np.full(model.problem.cost.shape, -2.0)
    for place, option in model.judged.items():
        deposits = option.geometry.printed.deposits
        if deposits:
            band = min(deposits, key=lambda deposit: deposit.transfer.mean).transfer
            short = PASS_LEVEL - band.mean
            half = band.high - band.mean if short > 0 else band.mean - band.low
            needed[place] = short / max(half, 1e-9)
    return needed


def flip_key(flip: Flip) -> FlipKey:
    """What kind of input a flip is about."""
    if flip.part < 0:
        return "rate"
    return "transfer" if flip.name == TRANSFER else "price"


def _as_transfer(model: BoardModel, decision: int, flip: Flip) -> Flip:
    """A lean of the line, as the paste transfer of the land that stops printing first."""
    deposits = model.judged[decision, flip.part, flip.option].geometry.printed.deposits
    band = min(deposits, key=lambda deposit: deposit.transfer.mean).transfer
    return Flip(TRANSFER, band.mean, PASS_LEVEL, flip.to, flip.part, flip.option)
