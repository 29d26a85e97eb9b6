"""The limits that a study can set on an option or on the board, by key; `results/limitwords` says them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class LimitKey(StrEnum):
    """Keys of the limits that are no limit on a figure; one on a figure goes by the figure's key."""

    # Of one option: body, lands and joints.
    TERMINALS = "terminals"
    DRILLED = "drilled"
    LEAST_PITCH = "least-pitch"
    HEIGHT = "height"  # the figure's key: both say how high a part may be
    LAND_GAP = "land-gap"
    FOIL = "foil"
    AREA = "area"  # the figure's key
    HIDDEN_JOINTS = "hidden-joints"
    # Of one option: what may be bought.
    SUPPLY = "supply"
    GRADE = "grade"
    LIFECYCLE = "lifecycle"
    REEL = "reel"
    LEAD_TIME = "lead-time"
    STOCK = "stock"
    MAKERS = "makers"
    LEAST_SOURCES = "least-sources"
    PRICE_SPREAD = "price-spread"
    DROP_IN = "drop-in"
    # Of one option under one shared decision.
    FOIL_PRINTS = "foil-prints"
    FOIL_REACHES = "foil-reaches"
    POWDER_PASSES = "powder-passes"
    LAYERS = "board-layers"
    LOCKED = "locked"
    ALTERNATES = "alternates"
    # Of the whole board.
    BOARD_AREA = "board-area"
    BOARD_HIDDEN = "board-hidden-joints"
    BOARD_RISK = "board-risk"
    BOARD_SUM = "board-sum"
    STEP_ZONES = "step-zones"
    OTHERS_FOIL = "others-foil"
    PANEL = "panel"
    MOST_OUTLINES = "most-outlines"
    SAME_OUTLINE = "same-outline"


@dataclass(frozen=True)
class Limit:
    """One limit.

    Parameters
    ----------
    key : str
        A `LimitKey`, or the key of the figure that is limited.
    of : str
        The part it concerns, or the figure that is summed; empty where the key says all.
    """

    key: str
    of: str = ""

    @property
    def name(self) -> str:
        """Its name in the search, one for each limit.

        >>> Limit(LimitKey.LOCKED, "U3").name, Limit("height").name
        ('locked:U3', 'height')
        """
        return f"{self.key}:{self.of}" if self.of else str(self.key)
