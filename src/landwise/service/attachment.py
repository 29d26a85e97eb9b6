"""What of a mounted part decides how its joints tire: distance, height, mismatch, and the lead's give."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from landwise.errors import ValidityError
from landwise.joints.lead import lead_stiffness
from landwise.joints.leadform import lead_form
from landwise.joints.mounted import LeadlessStand
from landwise.joints.standing import BallStand
from landwise.lands.model import LandPattern
from landwise.outlines.catalogue import catalogue
from landwise.outlines.model import ALLOY_42, COPPER, GRIDS, LEADED, LEADLESS, Outline, Range, Terminal
from landwise.outlines.patterns import terminals
from landwise.printing.model import Print
from landwise.service.bands import Band
from landwise.service.materials import COPPER_PPM_K, package_expansion
from landwise.service.surroundings import PLAIN, Surroundings
from landwise.service.underfill import relief_of

Kind = Literal["leadless", "ball", "leaded"]
# What the guides leave out: Engelmaier's F, by kind.
FACTORS = {"ball": Band(1.0, 1.25, 1.5), "leadless": Band(0.7, 1.0, 1.2), "leaded": Band(0.7, 1.0, 1.5)}
# Weibull shape by kind: the guides' 2 for compliant leads is the cautious end, 3 what tests of theirs usually show.
SHAPES = {"ball": Band(2.0, 3.0, 4.0), "leadless": Band(3.0, 4.0, 5.0), "leaded": Band(2.0, 3.0, 6.0)}
# Where the level part of the leg ends is not drawn, and body and solder give a little too.
STIFFNESS_BAND = Band(0.5, 1.0, 1.3)
SOLDER_UNDER_LEAD = 0.5  # of the foil's thickness: the guides' representative height
LOAD_SHARE = 2 / 3  # of the foot's area on the land carries load
# Expansion of lead metals. [ppm/K] Copper is C194; alloy 42 is 4.3 (4.0 to 4.7) to 300 °C (recalled).
LeadMetal = Literal["copper", "alloy 42", "not known"]
LEAD_PPM_K: dict[LeadMetal, Band] = {"copper": Band(16.3, COPPER_PPM_K, 17.7), "alloy 42": Band(4.0, 4.3, 4.7)}
LEAD_GPA: dict[LeadMetal, float] = {"copper": 121.0, "alloy 42": 145.0}  # alloy 42 recalled
UNKNOWN_METAL: LeadMetal = "not known"
# What outlines call the metal of their leads.
METAL_OF: dict[str, LeadMetal] = {COPPER: "copper", ALLOY_42: "alloy 42"}
UNCHANGED, UNSTRETCHED = Band.exact(1.0), Band.exact(0.0)
SOURCES = ("lead-thickness-rule", "lead-metals", "foot-mismatch-rule", "leaded-shape")


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
        Of a copper lead along the diagonal, and the solder area that carries it; None without leads.
    relief : float
        Share of the strain that an underfill leaves; 1 without one.
    foot_mm : float
        Length of the foot on its land, 0 without leads. [mm]
    lead_metal : str
        "copper", "alloy 42" or "not known".
    life_factor : Band
        What board, mirrored parts, coat and voids do to the life beside all that. [-]
    stretch_ppm_k : Band
        What a filled gap stretches the joint upward, over the solder's own expansion. [ppm/K]
    beyond : tuple of str
        Keys of what bears on the joint and no number covers.
    """

    kind: Kind
    joints: int
    dnp_mm: float
    height_mm: Band
    expansion_ppm_k: Band
    stiffness_n_mm: Band | None = None
    area_mm2: Band | None = None
    relief: float = 1.0
    foot_mm: float = 0.0
    lead_metal: LeadMetal = UNKNOWN_METAL
    life_factor: Band = UNCHANGED
    stretch_ppm_k: Band = UNSTRETCHED
    beyond: tuple[str, ...] = ()

    @property
    def factor(self) -> Band:
        """Engelmaier's F of this kind."""
        return FACTORS[self.kind]

    @property
    def shape(self) -> Band:
        """Weibull shape of this kind."""
        return SHAPES[self.kind]

    @property
    def family(self) -> str:
        """What a test of one part says of another: the kind, and for leads their metal."""
        return self.kind if self.kind != "leaded" else f"leaded, {self.lead_metal}"


def attachment(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    stand: BallStand | None,
    flat: LeadlessStand | None = None,
    *,
    underfill: bool = False,
    around: Surroundings = PLAIN,
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
    around : Surroundings
        Board thickness, the other side, coat, potting, voids.

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
        filled = around if not underfill else replace(around, underfill=True)
        relief = relief_of(outline, dnp, stand.height_mm, around.board_mm) if filled.underfill else 1.0
        ball = Attachment("ball", len(every), dnp, height, expansion, relief=relief)
        return _surrounded(ball, filled)
    # A flat lead leaves the body at its underside, without a leg that could give: it joins like a leadless terminal.
    if outline.family in LEADLESS or outline.family == "flat-lead dual":
        height = _flat_height(far, pattern, printed) if flat is None else _settled(outline, flat)
        return _surrounded(Attachment("leadless", len(every), dnp, height, expansion), around)
    assert outline.family in LEADED
    leaded = _leaded(outline, far, len(every), dnp, printed.foil.thickness_um / 1000, expansion)
    return _surrounded(leaded, around)


def _surrounded(joint: Attachment, around: Surroundings) -> Attachment:
    return replace(
        joint,
        life_factor=around.life_factor(joint.kind),
        stretch_ppm_k=around.stretch_ppm_k(joint.kind),
        beyond=around.beyond,
    )


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


def stem_of(name: str) -> str:
    """A package's name without its terminal count: what its makers stamp from one strip.

    >>> stem_of("SO-16"), stem_of("SO-20W"), stem_of("SOT-23-5"), stem_of("QFN-16-3x3")
    ('SO', 'SOW', 'SOT-23', 'QFN-16')
    """
    found = re.fullmatch(r"(.+?)-(?:\d[\dx.]*)([A-Z]?)", name)
    return name if found is None else found[1] + found[2]


@lru_cache(maxsize=1)
def _family_thickness_mm() -> dict[str, float]:
    ranges: dict[str, list[Range]] = {}
    middles: dict[str, list[float]] = {}
    for other in catalogue().values():
        if other.family.startswith("gull-wing") and other.terminal_thickness_mm is not None:
            thick = other.terminal_thickness_mm
            each = other.drawn.get("terminal_thickness_mm", {}).values()
            ranges.setdefault(stem_of(other.name), []).extend(each or (thick,))
            middles.setdefault(stem_of(other.name), []).append(thick.nom)
    found = {}
    for stem, limits in ranges.items():
        low, high = max(limit.min for limit in limits), min(limit.max for limit in limits)
        if low <= high:
            found[stem] = min(max(sum(middles[stem]) / len(middles[stem]), low), high)
    return found


def lead_thickness_mm(outline: Outline) -> float:
    """Thickness of an outline's leads, one for all sizes of its family. [mm]

    Notes
    -----
    Drawings of one family leave different tolerances to the same strip: SO-8 prints 0.17 to 0.25, SO-14 0.10 to 0.25.
    The mean of the sizes' nominals is taken, kept to what every drawing allows. Stiffness goes with the cube, so the
    sizes of one family would else differ by their drawings. An outline that the catalogue doesn't have keeps its own.

    >>> from landwise.outlines import find
    >>> {round(lead_thickness_mm(find(name)), 3) for name in ("SO-8", "SO-14", "SO-16")}
    {0.2}
    """
    own = outline.terminal_thickness_mm
    if own is None:
        raise ValidityError("the thickness of its leads is not known", place=outline.name)
    shared = _family_thickness_mm().get(stem_of(outline.name))
    known = catalogue().get(outline.name)
    if shared is None or known is None or known.terminal_thickness_mm != own:
        return own.nom
    return shared


def _leaded(outline: Outline, far: Terminal, joints: int, dnp: float, foil_mm: float, expansion: Band) -> Attachment:
    form = lead_form(outline)
    if form is None:
        raise ValidityError("the form of its leads is not known", place=outline.name)
    form = replace(form, thickness_mm=lead_thickness_mm(outline))
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
        _with_leads(outline, far, expansion),
        STIFFNESS_BAND.times(stiffness),
        Band(0.8 * area, area, 1.2 * area),
        foot_mm=form.foot_mm,
        lead_metal=METAL_OF.get(outline.lead_metal, UNKNOWN_METAL),
    )


def _with_leads(outline: Outline, far: Terminal, body: Band) -> Band:
    """Expansion from the middle to the joint: the body as far as it goes, then the copper of the lead. [ppm/K]"""
    angle = math.radians(far.outward_deg)
    out = far.x_mm * math.cos(angle) + far.y_mm * math.sin(angle)
    along = abs(far.y_mm * math.cos(angle) - far.x_mm * math.sin(angle))
    length, width = outline.body_length_mm.nom, outline.body_width_mm.nom
    # Leads of a dual outline leave across its width; a quad has them on all sides and is about square.
    across = width if outline.family.endswith("dual") else max(length, width)
    share = min(1.0, across / 2 / out, max(length, width) / 2 / along if along > 0 else 1.0)
    lead = LEAD_PPM_K["copper"].value
    return Band(*(share * ppm + (1 - share) * lead for ppm in (body.low, body.value, body.high)))
