"""The search for the design with the widest margin: a pattern search that ends the same wherever it begins."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.sobol import Sobol, normal_block
from landwise.designing.case import Case, scored
from landwise.designing.lockstep import Search
from landwise.designing.points import Centres
from landwise.designing.variables import NAMES, ROUND, ROUNDED_SQUARE

Array = NDArray[np.float64]
FIRST_STEP, LAST_STEP, SHRINKS = 0.25, 0.02, 3.5  # of a variable's range
WAYS = np.array([-2.0, -1.0, -0.4, 0.4, 1.0, 2.0])
SHARES = (0.35, 0.7, 1.0)
ENOUGH = 0.03  # standard deviations that a round must gain to go on with the same steps
MOST_ROUNDS = 10
SCATTERED = 32  # designs tried all over the bounds before the search begins, and as many nearer the lands


def searched(case: Case, starts: Sequence[Array]) -> Search[Array]:
    """The design with the best score that a pattern search finds from the best of several starts.

    Parameters
    ----------
    case : Case
    starts : sequence of array
        Rows of designs; those outside the bounds are brought inside.

    Notes
    -----
    In every round each variable is tried at steps either way, by itself; the steps that gain are then taken together,
    in part or in full. Steps shrink where nothing gains. The result lies on no grid; `design` rounds it.
    """
    low, high = case.bounds
    free = np.flatnonzero(high - low > 1e-9)
    first = np.clip(np.array([case.base, *starts]), low, high)
    scattered = low + (high - low) * _even(len(NAMES))
    first = np.vstack([first, scattered, case.base + 0.3 * (scattered - case.base)])
    found = yield from scored(case, first)
    best, height = found.designs[int(np.argmax(found.score))], float(found.score.max())
    step, centres = FIRST_STEP, case.centres
    for _ in range(MOST_ROUNDS):
        was = height
        best, height = yield from _round(case, (best, height), free, (step, centres))
        if height - was < ENOUGH:
            step /= SHRINKS
            if step < LAST_STEP:
                break
            # Nearer the end, numbers are drawn around the design found, not around the print it began at.
            centres = yield from case.search_centres(best)
            again = yield from scored(case, best[None], centres)
            height = float(again.score[0])
    return np.asarray(best)


@lru_cache(maxsize=2)
def _even(size: int) -> Array:
    """Points spread evenly over the unit cube, the same every time."""
    from scipy.special import ndtr

    return np.asarray(ndtr(normal_block(Sobol(size, 7), 0, SCATTERED).T))


def _round(
    case: Case, at: tuple[Array, float], free: NDArray[np.int64], steps: tuple[float, Sequence[Centres]]
) -> Search[tuple[Array, float]]:
    best, height = at
    step, centres = steps
    low, high = case.bounds
    ranges = high - low
    tried = np.repeat(best[None], len(free) * len(WAYS), axis=0)
    for k, column in enumerate(free):
        tried[k * len(WAYS) : (k + 1) * len(WAYS), column] += WAYS * step * ranges[column]
    tried = np.clip(tried, low, high)
    scores = (yield from scored(case, tried, centres)).score
    moves = []
    for k in range(len(free)):
        rows = slice(k * len(WAYS), (k + 1) * len(WAYS))
        j = int(np.argmax(scores[rows]))
        if scores[rows][j] > height + 1e-9:
            moves.append((float(scores[rows][j]) - height, tried[rows][j] - best))
    if not moves:
        return at
    moves.sort(key=lambda move: -move[0])
    together = [np.sum([way for _, way in moves[:count]], axis=0) for count in range(1, len(moves) + 1)]
    joined = [best + share * way for way in together for share in ((1.0,) if way is together[0] else SHARES)]
    tried = np.clip(np.array(joined), low, high)
    scores = (yield from scored(case, tried, centres)).score
    j = int(np.argmax(scores))
    return (tried[j], float(scores[j])) if scores[j] > height else at


STEP_MM, STEP_CORNER, STEP_COVERAGE = 0.005, 0.05, 0.01
FINISH = 4  # rounds on the lattice


def on_lattice(case: Case, row: Array) -> Array:
    """The design with sizes in steps a drawing is made in: 5 µm, a twentieth of a corner, one part in a hundred."""
    low, high = case.bounds
    steps = lattice_steps(case)
    found = case.base + np.round((row - case.base) / steps) * steps
    found = np.where(found > high + 1e-9, found - steps, found)
    found = np.where(found < low - 1e-9, found + steps, found)
    if low[ROUND] < high[ROUND]:
        found[ROUND] = 1.0 if row[ROUND] > (1 + ROUNDED_SQUARE) / 2 else ROUNDED_SQUARE
    return np.asarray(np.round(np.clip(found, low, high), 6), dtype=np.float64)


def lattice_steps(case: Case) -> Array:
    """Step of every variable. [mm, -]"""
    pad = any(stand.kind == "pad" for stand in case.frame.stands.values())
    return np.array([STEP_MM, STEP_MM, STEP_MM, STEP_CORNER, STEP_COVERAGE if pad else STEP_MM, 1 - ROUNDED_SQUARE])


def finished(case: Case, row: Array) -> Search[Array]:
    """The best design on the lattice around one that was searched.

    Every variable is tried a step either way until none gains.
    """
    low, high = case.bounds
    steps = lattice_steps(case)
    best = on_lattice(case, row)
    centres = yield from case.search_centres(best)
    for _ in range(FINISH):
        moves = np.vstack([np.diag(steps), -np.diag(steps)])
        tried = np.clip(best + moves, low, high)
        tried = tried[np.any(np.abs(tried - best) > 1e-9, axis=1)]
        if not len(tried):
            break
        around = yield from scored(case, np.vstack([best, np.round(tried, 6)]), centres)
        k = int(np.argmax(around.score))
        if around.score[k] <= around.score[0] + 1e-6:
            break
        best = around.designs[k]
    return np.asarray(best)
