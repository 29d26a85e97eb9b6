"""Board, mask, lands, paste and foil as solids."""

from __future__ import annotations

import math
from collections.abc import Iterable

from landwise.lands.model import Land
from landwise.shapes import Geometry, Placed, Shape
from landwise.sheets.mesh import joined, plate
from landwise.sheets.profile import COPPER_MM
from landwise.sheets.solidpieces import Piece, Stood

MASK_MM = 0.02  # a usual thickness of solder mask over the laminate, common practice, no source
FINEST_EDGE_MM = 0.001  # by which an opening's edge in mask or foil may lie off its circle
PLATING_MM = 0.025  # of a hole's wall, common practice, no source
THIN_BOARD_SHARE = 0.09  # a board that nothing goes through is shown so deep, over the courtyard's longer side


def board(stood: Stood) -> list[Piece]:
    """Laminate, mask and copper."""
    import shapely

    wide, deep = (side / 2 + stood.edge_mm for side in stood.pattern.courtyard_mm)
    corner = 0.4 * stood.edge_mm
    whole = shapely.box(-wide, -deep - stood.front_mm, wide, deep).buffer(-corner).buffer(corner, quad_segs=8)
    longest = max(stood.pattern.courtyard_mm)
    thick = stood.board_mm if stood.outline.drilled else min(stood.board_mm, THIN_BOARD_SHARE * longest)
    holes = [land for land in stood.pattern.lands if land.hole_mm]
    bored = _without(whole, [_disc(land, PLATING_MM) for land in holes])
    open_ = _without(whole, [land.opening.geometry() for land in stood.pattern.lands])
    low, top = -COPPER_MM - thick, -COPPER_MM
    # Mask that lies over copper stands above it; beside it, below its upper face.
    over = any(land.mask_defined for land in stood.pattern.lands)
    mask = (top, MASK_MM / 2) if over else (top, top + MASK_MM)
    return [Piece("board", plate(bored, low, top)), Piece("mask", plate(open_, *mask)), *_copper(stood, low, top)]


def _copper(stood: Stood, low: float, top: float) -> list[Piece]:
    """The lands, those alike as one solid; a drilled one with its lower ring and its wall."""
    groups: dict[tuple[Shape, float], list[Placed]] = {}
    for land in stood.pattern.lands:
        shown = land.place if land.mask_defined else land.copper
        groups.setdefault((shown.shape, land.hole_mm or 0.0), []).append(shown)
    found = []
    for (shape, hole), alike in groups.items():
        area = Placed(shape).geometry()
        if not hole:
            mesh = plate(area, top, 0.0)
        else:
            bore, drill = _round(hole), _round(hole + 2 * PLATING_MM)
            ring = area.difference(bore)
            mesh = joined(
                [plate(ring, top, 0.0), plate(ring, low - COPPER_MM, low), plate(drill.difference(bore), low, top)]
            )
        found.append(Piece("land", mesh, tuple((one.x_mm, one.y_mm, one.angle_deg) for one in alike)))
    return found


def prints(stood: Stood) -> list[Piece]:
    """Paste in the foil's apertures over the back half, and as it stays over the front half; the foil itself."""
    import shapely

    if not stood.printed.apertures:
        return []
    foil_mm = stood.printed.foil.thickness_um / 1000
    wide, deep = (side / 2 for side in stood.pattern.courtyard_mm)
    edge = _foil_edge(stood)
    openings = [opening.geometry() for one in stood.printed.apertures for opening in one.openings]
    sheet = _without(shapely.box(-wide, edge, wide, deep), openings)
    groups: dict[tuple[Shape, float], list[Placed]] = {}
    for aperture in stood.printed.apertures:
        deposit = stood.deposits.get(aperture.terminal)
        for opening in aperture.openings:
            height = foil_mm if opening.y_mm > edge or deposit is None else deposit.wet_height_um / 1000
            if height > 0:
                groups.setdefault((opening.shape, height), []).append(opening)
    bricks = [
        Piece(
            "paste",
            plate(Placed(shape).geometry(), 0.0, height),
            tuple((one.x_mm, one.y_mm, one.angle_deg) for one in alike),
            "printed",
        )
        for (shape, height), alike in groups.items()
    ]
    return [*bricks, Piece("foil", plate(sheet, 0.0, foil_mm), state="printed")]


def _foil_edge(stood: Stood) -> float:
    """y of the foil's cut edge: between two rows of apertures, the nearest to the body's middle from above."""
    boxes = [opening.box for one in stood.printed.apertures for opening in one.openings]
    spans = sorted((low, high) for _, low, _, high in boxes if high - low < 0.5 * stood.pattern.courtyard_mm[1])
    edge, reach = 0.0, -math.inf
    free: list[float] = []
    for low, high in spans:
        if low > reach + 1e-6 and reach > -math.inf:
            free.append((low + reach) / 2)
        reach = max(reach, high)
    return min(free, key=lambda y: abs(y - edge)) if free else edge


def _round(diameter_mm: float) -> Geometry:
    import shapely

    made: Geometry = shapely.Point(0.0, 0.0).buffer(diameter_mm / 2, quad_segs=9)
    return made


def _disc(land: Land, beyond_mm: float) -> Geometry:
    """A drilled land's hole, larger all round by so much."""
    import shapely

    assert land.hole_mm is not None
    made: Geometry = shapely.Point(land.place.x_mm, land.place.y_mm).buffer(land.hole_mm / 2 + beyond_mm, quad_segs=9)
    return made


def _without(area: Geometry, others: Iterable[Geometry]) -> Geometry:
    import shapely

    cut: Geometry = shapely.union_all([one.simplify(FINEST_EDGE_MM) for one in others])
    return area.difference(cut)
