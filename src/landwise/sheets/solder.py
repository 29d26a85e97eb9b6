"""From computed joints to what a side view draws."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from landwise.errors import ValidityError
from landwise.joints.mounted import LeadlessStand, LeadStand, Mounted
from landwise.joints.pad import Faces, pad_sections
from landwise.joints.standing import BallStand
from landwise.memory import known
from landwise.outlines import Outline, Terminal, terminals
from landwise.sheets.profile import SolderProfile

Points = list[tuple[float, float]]
FINEST_MM = 0.001  # heights are rounded to it, so that parts that stand alike share one computed shape


def part_solder(outline: Outline, stand: BallStand | None, mounted: Mounted) -> SolderProfile | None:
    """The computed solder of a part's side view; None where its shape is not computed.

    Parameters
    ----------
    outline : Outline
    stand : BallStand or None
        Of a grid.
    mounted : Mounted
        Joints of the other families.
    """
    if stand is not None:
        return grid_solder(outline, stand)
    if mounted.lead is not None:
        return _lead_solder(outline, mounted.lead)
    if mounted.leadless is not None:
        return _leadless_solder(outline, mounted.leadless)
    return None


def grid_solder(outline: Outline, stand: BallStand | None) -> SolderProfile | None:
    """The computed contour at each column of a grid's front row; None without a computed stand."""
    if stand is None:
        return None
    radius, height = stand.contour_mm[::4].T if len(stand.contour_mm) > 8 else stand.contour_mm.T
    right = np.column_stack([radius, height])
    left = np.column_stack([-radius, height])[::-1]
    shape = np.vstack([right, left])
    columns = sorted({round(terminal.x_mm, 6) for terminal in terminals(outline)})
    contours = tuple(tuple((float(x) + at, float(z)) for x, z in shape) for at in columns)
    return SolderProfile(contours, stand.height_mm - outline.standoff_mm.nom)


def _lead_solder(outline: Outline, stand: LeadStand) -> SolderProfile | None:
    """Heel and toe fillets of the leads in profile, side fillets of those seen end on."""
    foot, fillet = stand.foot, stand.fillet
    if fillet is None:
        return None
    half = foot.length_mm / 2
    start = half - foot.flat_mm  # where the bend begins, from the foot's middle outward
    wall = [(start - out, z) for out, z in fillet.heel_wall_mm]
    heel = [(wall[-1][0] - out, z) for out, z in fillet.heel.points()]
    toe = [(half + out, z) for out, z in fillet.toe.points()]
    along: Points = [*heel[::-1], *wall[::-1], (half, foot.gap_mm), *toe]
    side = foot.width_mm / 2
    left, right = fillet.sides
    across: Points = [
        *((-side - out, z) for out, z in left.points()[::-1]),
        (-side, foot.gap_mm),
        (side, foot.gap_mm),
        *((side + out, z) for out, z in right.points()),
    ]
    return SolderProfile(_placed(outline, along, across, 0.0), foot.gap_mm)


def _leadless_solder(outline: Outline, stand: LeadlessStand) -> SolderProfile | None:
    """Sections along and across the edge joints at the part's standoff, from the meshed surface."""
    edge = stand.edge
    height = max(FINEST_MM, round(stand.height_mm / FINEST_MM) * FINEST_MM)
    # A terminal as wide as its land is taken a little narrower, as in the table.
    width = min(edge.terminal_width_mm, 0.95 * edge.land_width_mm)
    try:
        faces = Faces(
            round(edge.land_length_mm, 6),
            edge.land_width_mm,
            edge.terminal_length_mm,
            round(width, 6),
            round((edge.heel_mm - edge.toe_mm) / 2, 6),
        )
        solder_mm3 = round(edge.solder_mm3, 6)
        heel, toe, side = known(lambda: pad_sections(faces, solder_mm3, height), "sections", faces, solder_mm3, height)
    except ValidityError:
        return None
    along: Points = [*map(_pair, heel), *map(_pair, toe[::-1])]
    across: Points = [*((-x, z) for x, z in map(_pair, side)), *map(_pair, side[::-1])]
    return SolderProfile(_placed(outline, along, across, (edge.toe_mm - edge.heel_mm) / 2), height)


def _pair(point: Iterable[float]) -> tuple[float, float]:
    x, z = point
    return float(x), float(z)


def _placed(
    outline: Outline, along: Points, across: Points, shift: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """One contour for each column of the side view: `along` runs outward, `shift` from the terminal's middle."""
    found: dict[float, tuple[tuple[float, float], ...]] = {}
    rows: list[Terminal] = sorted(terminals(outline), key=lambda one: one.side not in ("bottom", "left", "right"))
    for terminal in rows:
        key = round(terminal.x_mm, 4)
        if terminal.side == "centre" or key in found:
            continue
        if terminal.side in ("left", "right"):
            sign = math.copysign(1.0, terminal.x_mm)
            found[key] = tuple((terminal.x_mm + sign * (x + shift), z) for x, z in along)
        elif terminal.side in ("bottom", "top"):
            found[key] = tuple((terminal.x_mm + x, z) for x, z in across)
    return tuple(found[key] for key in sorted(found))
