"""Limits in words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from landwise.judging.limits import Limit, LimitKey

# A key that is missing here is a word already: `height`, `makers`, or a figure's own key.
_WORDS: Mapping[str, str] = MappingProxyType(
    {
        LimitKey.LEAST_PITCH: "least pitch of the line",
        LimitKey.LAND_GAP: "gap between lands",
        LimitKey.HIDDEN_JOINTS: "hidden joints",
        LimitKey.LEAD_TIME: "lead time",
        LimitKey.LEAST_SOURCES: "least number of makers",
        LimitKey.PRICE_SPREAD: "price spread",
        LimitKey.FOIL_PRINTS: "foil that prints it",
        LimitKey.FOIL_REACHES: "foil thick enough for uneven leads",
        LimitKey.POWDER_PASSES: "powder that passes its openings",
        LimitKey.LAYERS: "layers of the board class",
        LimitKey.LOCKED: "{of} is locked",
        LimitKey.ALTERNATES: "alternates of {of}",
        LimitKey.BOARD_AREA: "board area",
        LimitKey.BOARD_HIDDEN: "hidden joints on the board",
        LimitKey.BOARD_RISK: "risk of the board",
        LimitKey.BOARD_SUM: "{of} of the board",
        LimitKey.STEP_ZONES: "step zones",
        LimitKey.OTHERS_FOIL: "thickest foil that other parts bear",
        LimitKey.PANEL: "the largest board that the panel holds",
        LimitKey.MOST_OUTLINES: "different outlines",
        LimitKey.SAME_OUTLINE: "same outline in a group",
    }
)


def limit_says(limit: Limit | str) -> str:
    """A limit in words.

    >>> limit_says(Limit(LimitKey.LOCKED, "U3")), limit_says("height"), limit_says("lead-time")
    ('U3 is locked', 'height', 'lead time')
    """
    one = limit if isinstance(limit, Limit) else Limit(limit)
    return _WORDS.get(one.key, str(one.key)).format(of=one.of)
