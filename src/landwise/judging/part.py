"""One part: what it is offered in, and its options judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from landwise.costs.board import price_at
from landwise.costs.prices import Known, Price, price_of
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult
from landwise.outlines import Outline, find
from landwise.outlines.choice import proposals
from landwise.study.file import OptionTable, PartTable

MOST_OPTIONS_DRAWN = 60


def judge_part(part: PartTable, bench: Bench) -> PartResult:
    """Judge the options of one part; until the board is chosen, the cheapest by itself stands first."""
    present_outline = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present_outline.terminals if present_outline else None)
    if terminals is None:
        raise InputError("it is not known how many terminals the part has", expected="terminals, or the package in use")
    offered = _offered(part, terminals, present_outline, bench)
    own = [find(name, bench.own) for name in offered]
    prices = _prices(own, offered, part, terminals, bench)
    judged = [judge_option(outline, prices[outline.name], part, bench) for outline in own]
    present = next((option for option in judged if present_outline and option.name == present_outline.name), None)
    feasible = sorted((option for option in judged if option.feasible), key=lambda option: option.cost.total)
    rejected = sorted((option for option in judged if not option.feasible), key=lambda option: option.area_mm2)
    chosen = present if part.locked and present else (feasible[0] if feasible else None)
    return PartResult(
        part=part,
        terminals=terminals,
        options=(*feasible, *rejected),
        present=present,
        chosen=chosen,
        standing=None,
        says=_says(chosen, rejected),
        runner_up="",
        notes=(),
    )


def _offered(part: PartTable, terminals: int, present: Outline | None, bench: Bench) -> dict[str, float | None]:
    """Outline names with prices: the study's own list, or the catalogue's proposals; the present one always."""
    pieces = bench.content.costs.run * len(part.refs)
    offered: dict[str, float | None] = {}
    if isinstance(part.options, list):
        for option in part.options:
            outline = find(option.outline, bench.own)
            offered[outline.name] = _price(option, pieces)
    else:
        offered = dict.fromkeys((outline.name for outline in proposals(terminals, bench.own)), None)
    if present is not None and offered.get(present.name) is None:
        offered[present.name] = part.price
    if not offered:
        raise InputError(
            "no outline of the catalogue has so many terminals",
            found=str(terminals),
            expected="options in the study, or your own outlines",
        )
    return offered


def _price(option: OptionTable, pieces: int) -> float | None:
    if not option.prices:
        return option.price
    if not all(start.isdigit() for start in option.prices):
        raise InputError(
            "a price break is not a quantity",
            place=option.outline,
            found=", ".join(option.prices),
            expected='prices = { "1" = 0.20, "1000" = 0.08 }',
        )
    try:
        return price_at({int(start): price for start, price in option.prices.items()}, pieces)
    except LandwiseError as error:
        raise error.within(place=option.outline) from None


def _prices(
    outlines: Sequence[Outline],
    offered: Mapping[str, float | None],
    part: PartTable,
    terminals: int,
    bench: Bench,
) -> Mapping[str, Price]:
    """What each option costs: as quoted, or guessed from what is quoted for the part, with its band."""
    known = [Known(one, price) for one in outlines if (price := offered[one.name]) is not None]
    costs = bench.content.costs
    pieces = costs.run * len(part.refs)
    return {one.name: price_of(one, known, terminals=terminals, pieces=pieces, factor=costs.scale) for one in outlines}


def _says(chosen: OptionResult | None, rejected: Sequence[OptionResult]) -> str:
    if chosen is not None:
        return f"{chosen.name}: cheapest by itself"
    nearest = min(rejected, key=lambda option: len(option.rejections), default=None)
    if nearest is None:
        return "no option is known"
    reasons = "; ".join(r.says for r in nearest.rejections)
    return f"nothing fits the study's limits; {nearest.name} comes nearest: {reasons}"
