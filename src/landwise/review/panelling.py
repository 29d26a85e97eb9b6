"""Panels recognised: a film that draws every board by itself, found by what comes again."""

from __future__ import annotations

import numpy as np

from landwise.review.model import Array, Openings

TRIED = 300  # openings that a shift is tried on before all are
REPEAT_SHARE = 0.9  # of the openings that must come again for an array to be one


def array_of(paste: Openings) -> Array | None:
    """The array that a film repeats; None for a single board.

    Notes
    -----
    The shift that brings most openings onto openings of the same size, along x and along y, is the pitch.

    Examples
    --------
    >>> import shapely
    >>> from landwise.review.building import openings
    >>> board = [(0, 0, 1, 1), (3, 1, 4, 1.5), (1, 4, 2, 4.4), (5, 5, 5.3, 6), (7, 2, 7.2, 2.9), (2, 7, 2.5, 7.2)]
    >>> panel = [shapely.box(a + 12 * k, b, c + 12 * k, d) for k in range(3) for a, b, c, d in board]
    >>> array_of(openings(panel))
    Array(columns=3, rows=1, pitch_x_mm=12.0, pitch_y_mm=0.0)
    """
    if len(paste) < 12:
        return None
    along = _repeat(paste, 0)
    across = _repeat(paste, 1)
    if along is None and across is None:
        return None
    columns, pitch_x = along or (1, 0.0)
    rows, pitch_y = across or (1, 0.0)
    return Array(columns, rows, pitch_x, pitch_y)


def _repeat(paste: Openings, axis: int) -> tuple[int, float] | None:
    """How often, and at which pitch, the whole film comes again along an axis."""
    from scipy.spatial import cKDTree

    at = np.column_stack([paste.x_mm, paste.y_mm])
    size = np.column_stack([paste.length_mm, paste.width_mm])
    table = np.column_stack([at, 50 * size])
    tree = cKDTree(table)
    reach = float(np.ptp(at[:, axis]))
    # The film's first opening comes again at the pitch: every opening of its size in line is a candidate.
    first = int(np.argmin(at[:, axis] + 1e-3 * at[:, 1 - axis]))
    line = np.abs(at[:, 1 - axis] - at[first, 1 - axis]) < 0.02
    same = np.all(np.abs(size - size[first]) < 0.005, axis=1)
    steps = np.sort(at[line & same, axis] - at[first, axis])
    some = np.random.default_rng(1).choice(len(at), min(len(at), TRIED), replace=False)
    for pitch in steps[(steps > 2.0) & (steps <= reach / 1.0)][:400]:
        shift = np.zeros(4)
        shift[axis] = pitch
        inside = at[:, axis] + pitch <= at[:, axis].max() + 0.01
        count = round(reach / pitch + 0.5)
        # Of n boards, those that have a next one are n - 1 of n.
        if count < 2 or inside.sum() < 0.4 * len(at):
            continue
        few = some[inside[some]]
        if len(few) > 20:
            near, _ = tree.query(table[few] + shift, distance_upper_bound=0.05)
            if np.isfinite(near).mean() < REPEAT_SHARE - 0.2:
                continue
        near, _ = tree.query(table[inside] + shift, distance_upper_bound=0.05)
        share = float(np.isfinite(near).mean())
        if share < REPEAT_SHARE:
            continue
        own = np.ptp(at[~inside, axis]) if (~inside).any() else 0.0
        boards = 1 + round((reach - own) / pitch)
        if boards >= 2 and len(paste) % boards == 0:
            return int(boards), float(pitch)
    return None
