"""Which opening of a paste film a measured deposit came from, by where it lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
NEAR_MM = 0.25  # half the finest pitch in use: a deposit further away belongs to another opening
VOTE_MM = 0.2  # shifts that agree within this vote for one another
MOST_VOTES = 2_000_000  # differences that are looked at; fewer places vote where there are many openings
LEAST_VOTERS = 40
LEAST_FOUND = 0.9  # of all places: below it the film is another board's


@dataclass(frozen=True, eq=False)
class Apertures:
    """Openings of one side's paste film.

    Parameters
    ----------
    x_mm, y_mm : array
        Middle, (openings,). [mm]
    area_mm2, wall_mm : array
        Area and length of its edge, (openings,). [mm², mm]
    """

    x_mm: Array
    y_mm: Array
    area_mm2: Array
    wall_mm: Array


@dataclass(frozen=True, eq=False)
class Overlay:
    """Places laid on openings.

    Parameters
    ----------
    opening : array of int
        By place: the opening it lies on; -1 where it lies on none.
    turn_deg : int
        Of the board against the film, in quarter turns. [deg]
    shift_mm : tuple of float
        From the film to the board, after the turn. [mm]
    share : float
        Of the places that lie on an opening.
    """

    opening: Indices
    turn_deg: int
    shift_mm: tuple[float, float]
    share: float


def overlay(x_mm: Array, y_mm: Array, apertures: Apertures) -> Overlay:
    """Lay measured places on a film: the quarter turn and the shift that most places agree on.

    Parameters
    ----------
    x_mm, y_mm : array
        (places,). [mm]

    Raises
    ------
    InputError
        If fewer than nine places in ten lie on an opening.

    Notes
    -----
    Every difference of a place and an opening is a vote for a shift; the fullest cell of 0.2 mm wins, and the median of
    what is within it is the shift. Nothing is stretched: a board's stretch of 0.1 mm over its length stays within half
    a fine pitch.

    Examples
    --------
    >>> x, y = np.array([0.0, 1.0, 5.0, 9.0, 9.0]), np.array([0.0, 2.0, 1.0, 7.0, 3.0])
    >>> film = Apertures(x, y, np.ones(5), np.full(5, 4.0))
    >>> found = overlay(-y[::-1] + 20, x[::-1] + 4, film)
    >>> found.turn_deg, found.shift_mm, found.opening.tolist()
    (90, (20.0, 4.0), [4, 3, 2, 1, 0])
    """
    best: Overlay | None = None
    for turns in range(4):
        cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[turns]
        film_x, film_y = apertures.x_mm * cos - apertures.y_mm * sin, apertures.x_mm * sin + apertures.y_mm * cos
        shift_x, shift_y = _shift(x_mm, y_mm, film_x, film_y)
        opening = _nearest(x_mm - shift_x, y_mm - shift_y, film_x, film_y)
        share = float(np.mean(opening >= 0))
        if best is None or share > best.share:
            best = Overlay(opening, 90 * turns, (shift_x, shift_y), share)
    if best is None or best.share < LEAST_FOUND:
        raise InputError(
            "the deposits don't lie on the openings of this film",
            place="--paste",
            found=f"{best.share if best else 0:.0%} of the places within {NEAR_MM:g} mm of an opening",
            expected=f"{LEAST_FOUND:.0%}: the film of the board and side that was inspected, one image at a time",
        )
    return best


def _shift(x_mm: Array, y_mm: Array, film_x: Array, film_y: Array) -> tuple[float, float]:
    count = min(len(x_mm), max(MOST_VOTES // len(film_x), LEAST_VOTERS))
    voters = np.linspace(0, len(x_mm) - 1, count).astype(int)
    dx, dy = ((place[voters, None] - film[None, :]).ravel() for place, film in ((x_mm, film_x), (y_mm, film_y)))
    cell_x, cell_y = (np.round(along / VOTE_MM).astype(np.int64) for along in (dx, dy))
    wide = int(cell_y.max() - cell_y.min()) + 1
    cells, counts = np.unique((cell_x - cell_x.min()) * wide + cell_y - cell_y.min(), return_counts=True)
    fullest = int(cells[np.argmax(counts)])
    middle = (fullest // wide + cell_x.min()) * VOTE_MM, (fullest % wide + cell_y.min()) * VOTE_MM
    near = np.maximum(np.abs(dx - middle[0]), np.abs(dy - middle[1])) <= VOTE_MM
    return float(np.median(dx[near])), float(np.median(dy[near]))


def _nearest(x_mm: Array, y_mm: Array, film_x: Array, film_y: Array) -> Indices:
    from scipy.spatial import cKDTree

    away, index = cKDTree(np.stack([film_x, film_y], axis=1)).query(np.stack([x_mm, y_mm], axis=1))
    found: Indices = np.where(away <= NEAR_MM, index, -1)
    return found
