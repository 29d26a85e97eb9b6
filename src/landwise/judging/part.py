"""One part: what it is offered in, and its options judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from landwise.costs.board import price_at
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult
from landwise.judging.totals import taken_for
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
    prices = {name: price for name, price in offered.items() if price is not None}
    judged = [judge_option(find(name, bench.own), offered[name], part, bench) for name in offered]
    present = next((option for option in judged if present_outline and option.name == present_outline.name), None)
    feasible = [option for option in judged if option.feasible]
    notes: list[str] = []
    taken = _price_taken(prices, present, notes, judged)
    feasible = sorted(feasible, key=lambda option: option.cost.total + taken_for(option, taken))
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
        notes=tuple(dict.fromkeys(notes)),
        price_taken=taken,
    )


def _offered(part: PartTable, terminals: int, present: Outline | None, bench: Bench) -> dict[str, float | None]:
    """Outline names with prices: the study's own list, or the catalogue's proposals; the present one always."""
    run = bench.content.costs.run
    offered: dict[str, float | None] = {}
    if isinstance(part.options, list):
        for option in part.options:
            outline = find(option.outline, bench.own)
            offered[outline.name] = _price(option, run)
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


def _price(option: OptionTable, run: int) -> float | None:
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
        return price_at({int(start): price for start, price in option.prices.items()}, run)
    except LandwiseError as error:
        raise error.within(place=option.outline) from None


def _price_taken(
    prices: Mapping[str, float], present: OptionResult | None, notes: list[str], judged: Sequence[OptionResult]
) -> float | None:
    """What options without a price are taken to cost: as much as the part in use, or the lowest price given."""
    if not prices:
        notes.append("no prices are known: the ranking leaves part prices out, as if all packages cost the same")
        return None
    taken = present.price if present and present.price is not None else min(prices.values())
    if any(option.price is None for option in judged):
        whose = "of the part in use" if present and present.price is not None else "lowest given"
        notes.append(f"options without a price are taken to cost {taken:g}, the price {whose}")
    return taken


def _says(chosen: OptionResult | None, rejected: Sequence[OptionResult]) -> str:
    if chosen is not None:
        return f"{chosen.name}: cheapest by itself"
    nearest = min(rejected, key=lambda option: len(option.rejections), default=None)
    if nearest is None:
        return "no option is known"
    reasons = "; ".join(r.says for r in nearest.rejections)
    return f"nothing fits the study's limits; {nearest.name} comes nearest: {reasons}"
