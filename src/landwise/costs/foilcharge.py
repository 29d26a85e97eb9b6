"""What a stepped or better made foil costs more: the one place where that is said."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from landwise.costs.items import CostItem, CostKey

if TYPE_CHECKING:
    from landwise.costs.board import Rate

RUN = "run"
# Which share of the foil's price each asks for.
SHARES: Mapping[CostKey, str] = MappingProxyType(
    {CostKey.STEPPED_FOIL: "step_zone", CostKey.BETTER_FOIL: "better_foil"}
)


def foil_powers(key: CostKey) -> dict[str, int]:
    """What the extra charge is proportional to: the foil's price and its share, over the boards of the run.

    >>> foil_powers(CostKey.STEPPED_FOIL)
    {'foil': 1, 'step_zone': 1, 'run': -1}
    """
    return {"foil": 1, SHARES[key]: 1, RUN: -1}


def foil_charge(
    foil: tuple[float, float, float], share: tuple[float, float, float], run: int
) -> tuple[float, float, float]:
    """Extra charge of one foil on one board: low, value, high. [money]

    Parameters
    ----------
    foil, share : (low, value, high)
        Price of a foil, and the share of it that is charged on top.
    run : int
        Boards over which it is spread.

    Examples
    --------
    >>> foil_charge((100.0, 180.0, 300.0), (0.2, 0.5, 1.0), 1000)[1]
    0.09
    """
    low, value, high = (price * part / run for price, part in zip(foil, share, strict=True))
    return low, value, high


def foil_units(rates: Mapping[str, Rate], run: int, *, step_zone: bool, better_foil: bool) -> float:
    """How many units of the foil's rate one board pays on top."""
    return (rates["step_zone"].value * step_zone + rates["better_foil"].value * better_foil) / run


def shared_foil_items(rates: Mapping[str, Rate], run: int, *, step_zone: bool, better_foil: bool) -> list[CostItem]:
    """Extra foil charges spread over the run."""
    items = []
    for wanted, key in ((step_zone, CostKey.STEPPED_FOIL), (better_foil, CostKey.BETTER_FOIL)):
        if wanted:
            share = rates[SHARES[key]]
            low, value, high = foil_charge(rates["foil"].band, share.band, run)
            items.append(CostItem(key=key, value=value, low=low, high=high, rate=share.name))
    return items
