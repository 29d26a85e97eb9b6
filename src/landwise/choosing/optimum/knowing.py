"""What knowing would be worth: how much a choice could gain if uncertain inputs were known before choosing.

Costs of rival choices are drawn together; the best on average is taken without knowing. Knowing everything, the
best of each draw would be taken: the mean gain is the expected value of perfect information. Knowing one input,
the best given that input would be taken. Raiffa & Schlaifer, Applied Statistical Decision Theory (1961), from memory;
the same quantities are called EVPI and EVPPI in the literature on decisions in health care.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from landwise.choosing.optimum.model import Array
from landwise.errors import InputError

Name = TypeVar("Name")
DEGREE = 3  # of the polynomial over the input's rank that smooths the costs


@dataclass(frozen=True)
class Known(Generic[Name]):
    """What knowing is worth for one set of rivals.

    Parameters
    ----------
    best : int
        The rival that is best on average.
    mean : array (rivals,)
        Expected cost of each; infinite for a rival that is out.
    wins : array (rivals,)
        Share of draws in which each is the cheapest.
    everything : float
        Expected gain of knowing everything beforehand, in the unit of the costs.
    one : mapping of name to float
        Expected gain of knowing one input beforehand, largest first.
    """

    best: int
    mean: Array
    wins: Array
    everything: float
    one: Mapping[Name, float]

    def within(self, worth: float) -> tuple[int, ...]:
        """Rivals whose expected cost is less than `worth` above the best, the best first."""
        near = np.flatnonzero(self.mean - self.mean[self.best] < worth)
        order = sorted((int(k) for k in near if k != self.best), key=lambda k: float(self.mean[k]))
        return (self.best, *order)


def worth_knowing(cost: Array, inputs: Mapping[Name, Array]) -> Known[Name]:
    """What it is worth to know everything, and each input alone, before choosing the cheapest rival.

    Parameters
    ----------
    cost : array (draws, rivals)
        Costs of the rivals in each draw; infinite in every draw for a rival that is out.
    inputs : mapping of name to array (draws,)
        The inputs as drawn.

    Returns
    -------
    Known

    Raises
    ------
    InputError
        Without a rival that is in, or for inputs of another length.

    Notes
    -----
    The value of one input is estimated from the same draws: each rival's cost above the best is smoothed over the
    input (a cubic in its rank, least squares), and the mean gain of taking the best of the smoothed
    costs is reported. With few hundred draws that is biased up by about the noise of the coefficients, which is
    taken off by the adjusted sum of squares; values below it come out as zero.

    Examples
    --------
    Two rivals; the second is cheaper by the input, which is 0 on average:

    >>> x = np.linspace(-1.0, 1.0, 1001)
    >>> known = worth_knowing(np.stack([np.zeros_like(x), x], axis=1), {"x": x})
    >>> round(known.everything, 3), round(known.one["x"], 2)
    (0.25, 0.25)
    """
    inside = np.isfinite(cost).all(axis=0)
    if not inside.any():
        raise InputError("no rival is left to choose from")
    mean = np.where(inside, np.where(inside, cost, 0.0).mean(axis=0), np.inf)
    best = int(mean.argmin())
    above = np.where(inside, cost - cost[:, [best]], np.inf)
    pick = above.argmin(axis=1)
    wins = np.bincount(pick, minlength=cost.shape[1]) / len(cost)
    everything = max(0.0, -float(above.min(axis=1).mean()))
    # A rival that is never the cheapest gains nothing; its outliers would only disturb the fit.
    near = inside & (wins > 0)
    near[best] = True
    one = {name: _gain(above[:, near], values, everything) for name, values in inputs.items()}
    return Known(best, mean, wins, everything, dict(sorted(one.items(), key=lambda pair: -pair[1])))


def worth_of_term(cost: Array, term: Array) -> float:
    """What it is worth to know one term of every rival's cost before choosing the cheapest.

    Parameters
    ----------
    cost : array (draws, rivals)
        Costs of the rivals in each draw; infinite in every draw for a rival that is out.
    term : array (draws, rivals)
        The part of the cost that would be known, drawn independently of the rest.

    Returns
    -------
    float
        Expected gain, in the unit of the costs.

    Notes
    -----
    What is left of the cost stays at its mean once the term is known, so no smoothing is needed: however many inputs
    make up the term, its worth is exact but for the draws.

    Examples
    --------
    Two rivals whose prices are drawn; knowing the price of the second is knowing all:

    >>> x = np.linspace(-1.0, 1.0, 1001)
    >>> cost = np.stack([np.zeros_like(x), x], axis=1)
    >>> round(worth_of_term(cost, cost), 3), worth_of_term(cost, np.zeros_like(cost))
    (0.25, 0.0)
    """
    inside = np.isfinite(cost).all(axis=0)
    known, whole = term[:, inside], cost[:, inside]
    given = (whole - known).mean(axis=0) + known
    return max(0.0, float(whole.mean(axis=0).min() - given.min(axis=1).mean()))


def _gain(above: Array, values: Array, most: float) -> float:
    """Expected gain of knowing one input, between nothing and that of knowing everything."""
    if len(values) != len(above):
        raise InputError("an input of another length than the costs", found=str(len(values)), expected=str(len(above)))
    if most <= 0 or np.ptp(values) <= 0:
        return 0.0
    basis = np.vander(_ranks(values), DEGREE + 1)
    fit, *_ = np.linalg.lstsq(basis, above, rcond=None)
    smooth = basis @ fit
    middle = above.mean(axis=0)
    # Adjusted share of the variance that the input explains: what the coefficients find in noise is taken off.
    total = ((above - middle) ** 2).sum(axis=0)
    rest = ((above - smooth) ** 2).sum(axis=0)
    draws = len(above)
    explained = 1 - (rest / np.maximum(total, 1e-300)) * (draws - 1) / (draws - DEGREE - 1)
    plain = np.maximum(1 - rest / np.maximum(total, 1e-300), 1e-300)
    shrunk = middle + (smooth - middle) * np.sqrt(np.clip(explained, 0.0, 1.0) / plain)
    return float(min(most, max(0.0, middle.min() - shrunk.min(axis=1).mean())))


def _ranks(values: Array) -> Array:
    """Ranks between -1 and 1; ties share their mean rank."""
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    rank: Array = (ends - (counts + 1) / 2 + 0.5)[place]
    return 2 * rank / len(values) - 1
