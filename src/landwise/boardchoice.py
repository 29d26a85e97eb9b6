"""The whole board chosen at once: solved, proven and explained, and put back into the study's result."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from landwise.boardfirm import Firmness, firmness
from landwise.boardmodel import AREA, RISK, BoardModel, board_model
from landwise.choosing.board.explain import (
    Price,
    Relaxation,
    Step,
    conflict,
    limit_prices,
    migration,
    part_price,
    relaxations,
    runner_up,
    without_option,
)
from landwise.choosing.board.front import Axis, Point, front
from landwise.choosing.board.model import Array, Problem, Row, Solution
from landwise.choosing.board.solve import solve
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError
from landwise.studies import Bench, OptionResult, PartResult, StudyResult, judge_part, totals

MOST_FRONT = 150  # points of the trade-off listed one by one; beyond it they are spaced
SPACED_POINTS = 30
MOST_ALTERNATIVES = 200  # parts for which the next best option is worked
SAME = 1e-9
Stop = Callable[[], bool]


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
        How firm the choice is; only where money is minimised.
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
    alternatives: tuple[Alternative, ...] = ()
    second: Solution | None = None
    steps: tuple[Step, ...] = ()
    points: tuple[Point, ...] = ()
    complete: bool = True
    axes: tuple[str, ...] = ()
    conflict: tuple[str, ...] = ()
    relaxed: tuple[Relaxation, ...] = ()
    firm: Firmness | None = None

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
        said = f"{best.value:.6g} {self.unit}, no choice can be below {best.bound:.6g} (gap {best.gap:.1e})"
        decisions = self.model.problem.decisions
        told = f"{decisions} shared decisions, {best.pruned} settled by a bound alone"
        word = "proven best" if best.status == "optimal" else "best found when stopped"
        return f"{word}: {said}; {told}"


def choose_board(
    result: StudyResult, *, stop: Stop | None = None, progress: Callable[[int, int, str], None] | None = None,
    seconds: float = float("inf"),
) -> StudyResult:  # fmt: skip
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

    Raises
    ------
    LandwiseError

    Examples
    --------
    >>> from landwise.studies import run_study
    >>> from landwise.studyfile import study_from
    >>> gate = {"refs": ["U1"], "terminals": 5, "package": "SOT-23-5", "number": "1G08", "family": "LVC"}
    >>> chosen = choose_board(run_study(study_from({"part": [gate]})))
    >>> chosen.choice.best.status, chosen.parts[0].chosen.name
    ('optimal', 'SOT-5x3-5')
    """
    model = board_model(result, progress=progress)
    objective, problem, unit = objective_of(model)
    best = _best(model, problem, seconds, stop)
    choice = BoardChoice(model, best, objective, unit, None, _today(model))
    stopped = best.status == "stopped" or (stop is not None and stop())
    if best.found:
        choice = replace(choice, cost=model.problem.value(best.decision, best.choice))
        if not stopped:
            choice = _explained(choice, problem, stop)
        return _put_back(result, choice)
    if not stopped:
        names = conflict(model.problem)
        choice = replace(choice, conflict=names, relaxed=relaxations(model.problem, names))
    note = (
        f"no choice keeps every limit together: {', '.join(choice.conflict)} conflict"
        if choice.conflict
        else choice.proof
    )
    return replace(result, choice=choice, after=None, notes=(note, *result.notes))


def objective_of(model: BoardModel) -> tuple[str, Problem, str]:
    """What is minimised: its name, the choice with it as cost, and its unit.

    Notes
    -----
    "value" adds up, by the study's weights: money as a share of the cheapest board, area as a share of the
    smallest, and what is missing to full value of the other criteria, averaged over the placements.
    """
    want, money = model.bench.content.want, model.bench.content.costs.unit
    if isinstance(want.objective, list):
        axis = axis_named(model, want.objective[0] if want.objective else "")
        return "first " + ", then ".join(want.objective), _with(model.problem, axis), axis.unit
    if want.objective == "cost":
        return "cost per good board", model.problem, f"{money} per board"
    weights = model.bench.weights
    cheapest = solve(model.problem)
    smallest = solve(_with(model.problem, model.area))
    money_scale = max(cheapest.value, 1e-9) if cheapest.found else 1.0
    area_scale = max(smallest.value, 1e-9) if smallest.found else 1.0
    lost: Array = np.zeros(model.problem.cost.shape)
    places = sum(part.count for part in model.parts)
    for (d, p, k), option in model.judged.items():
        for criterion in CRITERIA.values():
            if criterion.name not in ("cost", "area"):
                value = option.figures[criterion.figure].value
                worth = 1.0 if value is None else float(criterion.value(np.array([value]))[0])
                lost[d, p, k] += weights[criterion.name] * (1 - worth) * model.parts[p].count / places
    cost = weights["cost"] * model.problem.cost / money_scale + weights["area"] * model.area.use / area_scale + lost
    shared = weights["cost"] * model.problem.shared_cost / money_scale
    return "weighted value", replace(model.problem, cost=cost, shared_cost=shared), "of value lost"


def axis_named(model: BoardModel, name: str) -> Axis:
    """Cost, area or risk.

    Raises
    ------
    InputError
        For any other name.
    """
    axes = {"cost": model.cost, AREA: model.area, RISK: model.risk}
    if name not in axes:
        raise InputError("no such objective", place="want, objective", found=name, expected=" | ".join(axes))
    return axes[name]


def _with(problem: Problem, axis: Axis) -> Problem:
    return replace(problem, cost=np.array(axis.use), shared_cost=axis.shared)


def _best(model: BoardModel, problem: Problem, seconds: float, stop: Stop | None) -> Solution:
    objective = model.bench.content.want.objective
    best = solve(problem, seconds=seconds, stop=stop)
    if not isinstance(objective, list):
        return best
    held = problem
    first = best
    for before, name in pairwise(objective):
        if best.status != "optimal":
            break
        axis = axis_named(model, before)
        reached = float(_total(model, axis, best))
        held = held.with_rows(
            Row(f"{before} as low as it gets", axis.use, reached + SAME * max(1.0, abs(reached)), axis.shared)
        )
        best = solve(_with(held, axis_named(model, name)), seconds=seconds, stop=stop)
    # Reported in the first objective, whose proof is the one that counts.
    value = problem.value(best.decision, best.choice) if best.found else best.value
    return replace(best, value=value, bound=min(first.bound, value))


def _total(model: BoardModel, axis: Axis, found: Solution) -> float:
    shape = model.problem.cost.shape
    use = np.broadcast_to(axis.use, shape)[found.decision, np.arange(shape[1]), list(found.choice)]
    return float(use.sum() + axis.shared[found.decision])


def _today(model: BoardModel) -> float | None:
    if -1 in model.present:
        return None
    first = model.decisions[0]
    same = [
        d for d, other in enumerate(model.decisions)
        if replace(other, inspection=first.inspection) == first
    ]  # fmt: skip
    hidden = next((ban.mask for ban in model.problem.bans if ban.name == "hidden joints"), None)
    at = np.arange(model.problem.parts), list(model.present)
    seen = [d for d in same if hidden is None or not hidden[(d, *at)].any()]
    return min(model.problem.value(d, model.present) for d in (seen or same))


def _explained(choice: BoardChoice, problem: Problem, stop: Stop | None) -> BoardChoice:
    model, best = choice.model, choice.best
    equal = tuple(
        model.says(d) for d in range(problem.decisions)
        if d != best.decision and problem.holds(d, best.choice)
        and abs(problem.value(d, best.choice) - best.value) <= SAME * max(1.0, abs(best.value))
    )  # fmt: skip
    second = runner_up(problem, best)
    axes = (model.cost, model.area) if not model.risk.use.any() else (model.cost, model.area, model.risk)
    points, complete = front(model.problem, axes, most=MOST_FRONT, stop=stop)
    if len(points) >= MOST_FRONT:
        points, complete = front(model.problem, axes[:2], points=SPACED_POINTS)
        axes = axes[:2]
    steps: tuple[Step, ...] = ()
    if choice.today is not None and problem is model.problem:
        steps = migration(problem, model.present, choice.today)
    return replace(
        choice, equal=tuple(dict.fromkeys(equal)), limits=limit_prices(problem, best),
        holds=_holds(choice, problem), alternatives=_alternatives(choice, problem),
        second=second if second.found else None, steps=steps, points=points, complete=complete,
        axes=tuple(axis.name for axis in axes),
        firm=firmness(model, best, points, stop=stop) if problem is model.problem else None,
    )  # fmt: skip


def _holds(choice: BoardChoice, problem: Problem) -> tuple[Hold, ...]:
    found = []
    for p, part in enumerate(choice.model.parts):
        price = part_price(problem, choice.best, p)
        if price.saved > SAME * max(1.0, abs(choice.best.value)) and price.freed.decision != choice.best.decision:
            found.append(Hold(part.name, price.saved, choice.model.says(price.freed.decision)))
    return tuple(sorted(found, key=lambda hold: -hold.saved))


def _alternatives(choice: BoardChoice, problem: Problem) -> tuple[Alternative, ...]:
    found = []
    for p, (part, names) in enumerate(zip(choice.model.parts[:MOST_ALTERNATIVES], choice.model.names, strict=False)):
        other = without_option(problem, p, choice.best.choice[p])
        if other.found:
            more = other.value - choice.best.value
            found.append(Alternative(part.name, names[other.choice[p]], more, choice.model.says(other.decision)))
    return tuple(found)


def _put_back(result: StudyResult, choice: BoardChoice) -> StudyResult:
    """The study's result with each part judged under the shared decision and set to its option."""
    model, best = choice.model, choice.best
    bench = _bench_of(model, best.decision, result)
    place = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    parts = []
    for part in result.parts:
        p = place.get(part.part.refs[0])
        again = judge_part(part.part, bench)
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
            after, cost=choice.cost, area_mm2=_total(model, model.area, best), foil_demand=choice.decision
        )  # fmt: skip
        before = replace(before, cost=choice.today)
    notes = tuple(note for note in result.notes if "not yet chosen together" not in note)
    return replace(
        result, line=bench.line, parts=tuple(parts), before=before, after=after, notes=notes, choice=choice
    )  # fmt: skip


def _bench_of(model: BoardModel, decision: int, result: StudyResult) -> Bench:
    bench = Bench.of(result.study)
    kind = model.decisions[decision].board
    board = bench.content.board.model_copy(update={"layers": kind.layers, "track": kind.track, "space": kind.space})
    bench.content = bench.content.model_copy(update={"board": board})
    bench.line = model.line_of(decision)
    return bench


def _set(part: PartResult, choice: BoardChoice, p: int) -> PartResult:
    model, best = choice.model, choice.best
    chosen = model.judged[best.decision, p, best.choice[p]]
    options = tuple(chosen if option.name == chosen.name else option for option in part.options)
    present = next((option for option in options if part.present and option.name == part.present.name), None)
    other = next((found for found in choice.alternatives if found.part == part.name), None)
    return replace(
        part, options=options, present=present, chosen=chosen, says=_says(part, chosen, choice, p),
        runner_up=_next(other, choice),
    )  # fmt: skip


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
