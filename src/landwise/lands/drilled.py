"""Lands of drilled leads: hole by the largest lead, land around it, narrowed where rows stand close."""

from __future__ import annotations

from landwise.errors import InputError
from landwise.evidence.figures import Step
from landwise.lands.holes import RING_MM, SOURCE, hole_size, lead_diagonal
from landwise.lands.model import Bind, Land
from landwise.lands.rules import LandRules, round_down
from landwise.outlines import Outline, terminals
from landwise.shapes import Placed, circle, oblong, rectangle


def drilled_lands(outline: Outline, rules: LandRules, binds: list[Bind], trail: list[Step]) -> list[Land]:
    """A hole and a land for every lead; terminal 1 gets a square land, so that it can be told on the bare board.

    Raises
    ------
    InputError
        Without the lead's thickness, or if the pitch leaves no ring of copper.
    """
    thickness = outline.terminal_thickness_mm
    if thickness is None:
        raise InputError(
            "a drilled outline needs terminal_thickness_mm",
            place=f"outline {outline.name}",
            expected="terminal_thickness_mm = [min, nom, max]",
        )
    diagonal = lead_diagonal(outline.terminal_width_mm.max, thickness.max)
    size = hole_size(diagonal, rules.hole_level)
    trail.append(
        Step(
            says=f"hole {size.hole_mm:.2f} mm for the largest lead, land {size.land_mm:.2f} mm",
            inputs={"lead diagonal": f"{diagonal:.3f} mm", "level": rules.hole_level},
            value=size.land_mm,
            unit="mm",
            formula="hole-size",
            valid="rectangular leads by their diagonal",
            sources=(SOURCE,),
        )
    )
    across = min(size.land_mm, round_down(outline.pitch_mm - rules.least_copper_gap_mm, rules))
    if across < size.land_mm:
        if across < size.hole_mm + 2 * RING_MM:
            raise InputError(
                "the pitch leaves no ring around the hole",
                place=outline.name,
                found=f"{outline.pitch_mm:g} mm pitch, hole {size.hole_mm:g} mm",
                expected=f"a ring of {RING_MM:g} mm and a copper gap of {rules.least_copper_gap_mm:g} mm",
            )
        says = f"lands narrowed from {size.land_mm:.2f} to {across:.2f} mm along the row"
        binds.append(Bind("copper gap", f"{says}: copper gap {outline.pitch_mm - across:.3f} mm"))
    lands = []
    for terminal in terminals(outline):
        if terminal.number == "1":
            shape = rectangle(size.land_mm, across)
        else:
            shape = circle(size.land_mm) if across == size.land_mm else oblong(size.land_mm, across)
        place = Placed(shape, terminal.x_mm, terminal.y_mm, terminal.outward_deg)
        lands.append(Land(terminal.number, place, place, place, hole_mm=size.hole_mm))
    return lands
