"""The free room of a side as all its largest free rectangles."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from landwise.choosing.packing.model import Rect

Rects = NDArray[np.int64]  # one row a rectangle: x1, y1, x2, y2. [µm]


def largest_free(inside: Rect, taken: Iterable[Rect], least: int = 1) -> Rects:
    """Every free rectangle that can't be made larger.

    Parameters
    ----------
    inside : Rect
    taken : iterable of Rect
    least : int
        Rectangles with a shorter edge below this are left out. [µm]

    Notes
    -----
    A rectangle has a place in the free room exactly if it fits into one of these.

    Examples
    --------
    >>> largest_free(Rect(0, 0, 10, 10), [Rect(0, 0, 4, 4)]).tolist()
    [[4, 0, 10, 10], [0, 4, 10, 10]]
    """
    free: Rects = np.array([[inside.x1, inside.y1, inside.x2, inside.y2]], dtype=np.int64)
    for rect in taken:
        free = without(free, rect, least)
    return free


def without(free: Rects, rect: Rect, least: int = 1) -> Rects:
    """The largest free rectangles after one more rectangle is taken."""
    x1, y1, x2, y2 = free.T
    met = (x1 < rect.x2) & (rect.x1 < x2) & (y1 < rect.y2) & (rect.y1 < y2)
    if not met.any():
        return free
    kept: Rects = free[~met]
    cut = free[met]
    pieces = np.repeat(cut[None], 4, axis=0)
    pieces[0, :, 2] = rect.x1
    pieces[1, :, 0] = rect.x2
    pieces[2, :, 3] = rect.y1
    pieces[3, :, 1] = rect.y2
    flat = pieces.reshape(-1, 4)
    flat = flat[(flat[:, 2] - flat[:, 0] >= least) & (flat[:, 3] - flat[:, 1] >= least)]
    if not len(flat):
        return kept
    # What was kept can't lie within a piece, since each piece lies within a rectangle that was as large as could be.
    every = np.concatenate([kept, flat])
    holds = (
        (every[None, :, 0] <= flat[:, None, 0])
        & (every[None, :, 1] <= flat[:, None, 1])
        & (every[None, :, 2] >= flat[:, None, 2])
        & (every[None, :, 3] >= flat[:, None, 3])
    )
    alike = (flat[:, None, :] == flat[None, :, :]).all(axis=2)
    own = len(kept) + np.arange(len(flat))
    # Of equal pieces the first stays.
    holds[:, own] &= ~(alike & np.tri(len(flat), dtype=bool).T)
    made: Rects = np.concatenate([kept, flat[~holds.any(axis=1)]])
    return made
