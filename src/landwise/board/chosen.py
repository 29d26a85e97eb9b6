"""The whole board chosen at once, as a value: the choice, its proof, and the reasons for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from landwise.board.answer import BoardAnswer
from landwise.board.firm import Firmness
from landwise.board.model import BoardModel
from landwise.board.placing import Placing
from landwise.choosing.optimum.explain import Price, Relaxation, Rival, Step
from landwise.choosing.optimum.front import Point
from landwise.choosing.optimum.model import Solution
from landwise.quantities import significant

MOST_KEPT = 3  # named in the sentence of the proof; all stand in the parts' own answers


@dataclass(frozen=True)
class Hold:
    """A part that alone holds the shared decision: what the board would save without its wish.

    `ref` is the part's first reference, `freed` the shared decision that the board would then take.
    """

    ref: str
    saved: float
    freed: int


@dataclass(frozen=True)
class Alternative:
    """The best board in which one part comes in another option: what it costs more, and its shared decision.

    `ref` is the part's first reference.
    """

    ref: str
    option: str
    more: float
    decision: int


@dataclass(frozen=True)
class Kept:
    """A part (its first reference) that keeps today's package among equals, and what is the cheapest on average."""

    ref: str
    present: str
    cheapest: str


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
    equal : tuple of int
        Other shared decisions that would do as well for the same options.
    limits : tuple of Price
        What each limit costs, dearest first; `model.limits` knows them by name.
    holds : tuple of Hold
    others : tuple of Rival
        The other shared decisions at their best, nearest first; those that do as well are in `equal`.
    alternatives : tuple of Alternative
    second : Solution or None
        The runner-up.
    steps : tuple of Step
        The migration list.
    unknown_today, broken_today : tuple of str
        Where the migration list does not start from a board as it stands: references whose package in use is not known,
        and names of limits that today's board breaks.
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
    answer : BoardAnswer or None
        Decided, equal or not decided, for each part and the board.
    searched : Solution or None
        What the search proved: the board of least objective, before today's packages are kept among equals.
    value : float or None
        The objective of the board that is taken, in its unit: above that of `searched` by what `kept` forgoes.
    counts : mapping of str to float
        What a unit of each weighed criterion counts beside money.
    robust : str or None
        In words why this choice, where it was made for the smallest worst regret and not for expected cost.
    """

    model: BoardModel
    best: Solution
    objective: str
    unit: str
    cost: float | None
    today: float | None
    equal: tuple[int, ...] = ()
    limits: tuple[Price, ...] = ()
    holds: tuple[Hold, ...] = ()
    others: tuple[Rival, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    second: Solution | None = None
    steps: tuple[Step, ...] = ()
    unknown_today: tuple[str, ...] = ()
    broken_today: tuple[str, ...] = ()
    points: tuple[Point, ...] = ()
    complete: bool = True
    axes: tuple[str, ...] = ()
    conflict: tuple[str, ...] = ()
    relaxed: tuple[Relaxation, ...] = ()
    firm: Firmness | None = None
    left_out: tuple[str, ...] = ()
    placing: Placing | None = None
    answer: BoardAnswer | None = None
    searched: Solution | None = None
    value: float | None = None
    counts: Mapping[str, float] = field(default_factory=dict)
    robust: str | None = None

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
        moved = [(ref, name) for ref, name in other.items() if name != mine[ref]]
        named = {part.part.refs[0]: part.named for part in self.model.parts}
        said = [
            name if len(mine) == 1 else f"{', '.join(named[ref] for ref, to in moved if to == name)} in {name}"
            for name in dict.fromkeys(name for _, name in moved)
        ]
        if found.decision != self.best.decision and not self._same_print(found):
            said.append(self.model.says(found.decision))
        return tuple(said)

    def _same_print(self, found: Solution) -> bool:
        return found.decision in self.equal

    @property
    def proof(self) -> str:
        """Optimum, bound and gap in one sentence."""
        if self.robust is not None:
            return self.robust
        best = self.searched or self.best
        if not best.found:
            return "no choice keeps every limit" if best.status == "infeasible" else "stopped before a choice was found"
        gap = "0" if best.gap < 1e-12 else f"{best.gap:.1e}"
        bound = f"no choice can be below {significant(best.bound)}"
        decisions = self.model.problem.decisions
        told = f"{decisions} shared decisions, {best.pruned} settled by a bound alone"
        names = [f"{one.ref} in {one.present}" for one in self.kept]
        if self.kept_print:
            names.append(f"the line's usual {self.model.decisions[self.best.decision].foil_um:g} µm print")
        if names and self.value is not None:
            kept = ", ".join(names[:MOST_KEPT])
            more = f" and {len(names) - MOST_KEPT} more" if len(names) > MOST_KEPT else ""
            saved = f"changing {'it' if len(names) == 1 else 'them'} would save only {self.value - best.value:.2g}"
            said = (
                f"{significant(self.value)} {self.unit} with {kept}{more} kept, as {saved}, equal within what is known"
            )
            return f"{said}; proven: {bound} (gap {gap}); {told}"
        word = "proven best" if best.status == "optimal" else "best found when stopped"
        return f"{word}: {significant(best.value)} {self.unit}, {bound} (gap {gap}); {told}"

    @property
    def kept_print(self) -> bool:
        """Whether the line's usual print is kept though another would be cheaper on average, by less than is known."""
        if self.searched is None or not self.best.found or not self.searched.found:
            return False
        usual, decisions = self.model.decisions[0], self.model.decisions
        mine, cheapest = decisions[self.best.decision], decisions[self.searched.decision]
        return mine.prints_like(usual) and not cheapest.prints_like(usual)

    @property
    def kept(self) -> tuple[Kept, ...]:
        """Parts that keep today's package though another would be cheaper on average, by less than is known."""
        if self.searched is None or not self.best.found or not self.searched.found:
            return ()
        model, best = self.model, self.best.choice
        return tuple(
            Kept(part.part.refs[0], names[best[p]], names[k])
            for p, (part, names, k) in enumerate(zip(model.parts, model.names, self.searched.choice, strict=True))
            if k != best[p] == model.present[p]
        )
