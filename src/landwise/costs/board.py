"""What one good board costs, from visible assumptions: each rate has its range, its reason and its source.

Money is in the study's own unit. Rates are assumptions until the user types their own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.costs.foilcharge import shared_foil_items
from landwise.costs.items import CostItem, CostKey
from landwise.costs.prices import Price
from landwise.errors import InputError, UnknownNameError

TWO_LAYERS = 2


@dataclass(frozen=True)
class Rate:
    """One rate of the cost model: value with plausible range, what it is for, and why it stands there."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    for_what: str
    reason: str
    source: str
    assumed: bool = True

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.value <= self.high:
            raise InputError(
                "a rate out of order",
                place=f"costs, {self.name}",
                found=f"{self.low:g}, {self.value:g}, {self.high:g}",
                expected="0 ≤ low ≤ value ≤ high",
            )

    @property
    def is_money(self) -> bool:
        """Whether it is an amount of money, not a share of one."""
        return self.unit not in ("share of foil", "per layer above two")

    def scaled(self, factor: float) -> Rate:
        """The same rate in another money.

        >>> default_rates()["foil"].scaled(2.0).value, default_rates()["step_zone"].scaled(2.0).value
        (360.0, 0.6)
        """
        if factor == 1.0 or not self.is_money:
            return self
        return replace(self, value=self.value * factor, low=self.low * factor, high=self.high * factor)

    @property
    def band(self) -> tuple[float, float, float]:
        """Low, value, high."""
        return self.low, self.value, self.high

    def given(self, value: float) -> Rate:
        """The same rate as the user states it: exact, no longer an assumption."""
        return Rate(
            self.name,
            value,
            value,
            value,
            self.unit,
            self.for_what,
            "stated in the study",
            "study",
            assumed=False,
        )


@cache
def default_rates() -> Mapping[str, Rate]:
    """The shipped rates by name.

    >>> default_rates()["placement"].unit
    'per part'
    """
    text = resources.files("landwise.costs").joinpath("rates.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {
            name: Rate(
                name,
                row["value"],
                row["low"],
                row["high"],
                row["unit"],
                row["for"],
                row["reason"],
                row["source"],
            )
            for name, row in tomllib.loads(text).items()
        }
    )


def rates_with(own: Mapping[str, float], factor: float = 1.0) -> Mapping[str, Rate]:
    """The rates with a user's own put in; shipped ones that are money scaled by a factor.

    `factor` is one unit of the shipped rates' money, about a US dollar, in the user's own; shares are not scaled, nor
    is what the user states.

    Raises
    ------
    UnknownNameError
        For a name that is not a rate.
    InputError
        For a negative rate.
    """
    rates = {name: rate.scaled(factor) for name, rate in default_rates().items()}
    for name, value in own.items():
        if name not in rates:
            raise UnknownNameError("no such rate", place="costs", found=name, expected=" | ".join(rates))
        rates[name] = rates[name].given(value)
    return MappingProxyType(rates)


@dataclass(frozen=True)
class PartCost:
    """What one part adds to one good board, item by item.

    `price_known` is False where nobody quoted the part's price: the total then holds a guessed one with its band, or,
    where none was given at all, leaves it out.
    """

    items: tuple[CostItem, ...]
    price_known: bool

    @property
    def total(self) -> float:
        """Sum of the items."""
        return sum(item.value for item in self.items)

    @property
    def low(self) -> float:
        """Sum of the low ends: a bound, since the items do not move together."""
        return sum(item.low for item in self.items)

    @property
    def high(self) -> float:
        """Sum of the high ends: a bound."""
        return sum(item.high for item in self.items)


@dataclass(frozen=True)
class PartDemands:
    """What a part asks of board and line, as far as money is concerned.

    Parameters
    ----------
    area_mm2 : float
        Board area it claims, test lands included. [mm²]
    joints_optical, joints_hidden : int
        Joints inspected from above, and joints that need X-ray.
    holes : int
        Drilled terminals.
    step_zone, better_foil : bool
        Whether the foil must be stepped or better made for this part.
    defects_seen, defects_hidden : float
        Expected defects that show from above, and that don't. The range of their cost is that of the rate alone;
        how far the defects themselves are known stands with the figure `defects`.
    """

    area_mm2: float
    joints_optical: int
    joints_hidden: int
    holes: int
    step_zone: bool = False
    better_foil: bool = False
    defects_seen: float = 0.0
    defects_hidden: float = 0.0


def part_cost(
    demands: PartDemands, rates: Mapping[str, Rate], *, layers: int, run: int, price: Price | float | None
) -> PartCost:
    """What one part adds to the cost of one board.

    Parameters
    ----------
    demands : PartDemands
    rates : mapping of str to Rate
    layers : int
        Copper layers of the board; each above two adds the layer factor.
    run : int
        Boards over which a foil's charge is spread.
    price : Price, float or None
        Of one piece at the pieces bought, quoted or guessed with a band; None leaves it out.

    Notes
    -----
    Charges that a whole board shares (X-ray, a stepped or better foil) are charged in full to the part that
    asks for them: this is the cost of choosing it when no other part asks. Board totals count them once.

    Raises
    ------
    InputError
        For fewer than one layer or board.

    Examples
    --------
    >>> demands = PartDemands(area_mm2=50.0, joints_optical=14, joints_hidden=0, holes=0)
    >>> cost = part_cost(demands, default_rates(), layers=2, run=1000, price=0.10)
    >>> print(f"{cost.total:.4f}")
    0.1830
    """
    if layers < 1 or run < 1:
        raise InputError("layers and run must be at least 1", found=f"{layers} layers, {run} boards", expected="≥ 1")
    items = []
    if isinstance(price, Price):
        items.append(_priced(price.low, price.median, price.high, price.source))
    elif price is not None:
        items.append(_priced(price, price, price, "study"))
    items.append(board_item(demands.area_mm2, rates, layers))
    if demands.holes:
        items.append(_item(CostKey.INSERTION, rates["insertion"], 1))
        items.append(_item(CostKey.HOLES, rates["drilled_joint"], demands.holes))
    else:
        items.append(_item(CostKey.PLACEMENT, rates["placement"], 1))
    if demands.joints_optical:
        items.append(_item(CostKey.OPTICAL, rates["optical"], demands.joints_optical))
    if demands.joints_hidden:
        items.append(_item(CostKey.XRAY, rates["xray"], 1))
    if demands.defects_seen > 0:
        items.append(_item(CostKey.REWORK, rates["rework"], demands.defects_seen))
    if demands.defects_hidden > 0:
        items.append(_item(CostKey.REWORK_HIDDEN, rates["rework_hidden"], demands.defects_hidden))
    items += shared_foil_items(rates, run, step_zone=demands.step_zone, better_foil=demands.better_foil)
    return PartCost(tuple(items), price.quoted if isinstance(price, Price) else price is not None)


def board_item(area_mm2: float, rates: Mapping[str, Rate], layers: int) -> CostItem:
    """Cost of bare board area, with the factor for layers above two."""
    low, value, high = board_charge(rates["board_area"].band, rates["layer_factor"].band, area_mm2, layers)
    return CostItem(key=CostKey.BOARD, value=value, low=low, high=high, rate="board_area", units=area_mm2 / 100)


def _priced(low: float, value: float, high: float, source: str) -> CostItem:
    return CostItem(key=CostKey.PART, value=value, low=low, high=high, rate="price", source=source)


def rate_times(rate: tuple[float, float, float], units: float) -> tuple[float, float, float]:
    """So many units of a rate: low, value, high. [money]"""
    low, value, high = (one * units for one in rate)
    return low, value, high


def board_charge(
    area: tuple[float, float, float], extra: tuple[float, float, float], area_mm2: float, layers: int
) -> tuple[float, float, float]:
    """Bare board: the area's rate, with the factor for each layer above two. [money]

    Parameters
    ----------
    area, extra : (low, value, high)
        Rate of a cm² of two layers, and the factor of each further layer.
    """
    above = max(0, layers - TWO_LAYERS)
    cm2 = area_mm2 / 100
    low, value, high = (rate * cm2 * (1 + more * above) for rate, more in zip(area, extra, strict=True))
    return low, value, high


def _item(key: CostKey, rate: Rate, units: float) -> CostItem:
    low, value, high = rate_times(rate.band, units)
    return CostItem(key=key, value=value, low=low, high=high, rate=rate.name, units=units)


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
