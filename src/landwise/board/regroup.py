"""Grouping and packages chosen together: three single gates or one quad, and what each way costs.

Every part of every way is judged on the board it would be on. One exact choice then covers grouping, packages and all
that is shared; the way that is taken becomes the board that the rest of the study explains.

Longer than other modules: judging the ways, choosing among them and telling what decided share one working table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from landwise.board.alike import SHARE_ALIKE, worth_of
from landwise.board.answer import Kind, Worth
from landwise.board.build import board_model, model_of
from landwise.board.draws import Drawn, Unknown, draw_costs
from landwise.board.judged import Judgement, Setups, judged_everywhere, setups_of
from landwise.board.model import BoardModel, board_bench
from landwise.board.objective import Objective, axis_named, lost_by, objective_of, with_axis
from landwise.board.ways import GateSet, Way, gate_sets
from landwise.choosing.optimum.knowing import Known, worth_knowing
from landwise.choosing.optimum.model import Array, Problem, Solution
from landwise.choosing.optimum.solve import solve
from landwise.choosing.optimum.ways import Composed, composed
from landwise.costs.loads import Line, Load
from landwise.costs.quiescent import quiescent_ua
from landwise.errors import LandwiseError
from landwise.fabdata.functions import is_little
from landwise.judging.bench import Bench
from landwise.judging.buying import named_reel
from landwise.judging.fieldcost import without_field
from landwise.judging.part import judge_part
from landwise.judging.results import BoardTotals, OptionResult, PartResult, StudyResult
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import PartTable, Study

Stop = Callable[[], bool]
Tell = Callable[[int, int, str], None]
MOST_INPUTS = 3


@dataclass(frozen=True)
class WayCost:
    """What the best board costs with one way of a set, all else free.

    Parameters
    ----------
    way : Way
    outlines : mapping of str to str
        Package by number; empty where no board keeps the limits.
    cost : float or None
        Money per board of that board.
    low, high : float or None
        5 and 95 % ends of what it costs above the way that is best on average, in joint draws.
    wins : float or None
        Share of draws in which it is the cheapest way.
    lines : mapping of Line to float
        That board's money by line of the cost.
    area_mm2 : float or None
        Of the set's packages, capacitors left out.
    quiescent_ua : float or None
        Largest current at rest of its packages, where data sheets of the family were read.
    defects : float or None
        Expected on the set's packages.
    failing : tuple of str
        Figures of its packages that fail.
    """

    way: Way
    outlines: Mapping[str, str]
    cost: float | None
    low: float | None
    high: float | None
    wins: float | None
    lines: Mapping[Line, float]
    area_mm2: float | None
    quiescent_ua: float | None
    defects: float | None
    failing: tuple[str, ...]


@dataclass(frozen=True)
class SetAnswer:
    """The ways of one set, dearest last, and how sure the choice among them is."""

    refs: tuple[str, ...]
    ways: tuple[WayCost, ...]
    chosen: WayCost
    kind: Kind
    worth: float
    everything: float
    inputs: tuple[Worth, ...]

    @property
    def today(self) -> WayCost:
        """The way the study has it."""
        return next(one for one in self.ways if one.way.today)

    @property
    def runner_up(self) -> WayCost | None:
        """The cheapest other way that a board can be built in."""
        return next((one for one in self.ways if one is not self.chosen and one.cost is not None), None)


@dataclass(frozen=True)
class Regrouped:
    """Grouping chosen with all else.

    Parameters
    ----------
    sets : tuple of SetAnswer
    cost, bound : float
        What was minimised, over all groupings, and what no grouping can fall below.
    taken : float
        The same of the grouping that is taken: above `cost` where today's is kept among equals.
    proven : bool
    kept : float or None
        The same with every set as it is today; None where no board keeps the limits so.
    boards : int
        Groupings that were weighed together.
    told : tuple of str
        What was not proposed, and why.
    """

    sets: tuple[SetAnswer, ...]
    cost: float
    taken: float
    bound: float
    proven: bool
    kept: float | None
    boards: int
    told: tuple[str, ...]


@dataclass(frozen=True)
class Base:
    """Today's board, for a study whose parts are grouped otherwise."""

    today: tuple[PartResult, ...]
    before: BoardTotals | None
    counts: Mapping[str, float] | None
    model: BoardModel


def regroup(
    result: StudyResult, *, memory: Memory | None = None, stop: Stop | None = None, tell: Tell | None = None
) -> tuple[StudyResult, Regrouped | None, Base | None, tuple[str, ...]]:
    """The study in the grouping that is best with all else, and what each way costs.

    Parameters
    ----------
    result : StudyResult
        From `run_study`, grouped as the study has it.
    memory : Memory, optional
    stop : callable, optional
        True ends the work; the study then stays as it is.
    tell : callable, optional

    Returns
    -------
    result : StudyResult
        Of the study with the parts of the best grouping.
    regrouped : Regrouped or None
        None where nothing may be regrouped.
    base : Base or None
        Today's board.
    told : tuple of str
        What was not proposed, and why.

    Raises
    ------
    LandwiseError

    Notes
    -----
    Prices are those at the pieces bought when the other sets stay as they are: where two sets of one study buy the same
    number, a price break that only both together reach is not seen.
    """
    memory = memory or Memory()
    try:
        sets, told = gate_sets(Bench.of(result.study, memory))
    except LandwiseError as error:
        raise error.within(file=result.study.file) from None
    if not sets:
        return result, None, None, told
    work = _Work(result, sets, memory, stop or (lambda: False), tell or (lambda *_: None))
    return work.done(told)


@dataclass
class _Work:
    """The sets of one study on their way to a choice."""

    result: StudyResult
    sets: tuple[GateSet, ...]
    memory: Memory
    stop: Stop
    tell: Tell

    def done(self, told: tuple[str, ...]) -> tuple[StudyResult, Regrouped | None, Base | None, tuple[str, ...]]:
        base = board_model(self._today(), memory=self.memory, stop=self.stop)
        if base is None:
            return self.result, None, None, told
        built = self._super(base)
        if built is None:
            return self.result, None, None, told
        model, places, refused = built
        told = (*told, *refused)
        aim = objective_of(base)
        lost = lost_by(model, aim.counts)
        problem = self._aimed(model, aim, lost)
        whole = composed(problem, [tuple(ways.values()) for ways in places])
        numbers = [tuple(ways) for ways in places]  # the way that each way of the composed choice stands for
        best = solve(whole.problem, stop=self.stop)
        if not best.found:
            return self.result, None, None, told
        answers, held = [], {}
        for s in range(len(self.sets)):
            answer, way = self._answer(s, model, whole, numbers[s], lost)
            answers.append(answer)
            if way is not None:
                held[s] = way
        final = best
        if held:
            kept = solve(whole.held(held), stop=self.stop)
            final = kept if kept.found else best
        taken = [numbers[s][w] for s, w in enumerate(whole.ways(final))]
        answers = [
            replace(answer, chosen=next(one for one in answer.ways if one.way is self.sets[s].ways[taken[s]]))
            for s, answer in enumerate(answers)
        ]
        today = {s: names.index(0) for s, names in enumerate(numbers) if 0 in names}
        kept_today = solve(whole.held(today), stop=self.stop) if len(today) == len(self.sets) else None
        regrouped = Regrouped(
            sets=tuple(answers),
            cost=best.value,
            taken=final.value,
            bound=best.bound,
            proven=best.status == "optimal",
            kept=kept_today.value if kept_today is not None and kept_today.found else None,
            boards=int(np.prod([len(names) for names in numbers])),
            told=told,
        )
        before = self.result.before
        base_of = Base(base.parts, before, aim.counts or None, base)
        return self._study(taken), regrouped, base_of, told

    def _today(self) -> StudyResult:
        """Today's parts, those of sets with what they pay beside their packages."""
        beside = {
            part.refs[0]: loads
            for one in self.sets
            for part, loads in zip(one.ways[0].parts, one.ways[0].beside, strict=True)
        }
        return _with_beside(self.result, beside)

    def _super(self, base: BoardModel) -> tuple[BoardModel, list[dict[int, tuple[int, ...]]], tuple[str, ...]] | None:
        """All parts of all ways as if all were on the board; for each set the parts of each of its ways."""
        setups = setups_of(self._today(), self.memory)
        judged = dict(judged_everywhere(self.result, setups, tell=self.tell, stop=self.stop) or {})
        if self.stop():
            return None
        parts = list(setups.parts)
        member: dict[tuple[int, int], list[PartResult]] = {}
        first = {part.part.refs[0]: part for part in parts}
        refused = []
        for s, one in enumerate(self.sets):
            member[s, 0] = [first[part.refs[0]] for part in one.ways[0].parts if part.refs[0] in first]
            for w, way in enumerate(one.ways[1:], start=1):
                self.tell(w, len(one.ways), f"{', '.join(one.refs)} as {way.says}")
                if self.stop():
                    return None
                try:
                    own, found = self._judged(s, way, setups)
                except LandwiseError as error:
                    refused.append(f"{way.says} for {one.refs[0]} is not proposed: {error.message}")
                    continue
                for (d, p, k), judgement in found.items():
                    judged[d, len(parts) + p, k] = judgement
                parts += own
                member[s, w] = own
        refused += self._field_alike(parts, member, judged)
        _share_reels(parts, member)
        model = model_of(replace(setups, parts=tuple(parts)), judged)
        place = {id(part): p for p, part in enumerate(model.parts)}
        places: list[dict[int, tuple[int, ...]]] = []
        for s, one in enumerate(self.sets):
            ways: dict[int, tuple[int, ...]] = {}
            for w, way in enumerate(one.ways):
                own = member.get((s, w), [])
                if own and len(own) == len(way.parts) and all(id(part) in place for part in own):
                    ways[w] = tuple(place[id(part)] for part in own)
                elif (s, w) in member:
                    out = [part.part.number for part in own if id(part) not in place]
                    refused.append(f"{way.says} for {one.refs[0]} is not proposed: no package fits {', '.join(out)}")
            places.append(ways)
        return model, places, tuple(refused)

    def _field_alike(
        self,
        parts: list[PartResult],
        member: dict[tuple[int, int], list[PartResult]],
        judged: dict[tuple[int, int, int], Judgement],
    ) -> list[str]:
        """Failures in the field are weighed in all ways of a set or in none; says where they are left out of some."""
        said = []
        for s, one in enumerate(self.sets):
            own = {id(part): part for (of, _), some in member.items() if of == s for part in some}
            counted = [part for part in own.values() if part.counts_field]
            if not counted or len(counted) == len(own):
                continue
            bare = {id(part): replace(part, counts_field=False) for part in counted}
            for p, part in enumerate(parts):
                parts[p] = bare.get(id(part), part)
            for key, some in member.items():
                member[key] = [bare.get(id(part), part) for part in some]
            at = {p for p, part in enumerate(parts) if any(part is kept for kept in bare.values())}
            for place in [place for place in judged if place[1] in at]:
                judged[place] = replace(judged[place], option=without_field(judged[place].option))
            without = dict.fromkeys(part.part.number for part in own.values() if not part.counts_field)
            said.append(
                f"the ways of {', '.join(one.refs)} are weighed without failures in the field: nothing anchors the life"
                f" of every package of {', '.join(without)}"
            )
        return said

    def _judged(
        self, s: int, way: Way, setups: Setups
    ) -> tuple[list[PartResult], Mapping[tuple[int, int, int], Judgement]]:
        study = self._study_of({s: way})
        bench = board_bench(study, self.memory)
        own = [
            replace(judge_part(part, bench), beside=beside) for part, beside in zip(way.parts, way.beside, strict=True)
        ]
        there = Setups(bench, setups.decisions, tuple(own), setups.today)
        return own, judged_everywhere(self.result, there, tell=lambda *_: None, stop=self.stop) or {}

    def _study_of(self, ways: Mapping[int, Way]) -> Study:
        """The study with some sets in other ways."""
        study = self.result.study
        gone = {ref: s for s in ways for ref in self.sets[s].refs}
        parts: list[PartTable] = []
        put: set[int] = set()
        for part in study.content.part:
            s = gone.get(part.refs[0])
            if s is None:
                parts.append(part)
            elif s not in put:
                put.add(s)
                parts += ways[s].parts
        want = study.content.want.model_copy(update={"regroup_within": None})
        content = study.content.model_copy(update={"part": parts, "regroup": [], "want": want})
        return replace(study, content=content)

    def _study(self, taken: Sequence[int]) -> StudyResult:
        """The study judged in the grouping that was taken."""
        ways = {s: self.sets[s].ways[w] for s, w in enumerate(taken)}
        beside = {
            part.refs[0]: loads for way in ways.values() for part, loads in zip(way.parts, way.beside, strict=True)
        }
        study = self._study_of(ways)
        return _with_beside(run_study(study, bench=board_bench(study, self.memory)), beside)

    def _aimed(self, model: BoardModel, aim: Objective, lost: Array) -> Problem:
        """What the study minimises, over all parts of all ways."""
        wanted = model.bench.content.want.objective
        if isinstance(wanted, list):
            return with_axis(model.problem, axis_named(model, wanted[0]))
        return replace(model.problem, cost=model.problem.cost + lost)

    def _answer(
        self, s: int, model: BoardModel, whole: Composed, numbers: Sequence[int], lost: Array
    ) -> tuple[SetAnswer, int | None]:
        """The ways of one set, the others free; and which way to hold where several are equal."""
        found = [solve(whole.held({s: w}), stop=self.stop) for w in range(len(numbers))]
        boards = [None if not one.found else whole.options(one) for one in found]
        known, drawn, rivals = _drawn(model, found, boards, lost)
        costs = []
        above = None if known is None else rivals - rivals[:, [known.best]]
        for w, number in enumerate(numbers):
            spread = None if above is None or not found[w].found else np.quantile(above[:, w], [0.05, 0.95])
            way = self.sets[s].ways[number]
            place = {p for one in whole.combined[s] if one.way == w for p, _ in one.options}
            costs.append(
                _way_cost(
                    model, way, found[w], boards[w], place, spread, None if known is None else float(known.wins[w])
                )
            )
        for number, way in enumerate(self.sets[s].ways):
            if number not in numbers and way.today:
                costs.append(_way_cost(model, way, None, None, set(), None, None))
        ordered = tuple(sorted(costs, key=lambda one: float("inf") if one.cost is None else one.cost))
        assert known is not None  # the best board of all is in one of the ways
        worth = worth_of(model)
        first = costs[known.best]
        own = [p for one in whole.combined[s] for p, _ in one.options]
        alike = min(worth, SHARE_ALIKE * _own_cost(model, found[known.best], boards[known.best] or {}, set(own)))
        near = known.within(alike)
        kind: Kind = "not decided" if known.everything >= worth else "equal" if len(near) > 1 else "decided"
        run = model.bench.content.costs.run
        named = _inputs(model, drawn, set(own))
        inputs = worth_knowing(rivals, named).one if named else {}
        worths = tuple(_worth(name, saves, run) for name, saves in list(inputs.items())[:MOST_INPUTS] if saves > 0)
        stays = 0 in numbers and numbers.index(0) in near and _in_use(self.sets[s])
        held = numbers.index(0) if kind == "equal" and stays else None
        answer = SetAnswer(self.sets[s].refs, ordered, first, kind, worth, known.everything, worths)
        return answer, held


def _share_reels(parts: list[PartResult], member: dict[tuple[int, int], list[PartResult]]) -> None:
    """Reels of parts in whatever ways the sets come: shared where two may stand on one board, never by two ways."""
    at = {id(part): key for key, some in member.items() for part in some}

    def meet(one: PartResult, other: PartResult) -> bool:
        (mine, way), (its, other_way) = at.get(id(one), (-1, 0)), at.get(id(other), (-1, 0))
        return one is not other and (mine != its or way == other_way)

    reels = [named_reel(part.part) for part in parts]
    shared = {
        id(part): replace(
            part,
            reel=reel
            if any(reel and reel == its and meet(part, other) for other, its in zip(parts, reels, strict=True))
            else "",
        )
        for part, reel in zip(parts, reels, strict=True)
    }
    parts[:] = [shared[id(part)] for part in parts]
    for key, some in member.items():
        member[key] = [shared[id(part)] for part in some]


def _in_use(one: GateSet) -> bool:
    """Whether today's way is a board that somebody has: its packages are known."""
    return all(part.package for part in one.parts)


def _with_beside(result: StudyResult, beside: Mapping[str, tuple[Load, ...]]) -> StudyResult:
    parts = tuple(replace(part, beside=beside.get(part.part.refs[0], ())) for part in result.parts)
    return replace(result, parts=parts)


def _drawn(
    model: BoardModel, found: Sequence[Solution], boards: Sequence[Mapping[int, int] | None], lost: Array
) -> tuple[Known[Unknown] | None, Drawn | None, Array]:
    """Costs of the ways' best boards in joint draws, their means exact."""
    there = [one for one in found if one.found]
    if not there:
        return None, None, np.zeros((0, 0))
    best = min(there, key=lambda one: one.value)
    near = tuple(dict.fromkeys([best.decision, *(one.decision for one in there)]))
    drawn = draw_costs(model, near)
    place = {d: n for n, d in enumerate(near)}
    rivals = np.full((drawn.draws, len(found)), np.inf)
    for w, (one, board) in enumerate(zip(found, boards, strict=True)):
        if board is None:
            continue
        n = place[one.decision]
        ps, ks = list(board), list(board.values())
        opened = np.array([charge.mask[ps, ks].any() for charge in model.problem.charges], dtype=bool)
        whole = drawn.cost[:, n, ps, ks].sum(axis=1) + drawn.shared[:, n] + drawn.due @ opened
        exact = _money(model, one.decision, board) + float(
            np.broadcast_to(lost, model.problem.cost.shape)[one.decision, ps, ks].sum()
        )
        rivals[:, w] = whole + (exact - whole.mean())
    return worth_knowing(rivals, {}), drawn, rivals


def _money(model: BoardModel, decision: int, board: Mapping[int, int]) -> float:
    """What a board costs. [money per board]"""
    problem, ps, ks = model.problem, list(board), list(board.values())
    opened = np.array([charge.mask[ps, ks].any() for charge in problem.charges], dtype=bool)
    own = float(problem.cost[decision, ps, ks].sum() + problem.shared_cost[decision])
    return own + (float(problem.due @ opened) if problem.charges else 0.0)


def _own_cost(model: BoardModel, found: Solution, board: Mapping[int, int], own: set[int]) -> float:
    there = [(p, k) for p, k in board.items() if p in own]
    return float(sum(model.problem.cost[found.decision, p, k] for p, k in there))


def _inputs(model: BoardModel, drawn: Drawn | None, own: set[int]) -> dict[tuple[str, Unknown], Array]:
    """What was drawn that the ways of a set depend on, its own with the part's number."""
    if drawn is None:
        return {}
    found = {("", one): values for one, values in drawn.inputs.items()}
    for (p, one), values in drawn.own.items():
        if p in own:
            found[model.parts[p].part.number, one] = values
    return found


def _worth(name: tuple[str, Unknown], saves: float, run: int) -> Worth:
    number, one = name
    return Worth(one, number, saves, saves * run)


def _way_cost(
    model: BoardModel,
    way: Way,
    found: Solution | None,
    board: Mapping[int, int] | None,
    own: set[int],
    spread: Array | None,
    wins: float | None,
) -> WayCost:
    family = way.parts[0].family
    rest = [(quiescent_ua(family, is_little(number)), count) for number, count in way.counts.items()]
    quiescent = None if any(one is None for one, _ in rest) else sum((one or 0.0) * count for one, count in rest)
    if found is None or board is None:
        nothing: Mapping[str, str] = MappingProxyType({})
        return WayCost(way, nothing, None, None, None, None, MappingProxyType({}), None, quiescent, None, ())
    mine = {p: k for p, k in board.items() if p in own}
    options = [(model.parts[p], model.judged[found.decision, p, k]) for p, k in mine.items()]
    rates = [option.figures["defects"].value for _, option in options if "defects" in option.figures]
    counted = [part.count for part, option in options if "defects" in option.figures]
    return WayCost(
        way=way,
        outlines=MappingProxyType({part.part.refs[0]: option.name for part, option in options}),
        cost=_money(model, found.decision, board),
        low=None if spread is None else float(spread[0]),
        high=None if spread is None else float(spread[1]),
        wins=wins,
        lines=_lines(model, found.decision, board),
        area_mm2=sum(part.count * option.area_mm2 for part, option in options),
        quiescent_ua=quiescent,
        defects=(
            None
            if len(rates) < len(options) or None in rates
            else sum(count * float(rate or 0.0) for count, rate in zip(counted, rates, strict=True))
        ),
        failing=tuple(dict.fromkeys(word for _, option in options for word in _failing(option))),
    )


def _failing(option: OptionResult) -> list[str]:
    return [f"{figure.title} of {option.name}" for figure in option.figures.values() if figure.verdict == "fails"]


def _lines(model: BoardModel, decision: int, board: Mapping[int, int]) -> Mapping[Line, float]:
    """A board's money by line."""
    ps, ks = list(board), list(board.values())
    shape = model.problem.cost.shape
    values = {one.name: one.value for one in model.money.inputs}
    opened = np.array([charge.mask[ps, ks].any() for charge in model.problem.charges], dtype=bool)
    found: dict[Line, float] = {}
    for term in model.money.terms:
        product = float(np.prod([values[name] ** power for name, power in term.powers.items()]))
        units = float(np.broadcast_to(term.load, shape)[decision, ps, ks].sum() + term.shared[decision])
        units += 0.0 if term.charged is None else float(term.charged @ opened)
        if units:
            line = Line(term.key)
            found[line] = found.get(line, 0.0) + product * units
    prices = model.money.prices
    if prices is not None:
        table = prices.cost[model.money.stretch(values["run"])]
        found[Line.PART] = float(table[ps, ks].sum())
    return MappingProxyType(found)
