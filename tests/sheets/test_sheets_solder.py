"""The side view draws the computed solder."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.joints.mounted import Mounted, mounted
from landwise.joints.standing import ball_stand
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.sheets.drawings import side_view
from landwise.sheets.solder import part_solder


def worked(name):
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    stand = ball_stand(outline, pattern, printed)
    return outline, pattern, printed, stand, mounted(outline, pattern, printed, stand)


def area(contour):
    x, z = np.array(contour).T
    return abs(np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1))) / 2


@pytest.mark.parametrize(
    "name", ["TSSOP-14", "SOT-23-5", "QFN-16-3x3", "DFN-8-2x2", "SOT-5x3-5", "QFP-48", "WLP-5-0.5"]
)
def test_computed_solder_lies_on_the_lands_mirrored_left_and_right(name):
    outline, pattern, printed, stand, joints = worked(name)
    profile = part_solder(outline, stand, joints)
    points = np.vstack([np.array(contour) for contour in profile.contours])
    assert points[:, 1].min() > -1e-3
    assert points[:, 0].max() == pytest.approx(-points[:, 0].min(), abs=1e-3)
    assert np.abs(points[:, 0]).max() <= pattern.courtyard_mm[0] / 2
    view = side_view(outline, pattern, printed, magnification=10, solder=profile)
    assert not view.schematic


def test_a_lead_in_profile_shows_its_heel_and_toe_sections():
    outline, _, _, stand, joints = worked("TSSOP-14")
    fillet, foot = joints.lead.fillet, joints.lead.foot
    contour = part_solder(outline, stand, joints).contours[-1]
    x, z = np.array(contour).T
    assert z.max() == pytest.approx(fillet.heel_mm)
    under = area([(out, up) for out, up in (*fillet.heel_wall_mm, (fillet.heel_wall_mm[-1][0], 0.0), (0.0, 0.0))])
    expected = fillet.heel.area_mm2 + fillet.toe.area_mm2 + under + foot.flat_mm * foot.gap_mm
    assert area(contour) == pytest.approx(expected, rel=0.02)
    assert np.ptp(x) == pytest.approx(
        fillet.heel.reach_mm + fillet.heel_wall_mm[-1][0] + foot.flat_mm + fillet.toe.reach_mm
    )


def test_a_leadless_part_is_lifted_by_its_standoff():
    outline, _, _, stand, joints = worked("QFN-16-3x3")
    profile = part_solder(outline, stand, joints)
    assert profile.lift_mm == pytest.approx(joints.leadless.height_mm, abs=6e-4)
    assert len(profile.contours) == 6


def test_what_is_not_computed_is_not_drawn_as_if_it_were():
    outline, _, _, stand, joints = worked("DIP-14")
    assert part_solder(outline, stand, joints) is None
    assert part_solder(outline, None, Mounted()) is None
