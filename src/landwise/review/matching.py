"""Which aperture prints on which land, and how well it sits there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.review.lands import within
from landwise.review.model import Bools, Component, Floats, Ints, Lands, Openings

TOUCH_MM = 0.02  # lands nearer than this are pieces of one
HALF = 0.5  # of a land's area: an opening over so much of it prints on it


def part_index(parts: Sequence[Component], count: int) -> Ints:
    """The part of each land; -1 for none."""
    found = np.full(count, -1, dtype=np.int64)
    for number, part in enumerate(parts):
        found[list(part.lands)] = number
    return found


@dataclass(frozen=True)
class Match:
    """Where each aperture prints.

    Parameters
    ----------
    land : array of int
        The land under most of the aperture; -1 for none.
    on_land : array
        Share of the aperture over that land and any other. [-]
    dx_mm, dy_mm : array
        Middle of the aperture less middle of its land; NaN without land. [mm]
    printed : array
        Per land: how many apertures.
    coverage : array
        Per land: open area over it, over its own area. [-]
    spans : array of int
        Per aperture: lands that stand apart of which it opens half or more.
    spanned : array of bool
        Per land: whether an aperture over several lands opens half or more of it.
    """

    land: Ints
    on_land: Floats
    dx_mm: Floats
    dy_mm: Floats
    printed: Ints
    coverage: Floats
    spans: Ints
    spanned: Bools


def match(paste: Openings, lands: Lands) -> Match:
    """Which land each aperture prints on.

    Examples
    --------
    An aperture that sits half on its land:

    >>> import shapely
    >>> from landwise.review.building import openings
    >>> from landwise.review.lands import lands_of
    >>> paste = openings([shapely.box(0.5, 0, 1.5, 1)])
    >>> found = match(paste, lands_of(openings([shapely.box(0, 0, 1, 1)]), None, None))
    >>> float(found.on_land[0]), float(found.dx_mm[0]), float(found.coverage[0])
    (0.5, 0.5, 0.5)
    """
    import shapely

    count = len(paste)
    land = np.full(count, -1, dtype=np.int64)
    on_land, dx, dy = np.zeros(count), np.full(count, np.nan), np.full(count, np.nan)
    covered = np.zeros(len(lands))
    spans, spanned = np.zeros(count, np.int64), np.zeros(len(lands), dtype=bool)
    if lands.basis == "paste" and len(lands) == count and lands.polygon is paste.polygon:
        land = np.arange(count)
        none, one = np.zeros(count), np.ones(count)
        return Match(land, one, none, none, np.ones(count, np.int64), one, np.ones(count, np.int64), none > 0)
    if count and len(lands):
        opening, under = shapely.STRtree(lands.polygon).query(paste.polygon, predicate="intersects")
        share = np.zeros(len(opening))
        inside = within(paste.polygon[opening], lands.polygon[under])
        share[inside] = paste.area_mm2[opening[inside]]
        cut = ~inside
        share[cut] = shapely.area(shapely.intersection(paste.polygon[opening[cut]], lands.polygon[under[cut]]))
        np.add.at(on_land, opening, share)
        np.add.at(covered, under, share)
        order = np.argsort(share, kind="stable")
        best = np.full(count, -1, dtype=np.int64)
        best[opening[order]] = under[order]
        half = share >= HALF * lands.area_mm2[under]
        spans = _apart(lands, opening[half], under[half], count)
        spanned[under[half & (spans[opening] > 1)]] = True
        best_share = np.zeros(count)
        best_share[opening[order]] = share[order]
        land = np.where((best_share > 0.02 * paste.area_mm2) | (spans > 1), best, -1)
        on_land = np.minimum(on_land / np.maximum(paste.area_mm2, 1e-12), 1.0)
        has = land >= 0
        dx[has] = paste.x_mm[has] - lands.x_mm[land[has]]
        dy[has] = paste.y_mm[has] - lands.y_mm[land[has]]
    printed = np.bincount(land[land >= 0], minlength=len(lands)).astype(np.int64)
    return Match(land, on_land, dx, dy, printed, covered / np.maximum(lands.area_mm2, 1e-12), spans, spanned)


def _apart(lands: Lands, opening: Ints, under: Ints, count: int) -> Ints:
    """How many lands each aperture opens, those that touch counted as one."""
    import shapely

    found = np.bincount(opening, minlength=count).astype(np.int64)
    for row in np.flatnonzero(found > 1).tolist():
        its = lands.polygon[under[opening == row]]
        found[row] = len(shapely.get_parts(shapely.union_all(shapely.buffer(its, TOUCH_MM / 2))))
    return found


@dataclass(frozen=True)
class Registration:
    """How the paste film sits on the copper as a whole.

    `shift_x_mm`, `shift_y_mm`: at the middle of the board; `scale_ppm`: paste longer than copper; `turn_urad`:
    counterclockwise; `rest_mm`: root mean square left after these; `count`: apertures it was taken from.
    """

    shift_x_mm: float
    shift_y_mm: float
    scale_ppm: float
    turn_urad: float
    rest_mm: float
    count: int


def registration(paste: Openings, lands: Lands, matched: Match) -> Registration | None:
    """Shift, scale and turn of the paste film against the copper, by least squares; None for fewer than six lands.

    Only lands with one aperture of like shape count (sides within 20 %): panes and pulled-in apertures sit
    off centre by intent. Outliers beyond five times the median deviation are left out.
    """
    if lands.basis == "paste":
        return None
    has = np.flatnonzero(matched.land >= 0)
    its = matched.land[has]
    like = (
        (matched.printed[its] == 1)
        & (np.abs(paste.length_mm[has] / np.maximum(lands.length_mm[its], 1e-9) - 1) < 0.2)
        & (np.abs(paste.width_mm[has] / np.maximum(lands.width_mm[its], 1e-9) - 1) < 0.2)
    )
    rows, its = has[like], its[like]
    if len(rows) < 6:
        return None
    x, y = lands.x_mm[its], lands.y_mm[its]
    dx, dy = matched.dx_mm[rows], matched.dy_mm[rows]
    away = np.hypot(dx - np.median(dx), dy - np.median(dy))
    kept = away <= max(5 * float(np.median(away)), 0.002)
    x, y, dx, dy = x[kept], y[kept], dx[kept], dy[kept]
    if len(x) < 6:
        return None
    cx, cy = x - x.mean(), y - y.mean()
    spread = float(np.sum(cx**2 + cy**2))
    shift_x, shift_y = float(dx.mean()), float(dy.mean())
    scale = float(np.sum(cx * dx + cy * dy)) / spread if spread > 0 else 0.0
    turn = float(np.sum(cx * dy - cy * dx)) / spread if spread > 0 else 0.0
    rest = np.hypot(dx - shift_x - scale * cx + turn * cy, dy - shift_y - scale * cy - turn * cx)
    return Registration(shift_x, shift_y, scale * 1e6, turn * 1e6, float(np.sqrt(np.mean(rest**2))), len(x))
