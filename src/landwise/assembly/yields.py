"""From parts to boards: first-pass yield with what a board shares, and defects per million opportunities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.assembly.boards import Kind, good_boards
from landwise.assembly.knowledge import MECHANISMS, MODELLED, PER_MILLION
from landwise.assembly.partrates import PartRates, over_draws
from landwise.assembly.rare import Estimate
from landwise.content import mark_of
from landwise.errors import InputError
from landwise.memory import known


@dataclass(frozen=True)
class BoardYield:
    """What a board may expect of its parts.

    Parameters
    ----------
    defects : Estimate
        Expected defects on one board, over the draws of what is known: one line for all its parts.
    hidden : float
        Expected defects that can't be seen from above.
    first_pass : Estimate
        Share of boards without a defect, likewise. Print offset, slump and paste of one board hit all its parts.
    modelled : Estimate
        The same for the modelled mechanisms at the line's middle values, with the interval of sampling alone.
    apart : float
        What `first_pass` would be if parts failed independently: what the usual product of yields says.
    opportunities : int
        Of the standard: one for each part, one for its placement, one for each termination.
    dpmo : Estimate
        Defects per million of them.
    """

    defects: Estimate
    hidden: float
    first_pass: Estimate
    modelled: Estimate
    apart: float
    opportunities: int
    dpmo: Estimate


def opportunities(parts: int, terminations: int) -> int:
    """Opportunities for defects, as the industry's standard counts them: parts + placements + terminations.

    >>> opportunities(200, 500)
    900
    """
    if parts < 0 or terminations < 0:
        raise InputError("counts can't be negative", found=f"{parts} parts, {terminations} terminations")
    return 2 * parts + terminations


def dpmo(defects: float, count: float) -> float:
    """Defects per million opportunities.

    100 defects (70 joints, 20 placements, 10 parts) on 1200 boards of 200 parts and 500 joints:

    >>> print(f"{dpmo(100, 1200 * opportunities(200, 500)):.1f}")
    92.6
    """
    if not count > 0 or defects < 0:
        raise InputError("a rate needs opportunities", found=f"{defects:g} of {count:g}")
    return defects / count * PER_MILLION


def board_yield(parts: Sequence[tuple[PartRates, int]]) -> BoardYield | None:
    """Expected defects and first-pass yield of a board; None without parts.

    Parameters
    ----------
    parts : sequence of (PartRates, count)
        Each kind of part with how often the board carries it. Parts that are not printed are not in it.

    Notes
    -----
    How far bad parts share boards is worked at the middle of what is known (`boards.good_boards`): the logarithm of the
    share of good boards over the sum of the parts' own, and the same factor is taken at every draw. Other causes are
    taken as independent of each other; on the counted line they cluster, which makes 1.5 times fewer boards bad than
    that.
    """
    if not parts:
        return None
    none = np.zeros(len(parts[0][0].by[0][1]))
    every = sum((count * rates.draws()[name] for rates, count in parts for name in MECHANISMS), start=none)
    sampled = [(rates, count) for rates, count in parts if rates.model is not None and rates.own is None]
    kinds = [_kind(rates, count) for rates, count in sampled]
    modelled = known(lambda: good_boards(kinds), "good boards", mark_of(kinds))
    alone = sum(count * rates.kappa * rates.worked.defects.value for rates, count in sampled)
    together = min(1.0, -math.log(max(modelled.value, 1e-12)) / alone) if alone > 0 else 1.0
    hang = sum((count * rates.draws()[name] for rates, count in sampled for name in MODELLED), start=none)
    shared = sum(
        (count * rates.kappa * rates.draws()[name] for rates, count in sampled for name in MODELLED), start=none
    )
    apart = math.prod((1 - rates.bad()) ** count for rates, count in parts)
    joints = sum(rates.worked.joints * count for rates, count in parts)
    number = opportunities(sum(count for _, count in parts), joints)
    defects = over_draws(every)
    return BoardYield(
        defects=defects,
        hidden=sum(count * rates.hidden * rates.defects.value for rates, count in parts),
        first_pass=over_draws(np.exp(-together * shared - (every - hang))),
        modelled=modelled,
        apart=float(np.mean(apart)),
        opportunities=number,
        dpmo=Estimate(*(dpmo(end, number) for end in (defects.value, defects.low, defects.high))),
    )


def _kind(rates: PartRates, count: int) -> Kind:
    good = rates.worked.first_pass
    assert rates.model is not None
    return Kind(rates.model, count, Estimate(1 - good.value, 1 - good.high, 1 - good.low))
