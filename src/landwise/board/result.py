"""The board's result: what was judged part by part, with the choice for the whole board around it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from landwise.assembly.lines import Line
from landwise.board.answer import BoardAnswer
from landwise.board.chosen import Alternative, BoardChoice, Hold
from landwise.board.judged import rates_of
from landwise.board.lasting import lasting_first
from landwise.board.model import BoardModel, content_with
from landwise.board.objective import total
from landwise.board.regroup import Regrouped
from landwise.board.scenarios import Scenarios
from landwise.choosing.optimum.model import Solution
from landwise.costs.rates import Rate
from landwise.judging.bench import Bench
from landwise.judging.notes import Note, NoteKey
from landwise.judging.option import under_plan
from landwise.judging.part import judge_part, notes_with
from landwise.judging.results import BoardTotals, OptionResult, PartResult, StudyResult
from landwise.judging.totals import totals
from landwise.quantities import significant
from landwise.study.file import Study, StudyFile

LEAST_HOLD = 1e-3  # share of the board's cost that a part must hold it back by to be told


@dataclass(frozen=True)
class BoardResult:
    """A study's result with the choice for the whole board.

    Parameters
    ----------
    judged : StudyResult
        Each part judged under the shared decision and set to its option; as it was ranked alone where no choice was
        made.
    choice : BoardChoice or None
        None where the parts were only ranked one by one.
    regrouped : Regrouped or None
        What each way to package gates costs, where they may be regrouped.
    scenarios : Scenarios or None
        What the choice costs in each scenario of the study, and its regret there.
    """

    judged: StudyResult
    choice: BoardChoice | None = None
    regrouped: Regrouped | None = None
    scenarios: Scenarios | None = None

    @property
    def study(self) -> Study:
        """The study."""
        return self.judged.study

    @property
    def content(self) -> StudyFile:
        """The study file's content."""
        return self.judged.content

    @property
    def line(self) -> Line:
        """The line as the shared decision sets it up."""
        return self.judged.line

    @property
    def rates(self) -> Mapping[str, Rate]:
        """The cost rates."""
        return self.judged.rates

    @property
    def weights(self) -> Mapping[str, float]:
        """The weights of the criteria."""
        return self.judged.weights

    @property
    def parts(self) -> tuple[PartResult, ...]:
        """Every part, set to its option of the choice."""
        return self.judged.parts

    @property
    def before(self) -> BoardTotals | None:
        """Totals of today's board."""
        return self.judged.before

    @property
    def after(self) -> BoardTotals | None:
        """Totals of the chosen board; None where there is none."""
        return self.judged.after

    @property
    def notes(self) -> tuple[Note, ...]:
        """What to know of the study as a whole."""
        return self.judged.notes

    @property
    def version(self) -> str:
        """Of landwise."""
        return self.judged.version

    def part(self, reference: str) -> PartResult:
        """The part that sits at a reference.

        Raises
        ------
        InputError
        """
        return self.judged.part(reference)

    def wins(self, part: PartResult) -> float | None:
        """Share of joint draws in which a part's choice is the cheapest, the other parts held."""
        if part.chosen is None:
            return None
        if part.standing is not None:
            return part.standing.wins.get(part.chosen.name)
        return None


def board_result(result: StudyResult | BoardResult) -> BoardResult:
    """A result for those that write one, whether the board was chosen or each part ranked alone."""
    return result if isinstance(result, BoardResult) else BoardResult(result)


def settled(result: StudyResult, choice: BoardChoice, *, judged_again: bool = True) -> BoardResult:
    """The board's result: each part judged under the shared decision and set to its option.

    Without judging again, options that were not chosen, and rankings, stay those of today's line.
    """
    model, best = choice.model, choice.best
    bench = _bench_of(model, best.decision, result)
    place = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    parts = []
    for part in result.parts:
        p = place.get(part.part.refs[0])
        again = part
        if judged_again:
            again = lasting_first(replace(judge_part(part.part, bench), beside=part.beside), model.lasting)
        parts.append(again if p is None else _set(again, choice, p, bench))
    fresh = {part.part.refs[0] for part in result.parts if part.beside}
    known = [
        part
        for part in parts
        if part.part.refs[0] in place
        and part.chosen is not None
        and (part.present is not None or part.part.refs[0] in fresh)
    ]
    after = totals([(part.chosen, part.count) for part in known if part.chosen], bench) if known else None
    before = result.before
    if before is not None and after is not None and choice.today is not None and choice.cost is not None:
        after = replace(
            after, cost=choice.cost, area_mm2=total(model.problem, model.area, best), foil_demand=choice.decision
        )
        under = model.today_under
        before = replace(
            before, cost=choice.today, foil_demand=before.foil_demand if under is None else model.says(under)
        )
    notes = tuple(note for note in result.notes if note.key != NoteKey.NOT_TOGETHER)
    judged = replace(result, line=bench.line, parts=tuple(parts), before=before, after=after, notes=notes)
    return BoardResult(judged, choice)


def each_by_itself(result: StudyResult, model: BoardModel, held: Solution, answer: BoardAnswer) -> BoardResult:
    """Each part set to the first of its answer, the others held; no choice for the whole board is made."""
    place = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    bench = _bench_of(model, held.decision, result)
    parts = []
    for part in result.parts:
        p = place.get(part.part.refs[0])
        parts.append(part if p is None else _alone(part, model, held, answer, p, bench))
    known = [part for part in parts if part.present is not None and part.chosen is not None and part.part.fitted]
    after = totals([(part.chosen, part.count) for part in known if part.chosen], bench) if known else None
    return BoardResult(replace(result, parts=tuple(parts), after=after))


def _alone(
    part: PartResult, model: BoardModel, held: Solution, answer: BoardAnswer, p: int, bench: Bench
) -> PartResult:
    own, standing = answer.parts[p], answer.standings[p]
    names = model.names[p]
    options = {name: under_plan(model.judged[held.decision, p, k], bench) for k, name in enumerate(names)}
    options |= _as_compared(model, answer, p)
    options = {option.name: option for option in _with(part.options, options)}
    place = {name: n for n, name in enumerate(standing.order)}
    ordered = tuple(sorted(options.values(), key=lambda option: place.get(option.name, len(place))))
    chosen = options[own.options[0]]
    saved = f"{part.present.name} in use" if part.present else ""
    set_ = replace(
        part,
        options=ordered,
        present=options.get(part.present.name) if part.present else None,
        chosen=chosen,
        standing=standing,
        notes=notes_with(part.notes, chosen),
        says=f"{chosen.name}: {own.kind}" + (f"; {saved}" if saved else "") + (", locked" if part.part.locked else ""),
        runner_up=f"{standing.order[1]} comes next" if len(standing.order) > 1 else "no other option fits the limits",
    )
    return lasting_first(set_, model.lasting)


def _bench_of(model: BoardModel, decision: int, result: StudyResult) -> Bench:
    bench = Bench.of(result.study, model.bench.memory)
    content = content_with(bench.content, model.decisions[decision].board)
    # A bench of its own: what it has worked out by now follows from the line as it was.
    chosen = model.decisions[decision]
    return replace(
        bench,
        content=content,
        line=model.line_of(decision),
        rates=rates_of(bench, chosen),
        stated_plan=chosen.plan,
        _worked={},
    ).remembering()


def _as_compared(model: BoardModel, answer: BoardAnswer, p: int) -> dict[str, OptionResult]:
    """The options of a part as they are where they are compared: under the decision they come with, on its foil."""
    found: dict[str, OptionResult] = {}
    benches: dict[int, Bench] = {}
    for k, (name, d) in enumerate(zip(model.names[p], answer.decisions[p], strict=True)):
        if d < 0:
            continue
        if d not in benches:
            decision = model.decisions[d]
            rates = rates_of(model.bench, decision)
            benches[d] = replace(model.bench, stated_plan=decision.plan, rates=rates, _worked={})
        found[name] = under_plan(model.judged[d, p, k], benches[d])
    return found


def _set(part: PartResult, choice: BoardChoice, p: int, bench: Bench) -> PartResult:
    model, best = choice.model, choice.best
    chosen = under_plan(model.judged[best.decision, p, best.choice[p]], bench)
    compared = {} if choice.answer is None else _as_compared(model, choice.answer, p)
    options = _with(part.options, {**compared, chosen.name: chosen})
    chosen = next(option for option in options if option.name == chosen.name)
    other = next((found for found in choice.alternatives if found.ref == part.part.refs[0]), None)
    standing = None if choice.answer is None else choice.answer.standings[p]
    if standing is not None:
        place = {name: n for n, name in enumerate(standing.order)}
        options = tuple(sorted(options, key=lambda option: place.get(option.name, len(place))))
    return replace(
        part,
        standing=standing,
        options=options,
        present=next((option for option in options if part.present and option.name == part.present.name), None),
        chosen=chosen,
        notes=notes_with(part.notes, chosen),
        says=_says(part, chosen, choice, p),
        runner_up=_next(other, choice) if choice.robust is None else choice.robust,
    )


def _with(options: Sequence[OptionResult], others: Mapping[str, OptionResult]) -> tuple[OptionResult, ...]:
    """Options with some judged otherwise; what else their lands take is told of lands, which stay."""
    return tuple(
        replace(others[one.name], also_takes=one.also_takes, choice_worth=one.choice_worth)
        if one.name in others
        else one
        for one in options
    )


def _says(part: PartResult, chosen: OptionResult, choice: BoardChoice, p: int) -> str:
    bits = []
    if part.present and part.present.name != chosen.name:
        saved = part.present.area_mm2 - chosen.area_mm2
        bits.append(
            f"{significant(abs(saved))} mm² {'less' if saved >= 0 else 'more'} board than the"
            f" {part.present.name} in use"
        )
    elif part.present:
        bits.append("already in use" + (", locked" if part.part.locked else ""))
    if choice.model.steps[choice.best.decision, p, choice.best.choice[p]]:
        bits.append("printed in a step-down zone")
    hold = next((found for found in choice.holds if found.ref == part.part.refs[0]), None)
    if hold and _tells(hold, choice):
        bits.append(f"alone it holds the board at {choice.decision}: {significant(hold.saved)} {choice.unit}")
    figure = chosen.figures["transfer"]
    if figure.value is not None:
        bits.append(f"paste transfers {figure.value:.0%} on the worst land ({figure.verdict})")
    return f"{chosen.name}: " + "; ".join(bits)


def _tells(hold: Hold, choice: BoardChoice) -> bool:
    """Whether it is worth a word: one part of several that costs the board what a reader would notice."""
    return len(choice.model.parts) > 1 and hold.saved >= LEAST_HOLD * (choice.cost or 0.0)


def _next(other: Alternative | None, choice: BoardChoice) -> str:
    if other is None:
        return "no other option fits the limits"
    own = other.decision in (choice.best.decision, *choice.equal)
    decisions = choice.model.decisions
    shared = "" if own else f" and takes {decisions[other.decision].beside(decisions[choice.best.decision])}"
    return f"{other.option} instead costs the board {difference_says(other.more, choice.unit)}{shared}"


def difference_says(more: float, unit: str) -> str:
    """What another option costs more; less only where it is an equal of today's package, which then stays.

    >>> difference_says(0.012, "EUR"), difference_says(-0.002, "EUR")
    ('0.012 EUR more', '0.002 EUR less, within what is known')
    """
    if more < 0:
        return f"{significant(-more)} {unit} less, within what is known"
    return f"{significant(more)} {unit} more"
