"""Answers to proposed corrections, as the review page's form and address hold them.

An item is `SIDE.KIND.VALUE.ANSWER`, such as `top.rule.panes.accept`, the value quoted as in addresses; or, for one
proposal, `SIDE.NUMBER.ANSWER`. Narrower answers outrank broader ones, as the narrow ones stand later in the file.
"""

from __future__ import annotations

import glob
import re
from collections.abc import Mapping
from urllib.parse import quote, unquote

from landwise.errors import InputError
from landwise.review.decisions import ANSWERS, Decision
from landwise.review.mending import RULES
from landwise.review.reviews import Review

KINDS = ("rule", "package", "proposal", "part", "opening")  # the broadest first
_PROPOSAL = re.compile(r"(top|bottom)\.(\d{1,6})\.(accept|refuse)")
_OTHER = re.compile(r"(top|bottom)\.(rule|package|part|opening)\.([^,]{1,300})\.(accept|refuse)")
_PLACE = re.compile(r"(-?\d{1,5}\.\d{4}) (-?\d{1,5}\.\d{4})")
MOST_OFFERED = 400  # openings in one list: more are better answered by part


def kind_of(item: str) -> str:
    """What an item holds for.

    >>> kind_of("top.3.accept"), kind_of("top.rule.panes.refuse")
    ('proposal', 'rule')
    """
    match = _OTHER.fullmatch(item)
    if match is None and not _PROPOSAL.fullmatch(item):
        raise InputError("not an answer", place="answers", found=item[:40], expected="top.3.accept")
    return match[2] if match else "proposal"


def decision_of(item: str) -> Decision:
    """The decision of an item, as the file of decisions holds it.

    >>> decision_of("top.part.U3.refuse")
    Decision(answer='refused', package=None, part='U3', rule=None, side='top', opening=None, note='', proposal=None)
    """
    kind = kind_of(item)
    if kind == "proposal":
        match = _PROPOSAL.fullmatch(item)
        assert match is not None
        return Decision(ANSWERS[match[3]], side=match[1], proposal=int(match[2]))
    match = _OTHER.fullmatch(item)
    assert match is not None
    value, answer = unquote(match[3]), ANSWERS[match[4]]
    if kind == "rule":
        if value not in RULES:
            raise InputError("no such rule", place="answers", found=value[:40], expected=" | ".join(RULES))
        return Decision(answer, side=match[1], rule=value)
    if kind == "opening":
        place = _PLACE.fullmatch(value)
        if place is None:
            raise InputError("a place is two numbers", place="answers", found=value[:40], expected="12.3500 40.1000")
        return Decision(answer, side=match[1], opening=(float(place[1]), float(place[2])))
    plain = glob.escape(value)  # names may hold the letters that stand for any letters
    if kind == "package":
        return Decision(answer, side=match[1], package=plain)
    return Decision(answer, side=match[1], part=plain)


def decisions_of(answers: str) -> tuple[Decision, ...]:
    """The decisions of an address, the broadest first."""
    items = [item for item in answers.split(",") if item]
    return tuple(decision_of(item) for item in sorted(items, key=lambda item: KINDS.index(kind_of(item))))


def from_form(pairs: Mapping[str, str]) -> str:
    """The items of a form: those kept, those chosen by proposal, and a new one.

    >>> from_form({"kept-0": "top.rule.panes.accept", "answer-top.2": "refuse", "new-for": "top.part.U3", "new": ""})
    'top.rule.panes.accept,top.2.refuse'
    """
    items = [value for name, value in pairs.items() if name.startswith("kept-") and value]
    items += [f"{name[7:]}.{value}" for name, value in pairs.items() if name.startswith("answer-") and value]
    if pairs.get("new") and pairs.get("new-for"):
        items.append(f"{pairs['new-for']}.{pairs['new']}")
    return ",".join(dict.fromkeys(items))


def kept(answers: str) -> list[dict[str, str]]:
    """Items other than those by proposal, with their words."""
    found = []
    for item in [item for item in answers.split(",") if item and kind_of(item) != "proposal"]:
        one, kind = decision_of(item), kind_of(item)
        what = {
            "rule": RULES.get(one.rule or "", ""),
            "package": _plain(one.package),
            "part": _plain(one.part),
            "opening": "" if one.opening is None else f"the one at {one.opening[0]:.3f}, {one.opening[1]:.3f} mm",
        }[kind]
        found.append({"item": item, "says": f"{one.side}, {WORDS[kind]}: {what}", "answer": str(one.answer)})
    return found


WORDS = {"rule": "rule", "package": "kind of part", "part": "part", "opening": "opening"}


def _plain(pattern: str | None) -> str:
    return re.sub(r"\[([*?[])\]", r"\1", pattern or "")


def by_proposal(answers: str) -> dict[str, str]:
    """Answers by proposal: `top.3` to `accept` or `refuse`."""
    matches = (_PROPOSAL.fullmatch(item) for item in answers.split(","))
    return {f"{match[1]}.{match[2]}": match[3] for match in matches if match}


def offered(result: Review) -> list[dict[str, object]]:
    """What an answer can hold for, by kind: every rule, package, part and opening that a proposal touches."""
    groups: dict[str, dict[str, str]] = {kind: {} for kind in WORDS}
    for side in result.sides:
        for one in side.proposals:
            groups["rule"][f"{side.side}.rule.{one.rule}"] = f"{side.side}: {RULES[one.rule]}"
            if one.package:
                groups["package"][_item(side.side, "package", one.package)] = f"{side.side}: {one.package}"
        for change in side.changes:
            if change.component and side.proposals[change.proposal].parts:
                groups["part"][_item(side.side, "part", change.component)] = f"{side.side}: {change.component}"
            at = f"{change.x_mm:.4f} {change.y_mm:.4f}"
            if len(groups["opening"]) < MOST_OFFERED:
                words = f"{side.side}: {change.component or 'no part'} at {change.x_mm:.3f}, {change.y_mm:.3f} mm"
                groups["opening"][_item(side.side, "opening", at)] = words
    return [
        {"says": f"By {WORDS[kind]}", "options": [{"value": value, "says": says} for value, says in its.items()]}
        for kind, its in groups.items()
        if its
    ]


def _item(side: str, kind: str, value: str) -> str:
    return f"{side}.{kind}.{quote(value, safe='')}"
