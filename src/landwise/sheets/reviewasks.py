"""What a review asks of whom, and whether a cause has its correction."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.review.causes import MENDS, Cause, named, questions
from landwise.review.model import Proposal
from landwise.review.reviews import Review

MOST_ASKED = 8  # questions about corrections on the first page; the rest stand in decisions.toml
TO_LAND = frozenset({"to-land", "raise"})  # the rules that bring an opening back to its land


def asked_of(result: Review, every: Sequence[Cause]) -> list[dict[str, object]]:
    """What to ask whom: causes, and proposals that wait for an answer."""
    proposals = [one for side in result.sides for one in side.proposals]
    foil = result.sides[0].given.under.foil if result.sides else None
    asks_of = questions(every, proposals, foil.technology if foil else "laser-cut")
    found: dict[str, list[str]] = {whom: list(asks) for whom, asks in asks_of.items()}
    asked: dict[tuple[str, str, str], list[Proposal]] = {}
    for one in proposals:
        if one.asked and one.rule != "designed":  # a print of ours for a whole package is an offer, no question
            asked.setdefault((one.rule, one.what, one.asked), []).append(one)
    for alike in list(asked.values())[:MOST_ASKED]:
        found.setdefault("designer", []).append(question(alike))
    if len(asked) > MOST_ASKED:
        found["designer"].append(f"{len(asked) - MOST_ASKED} more corrections are asked about in decisions.toml")
    return [{"whom": whom, "asks": list(dict.fromkeys(asks))} for whom, asks in found.items() if asks]


def question(alike: Sequence[Proposal]) -> str:
    """The question that alike proposals put to the designer."""
    one = alike[0]
    names = named(tuple(dict.fromkeys(part for each in alike for part in each.parts))) or one.package or "no part"
    do = {"fiducial": "leave its paste out", "panes": f"print {one.what}", "missing": "add the opening"}.get(one.rule)
    do = do or (f"may the opening be {one.what}" if one.rule in TO_LAND else f"change the opening ({one.what})")
    return f"{names}: {do}? {one.reason[:1].upper() + one.reason[1:]}. We ask because {one.asked}."


def mended(cause: Cause, proposals: Sequence[Proposal]) -> str:
    """Whether a correction of this cause is proposed, or asked about, for its parts."""
    rules = MENDS.get(cause.key, ())
    its = [one for one in proposals if one.side == cause.side and one.number in cause.proposals and one.rule in rules]
    return "–" if not its else "asked" if all(one.asked for one in its) else "proposed"
