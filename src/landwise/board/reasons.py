"""The reasons for a proven choice: runner-up, prices of limits, what each part holds, steps, trade-off, firmness."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from landwise.board.chosen import Alternative, BoardChoice, Hold
from landwise.board.firm import Firmness, firmness, lean_needed
from landwise.board.model import BoardModel, Decision
from landwise.board.objective import SAME, Objective, total
from landwise.choosing.optimum.explain import (
    Price,
    Rival,
    Step,
    limit_prices,
    migration,
    part_price,
    rivals,
    runner_up,
    without_option,
)
from landwise.choosing.optimum.front import Axis, Point, front
from landwise.choosing.optimum.model import Problem, Solution
from landwise.content import mark_of
from landwise.memory import known

MOST_FRONT = 150  # points of the trade-off listed one by one; beyond it they are spaced
SPACED_POINTS = 30
MOST_ALTERNATIVES = 200  # parts for which the next best option is worked
Stop = Callable[[], bool]
Tell = Callable[[int, int, str], None]


def broken_today(model: BoardModel) -> tuple[str, ...]:
    """Names of the limits that today's board breaks under every shared decision, where it breaks the fewest."""
    problem, present = model.problem, list(model.present)
    if min(present) < 0 or any(problem.holds(d, present) for d in range(problem.decisions)):
        return ()
    return min((broken_by(problem, d, present) for d in range(problem.decisions)), key=len)


def broken_by(problem: Problem, decision: int, choice: Sequence[int]) -> tuple[str, ...]:
    """Names of the limits that a choice breaks under a decision: those without each of which it still breaks one."""
    return tuple(
        name
        for name in problem.limits
        if not problem.without([other for other in problem.limits if other != name]).holds(decision, choice)
    )


@dataclass(frozen=True)
class Reasons:
    """What an explanation adds to a choice, by the names it has there."""

    equal: tuple[int, ...]
    second: Solution | None
    limits: tuple[Price, ...]
    holds: tuple[Hold, ...]
    alternatives: tuple[Alternative, ...]
    others: tuple[Rival, ...]
    steps: tuple[Step, ...]
    unknown_today: tuple[str, ...]
    broken_today: tuple[str, ...]
    points: tuple[Point, ...]
    complete: bool
    axes: tuple[str, ...]
    firm: Firmness | None


class _CutShortError(Exception):
    """A stop left some of it out: nothing to keep."""


class Explainer:
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
        """All explanations; what a stop leaves out is named. Those of the same numbers are worked once."""
        cut: list[BoardChoice] = []

        def work() -> Reasons | None:
            found = self._worked(choice, tell)
            if found.left_out:
                cut.append(found)
                raise _CutShortError
            return Reasons(**{field.name: getattr(found, field.name) for field in fields(Reasons)})

        try:
            told = known(work, "reasons for a choice", self._content(choice))
        except _CutShortError:
            return cut[0]
        return replace(choice, **{field.name: getattr(told, field.name) for field in fields(Reasons)})

    def _content(self, choice: BoardChoice) -> str:
        """A mark of all numbers that the explanations read."""
        model = choice.model
        return mark_of(
            replace(self.aim, name="", unit=""),
            replace(choice.best, solved=0, pruned=0),
            choice.today,
            (model.problem, model.present, model.cost, model.area, model.risk, model.money, lean_needed(model)),
            model.names,
            [(part.part.refs[0], part.count) for part in model.parts],
        )

    def _worked(self, choice: BoardChoice, tell: Tell) -> BoardChoice:
        """One explanation after the other."""
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
        problem, best = self.problem, choice.best
        # For the same options what today's packages are ahead by is the same; what a decision is ahead by is not.
        plain = self._plain(choice)
        axes = (Axis("first", plain.cost, plain.shared_cost, charged=plain.charged), *self.aim.then)
        mine = [total(problem, axis, best) for axis in axes]
        equal = tuple(
            d
            for d in range(problem.decisions)
            if d != best.decision
            and problem.holds(d, best.choice)
            and np.allclose(
                [total(problem, axis, replace(best, decision=d)) for axis in axes], mine, rtol=SAME, atol=SAME
            )
        )
        second = runner_up(problem, best)
        if not second.found:
            return replace(choice, equal=equal, second=None)
        told = replace(second, value=best.value + self._more(choice, second))
        return replace(choice, equal=equal, second=told)

    def _more(self, choice: BoardChoice, other: Solution) -> float:
        """What another board costs more than the choice, without what today is ahead by among equals."""
        return float(other.value - choice.best.value) + self._unahead(choice, other.decision, other.choice)

    def _unahead(self, choice: BoardChoice, decision: int, options: Sequence[int]) -> float:
        """What a board is ahead by among equals, above what the choice itself is: today's packages, what is kept.

        To be added to a difference in what was minimised, for one in money.
        """
        plain = self._plain(choice)
        ahead = [
            plain.value(d, k) - self.problem.value(d, k)
            for d, k in ((decision, options), (choice.best.decision, choice.best.choice))
        ]
        return float(ahead[0] - ahead[1])

    def _plain(self, choice: BoardChoice) -> Problem:
        """What is minimised, without what anything is ahead by among equals."""
        if self.aim.money is None or self.aim.then:
            return self.problem
        return replace(choice.model.problem, cost=choice.model.problem.cost + self.aim.lost)

    def _limits(self, choice: BoardChoice) -> BoardChoice:
        least = SAME * max(1.0, abs(choice.best.value))
        prices = [
            replace(one, saved=one.saved - self._unahead(choice, one.freed.decision, one.freed.choice))
            for one in limit_prices(self.problem, choice.best, stop=self.stop)
        ]
        kept = sorted((one for one in prices if one.saved > least), key=lambda one: -one.saved)
        return replace(choice, limits=tuple(kept))

    def _holds(self, choice: BoardChoice) -> BoardChoice:
        found = []
        for p, part in enumerate(choice.model.parts):
            if self.stop():
                break
            price = part_price(self.problem, choice.best, p)
            if price.freed.decision == choice.best.decision:
                continue
            saved = price.saved - self._unahead(choice, price.freed.decision, price.freed.choice)
            if saved > SAME * max(1.0, abs(choice.best.value)):
                found.append(Hold(part.part.refs[0], saved, price.freed.decision))
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
                more = self._more(choice, other)
                found.append(Alternative(part.part.refs[0], names[other.choice[p]], more, other.decision))
        return replace(choice, alternatives=tuple(found))

    def _others(self, choice: BoardChoice) -> BoardChoice:
        told = [
            replace(one, more=one.more + self._unahead(choice, one.decision, one.choice)) if one.choice else one
            for one in rivals(self.problem, choice.best, stop=self.stop)
        ]
        told.sort(key=lambda one: (one.more, len(one.kept_out)))
        decisions = choice.model.decisions
        seen: set[Decision] = {replace(decisions[choice.best.decision], size=None)}
        others = []
        for one in told:  # the nearest first: of a decision's sizes the best, of the choice's own all that can be had
            bare = replace(decisions[one.decision], size=None)
            own = bare == replace(decisions[choice.best.decision], size=None)
            if one.decision not in choice.equal and (one.more < np.inf if own else bare not in seen):
                others.append(one)
            seen.add(bare)
        return replace(choice, others=tuple(others))

    def _steps(self, choice: BoardChoice) -> BoardChoice:
        if self.aim.money is None or self.aim.counts or self.aim.then:
            return choice
        present, broken = choice.model.present, broken_today(choice.model)
        if choice.today is None:
            # What today's board costs is not known: savings count from the first board of the list.
            steps = migration(self.problem, present, 0.0, stop=self.stop)
            first = steps[0].found.value if steps else 0.0
            steps = tuple(replace(step, saved=first - step.found.value) for step in steps)
            unknown = tuple(part.part.refs[0] for part, k in zip(choice.model.parts, present, strict=True) if k < 0)
            return replace(choice, steps=steps, unknown_today=unknown)
        # What today's packages are ahead by among equals counts for them here too.
        ahead = choice.model.problem.value(0, present) - self.problem.value(0, present)
        steps = migration(self.problem, present, choice.today - ahead, stop=self.stop)
        return replace(choice, steps=steps, broken_today=broken)

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
