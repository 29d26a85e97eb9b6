"""How firm the whole-board choice is: the study's uncertain inputs put to the robustness of the choice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from landwise.boardmodel import BoardModel
from landwise.choosing.board.front import Point
from landwise.choosing.board.model import Array, Solution
from landwise.choosing.board.robust import Input, Robustness, robustness, weight_wins
from landwise.costs.board import TWO_LAYERS
from landwise.printing.model import POWDERS
from landwise.printing.transfer import PASS_LEVEL

VOLUME_FACTOR = 2.0  # a run is taken to end up between half and twice what was planned
DRAWS = 1000


@dataclass(frozen=True)
class Firmness:
    """Robustness over uncertain inputs, and shares of wins (parts, options) over all weightings of the trade-off."""

    inputs: Robustness
    weights: Array | None


def firmness(
    model: BoardModel, best: Solution, points: tuple[Point, ...], *, draws: int = DRAWS,
    stop: Callable[[], bool] | None = None,
) -> Firmness | None:  # fmt: skip
    """Draw rates, prices, volume and the line's lean, and look at all weightings of the trade-off's axes.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        For the least cost; the draws change money only.
    points : tuple of Point
        The trade-off.
    """
    if stop is not None and stop():
        return None
    found = robustness(model.problem, best, inputs_of(model), lean_needed=_lean_needed(model), draws=draws)
    weights = None
    if len(points) > 1:
        weights = weight_wins(
            model.problem, [point.values for point in points], [point.found.choice for point in points]
        )
    return Firmness(found, weights)


def inputs_of(model: BoardModel) -> list[Input]:
    """Every cost rate that is not exact, the volume, and prices that the study says may move."""
    bench, rates = model.bench, model.bench.rates
    shape, run = model.problem.cost.shape, bench.content.costs.run
    nothing, none = np.zeros((1, 1, 1)), np.zeros(shape[0])
    above = np.array([max(0, d.board.layers - TWO_LAYERS) for d in model.decisions])
    class_rate = np.array([d.board.rate for d in model.decisions])
    cm2 = model.area.use / 100
    layers = 1 + rates["layer_factor"].value * above
    loads = {
        "board_area": (cm2 * (class_rate * layers)[:, None, None], none),
        "layer_factor": (cm2 * (rates["board_area"].value * class_rate * above)[:, None, None], none),
        "xray": (nothing, _shared(model, lambda d: float("x-ray" in d.inspection and not bench.content.board.xray_anyway))),
        "finer_powder": (nothing, _shared(model, lambda d: max(0, POWDERS.index(d.powder) - POWDERS.index(bench.line.powder)))),
    }  # fmt: skip
    for name in ("placement", "insertion", "drilled_joint", "optical"):
        load = np.zeros(shape)
        for (d, p, k), option in model.judged.items():
            load[d, p, k] = option.loads.get(name, 0.0) * model.parts[p].count
        loads[name] = (load, none)
    found = [
        Input(name.replace("_", " "), rates[name].value, rates[name].low, rates[name].high, load, shared)
        for name, (load, shared) in loads.items()
        if rates[name].low < rates[name].high and (load.any() or shared.any())
    ]
    extra = _shared(
        model,
        lambda d: (
            rates["step_zone"].value * d.stepped + rates["better_foil"].value * (d.technology != bench.line.technology)
        ),
    )
    if extra.any():
        foil = rates["foil"]
        found.append(
            Input("foil charge per board", foil.value / run, foil.low / run / VOLUME_FACTOR,
                  foil.high / run * VOLUME_FACTOR, nothing, extra)
        )  # fmt: skip
    for p, part in enumerate(model.parts):
        if not isinstance(part.part.options, list):
            continue
        for offer in part.part.options:
            price = next((o.price for o in part.options if o.name == offer.outline), None)
            if offer.price_spread and price and offer.outline in model.names[p]:
                load = np.zeros((1, *shape[1:]))
                load[0, p, model.names[p].index(offer.outline)] = part.count
                spread = offer.price_spread
                found.append(
                    Input(
                        f"price of {part.name} in {offer.outline}",
                        price,
                        price * (1 - spread),
                        price * (1 + spread),
                        load,
                        none,
                    )
                )
    return found


def _shared(model: BoardModel, units: Callable[..., float]) -> Array:
    return np.array([float(units(decision)) for decision in model.decisions])


def _lean_needed(model: BoardModel) -> Array:
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
