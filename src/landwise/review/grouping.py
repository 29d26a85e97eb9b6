"""Lands grouped into components: by the file's attributes, else by geometry, named from the placement file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from landwise.review.model import Bools, Component, Floats, Kind, Lands, Side, carries_lead
from landwise.review.placing import Placed, named, numbered
from landwise.review.rows import Row, facing, grids_of, like, local, near_pairs, rows_of
from landwise.untyped import Untyped

LEADLESS_LENGTH_MM = 0.95  # lands of leadless parts are shorter than this, gull-wing lands longer
CHIP_REACH_MM = 9.0
CENTRE_SHARE = 1.15  # of a row's land: smaller lands inside a part are terminals of their own
ODD_GAP_MM = 1.0  # lands left over that stand this near are taken as one odd part


def components(lands: Lands, side: Side, placements: Sequence[Placed] = ()) -> tuple[Component, ...]:
    """Every land in one component.

    Parameters
    ----------
    lands : Lands
    side : {"top", "bottom"}
        Its first letter leads the names of parts that no file names.
    placements : sequence of (reference, x, y, rotation, package)
        In the layer's own origin; see `shifted`.

    Notes
    -----
    Lands with attributes are grouped by them. The rest by geometry, in this order: grids of round lands,
    rows that face each other (twos and fours) with what lies under their middle, single rows, pairs of like
    lands (chips), leftovers that stand close together, single lands. Lands with a lead's hole stay alone.
    """
    free = np.ones(len(lands), dtype=bool)
    found: list[Component] = []
    by_name: dict[str, list[int]] = {}
    for at in np.flatnonzero(lands.component != ""):
        by_name.setdefault(str(lands.component[at]), []).append(int(at))
    for name, members in by_name.items():
        free[members] = False
        found.append(_attributed(name, members, lands))
    found += _by_geometry(lands, free)
    if placements:
        found = named(found, lands, placements)
    return tuple(numbered(found, side))


def _attributed(name: str, members: list[int], lands: Lands) -> Component:
    free = np.zeros(len(lands), dtype=bool)
    free[members] = True
    parts = _by_geometry(lands, free)
    largest = max(parts, key=lambda part: len(part.lands))
    rest = tuple(k for k in members if k not in set(largest.lands))
    middle = np.array(members)
    # Small lands beside the main pattern belong to it; its middle lands are told by the pattern itself.
    kind: Kind = largest.kind if len(largest.lands) >= max(2, len(members) / 2) else "odd"
    if len(members) == 1:
        kind = "single"
    box_x, box_y = lands.x_mm[middle], lands.y_mm[middle]
    return Component(
        name,
        kind,
        largest.lands + rest,
        largest.centre,
        largest.pitch_mm,
        float(box_x.min() + box_x.max()) / 2,
        float(box_y.min() + box_y.max()) / 2,
        "attributes",
    )


def _by_geometry(lands: Lands, free: Bools) -> list[Component]:
    free = free.copy()
    found: list[Component] = []

    def take(kind: Kind, members: tuple[int, ...], centre: tuple[int, ...] = (), pitch: float | None = None) -> None:
        free[list(members)] = False
        at = np.array(members)
        x, y = lands.x_mm[at], lands.y_mm[at]
        found.append(
            Component(
                "", kind, members, centre, pitch, float(x.min() + x.max()) / 2, float(y.min() + y.max()) / 2, "geometry"
            )
        )

    for at in np.flatnonzero(free & carries_lead(lands)):
        take("single", (int(at),))
    for members, pitch in grids_of(lands, free):
        take("grid", members, pitch=pitch)
    rows = [row for row in rows_of(lands, free) if len(row.lands) >= 2]
    strong = _without_chips(rows)
    tree = _Middles(lands, free)
    left: list[Row] = []
    groups = facing(strong)
    grouped = {k for group in groups for k in group}
    for group in groups:
        its = [strong[k] for k in group]
        members = tuple(k for row in its for k in row.lands)
        if not free[list(members)].all():
            continue
        centre = tree.inside(members, set(members))
        take(_kind_of(its, bool(centre)), members + centre, centre, min(row.pitch_mm for row in its))
    left = [row for k, row in enumerate(strong) if k not in grouped and len(row.lands) >= 3]
    for row in left:
        if free[list(row.lands)].all():
            take("row", row.lands, pitch=row.pitch_mm)
    for a, b in _chips(lands, free):
        take("chip", (a, b))
    found = _whole(found, lands)
    for members in _odd(lands, free):
        take("odd" if len(members) > 1 else "single", members)
    return found


def _whole(found: list[Component], lands: Lands) -> list[Component]:
    """Parts whose rows came apart (a corner land shaped otherwise, a land merged with its neighbour) put together.

    A smaller part of the same lands, in either direction, whose middle lies inside a larger part's box, is a
    piece of it.
    """
    from scipy.spatial import cKDTree

    large = [k for k, part in enumerate(found) if part.pitch_mm and part.kind != "grid" and len(part.lands) >= 6]
    if not large:
        return found
    tree = cKDTree([(part.x_mm, part.y_mm) for part in found])
    gone: set[int] = set()
    out = list(found)
    for k in sorted(large, key=lambda k: -len(found[k].lands)):
        if k in gone:
            continue
        part = out[k]
        while True:
            piece = _piece(part, k, out, gone, tree, lands)
            if piece is None:
                break
            gone.add(piece)
            part = _with(part, found[piece], lands)
        out[k] = part
    return [part for k, part in enumerate(out) if k not in gone]


def _piece(
    part: Component, own: int, found: list[Component], gone: set[int], tree: Untyped, lands: Lands
) -> int | None:
    at = np.array(part.lands)
    x, y = lands.x_mm[at], lands.y_mm[at]
    middle, half = np.array([x.min() + x.max(), y.min() + y.max()]) / 2, np.array([np.ptp(x), np.ptp(y)]) / 2
    for other in tree.query_ball_point(middle, 1.5 * max(half.max(), 1.0)):
        piece = found[other]
        if other == own or other in gone or piece.kind == "grid" or len(piece.lands) > len(part.lands):
            continue
        away = np.abs([piece.x_mm - middle[0], piece.y_mm - middle[1]])
        if np.all(away <= half + 0.3 * (part.pitch_mm or 0)) and _same_lands(part, piece, lands):
            return int(other)
    return None


def _same_lands(part: Component, piece: Component, lands: Lands) -> bool:
    one, other = part.lands[0], piece.lands[0]
    pair = np.array([one]), np.array([other])
    wide = abs(lands.width_mm[one] - lands.width_mm[other]) <= max(0.03, 0.08 * lands.width_mm[one])
    pitched = piece.pitch_mm is None or abs(piece.pitch_mm / (part.pitch_mm or 1) % 1 - 0.5) > 0.45
    return bool(wide and pitched and (like(*pair, lands, turned=True)[0] or len(piece.lands) >= 3))


def _with(part: Component, piece: Component, lands: Lands) -> Component:
    turns = np.round(lands.angle_deg[[part.lands[0], piece.lands[0]]])
    across = abs((turns[0] - turns[1] + 90) % 180 - 90) > 45
    kind: Kind = part.kind
    if across and kind in ("gull-wing dual", "leadless dual"):
        kind = "gull-wing quad" if kind == "gull-wing dual" else "leadless quad"
    members = part.lands + piece.lands
    at = np.array(members)
    x, y = lands.x_mm[at], lands.y_mm[at]
    return replace(
        part,
        kind=kind,
        lands=members,
        centre=part.centre + piece.centre,
        x_mm=float(x.min() + x.max()) / 2,
        y_mm=float(y.min() + y.max()) / 2,
    )


def _without_chips(rows: list[Row]) -> list[Row]:
    """Rows of two lands are rows only where they are slender enough not to be a chip's own two lands."""
    return [row for row in rows if len(row.lands) >= 3 or row.length_mm >= 1.25 * row.width_mm]


def _kind_of(rows: list[Row], has_centre: bool) -> Kind:
    count = sum(len(row.lands) for row in rows)
    if len(rows) == 2 and count == 4 and not has_centre:
        return "chip array" if rows[0].pitch_mm < 1.3 else "odd"
    across = "quad" if len(rows) == 4 else "dual"
    short = rows[0].length_mm <= LEADLESS_LENGTH_MM and rows[0].pitch_mm <= 0.81
    if across == "quad":
        return "leadless quad" if short or (has_centre and rows[0].length_mm < 1.15) else "gull-wing quad"
    return "leadless dual" if short and rows[0].length_mm <= 0.9 else "gull-wing dual"


class _Middles:
    """Finds free lands under the middle of a part."""

    def __init__(self, lands: Lands, free: Bools) -> None:
        from scipy.spatial import cKDTree

        self.lands, self.free = lands, free
        self.tree = cKDTree(np.column_stack([lands.x_mm, lands.y_mm])) if len(lands) else None

    def inside(self, members: tuple[int, ...], taken: set[int]) -> tuple[int, ...]:
        lands, at = self.lands, np.array(members)
        x, y = lands.x_mm[at], lands.y_mm[at]
        middle = np.array([x.min() + x.max(), y.min() + y.max()]) / 2
        half = np.array([np.ptp(x), np.ptp(y)]) / 2
        if self.tree is None:
            return ()
        near = self.tree.query_ball_point(middle, float(np.hypot(*half)))
        # A centre pad, or a piece of one, is larger than a terminal's land: what is not stands at the edge.
        least = CENTRE_SHARE * float(np.median(lands.area_mm2[at]))
        found = []
        for k in near:
            if k in taken or not self.free[k]:
                continue
            away = np.abs([lands.x_mm[k] - middle[0], lands.y_mm[k] - middle[1]])
            if np.all(away <= np.maximum(half - 0.2, 0.05)) and lands.area_mm2[k] > max(0.12, least):
                found.append(int(k))
        # Strange parts under a body's middle (chips below a tall connector) are no centre pad: that is one
        # land near the middle, or equal pieces around it.
        near_middle = np.maximum(0.25 * half, 0.25)
        central = [
            k for k in found if np.all(np.abs([lands.x_mm[k] - middle[0], lands.y_mm[k] - middle[1]]) < near_middle)
        ]
        if central:
            return tuple(central)
        return tuple(found) if len(found) in (2, 4) and _balanced(lands, found, middle) else ()


def _balanced(lands: Lands, members: list[int], middle: Floats) -> bool:
    at = np.array(members)
    return bool(np.hypot(lands.x_mm[at].mean() - middle[0], lands.y_mm[at].mean() - middle[1]) < 0.1)


def _chips(lands: Lands, free: Bools) -> list[tuple[int, int]]:
    """Pairs of like lands that face each other.

    The distance between a chip's lands is its own: of the distances at which lands of a size stand, the
    most frequent one is tried first.
    """
    one, other = near_pairs(lands, free, CHIP_REACH_MM)
    kept = like(one, other, lands)
    one, other = one[kept], other[kept]
    along, across = local(one, other, lands)
    aside = np.minimum(np.abs(along), np.abs(across))
    apart = np.maximum(np.abs(along), np.abs(across))
    on_width = np.abs(across) > np.abs(along)
    its_side = np.where(on_width, lands.width_mm[one], lands.length_mm[one])
    gap = apart - its_side
    facing_ = (aside < 0.05) & (gap > 0.08) & (gap < np.maximum(2.6 * its_side, 0.6))
    slender = lands.length_mm[one] > 1.05 * lands.width_mm[one]
    one, other, apart = one[facing_], other[facing_], apart[facing_]
    odd_way = (slender & ~on_width)[facing_]
    sides = lands.length_mm[one].round(1), lands.width_mm[one].round(1), apart.round(2), odd_way
    keys = list(zip(*(side.tolist() for side in sides), strict=True))
    often = Counter(keys)
    rank = [(-often[key] // (4 if key[-1] else 1), far) for key, far in zip(keys, apart.tolist(), strict=True)]
    order = sorted(range(len(keys)), key=rank.__getitem__)
    taken: set[int] = set()
    found = []
    for k in order:
        a, b = int(one[k]), int(other[k])
        if a not in taken and b not in taken:
            taken |= {a, b}
            found.append((a, b))
    return found


def _odd(lands: Lands, free: Bools) -> list[tuple[int, ...]]:
    import shapely
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    rows = np.flatnonzero(free)
    if not rows.size:
        return []
    boxes = shapely.box(*shapely.bounds(lands.polygon[rows]).T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="dwithin", distance=ODD_GAP_MM)
    ties = coo_array((np.ones(len(first)), (first, second)), shape=(len(rows),) * 2)
    _, label = connected_components(ties, directed=False)
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.diff(label[order])) + 1
    return [tuple(int(k) for k in rows[part]) for part in np.split(order, starts)]
