"""Which packages fit lands that are there already, so that a board need not be laid out again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

from landwise.costs.prices import Price
from landwise.lands import LandPattern
from landwise.outlines import GRIDS, Outline, terminals
from landwise.service.sameness import Same

DropIn = Literal["same part", "same lands", "same terminals", ""]
OFF_LAND_MM = 0.05  # how far a terminal's nominal edge may reach past a land: what placement scatters anyway
Box = tuple[float, float, float, float]


def drop_in(outline: Outline, present: Outline | None, pattern: LandPattern | None) -> DropIn:
    """How an outline stands to the part in use.

    Parameters
    ----------
    outline : Outline
    present : Outline or None
        The package in use.
    pattern : LandPattern or None
        Its lands.

    Returns
    -------
    str
        `same part`, `same lands` (each terminal lies on the present land of its number: nothing on the board changes),
        `same terminals` (the same numbers on the same sides in the same order: lands change, tracks arrive as they
        did), or an empty text.

    Notes
    -----
    From nominal terminals; a terminal may reach past its land by 0.05 mm. Makers of one function number two-row
    packages alike (common practice, no source); leadless quads and grids number differently, and are never called
    drop-in for a two-row part.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> present = find("SOT-23-5")
    >>> drop_in(find("SC-70-5"), present, land_pattern(present)), drop_in(find("WLP-5-0.5"), present, None)
    ('same terminals', '')
    """
    if present is None:
        return ""
    if outline.name == present.name:
        return "same part"
    if pattern is not None and serves(pattern, outline):
        return "same lands"
    ours, theirs = _order(Same(outline)), _order(Same(present))
    return "same terminals" if ours == theirs and outline.drilled == present.drilled else ""


def serves(pattern: LandPattern, outline: Outline) -> bool:
    """Whether every terminal of an outline lies on the land of its number.

    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> serves(land_pattern(find("TSSOP-14")), find("TSSOP-14")), serves(land_pattern(find("SO-14")), find("TSSOP-14"))
    (True, False)
    """
    if pattern.drilled != outline.drilled:
        return False
    lands, feet = _lands(Same(pattern)), _feet(Same(outline))
    if not feet.keys() <= lands.keys() or len(lands.keys() - feet.keys() - {"EP"}) > 0:
        return False
    if outline.family in GRIDS:  # a ball pulls to the middle of its land: another pitch is no fit
        return all(_centred(foot, lands[number]) for number, foot in feet.items())
    return all(_inside(foot, lands[number]) for number, foot in feet.items())


OFF_CENTRE_MM = 0.02


def _centred(foot: Box, land: Box) -> bool:
    return all(abs(foot[k] + foot[k + 2] - land[k] - land[k + 2]) / 2 <= OFF_CENTRE_MM for k in (0, 1))


def _inside(foot: Box, land: Box) -> bool:
    return (
        foot[0] >= land[0] - OFF_LAND_MM
        and foot[1] >= land[1] - OFF_LAND_MM
        and foot[2] <= land[2] + OFF_LAND_MM
        and foot[3] <= land[3] + OFF_LAND_MM
    )


@lru_cache(maxsize=1024)
def _lands(pattern: Same[LandPattern]) -> dict[str, Box]:
    return {land.terminal: land.place.box for land in pattern.what.lands}


@lru_cache(maxsize=1024)
def _feet(outline: Same[Outline]) -> dict[str, Box]:
    found = {}
    for terminal in terminals(outline.what):
        along = abs(math.cos(math.radians(terminal.outward_deg))) > 0.5
        dx, dy = (terminal.length_mm, terminal.width_mm) if along else (terminal.width_mm, terminal.length_mm)
        found[terminal.number] = (
            terminal.x_mm - dx / 2,
            terminal.y_mm - dy / 2,
            terminal.x_mm + dx / 2,
            terminal.y_mm + dy / 2,
        )
    return found


@lru_cache(maxsize=1024)
def _order(outline: Same[Outline]) -> tuple[tuple[str, str], ...]:
    """Numbers by side, in order; grids have an order of their own and match only themselves."""
    found = tuple((one.number, one.side) for one in terminals(outline.what) if one.number != "EP")
    return found if {side for _, side in found} <= {"left", "right"} else ((outline.what.name, ""),)


def choice_worth(one: Price, others: Sequence[Price]) -> float:
    """What it is worth, per piece, that the same lands take another package too: the cheaper of the two can be bought.

    The expected saving E[max(X − Y, 0)] of two independent prices spread log-normally, for the best of the others;
    zero for two quoted prices of which the first is the lower. (The exchange option without time: Margrabe 1978, from
    memory.)

    >>> quoted = Price(0.10, 0.10, 0.10, "stated")
    >>> choice_worth(quoted, [Price(0.08, 0.08, 0.08, "stated")]), choice_worth(quoted, [])
    (0.020000000000000004, 0.0)
    """
    return max((_exchange(one, other) for other in others), default=0.0)


def _exchange(one: Price, other: Price) -> float:
    first, second = one.log_sd, other.log_sd
    mean, against = one.median * math.exp(first**2 / 2), other.median * math.exp(second**2 / 2)
    spread = math.hypot(first, second)
    if spread == 0 or mean <= 0 or against <= 0:
        return max(mean - against, 0.0)
    up = math.log(mean / against) / spread + spread / 2
    return mean * _below(up) - against * _below(up - spread)


def _below(deviations: float) -> float:
    """Share of a normal distribution below so many standard deviations."""
    # The standard library's: every run asks, and reading scipy takes longer than all the prices of a board.
    return math.erfc(-deviations / math.sqrt(2)) / 2
