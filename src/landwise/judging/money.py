"""The figure of what a part costs on one good board, each line of it from its rates and what the part uses of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.access.inspection import sights
from landwise.access.plans import Plan, plans_of
from landwise.assembly.partrates import PartRates
from landwise.costs.board import CostItem, PartCost, assembly_loads
from landwise.costs.control import control_loads
from landwise.costs.loads import TITLES, Line, Load
from landwise.evidence.figures import Figure, figure
from landwise.evidence.trails import Given, Step, as_given, by_default, chosen, earlier, stated, worked
from landwise.judging.controlled import DRILLED_SOURCE, controlled_from
from landwise.judging.leaves import of_outline, of_rate, of_rule, of_study
from landwise.judging.size import area_steps
from landwise.outlines import Outline
from landwise.quantities import show
from landwise.study.file import Board

if TYPE_CHECKING:
    from landwise.judging.bench import Bench, Geometry

Band = tuple[float, float, float]  # low, value, high
LOADS = "loads"  # key of the step that says what a part pays for


def line_name(line: Line, *rates: str) -> str:
    """Name under which the sum of a cost takes one line.

    >>> line_name(Line.REWORK_HIDDEN, "rework_hidden")
    'rework_hidden_rework_hidden'
    """
    return "_".join((line.value, *rates)).replace("-", "_")


PRICE, LOST = line_name(Line.PART, "price"), line_name(Line.ATTRITION, "price", "attrition")


def sum_of_lines(**lines: Band) -> Band:
    """Sum of all lines: low, value, high. [money]"""
    low, value, high = (sum(one[k] for one in lines.values()) for k in range(3))
    return low, value, high


def paid_area(area_mm2: float, board: Board) -> float:
    """Area that a part pays for: nothing where saved area is room and no money. [mm²]"""
    return area_mm2 if board.area_is_money else 0.0


def plan_of(inspection: tuple[str, ...], test: str) -> Plan:
    """All that the line can do to control joints, with X-ray of a sample."""
    return max(plans_of(inspection, test), key=lambda plan: (len(plan.steps), -plan.xray_share))


def part_loads(
    outline: Outline, rates: PartRates | None, area_mm2: float, layers: int, plan: Plan, failing: float | None = None
) -> tuple[Load, ...]:
    """What a part pays for, in units of products of rates; its failures in the field where these are counted."""
    kept = controlled_from(sights(outline), outline.terminals, rates)
    holes = outline.terminals if outline.drilled else 0
    field = () if failing is None else (Load(Line.FIELD, ("field_failure",), failing),)
    return (*assembly_loads(area_mm2, holes, layers), *field, *control_loads(kept, plan))


def line_money(loads: tuple[Load, ...], line: str, **rates: Band) -> Band:
    """One line of the cost: its units times its rates, at their low ends, values and high ends. [money]"""
    found: list[list[float]] = []
    for load in loads:
        if load.line == line and load.rates == tuple(rates):
            found.append([_product(load.units, [band[k] for band in rates.values()]) for k in range(3)])
    low, value, high = (sum(one[k] for one in found) for k in range(3))
    return low, value, high


def _product(units: float, rates: list[float]) -> float:
    product = 1.0
    for rate in rates:
        product *= rate
    return units * product


def lost_parts(price: Band, attrition: Band) -> Band:
    """Price of parts that are lost while placing. [money]"""
    low, value, high = (one * share for one, share in zip(price, attrition, strict=True))
    return low, value, high


Failing = tuple[float, Step | None]  # share of parts that fail in the field, and the step that gives it


def cost_figure(cost: PartCost, geometry: Geometry, bench: Bench, field: Failing | None = None) -> Figure:
    """Cost of one part on one good board, with its failures in the field where these are counted."""
    unit = bench.content.costs.unit
    loads = _loads_step(geometry, bench, field)
    priced = next((item for item in cost.items if item.line == Line.PART), None)
    steps = {line_name(item.line, *item.rates): _step(item, priced, loads, bench, unit) for item in cost.items}
    known = "part price included" if cost.price_known else "part price not known, left out"
    if priced is not None and not cost.price_known:
        low, high = show(priced.low, ""), show(priced.high, "")
        known = f"part price guessed, {show(priced.value, '')} ({low}…{high}): nobody quoted it"
    whole = worked(
        "sum of these lines; the ends of its range are bounds, since they do not move together",
        sum_of_lines,
        {name: earlier(step) for name, step in steps.items()},
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


def _loads_step(geometry: Geometry, bench: Bench, field: Failing | None) -> Step:
    failing = {}
    if field is not None:
        share, step = field
        none = of_rule(share, "nothing shows how long it lasts under this print: taken to fail")
        failing = {"failing": none if step is None else earlier(step)}
    area = area_steps(geometry, bench.content.want.probe_access)[-1]
    paid = worked(
        "area that is paid for",
        paid_area,
        {"area_mm2": earlier(area), "board": earlier(bench.board_step)},
        unit="mm2",
    )
    return worked(
        "what it pays for: room, placement, looking at its joints, and what becomes of its defects",
        part_loads,
        {
            "outline": of_outline(geometry.outline),
            "rates": earlier(geometry.stations["defects"]),
            "area_mm2": earlier(paid),
            "layers": of_study(bench.content, "board.layers"),
            "plan": _plan_given(bench),
            **failing,
        },
        key=LOADS,
        sources=(DRILLED_SOURCE,) if geometry.rates is None else (),
    )


def _plan_given(bench: Bench) -> Given:
    if bench.stated_plan is not None:
        return chosen(bench.plan, "plan of inspection and test")
    given = {"inspection": bench.leaves["inspection"], "test": of_study(bench.content, "line.test")}
    return earlier(worked("plan of inspection and test", plan_of, given, result=bench.plan, key="plan"))


def _step(item: CostItem, priced: CostItem | None, loads: Step, bench: Bench, unit: str) -> Step:
    says = f"{TITLES[item.line]}: {show(item.value, '')} ({show(item.low, '')}…{show(item.high, '')}) {unit}"
    sources = tuple(item.source if name == "price" else bench.rates[name].source for name in item.rates)
    if item.line == Line.PART:
        return worked(says, as_given, {"value": _price(item)}, unit="money", sources=sources)
    if item.line == Line.ATTRITION and priced is not None:
        given = {"price": _price(priced), "attrition": of_rate(bench.rates["attrition"])}
        return worked(says, lost_parts, given, unit="money", sources=sources)
    given = {
        "loads": earlier(loads),
        "line": of_rule(item.line.value, "line of the cost"),
        **{name: of_rate(bench.rates[name]) for name in item.rates},
    }
    return worked(says, line_money, given, unit="money", sources=sources)


def _price(item: CostItem) -> Given:
    band = (item.low, item.value, item.high)
    if item.source in ("", "study"):
        return stated(band, "the part's price", "money")
    return by_default(band, "the part's price", "nobody quoted it: an offer's or a guessed price", item.source, "money")
