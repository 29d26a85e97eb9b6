"""What counting defects on a trial build would be worth before choosing: the expected value of sample information.

Rivals' costs and the rates that a trial would count are drawn together. A trial of n parts of each package is played
on every draw: counts are drawn from that draw's rates, the other draws are weighed by how likely each makes the
counts, and the rival that is then cheapest on average is taken and paid for at that draw. Raiffa & Schlaifer, Applied
Statistical Decision Theory (1961), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.choosing.optimum.model import Array
from landwise.errors import InputError

Counts = NDArray[np.integer]
PLAYS = 8  # trials played on every draw: the mean gain then has little of its own noise
SEED = 20261128


@dataclass(frozen=True)
class Trial:
    """One size of a trial and what it is worth.

    Parameters
    ----------
    size : int
        Parts of each package.
    gain : float
        Expected gain of counting before choosing, in the unit of the costs.
    error : float
        Standard error of that gain.
    changes : float
        Share of trials after which another rival is taken than without one.
    """

    size: int
    gain: float
    error: float
    changes: float


def worth_sampling(cost: Array, rates: Array, sizes: Sequence[int], *, seed: int = SEED) -> tuple[Trial, ...]:
    """What trials of several sizes are worth.

    Parameters
    ----------
    cost : array (draws, rivals)
        Costs of the rivals in each draw; infinite in every draw for a rival that is out.
    rates : array (draws, packages)
        Expected defects of one part of each package that the trial counts.
    sizes : sequence of int
        Parts of each package.

    Returns
    -------
    tuple of Trial

    Raises
    ------
    InputError
        Without a rival that is in, or for rates of another length.

    Notes
    -----
    A draw is never weighed by its own counts (it is left out of the draws that are): a trial can't know the line it is
    played on better than its counts tell. With few hundred draws that makes large trials look a little poorer than
    they are.

    Examples
    --------
    Two rivals, one dearer by what its defects cost; a large trial is worth nearly all that knowing is:

    >>> rate = np.exp(np.linspace(-2, 2, 200)) * 1e-3
    >>> cost = np.stack([np.full(200, 1.0), 0.5 + 300 * rate], axis=1)
    >>> small, large = worth_sampling(cost, rate[:, None], (10, 100_000))
    >>> known = cost.mean(axis=0).min() - cost.min(axis=1).mean()
    >>> bool(small.gain < 0.2 * known), bool(large.gain > 0.9 * known)
    (True, True)
    """
    if len(rates) != len(cost):
        raise InputError("rates of another length than the costs", found=str(len(rates)), expected=str(len(cost)))
    inside = np.isfinite(cost).all(axis=0)
    if not inside.any():
        raise InputError("no rival is left to choose from")
    kept = cost[:, inside]
    best = int(kept.mean(axis=0).argmin())
    found = []
    for size, stream in zip(sizes, np.random.SeedSequence(seed).spawn(len(sizes)), strict=True):
        taken = np.stack(
            [played(kept, rates, size, np.random.Generator(np.random.SFC64(one))) for one in stream.spawn(PLAYS)]
        )
        gains = kept[:, best] - np.take_along_axis(kept[None], taken[:, :, None], axis=2)[:, :, 0]
        by_draw = gains.mean(axis=0)
        found.append(
            Trial(
                size=int(size),
                gain=float(gains.mean()),
                error=float(by_draw.std(ddof=1) / len(by_draw) ** 0.5),
                changes=float(np.mean(taken != best)),
            )
        )
    return tuple(found)


def played(cost: Array, rates: Array, size: int, generator: np.random.Generator) -> Counts:
    """The rival taken after one trial on every draw, (draws,)."""
    expected = np.maximum(rates * size, 1e-300)
    counts = generator.poisson(expected)
    return taken_after(cost, expected, counts, leave_own=True)


def taken_after(cost: Array, expected: Array, counts: Counts, *, leave_own: bool = False) -> Counts:
    """The rival that is cheapest on average after counting.

    Parameters
    ----------
    cost : array (draws, rivals)
    expected : array (draws, packages)
        Defects expected in the trial at every draw.
    counts : array (trials, packages)
        Defects counted.
    leave_own : bool
        Trial k was played on draw k, which is left out.

    Returns
    -------
    array of int (trials,)
    """
    # Of the Poisson likelihood what depends on the draw.
    logs = counts @ np.log(expected).T - expected.sum(axis=1)[None, :]
    if leave_own:
        np.fill_diagonal(logs, -np.inf)
    weights = np.exp(logs - logs.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    found: Counts = (weights @ cost).argmin(axis=1)
    return found


def best_size(trials: Sequence[Trial], prices: Sequence[float]) -> Trial | None:
    """The size whose gain exceeds its price by most; None where none does by more than its own error.

    >>> best_size([Trial(10, 5.0, 0.1, 0.2), Trial(100, 9.0, 0.1, 0.4)], [1.0, 8.0]).size
    10
    """
    net = [trial.gain - price for trial, price in zip(trials, prices, strict=True)]
    most = int(np.argmax(net))
    return trials[most] if net[most] > trials[most].error else None
