"""Several boards with one stock of parts: every outline is brought in once for all of them, and bought together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from landwise.board.choice import choose_board
from landwise.board.chosen import BoardChoice
from landwise.board.equals import keeping_equals
from landwise.board.model import BoardModel, board_bench
from landwise.board.money import OUTLINE_CHARGE, stocked_of
from landwise.board.objective import objective_of
from landwise.choosing.optimum.family import Family, Together, solve_family
from landwise.choosing.optimum.model import Problem, Solution
from landwise.errors import InputError
from landwise.judging.buying import pieces_here
from landwise.judging.notes import NoteKey
from landwise.judging.results import OptionResult, PartResult
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import Study
from landwise.study.parttable import PartTable

MOST_ROUNDS = 4  # of counting the pieces of price breaks anew
Stop = Callable[[], bool]
Tell = Callable[[int, int, str], None]
Number = tuple[str, str]  # family in capitals, generic number
Counted = Mapping[tuple[int, Number], int]  # pieces that the other boards buy of a board's number


@dataclass(frozen=True)
class Member:
    """One board of a family.

    Parameters
    ----------
    name : str
    study : Study
        As it was read, without grouping and scenarios.
    priced : BoardChoice
        Its options, at prices of the pieces that the family buys.
    alone, together : Solution
        Its choice if it were the only product, and its part of the family's choice.
    cost_alone, cost : float
        What one board costs beside the outlines that are brought in, with either choice. [money per board]
    """

    name: str
    study: Study
    priced: BoardChoice
    alone: Solution
    together: Solution
    cost_alone: float
    cost: float

    @property
    def model(self) -> BoardModel:
        """Its options and what they cost."""
        return self.priced.model

    @property
    def run(self) -> int:
        """How many of it are built."""
        return self.study.content.costs.run

    def rows(self) -> Iterator[tuple[PartResult, str, OptionResult]]:
        """Each part with its outline chosen alone and its option chosen together."""
        return zip(self.model.parts, self.outlines(self.alone), self.options(self.together), strict=True)

    def options(self, found: Solution) -> tuple[OptionResult, ...]:
        """Each part's judged option under a choice."""
        return tuple(self.model.judged[found.decision, p, k] for p, k in enumerate(found.choice))

    def outlines(self, found: Solution) -> tuple[str, ...]:
        """Outline of each part under a choice."""
        return tuple(names[k] for names, k in zip(self.model.names, found.choice, strict=True))


@dataclass(frozen=True)
class FamilyResult:
    """A family's choice.

    Parameters
    ----------
    members : tuple of Member
    unit : str
        Of money.
    outlines : mapping of str to float
        What bringing in each outline costs, once for all boards; 0 where an existing board has it. [money]
    together : Together
        The proof.
    apart, shared, value : float
        What all boards cost over their runs: chosen alone and paid alone; the same packages with what is brought in
        paid once; and chosen together. [money]
    told : tuple of str
        What was left out or assumed.
    halted : tuple of str
        Boards that were not judged to the end before it was stopped.
    """

    members: tuple[Member, ...]
    unit: str
    outlines: Mapping[str, float]
    together: Together
    apart: float
    shared: float
    value: float
    told: tuple[str, ...]
    halted: tuple[str, ...] = ()

    def used(self, *, alone: bool) -> tuple[str, ...]:
        """Outlines on the boards, by either choice."""
        names = [name for one in self.members for name in one.outlines(one.alone if alone else one.together)]
        return tuple(dict.fromkeys(names))


def choose_family(
    boards: Mapping[str, Study],
    *,
    memory: Memory | None = None,
    seconds: float = float("inf"),
    stop: Stop | None = None,
    progress: Tell | None = None,
    jobs: int = 1,
) -> FamilyResult:
    """Choose the packages of several boards that are built from one stock.

    Parameters
    ----------
    boards : mapping of str to Study
        The boards by name; each with its own run, line and limits.
    memory : Memory, optional
    seconds : float
        Time for the search over the family.
    stop : callable, optional
        True ends judging and search; the best so far is kept. Parts not yet judged stay as they are, and their board is
        chosen under today's line.
    progress : callable, optional
        Called with (done, in all, what).
    jobs : int
        Processes to share the judging of large boards between.

    Raises
    ------
    LandwiseError
        For fewer than two boards, boards in different money, boards that are not chosen for money, and a board that no
        choice fits.

    Notes
    -----
    What is shared is what an outline costs to bring in (the rate `outline`, paid once for the family; nothing where an
    existing board carries it) and the pieces that a price break counts. All else is each board's own. A break counts
    the pieces of one part number on all boards that take it in the same package; since that is known only after the
    choice, it is counted, chosen and counted again until both agree, so the proof holds at the prices of these pieces.
    """
    memory, tell = memory or Memory(), progress or (lambda *_: None)
    told = _require(boards)
    studies = tuple(_plain(study) for study in boards.values())
    over = stop or (lambda: False)
    alone: list[BoardChoice] = []
    halted: list[str] = []
    for n, (name, study) in enumerate(zip(boards, studies, strict=True)):
        tell(n, len(studies) + 1, name)
        choice, whole = _alone(name, study, memory, jobs, stop)
        alone.append(choice)
        halted += [] if whole else [name]
    tell(len(studies), len(studies) + 1, "together")
    terms = _Terms(tuple(boards), studies, tuple(alone), seconds, stop)
    if halted or not any(_has_breaks(study) for study in studies):
        at_once = _together(terms, alone)
        return replace(at_once, told=(*told, *at_once.told), halted=tuple(halted))
    counted = _pieces(studies)
    found: FamilyResult | None = None
    for _ in range(MOST_ROUNDS):
        choices = [
            _alone(name, _bought(study, n, counted), memory, jobs, stop)
            for n, (name, study) in enumerate(zip(boards, studies, strict=True))
        ]
        if not all(whole for _, whole in choices):
            break  # half a round says nothing: what was found before it stays
        priced = [choice for choice, _ in choices]
        found = _together(terms, priced)
        again = _pieces(studies, [one.outlines(one.together) for one in found.members], priced)
        if again == counted or over():
            break
        counted = again
    else:
        told.append(
            f"price breaks did not settle in {MOST_ROUNDS} rounds: a number that comes in different packages on"
            " different boards is counted as in the round before"
        )
    if found is None:
        found = _together(terms, alone)
        told.append(
            "stopped before the pieces of all boards were counted together: price breaks count each board's own"
        )
    return replace(found, told=(*told, *found.told))


@dataclass(frozen=True)
class _Terms:
    """What a family is chosen within: the boards, their choices alone, and the time."""

    names: tuple[str, ...]
    studies: tuple[Study, ...]
    alone: tuple[BoardChoice, ...]
    seconds: float
    stop: Stop | None


def _require(boards: Mapping[str, Study]) -> list[str]:
    if len(boards) < 2:
        raise InputError(
            "a family wants two boards or more", found=str(len(boards)), expected="two study files or more"
        )
    units = {study.content.costs.unit: name for name, study in boards.items()}
    if len(units) > 1:
        raise InputError(
            "boards of one family are counted in one money",
            place="[costs] unit",
            found=", ".join(f"{unit} ({name})" for unit, name in units.items()),
            expected="the same unit in every study",
        )
    told = []
    for name, study in boards.items():
        if study.content.scenario:
            told.append(f"{name}: chosen for expected cost; its [[scenario]] tables are weighed by landwise study")
        if study.content.regroup or study.content.want.regroup_within is not None:
            told.append(f"{name}: chosen in the packages that it has today; [[regroup]] is worked by landwise study")
    return told


def _plain(study: Study) -> Study:
    """The study without what landwise study alone works: grouping and scenarios."""
    want = study.content.want.model_copy(update={"regroup_within": None, "choose_for": "expected"})
    update = {"regroup": [], "scenario": [], "want": want}
    return replace(study, content=study.content.model_copy(update=update))


def _has_breaks(study: Study) -> bool:
    """Whether some price depends on the pieces bought."""
    return any(
        isinstance(part.options, list) and any(len(option.prices) > 1 for option in part.options)
        for part in study.content.part
    ) or bool(study.content.offer)


def _number(part: PartTable) -> Number | None:
    return (part.family.upper(), part.number) if part.number and part.fitted else None


def _pieces(
    studies: Sequence[Study],
    outlines: Sequence[Sequence[str]] | None = None,
    choices: Sequence[BoardChoice] = (),
) -> Counted:
    """Pieces that the other boards buy of each board's numbers: of all, or of those in the same package."""
    bought: dict[tuple[int, Number], int] = {}
    package: dict[tuple[int, Number], str] = {}
    for n, study in enumerate(studies):
        for part in study.content.part:
            if number := _number(part):
                bought[n, number] = pieces_here(study.content, part)
        if outlines is not None:
            for judged, name in zip(choices[n].model.parts, outlines[n], strict=True):
                if number := _number(judged.part):
                    package[n, number] = name
    return {
        (n, number): sum(
            pieces
            for (other, same), pieces in bought.items()
            if other != n and same == number and package.get((other, same)) == package.get((n, number))
        )
        for n, number in bought
    }


def _bought(study: Study, n: int, counted: Counted) -> Study:
    """The study with what the other boards buy of its numbers."""
    parts = [
        part.model_copy(update={"also_bought": part.also_bought + counted.get((n, number), 0)})
        if (number := _number(part))
        else part
        for part in study.content.part
    ]
    return replace(study, content=study.content.model_copy(update={"part": parts}))


def _alone(name: str, study: Study, memory: Memory, jobs: int, stop: Stop | None) -> tuple[BoardChoice, bool]:
    """One board's choice if it were the only product, and whether every option of it was judged."""
    result = run_study(study, bench=board_bench(study, memory), stop=stop)
    chosen = choose_board(result, stop=stop, memory=memory, jobs=jobs, reasons=False)
    halted = {NoteKey.NOT_JUDGED, NoteKey.STOPPED_EARLY} & {note.key for note in chosen.notes}
    if chosen.choice is None or not chosen.choice.best.found:
        raise InputError(
            "no choice fits this board alone",
            file=study.file,
            place=name,
            expected="a board that `landwise study` chooses",
            found="stopped while it was judged, and today's line fits none" if halted else "",
        )
    return chosen.choice, not halted


def _together(terms: _Terms, choices: Sequence[BoardChoice]) -> FamilyResult:
    """The boards' choice together, at the prices of these choices alone."""
    models = [choice.model for choice in choices]
    runs = tuple(float(study.content.costs.run) for study in terms.studies)
    once, places = _shared(models)
    aims = tuple(_aimed(name, choice) for name, choice in zip(terms.names, choices, strict=True))
    found = solve_family(Family(aims, runs, tuple(once.values()), places), seconds=terms.seconds, stop=terms.stop)
    # The objective may hold today's package ahead and weigh more than money; what is told is money alone.
    money = Family(tuple(model.problem for model in models), runs, tuple(once.values()), places)
    alone = tuple(_in_order_of(model, choice) for model, choice in zip(models, terms.alone, strict=True))
    together = found.choices or alone
    own, own_alone = money.own(together), money.own(alone)
    return FamilyResult(
        members=tuple(
            Member(name, study, choice, kept, one, float(own_alone[n]), float(own[n]))
            for n, (name, study, choice, kept, one) in enumerate(
                zip(terms.names, terms.studies, choices, alone, together, strict=True)
            )
        ),
        unit=terms.studies[0].content.costs.unit,
        outlines=MappingProxyType(once),
        together=found,
        apart=sum(
            run * one.model.problem.value(one.best.decision, one.best.choice)
            for run, one in zip(runs, terms.alone, strict=True)
        ),
        shared=money.value(alone),
        value=money.value(together),
        told=(*_rates_told(models), *_open_told(terms.names, choices)),
    )


def _in_order_of(model: BoardModel, choice: BoardChoice) -> Solution:
    """A board's own choice by the option numbers of another pricing of it, which may rank them otherwise."""
    names = (own[k] for own, k in zip(choice.model.names, choice.best.choice, strict=True))
    return replace(choice.best, choice=tuple(own.index(name) for own, name in zip(model.names, names, strict=True)))


def _aimed(name: str, choice: BoardChoice) -> Problem:
    """What a board minimises, in money per board; today's package ahead among equals."""
    aim = objective_of(choice.model)
    if aim.money is None or aim.then:
        raise InputError(
            "a family is chosen for money",
            place=f"{name}, [want] objective",
            found=aim.name,
            expected='objective = "cost" or "value"',
        )
    return keeping_equals(choice.model, aim.problem, choice.answer) if choice.answer is not None else aim.problem


def _shared(models: Sequence[BoardModel]) -> tuple[dict[str, float], tuple[tuple[int, ...], ...]]:
    """What each outline costs once, and where each board charges for it."""
    charged = [
        {charge.name: at for at, charge in enumerate(model.problem.charges) if charge.name.startswith(OUTLINE_CHARGE)}
        for model in models
    ]
    stocked = {
        f"{OUTLINE_CHARGE} {name}"
        for model in models
        for name in stocked_of(model.bench.content.board, model.today or model.parts)
    }
    price = max(model.bench.rates["outline"].value for model in models)
    names = list(dict.fromkeys(name for some in charged for name in some))
    once = {name.removeprefix(f"{OUTLINE_CHARGE} "): 0.0 if name in stocked else price for name in names}
    return once, tuple(tuple(some.get(name, -1) for name in names) for some in charged)


def _open_told(names: Sequence[str], choices: Sequence[BoardChoice]) -> list[str]:
    """Parts that are not decided on their board alone: no stock makes them surer."""
    told = []
    for name, choice in zip(names, choices, strict=True):
        kinds = () if choice.answer is None else choice.answer.parts
        unsure = [one.part for one in kinds if one.kind == "not decided"]
        if unsure:
            told.append(f"{name}: {', '.join(unsure)} not decided alone either; landwise study says what that hangs on")
    return told


def _rates_told(models: Sequence[BoardModel]) -> tuple[str, ...]:
    stated = sorted({model.bench.rates["outline"].value for model in models})
    if len(stated) < 2:
        return ()
    values = ", ".join(f"{value:g}" for value in stated)
    return (f"the studies state different rates for another outline ({values}): the highest is paid, once",)
