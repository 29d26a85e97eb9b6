"""Rates over everything that is not known: all terms of the line's scatter drawn at once, the same for every part.

One draw is one line as it may be: a value for every term with a range, and a place in the transfer band. Parts are
worked at the same draws, so that what two options share drops out of their ratio.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from landwise.assembly import mechanisms as m
from landwise.assembly.partmodel import PartModel, part_at
from landwise.assembly.points import PILOT, Mixture, fitted, seed_of, wide
from landwise.assembly.rare import COUNTED, FLOAT, WIDER, bridge_chances, mixture_of, open_chances, other_chances
from landwise.assembly.scatter import Scatter, default_terms
from landwise.lately import Lately

Array = NDArray[np.float64]
DRAWS = 200
# Points of each density for each draw: so many that sampling noise is no part of a range. Bridges ask for most, since
# four things at once bring them about: at 128 the middle of a range came out up to 0.5 too low in its logarithm, by
# the seed, and means were off by 7 % (2.5 to 5 % at 256). Of all other defects a quarter as many tell as much.
POINTS = 256
FEWER = 4
AT_ONCE = 32  # points worked at once, for all draws
MOST_SCORE = 2.2  # ranges are believed this far out, in standard deviations; beyond it shares would pass one


@dataclass(frozen=True)
class Drawn:
    """A part's expected defects at every draw, by mechanism: (draws,) each. Own equality is by content."""

    by: tuple[tuple[str, tuple[float, ...]], ...]

    def __getitem__(self, mechanism: str) -> Array:
        return np.array(dict(self.by)[mechanism])


def names() -> tuple[str, ...]:
    """What is drawn: every term with a range, and the transfer band."""
    return (*(name for name, term in default_terms().items() if term.moves), "transfer")


@cache
def prior_scores(draws: int = DRAWS, seed: int = 1) -> Array:
    """Standard normal scores, (draws, names): a Latin hypercube, each term's own range evenly filled.

    >>> scores = prior_scores(100)
    >>> bool(abs(scores.mean(axis=0)).max() < 1e-12)
    True
    """
    from scipy.special import ndtri

    rng = np.random.default_rng(seed)
    even = ndtri((np.arange(draws) + 0.5) / draws).clip(-MOST_SCORE, MOST_SCORE)
    found = np.array([rng.permutation(even) for _ in names()]).T
    found.setflags(write=False)
    return found


def scatter_at(scatter: Scatter, scores: Array, deposits: Array | None = None) -> Scatter:
    """A line at draws of its terms; `scores` (draws, names), `deposits` (draws,), the terms then (draws, 1)."""
    return scatter.drawn(_named(scores[..., None], None if deposits is None else deposits[:, None]))


_LINES: Lately[Scatter] = Lately(most=4)  # all parts of a study stand on one line


def _named(scores: Array, deposits: Array | None) -> dict[str, Array]:
    found = {name: scores[:, k] for k, name in enumerate(names())}
    return found if deposits is None else {**found, "deposits": deposits}


def drawn_rates(
    model: PartModel,
    scores: Array,
    points: int = POINTS,
    *,
    middle: Mixture | None = None,
    deposits: Array | None = None,
) -> Drawn:
    """Expected defects at every draw.

    Parameters
    ----------
    model : PartModel
        On the line's middle values; terms that the study states don't move.
    scores : array
        (draws, names)
    points : int
        Of each density that bridges are sampled from, a power of two; a quarter of it for everything else.
    middle : Mixture, optional
        Where defects come from in the middle of what is known, where that was found before.
    deposits : array, optional
        Scores of the spread of deposits that the line measured, (draws,); without, its middle stands. A line that
        measured none has no use for them.
    """
    seed = seed_of(model.geometry, model.scatter.seeding, "drawn")
    middle = middle or mixture_of(model, seed)
    over = _over_draws(model, scores, deposits, seed)
    bridging, opening = (
        Mixture((*middle.towards("wide", way), *over.towards(way))).drawn([seed], 0, count)
        for way, count in (("bridges", points), ("opens", points // FEWER))
    )
    line = _LINES.of((model.scatter, scores, deposits), None, lambda: scatter_at(model.scatter, scores, deposits))
    means = _means(part_at(model.geometry, line), bridging, opening)
    return Drawn(tuple((name, tuple(np.broadcast_to(means[name], len(scores)).tolist())) for name in COUNTED))


def _over_draws(model: PartModel, scores: Array, deposits: Array | None, seed: int) -> Mixture:
    """Densities fitted to where defects come from over all draws together: every point of the fit has its own draw."""
    chosen = np.random.default_rng(seed).integers(0, len(scores), PILOT)
    named = _named(scores[chosen], None if deposits is None else deposits[chosen])
    each = part_at(model.geometry, model.scatter.drawn(named))

    def bridges(points: Array) -> Array:
        return bridge_chances(each, m.shared(points[: m.SHARED], each), points[m.SHARED :])[0]

    def opens(points: Array) -> Array:
        at = m.shared(points[: m.SHARED], each)
        total: Array = open_chances(each, at, points[m.SHARED])[0] + m.float_chance(each, at, points[FLOAT])
        return total

    start = wide(WIDER)
    found = {"bridges": fitted(bridges, start, seed) if model.pairs else None, "opens": fitted(opens, start, seed + 1)}
    kept = {way: one for way, one in found.items() if one is not None}
    return Mixture(tuple(kept.values()), tuple(kept))


def _means(model: PartModel, bridging: tuple[Array, Array], opening: tuple[Array, Array]) -> dict[str, Array]:
    """Mean of every mechanism at every draw; points and weights for bridges, and for everything else."""

    def bridges(points: Array) -> dict[str, Array]:
        at = m.shared(points[: m.SHARED], model, faint=False)
        return {"bridges": bridge_chances(model, at, points[m.SHARED :])[0]}

    def others(points: Array) -> dict[str, Array]:
        return other_chances(model, m.shared(points[: m.SHARED], model, faint=False), points)

    return {**_mean(bridges, *bridging), **_mean(others, *opening)}


def _mean(chances: Callable[[Array], dict[str, Array]], points: Array, weights: Array) -> dict[str, Array]:
    """Weighted means over points, a few of which are worked at once for all draws: what is at hand then stays small
    enough for a near cache."""
    rows: dict[str, list[Array]] = {}
    for first in range(0, points.shape[1], AT_ONCE):
        taken = slice(first, first + AT_ONCE)
        for name, values in chances(points[:, taken]).items():
            rows.setdefault(name, []).append(np.multiply(weights[0, taken], values))
    return {name: np.mean(np.concatenate(parts, axis=-1), axis=-1) for name, parts in rows.items()}
