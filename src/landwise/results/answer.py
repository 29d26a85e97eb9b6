"""The answer in words and as plain data: what is sure, what it hangs on, and a paragraph to reply with."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pydantic import Field

from landwise.board.answer import BoardAnswer, Kind, PartAnswer, Worth
from landwise.board.chosen import BoardChoice
from landwise.board.firm import flip_key
from landwise.board.model import BoardModel
from landwise.board.result import BoardResult
from landwise.choosing.optimum.flips import Flip
from landwise.choosing.optimum.model import Solution
from landwise.costs.prices import Price
from landwise.judging.results import PartResult
from landwise.quantities import significant
from landwise.results.inputwords import flip_says, flip_sentence, flip_unit, input_name, input_says
from landwise.results.roomwords import more_room_mm2
from landwise.results.strict import Strict
from landwise.results.told import board_cautions, print_asked, sockets_asked, unshown_lives, wishes_asked

MOST_HANGS = 3
MOST_NAMED = 3
NARROW = 2 / 3  # share of draws below which a decided choice is called narrow
QUOTES_MOVE = 0.25  # share of a quoted price within which a flip is worth telling (common practice, no source)


class WorthJson(Strict):
    """An input worth knowing."""

    name: str
    kind: str = Field(default="", description="rate, prices (of a part or the board), price-level, price or defects")
    of: str = Field(default="", description="the rate's name, or the outline's")
    part: str
    saves: float = Field(description="money per board that knowing it beforehand would save")
    over_run: float = Field(description="the same over the run")


class PartAnswerJson(Strict):
    """What is known of one part's choice."""

    part: str
    kind: str = Field(description="decided, equal or not decided")
    options: list[str] = Field(description="what comes into question, the first proposed")
    probability: float = Field(description="share of joint draws in which the first is the cheapest of all")
    rival: str = Field(default="", description="what it stands against: today's package, else the next on average")
    ahead: float = Field(default=1.0, description="share of joint draws in which the first costs less than the rival")
    worth: float = Field(description="money per board that knowing must save before the choice counts as not decided")
    alike: float = Field(description="money per board that two options may differ by and count as equal")
    everything: float = Field(description="money per board that knowing everything would save")
    inputs: list[WorthJson]
    conditions: dict[str, list[str]] = Field(description="limits that an option is not shown to hold")


class AnswerJson(Strict):
    """What is known of the board's choice."""

    kind: str
    everything: float = Field(description="money per board that knowing everything would save, over all parts")
    worth: float = Field(default=0.0, description="money per board that finding out costs")
    inputs: list[WorthJson]
    hangs_on: list[str]
    parts: list[PartAnswerJson]
    counts: dict[str, float] = Field(description="what a unit of each weighed criterion counts, in money per board")


def answer_data(result: BoardResult) -> dict[str, object] | None:
    """The answer as data that `AnswerJson` accepts; None where nothing was chosen together."""
    choice = result.choice
    if choice is None or choice.answer is None:
        return None
    answer = choice.answer
    return {
        "kind": answer.kind,
        "everything": answer.everything,
        "worth": answer.worth,
        "inputs": [worth_data(one) for one in answer.inputs],
        "hangs_on": hangs_on(result),
        "parts": [
            {
                **vars(one),
                "options": list(one.options),
                "inputs": [worth_data(worth) for worth in one.inputs],
                "conditions": {name: list(keys) for name, keys in one.conditions.items()},
            }
            for one in answer.parts
        ],
        "counts": dict(choice.counts),
    }


def worth_data(one: Worth) -> dict[str, object]:
    """An input worth knowing, as `WorthJson` accepts it."""
    return {
        "name": input_name(one.input),
        "kind": one.input.kind,
        "of": one.input.of,
        "part": one.part,
        "saves": one.saves,
        "over_run": one.over_run,
    }


def sure_line(answer: PartAnswer, part: PartResult, unit: str) -> str:
    """How sure one part's choice is, in one sentence; what would be worth knowing stands in `hangs_on`."""
    first, others = answer.options[0], answer.options[1:]
    if answer.kind == "decided":
        return f"{decided_word(answer)}: {first}, cheapest on average; {_otherwise(answer, unit)}"
    if answer.kind == "equal":
        return f"equal within what is known: {'; '.join(_apart(part, answer.options))}; the first is proposed"
    near = ", ".join(others[:MOST_NAMED])
    also = f" ({near} {'comes' if len(others) == 1 else 'come'} near)" if others else ""
    return (
        f"not decided: {first} is best on average{also}; knowing all beforehand would save {answer.everything:.2g}"
        f" {unit} a board, finding out costs {answer.worth:.2g}"
    )


def _apart(part: PartResult, names: Sequence[str]) -> list[str]:
    """Options with what tells them apart at a glance: area, pitch, and joints that do not show where some do."""
    options = [option for name in names for option in part.options if option.name == name]
    hidden = {option.name: option.geometry.sights.not_at_all for option in options}
    said = []
    for option in options:
        more = f", {hidden[option.name]} joints do not show" if hidden[option.name] else ""
        pitch = f"{option.geometry.outline.pitch_mm:g} mm pitch"
        said.append(f"{option.name} ({significant(option.area_mm2)} mm², {pitch}{more})")
    return said


def decided_word(answer: PartAnswer) -> str:
    """Decided, and narrowly so where its rival is the cheaper one in more than a third of the draws."""
    return "decided, narrowly" if answer.rival and answer.ahead < NARROW else "decided"


def _otherwise(answer: PartAnswer, unit: str) -> str:
    """How the first stands against its rival, and why finding out more does not pay."""
    if not answer.rival or answer.everything <= 0:
        return "no draw of what is uncertain makes another one cheaper"
    return (
        f"{ahead_says(answer)}; knowing all beforehand would save {answer.everything:.2g} {unit} a board,"
        f" finding out costs {answer.worth:.2g}"
    )


def ahead_says(answer: PartAnswer) -> str:
    """How often the first costs less than its rival, in words.

    Where it is the cheaper one in less than half of the draws, its average is the better one by the rival's rare dear
    boards, and the sentence says so.
    """
    if not answer.rival:
        return "nothing else fits"
    if answer.ahead >= 0.5:
        return f"cheaper than {answer.rival} in {answer.ahead:.0%} of draws"
    return f"{answer.rival} is cheaper in {1 - answer.ahead:.0%} of draws, and dearer by more in the others"


def worth_says(one: Worth, unit: str) -> str:
    """An input worth knowing, with what it saves."""
    saves = f"{one.saves:.2g} {unit} a board, {significant(one.over_run)} over the run"
    if one.input.kind == "prices":
        return f"{input_says(one.input, one.part)}: quotes for them would save about {saves}"
    return f"{input_says(one.input, one.part)} (knowing it would save {saves})"


def board_sure(result: BoardResult) -> str:
    """How sure the whole answer is, in one sentence; empty where nothing was chosen together."""
    choice, unit = result.choice, result.content.costs.unit
    if choice is None or choice.answer is None:
        return ""
    said, other = _parts_sure(choice.answer, unit), _as_good(choice, choice.answer)
    if other is None:
        return said
    more = significant(max(0.0, other.value - choice.best.value), 2)
    return f"{said}; {', '.join(choice.differences(other)[:MOST_NAMED])} would do as well ({more} {unit} a board more)"


def _parts_sure(answer: BoardAnswer, unit: str) -> str:
    said, saves = _kinds_say([one.kind for one in answer.parts]), f"{answer.everything:.2g} {unit} a board"
    if answer.only_together:
        return (
            f"{said}, each by itself; for all together it pays to ask: knowing everything beforehand would save"
            f" {saves}, finding out costs {answer.worth:.2g}"
        )
    return f"{said}; knowing everything beforehand would save {saves}"


def _kinds_say(kinds: Sequence[Kind]) -> str:
    """How many parts are decided, equal and not decided, in words.

    >>> _kinds_say(["equal"]), _kinds_say(["decided"] * 3), _kinds_say(["decided", "not decided"])
    ('equal within what is known', 'all 3 parts decided', '2 parts: 1 decided, 1 not decided')
    """
    if len(set(kinds)) == 1:
        word = "equal within what is known" if kinds[0] == "equal" else kinds[0]
        return word if len(kinds) == 1 else f"all {len(kinds)} parts {word}"
    told = ", ".join(f"{kinds.count(kind)} {kind}" for kind in ("decided", "equal", "not decided") if kind in kinds)
    return f"{len(kinds)} parts: {told}"


def hangs_on(result: BoardResult) -> list[str]:
    """What the answer hangs on, most first: what would be worth knowing, then the nearest values at which it flips."""
    choice, unit = result.choice, result.content.costs.unit
    if choice is None or choice.answer is None:
        return []
    answer = choice.answer
    open_ = [one for part in answer.parts if part.kind == "not decided" for one in part.inputs]
    if answer.only_together:
        open_ = list(answer.inputs)
    said = [worth_says(one, unit) for one in sorted(open_, key=lambda one: -one.saves)[:MOST_HANGS]]
    for part in answer.parts:
        for name, keys in part.conditions.items():
            if name == part.options[0]:
                said.append(f"{part.part} in {name} is not shown to hold the limit on {', '.join(keys)}")
    as_good = _as_good(choice, answer)
    flips = [flip for flip in (choice.firm.flips if choice.firm else ()) if _within(result, flip)]
    told = [flip for flip in flips if not _as_well(choice, flip.to, answer, as_good)]
    for flip in told[:MOST_HANGS]:
        said.append(
            flip_sentence(
                flip_says(choice.model, flip),
                flip.now,
                flip.at,
                choice.differences(flip.to)[:MOST_NAMED],
                key=flip_key(flip),
                unit=flip_unit(flip, unit),
                basis=_basis(result, flip),
            )
        )
    return said


def _as_good(choice: BoardChoice, answer: BoardAnswer) -> Solution | None:
    """The runner-up, where it changes several parts at once and costs no more than they may differ by as equals.

    A change of one part alone needs no such word: its own answer tells its equals.
    """
    second = choice.second
    if second is None or second.decision != choice.best.decision:
        return None
    moved = _changed(choice, second)
    alike = sum(answer.parts[p].alike for p in moved)
    return second if len(moved) > 1 and second.value - choice.best.value < alike else None


def _changed(choice: BoardChoice, other: Solution) -> list[int]:
    """Numbers of the parts that another board takes in another option."""
    return [p for p, (mine, to) in enumerate(zip(choice.best.choice, other.choice, strict=True)) if mine != to]


def _as_well(choice: BoardChoice, other: Solution, answer: BoardAnswer, as_good: Solution | None) -> bool:
    """Whether another board only takes what is told as equal already, so that going there needs no word."""
    if as_good is not None and other.choice == as_good.choice:
        return True
    moved = _changed(choice, other)
    return bool(moved) and all(
        answer.parts[p].kind == "equal" and choice.model.names[p][other.choice[p]] in answer.parts[p].options
        for p in moved
    )


def _within(result: BoardResult, flip: Flip) -> bool:
    """Whether a flip lies where its input may well be: a rate or the run in its range, a price in its band of 90 %.

    A quoted price has no band: any flip within a quarter of it is worth telling, since quotes move.
    """
    if result.choice is None or flip_key(flip) == "transfer":
        return True
    if flip.part < 0:
        drawn = result.choice.firm.ranges if result.choice.firm is not None else ()
        return any(one.name == flip.name and one.low <= flip.at <= one.high for one in drawn)
    priced = _priced(result.choice.model, flip)
    if priced.low < priced.high:
        return priced.low <= flip.at <= priced.high
    return abs(flip.at - flip.now) <= QUOTES_MOVE * flip.now


def _priced(model: BoardModel, flip: Flip) -> Price:
    name = model.names[flip.part][flip.option]
    return next(option.priced for option in model.parts[flip.part].options if option.name == name)


def _basis(result: BoardResult, flip: Flip) -> str:
    """A word for a value that nobody stated."""
    if flip.part < 0:
        rate = result.rates.get(flip.name)
        return "assumed" if rate is not None and rate.assumed else ""
    if result.choice is None or flip_key(flip) != "price":
        return ""
    return "guessed" if _priced(result.choice.model, flip).basis in ("prior", "assumed") else ""


def reply(result: BoardResult, reference: str | None = None) -> str:
    """A paragraph to paste into a reply to the designer: what to take, why, how sure, what to check; five sentences.

    Parameters
    ----------
    result : BoardResult
    reference : str, optional
        Of one part; the whole board otherwise.
    """
    shown = [result.part(reference)] if reference else [part for part in result.parts if part.part.fitted]
    moves = [part for part in shown if part.changes]
    stays = [part for part in shown if part.chosen and part.present and not part.changes]
    fresh = [part for part in shown if part.chosen and part.present is None]
    acts = []
    if moves:
        acts.append("move " + "; ".join(_moved(part) for part in moves))
    if fresh:
        acts.append("take " + "; ".join(f"{part.named} in {part.chosen.name}" for part in fresh if part.chosen))
    if stays:
        acts.append("leave " + ", ".join(f"{part.named} in {part.chosen.name}" for part in stays if part.chosen))
    if not acts:
        return "No package fits the limits you gave; tell me which of them can give way.\n"
    bits = [f"I would {', and '.join(acts)}."]
    bits.append(_figures(result, shown, whole=reference is None))
    answer = result.choice.answer if result.choice else None
    unit = result.content.costs.unit
    if answer is not None:
        own = [one for one in answer.parts if any(one.part == part.part.refs[0] for part in shown)]
        bits.append(
            f"How sure: {sure_line(own[0], shown[0], unit)}." if len(own) == 1 else f"How sure: {board_sure(result)}."
        )
    cautions, hangs = board_cautions(shown, result.content), hangs_on(result)
    if reference is not None:
        own_refs = {ref for part in shown for ref in part.part.refs}
        hangs = [line for line in hangs if own_refs & set(re.findall(r"\w+", line))]  # of other parts it says nothing
    unshown = unshown_lives(shown, result.content)
    checks = [f"before anything is built: {'; '.join(cautions[:2])}"] if cautions else []
    if hangs and not cautions:
        checks.append(f"please check what it hangs on: {hangs[0]}")
    if unshown:
        checks.append(unshown)
    checks += [f"please tell me: {line}" for line in wishes_asked(shown, result.content)]
    if reference is None:
        checks += [f"please tell me: {line}" for line in (*print_asked(result), *sockets_asked(result))]
    more = more_room_mm2(result) if reference is None else 0.0
    if more:
        checks.append(f"please see that there is room for {significant(more)} mm² more")
    if checks:
        says = "; ".join(checks)
        bits.append(f"{says[0].upper()}{says[1:]}.")
    bits.append("This supports your decision; it does not replace qualification or your assembler's own data.")
    return " ".join(bits) + "\n"


def _moved(part: PartResult) -> str:
    return (
        f"{part.named} from {part.present.name} to {part.chosen.name}" if part.present and part.chosen else part.named
    )


def _figures(result: BoardResult, shown: list[PartResult], *, whole: bool) -> str:
    """The three figures that decide, in one sentence; of a whole board the cost that its headline tells."""
    chosen = [(part.chosen, part.count) for part in shown if part.chosen]
    area = sum(option.area_mm2 * count for option, count in chosen)
    money = sum(option.cost.total * count for option, count in chosen)
    hidden = sum(option.geometry.sights.not_at_all * count for option, count in chosen)
    today = [(part.present, part.count) for part in shown if part.present]
    before = sum(option.area_mm2 * count for option, count in today)
    was = f", {significant(before)} mm² today" if len(today) == len(chosen) and abs(before - area) > 0.05 else ""
    if was and whole and not result.content.board.gives_way and before > area:
        was += " (the rest is room on your fixed outline, not money)"
    sight = "every joint shows" if not hidden else f"{hidden} joints do not show"
    unit = result.content.costs.unit
    costs = f"costs about {money:.2g} {unit} a board with its parts"
    if whole and result.after is not None:
        costs = f"costs {significant(result.after.cost)} {unit} a board"
        if result.before is not None and significant(result.before.cost) != significant(result.after.cost):
            costs += f", {significant(result.before.cost)} today"
    return f"That takes {significant(area)} mm²{was}, {costs}, and {sight}."
