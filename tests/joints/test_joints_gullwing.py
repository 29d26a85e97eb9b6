"""Gull-wing fillets: volume, monotony, limits; what the trade accepts of them; lead form and stiffness."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.errors import InputError, ValidityError
from landwise.joints.acceptance import class_met, criteria, heel_limit_mm
from landwise.joints.gullwing import Foot, fillet_volumes, gullwing_fillet, lifted_gap
from landwise.joints.lead import ENDS, frame_compliance, lead_stiffness, torsion_constant
from landwise.joints.leadform import LeadForm, foot_on_land, lead_form
from landwise.joints.meniscus import arc_between, wall_arc
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.outlines.catalogue import catalogue
from whole import of_each_family

FOOT = Foot(0.60, 0.25, 0.15, toe_mm=0.35, heel_mm=0.35, side_mm=(0.06, 0.06))


@settings(deadline=None, max_examples=40)
@given(share=st.floats(0.05, 0.95), gap=st.sampled_from([0.0, 0.01, 0.05]), contact=st.floats(10, 60))
def test_the_fillets_hold_exactly_the_solder_there_is(share, gap, contact):
    foot = replace(FOOT, gap_mm=gap, contact_deg=contact)
    least, most = fillet_volumes(foot)
    solder = least + share * (most - least)
    fillet = gullwing_fillet(foot, solder)
    assert fillet.volume_mm3 == pytest.approx(solder, rel=1e-9)
    assert fillet.pressure_mpa == pytest.approx(-fillet.curvature * 0.5e-3)


def test_more_solder_raises_every_fillet_and_the_pressure():
    found = [gullwing_fillet(FOOT, volume) for volume in (0.003, 0.008, 0.02, 0.04, 0.06)]
    for name in ("heel_mm", "toe_mm", "side_mm", "pressure_mpa"):
        assert np.all(np.diff([getattr(one, name) for one in found]) >= -1e-9), name


def test_all_surfaces_share_one_curvature():
    fillet = gullwing_fillet(FOOT, 0.02)
    for arc in (fillet.heel, fillet.toe, *fillet.sides):
        points = np.array(arc.points(9))
        a, b, c = points[0], points[4], points[8]
        sides = [np.linalg.norm(a - b), np.linalg.norm(b - c), np.linalg.norm(c - a)]
        area = abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]) / 2
        assert 4 * area / math.prod(sides) == pytest.approx(fillet.curvature, rel=1e-6)


def test_a_quarter_circle_stands_on_a_wall_wetted_to_zero_degrees():
    # Analytic: contact angle 0 at wall and land gives a quarter circle of radius = height = reach.
    arc = wall_arc(1 / 0.1, 0.1, 0.0, 0.5, 1e-9)
    assert arc.height_mm == pytest.approx(0.1, rel=1e-6)
    assert arc.area_mm2 == pytest.approx((1 - math.pi / 4) * 0.01, rel=1e-6)


def test_a_straight_fillet_is_a_triangle():
    arc = arc_between(0.0, 0.3, 0.2)
    assert arc.area_mm2 == pytest.approx(0.03)
    assert arc.outward_mm(0.1) == pytest.approx(0.15)


def test_the_area_of_an_arc_is_that_under_its_points():
    for curvature in (-2.0, 0.001, 2.5, 6.0):
        arc = arc_between(curvature, 0.3, 0.2)
        x, z = np.array(arc.points(4001)).T
        assert arc.area_mm2 == pytest.approx(np.trapezoid(z, x), rel=1e-6)
        middle = np.array(arc.points(4001))[2000]
        assert arc.outward_mm(middle[1]) == pytest.approx(middle[0], abs=1e-9)


def test_too_little_and_too_much_solder_are_refused():
    raised = replace(FOOT, gap_mm=0.1)
    with pytest.raises(ValidityError, match="too little"):
        gullwing_fillet(raised, 0.5 * fillet_volumes(raised)[0])
    with pytest.raises(ValidityError, match="floods"):
        gullwing_fillet(FOOT, 1.1 * fillet_volumes(FOOT)[1])


def test_surplus_solder_lifts_the_foot_until_it_fits():
    flat = Foot(0.30, 0.21, 0.13, toe_mm=0.28, heel_mm=0.10, side_mm=(0.045, 0.045), leg_deg=None)
    most = fillet_volumes(flat)[1]
    assert lifted_gap(flat, 0.9 * most) == 0
    gap = lifted_gap(flat, 1.3 * most)
    assert fillet_volumes(replace(flat, gap_mm=gap))[1] == pytest.approx(1.3 * most, rel=1e-6)


@pytest.mark.parametrize(
    "change", [{"length_mm": 0.0}, {"toe_mm": -0.1}, {"contact_deg": 95.0}, {"leg_deg": 30.0}, {"gap_mm": math.nan}]
)
def test_impossible_feet_are_refused(change):
    with pytest.raises(InputError):
        replace(FOOT, **change)


def test_a_starved_joint_drops_from_class_three_to_class_one():
    good, thin, starved = (gullwing_fillet(FOOT, volume) for volume in (0.02, 0.005, 0.0012))
    assert class_met(FOOT, good) == 3
    assert class_met(FOOT, thin) == 2
    assert class_met(FOOT, starved) == 1
    assert thin.heel_mm < heel_limit_mm(3, 0.0, 0.15)
    assert class_met(FOOT, good, side_overhang_mm=0.08) == 2
    assert class_met(FOOT, good, side_overhang_mm=0.2) == 0
    assert class_met(FOOT, good, toe_overhang_mm=0.05) == 1
    assert {one.name for one in criteria(FOOT, good, 3)} >= {"heel fillet", "toe overhang", "side joint length"}


LEADS = [o for o in catalogue().values() if o.family.startswith(("gull", "flat"))]


@pytest.mark.parametrize("name", [o.name for o in of_each_family(LEADS, 3)])
def test_every_foot_of_the_catalogue_lies_on_its_land(name):
    outline = find(name)
    foot = foot_on_land(outline, land_pattern(outline))
    least, most = fillet_volumes(foot)
    assert 0 <= least < most
    assert gullwing_fillet(foot, 0.5 * most).heel_mm >= 0


def test_other_families_have_no_feet():
    outline = find("QFN-16-3x3")
    assert foot_on_land(outline, land_pattern(outline)) is None
    assert lead_form(outline) is None


def quadrature(path, width, thickness, modulus, poisson, direction):
    """In-plane compliance by Castigliano's theorem, integrated numerically along the path (independent of the code)."""
    area, inertia = width * thickness, width * thickness**3 / 12
    shear = modulus / (2 * (1 + poisson)) * area * 10 * (1 + poisson) / (12 + 11 * poisson)
    total = 0.0
    for a, b in pairwise(path):
        length = np.linalg.norm(b - a)
        along = (b - a) / length
        s = (np.arange(2000) + 0.5) / 2000 * length
        arm = path[-1] - (a + s[:, None] * along)
        moment = arm[:, 0] * direction[1] - arm[:, 1] * direction[0]
        axial, across = direction @ along, direction @ np.array([-along[1], along[0]])
        total += np.sum(moment**2) / (modulus * inertia) * length / 2000
        total += length * (axial**2 / (modulus * area) + across**2 / shear)
    return total


def test_in_plane_compliance_agrees_with_castigliano_by_quadrature():
    path = np.array([[0, 0], [0.3, 0], [0.5, -0.9], [0.9, -0.9]])
    matrix = frame_compliance(path, 0.4, 0.2, 121, 0.34)
    for axis, direction in ((0, np.array([1.0, 0.0])), (2, np.array([0.0, 1.0]))):
        assert matrix[axis, axis] == pytest.approx(quadrature(path, 0.4, 0.2, 121e3, 0.34, direction), rel=1e-6)


def test_compliance_is_symmetric_and_positive():
    matrix = frame_compliance(np.array([[0, 0], [0.3, 0], [0.5, -0.9]]), 0.4, 0.2, 121, 0.34)
    assert matrix == pytest.approx(matrix.T)
    assert np.all(np.linalg.eigvalsh(matrix) > 0)


def test_the_end_condition_decides_the_stiffness():
    ratios = []
    for outline in catalogue().values():
        form = lead_form(outline)
        if form is None:
            continue
        free, guided, fixed = (lead_stiffness(form, end=end) for end in ENDS)
        for name in ("radial_n_mm", "along_n_mm", "vertical_n_mm"):
            assert getattr(free, name) < getattr(guided, name) <= getattr(fixed, name) * (1 + 1e-9)
        ratios.append(fixed.radial_n_mm / free.radial_n_mm)
    assert min(ratios) > 3
    assert 10 < max(ratios) < 18


def test_a_longer_and_a_thinner_lead_is_softer():
    form = LeadForm(0.25, 0.35, 0.9, 0.8, 0.41, 0.2)
    stiff = lead_stiffness(form, end="guided").radial_n_mm
    assert lead_stiffness(replace(form, rise_mm=1.2), end="guided").radial_n_mm < stiff
    assert lead_stiffness(replace(form, thickness_mm=0.15), end="guided").radial_n_mm < stiff
    sideways = lead_stiffness(form, end="guided").towards_n_mm(90)
    assert sideways == pytest.approx(lead_stiffness(form, end="guided").along_n_mm)


def test_impossible_leads_are_refused():
    form = LeadForm(0.25, 0.35, 0.9, 0.8, 0.41, 0.2)
    with pytest.raises(InputError, match="end condition"):
        lead_stiffness(form, end="loose")
    with pytest.raises(InputError, match="positive"):
        lead_stiffness(replace(form, width_mm=0.0), end="free")
    assert torsion_constant(0.2, 0.4) == torsion_constant(0.4, 0.2)
