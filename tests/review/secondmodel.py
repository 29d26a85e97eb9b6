"""A second model of a print, written apart from the review: plain polygons and volumes, nothing of landwise's own.

Rules of thumb of stencil printing, common practice, no source: four fifths of the paste leave an opening of area ratio
0.66 and none one of 0.30; a land wants 45 to 130 % of its area times the foil at that; paste further than 50 µm beside
its land is lost; prints nearer than 0.15 mm may run together.
"""

from __future__ import annotations

import numpy as np
import shapely


def foil_by_hand(rows, usual_um):
    """The foil among alone-reviewed ones, and its equals, worked from the words of docs/review.md.

    `rows`: of each foil its thickness, openings that hold, openings, defects as the film came, defects after
    correction, and these at every draw.
    """
    best = min(rows, key=lambda row: row["after"])
    equal = [
        row
        for row in rows
        if row["after"] <= best["after"] + 1 / 1000
        or sum(a < b for a, b in zip(row["draws"], best["draws"], strict=True)) >= 0.1 * len(best["draws"])
    ]
    most_held = max(row["holds"] for row in equal)
    held = [row for row in equal if most_held - row["holds"] <= 0.05 * row["openings"]]
    as_it_came = min(row["defects"] for row in held)
    good = {row["foil_um"] for row in held if row["defects"] <= 1.1 * as_it_came + 1 / 1000}
    chosen = usual_um if usual_um in good else max(good)
    return chosen, {row["foil_um"] for row in equal} - {chosen}


def foil_row(row):
    """What `foil_by_hand` asks of a foil, taken from the review of that foil alone."""
    openings = row.holds + row.marginal + row.fails
    return {
        **{name: getattr(row, name) for name in ("foil_um", "holds", "defects", "after")},
        "openings": openings,
        "draws": row.after_draws,
    }


def released(shape, foil_mm):
    """Share of an opening's volume that stays on the board."""
    ratio = shape.area / shape.length / foil_mm
    return float(np.interp(ratio, [0.30, 0.66, 0.90], [0.0, 0.8, 0.95]))


def fill(shapes, land, foil_mm):
    """Paste on a land over four fifths of its area times the foil."""
    volume = sum(shape.area * foil_mm * released(shape, foil_mm) for shape in shapes)
    return volume / (land.area * foil_mm * 0.8)


def prints_unlike(panes, good, land, foil_um):
    """Where a pattern of panes on a centre pad prints otherwise than a good one, in words; nothing where it prints so.

    What a part feels of its centre print is how much paste it gets (within a quarter), that every pane comes out of
    the foil (as well as the good ones, or with an area ratio of 0.66), and that the paste spreads over the same part
    of the pad (spans within a quarter, middles within a tenth of the pad, nothing beside it). Panes of another number
    are as good as long as none is so wide that the blade scoops it (2 mm, or the good one's).

    Common practice, no source.
    """
    foil_mm, found = foil_um / 1000, []
    both = [np.array([*shapes, None], dtype=object)[:-1] for shapes in (panes, good)]
    if not len(panes):
        return ["nothing printed"]
    shares = [sum(shape.area * released(shape, foil_mm) for shape in shapes) / land.area for shapes in both]
    if abs(shares[0] - shares[1]) > 0.25 * shares[1]:
        found.append(f"{shares[0]:.2f} of the pad's paste for {shares[1]:.2f}")
    ratios = [float((shapely.area(shapes) / shapely.length(shapes)).min()) / foil_mm for shapes in both]
    if ratios[0] < min(ratios[1], 0.66):
        found.append(f"least area ratio {ratios[0]:.2f} for {ratios[1]:.2f}")
    low, high = np.array(land.bounds).reshape(2, 2)
    boxes = [shapely.total_bounds(shapes).reshape(2, 2) for shapes in both]
    spans = [np.ptp(box, axis=0) for box in boxes]
    if np.any(np.abs(spans[0] / spans[1] - 1) > 0.25):
        found.append(f"spans {spans[0].round(2)} for {spans[1].round(2)} mm")
    middles = [np.mean(box, axis=0) for box in boxes]
    if np.any(np.abs(middles[0] - middles[1]) > 0.1 * (high - low)):
        found.append("off the middle")
    if spilled(panes, land) > spilled(good, land) + 0.02:
        found.append("beside the pad")
    widest = [_widest(shapes) for shapes in both]
    if widest[0] > max(2.0, widest[1]):
        found.append(f"a pane {widest[0]:.1f} mm wide")
    return found


def _widest(shapes):
    """Across the widest of some panes, along the narrower side of its box. [mm]"""
    box = shapely.bounds(shapes)
    return float(np.minimum(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]).max())


def outside(value, low, high):
    """How far a value lies outside its band."""
    return max(low - value, value - high, 0.0)


def spilled(shapes, land):
    """Share of a print that lies beside its land."""
    area = sum(shape.area for shape in shapes)
    return sum(shape.difference(land.buffer(0.05)).area for shape in shapes) / area if area else 0.0


def harms(before, after, land, others, *, centre, foil_um):
    """What a change makes worse, in words; nothing for a change that harms nothing."""
    foil_mm = foil_um / 1000
    found = []
    if centre:
        cover = [sum(shape.area for shape in shapes) / land.area for shapes in (before, after)]
        if outside(cover[1], 0.40, 0.85) > outside(cover[0], 0.40, 0.85) + 0.02:
            found.append(f"centre covered {cover[0]:.2f}, then {cover[1]:.2f}")
    else:
        fills = [fill(shapes, land, foil_mm) for shapes in (before, after)]
        if outside(fills[1], 0.45, 1.35) > outside(fills[0], 0.45, 1.35) + 0.02:
            found.append(f"filled {fills[0]:.2f}, then {fills[1]:.2f}")
    if spilled(after, land) > spilled(before, land) + 0.02:
        found.append(f"spills {spilled(before, land):.2f}, then {spilled(after, land):.2f}")
    if len(others) and after:
        gaps = [
            float(shapely.distance(shapely.union_all(shapes), others).min()) if shapes else np.inf
            for shapes in (before, after)
        ]
        if gaps[1] < 0.15 and gaps[1] < gaps[0] - 1e-6:
            found.append(f"{gaps[0]:.3f} mm to the next print, then {gaps[1]:.3f}")
    return found


def harmful(side):
    """Every change of a side's corrected layer that this model calls harmful."""
    given, paste = side.given, side.given.paste
    lands, land_of = given.lands, given.matched.land
    gone = {change.aperture for change in side.written}
    per_land: dict[int, list] = {}
    for change in side.written:
        land = int(land_of[change.aperture]) if change.aperture >= 0 else change.unit
        per_land.setdefault(land, []).append(change)
    middle = {land for part in given.parts for land in part.centre}
    found = []
    new = [(land, shape) for land, changes in per_land.items() for change in changes for shape in change.after]
    for land, changes in per_land.items():
        if land < 0:
            found += [("no land", "new paste without land") for change in changes if change.after]
            continue
        rows = np.flatnonzero(land_of == land)
        before = list(paste.polygon[rows])
        after = [paste.polygon[row] for row in rows if row not in gone]
        after += [shape for change in changes for shape in change.after]
        near = shapely.STRtree(paste.polygon).query(lands.polygon[land].buffer(1.0))
        others = [paste.polygon[k] for k in near if land_of[k] != land and k not in gone]
        others += [shape for its, shape in new if its != land and shape.distance(lands.polygon[land]) < 1.0]
        table = np.array([*others, None], dtype=object)[:-1]
        said = harms(
            before, after, lands.polygon[land], table, centre=land in middle, foil_um=given.under.foil.thickness_um
        )
        found += [(changes[0].component, text) for text in said]
    return found
