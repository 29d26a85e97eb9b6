"""What a whole-board choice says, in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from landwise.board.chosen import MOST_KEPT, BoardChoice
from landwise.board.placing import NOT_A_LAYOUT
from landwise.board.result import difference_says
from landwise.quantities import significant
from landwise.results.choicejson import BoardFlipJson, ChoiceJson, FirmJson, OtherJson, RelaxedJson
from landwise.results.inputwords import flip_sentence
from landwise.results.limitwords import limit_says
from landwise.results.panelwords import panel_says

TOLD_SHARE = 1e-3  # of a limit's least: what is open below this is not told


def behind_says(behind: float, unit: str) -> str:
    """How far the runner-up stands behind; before it only where the choice keeps today's packages among equals.

    >>> behind_says(0.012, "EUR"), behind_says(-0.002, "EUR")
    ('0.012 EUR behind', '0.002 EUR less, within what is known')
    """
    return f"{significant(behind)} {unit} behind" if behind >= 0 else difference_says(behind, unit)


def proven_says(choice: BoardChoice) -> str:
    """What is proven of a choice, as pages say it: how the search went stands in `landwise explain` (`choice.proof`).

    A choice over scenarios, and a search that found nothing, have their own sentence.
    """
    best = choice.searched or choice.best
    if choice.robust is not None or not best.found or choice.value is None:
        return choice.proof
    unit, least = choice.unit, f"no choice can be below {significant(best.bound)} {choice.unit}"
    if best.status != "optimal":
        return f"best found when stopped: {significant(choice.value)} {unit}; {least}"
    if not choice.kept:
        return f"proven best: {significant(choice.value)} {unit}; {least}"
    names = ", ".join(f"{one.ref} in {one.present}" for one in choice.kept[:MOST_KEPT])
    more = f" and {len(choice.kept) - MOST_KEPT} more" if len(choice.kept) > MOST_KEPT else ""
    return f"{significant(choice.value)} {unit} with {names}{more} kept, equal within what is known; proven: {least}"


def choice_lines(told: ChoiceJson) -> list[str]:
    """The choice in a few sentences, for the terminal and for `landwise explain`."""
    lines = [f"{told.objective}: {told.proof}"]
    if told.options:
        lines.append(f"shared by all parts: {told.decision}")
    if told.equal:
        lines.append("would do as well: " + "; ".join(told.equal))
    for hold in told.holds:
        saved = f"{significant(hold.saved)} {told.unit}"
        lines.append(f"{hold.part} alone holds the board at {told.decision}: {saved} (else {hold.decision})")
    for limit in told.limits:
        lines.append(f"limit {limit.name!r} costs {significant(limit.saved)} {told.unit}")
    for other in told.others[:2]:
        lines.append(other_line(other, told.unit))
    if told.second:
        differs = ", ".join(told.second.differs)
        lines.append(f"runner-up: {differs}; {behind_says(told.second.behind, told.unit)}")
    if told.steps_from and told.steps:
        lines.append(told.steps_from)
    if told.gain:
        lines.append(told.gain)
    if told.firm:
        lines += firm_lines(told.firm)
    if told.left_out:
        lines.append(f"stopped before all was explained; missing: {', '.join(told.left_out)}")
    if told.stuck:
        lines.append(f"no option fits {', '.join(told.stuck)}: left out of the choice")
    lines += [f"on its panel: {panel_says(told.panel)}"] if told.panel else []
    lines += [f"on the board ({NOT_A_LAYOUT}): {told.placing.says}"] if told.placing else []
    return lines + _conflict_lines(told)


def _conflict_lines(told: ChoiceJson) -> list[str]:
    if not told.conflict:
        return []
    return [conflict_sentence(told.conflict), *(f"  {line}" for line in relaxed_lines(told))]


def conflict_sentence(names: Sequence[str]) -> str:
    """Which limits no board keeps together.

    >>> conflict_sentence(["board area", "height"])
    'these limits conflict, and any smaller set does not: board area, height'
    """
    return f"these limits conflict, and any smaller set does not: {', '.join(names)}"


def relaxed_lines(told: ChoiceJson) -> list[str]:
    """The least change of each limit that makes the board possible."""
    return [relaxed_sentence(one) for one in told.relaxed]


def relaxed_sentence(one: RelaxedJson) -> str:
    """The least change of one limit; where its least is not settled also what can't do, or that less may do."""
    if not one.helps:
        return f"no change of {one.name!r} alone is enough: other limits conflict as well"
    if one.needed is None:
        return f"the least change of {one.name!r} was not settled in the time"
    unsettled = one.least is not None and one.needed - one.least > TOLD_SHARE * abs(one.needed)
    if one.unit == "options":
        fewer = "; fewer may do" if unsettled and one.least is not None and math.ceil(one.least) < one.needed else ""
        return f"possible if {', '.join(one.parts) or 'one part'} may break {one.name!r}{fewer}"
    if one.limit is None:
        return f"possible if {', '.join(one.parts)} need not come in the same outline"
    open_ = ""
    if unsettled and one.least is not None:
        below = -_rounded_up(-one.least)
        open_ = f"; less than {below:g} can't do" if below > one.limit else "; less may do"
    return f"possible if {one.name!r} allows {_rounded_up(one.needed):g} {one.unit} (now {one.limit:g}{open_})"


def _rounded_up(value: float, digits: int = 4) -> float:
    """To so many digits, never below the value: a limit that is told must be enough."""
    if not value:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(abs(value))) + 1 - digits)
    return math.ceil(value / step - 1e-6) * step


def firm_lines(firm: FirmJson, flips: int = 3) -> list[str]:
    """How firm the choice is, in a few sentences."""
    lines = [f"wins {firm.confidence:.0%} of {firm.draws} draws of rates, prices, volume and paste transfer"]
    if firm.impossible:
        lines.append(f"in {firm.impossible} of the draws no board keeps the limits")
    if firm.weight_confidence is not None:
        line = f"wins {firm.weight_confidence:.0%} when all weightings of {', '.join(firm.axes)} are drawn as well"
        if firm.central is not None:
            shares = ", ".join(f"{axis} {weight:.2f}" for axis, weight in zip(firm.axes, firm.central, strict=True))
            line += f"; on average at weights {shares}"
        lines.append(line)
    return lines + [flip_line(flip) for flip in firm.flips[:flips]]


def flip_line(flip: BoardFlipJson) -> str:
    """Where one input flips the choice."""
    return flip_sentence(flip.what, flip.now, flip.at, flip.differs, key=flip.key, unit=flip.unit)


def other_line(other: OtherJson, unit: str) -> str:
    """What another shared decision would cost, or who keeps it out."""
    if other.more is not None:
        return f"{other.decision} instead: {difference_says(other.more, unit)}"
    if other.kept_out:
        return f"{other.decision} is kept out by {', '.join(other.kept_out)}, for want of: {', '.join(other.limits)}"
    return f"{other.decision} is kept out by the limits together"


def steps_from(choice: BoardChoice) -> str:
    """Where the migration list starts, in words; empty where that is today's board as it stands."""
    if choice.unknown_today:
        return (
            f"the package in use of {', '.join(choice.unknown_today)} is not known: it comes in its best on every"
            " board, not counted as a change, and savings count from the first board of the list"
        )
    if choice.broken_today:
        said = ", ".join(limit_says(choice.model.limits.get(name, name)) for name in choice.broken_today)
        return f"today's board breaks a limit ({said}): the first step is the fewest changes that keep all of them"
    return ""


def gain_sentence(choice: BoardChoice, names: Sequence[str]) -> str:
    """How much of the gain the first steps of the migration list bring."""
    if not choice.steps or choice.today is None:
        return ""
    whole = choice.steps[-1].saved
    few = [step for step in choice.steps if step.changes <= 3]
    if whole <= 0 or not few:
        return ""
    step = few[-1]
    changed = ", ".join(names[p] for p in step.changed)
    what = f"changing {changed}" if changed else f"no package but {choice.decision}"
    return f"{what} brings {step.saved / whole:.0%} of the gain of {significant(whole)} {choice.unit}"
