"""The study's scenarios: what each would choose by itself, what one choice for all of them costs, and its regret.

The packages are settled once, the class of board with them, for one layout serves every scenario; foil, steps, powder
and the plan of inspection are settled anew in each, since another assembler sets up a line of its own.

Longer than other modules: reading a scenario, weighing it and telling what came out share its few terms.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from landwise.board.build import board_model
from landwise.board.model import BoardModel, board_bench
from landwise.board.objective import Objective, lost_by
from landwise.choosing.optimum.model import Ban, Problem, Solution
from landwise.choosing.optimum.regret import Regret, Scenario, costs_of, least_regret
from landwise.errors import InputError, LandwiseError
from landwise.judging.study import run_study
from landwise.outlines import Outline, find
from landwise.study.file import LineTable, PartTable, ScenarioTable, Study, StudyFile
from landwise.study.linefile import read_line_file
from landwise.study.plainwords import plainly

Kind = TypeVar("Kind", bound=np.generic)
Stop = Callable[[], bool]
Tell = Callable[[int, int, str], None]
NOT_THERE = "not offered here"
PRESETS = ("ordinary", "fine", "bench")


@dataclass(frozen=True)
class ScenarioCost:
    """One scenario: its own best board, and what the choices for all cost in it.

    Parameters
    ----------
    name : str
    differs : tuple of str
        What it changes in the study, in words.
    own : mapping of str to str
        Outline of each part of its own best board, by first reference.
    own_decision, decision : str
        What its parts share, on its own best board and with the robust choice.
    own_cost, cost, regret : float
        Money per board of its own best, of the robust choice, and the difference.
    expected : float or None
        The regret of the choice by expected cost alone; None where that breaks a limit in this scenario.
    """

    name: str
    differs: tuple[str, ...]
    own: Mapping[str, str]
    own_decision: str
    decision: str
    own_cost: float
    cost: float
    regret: float
    expected: float | None


@dataclass(frozen=True)
class Scenarios:
    """The choice with the smallest worst regret beside the choice by expected cost.

    Parameters
    ----------
    rows : tuple of ScenarioCost
    robust, expected : mapping of str to str
        Outline of each part in the choice of least worst regret, and in that by the study's expected cost.
    worst, bound : float
        Largest regret of the robust choice, and what no choice brings it below. [money per board]
    proven : bool
    gives_up : float or None
        What the robust choice costs more in the study as it stands; None where it breaks a limit there.
    taken : bool
        Whether the study asked for it.
    choice : tuple of int
        The robust choice by option numbers of the study's own model.
    """

    rows: tuple[ScenarioCost, ...]
    robust: Mapping[str, str]
    expected: Mapping[str, str]
    worst: float
    bound: float
    proven: bool
    gives_up: float | None
    taken: bool
    choice: tuple[int, ...]

    @property
    def expected_worst(self) -> float | None:
        """Largest regret of the choice by expected cost; None where it breaks a limit in some scenario."""
        found = [row.expected for row in self.rows]
        return None if None in found else max(one for one in found if one is not None)

    @property
    def moved(self) -> tuple[str, ...]:
        """First references of the parts in which the two choices differ."""
        return tuple(ref for ref, name in self.robust.items() if self.expected[ref] != name)


def require_scenarios(content: StudyFile) -> None:
    """Nothing, where the scenarios of a study can be weighed.

    Raises
    ------
    InputError
        For a wish that scenarios can't serve.
    """
    want, names = content.want, [one.name for one in content.scenario]
    if want.choose_for == "regret" and len(names) < 2:
        raise InputError(
            "a regret is weighed over scenarios",
            place="want, choose_for",
            found=f"{len(names)} [[scenario]] tables",
            expected="two or more; one without changes stands for the study as it is",
        )
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError("two scenarios of one name", place="[[scenario]], name", found=twice)
    if not names:
        return
    if isinstance(want.objective, list):
        raise InputError(
            "scenarios are weighed in money",
            place="want, objective",
            found=", ".join(want.objective),
            expected='"cost" or "value" where there are [[scenario]] tables',
        )
    if content.regroup or want.regroup_within is not None:
        raise InputError(
            "scenarios weigh packages, not groupings",
            place="[[scenario]]",
            expected="no [[regroup]] and no want.regroup_within beside them: settle the grouping first",
        )


def scenarios_of(
    study: Study,
    model: BoardModel,
    aim: Objective,
    best: Solution,
    *,
    seconds: float = float("inf"),
    stop: Stop | None = None,
    tell: Tell | None = None,
    jobs: int = 1,
) -> Scenarios | str:
    """What every scenario costs, and the choice that none of them makes one regret much.

    Parameters
    ----------
    study : Study
    model : BoardModel
        Of the study as it stands.
    aim : Objective
        Of the study as it stands.
    best : Solution
        The choice by expected cost.
    seconds : float
        Time for the search; judging the scenarios is ended by `stop` alone.

    Returns
    -------
    scenarios : Scenarios or str
        In words why not, where nothing serves all scenarios or the work was stopped.

    Raises
    ------
    LandwiseError
        For a scenario that can't be read, naming it.
    """
    tables, over, memory = study.content.scenario, stop or (lambda: False), model.bench.memory
    made: list[Scenario] = []
    models: list[BoardModel] = []
    for number, table in enumerate(tables):
        if tell is not None:
            tell(number, len(tables), f"scenario {table.name}")
        try:
            one = study_in(study, table, model.bench.own)
            judged = run_study(one, bench=board_bench(one, memory), stop=stop)
            own = None if over() else board_model(judged, memory=memory, stop=stop, jobs=jobs)
        except LandwiseError as error:
            inner = error.place or ""
            place = f"[[scenario]] {table.name}" + (f", {inner}" if inner else "")
            raise InputError(
                error.message, file=study.file, place=place, found=error.found, expected=error.expected
            ) from None
        if own is None:
            return "stopped before every scenario was judged"
        there = {part.part.refs[0] for part in own.parts}
        missing = [part.part.refs[0] for part in model.parts if part.part.refs[0] not in there]
        if missing:
            return f"in scenario {table.name} no package fits {', '.join(missing)}"
        models.append(own)
        made.append(aligned(table.name, own, model, lost_by(own, aim.counts) if aim.counts else None))
    found = least_regret(made, known=[best.choice], seconds=seconds, stop=stop)
    if not found.choice:
        if found.alone:
            return f"in scenario {found.alone} no choice keeps every limit"
        if found.status == "infeasible":
            return "no one choice of packages keeps the limits of every scenario"
        return "stopped before a choice for all scenarios was found"
    return _told(tables, models, made, model, aim, best, found)


def _told(
    tables: Sequence[ScenarioTable],
    models: Sequence[BoardModel],
    made: Sequence[Scenario],
    model: BoardModel,
    aim: Objective,
    best: Solution,
    found: Regret,
) -> Scenarios:
    expected = costs_of(made, best.choice)
    rows = []
    for n, (table, own) in enumerate(zip(tables, models, strict=True)):
        alone = found.own[n]
        least = found.costs[n] - found.regrets[n]
        rows.append(
            ScenarioCost(
                name=table.name,
                differs=differs(table),
                own=_named(model, alone.choice),
                own_decision=own.says(alone.decision),
                decision=own.says(found.decisions[n]),
                own_cost=least,
                cost=found.costs[n],
                regret=found.regrets[n],
                expected=None if expected is None else expected.costs[n] - least,
            )
        )
    problem = aim.problem
    values = [problem.value(d, found.choice) for d in range(problem.decisions) if problem.holds(d, found.choice)]
    return Scenarios(
        rows=tuple(rows),
        robust=_named(model, found.choice),
        expected=_named(model, best.choice),
        worst=found.worst,
        bound=found.bound,
        proven=found.status == "optimal",
        gives_up=min(values) - problem.value(best.decision, best.choice) if values else None,
        taken=model.bench.content.want.choose_for == "regret",
        choice=found.choice,
    )


def _named(model: BoardModel, choice: Sequence[int]) -> Mapping[str, str]:
    pairs = zip(model.parts, model.names, choice, strict=True)
    return MappingProxyType({part.part.refs[0]: names[k] for part, names, k in pairs})


def aligned(name: str, own: BoardModel, base: BoardModel, lost: object = None) -> Scenario:
    """A scenario's choice with the parts and options of the study's own model, in its order.

    An option that the scenario does not offer is out in it.
    """
    problem = own.problem if lost is None else replace(own.problem, cost=own.problem.cost + np.asarray(lost))
    at = {part.part.refs[0]: q for q, part in enumerate(own.parts)}
    rows = np.array([at[part.part.refs[0]] for part in base.parts])[:, None]
    width = base.problem.cost.shape[2]
    columns = np.zeros((len(base.parts), width), dtype=np.int64)
    there = np.zeros((len(base.parts), width), dtype=bool)
    for p, names in enumerate(base.names):
        place = {outline: k for k, outline in enumerate(own.names[int(rows[p, 0])])}
        for k, outline in enumerate(names):
            if outline in place:
                columns[p, k], there[p, k] = place[outline], True
    shape = (problem.decisions, *there.shape)

    def moved(table: NDArray[Kind]) -> NDArray[Kind]:
        return np.broadcast_to(table, problem.cost.shape)[:, rows, columns]

    bans = [Ban(ban.name, moved(ban.mask)) for ban in problem.bans]
    bans.append(Ban(NOT_THERE, np.broadcast_to(base.problem.exists & ~there, shape)))
    made = Problem(
        cost=np.where(there, moved(problem.cost), 0.0),
        shared_cost=problem.shared_cost,
        exists=base.problem.exists,
        outline=base.problem.outline,
        rows=tuple(replace(row, use=np.where(there, moved(row.use), 0.0)) for row in problem.rows),
        bans=tuple(bans),
        groups=base.problem.groups,
        most_outlines=problem.most_outlines,
        charges=tuple(replace(one, mask=one.mask[rows, columns] & there) for one in problem.charges),
        charged=problem.charged,
    )
    # One layout serves all scenarios: so do its class and, on a panel, its size.
    kinds = list(dict.fromkeys(one.layout for one in (*base.decisions, *own.decisions)))
    return Scenario(name, made, tuple(kinds.index(one.layout) for one in own.decisions))


def differs(table: ScenarioTable) -> tuple[str, ...]:
    """What a scenario changes, in words."""
    said = []
    if table.line is not None:
        said.append(f"line {table.line}")
    if table.run is not None:
        said.append(f"run of {table.run}")
    if table.rate_factor is not None:
        said.append(f"rates times {table.rate_factor:g}")
    said += [f"{name} {value:g}" for name, value in table.rates.items()]
    said += [f"{ref} in {name} at {price:g}" for ref, own in table.prices.items() for name, price in own.items()]
    if table.offers is not None:
        said.append(f"offers of {', '.join(table.offers) or 'nobody'}")
    said += [f"offer {one.order_code}" for one in table.offer]
    return tuple(said) or ("as the study has it",)


def study_in(study: Study, table: ScenarioTable, own: Sequence[Outline] = ()) -> Study:
    """The study as a scenario has it; `own` are the study's own outlines.

    Raises
    ------
    InputError, FileError
        For a part, option or line that is not there.
    """
    content = study.content
    costs: dict[str, object] = {"rates": {**content.costs.rates, **table.rates}} if table.rates else {}
    if table.run is not None:
        costs["run"] = table.run
    if table.rate_factor is not None:
        costs["rate_factor"] = table.rate_factor
    update: dict[str, object] = {"scenario": [], "want": content.want.model_copy(update={"choose_for": "expected"})}
    if costs:
        update["costs"] = content.costs.model_copy(update=costs)
    if table.line is not None:
        update["line"] = _line(content.line, table.line, study)
    if table.offers is not None:
        update["offers"] = table.offers
    if table.offer:
        update["offer"] = [*content.offer, *table.offer]
    if table.prices:
        refs = {part.refs[0] for part in content.part}
        unknown = next((ref for ref in table.prices if ref not in refs), None)
        if unknown is not None:
            raise InputError(
                "no such part", place="prices", found=unknown, expected="the first reference of a [[part]]"
            )
        update["part"] = [_priced(part, table.prices.get(part.refs[0], {}), own) for part in content.part]
    return replace(study, content=content.model_copy(update=update))


def _line(own: LineTable, named: str, study: Study) -> LineTable:
    if not named.endswith(".toml"):
        if named not in PRESETS:
            raise InputError("no such line", place="line", found=named, expected=f"{' | '.join(PRESETS)} | LINE.toml")
        return own.model_copy(update={"preset": named})
    try:
        measured = LineTable.model_validate(read_line_file(study.folder / named))
    except ValidationError as error:
        first = error.errors()[0]
        place = ", ".join(map(str, first["loc"]))
        raise InputError("not a valid value", place=f"{named}, {place}", expected=plainly(first["msg"])) from None
    stated = {name: getattr(measured, name) for name in measured.model_fields_set}
    if "scatter" in stated:
        stated["scatter"] = {**own.scatter, **stated["scatter"]}
    return own.model_copy(update=stated)


def _priced(part: PartTable, prices: Mapping[str, float], own: Sequence[Outline]) -> PartTable:
    if not prices:
        return part
    if part.options == "any":
        raise InputError(
            "a part whose packages the catalogue proposes has no prices of its own",
            place=f"prices, {part.refs[0]}",
            found=next(iter(prices)),
            expected="options named in its [[part]], or a [[scenario.offer]]",
        )
    wanted = {find(name, own).name: price for name, price in prices.items()}
    names = {find(option.outline, own).name for option in part.options}
    lost = next((name for name in wanted if name not in names), None)
    if lost is not None:
        raise InputError(
            "the part does not name this option",
            place=f"prices, {part.refs[0]}",
            found=lost,
            expected=" | ".join(sorted(names)),
        )
    options = [
        option.model_copy(update={"price": wanted[name], "prices": {}})
        if (name := find(option.outline, own).name) in wanted
        else option
        for option in part.options
    ]
    return part.model_copy(update={"options": options})


def robust_says(found: Scenarios, unit: str) -> str:
    """In one sentence why the choice is the one of smallest worst regret, and what it gives up."""
    proof = f"no choice is below {found.bound:.3g}" if found.proven else f"best found, none is below {found.bound:.3g}"
    said = f"smallest worst regret: at most {found.worst:.3g} {unit} above the best in any scenario ({proof})"
    if found.gives_up is not None and found.moved:
        said += f"; in the study as it stands it costs {found.gives_up:.3g} {unit} more than the cheapest on average"
    return said
