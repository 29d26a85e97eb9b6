"""How firm the whole-board choice is: the study's uncertain inputs put to the robustness of the choice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.board.limits import offers_of
from landwise.board.model import BoardModel
from landwise.choosing.optimum.flips import Flip, price_flips, print_flip, rate_flips
from landwise.choosing.optimum.front import Axis, Point
from landwise.choosing.optimum.market import Input, Market, Prices, Term, break_tables
from landwise.choosing.optimum.model import Array, Problem, Solution
from landwise.choosing.optimum.robust import Robustness, robustness
from landwise.costs.board import TWO_LAYERS
from landwise.costs.foilcharge import RUN, foil_powers
from landwise.costs.items import CostKey
from landwise.printing.model import POWDERS
from landwise.printing.transfer import PASS_LEVEL

VOLUME_FACTOR = 2.0  # a run is taken to end up between half and twice what was planned
SHARED_LOADS = ("board_area", "xray", "foil")  # priced for the whole board, with layers, classes and the run
DRAWS = 1000
WORK = 50_000_000  # numbers drawn at most; a large board gets fewer draws, and says how many
FEWEST_DRAWS = 100
Stop = Callable[[], bool]


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
    count = int(min(draws, max(FEWEST_DRAWS, WORK // problem.cost.size)))
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
    """Every rate above zero, the volume, and the prices of all parts, with what each option pays for them."""
    bench, rates, shape = model.bench, model.bench.rates, model.problem.cost.shape
    run = bench.content.costs.run
    nothing, none = np.zeros((1, 1, 1)), np.zeros(shape[0])
    above = np.array([max(0, d.board.layers - TWO_LAYERS) for d in model.decisions])
    class_rate = np.array([d.board.rate for d in model.decisions])
    area = model.area.use / 100 * class_rate[:, None, None]
    own = bench.line
    xray_new = not bench.content.board.xray_anyway
    terms = [
        Term({"board_area": 1}, area, none),
        Term({"board_area": 1, "layer_factor": 1}, area * above[:, None, None], none),
        Term(foil_powers(CostKey.STEPPED_FOIL), nothing, _shared(model, lambda d: d.stepped)),
        Term(foil_powers(CostKey.BETTER_FOIL), nothing, _shared(model, lambda d: d.technology != own.technology)),
        Term({"xray": 1}, nothing, _shared(model, lambda d: xray_new and "x-ray" in d.inspection)),
        Term(
            {"finer_powder": 1},
            nothing,
            _shared(model, lambda d: max(0, POWDERS.index(d.powder) - POWDERS.index(own.powder))),
        ),
    ]
    own_loads: dict[str, Array] = {}
    for (d, p, k), option in model.judged.items():
        for name, units in option.loads.items():
            if name not in SHARED_LOADS:
                own_loads.setdefault(name, np.zeros(shape))[d, p, k] = units * model.parts[p].count
    terms += [Term({name: 1}, load, none) for name, load in own_loads.items()]
    prices = _prices(model)
    volume = Input(RUN, float(run), run / VOLUME_FACTOR, run * VOLUME_FACTOR)
    moving = [
        term
        for term in terms
        if (term.load.any() or term.shared.any()) and all(name == RUN or rates[name].value > 0 for name in term.powers)
    ]
    used = dict.fromkeys(name for term in moving for name in term.powers)
    inputs = [Input(name, r.value, max(r.low, r.value / 1000), r.high) for name, r in rates.items() if name in used]
    if RUN in used or prices.breaks:
        inputs.append(volume)
    return Market(tuple(inputs), tuple(moving), prices, factor)


def _shared(model: BoardModel, units: Callable[..., float]) -> Array:
    return np.array([float(units(decision)) for decision in model.decisions])


def _prices(model: BoardModel) -> Prices:
    """Prices times counts, by volume; options without one at the price taken for them."""
    costs = model.bench.content.costs
    shape = model.problem.exists.shape
    spread = np.zeros(shape)
    places, breaks, flat = [], [], []
    for p, (part, names) in enumerate(zip(model.parts, model.names, strict=True)):
        offers = offers_of(part, model.bench)
        for k, name in enumerate(names):
            option = next(option for option in part.options if option.name == name)
            offer = offers.get(name)
            per_board = part.pieces / costs.run  # a break counts pieces of the order code, the run counts boards
            places.append((p, k))
            flat.append(option.priced.median * part.count)
            breaks.append(
                {float(v) / per_board: cost * part.count for v, cost in offer.prices.items()} if offer else None
            )
            stated = offer.price_spread if offer else None
            spread[p, k] = costs.price_spread if stated is None else stated
    starts, table_of = break_tables(breaks, flat)
    tables = []
    for row in table_of:
        cost = np.zeros(shape)
        for (p, k), value in zip(places, row, strict=True):
            cost[p, k] = value
        tables.append(cost)
    return Prices(tuple(tables), spread, starts, RUN)


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


def _as_transfer(model: BoardModel, decision: int, flip: Flip) -> Flip:
    """A lean of the line, as the paste transfer of the land that stops printing first."""
    deposits = model.judged[decision, flip.part, flip.option].geometry.printed.deposits
    band = min(deposits, key=lambda deposit: deposit.transfer.mean).transfer
    return Flip("transfer", band.mean, PASS_LEVEL, flip.to, flip.part, flip.option)


LABELS = {
    RUN: "boards in the run",
    "xray": "X-ray rate",
    "board_area": "rate of board area",
    "foil": "price of a foil",
    "rework_hidden": "rework rate under bodies",
}


def label(name: str) -> str:
    """An input in words."""
    return LABELS.get(name, name.replace("_", " ") + ("" if name.endswith("factor") else " rate"))


def flip_says(model: BoardModel, flip: Flip) -> str:
    """The input of a flip in words."""
    if flip.part < 0:
        return label(flip.name)
    where = f"{model.parts[flip.part].name} in {model.names[flip.part][flip.option]}"
    return f"paste transfer of {where}" if flip.name == "transfer" else f"price of {where}"
