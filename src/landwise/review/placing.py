"""Names from the placement file: which part stands where a placement says, and how its origin lies to the films'."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from landwise.fabdata.packages import PackageReading, read_package
from landwise.review.model import Component, Lands, Side

Placed = tuple[str, float, float, float, str]
PITCH_OFF_MM = 0.06  # pitches read from a name and measured may differ so far: 0.65 and 0.635
COUNT_OFF = 0.15  # share of terminals: corner lands, merged lands, an exposed pad that counts or does not


@cache
def _reading(package: str) -> PackageReading | None:
    return read_package(package) if package else None


def fits(part: Component, package: str) -> bool:
    """Whether a part's lands can be those of a package, as far as its name tells terminals and pitch.

    >>> part = Component("", "gull-wing dual", tuple(range(14)), (), 0.65, 0.0, 0.0, "geometry")
    >>> fits(part, "TSSOP-14"), fits(part, "SOIC-8"), fits(part, "C_0402"), fits(part, "")
    (True, False, False, True)
    """
    read = _reading(package)
    if read is None:
        return True
    count = len(part.lands)
    if read.style == "chip":
        return count <= 3
    if read.terminals:
        outer = count - len(part.centre)
        off = min(abs(outer - read.terminals), abs(count - read.terminals))
        if off > max(1, COUNT_OFF * read.terminals) and outer > 1:
            return False
    if read.pitch_mm and part.pitch_mm and part.kind != "odd":
        return abs(read.pitch_mm - part.pitch_mm) <= PITCH_OFF_MM or abs(part.pitch_mm / read.pitch_mm % 1 - 0.5) > 0.45
    return True


def named(found: list[Component], lands: Lands, placements: Sequence[Placed]) -> list[Component]:
    """References from the placement file: each to the nearest unnamed part whose middle it meets and that it fits.

    A part whose terminals or pitch are not those that the placement's package names does not get its reference. One
    that the films name themselves gets its package by its name.
    """
    from scipy.spatial import cKDTree

    told = {reference: package for reference, _, _, _, package in placements}
    found = [
        replace(part, package=told[part.name])
        if part.named_by == "attributes" and part.name in told and fits(part, told[part.name])
        else part
        for part in found
    ]
    open_ = [k for k, part in enumerate(found) if part.named_by == "geometry"]
    if not open_:
        return found
    tree = cKDTree([(found[k].x_mm, found[k].y_mm) for k in open_])
    claims = []
    for reference, x, y, _, package in placements:
        for near in tree.query_ball_point((x, y), 3.0):
            part = found[open_[near]]
            at = np.array(part.lands)
            size = float(np.hypot(np.ptp(lands.x_mm[at]), np.ptp(lands.y_mm[at])) + lands.length_mm[at].max())
            away = float(np.hypot(part.x_mm - x, part.y_mm - y))
            if away <= max(0.3, 0.22 * size) and fits(part, package):
                claims.append((away - 0.001 * len(part.lands), reference, open_[near], package))
    used: set[str] = set()
    named: set[int] = set()
    out = list(found)
    for _, reference, at_, package in sorted(claims):
        if reference in used or at_ in named:
            continue
        used.add(reference)
        named.add(at_)
        out[at_] = replace(out[at_], name=reference, named_by="placement", package=package)
    return out


def numbered(found: list[Component], side: Side) -> list[Component]:
    """Names for those that no file names, in reading order."""
    order = sorted(
        (k for k, part in enumerate(found) if not part.name), key=lambda k: (-round(found[k].y_mm, 1), found[k].x_mm)
    )
    out = list(found)
    for number, k in enumerate(order, 1):
        out[k] = replace(out[k], name=f"{side[0]}{number}")
    return out


def shifted(
    placements: Sequence[Placed], parts: Sequence[Component]
) -> tuple[tuple[Placed, ...], tuple[float, float] | None, int]:
    """Placements moved onto the layers' origin, the move, and how many parts it met.

    Parameters
    ----------
    placements : sequence of (reference, x, y, rotation, package)
    parts : sequence of Component
        Found by geometry.

    Notes
    -----
    Design programs write placements from another origin, or mirrored for the bottom. Every difference
    between a part's middle and a placement votes in boxes of 0.1 mm; the box with most votes wins if it
    serves at least a third of the placements; no move is preferred where it serves as many.
    """
    middles = np.array([[part.x_mm, part.y_mm] for part in parts if part.kind != "single"])
    if not len(middles) or not placements:
        return tuple(placements), None, 0
    best: tuple[int, float, float, int, int] | None = None
    spots = np.array([[p[1], p[2]] for p in placements])
    step = max(1, len(middles) * len(spots) // 4_000_000)
    for flip_x, flip_y in ((1, 1), (-1, 1), (1, -1)):
        turned = spots * [flip_x, flip_y]
        away = (middles[::step, None, :] - turned[None, :, :]).reshape(-1, 2)
        cells = np.round(away / 0.1).astype(np.int64)
        key = cells[:, 0] * 10_000_019 + cells[:, 1]
        values, counts = np.unique(key, return_counts=True)
        top = values[np.argmax(counts)]
        votes = int(counts.max())
        still = int(counts[np.searchsorted(values, 0)]) if 0 in values else 0
        if flip_x == flip_y == 1 and still >= 0.8 * votes:
            move = (0.0, 0.0)
            votes = max(still, votes)
        else:
            move = tuple(np.median(away[key == top], axis=0).tolist())
        if best is None or votes > 1.2 * best[0]:
            best = (votes, move[0], move[1], flip_x, flip_y)
    assert best is not None
    votes, dx, dy, flip_x, flip_y = best
    if votes * step < max(3, len(spots) / 3):
        return (), None, votes
    moved = tuple((n, flip_x * x + dx, flip_y * y + dy, r, package) for n, x, y, r, package in placements)
    return moved, (dx, dy), votes
