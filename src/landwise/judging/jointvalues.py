"""Numbers read off a part's molten joints: what each step of their figures gives."""

from __future__ import annotations

from landwise.joints.mounted import DrilledStand, LeadlessStand, LeadStand, Mounted
from landwise.joints.settling import OPEN_VIAS_SHARE
from landwise.joints.standing import BallStand
from landwise.lands import LandPattern

Band = tuple[float, float, float]


def _lead(joints: Mounted) -> LeadStand:
    if joints.lead is None:
        raise ValueError("the part stands on no leads")
    return joints.lead


def _flat(joints: Mounted) -> LeadlessStand:
    if joints.leadless is None:
        raise ValueError("the part has no flat terminals")
    return joints.leadless


def drilled_joint(joints: Mounted) -> DrilledStand:
    """The joint of a drilled lead."""
    if joints.drilled is None:
        raise ValueError("the part is not drilled")
    return joints.drilled


def balls_standoff(stand: BallStand) -> Band:
    """Height on molten balls: low, value, high. [µm]"""
    return stand.low_mm * 1000, stand.height_mm * 1000, stand.high_mm * 1000


def balls_gap(stand: BallStand) -> float:
    """Gap between molten balls. [mm]"""
    return stand.gap_mm


def heel_height(joints: Mounted) -> Band:
    """Heel fillet with the least and the most paste. [µm]"""
    stand = _lead(joints)
    if stand.fillet is None:
        raise ValueError("the foot's fillets don't hold its solder")
    return stand.heel_low_mm * 1000, stand.fillet.heel_mm * 1000, stand.heel_high_mm * 1000


def toe_height(joints: Mounted) -> float:
    """Toe fillet of a foot without a heel. [µm]"""
    stand = _lead(joints)
    if stand.fillet is None:
        raise ValueError("the foot's fillets don't hold its solder")
    return stand.fillet.toe_mm * 1000


def class_met(joints: Mounted) -> Band:
    """Class that the fillets meet, with the least paste, and as taken; 0 for none."""
    stand = _lead(joints)
    if stand.fillet is None:
        return 0.0, 0.0, 0.0
    return float(min(stand.joint_class, stand.class_low)), float(stand.joint_class), float(stand.joint_class)


def pad_spread(joints: Mounted) -> float | None:
    """Standoff that the centre pad's solder alone would give. [µm]"""
    window = _flat(joints).window
    return None if window is None else window.nominal_um


def rest_height(joints: Mounted) -> float | None:
    """Height at which pad, edge joints and weight balance. [µm]"""
    rest = _flat(joints).rest
    return None if rest is None else rest.height_mm * 1000


def drained_height(joints: Mounted) -> float:
    """Least height where open vias drain the pad. [µm]"""
    return _flat(joints).low_mm * OPEN_VIAS_SHARE * 1000


def flat_standoff(joints: Mounted, vias: int) -> Band:
    """Height of a part on flat joints: low, value, high; open vias under its pad lower the low end. [µm]"""
    stand = _flat(joints)
    low = stand.low_mm * (OPEN_VIAS_SHARE if stand.window is not None and vias else 1.0)
    return low * 1000, stand.height_mm * 1000, stand.high_mm * 1000


def flat_gap(pattern: LandPattern, joints: Mounted) -> float:
    """Gap between lands less both bulges. [mm]"""
    rest = _flat(joints).rest
    return pattern.least_copper_gap_mm - 2 * (0.0 if rest is None else rest.bulge_mm)


def barrel_fill(joints: Mounted) -> float | None:
    """Share of the barrel that printed paste fills; None where it is not printed."""
    return drilled_joint(joints).fill


def capillary_rise(joints: Mounted) -> float:
    """Rise of solder between lead and barrel. [mm]"""
    return drilled_joint(joints).rise_mm


def reach_margin(joints: Mounted) -> float:
    """How much the molten dome stands higher than the highest terminal. [µm]"""
    if joints.contact is None:
        raise ValueError("its reach is not worked")
    return joints.contact.margin_mm * 1000
