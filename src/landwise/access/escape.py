"""Fan-out: how many tracks pass between lands, and how many layers a grid needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.errors import InputError
from landwise.lands.model import LandPattern
from landwise.outlines import GRIDS, Outline
from landwise.quantities import several

SOURCES = ("escape-geometry", "ths7319-escape")
TIE = 1e-9  # pitches, lands and tracks are typed to the micron; exact ties must count as fitting


def tracks_between(pitch_mm: float, land_mm: float, track_mm: float, space_mm: float) -> int:
    """Tracks that pass between two neighbouring lands.

    Parameters
    ----------
    pitch_mm, land_mm, track_mm, space_mm : float
        Pitch, land diameter, track width and least space. [mm]

    Raises
    ------
    InputError
        For sizes that aren't positive, or lands that touch.

    Notes
    -----
    n tracks and n + 1 spaces fit into the gap g = pitch − land, so n = ⌊(g − S) / (W + S)⌋. Leaving the
    "− S" out, as one printed article does, counts one too many at the boundary.

    Examples
    --------
    >>> tracks_between(0.8, 0.35, 0.15, 0.15), tracks_between(0.5, 0.25, 0.10, 0.10)
    (1, 0)
    """
    if min(pitch_mm, land_mm, track_mm, space_mm) <= 0:
        raise InputError("sizes must be positive", found=f"{pitch_mm:g}, {land_mm:g}, {track_mm:g}, {space_mm:g} mm")
    gap = pitch_mm - land_mm
    if gap <= 0:
        raise InputError("the lands touch", found=f"land {land_mm:g} at pitch {pitch_mm:g} mm", expected="land < pitch")
    return max(0, math.floor((gap - space_mm) / (track_mm + space_mm) + TIE))


def rings(rows: int, columns: int) -> int:
    """Rings of a full grid, from the outside in.

    >>> rings(11, 11), rings(4, 2)
    (6, 1)
    """
    return math.ceil(min(rows, columns) / 2)


def layers_needed(ring_count: int, tracks: int, inner_tracks: int | None = None) -> int:
    """Layers to bring out every ball of a full grid, first order.

    Notes
    -----
    The outer layer escapes 1 + n rings, each inner layer 1 + n_in. Real layouts differ: depopulated and
    unused balls decide (published examples go from 301 balls on 2 layers to 144 on 4).

    >>> layers_needed(6, 1), layers_needed(1, 0)
    (3, 1)
    """
    inner = tracks if inner_tracks is None else inner_tracks
    rest = ring_count - 1 - tracks
    return 1 if rest <= 0 else 1 + math.ceil(rest / (1 + inner))


def largest_via_land(pitch_mm: float, land_mm: float, clearance_mm: float) -> float:
    """Largest via land in the middle of four lands, √2·pitch − land − 2·clearance. [mm]

    >>> round(largest_via_land(0.80, 0.40, 0.10), 3)
    0.531
    """
    return math.sqrt(2) * pitch_mm - land_mm - 2 * clearance_mm


@dataclass(frozen=True)
class Escape:
    """How a grid's balls leave: tracks per channel, rings, and layers by first order."""

    tracks: int
    rings: int
    layers: int
    says: str


def escape(outline: Outline, pattern: LandPattern, track_mm: float, space_mm: float) -> Escape | None:
    """Fan-out of a grid on the board's track and space; None for other families, whose lands all lie open."""
    if outline.family not in GRIDS:
        return None
    land = pattern.lands[0].copper.shape.length_mm
    tracks = tracks_between(
        min(outline.pitch_mm, outline.pitch_across_mm or outline.pitch_mm), land, track_mm, space_mm
    )
    count = rings(outline.rows, outline.columns)
    layers = layers_needed(count, tracks)
    says = f"{tracks} tracks between lands, {count} rings: {several(layers, 'signal layer')} (first order)"
    return Escape(tracks, count, layers, says)
