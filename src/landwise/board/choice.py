"""The whole board chosen at once: solved, proven and explained."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from landwise.board.alike import proposed_ahead
from landwise.board.answer import answered
from landwise.board.build import board_model
from landwise.board.chosen import BoardChoice
from landwise.board.equals import among_equals
from landwise.board.judged import choosable
from landwise.board.lasting import lasting_first
from landwise.board.model import BoardModel
from landwise.board.objective import Objective, best_of, objective_of
from landwise.board.placing import place_board
from landwise.board.reasons import Explainer
from landwise.board.regroup import Base, Regrouped, regroup
from landwise.board.result import BoardResult, each_by_itself, settled
from landwise.board.rivals import rivals_of
from landwise.board.scenarios import Scenarios, require_scenarios, robust_says, scenarios_of
from landwise.choosing.optimum.conflicts import conflict
from landwise.choosing.optimum.explain import relaxations
from landwise.choosing.optimum.model import Solution
from landwise.choosing.optimum.regret import pinned
from landwise.errors import LandwiseError
from landwise.judging.notes import Note, NoteKey
from landwise.judging.results import StudyResult
from landwise.memory import Memory

RELAX_SECONDS = 1.0  # for the least changes of all limits that conflict; only large boards need it
STOPPED_SECONDS = 5.0  # that the search may still take once the study was stopped while judging
Stop = Callable[[], bool]
Tell = Callable[[int, int, str], None]


def choose_board(
    result: StudyResult,
    *,
    stop: Stop | None = None,
    progress: Tell | None = None,
    seconds: float = float("inf"),
    memory: Memory | None = None,
    early: Callable[[BoardResult], object] | None = None,
    jobs: int = 1,
    reasons: bool = True,
) -> BoardResult:
    """Choose all parts and all they share at once.

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
    reasons : bool
        Whether to work out the reasons for the choice and its place on the board; without, only what is chosen and how
        sure it is, and options that were not chosen stay judged under today's line.

    Raises
    ------
    LandwiseError

    Examples
    --------
    >>> from landwise.judging.study import run_study
    >>> from landwise.study.file import study_from
    >>> gate = {"refs": ["U1"], "terminals": 5, "package": "SOT-23-5", "number": "1G08", "family": "LVC"}
    >>> two = [{"outline": "SOT-23-5", "price": 0.03}, {"outline": "SC-70-5", "price": 0.05}]
    >>> study = study_from({"part": [{**gate, "options": two}], "line": {"foil": "125 um"}})
    >>> chosen = choose_board(run_study(study))
    >>> chosen.choice.best.status, chosen.parts[0].chosen.name
    ('optimal', 'SOT-23-5')
    """
    tell: Tell = progress or _silent
    if not choosable(result):
        return _told(result, Note(key=NoteKey.NOTHING_TO_CHOOSE))
    try:
        require_scenarios(result.content)
    except LandwiseError as error:
        raise error.within(file=result.study.file) from None
    regrouped, base = None, None
    if result.content.regroup or result.content.want.regroup_within is not None:
        memory = memory or Memory()
        result, regrouped, base, told = regroup(result, memory=memory, stop=stop, tell=tell)
        if base is not None:
            result = replace(result, before=base.before)
        elif told:
            result = replace(
                result, notes=(*result.notes, *(Note(key=NoteKey.NOT_REGROUPED, says=one) for one in told))
            )
    within = Within(stop, tell, seconds, memory, early, jobs, reasons, regrouped, base)
    return replace(_chosen(result, within), regrouped=regrouped)


@dataclass(frozen=True)
class Within:
    """What a choice is made within, and the grouping it is made in."""

    stop: Stop | None
    tell: Tell
    seconds: float
    memory: Memory | None
    early: Callable[[BoardResult], object] | None
    jobs: int
    reasons: bool
    regrouped: Regrouped | None
    base: Base | None


def _chosen(result: StudyResult, within: Within) -> BoardResult:
    stop, tell, seconds, early, base = within.stop, within.tell, within.seconds, within.early, within.base
    model = board_model(
        result,
        stop=stop,
        memory=within.memory,
        jobs=within.jobs,
        progress=lambda done, whole, name: tell(done, whole, f"{name} under every shared decision"),
        today=None if base is None else base.today,
    )
    if model is None:
        result, model, seconds, stop = *_as_stopped(result, within), STOPPED_SECONDS, None
        within = replace(within, seconds=seconds)
    result = _lasting_first(result, model)
    aim = objective_of(model, None if base is None else base.counts)
    tell(0, len(model.decisions), "searching")
    best = best_of(aim, seconds=seconds, stop=stop, progress=_searching(tell, len(model.decisions)))
    choice = BoardChoice(model, best, aim.name, aim.unit, None, _today(model if base is None else base.model))
    if best.found:
        tell(0, 1, "how sure")
        plain, searched = aim.problem, best
        found = among_equals(model, aim, best, seconds=seconds, stop=stop)
        best, aim = found.best, found.aim
        choice = replace(choice, best=best, searched=searched, answer=found.answer, counts=aim.counts)
        choice = replace(choice, value=plain.value(best.decision, best.choice))
        choice = replace(choice, cost=model.problem.value(best.decision, best.choice))
        if not result.content.scenario:
            return _by_expected(result, within, choice, aim)
        compared = scenarios_of(
            result.study,
            model,
            aim,
            best,
            seconds=seconds,
            stop=stop,
            tell=tell,
            jobs=within.jobs,
        )
        if isinstance(compared, Scenarios) and compared.taken:
            return _robust(result, within, choice, aim, compared)
        return _beside(_by_expected(result, within, choice, aim), compared)
    if early is not None:
        early(_told(replace(result, after=None), Note(key=NoteKey.NO_CHOICE, says=choice.proof), choice))
    if best.status == "infeasible" and not (stop is not None and stop()):
        tell(0, 1, "which limits conflict")
        names = conflict(model.problem)
        choice = replace(choice, conflict=names, relaxed=relaxations(model.problem, names, seconds=RELAX_SECONDS))
    note = Note(key=NoteKey.NO_CHOICE, says=choice.proof)
    if choice.conflict:
        note = Note(key=NoteKey.LIMITS_CONFLICT, limits=tuple(model.limits[name] for name in choice.conflict))
        if unsettled := tuple(model.limits[one.name] for one in choice.relaxed if one.needed is None and one.helps):
            result = replace(result, notes=(Note(key=NoteKey.CHANGE_NOT_SETTLED, limits=unsettled), *result.notes))
    return _told(replace(result, after=None), note, choice)


def _as_stopped(result: StudyResult, within: Within) -> tuple[StudyResult, BoardModel]:
    """What is left of a study that was stopped while judging: the choice under today's shared decision alone."""
    base = within.base
    today = None if base is None else base.today
    model = board_model(result, memory=within.memory, today=today, only_today=True)
    assert model is not None  # nothing stops it
    return replace(result, notes=(Note(key=NoteKey.STOPPED_EARLY), *result.notes)), model


def _by_expected(result: StudyResult, within: Within, choice: BoardChoice, aim: Objective) -> BoardResult:
    """The board of least expected cost, explained as far as time and wishes allow."""
    stop, tell, early, model, best = within.stop, within.tell, within.early, choice.model, choice.best
    if early is not None:
        first = settled(result, replace(choice, left_out=tuple(Explainer.STAGES)), judged_again=False)
        early(replace(first, regrouped=within.regrouped))
    if not within.reasons:
        return settled(result, replace(choice, left_out=tuple(Explainer.STAGES)), judged_again=False)
    if best.status == "optimal":
        choice = Explainer(aim, stop).explained(choice, tell)
    else:
        choice = replace(choice, left_out=tuple(Explainer.STAGES))
    tell(0, 1, "room on the board")
    placing = place_board(model, best, result.parts, points=choice.points, differs=choice.differences, stop=stop)
    choice = replace(choice, placing=placing)
    return settled(result, choice, judged_again=stop is None or not stop())


def _robust(result: StudyResult, within: Within, choice: BoardChoice, aim: Objective, found: Scenarios) -> BoardResult:
    """The board of the smallest worst regret: every reason for it stands in the comparison of scenarios."""
    best = best_of(replace(aim, problem=pinned(aim.problem, found.choice)))
    if not best.found:
        says = "the choice of least worst regret keeps no limit of the study's own line: state the line of a scenario"
        return _beside(_told(replace(result, after=None), Note(key=NoteKey.NO_CHOICE, says=says)), found)
    model = choice.model
    robust = replace(
        choice,
        best=best,
        searched=None,
        answer=None,
        counts={},
        objective="smallest worst regret",
        cost=model.problem.value(best.decision, best.choice),
        robust=robust_says(found, model.bench.content.costs.unit),
    )
    placing = place_board(model, best, result.parts, points=(), differs=robust.differences, stop=within.stop)
    return _beside(settled(result, replace(robust, placing=placing), judged_again=within.reasons), found)


def _beside(result: BoardResult, compared: Scenarios | str) -> BoardResult:
    """A result with its scenarios, or a note on why they could not be weighed."""
    if isinstance(compared, Scenarios):
        return replace(result, scenarios=compared)
    note = Note(key=NoteKey.NOT_COMPARED, says=f"the scenarios are not weighed: {compared}")
    return replace(result, judged=replace(result.judged, notes=(note, *result.judged.notes)))


def rank_each(
    result: StudyResult, *, memory: Memory | None = None, jobs: int = 1, stop: Stop | None = None
) -> BoardResult:
    """Each part by itself, by the same money and rules: the others are held at today's packages.

    Where a package in use is not known, or today's board keeps no limit, the parts are held at the board's best.

    Parameters
    ----------
    result : StudyResult
        From `run_study`.
    memory : Memory, optional
    jobs : int
        Processes to share the judging between.
    stop : callable, optional
        True ends the judging; the parts then stand under today's shared decision.
    """
    if not choosable(result):
        return _told(result, Note(key=NoteKey.NOTHING_TO_CHOOSE))
    model = board_model(result, memory=memory, jobs=jobs, stop=stop)
    if model is None:
        within = Within(stop, _silent, STOPPED_SECONDS, memory, None, jobs, False, None, None)
        result, model = _as_stopped(result, within)
    result = _lasting_first(result, model)
    aim = objective_of(model)
    held = _held_today(model) or best_of(aim)
    if not held.found:
        return _told(result, Note(key=NoteKey.EACH_BY_ITSELF))
    if result.content.regroup or result.content.want.regroup_within is not None:
        says = (
            "each part stands by itself, as it is grouped: without --each, [[regroup]] is weighed with the whole board"
        )
        result = replace(result, notes=(Note(key=NoteKey.NOT_REGROUPED, says=says), *result.notes))
    rivals = rivals_of(model, held, aim.lost, proposed_ahead(model, held))
    return each_by_itself(result, model, held, answered(model, held, aim.lost, rivals))


def _held_today(model: BoardModel) -> Solution | None:
    """Today's board under the shared decision that is best for it; None where it is not known or keeps no limit."""
    if -1 in model.present:
        return None
    problem = model.problem
    fits = [d for d in range(problem.decisions) if problem.holds(d, model.present)]
    if not fits:
        return None
    best = min(fits, key=lambda d: problem.value(d, model.present))
    value = problem.value(best, model.present)
    return Solution("optimal", model.present, best, value, value)


def _lasting_first(result: StudyResult, model: BoardModel) -> StudyResult:
    """A result whose options tell first what keeps them out under every shared decision."""
    return replace(result, parts=tuple(lasting_first(part, model.lasting) for part in result.parts))


def _told(result: StudyResult, note: Note, choice: BoardChoice | None = None) -> BoardResult:
    """A result whose parts stay as they were, and a note on why."""
    return BoardResult(replace(result, notes=(note, *result.notes)), choice)


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
    under = model.today_under
    return None if under is None else model.problem.value(under, model.present)
