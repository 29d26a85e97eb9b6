"""Which outlines can house a function: by their terminals, and by what was sighted."""

from __future__ import annotations

from collections.abc import Iterable

from landwise.outlines.catalogue import catalogue
from landwise.outlines.model import Outline
from landwise.outlines.supply import LARGEST_SPARE, Asked, package_names, sighted_packages

# A little-logic part may leave terminals unused: single gates of five terminals are sold in six-terminal
# leadless bodies with one unconnected (Texas Instruments SCES217: the six-terminal drawings of a
# five-terminal gate). Larger parts are not sold with spare terminals.
LARGEST_WITH_SPARE = 5


def fits(outline: Outline, terminals_needed: int) -> bool:
    """Whether an outline houses a function of that many terminals, by count.

    >>> from landwise.outlines.catalogue import find
    >>> fits(find("SON-6-1.45x1.0"), 5), fits(find("SO-16"), 14)
    (True, False)
    """
    if outline.terminals == terminals_needed:
        return True
    spare = outline.terminals - terminals_needed
    return spare == 1 and terminals_needed <= LARGEST_WITH_SPARE and outline.family == "leadless dual"


def proposals(terminals_needed: int, own: Iterable[Outline] = (), asked: Asked | None = None) -> tuple[Outline, ...]:
    """Every outline of the catalogue (and of the user) that houses a function, smallest body first.

    Parameters
    ----------
    terminals_needed : int
    own : iterable of Outline
        A user's outlines; one of a shipped name stands in its place.
    asked : Asked, optional
        With it, bodies that the function was sighted in are proposed even where their terminals are fewer than usual
        but enough (an inverter in four balls) or up to two more (a 14-terminal switch in 16).

    Examples
    --------
    >>> gate = Asked("1G04", "LVC", 5, True, least=4)
    >>> "WLP-4-0.5" in {outline.name for outline in proposals(5, asked=gate)}
    True
    """
    known = {**catalogue(), **{outline.name: outline for outline in own}}
    sighted = sighted_packages(asked) if asked else frozenset()
    least = asked.least or terminals_needed if asked else terminals_needed
    found = [
        outline
        for outline in known.values()
        if fits(outline, terminals_needed)
        or (least <= outline.terminals <= terminals_needed + LARGEST_SPARE and sighted & package_names(outline))
    ]
    return tuple(sorted(found, key=lambda outline: (outline.body_area_mm2, outline.name)))
