"""Lines of a cost: each by its key, with the rate it uses and how many units of it; words for them stand here alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class CostKey(StrEnum):
    """What a line of a cost is for."""

    PART = "part"
    BOARD = "board-area"
    INSERTION = "insertion"
    HOLES = "holes"
    PLACEMENT = "placement"
    OPTICAL = "optical-inspection"
    XRAY = "xray"
    REWORK = "rework"
    REWORK_HIDDEN = "rework-hidden"
    STEPPED_FOIL = "stepped-foil"
    BETTER_FOIL = "better-foil"


# Charged once for a whole board, however many parts ask for it.
SHARED = frozenset({CostKey.XRAY, CostKey.STEPPED_FOIL, CostKey.BETTER_FOIL})

TITLES: Mapping[CostKey, str] = MappingProxyType(
    {
        CostKey.PART: "part",
        CostKey.BOARD: "board area",
        CostKey.INSERTION: "insertion",
        CostKey.HOLES: "holes",
        CostKey.PLACEMENT: "placement",
        CostKey.OPTICAL: "optical inspection",
        CostKey.XRAY: "X-ray of the board",
        CostKey.REWORK: "rework",
        CostKey.REWORK_HIDDEN: "rework under bodies",
        CostKey.STEPPED_FOIL: "stepped foil",
        CostKey.BETTER_FOIL: "better foil",
    }
)


@dataclass(frozen=True, kw_only=True)
class CostItem:
    """One line of a cost: what for, value and range, and the rate it used.

    Parameters
    ----------
    key : CostKey
    value, low, high : float
        [money]
    rate : str
        Name of the rate; "price" for the part itself.
    units : float
        How many units of the rate.
    source : str
        Of a price.
    """

    key: CostKey
    value: float
    low: float
    high: float
    rate: str
    units: float = 1.0
    source: str = ""

    @property
    def title(self) -> str:
        """In words."""
        return TITLES[self.key]

    @property
    def shared(self) -> bool:
        """Whether the whole board pays it once."""
        return self.key in SHARED
