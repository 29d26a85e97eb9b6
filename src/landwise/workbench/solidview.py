"""An option on its lands for the look in three dimensions: solids ready to be lit, and what they show in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from landwise.judging.bench import Geometry
from landwise.quantities import show
from landwise.sheets.mesh import shaded
from landwise.sheets.solid import Solid, solid_of
from landwise.sheets.solidpieces import Piece, Stood
from landwise.untyped import Fields
from landwise.workbench.units import Units, length_text

RULES_MM = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5)
RULE_SHARE = 0.55  # of the courtyard's width that the rule takes at most
SEATED_MM = 0.0005  # a foot that floats less stands
DIGITS = 4  # a tenth of a micrometre


def solid_data(geometry: Geometry, units: Units) -> Fields:
    """What the script draws and says of one option.

    Returns
    -------
    Fields
        `pieces`: each with its kind, state, whether it lifts, and flat lists of points [mm], normals, faces and places
        (x, y [mm], turn [deg]); `size`: lengths [mm]; `rule`: its length [mm] and its label; `title` and `says`: the
        words for each state, `printed` empty where nothing is printed.
    """
    stood = Stood(
        geometry.outline, geometry.pattern, geometry.printed, geometry.stand, geometry.mounted, geometry.board_mm
    )
    solid = solid_of(stood)
    rule = next((length for length in RULES_MM if length <= RULE_SHARE * solid.wide_mm), RULES_MM[-1])
    boxes = np.array([piece.mesh.box_mm for piece in solid.of("board")])
    return {
        "title": f"{geometry.outline.name} on its lands",
        "silicon": geometry.outline.family == "wafer-level",
        "size": {
            "low": _flat(boxes[:, 0].min(axis=0)),
            "high": [*_flat(boxes[:, 1].max(axis=0)[:2]), solid.high_mm],
            "body": [geometry.outline.body_width_mm.nom, geometry.outline.body_length_mm.nom],
            "hang": solid.hang_mm,
            "cut": solid.cut_mm,
            "rule_y": solid.rule_y_mm,
        },
        "rule": {"length": rule, "label": show(rule, "mm")},
        "says": {"printed": _printed_says(geometry, units), "reflowed": _joints_say(geometry, solid, units)},
        "pieces": [_piece(one) for one in solid.pieces],
    }


def _piece(piece: Piece) -> Fields:
    lit = shaded(piece.mesh)
    return {
        "kind": piece.kind,
        "state": piece.state,
        "lifts": piece.lifts,
        "points": _flat(lit.points),
        "normals": _flat(lit.normals),
        "faces": lit.faces.ravel().tolist(),
        "places": _flat(np.array(piece.places)),
    }


def _flat(values: NDArray[np.float64] | Sequence[float]) -> list[float]:
    found: list[float] = np.round(np.asarray(values, dtype=float), DIGITS).ravel().tolist()
    return found


def _printed_says(geometry: Geometry, units: Units) -> str:
    """The print before reflow; empty where nothing is printed."""
    printed = geometry.printed
    if not printed.deposits:
        return ""

    def um(value: float) -> str:
        return length_text(value, "um", units)

    heights = sorted({round(one.wet_height_um) for one in printed.deposits})
    span = um(heights[0]) if len(heights) == 1 else f"{heights[0]:.0f} to {um(heights[-1])}"
    if units != "mm" and len(heights) > 1:
        span = f"{um(heights[0])} to {um(heights[-1])}"
    return (
        f"Before reflow: paste as high as the foil, {um(printed.foil.thickness_um)}, behind the foil's cut edge; before"
        f" it what stays on the lands, {span} high on average. The part hangs above its place."
    )


def _joints_say(geometry: Geometry, solid: Solid, units: Units) -> str:
    """The joints after reflow, with the figures that the solids are worked from."""

    def um(value_mm: float) -> str:
        value = value_mm * 1000
        return length_text(round(value) if units == "mm" and value >= 10 else value, "um", units)

    mounted, stand = geometry.mounted, geometry.stand
    says = []
    if stand is not None:
        says.append(
            f"After reflow it stands {um(stand.height_mm)} over its lands; its balls, {um(stand.before_mm)} high"
            f" before, are {um(stand.max_diameter_mm)} wide and leave {um(stand.gap_mm)} between them"
        )
    elif mounted.lead is not None and mounted.lead.fillet is not None:
        fillet, gap = mounted.lead.fillet, solid.standoff_mm
        where = f"{um(gap)} over their lands" if gap >= SEATED_MM else "on their lands"
        says.append(
            f"After reflow its feet stand {where}; the solder climbs"
            f" {um(fillet.heel_mm)} at the heel, {um(fillet.toe_mm)} at the toe and {um(fillet.side_mm)} at the sides"
        )
    elif mounted.leadless is not None:
        says.append(f"After reflow it stands {um(mounted.leadless.height_mm)} over its lands")
        if mounted.leadless.window is not None:
            says.append("the solder under its pad is drawn with the gas it holds")
    elif mounted.drilled is not None and mounted.drilled.fill is not None:
        says.append(f"Its printed paste fills {mounted.drilled.fill:.0%} of each hole")
    elif mounted.drilled is not None:
        says.append("Its leads go through the board, and a wave solders them")
    if not solid.computed:
        says.append("the shape of its solder is a schematic, not computed")
    text = "; ".join(says)
    return f"{text[:1].upper()}{text[1:]}."
