"""What a line's own counts on packages make of the draws of what is known: likelier lines are drawn more often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.knowledge import Knowledge
from landwise.assembly.levels import Counted

Array = NDArray[np.float64]
LEAST_EFFECTIVE = 20.0  # draws that must agree: with fewer, one line would stand for all


def log_likelihood(counted: Counted, per_joint: Array) -> Array:
    """Logarithm of how likely each draw makes a count, up to a constant, (draws,).

    Parameters
    ----------
    counted : Counted
    per_joint : array
        Expected defects of that kind per joint at every draw, (draws,).
    """
    expected = np.maximum(per_joint * counted.joints, 1e-300)
    found: Array = counted.defects * np.log(expected) - expected
    return found


def heard(knowledge: Knowledge, name: str, counts: Sequence[tuple[Counted, Array]]) -> Knowledge:
    """The draws after counting.

    Parameters
    ----------
    knowledge : Knowledge
        Before.
    name : str
        What to call it after.
    counts : sequence of (Counted, array)
        Each with its expected defects per joint at every draw.

    Notes
    -----
    Importance resampling (Rubin 1987, from memory): a draw is taken as often as it is likely, evenly spread so that no
    chance comes in. Where fewer than twenty draws would agree, the likelihood is flattened (raised to a power below
    one) until twenty do: such counts lie beyond what the model held for likely, and say more of the model than of the
    line. Every package is drawn with the same lines, so that ratios keep what options have in common.

    Examples
    --------
    >>> from landwise.assembly.knowledge import default_knowledge
    >>> known = default_knowledge()
    >>> rate = 1e-5 * np.exp(known.line)
    >>> after = heard(known, "counted", [(Counted("gull-wing dual", "open", 60, 1_000_000), rate)])
    >>> bool(np.exp(after.line).mean() > 3 * np.exp(known.line).mean())
    True
    """
    logs = np.sum([log_likelihood(counted, rates) for counted, rates in counts], axis=0)
    weights = _weights(logs)
    places = (np.arange(knowledge.draws) + 0.5) / knowledge.draws
    index = np.minimum(np.searchsorted(np.cumsum(weights), places), knowledge.draws - 1)
    return taken(knowledge, name, index)


def _weights(logs: Array) -> Array:
    """Weights whose effective number is no less than it must be."""
    power = 1.0
    weights: Array = np.full(len(logs), 1 / len(logs))
    for _ in range(60):
        weights = np.exp(power * (logs - logs.max()))
        weights /= weights.sum()
        if 1 / np.square(weights).sum() >= min(LEAST_EFFECTIVE, len(logs)):
            break
        power *= 0.8
    return weights


def taken(knowledge: Knowledge, name: str, index: NDArray[np.integer]) -> Knowledge:
    """The draws of these places, each as often as it is named."""
    return replace(
        knowledge,
        name=name,
        scores=knowledge.scores[index],
        line=knowledge.line[index],
        spread=knowledge.spread[index],
        others={
            kind: replace(one, part=one.part[index], joint=one.joint[index], gap=one.gap[index])
            for kind, one in knowledge.others.items()
        },
        factors={where: array[index] for where, array in knowledge.factors.items()},
        before=knowledge,
        places=tuple(int(place) for place in index),
    )
