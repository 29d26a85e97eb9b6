"""All that follows for a mounted part's joints from its outline, its lands and its print."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from landwise.errors import ValidityError
from landwise.joints.acceptance import class_met
from landwise.joints.alloys import ALLOYS
from landwise.joints.barrel import barrel_fill, capillary_rise
from landwise.joints.contact import BOWS, Contact, contact, dome_height, warped
from landwise.joints.gullwing import Foot, GullwingFillet, fillet_volumes, gullwing_fillet, lifted_gap
from landwise.joints.leadform import foot_on_land
from landwise.joints.settling import (
    TARGET_UM,
    VOID,
    CentrePad,
    PerimeterJoint,
    Settled,
    StandoffWindow,
    coverage_for,
    settle,
    standoff_window,
)
from landwise.joints.standing import BallStand
from landwise.lands.model import Land, LandPattern
from landwise.lately import Lately
from landwise.outlines import GRIDS, LEADLESS, Outline, Terminal, terminals
from landwise.outlines.coplanarity import coplanarity_limit_mm
from landwise.printing.holes import round_lead
from landwise.printing.model import Deposit, Print
from landwise.quantities import GRAVITY_M_S2

BOARD_MM = 1.6


@dataclass(frozen=True)
class LeadStand:
    """The first foot of a gull-wing or flat-lead part on its solder.

    Parameters
    ----------
    foot : Foot
        As it stands: seated, or lifted by surplus solder.
    fillet : GullwingFillet or None
        None where even the lifted foot can't hold the solder.
    heel_low_mm, heel_high_mm : float
        Heel fillet at both ends of the paste's interval. [mm]
    joint_class, class_low : int
        Highest class met with the mean paste, and with the least of its interval.
    class_raised : int
        Highest class met by a foot raised by the coplanarity limit, on mean paste; 0 where the solder doesn't
        even fill the gap.
    most_mm3 : float
        What the seated fillets can hold. [mm³]
    """

    foot: Foot
    fillet: GullwingFillet | None
    heel_low_mm: float
    heel_high_mm: float
    joint_class: int
    class_low: int
    class_raised: int
    solder_mm3: float
    most_mm3: float


@dataclass(frozen=True)
class LeadlessStand:
    """A leadless part on its centre pad and edge joints.

    Parameters
    ----------
    rest : Settled or None
        Force balance; None where the edge joints lie outside the table.
    window : StandoffWindow or None
        What the centre pad gives; None without one.
    edge : PerimeterJoint
    height_mm, low_mm, high_mm : float
        Standoff with its interval. [mm]
    coverage, coverage_wanted : float or None
        Of the centre pad now, and for the middle of the wished standoff.
    dome_mm : float
        Height of an edge deposit molten by itself. [mm]
    pad_solder_mm3 : float
        Metal on the centre pad, zero without one. [mm³]
    """

    rest: Settled | None
    window: StandoffWindow | None
    edge: PerimeterJoint
    height_mm: float
    low_mm: float
    high_mm: float
    coverage: float | None
    coverage_wanted: float | None
    dome_mm: float
    pad_solder_mm3: float = 0.0


@dataclass(frozen=True)
class DrilledStand:
    """A drilled joint: how full paste makes it (None if none is printed), and the capillary rise. [mm]"""

    fill: float | None
    rise_mm: float
    board_mm: float


@dataclass(frozen=True)
class Mounted:
    """A part's joints after reflow; the entries of other families are None.

    `contact` is that of the worst case, which `raised_by` names: one terminal at the coplanarity limit, or the
    whole part bowed one way or the other; `rise_mm` is how far its highest terminal is raised.
    """

    lead: LeadStand | None = None
    leadless: LeadlessStand | None = None
    drilled: DrilledStand | None = None
    contact: Contact | None = None
    raised_by: str = ""
    rise_mm: float = 0.0


def mounted(
    outline: Outline,
    pattern: LandPattern,
    printed: Print,
    stand: BallStand | None = None,
    *,
    board_mm: float = BOARD_MM,
) -> Mounted:
    """Joints of a mounted part: its fillets or standoff, barrel fill, and terminals that miss their deposit.

    Parameters
    ----------
    outline, pattern, printed
    stand : BallStand, optional
        Of a grid: its collapse counts in the contact of its balls.
    board_mm : float
        Board thickness, for drilled parts. [mm]

    Notes
    -----
    The first terminal stands for all. The contact takes the worst single terminal: raised by the coplanarity
    limit over the plane that the others stand on.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import Foil, print_part
    >>> outline = find("SO-14")
    >>> pattern = land_pattern(outline)
    >>> mounted(outline, pattern, print_part(pattern, Foil(125), outline=outline)).lead.joint_class
    3
    """
    if stand is not None:
        return _mounted(outline, pattern, printed, stand, board_mm)
    # A print's joints are asked for while it is designed, and again when it is judged.
    return _MOUNTED.of(
        (outline, pattern), (printed, board_mm), lambda: _mounted(outline, pattern, printed, None, board_mm)
    )


_MOUNTED: Lately[Mounted] = Lately(most=256)


def _mounted(
    outline: Outline, pattern: LandPattern, printed: Print, stand: BallStand | None, board_mm: float
) -> Mounted:
    if outline.drilled:
        return Mounted(drilled=_drilled(outline, pattern, printed, board_mm))
    if not printed.deposits:
        return Mounted()
    limit = coplanarity_limit_mm(outline)
    reached = _contact(outline, pattern, printed, stand, limit)
    return Mounted(
        lead=_lead(outline, pattern, printed, limit),
        leadless=leadless_stand(outline, pattern, printed) if outline.family in LEADLESS else None,
        contact=reached[0] if reached else None,
        raised_by=reached[1] if reached else "",
        rise_mm=float(reached[0].rise_mm.max()) if reached else 0.0,
    )


def _first(outline: Outline, pattern: LandPattern, printed: Print) -> tuple[Terminal, Land, Deposit] | None:
    for terminal in terminals(outline):
        land = next((one for one in pattern.lands if one.terminal == terminal.number), None)
        deposit = next((one for one in printed.deposits if one.terminal == terminal.number), None)
        if land is not None and deposit is not None and terminal.side != "centre":
            return terminal, land, deposit
    return None


def _metal(deposit: Deposit) -> tuple[float, float, float]:
    """Solder at the low end, the mean and the high end of the paste's interval. [mm³]"""
    share = deposit.solder_mm3 / deposit.paste_mm3 if deposit.paste_mm3 > 0 else 0.0
    return deposit.paste_low_mm3 * share, deposit.solder_mm3, deposit.paste_high_mm3 * share


def _lead(outline: Outline, pattern: LandPattern, printed: Print, limit: float) -> LeadStand | None:
    found = _first(outline, pattern, printed)
    seated = foot_on_land(outline, pattern, found[0].number) if found else None
    if found is None or seated is None:
        return None
    low, mean, high = _metal(found[2])
    foot, fillet = _standing(seated, mean)
    _, thin = _standing(seated, low)
    _, thick = _standing(seated, high)
    _, raised = _standing(replace(seated, gap_mm=limit), mean)
    return LeadStand(
        foot=foot,
        fillet=fillet,
        heel_low_mm=thin.heel_mm if thin else 0.0,
        heel_high_mm=thick.heel_mm if thick else (fillet.heel_mm if fillet else 0.0),
        joint_class=class_met(foot, fillet) if fillet else 0,
        class_low=class_met(seated, thin) if thin else 0,
        class_raised=class_met(replace(seated, gap_mm=limit), raised) if raised else 0,
        solder_mm3=mean,
        most_mm3=fillet_volumes(seated)[1],
    )


def _standing(foot: Foot, solder: float) -> tuple[Foot, GullwingFillet | None]:
    """The foot where the solder lets it stand, with its fillet; None where it holds too little or too much."""
    try:
        stands = replace(foot, gap_mm=lifted_gap(foot, solder))
        # A lifted foot stands exactly at what it holds; a millionth less keeps it inside.
        return stands, gullwing_fillet(stands, min(solder, fillet_volumes(stands)[1] * (1 - 1e-6)))
    except ValidityError:
        return foot, None


def leadless_stand(outline: Outline, pattern: LandPattern, printed: Print) -> LeadlessStand | None:
    """A leadless part on its centre pad and edge joints; None where its first terminal has no print."""
    found = _first(outline, pattern, printed)
    if found is None:
        return None
    terminal, land, deposit = found
    angle = math.radians(terminal.outward_deg)
    out = (land.place.x_mm - terminal.x_mm) * math.cos(angle) + (land.place.y_mm - terminal.y_mm) * math.sin(angle)
    shape = land.place.shape
    beyond = (shape.length_mm - terminal.length_mm) / 2
    edge = PerimeterJoint(
        sum(1 for one in terminals(outline) if one.side != "centre"),
        terminal.length_mm,
        min(terminal.width_mm, shape.width_mm),
        shape.width_mm,
        max(0.0, beyond + out),
        max(0.0, beyond - out),
        deposit.solder_mm3,
    )
    dome = dome_height(edge.land_length_mm, edge.land_width_mm, edge.solder_mm3)
    weight = (outline.weight_mg or 0.0) * 1e-6 * GRAVITY_M_S2
    pad_land = next((one for one in pattern.lands if one.terminal == "EP"), None)
    pad_print = next((one for one in printed.deposits if one.terminal == "EP"), None)
    aperture = next((one for one in printed.apertures if one.terminal == "EP"), None)
    tension = ALLOYS["sac305"].tension_n_m
    if pad_land is None or pad_print is None or aperture is None:
        rest = _settled(None, edge, weight, dome, tension)
        mean = edge.mean_height_mm
        share = deposit.paste_low_mm3 / deposit.paste_mm3, deposit.paste_high_mm3 / deposit.paste_mm3
        height = rest.height_mm if rest else mean
        return LeadlessStand(rest, None, edge, height, height * share[0], height * share[1], None, None, dome)
    metal = pad_print.solder_mm3 / pad_print.paste_mm3
    foil, transfer = printed.foil.thickness_um, pad_print.transfer
    coverage = min(1.0, aperture.coverage)
    windows = [
        standoff_window(coverage, foil, metal_fraction=metal, transfer=share)
        for share in (transfer.low, transfer.mean, transfer.high)
    ]
    window = windows[1]
    length, width = pad_land.place.shape.length_mm, pad_land.place.shape.width_mm
    void = 1 - window.low_um / window.nominal_um
    pad = CentrePad(length, width, window.low_um / 1e3 * length * width, void)
    rest = _settled(pad, edge, weight, dome, tension)
    wanted = coverage_for(sum(TARGET_UM) / 2, foil, metal_fraction=metal, transfer=transfer.mean, void=VOID)
    height = rest.height_mm if rest else window.nominal_um / 1e3
    low, high = windows[0].low_um / 1e3, windows[2].high_um / 1e3
    return LeadlessStand(
        rest, window, edge, height, min(low, height), max(high, height), coverage, wanted, dome, pad_print.solder_mm3
    )


def _settled(pad: CentrePad | None, edge: PerimeterJoint, weight: float, dome: float, tension: float) -> Settled | None:
    try:
        return settle(pad, edge, weight, dome_mm=dome, tension_n_m=tension)
    except ValidityError:
        return None


def _contact(
    outline: Outline, pattern: LandPattern, printed: Print, stand: BallStand | None, limit: float
) -> tuple[Contact, str] | None:
    """The worst of: any one terminal raised by the coplanarity limit, and the part bowed by its stated warpage."""
    lands = {land.terminal: land for land in pattern.lands}
    rows = []
    for deposit in printed.deposits:
        land = lands.get(deposit.terminal)
        if land is None or deposit.terminal == "EP":
            continue
        shape = land.place.shape
        dome = dome_height(shape.length_mm, shape.width_mm, deposit.solder_mm3)
        rows.append((deposit.terminal, deposit.wet_height_um / 1e3, dome, land.place.x_mm, land.place.y_mm))
    if not rows:
        return None
    numbers, paste, domes, x, y = zip(*rows, strict=True)
    sink = max(0.0, stand.before_mm - stand.height_mm) if stand and outline.family in GRIDS else 0.0
    cases = {"the coplanarity limit": np.full(len(rows), limit)}
    if outline.warpage_mm is not None:
        cases |= {f"warpage, {bow}": warped(x, y, outline.warpage_mm, bow) for bow in BOWS}
    found = [(contact(tuple(numbers), rise, paste, domes, sink), why) for why, rise in cases.items()]
    return min(found, key=lambda one: one[0].margin_mm)


def _drilled(outline: Outline, pattern: LandPattern, printed: Print, board_mm: float) -> DrilledStand | None:
    land = next((one for one in pattern.lands if one.hole_mm), None)
    if land is None or land.hole_mm is None or outline.terminal_thickness_mm is None:
        return None
    lead = round_lead(outline.terminal_width_mm.nom, outline.terminal_thickness_mm.nom)
    if not lead < land.hole_mm:
        return None
    deposit = next((one for one in printed.deposits if one.terminal == land.terminal), None)
    fill = barrel_fill(deposit.solder_mm3, land.hole_mm, lead, board_mm) if deposit else None
    return DrilledStand(fill, capillary_rise(land.hole_mm, lead), board_mm)
