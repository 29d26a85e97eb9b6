"""One package option of one part through all stations: its figures, its cost, and the limits it breaks."""

from __future__ import annotations

from collections.abc import Mapping

from landwise.access.inspection import hidden_from
from landwise.costs.board import PartDemands, Rate, part_cost
from landwise.costs.foilcharge import foil_units
from landwise.evidence.figures import Figure
from landwise.judging import figures_of
from landwise.judging.bench import Bench, Geometry
from landwise.judging.buying import Purchase, purchase_of, rejections_of
from landwise.judging.results import OptionResult, Rejection
from landwise.outlines import Outline, find
from landwise.study.file import PartTable


def judge_option(outline: Outline, part: PartTable, bench: Bench) -> OptionResult:
    """Judge one package option of one part against the study's limits."""
    terminals = part.terminals or (find(part.package, bench.own).terminals if part.package else outline.terminals)
    purchase = purchase_of(outline, part, terminals, bench)
    if bench.memory is None:
        return _judged(outline, purchase, part, bench)
    return bench.recalled(
        ("option", bench.told(part), purchase, bench.wishes),
        bench.geometry(outline),
        lambda: _judged(outline, purchase, part, bench),
    )


def _judged(outline: Outline, purchase: Purchase, part: PartTable, bench: Bench) -> OptionResult:
    geometry = bench.geometry(outline)
    want, line = bench.content.want, bench.line
    area = geometry.pattern.courtyard_area_mm2 + (geometry.probing.area_mm2 if want.probe_access else 0.0)
    hidden = bench.recalled("hidden", geometry, lambda: hidden_from(outline, line.inspection))
    needs_xray = geometry.sights.not_at_all > 0 and "x-ray" in line.inspection
    demands = PartDemands(
        area_mm2=area,
        joints_optical=geometry.sights.joints - geometry.sights.not_at_all,
        joints_hidden=geometry.sights.not_at_all if needs_xray and not bench.content.board.xray_anyway else 0,
        holes=outline.terminals if outline.drilled else 0,
        step_zone=geometry.demand.kind == "step-down zone",
        better_foil=geometry.demand.kind == "better foil technology",
        defects_seen=geometry.rates.defects.value * (1 - geometry.rates.hidden) if geometry.rates else 0.0,
        defects_hidden=geometry.rates.defects.value * geometry.rates.hidden if geometry.rates else 0.0,
    )
    content = bench.content
    cost = part_cost(demands, bench.rates, layers=content.board.layers, run=content.costs.run, price=purchase.price)
    figures = figures_of(geometry, part, cost, hidden, bench)
    return OptionResult(
        geometry=geometry,
        figures=figures,
        cost=cost,
        priced=purchase.price,
        supply=purchase.supply,
        rejections=(*rejections_of(purchase, part, content), *_rejections(geometry, figures, hidden, bench)),
        loads=_loads(demands, content.costs.run, bench.rates),
        area_mm2=area,
        makers=purchase.makers,
        drop_in=purchase.drop_in,
    )


def _loads(demands: PartDemands, run: int, rates: Mapping[str, Rate]) -> dict[str, float]:
    loads = {"board_area": demands.area_mm2 / 100, "optical": float(demands.joints_optical)}
    if demands.holes:
        loads |= {"insertion": 1.0, "drilled_joint": float(demands.holes)}
    else:
        loads["placement"] = 1.0
    if demands.joints_hidden:
        loads["xray"] = 1.0
    loads |= {"rework": demands.defects_seen, "rework_hidden": demands.defects_hidden}
    if demands.step_zone or demands.better_foil:
        loads["foil"] = foil_units(rates, run, step_zone=demands.step_zone, better_foil=demands.better_foil)
    return loads


def _rejections(geometry: Geometry, figures: Mapping[str, Figure], hidden: int, bench: Bench) -> list[Rejection]:
    """Every hard limit of body, lands and joints that the option breaks, most basic first."""
    want, line, outline = bench.content.want, bench.line, geometry.outline
    found = []
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
