"""How leadless and drilled parts settle; which terminals miss their deposit; the table of flat-land joints."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.errors import InputError, ValidityError
from landwise.evidence.sources import source
from landwise.joints.barrel import barrel_fill, capillary_rise
from landwise.joints.contact import contact, dome_height, peak_over_mean, warped
from landwise.joints.mounted import mounted
from landwise.joints.pad import Faces, Molten, held_joint, pad_joint, pad_sections
from landwise.joints.padtable import AXES, stored, table_force
from landwise.joints.roots import root
from landwise.joints.section import arc_height, segment_area, sheet
from landwise.joints.settling import CentrePad, PerimeterJoint, coverage_for, settle, standoff_window, via_solder
from landwise.judging.study import run_study
from landwise.lands import land_pattern
from landwise.outlines import LEADED, LEADLESS, find, problems
from landwise.outlines.catalogue import catalogue
from landwise.outlines.coplanarity import coplanarity_limit_mm
from landwise.printing import Foil, print_part
from landwise.printing.apertures import ApertureRules
from landwise.study.file import study_from
from whole import of_each_family

JOINTS = PerimeterJoint(16, 0.40, 0.23, 0.29, 0.37, 0.0, 0.0121)
PAD = CentrePad(1.8, 1.8, 0.113)
WEIGHT = 23e-6 * 9.80665


@given(zero=st.floats(-3, 3), steep=st.floats(0.1, 20))
def test_the_root_is_where_the_function_changes_sign(zero, steep):
    assert root(lambda x: math.atan(steep * (x - zero)), -4, 5) == pytest.approx(zero, abs=1e-10)
    assert root(lambda x: 1.0 if x > zero else -1.0, -4, 5) == pytest.approx(zero, abs=1e-10)


def test_a_root_needs_a_change_of_sign():
    assert root(lambda x: x, 0, 1) == 0
    assert root(lambda x: x - 1, 0, 1) == 1
    with pytest.raises(InputError, match="sign"):
        root(lambda x: x + 2, 0, 1)


def test_the_table_is_whole_and_says_its_error():
    force, pressure, worst, usual = stored()
    assert np.isfinite(force).all()
    assert np.isfinite(pressure).all()
    assert 0 < usual < 0.1
    assert worst < 0.5
    assert np.all(np.diff(force, axis=-1) < 0), "force falls with height"


def test_the_table_holds_what_the_solver_computes():
    for point in ((1.0, 0.75, 0.6, 0.0, 0.12, 0.8), (2.4, 0.9, 1.0, 0.4, 0.25, 1.0), (1.4, 0.85, 1.1, 0.1, 0.18, 0.9)):
        length, width, toe, heel, volume, stretch = point
        land = length + toe + heel
        joint = held_joint(
            Faces(land, 1.0, length, width, offset_mm=(toe - heel) / 2),
            volume * land,
            volume * stretch,
            molten=Molten(tension_n_m=1e3, density_g_cm3=0.0),
        )
        assert table_force(*point)[0] == pytest.approx(joint.force_n, abs=max(stored()[2], 1e-3))


def test_outside_the_table_nothing_is_guessed():
    with pytest.raises(ValidityError, match="outside the table"):
        table_force(*[axis[-1] * 1.2 for axis in AXES.values()])


def test_arcs_enclose_their_area():
    for height in (0.01, 0.1, 0.3, 0.9, 5.0):
        assert arc_height(1.0, segment_area(1.0, height)) == pytest.approx(height, rel=1e-9)
    assert segment_area(1.0, 0.001) == pytest.approx(2 / 3 * 0.001, rel=1e-4)


@given(share=st.floats(0.97, 1.03))
def test_a_sheet_holds_its_solder_and_weakens_with_height(share):
    area, edge, height = 3.24, 7.2, 0.05 * share
    curvature, force = sheet(area, edge, area * 0.05, height)
    half = math.asin(curvature * height / 2)
    # A segment's area over its chord; of the flattest the first term of its series, or the difference loses all digits.
    flat = half * height**2 / 6
    beside = (
        (half - math.sin(half) * math.cos(half)) * (height / (2 * math.sin(half))) ** 2 if abs(half) > 1e-4 else flat
    )
    assert area * height + edge * math.copysign(abs(beside), half) == pytest.approx(area * 0.05, rel=1e-6)
    assert sheet(area, edge, area * 0.05, height * 1.001)[1] < force


def test_forces_balance_the_weight():
    rest = settle(PAD, JOINTS, WEIGHT, dome_mm=0.08)
    assert rest.pad_force_n + rest.perimeter_force_n == pytest.approx(WEIGHT, rel=1e-9)
    assert rest.state == "pressed"
    heavy = settle(PAD, JOINTS, 20 * WEIGHT, dome_mm=0.08)
    assert heavy.height_mm < rest.height_mm


@pytest.mark.parametrize("stretch", [0.5, 0.7, 1.0])
def test_the_bulge_of_an_edge_joint_is_that_of_the_solver(stretch):
    joints = replace(JOINTS, terminal_width_mm=0.26, solder_mm3=0.018)
    height = stretch * joints.mean_height_mm
    _, _, side = pad_sections(
        Faces(joints.land_length_mm, joints.land_width_mm, 0.40, 0.26, -joints.toe_mm / 2), joints.solder_mm3, height
    )
    assert joints.bulge_mm(height) == pytest.approx(side[:, 0].max() - joints.land_width_mm / 2, abs=5e-4)


def test_without_a_centre_pad_the_edge_joints_carry_the_part():
    rest = settle(None, JOINTS, WEIGHT, dome_mm=0.08)
    assert rest.perimeter_force_n == pytest.approx(WEIGHT, rel=1e-6)
    lighter = settle(None, JOINTS, WEIGHT / 10, dome_mm=0.08)
    assert lighter.height_mm > rest.height_mm


def test_more_pad_solder_lifts_the_part_until_it_floats_off_its_edge():
    states = [settle(replace(PAD, solder_mm3=v), JOINTS, WEIGHT, dome_mm=0.08) for v in (0.08, 0.113, 0.16, 0.25)]
    assert np.all(np.diff([s.height_mm for s in states]) > 0)
    assert [s.state for s in states] == ["pressed", "pressed", "pulled", "open"]


@settings(deadline=None)
@given(coverage=st.floats(0.3, 1), void=st.floats(0, 0.6), vias=st.floats(0, 0.5))
def test_the_window_is_ordered_and_gas_lifts(coverage, void, vias):
    window = standoff_window(coverage, 125, metal_fraction=0.5, void=void, via_share=vias)
    assert window.low_um <= window.nominal_um <= window.high_um
    wanted = coverage_for(window.low_um, 125, metal_fraction=0.5, void=0.0, via_share=vias)
    assert wanted == pytest.approx(coverage)


def test_vias_take_their_barrels():
    assert via_solder(4, 0.3, 1.6) == pytest.approx(4 * math.pi / 4 * 0.09 * 1.6)
    with pytest.raises(InputError):
        via_solder(-1, 0.3, 1.6)


def test_bad_windows_are_refused():
    for change in ({"coverage": 0.0}, {"void": 1.0}, {"metal_fraction": 1.2}):
        with pytest.raises(InputError):
            standoff_window(**({"coverage": 0.5, "foil_um": 125, "metal_fraction": 0.5} | change))


def test_a_barrel_is_full_with_the_solder_that_fills_it():
    whole = math.pi / 4 * (0.9**2 - 0.5**2) * 1.6
    assert barrel_fill(whole, 0.9, 0.5, 1.6) == pytest.approx(1.0)
    assert barrel_fill(whole, 0.9, 0.5, 1.6, ring_mm=0.3, fillets=2) < 1
    assert capillary_rise(0.9, 0.5) == pytest.approx(2 * capillary_rise(1.3, 0.5))
    with pytest.raises(InputError):
        capillary_rise(0.5, 0.6)


def test_membrane_peaks_are_those_of_the_torsion_problem():
    # Textbook (Timoshenko and Goodier, torsion of a square bar): peak 0.07367, volume 0.1406/4 over side squared.
    assert peak_over_mean(1.0) == pytest.approx(0.07367 / (0.1406 / 4), rel=1e-3)
    assert peak_over_mean(100.0) == pytest.approx(1.5, rel=0.01)


def test_a_dome_on_a_long_land_is_a_circular_arc():
    assert dome_height(50.0, 0.25, 50 * segment_area(0.25, 0.07)) == pytest.approx(0.07, rel=0.01)
    assert dome_height(0.8, 0.25, 0.0) == 0
    assert dome_height(0.8, 0.25, 0.012) > dome_height(0.8, 0.25, 0.010)


def test_bowed_parts_stand_on_their_lowest_terminals():
    x, y = np.array([0.0, 1.0, 1.0]), np.array([0.0, 0.0, 1.0])
    assert warped(x, y, 0.08, "corners up") == pytest.approx([0.0, 0.04, 0.08])
    assert warped(x, y, 0.08, "corners down") == pytest.approx([0.08, 0.04, 0.0])
    found = contact(("1", "2", "3"), warped(x, y, 0.08, "corners up"), 0.06, 0.05, sink_mm=0.02)
    assert found.misses_paste == ("3",)
    assert found.stays_open == ("3",)
    assert not found.robust
    stretched = contact(("1",), [0.07], 0.08, 0.05)
    assert stretched.stays_open == ()
    assert stretched.margin_mm < 0
    assert contact(("1", "2", "3"), 0.03 * np.ones(3), 0.06, 0.05).robust
    with pytest.raises(InputError):
        contact(("1",), [0.0, 0.1], 0.1, 0.1)


@pytest.mark.parametrize(
    ("name", "limit"), [("SO-14", 0.10), ("QFP-48", 0.08), ("QFN-16-3x3", 0.08), ("SON-6-1.0x1.0", 0.05)]
)
def test_default_coplanarity_follows_the_family(name, limit):
    assert coplanarity_limit_mm(find(name)) == limit


@pytest.mark.parametrize("outline", [o.name for o in of_each_family(catalogue().values(), 3) if not o.drilled])
def test_every_part_of_the_catalogue_mounts(outline):
    part = find(outline)
    pattern = land_pattern(part)
    printed = print_part(pattern, Foil(100), outline=part)
    joints = mounted(part, pattern, printed)
    assert joints.contact is not None
    if part.family in LEADLESS:
        assert joints.leadless is not None
        assert joints.leadless.low_mm <= joints.leadless.height_mm <= joints.leadless.high_mm
        assert joints.leadless.dome_mm > joints.leadless.edge.mean_height_mm
    elif part.family == "J-lead quad":
        assert joints.lead is None, "the form of a J lead is not modelled"
    elif part.family in LEADED:
        assert joints.lead is not None
        assert joints.lead.heel_low_mm <= joints.lead.heel_high_mm + 1e-9
        assert joints.lead.joint_class in (0, 1, 2, 3)


def test_drilled_parts_say_how_full_paste_makes_them():
    part = find("DIP-14")
    pattern = land_pattern(part)
    plain = mounted(part, pattern, print_part(pattern, Foil(150), outline=part)).drilled
    assert plain.fill is None
    assert plain.rise_mm > 10 * plain.board_mm, "capillarity never limits a wave"
    rules = ApertureRules(drilled="paste-in-hole")
    pasted = mounted(part, pattern, print_part(pattern, Foil(150), rules=rules, outline=part)).drilled
    assert 0 < pasted.fill < 3


def test_a_thick_foil_lifts_a_flat_lead_and_a_thin_one_starves_a_raised_foot():
    part = find("SOT-5x3-5")
    pattern = land_pattern(part)
    thick, thin = (mounted(part, pattern, print_part(pattern, Foil(um), outline=part)).lead for um in (150, 60))
    assert thick.foot.gap_mm > thin.foot.gap_mm == 0


def test_figures_of_the_joints_reach_the_study():
    packages = {"U1": "SO-14", "U2": "QFN-14-3.5x3.5", "U3": "DIP-14", "U4": "TSSOP-14"}
    parts = [
        {
            "refs": [ref],
            "function": "quad 2-input NAND gate",
            "terminals": 14,
            "family": "HC",
            "package": name,
            "options": [],
        }
        for ref, name in packages.items()
    ]
    result = run_study(study_from({"part": parts}))
    figures = {ref: result.part(ref).present.figures for ref in packages}
    assert figures["U1"]["fillet-class"].verdict in ("holds", "marginal")
    assert figures["U1"]["heel-fillet"].value > figures["U1"]["heel-fillet"].limit
    assert figures["U2"]["standoff"].low < figures["U2"]["standoff"].value < figures["U2"]["standoff"].high
    assert figures["U3"]["barrel-fill"].verdict == "not known"
    assert "contact" in figures["U4"]
    for each in figures.values():
        for figure in each.values():
            assert all(source(key).title for key in figure.sources if key != "study")


def test_thermal_vias_under_the_pad_lower_the_standoffs_window():
    row = {
        "refs": ["U1"],
        "function": "quad 2-input NAND gate",
        "terminals": 14,
        "family": "HC",
        "package": "QFN-14-3.5x3.5",
        "options": [],
    }
    plain, drilled = (
        run_study(study_from({"part": [row | {"thermal_vias": vias}]})).parts[0].present.figures["standoff"]
        for vias in (0, 4)
    )
    assert drilled.low < plain.low
    assert drilled.value == plain.value
    assert "plugged" in drilled.why


def test_a_stated_coplanarity_or_warpage_outranks_the_default():
    part = find("BGA-96-0.8")
    pattern = land_pattern(part)
    printed = print_part(pattern, Foil(100), outline=part)
    usual, flat, bowed = (
        mounted(one, pattern, printed)
        for one in (part, replace(part, coplanarity_mm=0.02), replace(part, coplanarity_mm=0.02, warpage_mm=0.15))
    )
    assert usual.rise_mm == 0.10
    assert flat.contact.margin_mm > usual.contact.margin_mm
    assert bowed.rise_mm == pytest.approx(0.15)
    assert bowed.raised_by.startswith("warpage")
    assert len(bowed.contact.misses_paste) < part.terminals


def test_negative_warpage_is_refused():
    assert any("warpage" in str(problem) for problem in problems(replace(find("BGA-96-0.8"), warpage_mm=-0.1)))


# Against the meshed surface under a terminal so small that it floats on the dome's top: within a tenth, the linear
# membrane of a square being too peaked.
@pytest.mark.parametrize(("length", "width", "volume"), [(0.8, 0.25, 0.010), (0.8, 0.25, 0.016), (0.5, 0.3, 0.004)])
def test_domes_agree_with_the_solver_to_a_tenth(length, width, volume):
    solved = pad_joint(Faces(length, width, 0.04, 0.04), volume, molten=Molten(density_g_cm3=0.0)).height_mm
    assert dome_height(length, width, volume) == pytest.approx(solved, rel=0.10)
