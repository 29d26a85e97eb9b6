"""The whole board as numbers: shared decisions, and the model that the search reads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from landwise.access.plans import PASTE, SIDE, XRAY, Plan, control_steps, plans_of
from landwise.assembly.lines import Line, View
from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.market import Market
from landwise.choosing.optimum.model import Mask, Problem
from landwise.costs.panels import BoardSize
from landwise.errors import InputError
from landwise.judging.bench import Bench
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.results import OptionResult, PartResult
from landwise.memory import Memory
from landwise.printing.model import POWDERS, TECHNOLOGIES, Powder, Technology
from landwise.study.file import BoardClass, Study, StudyFile

RISK = "risk"
AREA = "area"
HIDDEN = "hidden-joints"
NOTHING_TO_CHOOSE = "no part that is fitted has options: there is nothing to choose together, each is ranked by itself"


@dataclass(frozen=True)
class Decision:
    """What all parts of the board share."""

    foil_um: float
    stepped: bool
    technology: Technology
    powder: Powder
    plan: Plan
    board: BoardClass
    size: BoardSize | None = None  # where a panel is stated

    @property
    def inspection(self) -> tuple[View, ...]:
        """From where its inspection looks."""
        # The words of the shipped access/control.toml, typed where they are used.
        return self.plan.views  # type: ignore[return-value]

    def prints_like(self, other: Decision) -> bool:
        """Whether all parts are printed alike but for those on a step: the same foil, made alike, and paste."""
        return (self.foil_um, self.technology, self.powder) == (other.foil_um, other.technology, other.powder)

    def adds_to(self, other: Decision) -> bool:
        """Whether it takes anything that another does not: a step, a further look, another class of board."""
        plan, its = self.plan, other.plan
        return (
            (self.stepped and not other.stepped)
            or not set(plan.steps) <= set(its.steps)
            or plan.xray_share > its.xray_share
            or self.board.name != other.board.name
        )

    @property
    def layout(self) -> tuple[BoardClass, int]:
        """What of it is drawn into the board: its class, and how many of it a panel holds."""
        return self.board, 0 if self.size is None else self.size.images

    def beside(self, other: Decision) -> str:
        """In words, naming only what is otherwise than in another decision."""
        foil, *others = self._bits((self, other))
        if (self.foil_um, self.stepped) == (other.foil_um, other.stepped):
            return ", ".join(others)
        if self.foil_um == other.foil_um:
            foil = "steps in the foil" if self.stepped else "no steps in the foil"
        return ", ".join((foil, *others))

    def says(self, among: Sequence[Decision]) -> str:
        """In words, naming only what could be otherwise."""
        return ", ".join(self._bits(among))

    def _bits(self, among: Sequence[Decision]) -> list[str]:
        bits = [f"{self.foil_um:g} µm foil" + (", stepped" if self.stepped else "")]
        if len({d.technology for d in among}) > 1:
            bits.append(self.technology)
        if len({d.powder for d in among}) > 1:
            bits.append(f"{self.powder} powder")
        if len({d.plan for d in among}) > 1:
            bits.append(plan_says(self.plan))
        if len({d.board.name for d in among}) > 1:
            bits.append(self.board.name)
        if self.size is not None and len({d.size for d in among}) > 1:
            bits.append(f"{self.size.images} boards a panel")
        return bits


@dataclass(frozen=True)
class BoardModel:
    """A study as a whole-board choice.

    Parameters
    ----------
    problem : Problem
        Its cost is money per good board, whatever the study chooses for.
    decisions : tuple of Decision
        The first is today's.
    parts : tuple of PartResult
        The parts chosen together, in the study's order.
    names : tuple of tuple of str
        Outline of each option.
    judged : mapping of (decision, part, option) to OptionResult
        The option as it would be printed and seen.
    area, risk : Axis
    risk_says : str
        What the risk is.
    money : Market
        What the cost is made of: terms of rates, and prices.
    lasting : mapping of (str, str) to set of str
        Keys of the limits that an option of a part breaks under every shared decision, by the part's first reference
        and the option's name.
    limits : mapping of str to Limit
        By its name in the search.
    today : tuple of PartResult, optional
        The parts as they are grouped today, where they are others.
    stuck : tuple of PartResult
        Parts that no option fits under any shared decision: left out, or they would stop all the others.
    rest_mm2 : float
        Area of the board as it is that is no courtyard of these parts; nothing where no size is stated.
    """

    problem: Problem
    decisions: tuple[Decision, ...]
    parts: tuple[PartResult, ...]
    names: tuple[tuple[str, ...], ...]
    judged: Mapping[tuple[int, int, int], OptionResult]
    steps: Mask
    area: Axis
    risk: Axis
    risk_says: str
    money: Market
    stuck: tuple[PartResult, ...]
    bench: Bench = field(repr=False)
    lasting: Mapping[tuple[str, str], frozenset[str]]
    limits: Mapping[str, Limit]
    today: tuple[PartResult, ...] | None = None
    rest_mm2: float = 0.0

    @cached_property
    def cost(self) -> Axis:
        """Money per good board."""
        return Axis(
            "cost",
            self.problem.cost,
            self.problem.shared_cost,
            self.bench.content.costs.unit,
            self.problem.charged,
        )

    @cached_property
    def present(self) -> tuple[int, ...]:
        """Today's option of each part, -1 where it is not known."""
        found = []
        for part, names in zip(self.parts, self.names, strict=True):
            found.append(names.index(part.present.name) if part.present and part.present.name in names else -1)
        return tuple(found)

    @cached_property
    def today_under(self) -> int | None:
        """The shared decision that today's packages are counted under; None where one of them is not known.

        Today's print and class of board, and the cheapest inspection that can judge its joints, where one can.
        """
        if -1 in self.present:
            return None
        first = self.decisions[0]
        same = [d for d, other in enumerate(self.decisions) if replace(other, plan=first.plan) == first]
        hidden = next((ban.mask for ban in self.problem.bans if ban.name == LimitKey.HIDDEN_JOINTS), None)
        at = np.arange(self.problem.parts), list(self.present)
        seen = [d for d in same if hidden is None or not hidden[(d, *at)].any()]
        return min(seen or same, key=lambda d: self.problem.value(d, self.present))

    def says(self, decision: int) -> str:
        """A shared decision in words."""
        return self.decisions[decision].says(self.decisions)

    def line_of(self, decision: int) -> Line:
        """The line as a shared decision sets it up."""
        chosen = self.decisions[decision]
        return line_with(self.bench.line, chosen)


def content_with(content: StudyFile, kind: BoardClass) -> StudyFile:
    """A study with another class of board; as it is where the class is the board as it is."""
    own = content.board
    if (own.layers, own.track, own.space) == (kind.layers, kind.track, kind.space):
        return content
    board = own.model_copy(update={"layers": kind.layers, "track": kind.track, "space": kind.space})
    return content.model_copy(update={"board": board})


def plan_says(plan: Plan) -> str:
    """What a plan looks at beyond optical inspection and test, in words."""
    steps = [control_steps()[key].says for key in plan.steps if key in (SIDE, PASTE)]
    xray = "no X-ray" if XRAY not in plan.steps else "X-ray of a sample" if plan.sampled else "X-ray of every board"
    return " and ".join([xray, *steps])


def line_with(line: Line, chosen: Decision) -> Line:
    """A line as a shared decision sets it up."""
    return replace(
        line,
        foil_um=chosen.foil_um,
        technology=chosen.technology,
        powder=chosen.powder,
        steps_allowed=chosen.stepped,
        inspection=chosen.inspection,
    )


def decisions_of(bench: Bench) -> tuple[Decision, ...]:
    """Every shared decision the study allows, today's first.

    Raises
    ------
    InputError
        For an unknown foil technology or powder.
    """
    line, board = bench.line, bench.content.board
    table = bench.content.line
    foils = list(dict.fromkeys([line.foil_um, *sorted(line.foils_um, reverse=True)]))
    if table.foil is not None:
        foils = [line.foil_um]  # a stated foil binds; only a step may go below it
    technologies = _known([line.technology, *table.technologies], TECHNOLOGIES, "line, technologies")
    powders = _known([line.powder, *table.powders], POWDERS, "line, powders")
    plans = plans_of(line.inspection, table.test)
    own = BoardClass.model_construct(
        name="board as it is", layers=board.layers, track=board.track, space=board.space, rate=1.0
    )
    return tuple(
        # `_known` has refused every word that is none of the two literals.
        Decision(um, stepped, technology, powder, plan, kind)  # type: ignore[arg-type]
        for kind in (own, *board.classes)
        for technology in technologies
        for powder in powders
        for um in foils
        for stepped in (
            (False, True)
            if line.steps_allowed and any(u < um for u in line.foils_um) and table.most_step_zones
            else (False,)
        )
        for plan in plans
    )


def foils_of(decisions: Sequence[Decision]) -> tuple[float, ...]:
    """The foils of shared decisions, each once. [µm]"""
    return tuple(dict.fromkeys(decision.foil_um for decision in decisions))


def board_bench(study: Study, memory: Memory | None = None) -> Bench:
    """A study's bench for a whole board's choice, which asks for every option on the foils of all shared decisions."""
    bench = Bench.of(study, memory)
    bench.foils_um = foils_of(decisions_of(bench))
    return bench


def _known(names: Sequence[str], known: Sequence[str], place: str) -> list[str]:
    for name in names:
        if name not in known:
            raise InputError("unknown name", place=place, found=name, expected=" | ".join(known))
    return list(dict.fromkeys(names))
