"""What of a mounted part decides how its joints tire: distance, height, mismatch, and the lead's give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from landwise.errors import ValidityError
from landwise.joints.lead import lead_stiffness
from landwise.joints.leadform import lead_form
from landwise.joints.mounted import BOARD_MM, LeadlessStand
from landwise.joints.standing import BallStand
from landwise.lands.model import LandPattern
from landwise.outlines.model import GRIDS, LEADED, LEADLESS, Outline, Terminal
from landwise.outlines.patterns import terminals
from landwise.printing.model import Print
from landwise.service.bands import Band
from landwise.service.materials import package_expansion
from landwise.service.underfill import relief_of

Kind = Literal["leadless", "ball", "leaded"]
# What the guides leave out: Engelmaier's F, by kind.
FACTORS = {"ball": Band(1.0, 1.25, 1.5), "leadless": Band(0.7, 1.0, 1.2), "leaded": Band(0.7, 1.0, 1.5)}
# Weibull shape by kind: 2 compliant, about 3 typical, 4 stiff leadless.
SHAPES = {"ball": Band(2.0, 3.0, 4.0), "leadless": Band(3.0, 4.0, 5.0), "leaded": Band(1.8, 2.0, 3.0)}
# Where the level part of the leg ends is not drawn, and body and solder give a little too.
STIFFNESS_BAND = Band(0.5, 1.0, 1.3)
SOLDER_UNDER_LEAD = 0.5  # of the foil's thickness: the guides' representative height
LOAD_SHARE = 2 / 3  # of the foot's area on the land carries load


@dataclass(frozen=True)
class Attachment:
    """The outermost joint of a part, as the fatigue methods see it.

    Parameters
    ----------
    kind : {"leadless", "ball", "leaded"}
    joints : int
        Of the part.
    dnp_mm : float
        From the part's middle to its outermost joint. [mm]
    height_mm : Band
        Of the solder. [mm]
    expansion_ppm_k : Band
        Of the part. [ppm/K]
    stiffness_n_mm, area_mm2 : Band or None
        Of the lead along the diagonal, and the solder area that carries it; None without leads.
    relief : float
        Share of the strain that an underfill leaves; 1 without one.
    """

    kind: Kind
    joints: int
    dnp_mm: float
    height_mm: Band
    expansion_ppm_k: Band
    stiffness_n_mm: Band | None = None
    area_mm2: Band | None = None
    relief: float = 1.0

    @property
    def factor(self) -> Band:
        """Engelmaier's F of this kind."""
        return FACTORS[self.kind]

    @property
    def shape(self) -> Band:
        """Weibull shape of this kind."""
        return SHAPES[self.kind]


def attachment(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    stand: BallStand | None,
    flat: LeadlessStand | None = None,
    *,
    underfill: bool = False,
) -> Attachment:
    """The outermost joint of a part on these lands with this print.

    Parameters
    ----------
    outline, pattern, printed
    stand : BallStand or None
        Of a grid: its height.
    flat : LeadlessStand, optional
        Of a leadless part: where its centre pad and edge joints settle. Without it the height is that of the
        frustum between the outermost terminal and its land which holds the printed metal.
    underfill : bool
        Whether the gap under grids is filled; other families are left as they are.

    Raises
    ------
    ValidityError
        For drilled parts, where the solder's height isn't known, and where a part floats above its edge joints.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> qfn = find("QFN-16-3x3")
    >>> pattern = land_pattern(qfn)
    >>> joint = attachment(qfn, pattern, print_part(pattern, Foil(100), outline=qfn), None)
    >>> joint.kind, round(joint.dnp_mm, 2), 0.03 < joint.height_mm.value < 0.12
    ('leadless', 1.5, True)
    """
    if outline.drilled:
        raise ValidityError(
            "the guides' methods are for surface joints; solder in a plated hole carries no mismatch, its barrel does",
            place=outline.name,
        )
    every = terminals(outline)
    far = max(every, key=lambda terminal: math.hypot(terminal.x_mm, terminal.y_mm))
    dnp = math.hypot(far.x_mm, far.y_mm)
    expansion = package_expansion(outline)
    if outline.family in GRIDS:
        if stand is None:
            raise ValidityError("the height of its joints is not known", place=outline.name)
        height = Band(stand.low_mm, stand.height_mm, stand.high_mm)
        relief = relief_of(outline, dnp, stand.height_mm, BOARD_MM) if underfill else 1.0
        return Attachment("ball", len(every), dnp, height, expansion, relief=relief)
    # A flat lead leaves the body at its underside, without a leg that could give: it joins like a leadless terminal.
    if outline.family in LEADLESS or outline.family == "flat-lead dual":
        height = _flat_height(far, pattern, printed) if flat is None else _settled(outline, flat)
        return Attachment("leadless", len(every), dnp, height, expansion)
    assert outline.family in LEADED
    return _leaded(outline, far, len(every), dnp, printed.foil.thickness_um / 1000, expansion)


def _settled(outline: Outline, flat: LeadlessStand) -> Band:
    if flat.rest is not None and flat.rest.state == "open":
        raise ValidityError("it floats on its pad: edge solder doesn't reach it", place=outline.name)
    if not flat.low_mm > 0:
        raise ValidityError("no solder is sure to be left under it", place=outline.name)
    return Band(min(flat.low_mm, flat.height_mm), flat.height_mm, max(flat.high_mm, flat.height_mm))


def _flat_height(far: Terminal, pattern: LandPattern, printed: Print) -> Band:
    """Solder between a flat terminal and its land: the frustum between the two that holds the printed metal. [mm]"""
    land = next(land for land in pattern.lands if land.terminal == far.number).place.shape.area_mm2
    deposit = next(d for d in printed.deposits if d.terminal == far.number)
    metal = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 > 0 else 0.0
    foot = min(far.length_mm * far.width_mm, land)
    under = (land + foot + math.sqrt(land * foot)) / 3
    low, value, high = (
        paste * metal / under for paste in (deposit.paste_low_mm3, deposit.paste_mm3, deposit.paste_high_mm3)
    )
    if not low > 0:
        raise ValidityError("no solder is sure to be left on the outermost land", place=pattern.outline)
    return Band(low, value, high)


def _leaded(outline: Outline, far: Terminal, joints: int, dnp: float, foil_mm: float, expansion: Band) -> Attachment:
    form = lead_form(outline)
    if form is None:
        raise ValidityError("the form of its leads is not known", place=outline.name)
    out = math.degrees(math.atan2(far.y_mm, far.x_mm)) - far.outward_deg
    # The guides ask for the stiffness of the unsoldered lead: its foot may turn.
    stiffness = lead_stiffness(form, end="free").towards_n_mm(out)
    area = LOAD_SHARE * far.length_mm * far.width_mm
    height = SOLDER_UNDER_LEAD * foil_mm
    return Attachment(
        "leaded",
        joints,
        dnp,
        Band(0.5 * height, height, 1.5 * height),
        expansion,
        STIFFNESS_BAND.times(stiffness),
        Band(0.8 * area, area, 1.2 * area),
    )
