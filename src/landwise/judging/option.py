"""One package option of one part through all stations: its figures, its cost, and the limits it breaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from landwise.access.inspection import hidden_from
from landwise.costs.board import assembly_loads, part_cost
from landwise.costs.control import control_loads
from landwise.costs.loads import Line
from landwise.evidence.figures import Figure
from landwise.judging import figures_of
from landwise.judging.bench import Bench, Geometry
from landwise.judging.buying import Purchase, asked_of, purchase_of, rejections_of, stated_limits, told_unpriced
from landwise.judging.controlled import controlled
from landwise.judging.fieldcost import failed_step
from landwise.judging.limits import LimitKey
from landwise.judging.money import cost_figure, paid_area
from landwise.judging.results import OptionResult, Rejection
from landwise.judging.wanted import limit_states, state_of
from landwise.outlines import LEADED, Outline, find
from landwise.service.clearance import judge_spacing
from landwise.study.file import OptionTable, PartTable

STATES_LIFE = frozenset({"environment", "cycles", "years", "failures", "profile", "hours"})


def judge_option(outline: Outline, part: PartTable, bench: Bench) -> OptionResult:
    """Judge one package option of one part against the study's limits."""
    purchase = purchase_of(outline, part, _terminals(outline, part, bench), bench)
    if bench.memory is None:
        return _limited(_judged(outline, purchase, part, bench), part, bench)
    judged = bench.recalled(
        ("option", told_unpriced(part, bench), purchase, bench.wishes),
        bench.geometry(outline),
        lambda: _judged(outline, purchase, part, bench),
    )
    return _limited(judged, part, bench)


def _terminals(outline: Outline, part: PartTable, bench: Bench) -> int:
    """Of the function: as stated, else as of the package in use."""
    return part.terminals or (find(part.package, bench.own).terminals if part.package else outline.terminals)


def _limited(option: OptionResult, part: PartTable, bench: Bench) -> OptionResult:
    """The option against limits that no figure of it follows from: moving one needs nothing worked again."""
    content, figures = bench.content, option.figures
    states = limit_states(figures, content.want)
    found = [
        *option.rejections,
        *stated_limits(_stated(option.geometry.outline, part, bench), content),
        *_unmet(option.geometry, figures, bench),
        *_lasting(figures, bench),
        *_apart(option.geometry.outline, figures, bench),
        *(
            Rejection(key, _broken(figures[key], content.want.limits[key]))
            for key, state in states.items()
            if state == "broken"
        ),
    ]
    unshown = tuple(key for key, state in states.items() if state == "not shown")
    if len(found) == len(option.rejections) and not unshown:
        return option
    first: dict[str, Rejection] = {}
    for one in found:
        first.setdefault(one.limit, one)
    return replace(option, rejections=tuple(first.values()), unshown=unshown)


def under_plan(option: OptionResult, bench: Bench) -> OptionResult:
    """The same option as it costs under the bench's plan of inspection and test."""
    own = (*option.loads, *control_loads(option.controlled, bench.plan))
    cost = part_cost(own, bench.rates, bench.content.costs.run, option.priced)
    failing = next((load.units for load in option.loads if load.line == Line.FIELD), None)
    field = None if failing is None else (failing, failed_step(option))
    figure = cost_figure(cost, option.geometry, bench, field)
    return replace(
        option,
        cost=cost,
        figures=MappingProxyType({**option.figures, "cost": figure}),
    )


def _judged(outline: Outline, purchase: Purchase, part: PartTable, bench: Bench) -> OptionResult:
    geometry = bench.geometry(outline)
    want, line = bench.content.want, bench.line
    area = geometry.pattern.courtyard_area_mm2 + (geometry.probing.area_mm2 if want.probe_access else 0.0)
    hidden = bench.recalled("hidden", geometry, lambda: hidden_from(outline, line.inspection))
    content = bench.content
    holes, by_hand = outline.terminals if outline.drilled else 0, line.drilled_soldering == "by hand"
    loads = assembly_loads(paid_area(area, content.board), holes, content.board.layers, by_hand=by_hand)
    kept = controlled(geometry)
    own = (*loads, *control_loads(kept, bench.plan))
    cost = part_cost(own, bench.rates, content.costs.run, purchase.price)
    figures = figures_of(geometry, part, cost, hidden, bench)
    return OptionResult(
        geometry=geometry,
        figures=figures,
        cost=cost,
        priced=purchase.price,
        supply=purchase.supply,
        rejections=(
            *_too_small(outline, part, bench),
            *rejections_of(purchase, part, content),
            *_rejections(geometry, figures, hidden, bench),
        ),
        loads=loads,
        controlled=kept,
        area_mm2=area,
        makers=purchase.makers,
        drop_in=purchase.drop_in,
    )


def _too_small(outline: Outline, part: PartTable, bench: Bench) -> list[Rejection]:
    """A package with fewer terminals than the function connects."""
    least = asked_of(part, _terminals(outline, part, bench)).least
    if outline.terminals >= least:
        return []
    says = f"{outline.terminals} terminals, the function connects {least}"
    return [Rejection(LimitKey.TERMINALS, f"{says}; another count: terminals of the part in the study")]


def _stated(outline: Outline, part: PartTable, bench: Bench) -> OptionTable | None:
    """What the study itself says of the part in this package."""
    options = part.options if isinstance(part.options, list) else []
    return next((one for one in options if find(one.outline, bench.own).name == outline.name), None)


def _lasting(figures: Mapping[str, Figure], bench: Bench) -> list[Rejection]:
    """A life that falls short of the years that the study states, or of its place's where it states that.

    What the study leaves open rules nothing out: a life that fails in the place that was assumed is told as a caution.
    """
    use, sure = bench.content.use, bench.content.want.sure
    life = figures.get("life")
    if life is None or life.limit is None or not (use.model_fields_set & STATES_LIFE):
        return []
    state = state_of(life, life.limit, sure)
    if life.verdict != "fails" and (sure is None or state != "broken"):
        return []
    asked = "" if sure is None or life.verdict == "fails" else f" at a confidence of {sure:g}"
    return [Rejection("life", f"{life.title} {life.text()}, wanted {life.limit:g} years{asked}")]


def _apart(outline: Outline, figures: Mapping[str, Figure], bench: Bench) -> list[Rejection]:
    """A gap that the spacing table refuses at the voltage that the study states; an assumed one rules nothing out."""
    gap, use = figures.get("clearance"), bench.content.use
    if gap is None or gap.verdict != "fails" or "voltage" not in use.model_fields_set:
        return []
    says = f"{gap.title} {gap.text()}, wanted {gap.limit:g} mm at {use.voltage:g} V"
    bare = use.coat == "none" and outline.family in LEADED
    coated = judge_spacing(use.voltage, gap.value, coated=True) if gap.value and bare else None
    if coated is not None and coated.verdict != "fails":
        says += f"; under a coat ([use] coat) {coated.wanted_mm:g} mm"
    return [Rejection("clearance", says)]


def _broken(figure: Figure, limit: float | str) -> str:
    """A figure over a limit of the study, in words."""
    held = limit if isinstance(limit, str) else f"{limit:g} {figure.unit}".rstrip()
    return f"{figure.title} {figure.text()}, wanted {'at most' if figure.better == 'less' else 'at least'} {held}"


def _unmet(geometry: Geometry, figures: Mapping[str, Figure], bench: Bench) -> list[Rejection]:
    """What foil, powder and board class must give, and don't."""
    found, um = [], geometry.printed.foil.thickness_um
    thinnest = geometry.window.thinnest_works_um
    if bench.content.want.coplanarity and geometry.printed.apertures and thinnest is not None and um < thinnest:
        says = f"its leads may be more uneven than a {um:g} µm foil makes up for; it wants {thinnest:g} µm"
        found.append(Rejection(LimitKey.FOIL_REACHES, says))
    for key, limit in (("opening", LimitKey.POWDER_PASSES), ("layers", LimitKey.LAYERS)):
        if figures[key].verdict == "fails":
            found.append(Rejection(limit, figures[key].why))
    return found


def _rejections(geometry: Geometry, figures: Mapping[str, Figure], hidden: int, bench: Bench) -> list[Rejection]:
    """Every hard limit of body, lands and joints that the option breaks, most basic first."""
    want, line, outline = bench.content.want, bench.line, geometry.outline
    found = []
    if outline.drilled and not (want.drilled and line.drilled_parts):
        found.append(
            Rejection(
                LimitKey.DRILLED,
                "drilled parts are not wanted" if not want.drilled else "the line does not solder drilled parts",
            )
        )
    for key, limit in (("pitch", LimitKey.LEAST_PITCH), ("height", LimitKey.HEIGHT), ("gap", LimitKey.LAND_GAP)):
        figure = figures[key]
        if figure.verdict == "fails":
            found.append(Rejection(limit, figure.why))
    if geometry.demand.kind in ("thinner foil", "better foil technology", "not printable"):
        found.append(Rejection(LimitKey.FOIL, geometry.demand.says))
    if want.max_area is not None and geometry.pattern.courtyard_area_mm2 > want.max_area:
        found.append(
            Rejection(
                LimitKey.AREA,
                f"courtyard {geometry.pattern.courtyard_area_mm2:.1f} mm², allowed {want.max_area:g} mm²",
            )
        )
    under_body = geometry.sights.not_at_all + geometry.sights.from_the_side
    if want.hidden_joints == "never" and under_body:
        found.append(
            Rejection(
                LimitKey.HIDDEN_JOINTS,
                f"{under_body} joints can't be seen from above, and the study wants none such",
            )
        )
    elif want.hidden_joints == "as the line sees" and hidden:
        found.append(
            Rejection(
                LimitKey.HIDDEN_JOINTS,
                f"{hidden} of {geometry.sights.joints} joints hidden from {' and '.join(line.inspection)} inspection",
            )
        )
    return found
