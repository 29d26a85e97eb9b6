"""The figure of what a part costs on one good board, each line of it from its rate and what the part uses of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from landwise.access.inspection import sights
from landwise.assembly.partrates import PartRates
from landwise.costs.board import PartCost, board_charge, rate_times
from landwise.costs.foilcharge import SHARES, foil_charge
from landwise.costs.items import CostItem, CostKey
from landwise.evidence.figures import Figure, figure
from landwise.evidence.trails import Given, Step, as_given, by_default, earlier, stated, worked
from landwise.judging.leaves import dimension, of_outline, of_rate, of_rule, of_study
from landwise.judging.size import area_steps
from landwise.outlines import Outline
from landwise.quantities import show

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry

Band = tuple[float, float, float]


def sum_of_items(**items: Band) -> Band:
    """Sum of all lines: low, value, high. [money]"""
    low, value, high = (sum(one[k] for one in items.values()) for k in range(3))
    return low, value, high


def joints_seen(outline: Outline) -> float:
    """Joints that are inspected from above."""
    found = sights(outline)
    return float(found.joints - found.not_at_all)


def seen_defects(rates: PartRates) -> float:
    """Expected defects that show from above."""
    return rates.defects.value * (1 - rates.hidden)


def hidden_defects(rates: PartRates) -> float:
    """Expected defects that don't show from above."""
    return rates.defects.value * rates.hidden


def cost_figure(cost: PartCost, geometry: Geometry, bench: Bench) -> Figure:
    """Cost of one part on one good board."""
    unit = bench.content.costs.unit
    steps = {item.key: _step(item, geometry, bench, unit) for item in cost.items}
    part = next((item for item in cost.items if item.key == CostKey.PART), None)
    known = "part price included" if cost.price_known else "part price not known, left out"
    if part is not None and not cost.price_known:
        known = (
            f"part price guessed, {show(part.value, '')} ({show(part.low, '')}…{show(part.high, '')}): nobody quoted it"
        )
    whole = worked(
        "sum of these lines; the ends of its range are bounds, since they do not move together",
        sum_of_items,
        {key.value.replace("-", "_"): earlier(step) for key, step in steps.items()},
        unit="money",
    )
    return figure(
        whole,
        key="cost",
        title="cost on one good board",
        better="less",
        verdict="holds" if cost.price_known else "not known",
        why=f"{known}; rates marked as assumptions where not stated",
        trail=(*steps.values(), whole),
    )


def _step(item: CostItem, geometry: Geometry, bench: Bench, unit: str) -> Step:
    says = f"{item.title}: {show(item.value, '')} ({show(item.low, '')}…{show(item.high, '')}) {unit}"
    if item.key == CostKey.PART:
        return worked(says, as_given, {"value": _price(item)}, unit="money", sources=(item.source or "study",))
    rates, content = bench.rates, bench.content
    sources = (rates[item.rate].source,)
    if item.key == CostKey.BOARD:
        given = {
            "area": of_rate(rates["board_area"]),
            "extra": of_rate(rates["layer_factor"]),
            "area_mm2": earlier(area_steps(geometry, content.want.probe_access)[-1]),
            "layers": of_study(content, "board.layers"),
        }
        return worked(says, board_charge, given, unit="money", sources=sources)
    if item.key in SHARES:
        given = {
            "foil": of_rate(rates["foil"]),
            "share": of_rate(rates[SHARES[item.key]]),
            "run": of_study(content, "costs.run"),
        }
        return worked(says, foil_charge, given, unit="money", sources=sources)
    given = {"rate": of_rate(rates[item.rate]), "units": _units(item, geometry)}
    return worked(says, rate_times, given, unit="money", sources=sources)


def _price(item: CostItem) -> Given:
    band = (item.low, item.value, item.high)
    if item.source in ("", "study"):
        return stated(band, "the part's price", "money")
    return by_default(band, "the part's price", "nobody quoted it: an offer's or a guessed price", item.source, "money")


def _units(item: CostItem, geometry: Geometry) -> Given:
    """How many units of its rate a line uses."""
    outline = geometry.outline
    drawn: Mapping[str, Given] = {"outline": of_outline(outline)}
    if item.key == CostKey.HOLES:
        return earlier(dimension(outline, "drilled terminals", float(outline.terminals), ""))
    if item.key == CostKey.OPTICAL:
        return earlier(worked("joints seen from above", joints_seen, drawn))
    if item.key in (CostKey.REWORK, CostKey.REWORK_HIDDEN):
        by = seen_defects if item.key == CostKey.REWORK else hidden_defects
        says = "expected defects seen from above" if item.key == CostKey.REWORK else "expected defects out of sight"
        return earlier(worked(says, by, {"rates": earlier(geometry.stations["defects"])}))
    once = {
        CostKey.XRAY: "one board, for whichever part asks for it",
        CostKey.INSERTION: "one insertion",
        CostKey.PLACEMENT: "one placement",
    }
    return of_rule(1.0, once[item.key])
