"""Laws of paste transfer that a design is made with, and one that it is only held against."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.printing.model import Powder, Technology
from landwise.printing.transfer import curve

Array = NDArray[np.float64]
Curve = Callable[[Array], tuple[Array, Array, Array, Array]]  # mean, relative spread, low and high end, over area ratio


@lru_cache(maxsize=64)
def prior_curve(technology: Technology, powder: Powder, end: str = "mean") -> Curve:
    """Transfer over area ratio, in the middle or at one end of the 90 % band: level, spread, and the band's ends."""
    prior = curve(technology, powder)
    low, high = prior.usual_low, prior.usual_high
    level = {
        "mean": (low + high) / 2,
        "low": np.maximum(low - prior.laboratories, 0.02),
        "high": high + prior.laboratories,
    }[end]
    ends = np.maximum(low - prior.laboratories, 0.0), high + prior.laboratories
    spread = (prior.cv_low + prior.cv_high) / 2

    def at(ratio: Array) -> tuple[Array, Array, Array, Array]:
        # Below the band nothing is known but that less comes out: it falls to nothing with the opening.
        below = np.minimum(1.0, ratio / prior.ratios[0])
        bottom, top = (prior.at(edge, ratio) * below for edge in ends)
        return prior.at(level, ratio) * below, prior.at(spread, ratio), bottom, top

    return at


WALL_FILM = 0.66 * (1 - 0.80)  # puts 80 % at an area ratio of 0.66, the one point that all makers print


def wall_curve(ratio: Array) -> tuple[Array, Array, Array, Array]:
    """Another law of transfer: a film of paste of even thickness stays on the opening's walls, 1 − κ / area ratio.

    Never used to design with, only to see whether a design is better under it too. It is far flatter than the prior
    below an area ratio of 0.6 and never empties in full above; the spread grows as what stays behind.
    """
    kept = np.clip(WALL_FILM / np.maximum(ratio, 1e-6), 0.0, 0.95)
    return 1 - kept, 0.5 * kept, 1 - kept, 1 - kept
