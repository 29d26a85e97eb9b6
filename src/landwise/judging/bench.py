"""Everything a study holds constant while its options are judged, with each outline's geometry worked once.

Longer than other modules: a bench is one class, whose fields every station reads, and the order in which it fills them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

from landwise.access.escape import Escape, escape
from landwise.access.exposure import Exposure, exposure
from landwise.access.inspection import Sights, sights
from landwise.access.plans import Plan, plans_of
from landwise.access.probing import ProbeAccess, probe_access
from landwise.assembly.heard import heard
from landwise.assembly.knowledge import Knowledge, default_knowledge
from landwise.assembly.levels import Counted
from landwise.assembly.lineprint import LineRelease, as_released, line_release
from landwise.assembly.lines import Line
from landwise.assembly.partrates import OwnRate, PartRates, causes, own_rate
from landwise.assembly.scatter import Scatter
from landwise.choosing.values import weights_with
from landwise.content import mark_of
from landwise.costs.offers import Offer
from landwise.costs.rates import Rate, rates_with
from landwise.designing import Design, Designer
from landwise.designing import Line as Printer
from landwise.designing.landsearch import LandChoice, lands_and_print
from landwise.designing.why import Reasons, reasons_of
from landwise.errors import InputError
from landwise.evidence.trails import Given, Origin, Step, stated
from landwise.joints.mounted import BOARD_MM, Mounted, mounted
from landwise.joints.standing import BallStand, ball_stand
from landwise.judging.leaves import LINE_FIELDS, board_step, of_line, of_study, study_step, use_step
from landwise.judging.line import counted_from, line_of, scatter_of
from landwise.judging.stations import (
    balls_step,
    bridging_step,
    design_step,
    lands_step,
    mounted_step,
    moved_lands_step,
    print_step,
    rates_step,
    rules_step,
    simulated_rates,
    window_step,
)
from landwise.lands import LandPattern, LandRules, land_pattern
from landwise.memory import Memory, is_known, known, known_with
from landwise.outlines import Outline, find, read_outlines
from landwise.printing import Bridging, Demand, FoilWindow, Stencils, bridging, foil_window, line_demand, print_part
from landwise.printing.apertures import ApertureRules
from landwise.printing.model import Print
from landwise.study.file import PartTable, Study, StudyFile, read_text
from landwise.study.offers import offer_from, read_offer_file
from landwise.untyped import Fields

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
    "regroup_within",
    "choose_for",
}


# What figures don't follow from, or follow from through what is known about buying.
_NOT_IN_KEY: Any = {
    "part": True,
    "regroup": True,
    "scenario": True,
    "want": True,
    "outlines": True,
    "offers": True,
    "offer": True,
    "board": {"name"},
}


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
    design: Design | None = None
    moved: LandChoice | None = None
    printer: Printer | None = None
    rules: ApertureRules = field(default_factory=ApertureRules)
    knowledge: Knowledge | None = field(default=None, repr=False, compare=False)
    stations: Mapping[str, Step] = field(default_factory=dict, repr=False, compare=False)
    leaves: Mapping[str, Given] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def mark(self) -> str:
        """All that can be drawn of it, as a short mark; it stays with what is kept of a board."""
        return mark_of(self.outline, replace(self.pattern, trail=()), self.printed, self.stand, self.board_mm)

    @cached_property
    def mounted(self) -> Mounted:
        """Its joints after reflow, worked when first asked for."""
        return mounted(self.outline, self.pattern, self.printed, self.stand, board_mm=self.board_mm)

    @cached_property
    def reasons(self) -> Reasons | None:
        """What binds its designed print, what stands beside it and what a micrometre buys; None without a design."""
        design, printer, pattern = self.design, self.printer, self.pattern
        if design is None or printer is None or design.margins is None:
            return None
        return known(
            lambda: reasons_of(Designer(self.outline, pattern, printer, self.rules), design),
            "reasons of a print",
            self.outline,
            (pattern.style, pattern.level, pattern.lands),
            design.foil,
            design.changes,
            printer,
            self.rules,
        )

    @cached_property
    def joints(self) -> Step:
        """The station of its joints."""
        at = self.stations
        return mounted_step(self.outline, at["lands"], at["print"], at["balls"], self.leaves["board_mm"], self.mounted)


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
    stated_plan: Plan | None = None
    offers: tuple[Offer, ...] = ()
    today: date | None = None
    # whatever is made once for a part, by the name of who makes it
    _once: dict[tuple[str, int], tuple[PartTable, Any]] = field(default_factory=dict)
    foils_um: tuple[float, ...] = ()  # that prints will be asked for on besides its own: they are designed together

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
            rates_with(content.costs.rates, content.costs.rate_factor),
            weights_with(content.want.weights),
            tuple(own),
            aperture_rules=ApertureRules(reduction_mm=content.line.reduction / 1000, board_mm=content.board.thickness),
            memory=None if own else memory,  # own outlines may change under the same name
            offers=_offers(study, own),
            today=datetime.now().astimezone().date(),
        )
        if content.board.design == "lands" and not made.designs:
            raise InputError(
                "lands are designed with their print, and no print is designed",
                file=study.file,
                place="board.design",
                found='line.print "as lands", or a reduction',
                expected='line.print "designed" without a reduction',
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
            # The same value stated and by default end different trails.
            tuple(sorted(self.content.line.model_fields_set)),
            tuple(sorted(board.model_fields_set & {"thickness", "track", "space"})),
            self.content.line.preset,
            self.aperture_rules,
            self.designs,
            self._lands_stay,
            self.land_rules,
            self.scatter,
            self.own_rates,
            self.counts,
        )

    @cached_property
    def _key(self) -> Hashable:
        """All that figures follow from but geometry, part and the study's wishes."""
        told = self.content.model_dump_json(exclude=_NOT_IN_KEY)
        stated = self.content.model_dump_json(exclude=_NOT_IN_KEY, exclude_unset=True)
        return told, stated, self.line, self.stated_plan, self.plan, tuple(self.rates.items()), self._heat_key

    @property
    def _heat_key(self) -> Hashable:
        """What of the other parts warms a part, and whether its voltage was stated or is the default."""
        fields = {"refs", "package", "power", "frequency", "family", "function", "supply", "cpd", "outputs", "load"}
        warm = tuple(
            part.model_dump_json(include=fields | {"terminals", "fitted", "at"})
            for part in self.content.part
            if part.power is not None or part.frequency is not None
        )
        return warm, "voltage" in self.content.use.model_fields_set

    @cached_property
    def plan(self) -> Plan:
        """How its joints are controlled: as stated, or all that the line can do, with X-ray of a sample."""
        if self.stated_plan is not None:
            return self.stated_plan
        plans = plans_of(self.line.inspection, self.content.line.test)
        return max(plans, key=lambda plan: (len(plan.steps), -plan.xray_share))

    @cached_property
    def wishes(self) -> Hashable:
        """All of the study's wishes that one option is judged by; the others concern the whole board, or the order."""
        want = self.content.want
        return want.model_dump_json(exclude=WHOLE_BOARD), want.model_dump_json(exclude=WHOLE_BOARD, exclude_unset=True)

    def once(self, what: str, part: PartTable, make: Callable[[], T]) -> T:
        """Something that follows from a part under this study alone, worked when first asked for."""
        held = self._once.get((what, id(part)))
        if held is None or held[0] is not part:
            held = self._once[what, id(part)] = (part, make())
        return cast("T", held[1])

    def lands(self, outline: Outline) -> LandPattern:
        """An outline's default lands, laid once."""
        if outline.name not in self._laid:
            self._laid[outline.name] = land_pattern(outline, rules=self.land_rules)
        return self._laid[outline.name]

    def recalled(self, key: Hashable, held: object, make: Callable[[], T]) -> T:
        """What the memory holds for a key under this bench, or what is made now."""
        return make() if self.memory is None else self.memory.recalled((key, self._key), held, make)

    def geometry(self, outline: Outline) -> Geometry:
        """Lands, print, access of an outline under this line."""
        if outline.name not in self._worked:
            self._worked[outline.name] = self._work(outline)
        return self._worked[outline.name]

    @cached_property
    def leaves(self) -> Mapping[str, Given]:
        """What the line and the board give to the stations, each with its origin."""
        content, own = self.content, line_of(self.content)
        found = {name: of_line(self.line, content, own, name) for name in LINE_FIELDS}
        rules = self.aperture_rules
        found["reduction_mm"] = of_study(content, "line.reduction", "mm", rules.reduction_mm)
        found["board_mm"] = of_study(content, "board.thickness", "mm", rules.board_mm)
        found["track_mm"] = of_study(content, "board.track", "mm")
        found["space_mm"] = of_study(content, "board.space", "mm")
        return MappingProxyType(found)

    @cached_property
    def board_step(self) -> Step:
        """The board's table as a step that trails go back to."""
        return board_step(self.content)

    @cached_property
    def use_step(self) -> Step:
        """The same of the product's life."""
        return use_step(self.content)

    @cached_property
    def study_step(self) -> Step:
        """Board, use and parts together."""
        return study_step(self.content, self.board_step, self.use_step)

    def _work(self, outline: Outline) -> Geometry:
        line, rules, leaves = self.line, self.aperture_rules, self.leaves
        moved, pattern, design, printed, stand, rates = self.printed(outline)
        openings = design.openings if design is not None and design.designed else None
        release = self.release
        window = foil_window(
            pattern,
            line.foils_um,
            line.technology,
            line.powder,
            rules=rules,
            outline=outline,
            openings=openings,
            release=release,
        )
        side = bridging(printed)
        at = {"rules": rules_step(rules, leaves)}
        if moved is None:
            at["lands"] = lands_step(outline, self.land_rules, pattern)
        else:
            at["lands"] = moved_lands_step(outline, self.land_rules, at["rules"], leaves, self.scatter_given, moved)
        at["design"] = design_step(outline, at["lands"], at["rules"], leaves, self.scatter_given, design)
        at["print"] = print_step(outline, at, leaves, printed)
        at["foils"] = window_step(outline, at, leaves, window, self.release_given)
        at["neighbours"] = bridging_step(at["print"], side)
        at["balls"] = balls_step(outline, at["lands"], at["print"], stand)
        told = {"scatter": self.scatter_given, "own": self._own_given(outline)}
        if self.knowledge is not None:
            told["knowledge"] = stated(self.knowledge, "line.counts")
        at["defects"] = rates_step(outline, at, told, rates)
        return Geometry(
            outline=outline,
            pattern=pattern,
            printed=as_released(printed, release),
            window=window,
            demand=line_demand(
                pattern,
                Stencils(line.foil, line.powder, line.foils_um, line.steps_allowed, release=release),
                rules=rules,
                outline=outline,
                openings=openings,
            ),
            bridging=side,
            sights=sights(outline),
            exposure=exposure(outline, pattern),
            probing=probe_access(outline, pattern),
            escape=escape(outline, pattern, self.content.board.track, self.content.board.space),
            stand=stand,
            rates=rates,
            board_mm=rules.board_mm,
            stations=MappingProxyType(at),
            leaves=leaves,
            design=design,
            moved=moved,
            printer=Printer(self.scatter, line.technology, line.powder) if design is not None else None,
            rules=rules,
            knowledge=self.knowledge,
        )

    def printed(
        self, outline: Outline
    ) -> tuple[LandChoice | None, LandPattern, Design | None, Print, BallStand | None, PartRates | None]:
        """What of an outline's geometry is dear and kept on disk, and what it needs: lands, print, stand, rates."""
        moved, line = self._moved(outline), self.line
        pattern = self.lands(outline) if moved is None else moved.pattern
        design = self._design(outline, pattern) if moved is None else moved.design
        openings = design.openings if design is not None and design.designed else None
        printed = print_part(
            pattern, line.foil, line.powder, rules=self.aperture_rules, outline=outline, openings=openings
        )
        stand = ball_stand(outline, pattern, printed)
        return moved, pattern, design, printed, stand, self._rates(outline, pattern, printed, stand)

    @property
    def designs(self) -> bool:
        """Whether openings are designed; a stated reduction is the assembler's own print."""
        return self.content.line.print == "designed" and not self.aperture_rules.reduction_mm

    @cached_property
    def _lands_stay(self) -> frozenset[str] | None:
        """Outlines whose lands stay where lands are designed: those that an existing board has; None for all."""
        board = self.content.board
        if board.design != "lands" or not self.designs:
            return None
        present = [part.package for part in self.content.part if part.package and board.state == "existing"]
        return frozenset(find(name, self.own).name for name in present)

    def _moved(self, outline: Outline) -> LandChoice | None:
        """The lands that are designed with the print; None where they are not asked for."""
        if not self._moves(outline):
            return None
        line, rules = self.line, self.aperture_rules
        printer = Printer(self.scatter, line.technology, line.powder)
        return known(
            lambda: lands_and_print(outline, printer, line.foil_um, rules=rules, land_rules=self.land_rules),
            *self._content_of("lands and print", outline),
        )

    def _moves(self, outline: Outline) -> bool:
        """Whether the outline's lands are designed with its print."""
        return self._lands_stay is not None and outline.name not in self._lands_stay

    def _design(self, outline: Outline, pattern: LandPattern) -> Design | None:
        if not self.designs:
            return None
        line, own = self.line, self.line.foil_um
        foils_um = [own, *(um for um in self.foils_um if um != own)]
        designer = Designer(outline, pattern, Printer(self.scatter, line.technology, line.powder), self.aperture_rules)
        return known_with(
            lambda asked: designer.designs([foils_um[k] for k in asked]),
            *(self._content_of("design", outline, um) for um in foils_um),
        )

    def _content_of(self, what: str, outline: Outline, foil_um: float | None = None) -> tuple[object, ...]:
        """All that a design follows from, on its own foil or another."""
        line = self.line
        printer = Printer(self.scatter, line.technology, line.powder)
        on = line.foil_um if foil_um is None else foil_um
        return what, outline, (self.land_rules, self.aperture_rules), on, printer

    def design_known(self, outline: Outline) -> bool:
        """Whether nothing of an outline's print is left to be designed: it was, or it is drawn from the lands."""
        what = "lands and print" if self._moves(outline) else "design"
        return not self.designs or is_known(*self._content_of(what, outline))

    @property
    def release(self) -> LineRelease | None:
        """What the line measured of its own release."""
        return line_release(self.scatter)

    @property
    def release_given(self) -> Given | None:
        """The same as a trail tells it; None where nothing was measured."""
        return None if self.release is None else stated(self.release, "line.spread")

    @cached_property
    def scatter_given(self) -> Given:
        """What scatters: the line's offsets and the terms, each with its own source."""
        sources = dict.fromkeys(term.source for term in self.scatter.terms)
        return Given(
            value=self.scatter,
            origin=Origin.STATED if self.content.line.scatter else Origin.DEFAULT,
            place="line.scatter",
            reason="the shipped terms, each with its reason in `landwise defaults`",
            sources=tuple(sources),
        )

    def _own_given(self, outline: Outline) -> Given:
        """The study's own defect rate of the outline's family, if it states one."""
        if self.own_rates:
            return stated(own_rate(outline, self.own_rates), "line.rates")
        return replace(of_study(self.content, "line.rates"), value=None)

    def _rates(
        self, outline: Outline, pattern: LandPattern, printed: Print, stand: BallStand | None
    ) -> PartRates | None:
        own = own_rate(outline, self.own_rates)
        rules = (self.land_rules, self.aperture_rules, self.designs, pattern.style, pattern.level, pattern.lands)
        return known(
            lambda: simulated_rates(outline, pattern, printed, stand, self.scatter, own, self.knowledge),
            outline,
            rules,
            printed.foil,
            printed.powder,
            stand.height_mm if stand else None,
            self.scatter,
            own,
            self.knowledge.key if self.knowledge is not None else "shipped",
        )

    @cached_property
    def counts(self) -> tuple[Counted, ...]:
        """Defects that the study says its line counted, by package."""
        return tuple(counted_from(row, self.own) for row in self.content.line.counts)

    @cached_property
    def knowledge(self) -> Knowledge | None:
        """The draws of what is known after the study's own counts; None where it has none."""
        if not self.counts:
            return None
        before = self.content.line.model_copy(update={"counts": [], "rates": []})
        fresh: Fields = {"_worked": {}, "_once": {}, "memory": None}
        bench = replace(self, content=self.content.model_copy(update={"line": before}), **fresh)
        expected = []
        for one in self.counts:
            rates = bench.geometry(find(one.package, self.own)).rates
            if rates is None:
                raise InputError("nothing of it is printed", place="line, counts", found=one.package)
            modelled, other = causes(rates)[one.kind]
            expected.append((one, modelled + other))
        return heard(default_knowledge(), "shipped, and the line's own counts", expected)

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


def _offers(study: Study, own: Sequence[Outline]) -> tuple[Offer, ...]:
    """The study's own offers first, then those of the files that it names."""
    found = [offer_from(table, own) for table in study.content.offer]
    for name in study.content.offers:
        found += read_offer_file(_inside(study.folder, name, study.file), own)
    return tuple(found)


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
