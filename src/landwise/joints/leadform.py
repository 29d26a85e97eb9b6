"""How a gull-wing lead runs from the body to its foot, from the outline, and its foot over the lands.

Drawings state span, foot and thickness; they leave open how much of the way from body to heel is level. We take
the proportion that the side view draws: 0.42 level, the rest under the slope.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from landwise.joints.gullwing import Foot
from landwise.lands.model import LandPattern
from landwise.outlines import Outline, terminals

SHOULDER_SHARE = 0.42  # of the way from body to heel
SOURCE = "lead-form-practice"
LEAST_RUN_MM = 0.02


@dataclass(frozen=True)
class LeadForm:
    """A lead's middle line: level shoulder, sloping leg, level foot. [mm]"""

    shoulder_mm: float
    run_mm: float
    rise_mm: float
    foot_mm: float
    width_mm: float
    thickness_mm: float

    @property
    def leg_deg(self) -> float:
        """Slope of the leg. [deg]"""
        return math.degrees(math.atan2(self.rise_mm, self.run_mm))


def lead_form(outline: Outline) -> LeadForm | None:
    """The lead of a gull-wing outline; None for other families or where foot or thickness are not known.

    >>> from landwise.outlines import find
    >>> form = lead_form(find("TSSOP-14"))
    >>> 45 < form.leg_deg < 90
    True
    """
    if not outline.family.startswith("gull-wing") or outline.foot_mm is None or outline.terminal_thickness_mm is None:
        return None
    span, body = (
        (outline.span_mm, outline.body_width_mm)
        if outline.span_mm
        else (outline.span_length_mm, outline.body_length_mm)
    )
    if span is None:
        return None
    way = max((span.nom - body.nom) / 2 - outline.foot_mm.nom, LEAST_RUN_MM)
    rise = (outline.standoff_mm.nom + outline.height_mm.nom) / 2 - outline.terminal_thickness_mm.nom / 2
    return LeadForm(
        SHOULDER_SHARE * way,
        (1 - SHOULDER_SHARE) * way,
        rise,
        outline.foot_mm.nom,
        outline.terminal_width_mm.nom,
        outline.terminal_thickness_mm.nom,
    )


def foot_on_land(
    outline: Outline, pattern: LandPattern, number: str | None = None, *, gap_mm: float = 0.0
) -> Foot | None:
    """A lead's foot over its land at nominal sizes; None for families without feet.

    Parameters
    ----------
    outline, pattern
    number : str, optional
        Terminal; the first one without it.
    gap_mm : float
        Height of the underside over the land. [mm]

    Notes
    -----
    A flat lead has no heel wall: its heel lies under the body. Where the foot stands past its land, the land's
    extension there is zero.
    """
    if outline.foot_mm is None or outline.terminal_thickness_mm is None:
        return None
    if not outline.family.startswith(("gull-wing", "flat-lead")):
        return None
    terminal = next(t for t in terminals(outline) if number in (None, t.number))
    land = next(land for land in pattern.lands if land.terminal == terminal.number)
    angle = math.radians(terminal.outward_deg)
    out = (land.place.x_mm - terminal.x_mm) * math.cos(angle) + (land.place.y_mm - terminal.y_mm) * math.sin(angle)
    beyond = land.place.shape.length_mm / 2 - terminal.length_mm / 2
    side = max(0.0, (land.place.shape.width_mm - terminal.width_mm) / 2)
    form = lead_form(outline)
    return Foot(
        terminal.length_mm,
        terminal.width_mm,
        outline.terminal_thickness_mm.nom,
        toe_mm=max(0.0, beyond + out),
        heel_mm=max(0.0, beyond - out),
        side_mm=(side, side),
        gap_mm=gap_mm,
        leg_deg=None if form is None else min(90.0, max(45.0, form.leg_deg)),
        leg_mm=1.0 if form is None else max(form.rise_mm - form.thickness_mm / 2, form.thickness_mm),
    )
