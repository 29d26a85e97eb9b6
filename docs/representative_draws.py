"""A few draws that stand for many: means of heavy-tailed rates near those over all of them, ranges likewise.

Of random draws of a line one in a hundred can hold half of all defects, so that a mean over a few hundred is known
within a factor of two. Here draws are exchanged, one place after the other, until the means over them of many rates,
and the shares of them below the ends of the rates' ranges, are those over all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FLOOR = 1e-9  # defects per part below which there are none
LEAST = 1e-7  # rates below are no target
WEIGHTY = 1e-5  # rates from here on weigh in full
SWEEPS = 4
ENDS = (0.05, 0.5, 0.95)


def weight(rate: Array) -> float:
    """How much a rate's mean counts among the targets."""
    return float(min(1.0, rate.mean() / WEIGHTY) ** 0.5)


def targets(rates: Sequence[Array], scores: Array, levels: Sequence[Array]) -> Array:
    """What the draws shall have the mean of over all, nought each: (draws, targets).

    Parameters
    ----------
    rates : sequence of array (draws,)
        Expected defects per part.
    scores : array (draws, terms)
    levels : sequence of array (draws,)
        Of other causes, and the spread between packages.
    """
    found = []
    for rate in rates:
        if rate.mean() < LEAST:
            continue
        found.append(2 * weight(rate) * rate / rate.mean())
        logs = np.log(rate + FLOOR)
        if logs.std() > 0.05:
            found += _shape(0.3, logs, 0.3)
            found += [0.5 * (rate < np.quantile(rate, end)) for end in ENDS]
    for column in scores.T:
        found += _shape(1.0, column, 0.5)
    for level in levels:
        found += [2 * level / level.mean(), *_shape(1.0, np.log(np.maximum(level, 1e-3)), 1.0)]
    table = np.array(found).T
    centred: Array = table - table.mean(axis=0)
    return centred


def _shape(first: float, values: Array, second: float) -> list[Array]:
    z = (values - values.mean()) / max(float(values.std()), 1e-9)
    return [first * z, second * z**2]


def chosen(wanted: Array, count: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """The draws that together come nearest to the targets of `targets`, each taken at most once: (count,)."""
    taken = rng.choice(len(wanted), count, replace=False)
    off = wanted[taken].sum(axis=0)
    squares = (wanted**2).sum(axis=1)
    for turn in range(SWEEPS * count):
        place = turn % count
        without = off - wanted[taken[place]]
        left = squares + 2 * wanted @ without
        own = left[taken[place]]
        left[taken] = np.inf
        left[taken[place]] = own
        taken[place] = int(left.argmin())
        off = without + wanted[taken[place]]
    return taken


def matched(rates: Sequence[Array], scores: Array, levels: Sequence[Array], factor: Array) -> Array:
    """Which of some factors stands at which draw, so that it goes with none of the rates: places in `factor` (draws,).

    The mean of a rate times the factor is then the product of their means.
    """
    found = [weight(rate) * rate / rate.mean() for rate in rates if rate.mean() >= LEAST]
    found += [level / level.mean() for level in levels]
    logs = [np.log(rate + FLOOR) for rate in rates if rate.mean() >= LEAST]
    found += [0.3 * (one - one.mean()) / max(float(one.std()), 1e-9) for one in logs]
    found += [0.3 * column for column in scores.T]
    table = np.array(found).T
    table = table - table.mean(axis=0)
    count = len(factor)
    order = np.random.default_rng(1).permutation(count)
    value = factor[order] - factor.mean()
    off = table.T @ value
    inner = table @ table.T
    squares = np.diag(inner)
    for turn in range(6 * count):
        place = turn % count
        more = value - value[place]
        apart = table[place] - table
        change = 2 * more * (apart @ off) + more**2 * (squares[place] + squares - 2 * inner[place])
        other = int(change.argmin())
        if change[other] < -1e-9:
            off = off + more[other] * apart[other]
            value[[place, other]] = value[[other, place]]
            order[[place, other]] = order[[other, place]]
    return order
