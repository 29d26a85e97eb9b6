"""From judgements to the numbers of the whole-board choice: costs, sums, limits, and what all share."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from landwise.board.judged import Judgement, Place, Setups, judged_everywhere, setups_of
from landwise.board.lasting import lasting_of
from landwise.board.limits import broken, rows_of, sums_wanted, where_limits_are_figures
from landwise.board.model import AREA, HIDDEN, RISK, BoardModel
from landwise.board.money import courtyards_mm2, ledger_of
from landwise.board.paid import keep_out_area
from landwise.board.sizes import repeated, rows_of_sizes, sized, sizes_of
from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.model import GROUPS, OUTLINES, Array, Ban, Index, Mask, Problem
from landwise.errors import LandwiseError
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.judging.wanted import HALF_WIDTH_90
from landwise.memory import Memory
from landwise.printing.transfer import PASS_LEVEL

# The search names these two itself.
WHOLE = (Limit(OUTLINES), Limit(GROUPS))
OTHERS_FOIL = Limit(LimitKey.OTHERS_FOIL)


def board_model(
    result: StudyResult,
    *,
    progress: Callable[[int, int, str], None] | None = None,
    stop: Callable[[], bool] | None = None,
    memory: Memory | None = None,
    jobs: int = 1,
    today: tuple[PartResult, ...] | None = None,
    only_today: bool = False,
) -> BoardModel | None:
    """Work every option under every shared decision.

    Parameters
    ----------
    result : StudyResult
        The parts judged one by one under today's line.
    progress : callable, optional
        Called with (parts done, parts in all, part's name).
    stop : callable, optional
        True ends the work; there is then no model.
    jobs : int
        Processes to share the work of a large board between.
    memory : Memory, optional
        Of a caller that asks again and again.
    today : tuple of PartResult, optional
        The parts as they are grouped today, where they are others.
    only_today : bool
        Whether to work today's shared decision alone: what is left of a study that was stopped.

    Raises
    ------
    LandwiseError
        For limits on figures that don't exist, or values that can't be read.
    """
    try:
        setups = setups_of(result, memory, today)
        if only_today:
            setups = Setups(setups.bench, setups.decisions[:1], setups.parts, setups.today)
        judged = judged_everywhere(
            result, setups, tell=progress or (lambda *_: None), stop=stop or (lambda: False), jobs=jobs
        )
        return None if judged is None else model_of(setups, judged)
    except LandwiseError as error:
        raise error.within(file=result.study.file) from None


def model_of(setups: Setups, judged: Mapping[Place, Judgement]) -> BoardModel:
    """The numbers of a choice over judged options."""
    bench, want = setups.bench, setups.bench.content.want
    where_limits_are_figures(want, {place: one.option for place, one in judged.items()})
    breaks = {place: broken(setups.parts[place[1]], one, bench) for place, one in judged.items()}
    fits = _fitting(setups.parts, breaks)
    parts = tuple(part for p, part in enumerate(setups.parts) if p in fits)
    kept = {place: judged[old] for place, old in _renumbered(judged, fits)}
    tables = _tables(setups, parts, kept)
    options = {place: one.option for place, one in kept.items()}
    names = tuple(tuple(option.name for option in part.options) for part in parts)
    rest = _rest_mm2(setups, parts)
    sizes = sizes_of(setups, tables.sums[AREA], tables.exists, rest)
    ledger = ledger_of(setups, parts, kept, _keep_out, sizes)
    tables, judged_at = tables.repeated(len(sizes)), _repeated(options, len(setups.decisions), len(sizes))
    cost, shared, due = ledger.at_values(tables.zones.shape)
    rows = rows_of(bench.content, tables.sums, options, zones=tables.zones if _steps(setups) else None)
    follows = bench.content.board.gives_way
    rows |= rows_of_sizes(sizes, len(setups.decisions), tables.sums[AREA], rest, follows=follows)
    problem = Problem(
        cost=cost,
        shared_cost=shared,
        exists=tables.exists,
        outline=_numbered(names, tables.exists.shape),
        rows=tuple(rows.values()),
        bans=(*_bans(breaks, fits, tables.zones.shape, len(setups.decisions)), *_too_thick(setups, tables.zones.shape)),
        groups=_groups(parts),
        most_outlines=want.most_outlines,
        charges=ledger.charges,
        charged=due,
    )
    nothing = np.zeros(len(shared))
    counted = any("defects" in option.figures for option in options.values())
    says = (
        "expected defects per board"
        if counted
        else "lands at risk: for each land of an option, the share of the worst land's transfer band below 80 %"
    )
    return BoardModel(
        problem=problem,
        decisions=sized(setups.decisions, sizes),
        parts=parts,
        names=names,
        judged=judged_at,
        steps=tables.zones > 0,
        area=Axis("area", tables.sums[AREA], nothing, "mm2"),
        risk=Axis(RISK, tables.sums[RISK], nothing),
        risk_says=says,
        money=ledger.market,
        stuck=tuple(part for p, part in enumerate(setups.parts) if p not in fits),
        bench=bench,
        lasting=lasting_of(setups.parts, breaks, _open_decisions(setups)),
        limits=MappingProxyType({limit.name: limit for limit in (*_all(breaks), *rows, OTHERS_FOIL, *WHOLE)}),
        today=setups.today if setups.today is not setups.parts else None,
        rest_mm2=rest,
    )


def _rest_mm2(setups: Setups, parts: Sequence[PartResult]) -> float:
    """Area of the board as it is that is no courtyard of the chosen parts; nothing where no size is stated. [mm²]"""
    board = setups.bench.content.board
    if board.length is None or board.width is None:
        return 0.0
    stuck = {part.part.refs[0] for part in setups.parts} - {part.part.refs[0] for part in parts}
    return board.length * board.width - courtyards_mm2([p for p in setups.today if p.part.refs[0] not in stuck])


def _repeated(options: Mapping[Place, OptionResult], decisions: int, sizes: int) -> Mapping[Place, OptionResult]:
    """What was judged under every shared decision, once for each size: no joint knows how large its board is."""
    if sizes < 2:
        return options
    return {(s * decisions + d, p, k): one for s in range(sizes) for (d, p, k), one in options.items()}


def _all(breaks: Mapping[Place, Sequence[Limit]]) -> tuple[Limit, ...]:
    """Every limit that some option breaks, once."""
    return tuple(dict.fromkeys(limit for limits in breaks.values() for limit in limits))


def _fitting(parts: Sequence[PartResult], breaks: Mapping[Place, Sequence[Limit]]) -> Sequence[int]:
    """Parts that some option fits under some shared decision; all of them where none does.

    The others are set aside, or they would stop all the others; where nothing fits at all, the search says which
    limits conflict.
    """
    fits = sorted({p for (_, p, _), names in breaks.items() if not names})
    return fits or range(len(parts))


def _renumbered(places: Iterable[Place], fits: Sequence[int]) -> Iterator[tuple[Place, Place]]:
    """Places of the parts that fit, with the part's number among them, beside the place as it was."""
    number = {p: n for n, p in enumerate(fits)}
    for d, p, k in places:
        if p in number:
            yield (d, number[p], k), (d, p, k)


def _steps(setups: Setups) -> bool:
    return any(decision.stepped for decision in setups.decisions)


@dataclass(frozen=True)
class _Tables:
    """What each option uses under each shared decision, times the places of its part.

    Arrays are (decisions, parts, options); `exists` is (parts, options).
    """

    exists: Mask
    zones: Array
    sums: Mapping[str, Array]

    def repeated(self, sizes: int) -> _Tables:
        """The same for every size of the board."""
        if sizes < 2:
            return self
        sums = {name: repeated(table, sizes) for name, table in self.sums.items()}
        return _Tables(self.exists, repeated(self.zones, sizes), sums)


def _tables(setups: Setups, parts: Sequence[PartResult], judged: Mapping[Place, Judgement]) -> _Tables:
    shape = (len(setups.decisions), len(parts), max(len(part.options) for part in setups.parts))
    exists: Mask = np.zeros(shape[1:], dtype=bool)
    zones = np.zeros(shape)
    sums = {name: np.zeros(shape) for name in sums_wanted(setups.bench.content.want)}
    for (d, p, k), one in judged.items():
        part, extra = parts[p], _keep_out(one)
        exists[p, k] = True
        zones[d, p, k] = part.count * (one.step_um > 0)
        for name, table in sums.items():
            table[d, p, k] = part.count * _used(name, one.option, extra)
    return _Tables(exists, zones, sums)


def _bans(
    breaks: Mapping[Place, Sequence[Limit]], fits: Sequence[int], shape: tuple[int, ...], decisions: int
) -> tuple[Ban, ...]:
    """Every limit that takes single options out, with the options that it takes out, at every size alike."""
    masks: dict[Limit, Mask] = {limit: np.zeros((decisions, *shape[1:]), dtype=bool) for limit in _all(breaks)}
    for place, old in _renumbered(breaks, fits):
        for limit in breaks[old]:
            masks[limit][place] = True
    times = shape[0] // decisions
    return tuple(Ban(limit.name, repeated(mask, times)) for limit, mask in masks.items() if mask.any())


def _open_decisions(setups: Setups) -> frozenset[int]:
    """The decisions whose foil the board's other parts bear; all where the thinnest on hand is too thick already.

    A stated foil binds, and is told beside what the others bear.
    """
    board, table = setups.bench.content.board, setups.bench.content.line
    foils_um = [decision.foil_um for decision in setups.decisions]
    bears_um = math.inf
    if board.thickest_foil is not None and table.foil is None:
        bears_um = max(board.thickest_foil, min(foils_um))
    return frozenset(d for d, um in enumerate(foils_um) if um <= bears_um)


def _too_thick(setups: Setups, shape: tuple[int, ...]) -> tuple[Ban, ...]:
    """The decisions whose foil the board's other parts don't bear."""
    decisions, open_ = len(setups.decisions), _open_decisions(setups)
    out = np.tile([d not in open_ for d in range(decisions)], shape[0] // decisions)
    return (Ban(OTHERS_FOIL.name, np.broadcast_to(out[:, None, None], shape)),) if out.any() else ()


def _used(name: str, option: OptionResult, extra_mm2: float) -> float:
    """What one place of a part adds to a sum over the board."""
    if name == AREA:
        return option.area_mm2 + extra_mm2
    if name == RISK:
        return _risk(option)
    if name == HIDDEN:
        return float(option.geometry.sights.not_at_all)
    figure = option.figures.get(name)
    return (figure.value or 0.0) if figure else 0.0


def _keep_out(one: Judgement) -> float:
    """Area that a step's clear margin adds around a courtyard; none where there is no step. [mm²]"""
    return keep_out_area(one.option.geometry.pattern, one.step_um)


def _numbered(names: Sequence[Sequence[str]], shape: tuple[int, ...]) -> Index:
    """A number for each different outline; -1 where there is no option."""
    numbers = {name: n for n, name in enumerate(dict.fromkeys(name for some in names for name in some))}
    outline = np.full(shape, -1, dtype=np.int64)
    for p, some in enumerate(names):
        outline[p, : len(some)] = [numbers[name] for name in some]
    return outline


def _groups(parts: Sequence[PartResult]) -> tuple[tuple[int, ...], ...]:
    groups: dict[str, list[int]] = {}
    for p, part in enumerate(parts):
        if part.part.group:
            groups.setdefault(part.part.group, []).append(p)
    return tuple(tuple(members) for members in groups.values() if len(members) > 1)


def _risk(option: OptionResult) -> float:
    """Expected defects where they are worked; otherwise lands whose paste may fall short."""
    if "defects" in option.figures:
        return option.figures["defects"].value or 0.0
    deposits = option.geometry.printed.deposits
    if not deposits:
        return 0.0
    from scipy.special import ndtr

    weakest = min(deposits, key=lambda deposit: deposit.transfer.mean).transfer
    sd = max((weakest.high - weakest.low) / (2 * HALF_WIDTH_90), 1e-6)
    return float(ndtr((PASS_LEVEL - weakest.mean) / sd)) * len(deposits)
