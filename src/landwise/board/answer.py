"""The answer, of one of three kinds: decided, equal within what is known, or not decided and what would decide it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from landwise.board.alike import part_alike, worth_of
from landwise.board.draws import Drawn, Unknown, draw_costs
from landwise.board.model import BoardModel
from landwise.board.rivals import Rivals, drawn_rivals, under_of
from landwise.choosing.optimum.knowing import Known, worth_knowing, worth_of_term
from landwise.choosing.optimum.model import Array, Solution
from landwise.content import mark_of
from landwise.judging.results import Standing
from landwise.memory import known as worked_once

Kind = Literal["decided", "equal", "not decided"]
PRICES = ("prices", "price-level", "price")
MOST_INPUTS = 3
EVEN = 0.5  # share of draws from which on an option that costs less is no worse than the best on average
ENOUGH = 0.8  # share of what all prices of a part would save from which on a single one is asked for
FURTHER = 1 + 1e-9
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
        The options that come into question: one where it is decided; the one proposed first where several are equal.
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


def answered(model: BoardModel, best: Solution, lost: Array, rivals: Rivals, *, proposed: bool = False) -> BoardAnswer:
    """Which of three kinds the answer is, for every part with the others held, and for the board.

    Everything that is uncertain is drawn together.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        The board that the others of each part are held at.
    lost : array, broadcastable to (decisions, parts, options)
        What the study's weights count beside money. [money per board]
    rivals : Rivals
        What each option is compared as.
    proposed : bool
        Whether that board is the one proposed, as the cheapest or its equal: its options are then among those that come
        into question, and first among equals. Otherwise today's are first.
    """
    first = best.choice if proposed else model.present
    drawn = draw_costs(model, rivals.near(best))
    parts, standings, worth = [], [], worth_of(model)
    for p in range(len(model.parts)):
        cost = drawn_rivals(model, best, rivals, drawn, p, lost)
        known = _known(cost, _inputs(drawn, p))
        known = replace(known, one=_questions(known, min(known.everything, worth_of_term(cost, drawn.bought[:, p]))))
        near = _near(cost, known, part_alike(model, p, known.best), worth)
        if proposed:
            near = tuple(dict.fromkeys((*near, best.choice[p])))
        parts.append(_part_answer(model, p, rivals, cost, known, near, first[p]))
        standings.append(_standing(model.names[p], known, cost, under_of(model, best, rivals, p)))
    kinds = {one.kind for one in parts}
    everything = sum(one.everything for one in parts)
    kind: Kind = "equal" if "equal" in kinds else "decided"
    if "not decided" in kinds or everything >= worth:
        kind = "not decided"
    return BoardAnswer(
        kind=kind,
        parts=tuple(parts),
        standings=tuple(standings),
        decisions=rivals.decisions,
        everything=everything,
        worth=worth,
        inputs=_most(one.inputs for one in parts),
    )


def _known(cost: Array, inputs: Mapping[Unknown, Array]) -> Known[Unknown]:
    """What knowing is worth, worked once for the same draws: another limit seldom changes them."""
    names = tuple(inputs)

    def work() -> tuple[int, Array, Array, float, tuple[float, ...]]:
        found = worth_knowing(cost, inputs)
        return found.best, found.mean, found.wins, found.everything, tuple(found.one[name] for name in names)

    best, mean, wins, everything, one = worked_once(work, "worth knowing", mark_of(cost, tuple(inputs.values())))
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
    rivals: Rivals,
    cost: Array,
    known: Known[Unknown],
    near: Sequence[int],
    first: int,
) -> PartAnswer:
    """The answer for one part: `near` are the options in question, and `first` stands first where they are equal."""
    part, names, run = model.parts[p], model.names[p], model.bench.content.costs.run
    worth, means = worth_of(model), known.mean[list(near)]
    # Room for the dearest of them to be taken as well as the first.
    alike = max(part_alike(model, p, known.best), FURTHER * float(means.max() - means.min()))
    kind: Kind
    if known.everything >= worth:
        kind = "not decided"
    else:
        kind = "equal" if len(near) > 1 else "decided"
    # Where nothing is decided the best on average comes first.
    order = sorted(near, key=lambda k: (kind != "not decided" and k != first, float(known.mean[k])))
    inputs = tuple(
        Worth(one, part.part.refs[0], saves, saves * run)
        for one, saves in list(known.one.items())[:MOST_INPUTS]
        if saves > OPEN_SHARE * max(known.everything, 1e-300)
    )
    rival = _rival(known, order[0], model.present[p])
    unshown = {names[k]: model.judged[rivals.decisions[p][k], p, k].unshown for k in order}
    return PartAnswer(
        part=part.part.refs[0],
        kind=kind,
        options=tuple(names[k] for k in order),
        probability=float(known.wins[order[0]]),
        rival=names[rival] if rival >= 0 else "",
        ahead=float((cost[:, order[0]] < cost[:, rival]).mean()) if rival >= 0 else 1.0,
        worth=worth,
        alike=alike,
        everything=known.everything,
        inputs=inputs,
        conditions=MappingProxyType({name: limits for name, limits in unshown.items() if limits}),
    )


def _near(cost: Array, known: Known[Unknown], alike: float, worth: float) -> tuple[int, ...]:
    """The options that may be the best as well, the best on average first.

    Those that cost hardly more on average, and those that are the cheaper one in half of the draws or more: their
    average is the worse one by rare dear boards, or by nothing that a reader could count on.
    """
    often = [k for k in known.within(worth) if k != known.best and (cost[:, k] <= cost[:, known.best]).mean() >= EVEN]
    near = dict.fromkeys((*known.within(alike), *often))
    return tuple(sorted(near, key=lambda k: (k != known.best, float(known.mean[k]))))


def _rival(known: Known[Unknown], first: int, present: int) -> int:
    """What the first stands against: today's option where it is in and another, else the next on average; else -1."""
    inside = [int(k) for k in np.argsort(known.mean) if np.isfinite(known.mean[k]) and k != first]
    if present in inside:
        return present
    return inside[0] if inside else -1


def _standing(names: Sequence[str], known: Known[Unknown], cost: Array, under: Mapping[str, str]) -> Standing:
    inside = sorted((k for k in range(len(names)) if np.isfinite(known.mean[k])), key=lambda k: float(known.mean[k]))
    above = cost[:, inside] - cost[:, [inside[0]]]
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
