"""The whole board chosen at once: solved, proven and explained, and put back into the study's result."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.board.build import NOTHING_TO_CHOOSE, board_model, choosable
from landwise.board.firm import Firmness, firmness
from landwise.board.model import BoardModel
from landwise.board.objective import SAME, Objective, best_of, objective_of, total
from landwise.board.placing import Placing, place_board
from landwise.choosing.optimum.explain import (
    Price,
    Relaxation,
    Rival,
    Step,
    conflict,
    limit_prices,
    migration,
    part_price,
    relaxations,
    rivals,
    runner_up,
    without_option,
)
from landwise.choosing.optimum.front import Axis, Point, front
from landwise.choosing.optimum.model import Solution
from landwise.judging.bench import Bench
from landwise.judging.part import judge_part
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.judging.totals import totals
from landwise.memory import Memory

MOST_FRONT = 150  # points of the trade-off listed one by one; beyond it they are spaced
SPACED_POINTS = 30
MOST_ALTERNATIVES = 200  # parts for which the next best option is worked
Stop = Callable[[], bool]
Tell = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Hold:
    """A part that alone holds the shared decision: what the board would save without its wish."""

    part: str
    saved: float
    freed: str


@dataclass(frozen=True)
class Alternative:
    """The best board in which one part comes in another option: what it costs more."""

    part: str
    option: str
    more: float
    decision: str


@dataclass(frozen=True)
class BoardChoice:
    """One choice for all parts and all they share.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        In the objective's unit; its proof.
    objective, unit : str
    cost, today : float or None
        Money per good board of the choice, and of today's board (None where a package in use is not known).
    equal : tuple of str
        Other shared decisions that would do as well for the same options.
    limits : tuple of Price
        What each limit costs, dearest first.
    holds : tuple of Hold
    others : tuple of Rival
        The other shared decisions at their best, nearest first; those that do as well are in `equal`.
    alternatives : tuple of Alternative
    second : Solution or None
        The runner-up.
    steps : tuple of Step
        The migration list.
    points, complete
        The trade-off, and whether it is all of it.
    axes : tuple of str
    conflict, relaxed
        Where nothing fits: a smallest set of limits that conflict, and the least change of each.
    firm : Firmness or None
        How firm the choice is; only where money is minimised, first or as part of the value.
    left_out : tuple of str
        What was not explained because the search was stopped.
    placing : Placing or None
        Whether the courtyards lie on the board; None where the study gives no board size.
    """

    model: BoardModel
    best: Solution
    objective: str
    unit: str
    cost: float | None
    today: float | None
    equal: tuple[str, ...] = ()
    limits: tuple[Price, ...] = ()
    holds: tuple[Hold, ...] = ()
    others: tuple[Rival, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    second: Solution | None = None
    steps: tuple[Step, ...] = ()
    points: tuple[Point, ...] = ()
    complete: bool = True
    axes: tuple[str, ...] = ()
    conflict: tuple[str, ...] = ()
    relaxed: tuple[Relaxation, ...] = ()
    firm: Firmness | None = None
    left_out: tuple[str, ...] = ()
    placing: Placing | None = None

    @property
    def decision(self) -> str:
        """The shared decision in words."""
        return self.model.says(self.best.decision) if self.best.found else "none"

    def options(self, found: Solution) -> dict[str, str]:
        """Outline of each part of a solution, by the part's first reference."""
        return {
            part.part.refs[0]: names[k]
            for part, names, k in zip(self.model.parts, self.model.names, found.choice, strict=True)
        }

    def won(self, reference: str, option: str) -> float | None:
        """Share of draws in which a part comes in an option; None where nothing was drawn."""
        for p, (part, names) in enumerate(zip(self.model.parts, self.model.names, strict=True)):
            if self.firm is not None and reference in part.part.refs and option in names:
                return float(self.firm.inputs.wins[p, names.index(option)])
        return None

    def differences(self, found: Solution) -> tuple[str, ...]:
        """What another solution does otherwise, in words."""
        mine, other = self.options(self.best), self.options(found)
        said = [f"{ref} in {name}" for ref, name in other.items() if name != mine[ref]]
        if found.decision != self.best.decision and not self._same_print(found):
            said.append(self.model.says(found.decision))
        return tuple(said)

    def _same_print(self, found: Solution) -> bool:
        return self.model.says(found.decision) in self.equal

    @property
    def proof(self) -> str:
        """Optimum, bound and gap in one sentence."""
        best = self.best
        if not best.found:
            return "no choice keeps every limit" if best.status == "infeasible" else "stopped before a choice was found"
        gap = "0" if best.gap < 1e-12 else f"{best.gap:.1e}"
        said = f"{best.value:.6g} {self.unit}, no choice can be below {best.bound:.6g} (gap {gap})"
        decisions = self.model.problem.decisions
        told = f"{decisions} shared decisions, {best.pruned} settled by a bound alone"
        word = "proven best" if best.status == "optimal" else "best found when stopped"
        return f"{word}: {said}; {told}"


def choose_board(
    result: StudyResult,
    *,
    stop: Stop | None = None,
    progress: Tell | None = None,
    seconds: float = float("inf"),
    memory: Memory | None = None,
    early: Callable[[StudyResult], None] | None = None,
    jobs: int = 1,
) -> StudyResult:
    """Choose all parts and all they share at once, and put the outcome into the study's result.

    Parameters
    ----------
    result : StudyResult
        From `run_study`.
    stop : callable, optional
        True ends the search; the best found so far is kept, with its gap, and explanations are left out.
    progress : callable, optional
        Called with (done, in all, what).
    seconds : float
        Time for the search itself.
    jobs : int
        Processes to share the judging of a large board between. They are started afresh: a script that asks for
        more than one keeps its work under `if __name__ == "__main__"`.
    memory : Memory, optional
        Of a caller that asks again and again.
    early : callable, optional
        Called with the result as soon as the choice is made, before the reasons for it are worked out; options
        that were not chosen are then still judged under today's line.

    Raises
    ------
    LandwiseError

    Examples
    --------
    >>> from landwise.judging.study import run_study
    >>> from landwise.study.file import study_from
    >>> gate = {"refs": ["U1"], "terminals": 5, "package": "SOT-23-5", "number": "1G08", "family": "LVC"}
    >>> chosen = choose_board(run_study(study_from({"part": [gate]})))
    >>> chosen.choice.best.status, chosen.parts[0].chosen.name
    ('optimal', 'SOT-5x3-5')
    """
    tell: Tell = progress or _silent
    if not choosable(result):
        return replace(result, notes=(NOTHING_TO_CHOOSE, *result.notes))
    model = board_model(
        result,
        stop=stop,
        memory=memory,
        jobs=jobs,
        progress=lambda done, whole, name: tell(done, whole, f"{name} under every shared decision"),
    )
    if model is None:
        return replace(result, notes=(STOPPED_EARLY, *result.notes))
    aim = objective_of(model)
    tell(0, len(model.decisions), "searching")
    best = best_of(aim, seconds=seconds, stop=stop, progress=_searching(tell, len(model.decisions)))
    choice = BoardChoice(model, best, aim.name, aim.unit, None, _today(model))
    if best.found:
        choice = replace(choice, cost=model.problem.value(best.decision, best.choice))
        if early is not None:
            early(_put_back(result, replace(choice, left_out=tuple(_Explainer.STAGES)), judged_again=False))
        if best.status == "optimal":
            choice = _Explainer(aim, stop).explained(choice, tell)
        else:
            choice = replace(choice, left_out=tuple(_Explainer.STAGES))
        tell(0, 1, "room on the board")
        placing = place_board(model, best, result.parts, points=choice.points, differs=choice.differences, stop=stop)
        choice = replace(choice, placing=placing)
        return _put_back(result, choice)
    if early is not None:
        early(replace(result, choice=choice, after=None, notes=(choice.proof, *result.notes)))
    if best.status == "infeasible" and not (stop is not None and stop()):
        tell(0, 1, "which limits conflict")
        names = conflict(model.problem)
        choice = replace(choice, conflict=names, relaxed=relaxations(model.problem, names))
    note = (
        f"no choice keeps every limit together: {', '.join(choice.conflict)} conflict"
        if choice.conflict
        else choice.proof
    )
    return replace(result, choice=choice, after=None, notes=(note, *result.notes))


STOPPED_EARLY = "stopped before the whole board was chosen: each part is ranked by itself"


def _silent(*_: object) -> None:
    return None


def _searching(tell: Tell, decisions: int) -> Callable[[float, float], None]:
    done = 0

    def said(value: float, bound: float) -> None:
        nonlocal done
        done += 1
        gap = max(0.0, value - bound) / max(abs(value), 1e-12)
        tell(min(done, decisions), decisions, f"searching: {value:.5g}, at most {gap:.1%} from the best")

    return said


def _today(model: BoardModel) -> float | None:
    if -1 in model.present:
        return None
    first = model.decisions[0]
    same = [d for d, other in enumerate(model.decisions) if replace(other, inspection=first.inspection) == first]
    hidden = next((ban.mask for ban in model.problem.bans if ban.name == "hidden joints"), None)
    at = np.arange(model.problem.parts), list(model.present)
    seen = [d for d in same if hidden is None or not hidden[(d, *at)].any()]
    return min(model.problem.value(d, model.present) for d in (seen or same))


class _Explainer:
    """Every explanation of a proven choice, stage by stage."""

    STAGES = (
        "the runner-up",
        "the price of each limit",
        "what each part holds",
        "the next option of each part",
        "the other shared decisions",
        "the steps from today's board",
        "the trade-off",
        "how firm the choice is",
    )

    def __init__(self, aim: Objective, stop: Stop | None) -> None:
        self.aim, self.problem = aim, aim.problem
        self.stop: Stop = stop or (lambda: False)

    def explained(self, choice: BoardChoice, tell: Tell) -> BoardChoice:
        """All explanations, one after the other; what a stop leaves out is named."""
        stages = (
            self._second,
            self._limits,
            self._holds,
            self._alternatives,
            self._others,
            self._steps,
            self._front,
            self._firm,
        )
        for number, (what, stage) in enumerate(zip(self.STAGES, stages, strict=True)):
            tell(number, len(stages), what)
            if not self.stop():
                choice = stage(choice)
            if self.stop():
                return replace(choice, left_out=self.STAGES[number:])
        return choice

    def _second(self, choice: BoardChoice) -> BoardChoice:
        problem, best, model = self.problem, choice.best, choice.model
        axes = (Axis("first", problem.cost, problem.shared_cost), *self.aim.then)
        mine = [total(problem, axis, best) for axis in axes]
        equal = tuple(
            model.says(d)
            for d in range(problem.decisions)
            if d != best.decision
            and problem.holds(d, best.choice)
            and np.allclose(
                [total(problem, axis, replace(best, decision=d)) for axis in axes], mine, rtol=SAME, atol=SAME
            )
        )
        second = runner_up(problem, best)
        return replace(choice, equal=tuple(dict.fromkeys(equal)), second=second if second.found else None)

    def _limits(self, choice: BoardChoice) -> BoardChoice:
        return replace(choice, limits=limit_prices(self.problem, choice.best, stop=self.stop))

    def _holds(self, choice: BoardChoice) -> BoardChoice:
        found = []
        for p, part in enumerate(choice.model.parts):
            if self.stop():
                break
            price = part_price(self.problem, choice.best, p)
            if price.saved > SAME * max(1.0, abs(choice.best.value)) and price.freed.decision != choice.best.decision:
                found.append(Hold(part.name, price.saved, choice.model.says(price.freed.decision)))
        return replace(choice, holds=tuple(sorted(found, key=lambda hold: -hold.saved)))

    def _alternatives(self, choice: BoardChoice) -> BoardChoice:
        found = []
        for p, (part, names) in enumerate(
            zip(choice.model.parts[:MOST_ALTERNATIVES], choice.model.names, strict=False)
        ):
            if self.stop():
                break
            other = without_option(self.problem, p, choice.best.choice[p])
            if other.found:
                more = other.value - choice.best.value
                found.append(Alternative(part.name, names[other.choice[p]], more, choice.model.says(other.decision)))
        return replace(choice, alternatives=tuple(found))

    def _others(self, choice: BoardChoice) -> BoardChoice:
        told = rivals(self.problem, choice.best, stop=self.stop)
        return replace(choice, others=tuple(one for one in told if choice.model.says(one.decision) not in choice.equal))

    def _steps(self, choice: BoardChoice) -> BoardChoice:
        if choice.today is None or self.problem is not choice.model.problem:
            return choice
        return replace(choice, steps=migration(self.problem, choice.model.present, choice.today, stop=self.stop))

    def _front(self, choice: BoardChoice) -> BoardChoice:
        model = choice.model
        # Every board of the plane lies on the trade-off of all three: where the plane holds too many, so does space.
        axes: tuple[Axis, ...] = (model.cost, model.area)
        points, complete = front(model.problem, axes, most=MOST_FRONT, stop=self.stop)
        if not complete and not self.stop():
            points, complete = front(model.problem, axes, points=SPACED_POINTS, stop=self.stop)
        elif complete and model.risk.use.any():
            more, all_of_it = front(model.problem, (*axes, model.risk), most=MOST_FRONT, stop=self.stop)
            if all_of_it:
                axes, points = (*axes, model.risk), more
        return replace(choice, points=points, complete=complete, axes=tuple(axis.name for axis in axes))

    def _firm(self, choice: BoardChoice) -> BoardChoice:
        if self.aim.money is None:
            return choice
        named = {axis.name: axis for axis in (choice.model.cost, choice.model.area, choice.model.risk)}
        axes = [named[name] for name in choice.axes]
        firm = firmness(
            choice.model, self.problem, choice.best, choice.points, axes, factor=self.aim.money, stop=self.stop
        )
        return replace(choice, firm=firm)


def _put_back(result: StudyResult, choice: BoardChoice, *, judged_again: bool = True) -> StudyResult:
    """The study's result with each part judged under the shared decision and set to its option.

    Without judging again, options that were not chosen, and rankings, stay those of today's line.
    """
    model, best = choice.model, choice.best
    bench = _bench_of(model, best.decision, result)
    place = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    parts = []
    for part in result.parts:
        p = place.get(part.part.refs[0])
        again = judge_part(part.part, bench) if judged_again else part
        parts.append(again if p is None else _set(again, choice, p))
    known = [
        part for part in parts if part.part.refs[0] in place and part.present is not None and part.chosen is not None
    ]
    after = (
        totals([(part.chosen, part.count, part.price_taken) for part in known if part.chosen], bench) if known else None
    )
    before = result.before
    if before is not None and after is not None and choice.today is not None and choice.cost is not None:
        after = replace(
            after, cost=choice.cost, area_mm2=total(model.problem, model.area, best), foil_demand=choice.decision
        )
        before = replace(before, cost=choice.today)
    notes = tuple(note for note in result.notes if "not yet chosen together" not in note)
    return replace(result, line=bench.line, parts=tuple(parts), before=before, after=after, notes=notes, choice=choice)


def _bench_of(model: BoardModel, decision: int, result: StudyResult) -> Bench:
    bench = Bench.of(result.study, model.bench.memory)
    kind = model.decisions[decision].board
    board = bench.content.board.model_copy(update={"layers": kind.layers, "track": kind.track, "space": kind.space})
    content = bench.content.model_copy(update={"board": board})
    # A bench of its own: what it has worked out by now follows from the line as it was.
    return replace(bench, content=content, line=model.line_of(decision), _worked={}).remembering()


def _set(part: PartResult, choice: BoardChoice, p: int) -> PartResult:
    model, best = choice.model, choice.best
    chosen = model.judged[best.decision, p, best.choice[p]]
    options = tuple(chosen if option.name == chosen.name else option for option in part.options)
    present = next((option for option in options if part.present and option.name == part.present.name), None)
    other = next((found for found in choice.alternatives if found.part == part.name), None)
    return replace(
        part,
        options=options,
        present=present,
        chosen=chosen,
        says=_says(part, chosen, choice, p),
        runner_up=_next(other, choice),
    )


def _says(part: PartResult, chosen: OptionResult, choice: BoardChoice, p: int) -> str:
    bits = []
    if part.present and part.present.name != chosen.name:
        saved = part.present.area_mm2 - chosen.area_mm2
        bits.append(
            f"{abs(saved):.1f} mm² {'less' if saved >= 0 else 'more'} board than the {part.present.name} in use"
        )
    elif part.present:
        bits.append("already in use" + (", locked" if part.part.locked else ""))
    if choice.model.steps[choice.best.decision, p, choice.best.choice[p]]:
        bits.append("printed in a step-down zone")
    hold = next((found for found in choice.holds if found.part == part.name), None)
    if hold:
        bits.append(f"alone it holds the board at {choice.decision}: {hold.saved:.3g} {choice.unit}")
    figure = chosen.figures["transfer"]
    if figure.value is not None:
        bits.append(f"paste transfers {figure.value:.0%} on the worst land ({figure.verdict})")
    return f"{chosen.name}: " + "; ".join(bits)


def _next(other: Alternative | None, choice: BoardChoice) -> str:
    if other is None:
        return "no other option fits the limits"
    shared = "" if other.decision in (choice.decision, *choice.equal) else f" and takes {other.decision}"
    return f"{other.option} instead costs the board {max(0.0, other.more):.3g} {choice.unit} more{shared}"


def gain_sentence(choice: BoardChoice, names: Sequence[str]) -> str:
    """How much of the gain the first steps of the migration list bring."""
    if not choice.steps or choice.today is None:
        return ""
    whole = choice.steps[-1].saved
    few = [step for step in choice.steps if step.changes <= 3]
    if whole <= 0 or not few:
        return ""
    step = few[-1]
    changed = ", ".join(names[p] for p in step.changed)
    return f"changing {changed} brings {step.saved / whole:.0%} of the gain of {whole:.3g} {choice.unit}"
