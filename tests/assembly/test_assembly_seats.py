"""One truth for a part on its joints: what assembly rests a part on is what the joints room has."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.assembly.partbuild import part_geometry
from landwise.assembly.partmodel import part_at
from landwise.assembly.scatter import scatter
from landwise.joints.mounted import mounted
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.printing.apertures import ApertureRules


@pytest.mark.parametrize(("name", "coverage"), [("QFN-16-3x3", 0.5), ("QFN-16-3x3", 0.75), ("SON-6-1.45x1.0", 0.5)])
@pytest.mark.parametrize("foil", [80.0, 125.0])
def test_a_leadless_part_rests_where_its_joints_balance(name, coverage, foil):
    part = find(name)
    lands = land_pattern(part)
    rules = ApertureRules(pane_coverage=coverage)
    printed = print_part(lands, Foil(foil), outline=part, rules=rules)
    stand = mounted(part, lands, printed).leadless
    model = part_at(part_geometry(part, lands, printed), scatter(0.03, 0.05))
    assert model.seat_um == pytest.approx(1000 * stand.height_mm, rel=0.02)


def test_the_tightest_land_of_a_row_decides_its_overhang():
    part = find("TSSOP-14")
    lands = land_pattern(part)
    wide = lands.lands[0]
    shape = replace(wide.place.shape, width_mm=wide.place.shape.width_mm + 0.1)
    uneven = replace(lands, lands=(replace(wide, place=replace(wide.place, shape=shape)), *lands.lands[1:]))
    printed = print_part(lands, Foil(100), outline=part)
    even, other = (part_geometry(part, one, printed).skew for one in (lands, uneven))
    assert even == other
