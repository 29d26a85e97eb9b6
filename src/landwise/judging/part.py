"""One part: what it is offered in, its options judged and ranked, and the sentence that says why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from landwise.choosing.ranking import Ranking, RankInput, rank
from landwise.designing import design_words
from landwise.errors import InputError
from landwise.fabdata.partnumbers import written_number
from landwise.judging.bench import Bench
from landwise.judging.buying import market_of, outlines_of
from landwise.judging.dropin import choice_worth, serves
from landwise.judging.option import judge_option
from landwise.judging.results import OptionResult, PartResult
from landwise.outlines import find
from landwise.study.file import PartTable

MOST_OPTIONS_DRAWN = 60


def judge_part(part: PartTable, bench: Bench) -> PartResult:
    """Judge and rank the options of one part."""
    present_outline = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present_outline.terminals if present_outline else None)
    if terminals is None:
        raise InputError("it is not known how many terminals the part has", expected="terminals, or the package in use")
    offered = outlines_of(part, terminals, present_outline, bench)
    judged = [judge_option(outline, part, bench) for outline in offered]
    present = next((option for option in judged if present_outline and option.name == present_outline.name), None)
    feasible = [option for option in judged if option.feasible]
    ranking = None
    if feasible:
        feasible = _with_other_takers(feasible)
        present = next((option for option in feasible if present and option.name == present.name), present)
        inputs = [_rank_input(option) for option in feasible]
        ranking = bench.recalled(
            ("rank", *map(repr, inputs), *bench.weights.items()),
            None,
            lambda: rank(inputs, bench.weights, bench.rate_ranges),
        )
        by_name = {option.name: option for option in feasible}
        feasible = [by_name[name] for name in ranking.order]
    rejected = sorted((option for option in judged if not option.feasible), key=lambda option: option.area_mm2)
    chosen = present if part.locked and present else (feasible[0] if feasible else None)
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
        _notes(part, judged, chosen, bench),
        market_of(part, bench).pieces,
    )


def _with_other_takers(feasible: Sequence[OptionResult]) -> list[OptionResult]:
    """The options with what else their lands take, among those that may be planned."""
    found = []
    for option in feasible:
        others = [
            other
            for other in feasible
            if other is not option and serves(option.geometry.pattern, other.geometry.outline)
        ]
        if others:
            worth = choice_worth(option.priced, [other.priced for other in others])
            option = replace(option, also_takes=tuple(other.name for other in others), choice_worth=worth)
        found.append(option)
    return found


def _notes(
    part: PartTable, judged: Sequence[OptionResult], chosen: OptionResult | None, bench: Bench
) -> tuple[str, ...]:
    """What the reader of the answer must know about supply and prices first."""
    notes = []
    known, guessed = market_of(part, bench).known, [option for option in judged if not option.priced.quoted]
    if guessed and not known:
        notes.append(
            "nobody quoted a price: packages differ by ratios of one list of May 2026, the level is an assumption;"
            " each has a wide band"
        )
    elif guessed:
        notes.append(
            f"{len(guessed)} options have no quoted price: theirs are guessed from"
            f" {', '.join(one.outline.name for one in known[:3])} by ratios of one list of May 2026, with a band"
        )
    out = [option.name for option in judged if any(why.limit == "supply" for why in option.rejections)]
    if out:
        shown = ", ".join(out[:4]) + (f" and {len(out) - 4} more" if len(out) > 4 else "")
        notes.append(
            f"left out, since {written_number(part.family, part.number) or 'the function'} was not seen in them (which"
            f' does not mean that nobody makes it): {shown}; offers or supply = "any" bring them in'
        )
    if chosen and chosen.makers == 1:
        notes.append(f"one maker alone offers it in {chosen.name}")
    if chosen and chosen.also_takes:
        worth = f", worth about {chosen.choice_worth:.3g} a piece to the buyer" if chosen.choice_worth > 0 else ""
        notes.append(f"the lands of {chosen.name} also take {', '.join(chosen.also_takes)}{worth}")
    if chosen and chosen.drop_in == "same lands":
        notes.append(f"{chosen.name} fits the lands that the board has")
    if chosen is not None and chosen.geometry.design is not None and chosen.geometry.design.designed:
        notes.append(f"{chosen.name}: {design_words(chosen.geometry.design)}")
    return tuple(notes)


def _rank_input(option: OptionResult) -> RankInput:
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
        option.priced.median,
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
