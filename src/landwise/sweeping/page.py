"""The page of a sweep: where the choice changes, in sentences and maps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from landwise.sheets.htmlpage import drawing, html_page
from landwise.sweeping.plan import Plan

MOST_MOVES = 40


@dataclass(frozen=True)
class Found:
    """What one study's cases say together.

    Parameters
    ----------
    name : str
    influence : tuple of float
        How often the board changes with each input, 0 to 1.
    moves : tuple of str
        Where parts take another package.
    still : tuple of str
        Parts that come in one package in every case.
    idle : tuple of str
        Inputs that change nothing at all.
    read, whole : int
        Cases that the maps follow from, of how many.
    """

    name: str
    influence: tuple[float, ...]
    moves: tuple[str, ...]
    still: tuple[str, ...]
    idle: tuple[str, ...]
    read: int
    whole: int


def page_html(
    plan: Plan, answers: Mapping[str, int], found: Sequence[Found], drawn: Mapping[int, Sequence[str]]
) -> str:
    """The page; it loads nothing from outside."""
    studies: list[dict[str, object]] = [
        {
            "name": one.name,
            "axes": [(axis.path, f"{share:.0%}") for axis, share in zip(plan.axes, one.influence, strict=True)],
            "moves": one.moves[:MOST_MOVES],
            "more": max(0, len(one.moves) - MOST_MOVES),
            "still": one.still,
            "idle": one.idle,
            "cut": one.read < one.whole,
            "maps": [drawing(svg) for svg in drawn.get(n, ())],
        }
        for n, one in enumerate(found)
    ]
    content = {
        "kind": plan.kind,
        "cases": len(plan),
        "finished": sum(answers.values()),
        "answers": answers,
        "spread": plan.points is not None,
        "studies": studies,
        "sources": len(plan.sources),
    }
    return html_page("sweep.html.j2", content, room="landwise.sweeping")
