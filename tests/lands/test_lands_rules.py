"""Rules and rounding."""

from __future__ import annotations

from dataclasses import fields

import pytest

from landwise.errors import InputError
from landwise.evidence import source
from landwise.lands import RULE_REASONS, LandRules
from landwise.lands.rules import round_down, round_near, round_up


def test_every_default_has_a_reason_with_a_source():
    assert set(RULE_REASONS) == {field.name for field in fields(LandRules)}
    for reason, key in RULE_REASONS.values():
        assert reason
        assert source(key).mark


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"fabrication_mm": -0.01}, "fabrication_mm"),
        ({"mask_margin_mm": float("nan")}, "mask_margin_mm"),
        ({"placement_mm": float("inf")}, "placement_mm"),
        ({"rounding": "0.01"}, "unknown rounding"),
        ({"hole_level": "A"}, "unknown hole level"),
        ({"copper_gap_mm": 0.10}, "least_copper_gap_mm"),
        ({"mask_margin_mm": 0.02}, "least_mask_margin_mm"),
    ],
)
def test_impossible_rules_are_refused(change, says):
    with pytest.raises(InputError, match=says):
        LandRules(**change)


@pytest.mark.parametrize(
    ("rounding", "up", "down", "near"),
    [("none", 6.924, 6.924, 6.924), ("fine", 6.93, 6.92, 6.92), ("coarse", 6.95, 6.90, 6.90)],
)
def test_rounding_steps(rounding, up, down, near):
    rules = LandRules(rounding=rounding)
    assert (round_up(6.924, rules), round_down(6.924, rules), round_near(6.924, rules)) == (up, down, near)


@pytest.mark.parametrize("value", [0.07, 0.29, 0.57, 1.15, 4.35])
def test_values_on_a_step_stay(value):
    # Binary fractions: 0.29 / 0.01 is 28.999…, 1.15 / 0.05 is 22.999….
    rules = LandRules(rounding="fine")
    assert round_up(value, rules) == round_down(value, rules) == round_near(value, rules) == value


@pytest.mark.parametrize(
    ("pitch", "gap"), [(1.27, 0.20), (0.4, 0.20), (0.38, 0.19), (0.35, 0.175), (0.3, 0.15), (0.25, 0.15)]
)
def test_row_gap_follows_the_pitch_between_wanted_and_least(pitch, gap):
    assert LandRules().row_gap_mm(pitch) == pytest.approx(gap)
