"""The figure of what a part costs on one good board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.costs.board import PartCost
from landwise.evidence.figures import Figure, Step
from landwise.quantities import show

if TYPE_CHECKING:
    from landwise.judging.bench import Bench


def cost_figure(cost: PartCost, bench: Bench) -> Figure:
    unit = bench.content.costs.unit
    steps = tuple(
        Step(
            says=f"{item.title}: {show(item.value, '')} ({show(item.low, '')}…{show(item.high, '')}) {unit}",
            value=item.value,
            unit="money",
            sources=(item.source or "study",) if item.rate == "price" else (bench.rates[item.rate].source,),
        )
        for item in cost.items
    )
    part = next((item for item in cost.items if item.rate == "price"), None)
    known = "part price included" if cost.price_known else "part price not known, left out"
    if part is not None and not cost.price_known:
        known = (
            f"part price guessed, {show(part.value, '')} ({show(part.low, '')}…{show(part.high, '')}): nobody quoted it"
        )
    return Figure(
        key="cost",
        title="cost on one good board",
        value=cost.total,
        unit="money",
        low=cost.low,
        high=cost.high,
        better="less",
        verdict="holds" if cost.price_known else "not known",
        why=f"{known}; rates marked as assumptions where not stated",
        trail=steps,
    )
