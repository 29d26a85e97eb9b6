"""The toe, heel and side method: equations, limits, tables."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from landwise.errors import InputError
from landwise.evidence import source
from landwise.lands.goals import form_of, goals, inner_gap, inner_gap_limits, land_width, outer_span
from landwise.outlines import catalogue, find


def test_without_tolerances_a_land_is_the_terminal_and_its_goals():
    assert outer_span(6.0, 6.0, 0.35, 0, 0) == pytest.approx(6.0 + 2 * 0.35)
    assert inner_gap(4.0, 4.0, 0.35, 0, 0) == pytest.approx(4.0 - 2 * 0.35)
    assert land_width(0.4, 0.4, 0.03, 0, 0) == pytest.approx(0.4 + 2 * 0.03)


def test_three_tolerances_add_as_squares():
    # 0.3, 0.4 and 1.2: a root of whole numbers, 1.3.
    assert outer_span(5.0, 5.3, 0.0, 0.4, 1.2) == pytest.approx(5.0 + 1.3)
    assert inner_gap(2.0, 2.3, 0.0, 0.4, 1.2) == pytest.approx(2.3 - 1.3)
    assert land_width(0.2, 0.5, 0.0, 0.4, 1.2) == pytest.approx(0.2 + 1.3)


def test_worst_case_gap_is_span_less_two_feet():
    assert inner_gap_limits(5.8, 6.2, 0.4, 1.27, rms=False) == pytest.approx((5.8 - 2.54, 6.2 - 0.8))


def test_relief_keeps_the_middle_and_counts_both_feet():
    low, high = inner_gap_limits(5.8, 6.2, 0.4, 1.27)
    worst_low, worst_high = inner_gap_limits(5.8, 6.2, 0.4, 1.27, rms=False)
    assert low + high == pytest.approx(worst_low + worst_high)
    assert high - low == pytest.approx(math.sqrt(0.4**2 + 2 * 0.87**2))
    assert high - low < worst_high - worst_low


def test_relief_changes_nothing_with_one_tolerance():
    # Only the span varies: nothing is left to square and add.
    assert inner_gap_limits(5.8, 6.2, 0.6, 0.6) == pytest.approx(inner_gap_limits(5.8, 6.2, 0.6, 0.6, rms=False))


def test_arrays_equal_loops():
    low, high = np.array([5.8, 3.9]), np.array([6.2, 4.1])
    foot_low, foot_high = np.array([0.4, 0.3]), np.array([1.27, 0.5])
    arrays = inner_gap_limits(low, high, foot_low, foot_high)
    loops = [inner_gap_limits(*row) for row in zip(low, high, foot_low, foot_high, strict=True)]
    np.testing.assert_allclose(np.transpose(arrays), loops)
    np.testing.assert_allclose(
        outer_span(low, high, 0.3, 0.1, 0.1),
        [outer_span(a, b, 0.3, 0.1, 0.1) for a, b in zip(low, high, strict=True)],
    )


@pytest.mark.parametrize("form", ["gull-wing", "gull-wing fine", "flat lead", "leadless", "chip", "small chip"])
def test_goals_shrink_from_most_to_least(form):
    most, nominal, least = (goals(form, level) for level in ("most", "nominal", "least"))
    assert most.toe_mm > nominal.toe_mm > least.toe_mm
    assert most.courtyard_mm > nominal.courtyard_mm > least.courtyard_mm
    assert source(most.source).mark == ("from memory" if "chip" in form else "second-hand")


def test_pitch_decides_between_the_gull_wing_rows():
    outline = find("TSSOP-14")
    assert form_of(outline) == "gull-wing"
    assert form_of(replace(outline, pitch_mm=0.625)) == "gull-wing fine"
    assert form_of(replace(outline, pitch_mm=0.635)) == "gull-wing"


def test_every_outline_has_a_form_with_goals():
    for outline in catalogue().values():
        assert goals(form_of(outline)).courtyard_mm > 0


@pytest.mark.parametrize(("form", "level"), [("j-lead", "nominal"), ("gull-wing", "B"), ("", "nominal")])
def test_unknown_names_are_refused(form, level):
    with pytest.raises(InputError, match="unknown"):
        goals(form, level)
