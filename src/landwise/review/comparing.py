"""Two revisions of a film held against each other: what moved, what is new or gone, what got better or worse."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from landwise.fabdata.tabletext import csv_text
from landwise.review.model import Openings
from landwise.review.reviews import Review, SideReview

SAME_MM = 0.003  # films are drawn to a few micrometres
MOVED_MM = 2.0  # an opening of the same size this near is the same one, moved
SAME_SHARE = 0.02
LEAST = 1e-4  # defects a board: parts that change by less are not listed
MOST_ROWS = 200
Fate = Literal["moved", "reshaped", "new", "gone"]


@dataclass(frozen=True)
class Moved:
    """One opening that is not as it was: which part's, where it is (or was), and how it differs."""

    fate: Fate
    component: str
    x_mm: float
    y_mm: float
    says: str


@dataclass(frozen=True)
class PartTold:
    """A part whose expected defects changed. [defects a board]"""

    name: str
    package: str
    before: float
    after: float


@dataclass(frozen=True)
class SideCompared:
    """One side, new against old.

    Parameters
    ----------
    side : str
    unchanged : int
        Openings as they were.
    shift_mm : (float, float)
        How far the whole film moved between the revisions; openings are held against each other without it.
    openings : tuple of Moved
    parts : tuple of PartTold
        Those that got worse first.
    before, after : (float, float, float)
        Expected defects of one board with each film as it came, each under the new film's best foil.
    foils_um : (float, float)
        Best foils of the old and the new film.
    """

    side: str
    unchanged: int
    shift_mm: tuple[float, float]
    openings: tuple[Moved, ...]
    parts: tuple[PartTold, ...]
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    foils_um: tuple[float, float]


def compare(new: Review, old: Review) -> tuple[SideCompared, ...]:
    """Sides that both revisions have, held against each other.

    Both must have been reviewed under the same foils.
    """
    return tuple(_side(one, other) for one in new.sides for other in old.sides if one.side == other.side)


def _side(new: SideReview, old: SideReview) -> SideCompared:
    um = new.choice.best_um
    now = next(row for row in new.choice.rows if row.foil_um == um)
    then = next((row for row in old.choice.rows if row.foil_um == um), old.choice.best)
    shift = _shift(new.given.paste, old.given.paste)
    openings, unchanged = _openings(new, old, shift)
    return SideCompared(
        new.side,
        unchanged,
        shift,
        openings,
        _parts(new, old),
        (then.defects, then.defects_low, then.defects_high),
        (now.defects, now.defects_low, now.defects_high),
        (old.choice.best_um, um),
    )


def _shift(new: Openings, old: Openings) -> tuple[float, float]:
    """The move that most openings made together, 0 where most stayed."""
    from scipy.spatial import cKDTree

    if len(new) < 3 or len(old) < 3:
        return 0.0, 0.0
    a, b = np.column_stack([new.x_mm, new.y_mm]), np.column_stack([old.x_mm, old.y_mm])
    stay, _ = cKDTree(b).query(a, distance_upper_bound=SAME_MM)
    if np.isfinite(stay).mean() > 0.5:
        return 0.0, 0.0
    rng = np.random.default_rng(1)
    some = a[rng.choice(len(a), min(300, len(a)), replace=False)]
    away = (some[:, None, :] - b[None, rng.choice(len(b), min(3000, len(b)), replace=False), :]).reshape(-1, 2)
    key = np.round(away / 0.02).astype(np.int64)
    values, counts = np.unique(key[:, 0] * 100_000_007 + key[:, 1], return_counts=True)
    top = values[np.argmax(counts)]
    move = np.median(away[key[:, 0] * 100_000_007 + key[:, 1] == top], axis=0)
    near, _ = cKDTree(b).query(a - move, distance_upper_bound=0.02)
    return (float(move[0]), float(move[1])) if np.isfinite(near).mean() > 0.3 else (0.0, 0.0)


def _openings(new: SideReview, old: SideReview, shift: tuple[float, float]) -> tuple[tuple[Moved, ...], int]:
    from scipy.spatial import cKDTree

    a, b = new.given.paste, old.given.paste
    here = np.column_stack([a.x_mm, a.y_mm]) - np.array(shift)
    there = np.column_stack([b.x_mm, b.y_mm])
    pairs = cKDTree(here).sparse_distance_matrix(cKDTree(there), MOVED_MM, output_type="coo_matrix").tocoo()
    row, col, away = pairs.row, pairs.col, pairs.data
    size = np.maximum.reduce(
        [np.abs(getattr(a, n)[row] / np.maximum(getattr(b, n)[col], 1e-9) - 1) for n in ("length_mm", "width_mm")]
    )
    # Nearest first; of those as near, the ones of one size. An opening far off is only the same if it looks the same.
    cost = away + 0.5 * np.minimum(size, 2.0)
    usable = (away <= 0.3) | (size <= SAME_SHARE)
    taken_a, taken_b = np.full(len(a), -1, dtype=np.int64), np.zeros(len(b), dtype=bool)
    for k in np.argsort(cost, kind="stable"):
        if usable[k] and taken_a[row[k]] < 0 and not taken_b[col[k]]:
            taken_a[row[k]], taken_b[col[k]] = col[k], True
    found: list[Moved] = []
    unchanged = 0
    for k in range(len(a)):
        name = new.given.name(int(new.given.part_of[k]))
        other = int(taken_a[k])
        if other < 0:
            says = f"{a.length_mm[k]:.3f} × {a.width_mm[k]:.3f} mm"
            found.append(Moved("new", name, float(a.x_mm[k]), float(a.y_mm[k]), says))
            continue
        dx, dy = here[k] - there[other]
        grown = float(a.area_mm2[k] / b.area_mm2[other] - 1)
        if np.hypot(dx, dy) > SAME_MM:
            says = f"by {dx:+.3f}, {dy:+.3f} mm" + (f", area {grown:+.0%}" if abs(grown) > SAME_SHARE else "")
            found.append(Moved("moved", name, float(a.x_mm[k]), float(a.y_mm[k]), says))
        elif abs(grown) > SAME_SHARE:
            found.append(Moved("reshaped", name, float(a.x_mm[k]), float(a.y_mm[k]), f"area {grown:+.0%}"))
        else:
            unchanged += 1
    for k in np.flatnonzero(~taken_b):
        name = old.given.name(int(old.given.part_of[k]))
        says = f"{b.length_mm[k]:.3f} × {b.width_mm[k]:.3f} mm"
        found.append(Moved("gone", name, float(b.x_mm[k]), float(b.y_mm[k]), says))
    return tuple(found), unchanged


def _parts(new: SideReview, old: SideReview) -> tuple[PartTold, ...]:
    def told(side: SideReview) -> dict[str, tuple[str, float]]:
        return {
            side.given.parts[one.part].name: (one.package, one.defects)
            for one in side.parts
            if side.given.parts[one.part].named_by != "geometry"
        }

    now, then = told(new), told(old)
    both = [PartTold(name, now[name][0], then[name][1], now[name][1]) for name in now if name in then]
    changed = [one for one in both if abs(one.after - one.before) > LEAST]
    return tuple(sorted(changed, key=lambda one: one.before - one.after))


def compared_csv(sides: tuple[SideCompared, ...]) -> str:
    """Every opening that differs, as a table."""
    return csv_text(
        ("side", "what", "component", "x_mm", "y_mm", "how"),
        (
            (side.side, one.fate, one.component, f"{one.x_mm:.4f}", f"{one.y_mm:.4f}", one.says)
            for side in sides
            for one in side.openings
        ),
    )
