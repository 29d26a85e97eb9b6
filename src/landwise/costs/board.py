"""What a part adds to one good board, line by line, from visible rates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from landwise.costs.loads import Line, Load
from landwise.costs.prices import Price
from landwise.costs.rates import Rate
from landwise.errors import InputError

TWO_LAYERS = 2
MM2_PER_CM2 = 100.0


@dataclass(frozen=True)
class CostItem:
    """One line of a cost: value and range in money per board, and the rates it used."""

    line: Line
    value: float
    low: float
    high: float
    rates: tuple[str, ...]
    source: str = ""


@dataclass(frozen=True)
class PartCost:
    """What one part adds to one good board, line by line.

    `price_known` is False where the part's price was neither stated nor offered.
    """

    items: tuple[CostItem, ...]
    price_known: bool

    @property
    def total(self) -> float:
        """Sum of the lines."""
        return sum(item.value for item in self.items)

    @property
    def low(self) -> float:
        """Sum of the low ends: a bound, since the lines do not move together."""
        return sum(item.low for item in self.items)

    @property
    def high(self) -> float:
        """Sum of the high ends: a bound."""
        return sum(item.high for item in self.items)


def assembly_loads(area_mm2: float, holes: int, layers: int, *, by_hand: bool = False) -> tuple[Load, ...]:
    """What a part pays for its room on the board and for being put there.

    Parameters
    ----------
    area_mm2 : float
        Board area it claims, test lands included. [mm²]
    holes : int
        Drilled terminals; a part without is placed.
    layers : int
        Copper layers of the board; each above two adds the layer factor.
    by_hand : bool
        Whether each hole is soldered by hand, and not by a process that the board pays once.

    Raises
    ------
    InputError
        For fewer than one layer.

    Examples
    --------
    >>> [load.line.value for load in assembly_loads(50.0, 0, 2)]
    ['area', 'placement']
    """
    if layers < 1:
        raise InputError("a board has at least one layer", found=f"{layers}", expected="≥ 1")
    put = [Load(Line.PLACEMENT, ("placement",), 1.0)]
    if holes:
        put = [Load(Line.INSERTION, ("insertion",), 1.0), Load(Line.HOLES, ("drilled_joint",), float(holes))]
    if holes and by_hand:
        put.append(Load(Line.HOLES, ("hand_joint",), float(holes)))
    return (*area_loads(area_mm2, layers), *put)


def area_loads(area_mm2: float, layers: int) -> tuple[Load, ...]:
    """What bare board area costs, with the factor for layers above two."""
    cm2, above = area_mm2 / MM2_PER_CM2, max(0, layers - TWO_LAYERS)
    plain = Load(Line.AREA, ("board_area",), cm2)
    return (plain, Load(Line.AREA, ("board_area", "layer_factor"), cm2 * above)) if above else (plain,)


def part_cost(loads: Iterable[Load], rates: Mapping[str, Rate], run: int, price: Price | None) -> PartCost:
    """What one part adds to the cost of one board.

    Parameters
    ----------
    loads : iterable of Load
        From `assembly_loads` and `control_loads`.
    rates : mapping of str to Rate
    run : int
        Boards over which what is paid once a run is spread.
    price : Price or None
        The part's price; None leaves it out.

    Raises
    ------
    InputError
        For fewer than one board.

    Examples
    --------
    >>> from landwise.costs.rates import default_rates
    >>> from landwise.costs.prices import Price
    >>> cost = part_cost(assembly_loads(50.0, 0, 2), default_rates(), 1000, Price(0.10, 0.10, 0.10, "stated"))
    >>> print(f"{cost.total:.4f}")
    0.1560
    """
    if run < 1:
        raise InputError("a run has at least one board", found=f"{run}", expected="≥ 1")
    items: dict[tuple[Line, tuple[str, ...]], CostItem] = {}
    if price is not None:
        lost, mean = rates["attrition"], price.expected
        items[Line.PART, ()] = CostItem(Line.PART, mean, price.low, price.high, ("price",), price.source)
        items[Line.ATTRITION, ()] = CostItem(
            Line.ATTRITION,
            mean * lost.value,
            price.low * lost.low,
            price.high * lost.high,
            ("price", "attrition"),
            price.source,
        )
    for load in loads:
        value, (low, high) = load.money(rates, run), load.range(rates, run)
        before = items.get((load.line, load.rates))
        items[load.line, load.rates] = (
            CostItem(load.line, value, low, high, load.rates)
            if before is None
            else CostItem(load.line, before.value + value, before.low + low, before.high + high, load.rates)
        )
    return PartCost(tuple(items.values()), price is not None and price.quoted)


def price_at(breaks: Mapping[int, float], quantity: int) -> float:
    """The price that holds at a quantity: that of the largest break not above it.

    Raises
    ------
    InputError
        If no break starts at or below the quantity.

    Examples
    --------
    >>> price_at({1: 0.20, 100: 0.12, 1000: 0.08}, 500)
    0.12
    """
    held = [start for start in breaks if start <= quantity]
    if not held:
        raise InputError(
            "no price holds at this quantity",
            found=f"{quantity}",
            expected=f"a break at or below; the first is {min(breaks)}",
        )
    return breaks[max(held)]
