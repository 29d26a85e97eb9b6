"""One part: what it is offered in, its options judged and ranked, and the sentence that says why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from landwise.choosing.ranking import Ranking, RankInput, rank
from landwise.costs.board import price_at
from landwise.designing import design_words
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult
from landwise.outlines import Outline, find
from landwise.outlines.choice import proposals
from landwise.study.file import OptionTable, PartTable

MOST_OPTIONS_DRAWN = 60


def judge_part(part: PartTable, bench: Bench) -> PartResult:
    """Judge and rank the options of one part."""
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
    ranking = None
    taken = _price_taken(prices, present, notes, judged)
    if feasible:
        inputs = [_rank_input(option, taken) for option in feasible]
        ranking = bench.recalled(
            ("rank", *map(repr, inputs), *bench.weights.items()),
            None,
            lambda: rank(inputs, bench.weights, bench.rate_ranges),
        )
        by_name = {option.name: option for option in feasible}
        feasible = [by_name[name] for name in ranking.order]
    rejected = sorted((option for option in judged if not option.feasible), key=lambda option: option.area_mm2)
    chosen = present if part.locked and present else (feasible[0] if feasible else None)
    if chosen is not None and chosen.geometry.design is not None and chosen.geometry.design.designed:
        notes.append(f"{chosen.name}: {design_words(chosen.geometry.design)}")
    says, runner_up = _sentences(part, chosen, present, feasible, ranking, rejected)
    return PartResult(
        part,
        terminals,
        (*feasible, *rejected),
        present,
        chosen,
        ranking,
        says,
        runner_up,
        tuple(dict.fromkeys(notes)),
        taken,
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


def _rank_input(option: OptionResult, taken: float | None) -> RankInput:
    price = option.price if option.price is not None else taken
    # Where nothing is printed there is nothing to starve: a drilled part's release is complete.
    deposits = option.geometry.printed.deposits
    weakest = min((d.transfer for d in deposits), key=lambda t: t.mean) if deposits else None
    figures = {key: option.figures[key].value or 0.0 for key in ("area", "gap", "seen", "reach")}
    figures["transfer"] = weakest.mean if weakest else 1.0
    # What the methods don't cover (drilled joints) is not held against an option: the best value there is.
    for key in ("test-life", "push"):
        known = option.figures[key].value
        figures[key] = 1e9 if known is None else known
    return RankInput(
        option.name,
        figures,
        weakest.low if weakest else 1.0,
        weakest.high if weakest else 1.0,
        price or 0.0,
        option.loads,
    )


def _sentences(
    part: PartTable,
    chosen: OptionResult | None,
    present: OptionResult | None,
    feasible: Sequence[OptionResult],
    ranking: Ranking | None,
    rejected: Sequence[OptionResult],
) -> tuple[str, str]:
    if chosen is None or ranking is None:
        nearest = min(rejected, key=lambda option: len(option.rejections), default=None)
        if nearest is None:
            return "no option is known", ""
        reasons = "; ".join(r.says for r in nearest.rejections)
        return f"nothing fits the study's limits; {nearest.name} comes nearest: {reasons}", ""
    return _choice_sentence(part, chosen, present, ranking), _runner_up_sentence(chosen, feasible, ranking)


def _choice_sentence(part: PartTable, chosen: OptionResult, present: OptionResult | None, ranking: Ranking) -> str:
    bits = []
    if present and present.name != chosen.name:
        saved = present.area_mm2 - chosen.area_mm2
        bits.append(
            f"{abs(saved):.1f} mm² {'less' if saved >= 0 else 'more'} board than the {present.name} in use"
            f" ({abs(saved) / present.area_mm2:.0%})"
        )
    elif present:
        bits.append("already in use" + (", locked" if part.locked else ""))
    figure = chosen.figures["transfer"]
    if figure.value is not None:
        bits.append(f"paste transfers {figure.value:.0%} on the worst land ({figure.verdict})")
    else:
        bits.append("drilled, nothing is printed")
    bits.append(f"{chosen.geometry.sights.why}")
    if chosen.name in ranking.support:
        bits.append(f"first in {ranking.support[chosen.name]:.0%} of all weightings")
    return f"{chosen.name}: " + "; ".join(bits)


def _runner_up_sentence(chosen: OptionResult, feasible: Sequence[OptionResult], ranking: Ranking) -> str:
    others = [option for option in feasible if option.name != chosen.name]
    if not others:
        return "no other option fits the limits"
    second = others[0]
    gap = ranking.score.get(chosen.name, 0.0) - ranking.score[second.name]
    text = f"{second.name} comes {abs(gap):.3f} {'behind' if gap >= 0 else 'ahead'} in value"
    change = ranking.break_even.get(second.name)
    if change is not None and change < 0:
        text += f"; it would win if it cost {-change:.3f} less"
    elif second.name in ranking.dominated_by:
        text += f"; {ranking.dominated_by[second.name]} is at least as good in everything"
    return text
