"""What a count of defects says of the model: of its level, of what no geometry knows, and of its terms of scatter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.levels import Counted

Array = NDArray[np.float64]
LEAST_EFFECTIVE = 10.0  # draws that agree with the counts: fewer carry no mean
LEAST_SHIFT = 0.4  # standard deviations of what is known of a term: less is within what 200 draws leave by chance
MOST_TERMS = 3


@dataclass(frozen=True)
class Witness:
    """One count beside what the model expected before it was told.

    Parameters
    ----------
    counted : Counted
    expected : tuple of float
        Defects per million joints: mean, 5 and 95 % of the draws. [1e-6]
    modelled : float or None
        Share of such defects that the model's own ways explain, among the draws that agree with the count; the rest is
        causes that no geometry knows. None where too few agree.
    effective : float
        How many draws agree with the count (Kish's effective number of the weights).
    speaks : tuple of (str, float)
        Terms that the count moves most, and by how many standard deviations of what was known of them.
    """

    counted: Counted
    expected: tuple[float, float, float]
    modelled: float | None
    effective: float
    speaks: tuple[tuple[str, float], ...]

    @property
    def over(self) -> float:
        """The count over what was expected."""
        rate = 1e6 * self.counted.defects / self.counted.joints
        return rate / self.expected[0] if self.expected[0] > 0 else float("inf")


def witness(counted: Counted, modelled: Array, other: Array, scores: Mapping[str, Sequence[float]]) -> Witness:
    """Weigh the draws of what is known by how likely each makes a count.

    Parameters
    ----------
    counted : Counted
    modelled, other : array
        Expected defects per joint at every draw: by the model's ways, and by causes that no geometry knows, (draws,).
    scores : mapping of str to sequence of float
        Each term's standard normal scores, (draws,).

    Notes
    -----
    Defects are a Poisson count over the joints; draw k weighs as `exp(n·log(λ_k) - λ_k)`, λ the expected number
    (importance weights). Where fewer than ten draws agree the count lies outside of what the model held for likely, and
    nothing is said of terms.

    Examples
    --------
    A term that doubles the rate with every standard deviation, and four times the expected count:

    >>> from landwise.assembly.knowledge import standing
    >>> term = standing("an example", 200)
    >>> rate = 1e-5 * 2.0**term
    >>> found = witness(Counted("gull-wing dual", "open", 40, 1_000_000), rate, 0 * rate, {"term": term})
    >>> found.speaks[0][0], found.speaks[0][1] > 1.0, found.modelled
    ('term', True, 1.0)
    """
    rate = modelled + other
    number = np.maximum(rate * counted.joints, 1e-300)
    logs = counted.defects * np.log(number) - number
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    effective = float(1 / np.square(weights).sum())
    speaks: list[tuple[str, float]] = []
    share = None
    if effective >= LEAST_EFFECTIVE:
        share = float(weights @ (modelled / np.maximum(rate, 1e-300)))
        for name, score in scores.items():
            values = np.asarray(score, dtype=float)
            moved = float(weights @ values - values.mean()) / max(float(values.std()), 1e-9)
            if abs(moved) >= max(LEAST_SHIFT, 2 / effective**0.5):
                speaks.append((name, moved))
    low, high = (float(1e6 * np.quantile(rate, q)) for q in (0.05, 0.95))
    return Witness(
        counted=counted,
        expected=(1e6 * float(rate.mean()), low, high),
        modelled=share,
        effective=effective,
        speaks=tuple(sorted(speaks, key=lambda pair: -abs(pair[1]))[:MOST_TERMS]),
    )
