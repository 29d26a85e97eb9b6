"""One package option of one part through all stations: its figures, its cost, and the limits it breaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from landwise.access.inspection import hidden_from
from landwise.costs.board import assembly_loads, part_cost
from landwise.costs.control import control_loads
from landwise.costs.prices import Price
from landwise.errors import LandwiseError
from landwise.evidence.figures import Figure
from landwise.judging import figures_of
from landwise.judging.bench import Bench, Geometry
from landwise.judging.controlled import controlled
from landwise.judging.money import cost_figure
from landwise.judging.results import OptionResult, Rejection
from landwise.outlines import Outline, find
from landwise.outlines.choice import Supply, usual_supply
from landwise.study.file import PartTable


def judge_option(outline: Outline, price: Price, part: PartTable, bench: Bench) -> OptionResult:
    """Judge one package option of one part against the study's limits."""
    if bench.memory is None:
        return _judged(outline, price, part, bench)
    return bench.recalled(
        ("option", bench.told(part), price, bench.wishes),
        bench.geometry(outline),
        lambda: _judged(outline, price, part, bench),
    )


def under_plan(option: OptionResult, bench: Bench) -> OptionResult:
    """The same option as it costs under the bench's plan of inspection and test."""
    own = (*option.loads, *control_loads(option.controlled, bench.plan))
    cost = part_cost(own, bench.rates, bench.content.costs.run, option.paid)
    return replace(option, cost=cost, figures=MappingProxyType({**option.figures, "cost": cost_figure(cost, bench)}))


def _judged(outline: Outline, price: Price, part: PartTable, bench: Bench) -> OptionResult:
    geometry = bench.geometry(outline)
    want, line = bench.content.want, bench.line
    area = geometry.pattern.courtyard_area_mm2 + (geometry.probing.area_mm2 if want.probe_access else 0.0)
    hidden = bench.recalled("hidden", geometry, lambda: hidden_from(outline, line.inspection))
    content = bench.content
    # Where saved area is room and no money, a part pays nothing for it.
    paid_area = area if content.board.area_is_money else 0.0
    loads = assembly_loads(paid_area, outline.terminals if outline.drilled else 0, content.board.layers)
    kept = controlled(geometry)
    own = (*loads, *control_loads(kept, bench.plan))
    cost = part_cost(own, bench.rates, content.costs.run, price)
    supply = _supply(part, outline)
    figures = figures_of(geometry, part, cost, area, hidden, bench)
    return OptionResult(
        geometry=geometry,
        figures=figures,
        cost=cost,
        paid=price,
        supply=supply,
        rejections=tuple(_rejections(geometry, figures, hidden, supply, part, bench)),
        loads=loads,
        controlled=kept,
        area_mm2=area,
    )


def _supply(part: PartTable, outline: Outline) -> Supply:
    if isinstance(part.options, list) and any(
        find(o.outline).name == outline.name for o in part.options if _known(o.outline)
    ):
        return "usual"  # the study names it, so somebody offers it
    if part.package and _known(part.package) and find(part.package).name == outline.name:
        return "usual"
    number = part.number.upper()
    little = any(mark in number for mark in ("1G", "2G", "3G", "1T", "2T"))
    if not number and not part.family:
        return "not known"
    return usual_supply("little" if little else part.family.upper(), outline)


def _known(name: str) -> bool:
    try:
        find(name)
    except LandwiseError:
        return False
    return True


def _rejections(
    geometry: Geometry, figures: Mapping[str, Figure], hidden: int, supply: Supply, part: PartTable, bench: Bench
) -> list[Rejection]:
    """Every hard limit the option breaks, most basic first."""
    want, line, outline = bench.content.want, bench.line, geometry.outline
    found = []
    if supply == "rare" and want.supply == "usual":
        family = f"74{part.family}" if part.family else "this family"
        found.append(
            Rejection("supply", f"{family} is not usually offered in it (from memory): ask before you plan it")
        )
    if outline.drilled and not (want.drilled and line.drilled_parts):
        found.append(
            Rejection(
                "drilled",
                "drilled parts are not wanted" if not want.drilled else "the line does not solder drilled parts",
            )
        )
    for key, limit in (("pitch", "least pitch of the line"), ("height", "height"), ("gap", "gap between lands")):
        figure = figures[key]
        if figure.verdict == "fails":
            found.append(Rejection(limit, figure.why))
    if geometry.demand.kind in ("thinner foil", "better foil technology", "not printable"):
        found.append(Rejection("foil", geometry.demand.says))
    if want.max_area is not None and geometry.pattern.courtyard_area_mm2 > want.max_area:
        found.append(
            Rejection("area", f"courtyard {geometry.pattern.courtyard_area_mm2:.1f} mm², allowed {want.max_area:g} mm²")
        )
    under_body = geometry.sights.not_at_all + geometry.sights.from_the_side
    if want.hidden_joints == "never" and under_body:
        found.append(
            Rejection("hidden joints", f"{under_body} joints can't be seen from above, and the study wants none such")
        )
    elif want.hidden_joints == "as the line sees" and hidden:
        found.append(
            Rejection(
                "hidden joints",
                f"{hidden} of {geometry.sights.joints} joints can't be judged by {' and '.join(line.inspection)}"
                " inspection",
            )
        )
    return found
