"""The room's entries in the formula book."""

from __future__ import annotations

import pytest

from landwise.errors import InputError, UnitError, ValidityError
from landwise.evidence import evaluate, source
from landwise.lands.formulas import BOOK

SPAN = {
    "span_min": "5.8 mm",
    "span_max": "6.2 mm",
    "foot_min": "0.40 mm",
    "foot_max": "1.27 mm",
    "width_min": "0.31 mm",
    "width_max": "0.51 mm",
}


def test_entries_are_complete():
    assert {entry.key for entry in BOOK} >= {"land-span", "ball-land", "courtyard", "hole-size"}
    for entry in BOOK:
        assert entry.valid
        assert entry.equation
        assert all(source(key) for key in entry.sources)


def test_land_span_gives_the_printed_so_8_land():
    # manualshelf ixys ixdn609si page 11 (verified): outer 6.95, width 0.60; dtsheet.com doc/1663607 (verified):
    # inner 3.00.
    outputs = evaluate("land-span", SPAN).outputs
    assert outputs["outer"] == pytest.approx(6.95, abs=0.05)
    assert outputs["inner"] == pytest.approx(3.00, abs=0.05)
    assert outputs["width"] == pytest.approx(0.60, abs=0.05)
    assert outputs["length"] == pytest.approx((outputs["outer"] - outputs["inner"]) / 2)


def test_level_letters_and_units_are_read():
    most = evaluate("land-span", {**SPAN, "level": "A", "span_min": "228.346 mil"}).outputs
    nominal = evaluate("land-span", {**SPAN, "level": "nominal"}).outputs
    assert most["outer"] - nominal["outer"] == pytest.approx(0.40, abs=0.001)


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"span_min": "6.3 mm"}, InputError),
        ({"foot_min": "0 mm"}, InputError),
        ({"fabrication": "-0.1 mm"}, InputError),
        ({"foot_min": "2.9 mm", "foot_max": "3.0 mm"}, ValidityError),
        ({"width_min": "0.31"}, UnitError),
        ({"form": "j-lead"}, InputError),
    ],
)
def test_land_span_refuses(change, error):
    with pytest.raises(error):
        evaluate("land-span", {**SPAN, **change})


def test_ball_land_of_both_kinds():
    assert evaluate("ball-land", {"ball": "0.5 mm"}).outputs["land"] == 0.40
    rigid = evaluate("ball-land", {"ball": "0.5 mm", "kind": "rigid", "level": "most"}).outputs
    assert rigid["land"] == pytest.approx(0.575)
    with pytest.raises(ValidityError):
        evaluate("ball-land", {"ball": "1 mm"})


def test_courtyard_adds_the_excess_on_both_sides():
    # Kemet C1023 table 3, 1206 level B (verified): land 4.15 × 1.80, courtyard 4.70 × 2.30 rounded up to 0.1.
    lands = {"lands_width": "4.15 mm", "lands_height": "1.80 mm"}
    body = {"body_width": "3.4 mm", "body_height": "1.8 mm"}
    outputs = evaluate("courtyard", {"form": "chip", **lands, **body}).outputs
    assert outputs["width"] == pytest.approx(4.65)
    assert outputs["height"] == pytest.approx(2.30)
    assert outputs["area"] == pytest.approx(4.65 * 2.30)


def test_hole_size_by_diameter_and_by_section():
    by_section = evaluate("hole-size", {"lead_width": "0.56 mm", "lead_thickness": "0.36 mm", "level": "b"}).outputs
    by_diameter = evaluate("hole-size", {"lead_diameter": "0.666 mm"}).outputs
    assert by_section["hole"] == by_diameter["hole"] == pytest.approx(0.90)
    for given in ({}, {"lead_width": "0.5 mm"}, {"lead_diameter": "0.6 mm", "lead_width": "0.5 mm"}):
        with pytest.raises(InputError, match="lead"):
            evaluate("hole-size", given)
