"""Panels recognised among openings that are all reviewed: how many boards the figures are for."""

from __future__ import annotations

import numpy as np

from landwise.review.copies import Table, grid_of
from landwise.review.model import Array, Openings


def array_of(paste: Openings) -> Array | None:
    """The array that a film repeats; None for a single board.

    Notes
    -----
    Found as copies of an image are (see `copies`), from where the openings lie and how large they are.

    Examples
    --------
    >>> import shapely
    >>> from landwise.review.building import openings
    >>> board = [(0, 0, 1, 1), (3, 1, 4, 1.5), (1, 4, 2, 4.4), (5, 5, 5.3, 6), (7, 2, 7.2, 2.9), (2, 7, 2.5, 7.2)]
    >>> panel = [shapely.box(a + 12 * k, b, c + 12 * k, d) for k in range(3) for a, b, c, d in board]
    >>> array_of(openings(panel))
    Array(columns=3, rows=1, pitch_x_mm=12.0, pitch_y_mm=0.0, empty=0)
    """
    import shapely

    if not len(paste):
        return None
    box = shapely.bounds(paste.polygon)
    form = np.column_stack([box[:, 2:] - box[:, :2], np.sqrt(paste.area_mm2)])
    none, one = np.zeros(len(paste), dtype=np.int64), np.ones(len(paste))
    return grid_of(Table((box[:, :2] + box[:, 2:]) / 2, box[:, :2], box[:, 2:], none, form, one))
