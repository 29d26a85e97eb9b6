"""Every option under every shared decision: judged once under each print and each inspection it could get."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from landwise.access.plans import Plan
from landwise.board.model import (
    NOTHING_TO_CHOOSE,
    Decision,
    board_bench,
    content_with,
    decisions_of,
    foils_of,
    line_with,
)
from landwise.board.workers import Helpers
from landwise.costs.rates import Rate
from landwise.errors import InputError, LandwiseError
from landwise.evidence.figures import worst
from landwise.judging.bench import Bench, Geometry
from landwise.judging.fieldcost import with_field
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.memory import Memory
from landwise.outlines import Outline
from landwise.printing.foils import foil_window
from landwise.printing.model import Powder, Technology
from landwise.study.file import BoardClass, PartTable

WORTH = 4000  # judgements below which starting processes takes longer than it saves

Tell = Callable[[int, int, str], None]
# Outline, first reference, foil, technology, powder, inspection and board of a judgement.
Key = tuple[str, str, float, Technology, Powder, tuple[str, ...], BoardClass]
Place = tuple[int, int, int]  # shared decision, part, option


@dataclass(frozen=True)
class Judgement:
    """One option under one shared decision.

    Parameters
    ----------
    option : OptionResult
        As it would be printed and seen.
    foil_um : float or None
        The foil over it; None where nothing on hand prints it, and the option is then judged under the board's foil.
    step_um : float
        How deep its step is; 0 where it needs none. [µm]
    """

    option: OptionResult
    foil_um: float | None
    step_um: float


@dataclass(frozen=True)
class Setups:
    """A study's line under every shared decision, with what was worked on each kept for the next option.

    Parameters
    ----------
    bench : Bench
        Today's.
    decisions : tuple of Decision
        The first is today's.
    parts : tuple of PartResult
        The parts that are chosen together.
    today : tuple of PartResult
        The parts as they are grouped today.
    """

    bench: Bench
    decisions: tuple[Decision, ...]
    parts: tuple[PartResult, ...]
    today: tuple[PartResult, ...]
    _benches: dict[tuple[object, ...], Bench] = field(default_factory=dict, repr=False)
    _worked: dict[tuple[object, ...], dict[str, Geometry]] = field(default_factory=dict, repr=False)
    _options: dict[Key, OptionResult] = field(default_factory=dict, repr=False)
    _prints: dict[tuple[object, ...], bool] = field(default_factory=dict, repr=False)

    @property
    def names(self) -> tuple[tuple[str, ...], ...]:
        """Outline of each option of each part."""
        return tuple(tuple(option.name for option in part.options) for part in self.parts)


@dataclass(frozen=True)
class Sent:
    """Judgements of one part by what they depend on, and which outlines print on which foil, from another process."""

    options: Mapping[Key, OptionResult]
    prints: Mapping[tuple[object, ...], bool]


def choosable(result: StudyResult) -> tuple[PartResult, ...]:
    """The parts that are chosen together: fitted, and with options."""
    return tuple(part for part in result.parts if part.part.fitted and part.options)


def setups_of(result: StudyResult, memory: Memory | None = None, today: tuple[PartResult, ...] | None = None) -> Setups:
    """The line under every shared decision of a study.

    Raises
    ------
    InputError
        Where there is nothing to choose together, or a shared decision is not known.
    """
    bench, parts = board_bench(result.study, memory), choosable(result)
    if not parts:
        raise InputError(NOTHING_TO_CHOOSE)
    return Setups(bench, decisions_of(bench), parts, parts if today is None else today)


def judged_everywhere(
    result: StudyResult, setups: Setups, *, tell: Tell, stop: Callable[[], bool], jobs: int = 1
) -> Mapping[Place, Judgement] | None:
    """Every option under every shared decision; None where it was stopped."""
    whole = len(setups.parts)
    if jobs > 1 and whole > 1 and is_many(setups, whole, max(len(part.options) for part in setups.parts)):
        with Helpers(setups_of, result, min(jobs, whole) - 1) as helpers:
            for done, (_, sent) in enumerate(helpers.shared_out(_sent, range(whole), setups, stop), start=1):
                tell(done, whole, f"{done} of {whole} parts")
                if sent is not None:
                    _take(setups, sent)
    found: dict[Place, Judgement] = {}
    done, every = 0, sum(len(part.options) for part in setups.parts)
    for p, part in enumerate(setups.parts):
        for k, option in enumerate(part.options):
            if stop():
                return None
            tell(done, every, f"{part.part.refs[0]} {option.name}")
            done += 1
            for d, decision in enumerate(setups.decisions):
                found[d, p, k] = _judgement(setups, decision, part, option.geometry.outline)
    tell(every, every, "")
    return MappingProxyType(found)


def is_many(setups: Setups, parts: int, options: int) -> bool:
    """Whether so many judgements are to be made that several processes share them."""
    return len(setups.decisions) * parts * options > WORTH


def judge_ahead(setups: Setups, part: PartTable, outline: Outline) -> None:
    """Judge an option under today's line and every shared decision, for the memory of the bench alone."""
    judge_option(outline, part, setups.bench)
    for decision in setups.decisions:
        um, _ = _printed_at(setups, decision, outline)
        seen = replace(decision, plan=_plan_of(setups, decision, outline))
        judge_option(outline, part, bench_of(setups, seen, um or decision.foil_um))


def _sent(setups: Setups, p: int) -> Sent | None:
    """All judgements of one part; None if there is an error, which then shows where it is wanted."""
    part = setups.parts[p]
    try:
        for option in part.options:
            for decision in setups.decisions:
                _judgement(setups, decision, part, option.geometry.outline)
    except LandwiseError:
        return None
    ref = part.part.refs[0]
    return Sent({key: option for key, option in setups._options.items() if key[1] == ref}, dict(setups._prints))


def _take(setups: Setups, sent: Sent) -> None:
    """Judgements made elsewhere, with one geometry kept for all parts that share it."""
    setups._prints.update(sent.prints)
    for key, option in sent.options.items():
        name, _, *printed, _, board = key
        kept = setups._worked.setdefault((*printed, board.track, board.space), {})
        setups._options[key] = replace(option, geometry=kept.setdefault(name, option.geometry))


def _judgement(setups: Setups, decision: Decision, part: PartResult, outline: Outline) -> Judgement:
    um, step = _printed_at(setups, decision, outline)
    return Judgement(_judged(setups, decision, um or decision.foil_um, part, outline), um, step)


def _printed_at(setups: Setups, decision: Decision, outline: Outline) -> tuple[float | None, float]:
    """The foil over the part and the depth of its step; None where nothing on hand prints it."""
    if _prints(setups, decision.foil_um, decision, outline):
        return decision.foil_um, 0.0
    if decision.stepped:
        for um in sorted((u for u in setups.bench.line.foils_um if u < decision.foil_um), reverse=True):
            if _prints(setups, um, decision, outline):
                return um, decision.foil_um - um
    return None, 0.0


def _prints(setups: Setups, um: float, decision: Decision, outline: Outline) -> bool:
    key = (outline.name, um, decision.technology, decision.powder)
    if key not in setups._prints:
        bench = setups.bench
        pattern, rules = bench.geometry(outline).pattern, bench.aperture_rules
        window = bench.recalled(
            ("window", *key),
            pattern,
            lambda: foil_window(
                pattern,
                [um],
                decision.technology,
                decision.powder,
                rules=rules,
                outline=outline,
                release=bench.release,
            ),
        )
        prints = window.verdicts[0][1] != "fails"
        if not prints and bench.designs:
            # What fails as large as its lands may print as designed; what prints is never designed to fail.
            made = bench_of(setups, decision, um).geometry(outline).printed
            prints = bool(made.deposits) and worst(deposit.verdict for deposit in made.deposits) != "fails"
        setups._prints[key] = prints
    return setups._prints[key]


def bench_of(setups: Setups, decision: Decision, um: float) -> Bench:
    """The line under a shared decision, with a foil over the part. [µm]"""
    key = (um, decision.technology, decision.powder, decision.plan, decision.board)
    if key not in setups._benches:
        today, kind = setups.bench, decision.board
        printed = (*key[:3], kind.track, kind.space)
        setups._benches[key] = Bench(
            content_with(today.content, kind),
            replace(line_with(today.line, decision), foil_um=um, steps_allowed=False),
            rates_of(today, decision),
            today.weights,
            today.own,
            aperture_rules=today.aperture_rules,
            _worked=setups._worked.setdefault(printed, {}),
            _laid=today._laid,
            memory=today.memory,
            stated_plan=decision.plan,
            offers=today.offers,
            today=today.today,
            _once=today._once,
            foils_um=foils_of(setups.decisions),
        ).remembering()
    return setups._benches[key]


def _judged(setups: Setups, decision: Decision, um: float, part: PartResult, outline: Outline) -> OptionResult:
    plan = _plan_of(setups, decision, outline)
    key = (outline.name, part.part.refs[0], um, decision.technology, decision.powder, plan.views, decision.board)
    if key not in setups._options:
        bench = bench_of(setups, replace(decision, plan=plan), um)
        option = judge_option(outline, part.part, bench)
        setups._options[key] = with_field(option, bench) if part.counts_field else option
    return setups._options[key]


def _plan_of(setups: Setups, decision: Decision, outline: Outline) -> Plan:
    """The plan of inspection that an option is judged under.

    It is judged once for each set of views (once where every joint is seen from above): what the rest of a plan costs
    is counted in `money`.
    """
    sights = setups.bench.geometry(outline).sights
    return decision.plan if sights.not_at_all or sights.from_the_side else setups.decisions[0].plan


def rates_of(bench: Bench, decision: Decision) -> Mapping[str, Rate]:
    """The cost rates under a shared decision: another board class has its own price of area."""
    rates = dict(bench.rates)
    area, factor = rates["board_area"], decision.board.rate
    rates["board_area"] = replace(area, value=area.value * factor, low=area.low * factor, high=area.high * factor)
    return rates
