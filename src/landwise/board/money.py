"""What the board's money is made of: one term for each line and product of rates, over all options and decisions.

The same terms give the cost that is minimised, the cost that is shown, the draws and the flips.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from landwise.access.inspection import SIGHTS
from landwise.access.plans import KINDS, SAMPLED, Plan
from landwise.assembly.lines import Line as AssemblyLine
from landwise.board.judged import Judgement, Place, Setups
from landwise.board.limits import offers_of
from landwise.board.model import Decision
from landwise.board.paid import FEEDER_LOAD, OUTLINE_LOAD, PRINTING_LOADS, PROCESS_LOADS, board_loads, placed_loads
from landwise.board.sizes import panel_of, repeated, sized
from landwise.choosing.optimum.market import Input, Market, Prices, Term, break_tables
from landwise.choosing.optimum.model import Array, Charge, Mask
from landwise.costs.control import Controlled, control_loads, plan_loads
from landwise.costs.foils import print_loads
from landwise.costs.loads import RUN, Line, Load
from landwise.costs.panels import BoardSize
from landwise.judging.results import OptionResult, PartResult
from landwise.printing.model import POWDERS
from landwise.study.file import Board
from landwise.study.parttable import PartTable

VOLUME_FACTOR = 2.0  # a run is taken to end up between half and twice what was planned
OUTLINE_CHARGE = "outline"
FEEDER_CHARGE = "feeder"
PROCESS_CHARGE = "second process"
PRINTING_CHARGE = "printing"
Key = tuple[Line, tuple[str, ...], bool]


@dataclass(frozen=True)
class Ledger:
    """What the whole board can cost.

    Parameters
    ----------
    market : Market
        Terms, inputs and prices.
    charges : tuple of Charge
        What is paid once for all options that need it.
    """

    market: Market
    charges: tuple[Charge, ...]

    def at_values(self, shape: tuple[int, ...]) -> tuple[Array, Array, Array]:
        """Cost of every option, of every shared decision, and of every charge, at the inputs' own values."""
        values = {one.name: one.value for one in self.market.inputs}
        cost, shared, due = np.zeros(shape), np.zeros(shape[0]), np.zeros(len(self.charges))
        for term in self.market.terms:
            product = float(np.prod([values[name] ** power for name, power in term.powers.items()]))
            cost += product * term.load
            shared += product * term.shared
            if term.charged is not None:
                due += product * term.charged
        prices = self.market.prices
        if prices is not None:
            cost += prices.cost[self.market.stretch(values[RUN])]
        return cost, shared, due


def ledger_of(
    setups: Setups,
    parts: Sequence[PartResult],
    judged: Mapping[Place, Judgement],
    keep_out: Callable[[Judgement], float],
    sizes: Sequence[BoardSize] = (),
) -> Ledger:
    """Every term of the board's money.

    Parameters
    ----------
    setups : Setups
    parts : sequence of PartResult
        The parts that are chosen.
    judged : mapping
        Their options under every shared decision.
    keep_out : callable
        Area that an option's step adds around its courtyard. [mm²]
    sizes : sequence of BoardSize
        Each shared decision is weighed at each of them, those of the first size first.
    """
    plans = tuple(dict.fromkeys(decision.plan for decision in setups.decisions))
    shape = (len(setups.decisions), len(parts), max(len(part.options) for part in setups.parts))
    found: dict[Key, Term] = {}
    for plan in plans:
        under = [d for d, decision in enumerate(setups.decisions) if decision.plan == plan]
        for key, units in _under(plan, under, setups, parts, judged, keep_out).items():
            found.setdefault(key, _empty(key, shape)).load[under] = units
    for d, decision in enumerate(setups.decisions):
        for load in _shared(setups, decision):
            key = (load.line, load.rates, load.per_run)
            found.setdefault(key, _empty(key, shape)).shared[d] += load.units
    if sizes:
        shape = _at_sizes(found, setups, sizes, shape)
    charges, due = _charges(setups, parts, judged, shape)
    for place, load in enumerate(due):
        key = (load.line, load.rates, load.per_run)
        term = found.setdefault(key, _empty(key, shape))
        once = np.zeros(len(charges)) if term.charged is None else np.array(term.charged)
        once[place] = load.units
        found[key] = replace(term, charged=once)
    return Ledger(_market(setups, tuple(found.values()), _prices(setups, parts, shape)), charges)


def _at_sizes(
    found: dict[Key, Term], setups: Setups, sizes: Sequence[BoardSize], shape: tuple[int, int, int]
) -> tuple[int, int, int]:
    """Every term once for each size, and what the panel costs at each; the shape of the tables then."""
    board, run = setups.bench.content.board, setups.bench.content.costs.run
    for key, term in found.items():
        found[key] = replace(term, load=repeated(term.load, len(sizes)), shared=repeated(term.shared, len(sizes)))
    decisions = sized(setups.decisions, sizes)
    whole = (len(decisions), *shape[1:])
    for d, decision in enumerate(decisions):
        for load in panel_of(board, decision, run):
            key = (load.line, load.rates, load.per_run)
            found.setdefault(key, _empty(key, whole)).shared[d] += load.units
    return whole


def _empty(key: Key, shape: tuple[int, ...]) -> Term:
    line, rates, per_run = key
    powers = dict.fromkeys(rates, 1) | ({RUN: -1} if per_run else {})
    return Term(powers, np.zeros(shape), np.zeros(shape[0]), key=line.value)


@dataclass(frozen=True)
class _Units:
    """Units of every load: tables (decisions, parts, options) by line and product of rates."""

    shape: tuple[int, ...]
    tables: dict[Key, Array]

    def add(self, load: Load, units: float | Array, at: Place | None = None) -> None:
        table = self.tables.setdefault((load.line, load.rates, load.per_run), np.zeros(self.shape))
        table[at if at is not None else ...] += units


def _under(
    plan: Plan,
    under: Sequence[int],
    setups: Setups,
    parts: Sequence[PartResult],
    judged: Mapping[Place, Judgement],
    keep_out: Callable[[Judgement], float],
) -> dict[Key, Array]:
    """Units of every load under the decisions of one plan: (decisions of it, parts, options)."""
    shape = (len(under), len(parts), max(len(part.options) for part in setups.parts))
    row = {d: n for n, d in enumerate(under)}
    joints = {sight: np.zeros(shape) for sight in SIGHTS}
    defects = {(sight, kind): np.zeros(shape) for sight in SIGHTS for kind in KINDS}
    units = _Units(shape, {})
    for (d, p, k), one in judged.items():
        if d not in row:
            continue
        count, at = parts[p].count, (row[d], p, k)
        for load in _own(one, setups.decisions[d], parts[p], setups, keep_out):
            units.add(load, load.units, at)
        for sight, number in one.option.controlled.joints.items():
            joints[sight][at] = count * number
        for cell, expected in one.option.controlled.defects.items():
            defects[cell][at] = count * expected
    # What a plan costs is linear in joints and defects: one of each, times the tables.
    for sight, table in joints.items():
        for load in control_loads(Controlled({sight: 1}, {}), plan):
            units.add(load, load.units * table)
    for cell, table in defects.items():
        for load in control_loads(Controlled({}, {cell: 1.0}), plan):
            units.add(load, load.units * table)
    return units.tables


def _own(
    one: Judgement, decision: Decision, part: PartResult, setups: Setups, keep_out: Callable[[Judgement], float]
) -> tuple[Load, ...]:
    """What all places of a part pay for one option, whatever the plan."""
    board = setups.bench.content.board
    return placed_loads(
        one.option.loads,
        part.count,
        decision.board.rate,
        keep_out(one) if board.area_is_money else 0.0,
        decision.board.layers,
        is_changed(board, part.present, one.option),
        part.beside,
        feeder=not part.reel,
    )


def is_changed(board: Board, present: OptionResult | None, option: OptionResult) -> bool:
    """Whether an existing board takes this option in place of the package that it carries."""
    return board.state == "existing" and present is not None and option.name != present.name


def reel_in(part: PartResult, option: OptionResult) -> str:
    """The reel of a part whose number others may share, in one package: each package comes on a reel of its own."""
    return f"{part.reel}, {option.name}"


def stocked_of(board: Board, parts: Sequence[PartResult]) -> tuple[str, ...]:
    """Outlines that are not new to the board: those of an existing one."""
    if board.state != "existing":
        return ()
    return tuple(dict.fromkeys(part.present.name for part in parts if part.present))


def finer_powders(line: AssemblyLine, decision: Decision) -> int:
    """Classes of powder that a decision is finer than the line's own."""
    return POWDERS.index(decision.powder) - POWDERS.index(line.powder)


def rest_mm2(board: Board, parts: Sequence[PartResult]) -> float | None:
    """Board area paid beside these parts; None where the board's size is not stated, or it pays for panels. [mm²]

    A class of board is bought for the whole board; where it may shrink, for what these parts leave of it.
    """
    if board.length is None or board.width is None or board.panel is not None:
        return None
    return board.length * board.width - courtyards_mm2(parts) * board.area_is_money


def _shared(setups: Setups, decision: Decision) -> list[Load]:
    """What a shared decision costs beside the parts."""
    board, today = setups.bench.content.board, setups.bench.line
    return [
        *plan_loads(decision.plan, xray_paid=SAMPLED if board.xray_anyway else 0.0),
        *print_loads(decision.stepped, decision.technology != today.technology, finer_powders(today, decision)),
        *board_loads(board.sides, rest_mm2(board, setups.today), decision.board.layers, decision.board.rate),
    ]


def courtyards_mm2(parts: Sequence[PartResult]) -> float:
    """Courtyards of today's parts, or of the smallest option where a part's package is not known. [mm²]"""
    return sum(
        part.count * (part.present.area_mm2 if part.present else min(option.area_mm2 for option in part.options))
        for part in parts
    )


def _charges(
    setups: Setups, parts: Sequence[PartResult], judged: Mapping[Place, Judgement], shape: tuple[int, ...]
) -> tuple[tuple[Charge, ...], tuple[Load, ...]]:
    """Outlines new to the board, processes that only drilled or only printed parts need, feeders that reels share."""
    reels: dict[str, Mask] = {}
    masks: dict[str, Mask] = {}
    drilled: Mask = np.zeros(shape[1:], dtype=bool)
    printed: Mask = np.zeros(shape[1:], dtype=bool)
    for (_, p, k), one in judged.items():
        masks.setdefault(one.option.name, np.zeros(shape[1:], dtype=bool))[p, k] = True
        drilled[p, k] = one.option.geometry.outline.drilled
        printed[p, k] = not one.option.geometry.outline.drilled
        if parts[p].reel:
            reels.setdefault(reel_in(parts[p], one.option), np.zeros(shape[1:], dtype=bool))[p, k] = True
    board = setups.bench.content.board
    stocked = stocked_of(setups.bench.content.board, setups.today)
    charges = [Charge(f"{OUTLINE_CHARGE} {name}", mask) for name, mask in masks.items() if name not in stocked]
    loads = [OUTLINE_LOAD for _ in charges]
    if drilled.any() and not board.drilled_anyway and setups.bench.line.drilled_soldering == "process":
        charges += [Charge(PROCESS_CHARGE, drilled), Charge(f"{PROCESS_CHARGE}, set-up", drilled)]
        loads += PROCESS_LOADS
    if printed.any() and not board.printed_anyway:
        charges += [Charge(f"{PRINTING_CHARGE}, {load.rates[0]}", printed) for load in PRINTING_LOADS]
        loads += PRINTING_LOADS
    charges += [Charge(f"{FEEDER_CHARGE} {name}", mask) for name, mask in reels.items()]
    loads += [FEEDER_LOAD for _ in reels]
    return tuple(charges), tuple(loads)


def _market(setups: Setups, terms: tuple[Term, ...], prices: Prices) -> Market:
    """The inputs that the terms and prices move with; a rate of nothing moves nothing."""
    rates, run = setups.bench.rates, setups.bench.content.costs.run
    moving = tuple(
        term
        for term in terms
        if (term.load.any() or term.shared.any() or (term.charged is not None and term.charged.any()))
        and all(name == RUN or rates[name].value > 0 for name in term.powers)
    )
    used = dict.fromkeys(name for term in moving for name in term.powers if name != RUN)
    inputs = [Input(name, r.value, max(r.low, r.value / 1000), r.high) for name in used if (r := rates[name]).value > 0]
    inputs.append(Input(RUN, float(run), run / VOLUME_FACTOR, run * VOLUME_FACTOR))
    return Market(tuple(inputs), moving, prices)


def _prices(setups: Setups, parts: Sequence[PartResult], shape: tuple[int, ...]) -> Prices:
    """Mean prices times counts, by volume, with their spreads; guessed prices of a part move together by its level."""
    costs = setups.bench.content.costs
    lost = 1 + setups.bench.rates["attrition"].value
    spread, log_sd, level_sd = np.zeros(shape[1:]), np.zeros(shape[1:]), np.zeros(shape[1:])
    places, breaks, flat = [], [], []
    for p, part in enumerate(parts):
        offers = offers_of(part, setups.bench)
        per_board = part.pieces / costs.run  # a break counts pieces of the order code, the run counts boards
        for k, option in enumerate(part.options):
            offer, priced, paid = offers.get(option.name), option.priced, part.count * lost
            places.append((p, k))
            flat.append(priced.expected * paid)
            breaks.append({float(v) / per_board: cost * paid for v, cost in offer.prices.items()} if offer else None)
            if priced.quoted:
                stated = offer.price_spread if offer else None
                spread[p, k] = costs.price_spread if stated is None else stated
            log_sd[p, k], level_sd[p, k] = priced.own_sd, priced.level_sd
    starts, table_of = break_tables(breaks, flat)
    tables = []
    for row in table_of:
        cost = np.zeros(shape[1:])
        for (p, k), value in zip(places, row, strict=True):
            cost[p, k] = value
        tables.append(cost)
    return Prices(
        cost=tuple(tables),
        spread=spread,
        breaks=starts,
        volume=RUN,
        log_sd=log_sd,
        level_sd=level_sd,
        parts=contents_of([part.part for part in parts]),
        options=tuple(tuple(option.name for option in part.options) for part in parts),
    )


def contents_of(parts: Sequence[PartTable]) -> tuple[str, ...]:
    """What the draws of each part follow from: what it is, and which of several alike, by their references.

    Neither its place in the study nor what is offered and limited today is in it: a study in another order, or with one
    price changed, is drawn alike.

    Examples
    --------
    >>> gate = PartTable(refs=["U2"], number="1G08", terminals=5)
    >>> contents_of([gate, gate.model_copy(update={"refs": ["U1"], "price": 0.1})])
    ("('1G08', '', '', 5), 1", "('1G08', '', '', 5), 0")
    """
    kinds = [(part.number, part.family, part.function, part.terminals) for part in parts]
    found, counted = [""] * len(parts), Counter[object]()
    for p in sorted(range(len(parts)), key=lambda p: sorted(parts[p].refs)):
        found[p] = f"{kinds[p]}, {counted[kinds[p]]}"
        counted[kinds[p]] += 1
    return tuple(found)
