"""How a paste film lies on copper and mask: moved, mirrored, turned or in another unit, found by registration."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from landwise.quantities import INCH_MM
from landwise.review.measuring import measured
from landwise.review.model import Floats, Openings, PadColumns

ENOUGH = 0.6  # of the openings that must lie on copper or mask for a film to sit as it is
SEATED = 0.6  # of the openings that must do so after a move for it to be believed
NEAR_MM = 0.12  # from an opening's middle to a land's: openings pulled outwards lie this far off
GAIN = 0.2  # of the openings that must lie on lands by a move and did not without
LEAST_LANDS = 4
VOTES_MM = 0.25
MOST_POINTS = 400
LARGEST_LAND_MM2 = 60.0
# Ratios between films that a wrong unit or a wrong count of decimals makes, and what to call them.
SCALES: tuple[tuple[float, str], ...] = (
    (1.0, ""),
    (INCH_MM, "too small by 25.4: inches read as millimetres"),
    (1 / INCH_MM, "too large by 25.4: millimetres read as inches"),
    (10.0, "too small by ten: its decimals don't match"),
    (0.1, "too large by ten: its decimals don't match"),
    (100.0, "too small by a hundred: its decimals don't match"),
    (0.01, "too large by a hundred: its decimals don't match"),
)
LOOKS: tuple[tuple[str, tuple[float, float, float, float]], ...] = (
    ("", (1, 0, 0, 1)),
    ("mirrored left to right", (-1, 0, 0, 1)),
    ("mirrored top to bottom", (1, 0, 0, -1)),
    ("turned by 180°", (-1, 0, 0, -1)),
    ("turned by 90°", (0, 1, -1, 0)),
    ("turned by 270°", (0, -1, 1, 0)),
    ("mirrored and turned by 90°", (0, 1, 1, 0)),
    ("mirrored and turned by 270°", (0, -1, -1, 0)),
)


@dataclass(frozen=True)
class Seat:
    """A move that lays paste on copper: `matrix` first, then the shift; in words; how many openings then lie on it."""

    matrix: tuple[float, float, float, float]
    shift_mm: tuple[float, float]
    says: str
    share: float


def seated_share(paste: Openings, others: Sequence[PadColumns]) -> float:
    """Share of the openings whose middle lies on a shape of any of the others."""
    import shapely

    middles = shapely.points(paste.x_mm, paste.y_mm)
    on = np.zeros(len(paste), dtype=bool)
    for other in others:
        hit, _ = shapely.STRtree(other.polygon).query(middles, predicate="intersects")
        on[hit] = True
    return float(on.mean())


def seat_of(paste: Openings, copper: PadColumns | None, mask: PadColumns | None) -> Seat | None:
    """How the film must be moved to lie on the others; None where it does, or where no move would help.

    Notes
    -----
    Middles of openings are held against middles of lands (pads in mask openings, and openings without a pad) under
    every usual mirror, turn and scale; each time every difference between two middles votes for a shift. A move is
    believed where at least 60 % of the openings then have a land under their middle, and a fifth of all more than
    without it. Among dense copper most of a film that moved still lies on something: what meets no middles is looked
    at too, at its own size.

    Examples
    --------
    >>> import shapely
    >>> from landwise.review.building import openings
    >>> places = [(0, 0), (3, 1), (7, 2), (4, 9), (12, 5), (1, 8), (9, 9)]
    >>> lands = openings([shapely.box(x, y, x + 1, y + 0.5) for x, y in places])
    >>> paste = openings([shapely.box(x + 100, y, x + 101, y + 0.5) for x, y in places])
    >>> seat_of(paste, lands, lands).says
    'paste lies 100.00 mm to the right of copper'
    """
    others = [_small(one) for one in (copper, mask) if one is not None and len(one.polygon)]
    if not others or len(paste) < 4:
        return None
    now = seated_share(paste, others)
    lands = _middles(copper, mask)
    if len(lands) < 4:
        return None
    spots = np.column_stack([paste.x_mm, paste.y_mm])
    if now >= ENOUGH and _met(spots, lands) >= SEATED:
        return None
    best: Seat | None = None
    for scale, scaled in SCALES if now < ENOUGH else SCALES[:1]:
        for looks, matrix in LOOKS:
            found = _shift(spots, lands, tuple(scale * one for one in matrix))
            if found is None:
                continue
            shift, share = found
            # A simpler move is believed before a stranger one that does no better.
            if share >= max(SEATED, now + GAIN) and (best is None or share > best.share + 0.05):
                says = _says(looks, scaled, shift, spots, tuple(scale * one for one in matrix))
                # A tuple of four made by a generator.
                best = Seat(tuple(scale * one for one in matrix), shift, says, share)  # type: ignore[arg-type]
        if best is not None:
            return best
    return best


def _middles(copper: PadColumns | None, mask: PadColumns | None) -> Floats:
    """Where openings may be expected: pads in mask openings, and openings without one. [mm], x and y a row."""
    import shapely

    if copper is None or not len(copper.polygon):
        return np.zeros((0, 2)) if mask is None else _spots(_small(mask))
    pads = _small(copper)
    drawn = pads.kind != "stroke"
    spots = _spots(pads)
    if mask is None or not len(mask.polygon):
        return spots[drawn] if drawn.sum() >= LEAST_LANDS else spots
    bare = _small(mask)
    spots = spots[drawn]
    opening, pad = shapely.STRtree(shapely.points(spots)).query(bare.polygon, predicate="intersects").tolist()
    alone = np.ones(len(bare), dtype=bool)
    alone[opening] = False
    return np.concatenate([spots[np.unique(np.array(pad, dtype=np.int64))], _spots(bare)[alone]])


def _spots(pads: Openings) -> Floats:
    return np.column_stack([pads.x_mm, pads.y_mm])


def _met(spots: Floats, lands: Floats) -> float:
    """Share of the openings with a land's middle under theirs."""
    from scipy.spatial import cKDTree

    near, _ = cKDTree(lands).query(spots, distance_upper_bound=NEAR_MM)
    return float(np.isfinite(near).mean())


def _small(pads: PadColumns) -> Openings:
    """Shapes that may be lands: over a plane anything lies on copper, however it is moved."""
    small = pads.area_mm2 < LARGEST_LAND_MM2
    its = Openings.of(pads)
    return Openings(**{name: getattr(its, name)[small] for name in its.__dataclass_fields__})


def _shift(spots: Floats, lands: Floats, matrix: tuple[float, ...]) -> tuple[tuple[float, float], float] | None:
    from scipy.spatial import cKDTree

    turned = spots @ np.array([[matrix[0], matrix[1]], [matrix[2], matrix[3]]]).T
    if not 0.2 < _span(turned) / max(_span(lands), 1e-6) < 5:
        return None
    rng = np.random.default_rng(1)
    some = turned if len(turned) <= MOST_POINTS else turned[rng.choice(len(turned), MOST_POINTS, replace=False)]
    rest = lands if len(lands) <= 20 * MOST_POINTS else lands[rng.choice(len(lands), 20 * MOST_POINTS, replace=False)]
    away = (rest[:, None, :] - some[None, :, :]).reshape(-1, 2)
    tree = cKDTree(lands)
    best: tuple[tuple[float, float], float] | None = None
    for offset in (0.0, 0.5):
        cells = np.floor(away / VOTES_MM + offset).astype(np.int64)
        key = cells[:, 0] * 100_000_007 + cells[:, 1]
        values, counts = np.unique(key, return_counts=True)
        top = np.median(away[key == values[np.argmax(counts)]], axis=0)
        for _ in range(2):  # a vote is as coarse as its cell: the middle of what lies on each other is not
            near, land = tree.query(turned + top, distance_upper_bound=NEAR_MM)
            met = np.isfinite(near)
            if met.any():
                top = top + np.median(lands[land[met]] - turned[met] - top, axis=0)
        near, _ = tree.query(turned + top, distance_upper_bound=NEAR_MM)
        share = float(np.isfinite(near).mean())
        if best is None or share > best[1]:
            best = (float(top[0]), float(top[1])), share
    return best


def _span(points: Floats) -> float:
    return float(np.hypot(*np.ptp(points, axis=0)))


def _says(looks: str, scaled: str, shift: tuple[float, float], spots: Floats, matrix: tuple[float, ...]) -> str:
    bits = [text for text in (scaled, looks) if text]
    middle = (spots.min(axis=0) + spots.max(axis=0)) / 2
    seat = np.array([[matrix[0], matrix[1]], [matrix[2], matrix[3]]]) @ middle + shift
    dx, dy = middle - seat if not scaled else (0.0, 0.0)
    if abs(dx) > 0.05 or abs(dy) > 0.05:
        ways = []
        if abs(dx) > 0.05:
            ways.append(f"{abs(dx):.2f} mm to the {'right' if dx > 0 else 'left'}")
        if abs(dy) > 0.05:
            ways.append(f"{abs(dy):.2f} mm {'above' if dy > 0 else 'below'}")
        tail = " of copper" if ways[-1].endswith(("right", "left")) else " copper"
        bits.append("lies " + " and ".join(ways) + tail)
    if not bits:
        bits.append("does not lie on copper as it is")
    return "paste " + ("is " if not bits[0].startswith(("lies", "does")) else "") + "; ".join(bits)


def moved(paste: Openings, seat: Seat) -> Openings:
    """The openings as the seat lays them."""
    import shapely

    turn = np.array([[seat.matrix[0], seat.matrix[1]], [seat.matrix[2], seat.matrix[3]]])
    polygons = shapely.transform(paste.polygon, lambda xy: xy @ turn.T + np.array(seat.shift_mm))
    columns = measured(polygons)
    return Openings(
        polygon=polygons,
        wall_mm=np.asarray(shapely.length(polygons), dtype=np.float64),
        kind=paste.kind,
        component=paste.component,
        pin=paste.pin,
        **columns,
    )
