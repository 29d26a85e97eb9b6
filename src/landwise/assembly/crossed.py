"""A table of deposits by print and by place on the foil: what each of them brings to the spread.

Split by moments (crossed random effects); intervals are generalised ones: every mean square is drawn from its own
chi-square distribution.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Codes = NDArray[np.signedinteger]
DRAWS = 4000  # of the mean squares: the 5 % point then has its own standard error of 0.3 %
CLIP = 4.0  # robust standard deviations a residual may count: of normal ones six in a hundred thousand are touched
LEAST_PANELS = 5  # fewer prints say nothing of how prints differ
LEAST_PLACES = 4
LEAST_DEPOSITS = 30
ROUNDS = 4  # of alternating means; crossed effects of a nearly full table settle in two
MAD_TO_SD = 1.4826  # of a normal distribution


@dataclass(frozen=True)
class Split:
    """Mean of a crossed table and the standard deviations of its parts, with draws of all of them.

    `common`, `placed`, `own`: prints, places on the foil, single deposits; arrays of draws end in `_draws`.
    """

    mean: float
    common: float
    placed: float
    own: float
    mean_draws: Array
    common_draws: Array
    placed_draws: Array
    own_draws: Array
    by_panel: Array


def split(value: Array, panel: Codes, place: Codes, *, seed: int = 1) -> Split | None:
    """Mean and variance parts of deposits that share prints and places on the foil.

    Parameters
    ----------
    value : array
        (deposits,)
    panel, place : array of int
        Codes, (deposits,)

    Returns
    -------
    Split or None
        None with fewer than 5 prints, 4 places or 30 deposits.

    Notes
    -----
    Model: `value = mean + print + place + own`, all independent. Residuals count up to four robust standard deviations.
    With print means taken over n places of N deposits, `var(print means) = common² + own²/n` has (prints - 1) degrees
    of freedom, and likewise for places: generalised intervals after Weerahandi (1993, from memory). Holds for nearly
    full tables.

    Examples
    --------
    >>> rng = np.random.default_rng(3)
    >>> panel, place = np.divmod(np.arange(4000), 40)
    >>> y = 0.9 + 0.04 * rng.standard_normal(100)[panel] + 0.03 * rng.standard_normal(4000)
    >>> found = split(y, panel, place)
    >>> bool(abs(found.common - 0.04) < 0.01), bool(abs(found.own - 0.03) < 0.002)
    (True, True)
    """
    _, panel = np.unique(panel, return_inverse=True)
    _, place = np.unique(place, return_inverse=True)
    panels, places, count = int(panel.max()) + 1, int(place.max()) + 1, len(value)
    freedom = count - panels - places + 1
    if panels < LEAST_PANELS or places < LEAST_PLACES or count < LEAST_DEPOSITS or freedom < LEAST_DEPOSITS // 2:
        return None
    per_panel, per_place = np.bincount(panel), np.bincount(place)
    middle = float(np.median(value))
    at_panel, at_place = np.zeros(panels), np.zeros(places)
    kept = value - middle
    for _ in range(ROUNDS):
        at_panel = np.bincount(panel, kept - at_place[place]) / per_panel
        at_place = np.bincount(place, kept - at_panel[panel]) / per_place
        rest = value - middle - at_panel[panel] - at_place[place]
        sd = max(MAD_TO_SD * float(np.median(np.abs(rest - np.median(rest)))), 1e-12)
        kept = value - middle - rest + np.clip(rest, -CLIP * sd, CLIP * sd)
    rest = kept - at_panel[panel] - at_place[place]
    own2 = float(np.square(rest).sum()) / freedom
    n_places = 1 / float(np.mean(1 / per_panel))  # of one print
    n_panels = 1 / float(np.mean(1 / per_place))
    of_panels, of_places = float(np.var(at_panel, ddof=1)), float(np.var(at_place, ddof=1))
    rng = np.random.default_rng(seed)
    own2_draws = own2 * freedom / rng.chisquare(freedom, DRAWS)
    panels_draws = of_panels * (panels - 1) / rng.chisquare(panels - 1, DRAWS)
    places_draws = of_places * (places - 1) / rng.chisquare(places - 1, DRAWS)
    # The mean's own variance: of prints and of places, less what single deposits are counted twice.
    variance = panels_draws / panels + places_draws / places - own2_draws / count
    mean = middle + float(np.mean(at_panel)) + float(np.mean(at_place))
    mean_draws = mean + np.sqrt(np.maximum(variance, own2_draws / count)) * rng.standard_normal(DRAWS)

    def root(number: Array | float) -> Array:
        found: Array = np.sqrt(np.maximum(number, 0.0))
        return found

    return Split(
        mean=mean,
        common=float(root(of_panels - own2 / n_places)),
        placed=float(root(of_places - own2 / n_panels)),
        own=own2**0.5,
        mean_draws=mean_draws,
        common_draws=root(panels_draws - own2_draws / n_places),
        placed_draws=root(places_draws - own2_draws / n_panels),
        own_draws=root(own2_draws),
        by_panel=at_panel,
    )
