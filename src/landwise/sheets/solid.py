"""A part on its lands as solids: board, mask, lands, foil and paste, body, terminals and the computed solder.

The sizes are those of the flat pictures (`plan`, `profile`, `solder`); what an outline doesn't say is drawn in the same
usual proportions. x to the right, y up the board, z off it, zero at the lands' upper face. Before reflow the part
hangs over its paste; `lifts` marks what hangs with it.
"""

from __future__ import annotations

from dataclasses import dataclass

from landwise.sheets.solidground import board, prints
from landwise.sheets.solidjoints import joints
from landwise.sheets.solidpart import body, leads
from landwise.sheets.solidpieces import Kind, Piece, State, Stood

HANG_SHARE, HANG_WIDE_SHARE = 0.55, 0.12  # of the part's height and its courtyard's longer side


@dataclass(frozen=True, eq=False)
class Solid:
    """A part on its lands.

    Parameters
    ----------
    pieces : tuple of Piece
    wide_mm, deep_mm, high_mm : float
        Courtyard along x and y; the part's top over the lands. [mm]
    standoff_mm : float
        Between the lands and the terminals' undersides; of a grid between land and package. [mm]
    hang_mm : float
        How far the part hangs above its place before reflow. [mm]
    cut_mm : float
        y of a plane through the middle of the row of terminals that lies nearest to the body's middle. [mm]
    rule_y_mm : float
        Where a rule lies on the board before the part. [mm]
    computed : bool
        Whether every joint's shape is computed; else some are schematic.
    """

    pieces: tuple[Piece, ...]
    wide_mm: float
    deep_mm: float
    high_mm: float
    standoff_mm: float
    hang_mm: float
    cut_mm: float
    rule_y_mm: float
    computed: bool

    def of(self, kind: Kind, state: State | None = None) -> tuple[Piece, ...]:
        """The pieces of a kind, of one state if named."""
        return tuple(one for one in self.pieces if one.kind == kind and state in (None, one.state))


def solid_of(stood: Stood) -> Solid:
    """All solids of a part as its print and its joints have it.

    Examples
    --------
    >>> from landwise.joints.mounted import mounted
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> outline = find("SO-14")
    >>> pattern = land_pattern(outline)
    >>> printed = print_part(pattern, Foil(125), outline=outline)
    >>> solid = solid_of(Stood(outline, pattern, printed, None, mounted(outline, pattern, printed), 1.6))
    >>> sum(len(piece.places) for piece in solid.of("solder")), solid.computed
    (14, True)
    """
    outline, stand = stood.outline, stood.stand
    solder = joints(stood)
    rows = [one.y_mm for one in stood.terminals if one.side in ("left", "right", "grid")] or [0.0]
    wide, deep = stood.pattern.courtyard_mm
    return Solid(
        pieces=(*board(stood), *prints(stood), *solder, *leads(stood), *body(stood)),
        wide_mm=wide,
        deep_mm=deep,
        high_mm=stood.lift_mm + outline.height_mm.nom,
        standoff_mm=stand.height_mm if stand else stood.lift_mm,
        hang_mm=0.0 if outline.drilled else HANG_SHARE * outline.height_mm.nom + HANG_WIDE_SHARE * max(wide, deep),
        cut_mm=min(rows, key=lambda y: (round(abs(y), 6), y)),
        rule_y_mm=-deep / 2 - stood.edge_mm - stood.front_mm / 2,
        computed=all(one.computed for one in solder),
    )
