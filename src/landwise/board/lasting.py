"""What keeps an option out whatever the board shares: told before what another shared decision would lift."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from landwise.board.judged import Place
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.part import nothing_fits_says
from landwise.judging.results import OptionResult, PartResult

Lasting = Mapping[tuple[str, str], frozenset[str]]  # limits by a part's first reference and an outline's name


def lasting_of(
    parts: Sequence[PartResult], breaks: Mapping[Place, Sequence[Limit]], open_decisions: Collection[int]
) -> Lasting:
    """The limits that each option of each part breaks under every shared decision, by their keys.

    Parameters
    ----------
    parts : sequence of PartResult
    breaks : mapping of (decision, part, option) to limits
        What each option breaks under each decision.
    open_decisions : collection of int
        The decisions that the board may take at all.
    """
    found: dict[tuple[int, int], frozenset[str]] = {}
    for (d, p, k), limits in breaks.items():
        known = found.get((p, k))
        if d not in open_decisions or known == frozenset():
            continue
        keys = {limit.key for limit in limits}
        if LimitKey.FOIL_PRINTS in keys:
            keys.add(LimitKey.FOIL)  # of what no foil on hand prints an option by itself tells the foil that it wants
        found[p, k] = frozenset(keys) if known is None else known & keys
    return MappingProxyType(
        {(parts[p].part.refs[0], parts[p].options[k].name): keys for (p, k), keys in found.items() if keys}
    )


def lasting_first(part: PartResult, lasting: Lasting) -> PartResult:
    """A part whose options tell first, of the limits they break, one that no shared decision lifts; else as judged."""
    ref = part.part.refs[0]
    options = {one.name: _ordered(one, lasting.get((ref, one.name), frozenset())) for one in part.options}
    return replace(
        part,
        options=tuple(options.values()),
        present=options.get(part.present.name, part.present) if part.present else None,
        chosen=options.get(part.chosen.name, part.chosen) if part.chosen else None,
        says=part.says if part.chosen else nothing_fits_says(tuple(options.values())),
    )


def _ordered(option: OptionResult, lasting: frozenset[str]) -> OptionResult:
    ordered = tuple(sorted(option.rejections, key=lambda why: why.limit not in lasting))
    return option if ordered == option.rejections else replace(option, rejections=ordered)
