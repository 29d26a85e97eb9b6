"""Lands moved inside their goals: never outside them, never for nothing, and the gain is stated."""

from __future__ import annotations

import pytest

from landwise.assembly.scatter import scatter
from landwise.designing import Designer, Line
from landwise.designing.landsearch import WORTH, _between, _pads, lands_and_print
from landwise.lands import LandRules, land_pattern
from landwise.outlines import find
from landwise.shapes import least_gap_mm

LINE = Line(scatter(0.03, 0.05))


@pytest.mark.parametrize("name", ["TSSOP-8", "SON-8-1.35x1.0"])
def test_every_land_tried_lies_between_the_levels_and_keeps_the_rules(name):
    part, rules = find(name), LandRules()
    ends = [land_pattern(part, style="goals", level=level).lands[0].place.shape for level in ("most", "least")]
    tried = list(_between(part, rules))
    assert len(tried) > 1
    for _, pattern in tried:
        width = pattern.lands[0].place.shape.width_mm
        assert min(one.width_mm for one in ends) - 1e-6 <= width <= max(one.width_mm for one in ends) + 1e-6
        assert least_gap_mm([land.copper for land in pattern.lands]) >= rules.least_copper_gap_mm - 1e-9


def test_lands_are_left_only_for_a_gain():
    wide = lands_and_print(find("SC-70-3"), LINE, 100)
    assert (wide.reason, wide.gain, wide.tried) == ("wide enough", 0.0, 0)
    kept = lands_and_print(find("DIP-14"), LINE, 100)
    assert (kept.reason, kept.gain, kept.tried) == ("no range", 0.0, 0)
    assert kept.pattern == land_pattern(find("DIP-14"))


def test_lands_that_move_gain_at_both_ends_by_the_exact_model_and_in_their_joints():
    part = find("SON-8-1.35x1.0")
    found = lands_and_print(part, LINE, 100)
    assert found.reason == "moved"
    assert found.gain >= WORTH
    assert found.gain == pytest.approx(found.design.margins.middle - found.default.margins.middle)
    assert found.design.margins.low >= found.default.margins.low
    assert found.design.margins.high >= found.default.margins.high
    before, after = Designer(part, land_pattern(part), LINE), Designer(part, found.pattern, LINE)
    assert after.defects(found.design) < before.defects(found.default)
    assert before.held(found.default).kept_by(after.held(found.design))


def test_a_pad_under_the_body_keeps_within_the_packages_own_sizes_and_off_the_terminals():
    part, rules = find("QFN-16-3x3"), LandRules()
    tried = dict(_pads(part, land_pattern(part), rules))
    assert "least" in tried
    for pattern in tried.values():
        pad = pattern.lands[-1].place
        assert part.exposed_length_mm.min - 1e-9 <= pad.shape.length_mm <= part.exposed_length_mm.max + 1e-9
        gap = min(least_gap_mm([pad, land.place]) for land in pattern.lands[:-1])
        assert gap >= rules.exposed_gap_mm - 1e-9
