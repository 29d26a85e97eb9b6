"""Yield from defect rates, sigma levels, and learning curves."""

from __future__ import annotations

import math
from collections.abc import Sequence

from landwise.errors import InputError, ValidityError


def yield_from_dpmo(rates_dpmo: Sequence[float], opportunities: Sequence[float]) -> float:
    """First-pass yield, exp(−Σ DPMO·opportunities/10⁶). [-]

    25 DPMO on 800 terminations, 10 on 200 placements, 5 on 200 parts:

    >>> print(f"{yield_from_dpmo([25, 10, 5], [800, 200, 200]):.6f}")
    0.977262
    """
    if len(rates_dpmo) != len(opportunities):
        raise InputError("as many rates as opportunities", found=f"{len(rates_dpmo)} and {len(opportunities)}")
    if any(rate < 0 for rate in rates_dpmo) or any(count < 0 for count in opportunities):
        raise InputError("rates and opportunities can't be negative")
    return math.exp(-sum(r * n for r, n in zip(rates_dpmo, opportunities, strict=True)) / 1e6)


def sigma_level(dpmo: float) -> float:
    """Sigma level of a defect rate, 0.8406 + √(29.37 − 2.221·ln DPMO). [-]

    >>> print(f"{sigma_level(3.4):.3f} {sigma_level(950):.3f}")
    6.003 4.601
    """
    if not 0 < dpmo < 5e5:
        raise ValidityError("outside the fit", found=f"{dpmo:g}", expected="above 0, below 500,000 DPMO")
    return 0.8406 + math.sqrt(29.37 - 2.221 * math.log(dpmo))


def unit_cost(first: float, rate: float, number: int) -> float:
    """Cost of the n-th unit, unit (Crawford) model: T1·n^(log rate/log 2).

    >>> print(f"{unit_cost(1.0, 0.80, 10):.3f}")
    0.477
    """
    _check(first, rate, number)
    return float(first * number ** (math.log(rate) / math.log(2)))


def cumulative_cost(first: float, rate: float, count: int) -> float:
    """Cost of the first n units, unit model.

    >>> print(f"{cumulative_cost(1.0, 0.80, 10):.3f}")
    6.315
    """
    _check(first, rate, count)
    return sum(unit_cost(first, rate, n) for n in range(1, count + 1))


def average_cost(first: float, rate: float, count: int) -> float:
    """Average cost of the first n units, cumulative-average (Wright) model: T1·n^b.

    First unit 120, rate 80 %, 230 made: what the next 55 cost.

    >>> total = [n * average_cost(120.0, 0.80, n) for n in (230, 285)]
    >>> print(f"{total[1] - total[0]:.2f}")
    750.02
    """
    return unit_cost(first, rate, count)


def _check(first: float, rate: float, number: int) -> None:
    if first < 0 or number < 1 or number > 1_000_000:
        raise InputError("first cost can't be negative, numbers run from 1 to a million", found=f"{first:g}, {number}")
    if not 0.5 <= rate <= 1:
        raise ValidityError("no such learning rate", found=f"{rate:g}", expected="0.5 to 1")
