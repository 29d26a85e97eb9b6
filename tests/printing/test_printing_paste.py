"""Powder, metal, holes: formulas at their limits."""

from __future__ import annotations

import math

import pytest

from landwise.errors import InputError
from landwise.printing import DrilledJoint, fillet_volume, metal_fraction, paste_in_hole, paste_metal_fraction
from landwise.printing.holes import round_lead
from landwise.printing.paste import finest_powder_needed, joint_height, powder_verdict


def test_all_metal_and_equal_densities():
    assert metal_fraction(0.999999, 7.38) == pytest.approx(1.0, abs=1e-4)
    assert metal_fraction(0.3, 1.0, 1.0) == pytest.approx(0.3)
    assert metal_fraction(0.3, 0.8, 0.8) == pytest.approx(0.3)


@pytest.mark.parametrize("wrong", [(0.0, 7.4, 1.0), (1.0, 7.4, 1.0), (0.9, 0.0, 1.0), (0.9, 7.4, -1.0)])
def test_impossible_pastes(wrong):
    with pytest.raises(InputError):
        metal_fraction(*wrong)


def test_unknown_alloy():
    with pytest.raises(InputError, match="unknown alloy; found tin"):
        paste_metal_fraction("T4", "tin")


@pytest.mark.parametrize(
    ("opening", "powder"), [(230, "T3"), (200, "T4"), (150, "T5"), (80, "T6"), (60, "T7"), (50, None)]
)
def test_coarsest_powder_that_passes(opening, powder):
    assert finest_powder_needed(opening) == powder


@pytest.mark.parametrize(("opening", "word"), [(125, "holds"), (124, "marginal"), (100, "marginal"), (99, "fails")])
def test_powder_verdict(opening, word):
    assert powder_verdict(opening, "T5") == word


def test_fillet_becomes_a_thin_ring():
    # Far from the axis, a quarter-circle fillet is a straight bead: 2πa times its section (1 − π/4) r².
    assert fillet_volume(0.01, 100.0) == pytest.approx(2 * math.pi * 100 * (1 - math.pi / 4) * 1e-4, rel=2e-3)


def test_fillet_by_integration():
    # Section between land, lead and a quarter circle of radius r centred at (a + r, r), turned about the axis.
    from scipy.integrate import quad

    r, a = 0.3, 0.35
    volume, _ = quad(lambda x: 2 * math.pi * (a + x) * (r - math.sqrt(r**2 - (r - x) ** 2)), 0, r)
    assert fillet_volume(r, a) == pytest.approx(volume, rel=3e-3)


def test_both_fillet_conventions():
    sizes = (0.9, 0.5, 1.6)
    bare = DrilledJoint(*sizes).solder_mm3
    by_hole = paste_in_hole(DrilledJoint(*sizes, ring_mm=0.25, fillets=2), 150.0)
    by_lead = paste_in_hole(DrilledJoint(*sizes, ring_mm=0.25, fillets=2, turns_about="lead"), 150.0)
    assert by_hole.solder_mm3 - bare == pytest.approx(2 * fillet_volume(0.45, 0.45))
    assert by_lead.solder_mm3 - bare == pytest.approx(2 * fillet_volume(0.45, 0.25))
    assert by_hole.paste_mm3 == pytest.approx(2 * by_hole.solder_mm3)
    assert by_hole.aperture_area_mm2 == pytest.approx(by_hole.paste_mm3 / 0.15)


def test_losses_and_metal_scale_the_paste_only():
    joint = DrilledJoint(0.9, 0.5, 1.6)
    plain = paste_in_hole(joint, 150.0)
    more = paste_in_hole(joint, 150.0, metal_fraction=0.25, losses=1.5)
    assert more.solder_mm3 == plain.solder_mm3
    assert more.paste_mm3 == pytest.approx(3 * plain.paste_mm3)


@pytest.mark.parametrize(
    "wrong",
    [{"lead_mm": 0.9}, {"board_mm": 0.0}, {"ring_mm": -0.1}, {"fillets": 3}, {"turns_about": "board"}],
)
def test_impossible_holes(wrong):
    with pytest.raises(InputError):
        DrilledJoint(**{"hole_mm": 0.9, "lead_mm": 0.5, "board_mm": 1.6, **wrong})


@pytest.mark.parametrize("wrong", [{"foil_um": 0.0}, {"metal_fraction": 0.0}, {"losses": 0.9}])
def test_impossible_prints_of_holes(wrong):
    with pytest.raises(InputError):
        paste_in_hole(DrilledJoint(0.9, 0.5, 1.6), **{"foil_um": 150.0, **wrong})


def test_fillet_needs_a_centre():
    with pytest.raises(InputError, match="fillet"):
        fillet_volume(0.1, 0.0)


def test_round_lead_keeps_the_section():
    assert math.pi / 4 * round_lead(0.5, 0.3) ** 2 == pytest.approx(0.15)


def test_joint_height_refuses_nothing_printed():
    with pytest.raises(InputError):
        joint_height(0.0, 0.3, 100.0)
