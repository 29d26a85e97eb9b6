"""The fast model's margins against the exact model's rates, and what both must obey."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np
import pytest

from landwise.assembly.partmodel import part_model
from landwise.assembly.rare import rates
from landwise.assembly.scatter import scatter
from landwise.designing.case import OF_PRINT, Case, Floor
from landwise.designing.curves import prior_curve, wall_curve
from landwise.designing.design import Designer, plain_row, reduced_row
from landwise.designing.frame import frame_of, measured
from landwise.designing.margins import margin_of
from landwise.designing.points import centres_of
from landwise.designing.stacked import Line
from landwise.designing.variables import Changes, openings_of
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import ApertureRules, Foil, print_part, transfer

LINE = Line(scatter(0.03, 0.05))
RULES = ApertureRules(published=False)
# Standard deviations that the fast model may differ by where rates are between 1e-7 and 1e-1 per part.
CLOSE = 0.35


def case_of(name, foil_um):
    part = find(name)
    return Designer(part, land_pattern(part), LINE, RULES).case(foil_um)


def exact(case, row):
    part, lands = case.frame.outline, case.frame.pattern
    made = openings_of(lands.lands, part, Changes.of(row), RULES)
    printed = print_part(lands, Foil(case.foil_um), outline=part, openings=made)
    return rates(part_model(part, lands, printed, LINE.scatter))


@pytest.mark.parametrize(
    ("name", "foil"),
    [("TSSOP-14", 100), ("QFP-48", 120), ("SON-6-1.0x1.0", 100), ("QFN-16-3x3", 120), ("SON-5-0.8x0.8", 100)],
)
def test_margins_are_those_of_the_exact_model(name, foil):
    case = case_of(name, foil)
    rows = np.array([plain_row(case.frame), reduced_row(case.frame, 0.1)])
    found = case.rates(measured(case.frame, rows), case.centres)
    for k, row in enumerate(rows):
        counted = exact(case, row)
        worked = float(found.of_print[0, k])
        printed = counted.defects.value - counted.skewed.value
        assert worked == pytest.approx(float(margin_of(printed / counted.joints)), abs=CLOSE)


def test_the_rarest_is_not_told_apart_and_even_odds_are_no_margin():
    assert margin_of(1e-13) == margin_of(1e-10)
    assert margin_of(0.5) == pytest.approx(0.0)


def test_a_narrower_row_stands_further_from_bridges_and_nearer_to_opens():
    case = case_of("QFP-48", 100)
    rows = np.array([Changes(width_mm=-w, coverage=0.65).row for w in (0.0, 0.03, 0.06, 0.09)])
    found = case.rates(measured(case.frame, rows), case.centres)
    assert np.all(np.diff(found.bridges[0]) < 0)
    assert np.all(np.diff(found.opens[0]) > 0)


def test_the_prior_is_that_of_printing_and_the_other_law_meets_it_once():
    ratios = np.array([0.5, 0.66, 0.8])
    level, spread, low, high = prior_curve("laser-cut", "T4")(ratios)
    for k, ratio in enumerate(ratios):
        band = transfer(float(ratio))
        assert level[k] == pytest.approx(band.mean)
        assert spread[k] == pytest.approx(band.sd / band.mean)
        assert (low[k], high[k]) == pytest.approx((band.low, band.high))
    assert wall_curve(np.array([0.66]))[0][0] == pytest.approx(0.80)
    assert wall_curve(np.array([0.45]))[0][0] > prior_curve("laser-cut", "T4")(np.array([0.45]))[0][0] + 0.1


def test_shapes_that_no_design_changes_have_no_frame():
    part = find("DIP-14")
    assert frame_of(part, land_pattern(part), RULES) is None


def test_terms_that_a_study_states_are_drawn_no_more():
    part = find("TVSOP-14")
    stated = Line(scatter(0.03, 0.05, {"slump_share": 0.3, "remaining_share": 0.7}))
    found = Designer(part, land_pattern(part), stated).design(100)
    assert found.reason in ("designed", "inside the uncertainty")


def test_design_points_of_curves_at_once_are_those_of_each_alone():
    for name in ("TVSOP-14", "QFN-16-3x3"):
        case = case_of(name, 100)
        given = case.frame, case.base_table, case.foil_um, case.line
        near = [centres_of(*given, [paste], [start])[0] for paste, start in zip(case.pastes, case.centres, strict=True)]
        assert centres_of(*given, case.pastes, case.centres) == tuple(near)
        assert centres_of(*given, case.pastes) == tuple(centres_of(*given, [paste])[0] for paste in case.pastes)


def test_a_floor_changes_nothing_that_was_worked_of_a_print():
    case = case_of("SON-6-1.0x1.0", 100)
    anew = replace(case)
    assert "base_rates" not in vars(anew)
    assert case.floor != Floor()
    assert np.array_equal(case.base_rates.defects, anew.base_rates.defects)
    assert all(np.array_equal(ours, theirs) for ours, theirs in zip(case.bounds, anew.bounds, strict=True))
    assert set(OF_PRINT) <= {name for name, what in vars(Case).items() if isinstance(what, cached_property)}
