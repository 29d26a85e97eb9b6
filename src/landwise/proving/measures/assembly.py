"""Counts, rates and scatter as landwise computes them."""

from __future__ import annotations

from landwise.assembly import yields
from landwise.assembly.anchors import ANCHORS, BOARDS
from landwise.assembly.partmodel import lowest_of
from landwise.assembly.rates import MECHANISMS, Counts
from landwise.assembly.scatter import default_terms, scatter
from landwise.costs.quiescent import quiescent_ua
from landwise.printing.paste import slump_spacing

__all__ = [
    "at_rest",
    "boards",
    "counted_bad",
    "counted_bridges",
    "dpmo",
    "lowest",
    "opportunities",
    "overhang",
    "rate_limit",
    "slump_middle",
]


def dpmo(defects: float, opportunities: float) -> float:
    """Defects per million opportunities."""
    return float(yields.dpmo(int(defects), int(opportunities)))


def opportunities(parts: float, joints: float) -> float:
    """Opportunities for a defect on a board: parts, their placements and joints."""
    return float(yields.opportunities(int(parts), int(joints)))


def slump_middle(pad: float, foil: float) -> float:
    """The spacing [mm] at which half of the pastes bridge cold, as the scatter draws it."""
    return float(scatter(0.03, 0.05)["slump_share"] * slump_spacing(pad, foil, hot=False))


def overhang(side: str) -> float:
    """How much of a lead may hang over its land: in classes 1 and 2 (`value`), in class 3 (`low`)."""
    term = default_terms()["overhang"]
    return float(term.value if side == "value" else term.low)


def rate_limit(count: float, side: str) -> float:
    """The 90 % limit of the defects expected in a million joints where so many were counted."""
    rate = Counts(10**6, dict.fromkeys(MECHANISMS, int(count))).rate("bridges")
    return float(rate.low if side == "low" else rate.high) * 1e6


def lowest(count: float) -> float:
    """How many standard deviations below the mean the lowest of so many normal numbers lies."""
    return float(lowest_of(int(count)))


def counted_bad(group: str) -> float:
    """Parts called bad in one million of a group on the counted line."""
    anchor = next(one for one in ANCHORS if one.name == group)
    return float((anchor.bridges + anchor.rest) / anchor.parts * 1e6)


def counted_bridges() -> float:
    """Bridged parts of all groups on the counted line."""
    return float(sum(anchor.bridges for anchor in ANCHORS))


def boards() -> float:
    """Boards that the line counted."""
    return float(BOARDS)


def at_rest(family: str, single: bool) -> float:
    """Greatest supply current of a gate at rest up to 85 °C [µA]."""
    found = quiescent_ua(family, single)
    return float("nan") if found is None else float(found)
