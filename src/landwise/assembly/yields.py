"""From joints to parts to boards: first-pass yield with what a board shares, and defects per million opportunities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.assembly.partrates import PER_MILLION, PartRates
from landwise.assembly.rare import Estimate
from landwise.errors import InputError


@dataclass(frozen=True)
class BoardYield:
    """What a board may expect of its parts.

    Parameters
    ----------
    defects : Estimate
        Expected defects on one board, with the parts' ranges added up (they rest on the same uncertain inputs).
    hidden : float
        Expected defects that can't be seen from above.
    first_pass : Estimate
        Share of boards without a defect. Print offset, slump and paste of one board hit all its parts.
    apart : float
        The same if parts failed independently: what the usual product of yields says.
    opportunities : int
        Of the standard: one for each part, one for its placement, one for each termination.
    dpmo : Estimate
        Defects per million of them.
    """

    defects: Estimate
    hidden: float
    first_pass: Estimate
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
    Parts are independent once print offset, slump and paste volume of the board are given; the share of good
    boards is worked at each sampled state of these and then averaged. Defects are added up as they are.
    """
    if not parts:
        return None
    total = [sum(getattr(rates.defects, end) * count for rates, count in parts) for end in ("value", "low", "high")]
    defects = Estimate(*total)
    joints = sum(rates.worked.joints * count for rates, count in parts)
    number = opportunities(sum(count for _, count in parts), joints)
    log_good = np.zeros(parts[0][0].worked.good.shape)
    for rates, count in parts:
        good = np.full(log_good.shape, rates.first_pass.value) if rates.own else rates.worked.good
        log_good += count * np.log(np.maximum(good, 1e-300))
    weights = parts[0][0].worked.weights
    rows = np.sum(weights * np.exp(log_good), axis=1) / np.sum(weights, axis=1)
    value = float(rows.mean())
    apart = math.prod(rates.first_pass.value**count for rates, count in parts)
    # A range of the defects moves the share of bad boards with it.
    bad = 1 - value
    low, high = (
        math.exp(math.log(max(value, 1e-300)) * end / defects.value) if defects.value > 0 else value
        for end in (defects.high, defects.low)
    )
    hidden = sum(rates.defects.value * rates.hidden * count for rates, count in parts)
    return BoardYield(
        defects,
        hidden,
        Estimate(1 - bad, min(low, value), max(high, value)),
        apart,
        number,
        Estimate(*(dpmo(end, number) for end in total)),
    )
