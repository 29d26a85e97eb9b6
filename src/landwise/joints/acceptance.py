"""What the trade accepts of a gull-wing joint, class by class, and which class a joint reaches.

Class 1 is general, class 2 dedicated service, class 3 high performance. The table is that of IPC-A-610 and
J-STD-001 as one published rework guide prints it; the test for a long foot is recalled.
"""

from __future__ import annotations

from dataclasses import dataclass

from landwise.errors import InputError
from landwise.joints.gullwing import Foot, GullwingFillet

CLASSES = (1, 2, 3)
SOURCE = "gull-wing-acceptance"
LONG_FOOT = 3.0  # foot length over width, from which a foot counts as long: recalled
REMAIN_MM = 0.5  # the other limb of "50 % of the width or 0.5 mm, whichever is less"
HEEL_SHARE = {1: 0.0, 2: 0.5, 3: 1.0}  # of the lead thickness, above the solder under the foot
END_SHARE = {1: 0.5, 2: 0.5, 3: 0.75}  # of the lead width that the land must carry
OVERHANG_SHARE = {1: 0.5, 2: 0.5, 3: 0.25}
WETTED_MM = 1e-6


@dataclass(frozen=True)
class Criterion:
    """One dimension against its limit of one class. [mm]"""

    name: str
    value_mm: float
    limit_mm: float
    at_least: bool

    @property
    def met(self) -> bool:
        """Whether the dimension keeps the limit."""
        return self.value_mm >= self.limit_mm - 1e-9 if self.at_least else self.value_mm <= self.limit_mm + 1e-9


def heel_limit_mm(joint_class: int, gap_mm: float, thickness_mm: float) -> float:
    """Least heel fillet of a class: wetted, G + T/2, G + T. [mm]

    >>> heel_limit_mm(2, 0.02, 0.15)
    0.095
    """
    _known(joint_class)
    share = HEEL_SHARE[joint_class]
    return round(gap_mm + share * thickness_mm, 12) if share else WETTED_MM


def side_limit_mm(joint_class: int, foot_mm: float, width_mm: float) -> float:
    """Least length of the side joint of a class. [mm]

    >>> side_limit_mm(1, 0.6, 0.25), side_limit_mm(2, 0.6, 0.25), side_limit_mm(3, 0.8, 0.25)
    (0.25, 0.6, 0.75)
    """
    _known(joint_class)
    if joint_class == 1:
        return min(width_mm, REMAIN_MM)
    if foot_mm >= LONG_FOOT * width_mm:
        return max(LONG_FOOT * width_mm, 0.75 * foot_mm)
    return foot_mm


def criteria(
    foot: Foot, fillet: GullwingFillet, joint_class: int, *, side_overhang_mm: float = 0.0, toe_overhang_mm: float = 0.0
) -> tuple[Criterion, ...]:
    """Every criterion of a class for one joint.

    Parameters
    ----------
    foot, fillet
    joint_class : int
        1, 2 or 3.
    side_overhang_mm, toe_overhang_mm : float
        How far the foot stands past the land after placement, zero if it lies within. [mm]

    Notes
    -----
    Toe overhang of class 1 is a question of electrical clearance, judged with the gap between lands, so it has
    no criterion here. The side joint is as long as the foot that lies on its land. A flat lead has no heel to
    climb; its toe must be wetted instead (our reading).
    """
    width, length = foot.width_mm, foot.length_mm
    found = [
        Criterion(
            "side overhang", side_overhang_mm, min(OVERHANG_SHARE[joint_class] * width, REMAIN_MM), at_least=False
        ),
        Criterion("end joint width", width - side_overhang_mm, END_SHARE[joint_class] * width, at_least=True),
        Criterion(
            "side joint length",
            max(0.0, length - toe_overhang_mm) if fillet.side_mm > 0 or foot.gap_mm > 0 else 0.0,
            side_limit_mm(joint_class, length, width),
            at_least=True,
        ),
    ]
    if foot.leg_deg is None:
        found.append(Criterion("toe fillet", fillet.toe_mm, WETTED_MM, at_least=True))
    else:
        limit = heel_limit_mm(joint_class, foot.gap_mm, foot.thickness_mm)
        found.append(Criterion("heel fillet", fillet.heel_mm, limit, at_least=True))
    if joint_class > 1:
        found.append(Criterion("toe overhang", toe_overhang_mm, 0.0, at_least=False))
    return tuple(found)


def class_met(
    foot: Foot, fillet: GullwingFillet, *, side_overhang_mm: float = 0.0, toe_overhang_mm: float = 0.0
) -> int:
    """The highest class whose every criterion holds; 0 if not even class 1."""
    best = 0
    for joint_class in CLASSES:
        held = criteria(foot, fillet, joint_class, side_overhang_mm=side_overhang_mm, toe_overhang_mm=toe_overhang_mm)
        if not all(one.met for one in held):
            break
        best = joint_class
    return best


def _known(joint_class: int) -> None:
    if joint_class not in CLASSES:
        raise InputError("no such class", found=str(joint_class), expected="1, 2 or 3")
