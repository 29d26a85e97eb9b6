"""The answer, of one of three kinds: decided, equal within what is known, or not decided and what would decide it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from landwise.board.draws import Drawn, Unknown, draw_costs
from landwise.board.model import BoardModel
from landwise.choosing.optimum.knowing import Known, worth_knowing, worth_of_term
from landwise.choosing.optimum.model import Array, Solution
from landwise.content import mark_of
from landwise.judging.results import PartResult, Standing
from landwise.memory import known as worked_once

Kind = Literal["decided", "equal", "not decided"]
PRICES = ("prices", "price-level", "price")
MOST_INPUTS = 3
EVEN = 0.5  # share of draws from which on an option that costs less is no worse than the best on average
ENOUGH = 0.8  # share of what all prices of a part would save from which on a single one is asked for
FURTHER = 1 + 1e-9
SHARE_ALIKE = 0.05  # of what a part costs: two options that differ by less are alike
OPEN_SHARE = 0.05  # an input that would save less than this share of all that knowing would save is not named


@dataclass(frozen=True)
class Worth:
    """An input worth knowing: what knowing it beforehand would save, per board and over the run.

    `part` is the first reference of the part that waits for it, empty where several do.
    """

    input: Unknown
    part: str
    saves: float
    over_run: float


@dataclass(frozen=True)
class PartAnswer:
    """What is known of one part's choice.

    Parameters
    ----------
    part : str
    kind : "decided", "equal" or "not decided"
    options : tuple of str
        The options that come into question: one where it is decided; today's first where several are equal.
    probability : float
        Share of draws in which the first of them is the cheapest of all.
    rival : str
        What it stands against: today's package, else the next on average; empty where there is no other.
    ahead : float
        Share of draws in which the first costs less than the rival.
    worth : float
        What knowing must save before the choice counts as not decided. [money per board]
    alike : float
        What the options in question may differ by on average. [money per board, all its places]
    everything : float
        What knowing everything beforehand would save. [money per board]
    inputs : tuple of Worth
        What is worth knowing most.
    conditions : mapping of str to tuple of str
        Limits that an option is not shown to hold, by option.
    """

    part: str
    kind: Kind
    options: tuple[str, ...]
    probability: float
    rival: str
    ahead: float
    worth: float
    alike: float
    everything: float
    inputs: tuple[Worth, ...]
    conditions: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Rivals:
    """The board with each option of one part, the others held.

    Parameters
    ----------
    cost : array (draws, options)
        What it costs in every draw; infinite where no decision holds the option.
    decisions : tuple of int
        The shared decision that each option comes with, the best for it on average; -1 where there is none.
    forced : tuple of bool
        Whether the proposed decision can't take the option, and another one can.
    """

    cost: Array
    decisions: tuple[int, ...]
    forced: tuple[bool, ...]


@dataclass(frozen=True)
class BoardAnswer:
    """What is known of the board's choice: the parts' answers and, over them, the board's.

    Parameters
    ----------
    kind : "decided", "equal" or "not decided"
        Not decided as soon as one part is not, or as soon as knowing everything for all parts together saves more than
        it costs, though for none alone; equal as soon as one part is.
    parts : tuple of PartAnswer
    standings : tuple of Standing
        Of each part, in the model's order.
    decisions : tuple of tuple of int
        The shared decision that each option of each part is compared under; -1 where none holds it.
    everything : float
        What knowing everything beforehand would save, over all parts. [money per board]
    worth : float
        What knowing must save before the choice counts as not decided. [money per board]
    inputs : tuple of Worth
        What is worth knowing most, over all parts.
    """

    kind: Kind
    parts: tuple[PartAnswer, ...]
    standings: tuple[Standing, ...]
    decisions: tuple[tuple[int, ...], ...]
    everything: float
    worth: float
    inputs: tuple[Worth, ...]

    @property
    def only_together(self) -> bool:
        """Whether the board is not decided though each of its parts by itself is, or is among equals."""
        return self.kind == "not decided" and all(one.kind != "not decided" for one in self.parts)

    def of(self, reference: str) -> PartAnswer | None:
        """The answer for the part whose first reference it is."""
        return next((one for one in self.parts if one.part == reference), None)


def answered(model: BoardModel, best: Solution, lost: Array) -> BoardAnswer:
    """The answer for a board that is best on average, from joint draws of all that is uncertain.

    Parameters
    ----------
    model : BoardModel
    best : Solution
    lost : array, broadcastable to (decisions, parts, options)
        What the study's weights count beside money. [money per board]
    """
    conditions = {
        (p, k): model.judged[best.decision, p, k].unshown
        for p, names in enumerate(model.names)
        for k in range(len(names))
    }
    whole = np.broadcast_to(lost, model.problem.cost.shape)
    return answer_of(model, best, draw_costs(model, best), conditions, whole)


def answer_of(
    model: BoardModel,
    best: Solution,
    drawn: Drawn,
    conditions: Mapping[tuple[int, int], tuple[str, ...]],
    lost: Array,
) -> BoardAnswer:
    """Which of three kinds the answer is, for every part with the others held, and for the board.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        Best on average.
    drawn : Drawn
    conditions : mapping of (part, option) to tuple of str
        Limits that an option is not shown to hold under the decision in which it is best.
    lost : array (decisions, parts, options)
        What the study's weights count beside money, in money per board.
    """
    parts, standings, decisions = [], [], []
    for p, part in enumerate(model.parts):
        found = rivals_of(model, best, drawn, p, lost)
        rivals = found.cost
        known = _known(rivals, _inputs(drawn, p))
        known = replace(known, one=_questions(known, min(known.everything, worth_of_term(rivals, drawn.bought[:, p]))))
        parts.append(_part_answer(model, p, part, rivals, known, conditions))
        standings.append(_standing(model.names[p], known, rivals, _under(model, best, p, found)))
        decisions.append(found.decisions)
    kinds = {one.kind for one in parts}
    everything, worth = sum(one.everything for one in parts), worth_of(model)
    kind: Kind = "equal" if "equal" in kinds else "decided"
    if "not decided" in kinds or everything >= worth:
        kind = "not decided"
    return BoardAnswer(
        kind=kind,
        parts=tuple(parts),
        standings=tuple(standings),
        decisions=tuple(decisions),
        everything=everything,
        worth=worth,
        inputs=_most(one.inputs for one in parts),
    )


def rivals_of(model: BoardModel, best: Solution, drawn: Drawn, p: int, lost: Array) -> Rivals:
    """The board with each option of one part, the others held; charges are those of the whole board."""
    problem = model.problem
    choice = np.array(best.choice)
    at = np.arange(problem.parts)
    others = at != p
    weighed = drawn.cost + lost[list(drawn.decisions)]
    rest = weighed[:, :, at[others], choice[others]].sum(axis=2) + drawn.shared
    held = np.array([charge.mask[at[others], choice[others]].any() for charge in problem.charges], dtype=bool)
    found = np.full((drawn.draws, problem.cost.shape[2]), np.inf)
    decisions, forced = [-1] * found.shape[1], [False] * found.shape[1]
    for k in range(problem.cost.shape[2]):
        other = [*best.choice[:p], k, *best.choice[p + 1 :]]
        exact = {
            n: problem.value(d, other) + float(lost[d, at, other].sum())
            for n, d in enumerate(drawn.decisions)
            if problem.holds(d, other)
        }
        if exact:
            n = min(exact, key=lambda one: exact[one])
            decisions[k], forced[k] = drawn.decisions[n], drawn.decisions.index(best.decision) not in exact
            opened = held | np.array([charge.mask[p, k] for charge in problem.charges], dtype=bool)
            whole = rest[:, n] + weighed[:, n, p, k] + drawn.due @ opened
            # The mean is known exactly; the draws say how far from it a board may come out, and with which others.
            found[:, k] = whole + (exact[n] - whole.mean())
    return Rivals(found, tuple(decisions), tuple(forced))


def _under(model: BoardModel, best: Solution, p: int, rivals: Rivals) -> Mapping[str, str]:
    """What the board must take otherwise with an option than it is proposed to, in words."""
    proposed, decisions = model.decisions[best.decision], model.decisions
    return MappingProxyType(
        {
            name: decisions[rivals.decisions[k]].beside(proposed)
            for k, name in enumerate(model.names[p])
            if rivals.forced[k]
        }
    )


def _known(rivals: Array, inputs: Mapping[Unknown, Array]) -> Known[Unknown]:
    """What knowing is worth, worked once for the same draws: another limit seldom changes them."""
    names = tuple(inputs)

    def work() -> tuple[int, Array, Array, float, tuple[float, ...]]:
        found = worth_knowing(rivals, inputs)
        return found.best, found.mean, found.wins, found.everything, tuple(found.one[name] for name in names)

    best, mean, wins, everything, one = worked_once(work, "worth knowing", mark_of(rivals, tuple(inputs.values())))
    most_first = sorted(zip(names, one, strict=True), key=lambda pair: -pair[1])
    return Known(best, mean, wins, everything, dict(most_first))


def _inputs(drawn: Drawn, p: int) -> dict[Unknown, Array]:
    return dict(drawn.inputs) | {name: values for (part, name), values in drawn.own.items() if part == p}


def _questions(known: Known[Unknown], quotes: float) -> dict[Unknown, float]:
    """What could be found out about a part and what it would save, most first.

    A part's prices are asked for at once: they are one question, unless a single price says nearly as much.
    """
    prices = {one: saves for one, saves in known.one.items() if one.kind in PRICES}
    found = {one: saves for one, saves in known.one.items() if one not in prices}
    first = max(prices, key=lambda one: prices[one], default=None)
    if first is not None and prices[first] >= ENOUGH * quotes:
        found[first] = prices[first]
    elif quotes > 0:
        found[Unknown("prices")] = quotes
    return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def _part_answer(
    model: BoardModel,
    p: int,
    part: PartResult,
    rivals: Array,
    known: Known[Unknown],
    conditions: Mapping[tuple[int, int], tuple[str, ...]],
) -> PartAnswer:
    names, run = model.names[p], model.bench.content.costs.run
    worth = worth_of(model)
    alike = _alike(part, names[known.best], worth)
    near = _near(rivals, known, alike, worth)
    # Room for the dearest of them to be taken as well as the first.
    alike = max(alike, FURTHER * float(known.mean[near[-1]] - known.mean[near[0]]))
    present = model.present[p]
    kind: Kind
    if known.everything >= worth:
        kind = "not decided"
    else:
        kind = "equal" if len(near) > 1 else "decided"
    # Among equals today's package comes first; where nothing is decided the best on average does.
    order = sorted(near, key=lambda k: (kind != "not decided" and k != present, float(known.mean[k])))
    inputs = tuple(
        Worth(one, part.part.refs[0], saves, saves * run)
        for one, saves in list(known.one.items())[:MOST_INPUTS]
        if saves > OPEN_SHARE * max(known.everything, 1e-300)
    )
    rival = _rival(known, order[0], present)
    return PartAnswer(
        part=part.part.refs[0],
        kind=kind,
        options=tuple(names[k] for k in order),
        probability=float(known.wins[order[0]]),
        rival=names[rival] if rival >= 0 else "",
        ahead=float((rivals[:, order[0]] < rivals[:, rival]).mean()) if rival >= 0 else 1.0,
        worth=worth,
        alike=alike,
        everything=known.everything,
        inputs=inputs,
        conditions=MappingProxyType({names[k]: conditions[p, k] for k in order if conditions.get((p, k))}),
    )


def _near(rivals: Array, known: Known[Unknown], alike: float, worth: float) -> tuple[int, ...]:
    """The options that may be the best as well, the best on average first.

    Those that cost hardly more on average, and those that are the cheaper one in half of the draws or more: their
    average is the worse one by rare dear boards, or by nothing that a reader could count on.
    """
    often = [
        k for k in known.within(worth) if k != known.best and (rivals[:, k] <= rivals[:, known.best]).mean() >= EVEN
    ]
    near = dict.fromkeys((*known.within(alike), *often))
    return tuple(sorted(near, key=lambda k: (k != known.best, float(known.mean[k]))))


def _rival(known: Known[Unknown], first: int, present: int) -> int:
    """What the first stands against: today's option where it is in and another, else the next on average; else -1."""
    inside = [int(k) for k in np.argsort(known.mean) if np.isfinite(known.mean[k]) and k != first]
    if present in inside:
        return present
    return inside[0] if inside else -1


def worth_of(model: BoardModel) -> float:
    """What knowing must save before a choice counts as not decided. [money per board]

    The study's own figure; otherwise what finding out costs, spread over the run.
    """
    stated = model.bench.content.want.worth_deciding
    if stated is not None:
        return stated
    return model.bench.rates["finding_out"].value / model.bench.content.costs.run


def _alike(part: PartResult, name: str, worth: float) -> float:
    """What two options of a part may differ by and still count as equal. [money per board, all its places]

    No more than is worth deciding, and at most a twentieth of what the part costs: on few boards too, an option that is
    plainly dearer is not an equal.
    """
    option = next(one for one in part.options if one.name == name)
    return min(worth, SHARE_ALIKE * option.cost.total * part.count)


def _standing(names: Sequence[str], known: Known[Unknown], rivals: Array, under: Mapping[str, str]) -> Standing:
    inside = sorted((k for k in range(len(names)) if np.isfinite(known.mean[k])), key=lambda k: float(known.mean[k]))
    above = rivals[:, inside] - rivals[:, [inside[0]]]
    low, high = np.quantile(above, 0.05, axis=0), np.quantile(above, 0.95, axis=0)
    return Standing(
        order=tuple(names[k] for k in inside),
        more=MappingProxyType({names[k]: float(known.mean[k] - known.mean[inside[0]]) for k in inside}),
        low=MappingProxyType({names[k]: float(low[n]) for n, k in enumerate(inside)}),
        high=MappingProxyType({names[k]: float(high[n]) for n, k in enumerate(inside)}),
        wins=MappingProxyType({names[k]: float(known.wins[k]) for k in inside}),
        under=under,
    )


def _most(inputs: Iterable[Sequence[Worth]]) -> tuple[Worth, ...]:
    """The inputs worth knowing most, one that several parts wait for counted once with all it saves.

    Prices of several parts are asked for together.
    """
    listed = [one for some in inputs for one in some]
    priced = {one.part for one in listed if one.input.kind in PRICES}
    whole: dict[tuple[str, Unknown], Worth] = {}
    for one in listed:
        if one.input.kind in PRICES and len(priced) > 1:
            one = replace(one, input=Unknown("prices"))
            key = ("", one.input)
        else:
            key = (one.part if one.input.of_part else "", one.input)
        before = whole.get(key)
        if before is not None:
            one = Worth(one.input, "", before.saves + one.saves, before.over_run + one.over_run)
        whole[key] = one
    return tuple(sorted(whole.values(), key=lambda one: -one.saves)[:MOST_INPUTS])
