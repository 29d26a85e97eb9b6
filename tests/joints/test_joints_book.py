"""The joints' entries of the formula book give what their functions give."""

from __future__ import annotations

import pytest

from landwise.errors import InputError, ValidityError
from landwise.evidence import evaluate
from landwise.joints.gullwing import Foot, gullwing_fillet
from landwise.joints.lead import lead_stiffness
from landwise.joints.leadform import LeadForm
from landwise.joints.settling import standoff_window

FILLET = {
    "foot_length": "0.6 mm",
    "foot_width": "0.24 mm",
    "thickness": "0.14 mm",
    "toe": "0.45 mm",
    "heel": "0.45 mm",
    "side": "0.1 mm",
    "solder_volume": "34 nL",
}
LEAD = {
    "shoulder": "0.17 mm",
    "run": "0.23 mm",
    "rise": "0.5 mm",
    "foot": "0.6 mm",
    "width": "0.24 mm",
    "thickness": "0.14 mm",
}
EDGE = {
    "coverage": "65 %",
    "foil": "100 um",
    "pad_length": "1.8 mm",
    "pad_width": "1.8 mm",
    "land_width": "0.29 mm",
    "terminal_length": "0.40 mm",
    "terminal_width": "0.23 mm",
    "toe": "0.37 mm",
    "solder_volume": "12.1 nL",
    "weight": "23 mg",
}


def test_fillets():
    found = evaluate("gull-wing-fillet", FILLET).outputs
    direct = gullwing_fillet(Foot(0.6, 0.24, 0.14, toe_mm=0.45, heel_mm=0.45, side_mm=(0.1, 0.1)), 0.034)
    assert found["heel"] == pytest.approx(direct.heel_mm)
    assert found["class_met"] == 3
    assert found["most_solder"] > 0.034


def test_lead_stiffness_asks_for_the_end():
    with pytest.raises(InputError, match="missing"):
        evaluate("lead-stiffness", LEAD)
    found = evaluate("lead-stiffness", LEAD | {"end": "guided"}).outputs
    assert found["radial"] == pytest.approx(
        lead_stiffness(LeadForm(0.17, 0.23, 0.5, 0.6, 0.24, 0.14), end="guided").radial_n_mm
    )


def test_settling_with_and_without_the_balance():
    alone = evaluate("settle", {"coverage": "65 %", "foil": "100 um"}).outputs
    window = standoff_window(0.65, 100, metal_fraction=0.536)
    assert (alone["low"], alone["standoff"], alone["high"]) == pytest.approx(
        (window.low_um, window.nominal_um, window.high_um)
    )
    assert "edge_joints" not in alone
    balanced = evaluate("settle", EDGE).outputs
    assert balanced["edge_joints"] == "pressed"
    assert balanced["standoff"] == pytest.approx(alone["standoff"], rel=0.02)
    assert balanced["edge_tabled"]
    with pytest.raises(InputError, match="whole"):
        evaluate("settle", {name: value for name, value in EDGE.items() if name != "pad_width"})


def test_barrel_snap_off_and_reach():
    barrel = evaluate("barrel-fill", {"solder_volume": "600 nL", "hole": "0.9 mm", "lead": "0.5 mm"}).outputs
    assert barrel["fill"] == pytest.approx(0.853, abs=0.001)
    snap = evaluate("ball-snap-off", {"volume": "14.14 nL", "package_land": "0.25 mm", "board_land": "0.25 mm"}).outputs
    assert snap["pull"] == pytest.approx(2.01e-4, rel=0.01)
    land = {"land_length": "0.8 mm", "land_width": "0.25 mm", "solder_volume": "10 nL", "paste_height": "0.1 mm"}
    near, far = (evaluate("deposit-reach", land | {"rise": rise}).outputs for rise in ("0.05 mm", "0.12 mm"))
    assert near["robust"]
    assert not near["stays_open"]
    assert far["stays_open"]


def test_outside_their_range_entries_refuse():
    with pytest.raises(ValidityError):
        evaluate("gull-wing-fillet", FILLET | {"solder_volume": "500 nL"})
    with pytest.raises(ValidityError):
        evaluate("settle", EDGE | {"terminal_width": "0.1 mm"})
