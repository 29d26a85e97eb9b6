"""The line assembled: a study file goes in, a judged, ranked and proven choice for every logic part comes out.

This is the one place where the rooms meet. Each stage is a function of its room; this module only passes
results along, keeps what several parts share, and words the outcome.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from landwise.access.escape import Escape, escape
from landwise.access.exposure import Exposure, exposure
from landwise.access.inspection import Sights, hidden_from, sight, sights
from landwise.access.probing import ProbeAccess, probe_access
from landwise.assembly.known import known_rates
from landwise.assembly.lines import Line, preset
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import OwnRate, PartRates, own_rate, part_rates
from landwise.assembly.scatter import Scatter, scatter
from landwise.assembly.yields import board_yield
from landwise.choosing.ranking import Ranking, RankInput, RateRange, rank
from landwise.choosing.values import weights_with
from landwise.costs.board import PartCost, PartDemands, Rate, part_cost, price_at, rates_with
from landwise.errors import InputError, LandwiseError
from landwise.evidence.figures import Figure
from landwise.joints.mounted import BOARD_MM, Mounted, mounted
from landwise.joints.standing import BallStand, ball_stand
from landwise.judging import figures_of
from landwise.lands import LandPattern, LandRules, land_pattern
from landwise.memory import Memory
from landwise.outlines import Outline, find, read_outlines, terminals
from landwise.outlines.choice import Supply, proposals, usual_supply
from landwise.printing import Bridging, Demand, FoilWindow, bridging, foil_window, line_demand, print_part
from landwise.printing.apertures import ApertureRules
from landwise.printing.model import Print
from landwise.studyfile import OptionTable, PartTable, Study, StudyFile, read_text
from landwise.version import __version__

if TYPE_CHECKING:
    from landwise.boardchoice import BoardChoice

MOST_OPTIONS_DRAWN = 60
T = TypeVar("T")
WHOLE_BOARD = {  # wishes that no option is judged by
    "weights",
    "objective",
    "limits",
    "board_limits",
    "packing",
    "most_outlines",
    "least_sources",
    "most_lead_weeks",
    "coplanarity",
}


@dataclass(frozen=True)
class Rejection:
    """Why an option is out: the limit, the margin in words, and the figure that decided."""

    limit: str
    says: str


@dataclass(frozen=True)
class Geometry:
    """All that follows from an outline under a line, whatever the part: shared by every part that uses it."""

    outline: Outline
    pattern: LandPattern
    printed: Print
    window: FoilWindow
    demand: Demand
    bridging: Bridging | None
    sights: Sights
    exposure: Exposure
    probing: ProbeAccess
    escape: Escape | None
    stand: BallStand | None
    rates: PartRates | None = None
    board_mm: float = BOARD_MM

    @cached_property
    def mounted(self) -> Mounted:
        """Its joints after reflow, worked when first asked for."""
        return mounted(self.outline, self.pattern, self.printed, self.stand, board_mm=self.board_mm)


@dataclass(frozen=True)
class OptionResult:
    """One package option of one part, judged.

    `loads` is how many units of each cost rate it uses; `price` is None where not known.
    """

    geometry: Geometry
    figures: Mapping[str, Figure]
    cost: PartCost
    price: float | None
    supply: Supply
    rejections: tuple[Rejection, ...]
    loads: Mapping[str, float]
    area_mm2: float

    @property
    def name(self) -> str:
        """The outline's name."""
        return self.geometry.outline.name

    @property
    def feasible(self) -> bool:
        """Whether no limit is broken."""
        return not self.rejections


@dataclass(frozen=True)
class PartResult:
    """One part: its options judged and ranked, the choice and why.

    `options` are in rank order, rejected ones last; `present` is the package in use, `chosen` the
    recommendation (the present one for a locked part, None if nothing is feasible). `price_taken` is the
    price taken for options without one, None where no option has a price.
    """

    part: PartTable
    terminals: int
    options: tuple[OptionResult, ...]
    present: OptionResult | None
    chosen: OptionResult | None
    ranking: Ranking | None
    says: str
    runner_up: str
    notes: tuple[str, ...]
    price_taken: float | None = None

    @property
    def count(self) -> int:
        """How many of it the board carries."""
        return len(self.part.refs)

    @property
    def name(self) -> str:
        """First reference, number and function, for headings."""
        more = f" +{self.count - 1}" if self.count > 1 else ""
        return f"{self.part.refs[0]}{more}"


@dataclass(frozen=True)
class BoardTotals:
    """Sums over the parts whose package today is known. Money in the study's unit.

    `defects` and `hidden_defects` are expected on one board, `first_pass` is the share of boards without any, `dpmo`
    counts parts, placements and joints as opportunities; drilled parts are in none of them. None where nothing is
    printed.
    """

    parts: int
    area_mm2: float
    cost: float
    placements: int
    holes: int
    hidden_joints: int
    outlines: int
    least_pitch_mm: float
    foil_demand: str
    prices_known: bool
    defects: float | None = None
    hidden_defects: float | None = None
    first_pass: float | None = None
    dpmo: float | None = None


@dataclass(frozen=True)
class StudyResult:
    """A whole study's outcome."""

    study: Study
    line: Line
    rates: Mapping[str, Rate]
    weights: Mapping[str, float]
    parts: tuple[PartResult, ...]
    before: BoardTotals | None
    after: BoardTotals | None
    notes: tuple[str, ...]
    version: str = __version__
    choice: BoardChoice | None = None

    @property
    def content(self) -> StudyFile:
        """The study file's content."""
        return self.study.content

    def wins(self, part: PartResult) -> float | None:
        """How often a part's choice wins: share of draws of the whole board, or of all weightings of the part alone."""
        if part.chosen is None:
            return None
        if self.choice is not None:
            return self.choice.won(part.part.refs[0], part.chosen.name)
        return part.ranking.support.get(part.chosen.name) if part.ranking else None

    def part(self, reference: str) -> PartResult:
        """The part that sits at a reference.

        Raises
        ------
        InputError
        """
        for result in self.parts:
            if reference in result.part.refs:
                return result
        raise InputError(
            "no such reference in the study",
            found=reference,
            expected=", ".join(p.part.refs[0] for p in self.parts[:8]),
        )


def line_of(content: StudyFile) -> Line:
    """The study's line: its preset with whatever the study states."""
    table = content.line
    line = preset(table.preset)
    stated: dict[str, object] = {
        "foils_um": tuple(sorted(table.foils)) if table.foils else None,
        "foil_um": table.foil,
        "technology": table.technology,
        "powder": table.powder,
        "steps_allowed": table.steps_allowed,
        "least_pitch_mm": table.least_pitch,
        "least_ball_pitch_mm": table.least_ball_pitch,
        "inspection": tuple(table.inspection) if table.inspection is not None else None,
        "drilled_parts": table.drilled_parts,
        "print_offset_mm": table.print_offset,
        "placement_offset_mm": table.placement_offset,
    }
    given = {name: value for name, value in stated.items() if value is not None}
    if "foils_um" in given and "foil_um" not in given and line.foil_um not in (table.foils or []):
        # The preset's foil is not on hand: work with the nearest that is.
        given["foil_um"] = min(table.foils or [], key=lambda um: abs(um - line.foil_um))
    return replace(line, **given)  # type: ignore[arg-type]


def scatter_of(line: Line, content: StudyFile) -> Scatter:
    """What scatters on a line, with the study's own terms."""
    return scatter(line.print_offset_mm, line.placement_offset_mm, content.line.scatter)


@dataclass
class Bench:
    """Everything a study holds constant, with the geometry of each outline worked once."""

    content: StudyFile
    line: Line
    rates: Mapping[str, Rate]
    weights: Mapping[str, float]
    own: tuple[Outline, ...] = ()
    land_rules: LandRules = field(default_factory=LandRules)
    aperture_rules: ApertureRules = field(default_factory=ApertureRules)
    _worked: dict[str, Geometry] = field(default_factory=dict)
    _laid: dict[str, LandPattern] = field(default_factory=dict)  # lands follow from the outline, whatever the foil

    memory: Memory | None = None
    _told: dict[int, tuple[PartTable, str]] = field(default_factory=dict)

    @classmethod
    def of(cls, study: Study, memory: Memory | None = None) -> Bench:
        """Set up from a study; with a memory, what was worked before is taken from it."""
        content = study.content
        own: list[Outline] = []
        for name in content.outlines:
            path = _inside(study.folder, name, study.file)
            own += read_outlines(read_text(path, 2_000_000), file=name)
        made = cls(
            content,
            line_of(content),
            rates_with(content.costs.rates),
            weights_with(content.want.weights),
            tuple(own),
            aperture_rules=ApertureRules(reduction_mm=content.line.reduction / 1000, board_mm=content.board.thickness),
            memory=None if own else memory,  # own outlines may change under the same name
        )
        return made.remembering()

    def remembering(self) -> Bench:
        """The same bench with the memory's geometry of its print."""
        if self.memory is not None:
            self._worked, self._laid = self.memory.shelf(self._print_key), self.memory.shelf("lands")
        return self

    @property
    def _print_key(self) -> Hashable:
        """All that geometry follows from."""
        line, board = self.line, self.content.board
        return (
            line.foils_um,
            line.foil_um,
            line.technology,
            line.powder,
            line.steps_allowed,
            line.print_offset_mm,
            line.placement_offset_mm,
            board.track,
            board.space,
            self.aperture_rules,
            self.land_rules,
            self.scatter.terms,
            self.own_rates,
        )

    @cached_property
    def _key(self) -> Hashable:
        """All that figures follow from but geometry, part and the study's wishes."""
        told = self.content.model_dump_json(exclude={"part": True, "want": True, "outlines": True, "board": {"name"}})
        return told, self.line, tuple(self.rates.items())

    @cached_property
    def wishes(self) -> Hashable:
        """All of the study's wishes that one option is judged by; the others concern the whole board, or the order."""
        return self.content.want.model_dump_json(exclude=WHOLE_BOARD)

    def told(self, part: PartTable) -> str:
        """A part as a key."""
        known = self._told.get(id(part))
        if known is None or known[0] is not part:
            known = self._told[id(part)] = (part, part.model_dump_json())
        return known[1]

    def recalled(self, key: Hashable, held: object, make: Callable[[], T]) -> T:
        """What the memory holds for a key under this bench, or what is made now."""
        return make() if self.memory is None else self.memory.recalled((key, self._key), held, make)

    def geometry(self, outline: Outline) -> Geometry:
        """Lands, print, access of an outline under this line."""
        if outline.name not in self._worked:
            self._worked[outline.name] = self._work(outline)
        return self._worked[outline.name]

    def _work(self, outline: Outline) -> Geometry:
        line, rules = self.line, self.aperture_rules
        if outline.name not in self._laid:
            self._laid[outline.name] = land_pattern(outline, rules=self.land_rules)
        pattern = self._laid[outline.name]
        printed = print_part(pattern, line.foil, line.powder, rules=rules, outline=outline)
        stand = ball_stand(outline, pattern, printed)
        return Geometry(
            outline=outline,
            pattern=pattern,
            printed=printed,
            window=foil_window(pattern, line.foils_um, line.technology, line.powder, rules=rules, outline=outline),
            demand=line_demand(
                pattern,
                line.foil,
                line.powder,
                line.foils_um,
                steps_allowed=line.steps_allowed,
                rules=rules,
                outline=outline,
            ),
            bridging=bridging(printed),
            sights=sights(outline),
            exposure=exposure(outline, pattern),
            probing=probe_access(outline, pattern),
            escape=escape(outline, pattern, self.content.board.track, self.content.board.space),
            stand=stand,
            rates=self._rates(outline, pattern, printed, stand),
            board_mm=rules.board_mm,
        )

    def _rates(
        self, outline: Outline, pattern: LandPattern, printed: Print, stand: BallStand | None
    ) -> PartRates | None:
        own, height = own_rate(outline, self.own_rates), stand.height_mm if stand else None

        def work() -> PartRates | None:
            hidden = [one.number for one in terminals(outline) if sight(outline, one) != "from above"]
            model = part_model(outline, pattern, printed, self.scatter, stand_mm=height, hidden=hidden)
            return part_rates(model, own) if model else None

        rules = (self.land_rules, self.aperture_rules)
        return known_rates(work, outline, rules, printed.foil, printed.powder, height, self.scatter, own)

    @cached_property
    def scatter(self) -> Scatter:
        """What scatters on this line, with the study's own terms."""
        return scatter_of(self.line, self.content)

    @cached_property
    def own_rates(self) -> tuple[OwnRate, ...]:
        """The study's own defect rates."""
        return tuple(
            OwnRate(
                row.family,
                row.bridge,
                row.open,
                row.least_pitch,
                math.inf if row.most_pitch is None else row.most_pitch,
            )
            for row in self.content.line.rates
        )

    @cached_property
    def rate_ranges(self) -> Mapping[str, RateRange]:
        """Cost rates with their ranges, with the board's layer factor folded into the area's rate."""
        above = max(0, self.content.board.layers - 2)
        extra = self.rates["layer_factor"]
        found = {name: RateRange(r.value, r.low, r.high) for name, r in self.rates.items() if name != "layer_factor"}
        area = found["board_area"]
        found["board_area"] = RateRange(
            area.value * (1 + extra.value * above),
            area.low * (1 + extra.low * above),
            area.high * (1 + extra.high * above),
        )
        return MappingProxyType(found)


def _inside(folder: Path, name: str, file: str) -> Path:
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise InputError(
            "outlines must lie beside the study",
            file=file,
            place="outlines",
            found=name,
            expected="a file in the study's folder",
        )
    return path


def run_study(
    study: Study, *, progress: Callable[[int, int, str], None] | None = None, bench: Bench | None = None
) -> StudyResult:
    """Judge every option of every part, rank them, and total the board before and after.

    Parameters
    ----------
    study : Study
        From `read_study` or `study_from`.
    progress : callable, optional
        Called with (parts done, parts in all, part's name).
    bench : Bench, optional
        Of the same study, by a caller that keeps what was worked before; a new one otherwise.

    Raises
    ------
    LandwiseError
        For anything in the study that can't be worked, naming the part.

    Examples
    --------
    >>> from landwise.studyfile import study_from
    >>> study = study_from({"part": [{"refs": ["U1"], "function": "quad 2-input NAND gate", "terminals": 14,
    ...                                "family": "HC", "package": "SO-14"}]})
    >>> result = run_study(study)
    >>> result.parts[0].present.name
    'SO-14'
    """
    content = study.content
    if not content.part:
        raise InputError("the study has no parts", file=study.file, expected="at least one [[part]]")
    try:
        bench = bench or Bench.of(study)
    except LandwiseError as error:
        raise error.within(file=study.file) from None
    results = []
    for number, part in enumerate(content.part):
        if progress:
            progress(number, len(content.part), part.refs[0])
        try:
            results.append(judge_part(part, bench))
        except LandwiseError as error:
            raise error.within(file=study.file, place=f"part {part.refs[0]}") from None
    if progress:
        progress(len(content.part), len(content.part), "")
    known = [
        result for result in results if result.present is not None and result.chosen is not None and result.part.fitted
    ]
    before = totals([(r.present, r.count, r.price_taken) for r in known if r.present], bench) if known else None
    after = totals([(r.chosen, r.count, r.price_taken) for r in known if r.chosen], bench) if known else None
    return StudyResult(
        study, bench.line, bench.rates, bench.weights, tuple(results), before, after, _notes(results, bench)
    )


def judge_part(part: PartTable, bench: Bench) -> PartResult:
    """Judge and rank the options of one part."""
    present_outline = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present_outline.terminals if present_outline else None)
    if terminals is None:
        raise InputError("it is not known how many terminals the part has", expected="terminals, or the package in use")
    offered = _offered(part, terminals, present_outline, bench)
    prices = {name: price for name, price in offered.items() if price is not None}
    judged = [judge_option(find(name, bench.own), offered[name], part, bench) for name in offered]
    present = next((option for option in judged if present_outline and option.name == present_outline.name), None)
    feasible = [option for option in judged if option.feasible]
    notes: list[str] = []
    ranking = None
    taken = _price_taken(prices, present, notes, judged)
    if feasible:
        inputs = [_rank_input(option, taken) for option in feasible]
        ranking = bench.recalled(
            ("rank", *map(repr, inputs), *bench.weights.items()),
            None,
            lambda: rank(inputs, bench.weights, bench.rate_ranges),
        )
        by_name = {option.name: option for option in feasible}
        feasible = [by_name[name] for name in ranking.order]
    rejected = sorted((option for option in judged if not option.feasible), key=lambda option: option.area_mm2)
    chosen = present if part.locked and present else (feasible[0] if feasible else None)
    says, runner_up = _sentences(part, chosen, present, feasible, ranking, rejected)
    return PartResult(
        part,
        terminals,
        (*feasible, *rejected),
        present,
        chosen,
        ranking,
        says,
        runner_up,
        tuple(dict.fromkeys(notes)),
        taken,
    )


def _offered(part: PartTable, terminals: int, present: Outline | None, bench: Bench) -> dict[str, float | None]:
    """Outline names with prices: the study's own list, or the catalogue's proposals; the present one always."""
    run = bench.content.costs.run
    offered: dict[str, float | None] = {}
    if isinstance(part.options, list):
        for option in part.options:
            outline = find(option.outline, bench.own)
            offered[outline.name] = _price(option, run)
    else:
        offered = dict.fromkeys((outline.name for outline in proposals(terminals, bench.own)), None)
    if present is not None and offered.get(present.name) is None:
        offered[present.name] = part.price
    if not offered:
        raise InputError(
            "no outline of the catalogue has so many terminals",
            found=str(terminals),
            expected="options in the study, or your own outlines",
        )
    return offered


def _price(option: OptionTable, run: int) -> float | None:
    if not option.prices:
        return option.price
    if not all(start.isdigit() for start in option.prices):
        raise InputError(
            "a price break is not a quantity",
            place=option.outline,
            found=", ".join(option.prices),
            expected='prices = { "1" = 0.20, "1000" = 0.08 }',
        )
    try:
        return price_at({int(start): price for start, price in option.prices.items()}, run)
    except LandwiseError as error:
        raise error.within(place=option.outline) from None


def judge_option(outline: Outline, price: float | None, part: PartTable, bench: Bench) -> OptionResult:
    """Judge one package option of one part against the study's limits."""
    if bench.memory is None:
        return _judged(outline, price, part, bench)
    return bench.recalled(
        ("option", bench.told(part), price, bench.wishes),
        bench.geometry(outline),
        lambda: _judged(outline, price, part, bench),
    )


def _judged(outline: Outline, price: float | None, part: PartTable, bench: Bench) -> OptionResult:
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
    cost = part_cost(demands, bench.rates, layers=content.board.layers, run=content.costs.run, price=price)
    supply = _supply(part, outline)
    figures = figures_of(geometry, part, cost, area, hidden, bench)
    return OptionResult(
        geometry=geometry,
        figures=figures,
        cost=cost,
        price=price,
        supply=supply,
        rejections=tuple(_rejections(geometry, figures, hidden, supply, part, bench)),
        loads=_loads(demands, content.costs.run, bench.rates),
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
        share = rates["step_zone"].value * demands.step_zone + rates["better_foil"].value * demands.better_foil
        loads["foil"] = share / run
    return loads


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


def _price_taken(
    prices: Mapping[str, float], present: OptionResult | None, notes: list[str], judged: Sequence[OptionResult]
) -> float | None:
    """What options without a price are taken to cost: as much as the part in use, or the lowest price given."""
    if not prices:
        notes.append("no prices are known: the ranking leaves part prices out, as if all packages cost the same")
        return None
    taken = present.price if present and present.price is not None else min(prices.values())
    if any(option.price is None for option in judged):
        whose = "of the part in use" if present and present.price is not None else "lowest given"
        notes.append(f"options without a price are taken to cost {taken:g}, the price {whose}")
    return taken


def _rank_input(option: OptionResult, taken: float | None) -> RankInput:
    price = option.price if option.price is not None else taken
    # Where nothing is printed there is nothing to starve: a drilled part's release is complete.
    deposits = option.geometry.printed.deposits
    weakest = min((d.transfer for d in deposits), key=lambda t: t.mean) if deposits else None
    figures = {key: option.figures[key].value or 0.0 for key in ("area", "gap", "seen", "reach")}
    figures["transfer"] = weakest.mean if weakest else 1.0
    # What the methods don't cover (drilled joints) is not held against an option: the best value there is.
    for key in ("test-life", "push"):
        known = option.figures[key].value
        figures[key] = 1e9 if known is None else known
    return RankInput(
        option.name,
        figures,
        weakest.low if weakest else 1.0,
        weakest.high if weakest else 1.0,
        price or 0.0,
        option.loads,
    )


def _sentences(
    part: PartTable,
    chosen: OptionResult | None,
    present: OptionResult | None,
    feasible: Sequence[OptionResult],
    ranking: Ranking | None,
    rejected: Sequence[OptionResult],
) -> tuple[str, str]:
    if chosen is None or ranking is None:
        nearest = min(rejected, key=lambda option: len(option.rejections), default=None)
        if nearest is None:
            return "no option is known", ""
        reasons = "; ".join(r.says for r in nearest.rejections)
        return f"nothing fits the study's limits; {nearest.name} comes nearest: {reasons}", ""
    return _choice_sentence(part, chosen, present, ranking), _runner_up_sentence(chosen, feasible, ranking)


def _choice_sentence(part: PartTable, chosen: OptionResult, present: OptionResult | None, ranking: Ranking) -> str:
    bits = []
    if present and present.name != chosen.name:
        saved = present.area_mm2 - chosen.area_mm2
        bits.append(
            f"{abs(saved):.1f} mm² {'less' if saved >= 0 else 'more'} board than the {present.name} in use"
            f" ({abs(saved) / present.area_mm2:.0%})"
        )
    elif present:
        bits.append("already in use" + (", locked" if part.locked else ""))
    figure = chosen.figures["transfer"]
    if figure.value is not None:
        bits.append(f"paste transfers {figure.value:.0%} on the worst land ({figure.verdict})")
    else:
        bits.append("drilled, nothing is printed")
    bits.append(f"{chosen.geometry.sights.why}")
    if chosen.name in ranking.support:
        bits.append(f"first in {ranking.support[chosen.name]:.0%} of all weightings")
    return f"{chosen.name}: " + "; ".join(bits)


def _runner_up_sentence(chosen: OptionResult, feasible: Sequence[OptionResult], ranking: Ranking) -> str:
    others = [option for option in feasible if option.name != chosen.name]
    if not others:
        return "no other option fits the limits"
    second = others[0]
    gap = ranking.score.get(chosen.name, 0.0) - ranking.score[second.name]
    text = f"{second.name} comes {abs(gap):.3f} {'behind' if gap >= 0 else 'ahead'} in value"
    change = ranking.break_even.get(second.name)
    if change is not None and change < 0:
        text += f"; it would win if it cost {-change:.3f} less"
    elif second.name in ranking.dominated_by:
        text += f"; {ranking.dominated_by[second.name]} is at least as good in everything"
    return text


def totals(options: Sequence[tuple[OptionResult, int, float | None]], bench: Bench) -> BoardTotals:
    """Board sums; what the whole board shares (X-ray, a better or stepped foil) is counted once."""
    shared = {"X-ray of the board", "stepped foil", "better foil"}
    cost = 0.0
    once: dict[str, float] = {}
    for option, count, taken in options:
        if not option.cost.price_known and taken is not None:
            cost += taken * count
        for item in option.cost.items:
            if item.title in shared:
                once[item.title] = max(once.get(item.title, 0.0), item.value)
            else:
                cost += item.value * count
    demands = {
        option.geometry.demand.kind: option.geometry.demand.says
        for option, _, _ in options
        if option.geometry.demand.kind != "none"
    }
    board = board_yield([(option.geometry.rates, count) for option, count, _ in options if option.geometry.rates])
    return BoardTotals(
        parts=sum(count for _, count, _ in options),
        area_mm2=sum(option.area_mm2 * count for option, count, _ in options),
        cost=cost + sum(once.values()),
        placements=sum(count for option, count, _ in options if not option.geometry.outline.drilled),
        holes=sum(
            option.geometry.outline.terminals * count for option, count, _ in options if option.geometry.outline.drilled
        ),
        hidden_joints=sum(option.geometry.sights.not_at_all * count for option, count, _ in options),
        outlines=len({option.name for option, _, _ in options}),
        least_pitch_mm=min(option.geometry.outline.pitch_mm for option, _, _ in options),
        foil_demand="; ".join(demands.values()) or f"none: the {bench.line.foil_um:g} µm foil serves",
        prices_known=all(option.cost.price_known or taken is not None for option, _, taken in options),
        defects=board.defects.value if board else None,
        hidden_defects=board.hidden if board else None,
        first_pass=board.first_pass.value if board else None,
        dpmo=board.dpmo.value if board else None,
    )


def _notes(results: Sequence[PartResult], bench: Bench) -> tuple[str, ...]:
    notes = []
    unknown = [result.part.refs[0] for result in results if result.present is None]
    if unknown:
        notes.append(f"the package in use is not known for {', '.join(unknown)}: left out of the board totals")
    stuck = [result.part.refs[0] for result in results if result.chosen is None]
    if stuck:
        notes.append(f"no option fits the limits for {', '.join(stuck)}")
    assumed = [name for name, rate in bench.rates.items() if rate.assumed]
    if assumed:
        notes.append(
            f"{len(assumed)} cost rates are assumptions of ours ({', '.join(assumed)}): put your own into [costs.rates]"
        )
    changed = {
        result.chosen.name
        for result in results
        if result.chosen and result.present and result.chosen.name != result.present.name
    }
    if changed:
        notes.append(
            "each part is chosen alone under the line as given; parts that share a step or a better foil are not yet"
            " chosen together"
        )
    return tuple(notes)
