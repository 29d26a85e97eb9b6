"""What is weighed beside cost, in the user's money: what a unit of each criterion counts."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from landwise.board.result import BoardResult
from landwise.choosing.values import CRITERIA
from landwise.quantities import significant


def weighed_says(result: BoardResult) -> str:
    """What a unit of everything that is weighed counts; empty where money alone decides, or nothing was chosen.

    Assumes that counts exist only where something is weighed: a default weight counts for the objective "value" alone;
    otherwise the cost stands in its place, and no sentence tells of it.
    """
    choice = result.choice
    if choice is None:
        return ""
    return counts_say(choice.counts, result.content.want.weights, result.content.costs.unit)


def counts_say(counts: Mapping[str, float], stated: Collection[str], unit: str) -> str:
    """What a unit of each weighed criterion counts, stated weights first.

    Parameters
    ----------
    counts : mapping of str to float
        By the criterion's name: area per mm² of the whole board, every other one per part, for all of its value.
        [money per board]
    stated : collection of str
        Criteria whose weight the user stated; the others stand at their defaults.
    unit : str
        Of the money.

    Examples
    --------
    >>> counts_say({"area": 0.0055}, {"area"}, "EUR")
    'weighed beside cost, as stated: 1 mm² of board area counts 0.0055 EUR a board'
    >>> print(counts_say({"area": 0.002, "gap": 0.01}, {"gap"}, "EUR").replace("; ", "\\n"))
    weighed beside cost, as stated: gap between neighbouring lands, from worst to best, counts 0.01 EUR a part
    by default: 1 mm² of board area counts 0.002 EUR a board
    >>> counts_say({}, {"area"}, "EUR")
    ''
    """
    own = [_one_says(name, count, unit) for name, count in counts.items() if name in stated]
    usual = [_one_says(name, count, unit) for name, count in counts.items() if name not in stated]
    groups = [f"{whose}: {', '.join(said)}" for whose, said in (("as stated", own), ("by default", usual)) if said]
    return f"weighed beside cost, {'; '.join(groups)}" if groups else ""


def _one_says(name: str, count: float, unit: str) -> str:
    money = f"{significant(count)} {unit}"
    if name == "area":
        return f"1 mm² of board area counts {money} a board"
    return f"{CRITERIA[name].title}, from worst to best, counts {money} a part"
