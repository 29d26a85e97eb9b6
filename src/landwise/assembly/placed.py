"""What a line's own placement checks say: how far parts stand from their lands, and how far they are turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.calibration import Fitted, Learned, joined, range_of
from landwise.assembly.crossed import LEAST_DEPOSITS, LEAST_PANELS, LEAST_PLACES, Split, split
from landwise.assembly.scatter import SIGMAS, default_terms
from landwise.errors import InputError

Array = NDArray[np.float64]
Codes = NDArray[np.signedinteger]


@dataclass(frozen=True)
class PlacementFit:
    """What placement checks say.

    Parameters
    ----------
    boards, parts : int
    offset_mm : Fitted
        What 99.7 % of placements stay within along each axis: three times their root mean square about zero. [mm]
    shared : float
        Share of that mean square which all parts of a board have in common. [-]
    turn : Learned or None
        One standard deviation of a part's turn, joined with the shipped range; None where no turn was measured. [deg]
    """

    boards: int
    parts: int
    offset_mm: Fitted
    shared: float
    turn: Learned | None


def fit_placement(board: Codes, part: Codes, dx_mm: Array, dy_mm: Array, turn_deg: Array | None = None) -> PlacementFit:
    """Placement offset and turn from measured parts.

    Parameters
    ----------
    board, part : array of int
        Codes, (parts measured,)
    dx_mm, dy_mm : array
        Off the part's place, (parts measured,). [mm]
    turn_deg : array, optional
        (parts measured,). [deg]

    Raises
    ------
    InputError
        With fewer than 5 boards, 4 places or 30 parts.

    Notes
    -----
    As for prints (`crossed`): a board, a place on it and a single placement each bring their own spread, so that five
    boards say as little of how boards differ as five boards do. A steady offset counts, since nobody takes it out. An
    outlier counts as four robust standard deviations: a part that fell off is no placement.

    Examples
    --------
    >>> rng = np.random.default_rng(2)
    >>> board, part = np.divmod(np.arange(2000), 20)
    >>> found = fit_placement(board, part, 0.012 * rng.standard_normal(2000), 0.012 * rng.standard_normal(2000))
    >>> found.offset_mm.low < 0.036 < found.offset_mm.high
    True
    """
    known = np.isfinite(dx_mm) & np.isfinite(dy_mm)
    halves = [split(along[known], board[known], part[known], seed=seed) for seed, along in enumerate((dx_mm, dy_mm))]
    if halves[0] is None or halves[1] is None:
        raise InputError(
            "too few placements",
            place="placement checks",
            found=f"{int(known.sum())} parts on {len(np.unique(board[known]))} boards",
            expected=f"{LEAST_PANELS} boards, {LEAST_PLACES} places, {LEAST_DEPOSITS} parts",
        )
    both = [one for one in halves if one is not None]
    square = sum(_square(one) for one in both) / 2
    draws = sum(_square_draws(one) for one in both) / 2
    offset = range_of(SIGMAS * square**0.5, SIGMAS * np.sqrt(draws), "mm")
    common = sum(one.common**2 for one in both) / 2
    return PlacementFit(
        boards=len(np.unique(board[known])),
        parts=int(known.sum()),
        offset_mm=offset,
        shared=common / square if square > 0 else 0.0,
        turn=_turn(board, part, turn_deg),
    )


def _square(one: Split) -> float:
    """Mean square about zero."""
    return one.mean**2 + one.common**2 + one.placed**2 + one.own**2


def _square_draws(one: Split) -> Array:
    # The mean's own error would be counted as an offset: it is taken out on average.
    steady = np.maximum(one.mean**2 - float(np.var(one.mean_draws)), 0.0)
    drawn: Array = steady + one.common_draws**2 + one.placed_draws**2 + one.own_draws**2
    return drawn


def _turn(board: Codes, part: Codes, turn_deg: Array | None) -> Learned | None:
    if turn_deg is None:
        return None
    known = np.isfinite(turn_deg)
    found = split(turn_deg[known], board[known], part[known]) if known.any() else None
    if found is None:
        return None
    return joined(
        default_terms()["placement_turn"], range_of(_square(found) ** 0.5, np.sqrt(_square_draws(found)), "deg")
    )
