"""The trial that would settle a choice: which packages to build and count, how many, and what it is worth.

Only what a trial can count is proposed: bridges and opens of rival packages, and lives that are not shown. A price
that nobody quoted is asked for, not built.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from landwise.assembly.knowledge import joint_class
from landwise.board.alike import proposed_ahead
from landwise.board.answer import PartAnswer
from landwise.board.chosen import BoardChoice
from landwise.board.draws import Drawn, Unknown, draw_costs
from landwise.board.model import BoardModel
from landwise.board.objective import objective_of
from landwise.board.rivals import drawn_rivals, rivals_of
from landwise.choosing.optimum.model import Array
from landwise.choosing.optimum.sampling import Trial, best_size, taken_after, worth_sampling
from landwise.errors import InputError
from landwise.judging.bench import Geometry
from landwise.judging.life import place_of
from landwise.judging.lifetime import environment_of, judged_life
from landwise.judging.results import OptionResult, PartResult

SIZES = (50, 100, 200, 500, 1000, 2000, 5000)
LEAST_WINS = 0.02  # a package that is the cheapest in fewer draws is not built
MOST_RIVALS = 4
COUNTS_LOOKED_AT = 200
LIFE_CONFIDENCE = 0.9  # where the study states no `sure`
LIFE_MULTIPLES = (1.0, 1.5, 2.0, 3.0)
LIFE_SLOPES: Mapping[str, float] = {"lead": 3.0, "leadless": 2.0, "ball": 2.0}  # Weibull; leads as docs/service.md
SOURCES = ("success-run-memory", "preposterior-memory")


@dataclass(frozen=True)
class LifeTest:
    """A cycling test that would show a life: so many parts to so many cycles without a failure.

    Parameters
    ----------
    package : str
    cycles : float
        That the part's life is worth in the usual test.
    share : float
        Of parts that may have failed by then.
    confidence : float
    sizes : tuple of (float, int)
        Multiples of those cycles, and how many parts must reach them.
    """

    package: str
    cycles: float
    share: float
    confidence: float
    sizes: tuple[tuple[float, int], ...]


@dataclass(frozen=True)
class Proposal:
    """The trial for one part.

    Parameters
    ----------
    part : str
        First reference.
    rivals : tuple of str
        Packages to build, the one that is best now first.
    geometries : mapping of str to tuple of Geometry
        Each package under the foils that it would be built with.
    trials : tuple of Trial
        What each size is worth, in money over the run.
    prices : tuple of float
        What each size costs. [money]
    chosen : Trial or None
        None where no size is worth its price.
    stays : int
        Of the chosen size: the most defects with which the first rival is still taken, the others as expected; -1
        without a size, `COUNTS_LOOKED_AT` where it is taken whatever it shows.
    then : str
        The package that is taken with one defect more; empty where none is.
    lives : tuple of LifeTest
        For the packages whose life is not shown.
    everything : float
        What knowing everything beforehand would save. [money over the run]
    asks : tuple of Unknown
        Inputs worth knowing that no trial shows.
    """

    part: str
    rivals: tuple[str, ...]
    geometries: Mapping[str, tuple[Geometry, ...]]
    trials: tuple[Trial, ...]
    prices: tuple[float, ...]
    chosen: Trial | None
    stays: int
    then: str
    lives: tuple[LifeTest, ...]
    everything: float
    asks: tuple[Unknown, ...]


def proposals(choice: BoardChoice, reference: str | None = None) -> tuple[Proposal, ...]:
    """A trial for every part that is not decided, or for one part whatever its answer.

    Parameters
    ----------
    choice : BoardChoice
        With its answer.
    reference : str, optional
        One part, by one of its references.

    Raises
    ------
    InputError
        For a part that isn't chosen, or a choice without an answer.
    """
    model, best, answer = choice.model, choice.best, choice.answer
    if answer is None or not best.found:
        raise InputError("no choice was found that a trial could settle")
    named = [part.part.refs for part in model.parts]
    if reference is not None and not any(reference in refs for refs in named):
        expected = ", ".join(one for refs in named for one in refs)
        raise InputError("no such part that is chosen", place="--part", found=reference, expected=expected)
    lost = np.broadcast_to(objective_of(model).lost, model.problem.cost.shape)
    rivals = rivals_of(model, best, lost, proposed_ahead(model, best))
    drawn = draw_costs(model, rivals.near(best))
    found = []
    for p, (part, told) in enumerate(zip(model.parts, answer.parts, strict=True)):
        if reference is None and told.kind != "not decided":
            continue
        if reference is not None and reference not in named[p]:
            continue
        cost = drawn_rivals(model, best, rivals, drawn, p, lost)
        found.append(_proposal(model, drawn, p, part, told, cost, best.decision))
    return tuple(found)


def _proposal(
    model: BoardModel, drawn: Drawn, p: int, part: PartResult, told: PartAnswer, cost: Array, decision: int
) -> Proposal:
    names, content = model.names[p], model.bench.content
    rates = defect_draws(model, drawn, p, decision)
    built = _built(cost, names, rates)
    run = content.costs.run
    over_run = cost[:, [names.index(name) for name in built]] * run
    counted = np.stack([rates[name] for name in built], axis=1)
    prices = tuple(_price(model, part, built, size) for size in SIZES)
    # Below a few parts expected to fail nothing can be told; the sizes say so by themselves.
    trials = worth_sampling(over_run, counted, SIZES)
    chosen = best_size(trials, prices) if len(built) > 1 else None
    geometries = {name: _under_two_foils(model, p, names.index(name), decision) for name in built}
    lives = [_life_test(model, model.judged[decision, p, names.index(name)]) for name in built]
    stays, then = _stays(over_run, counted, built, chosen.size) if chosen else (-1, "")
    return Proposal(
        part=part.part.refs[0],
        rivals=built,
        geometries=geometries,
        trials=trials,
        prices=prices,
        chosen=chosen,
        stays=stays,
        then=then,
        lives=tuple(one for one in lives if one is not None),
        everything=told.everything * run,
        asks=tuple(one.input for one in told.inputs if one.input.kind != "defects"),
    )


def defect_draws(model: BoardModel, drawn: Drawn, p: int, decision: int) -> dict[str, Array]:
    """Expected defects of one part of each printed option at every draw, (draws,) each."""
    found = {}
    for k, name in enumerate(model.names[p]):
        option = model.judged.get((decision, p, k))
        rates = option.geometry.rates if option is not None else None
        if rates is None or not 0 < rates.defects.low < rates.defects.high:
            continue
        level = drawn.own.get((p, Unknown("defects", name)))
        if level is not None:
            found[name] = rates.defects.value * level
    return found


def _built(cost: Array, names: Sequence[str], rates: Mapping[str, Array]) -> tuple[str, ...]:
    """The packages that could win and can be counted, the best on average first."""
    inside = np.asarray(np.isfinite(cost).all(axis=0))
    wins = np.bincount(np.where(inside, cost, np.inf).argmin(axis=1), minlength=cost.shape[1]) / len(cost)
    mean = np.where(inside, np.where(inside, cost, 0.0).mean(axis=0), np.inf)
    order = sorted((k for k in range(len(names)) if inside[k] and names[k] in rates), key=lambda k: float(mean[k]))
    kept = [k for k in order if wins[k] >= LEAST_WINS or k == order[0]]
    return tuple(names[k] for k in kept[:MOST_RIVALS])


def _price(model: BoardModel, part: PartResult, built: Sequence[str], size: int) -> float:
    """Making the coupon and its stencils, and the parts, placed and looked at. [money]"""
    rates = model.bench.rates
    each = {option.name: option for option in part.options}
    pieces = sum(each[name].priced.expected for name in built)
    return rates["finding_out"].value + size * (pieces + len(built) * (rates["placement"].value))


def _under_two_foils(model: BoardModel, p: int, k: int, decision: int) -> tuple[Geometry, ...]:
    """The option under the best decision's foil and under the next thinner or thicker one that it was judged with."""
    own = model.decisions[decision]
    foils = {own.foil_um: model.judged[decision, p, k].geometry}
    order = sorted(
        (d for d in range(len(model.decisions)) if (d, p, k) in model.judged),
        key=lambda d: abs(model.decisions[d].foil_um - own.foil_um),
    )
    for d in order:
        foils.setdefault(model.decisions[d].foil_um, model.judged[d, p, k].geometry)
    return tuple(foils[um] for um in list(foils)[:2])


def _stays(cost: Array, rates: Array, built: Sequence[str], size: int) -> tuple[int, str]:
    """The most defects with which the first rival is still taken, the others as expected, and what follows it."""
    expected = np.maximum(rates * size, 1e-300)
    counts = np.tile(np.round(expected.mean(axis=0)).astype(np.int64), (COUNTS_LOOKED_AT + 1, 1))
    counts[:, 0] = np.arange(COUNTS_LOOKED_AT + 1)
    taken = np.asarray(taken_after(cost, expected, counts))
    left = np.flatnonzero(taken != 0)
    if not len(left):
        return COUNTS_LOOKED_AT, ""
    return int(left[0]) - 1, built[int(taken[left[0]])]


def _life_test(model: BoardModel, option: OptionResult) -> LifeTest | None:
    """How a life that is not shown would be shown; None where it is shown or broken."""
    content, geometry = model.bench.content, option.geometry
    life = judged_life(geometry, content, place=place_of(option.figures["life"], content))
    if life.state != "not shown" or geometry.rates is None:
        return None
    share = environment_of(content.use).failures
    sure = content.want.sure if content.want.sure else LIFE_CONFIDENCE
    slope = LIFE_SLOPES[joint_class(geometry.outline.family)]
    return LifeTest(
        package=geometry.outline.name,
        cycles=life.wanted.cycles,
        share=share,
        confidence=sure,
        sizes=tuple((times, zero_failures(share, sure, times, slope)) for times in LIFE_MULTIPLES),
    )


def zero_failures(share: float, confidence: float, multiple: float = 1.0, slope: float = 2.0) -> int:
    """How many parts must reach so many times the wanted cycles without a failure.

    Parameters
    ----------
    share : float
        Of parts that may have failed at the wanted cycles, 0 to 1.
    confidence : float
        0 to 1.
    multiple : float
        Test length over the wanted cycles.
    slope : float
        Weibull.

    Raises
    ------
    InputError

    Notes
    -----
    Success run with a Weibull life: `n = ln(1 - confidence) ÷ (multiple^slope · ln(1 - share))`. From memory; the
    well-known 22 parts for 90 % reliability at 90 % confidence follow.

    Examples
    --------
    >>> zero_failures(0.10, 0.90), zero_failures(0.01, 0.90), zero_failures(0.01, 0.90, multiple=2.0, slope=2.0)
    (22, 230, 58)
    """
    if not (0 < share < 1 and 0 < confidence < 1 and multiple > 0 and slope > 0):
        raise InputError(
            "no such test", found=f"share {share:g}, confidence {confidence:g}, {multiple:g} times, slope {slope:g}"
        )
    exact = math.log(1 - confidence) / (math.pow(multiple, slope) * math.log(1 - share))
    return max(1, math.ceil(exact - 1e-9))
