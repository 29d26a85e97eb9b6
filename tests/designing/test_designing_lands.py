"""Lands moved inside their goals: never outside them, never for nothing, and the gain is stated."""

from __future__ import annotations

import pytest

from landwise.assembly.scatter import scatter
from landwise.designing import Line
from landwise.designing.landsearch import WORTH, _between, lands_and_print
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
    found = lands_and_print(find("SC-70-3"), LINE, 100)
    assert found.gain == 0.0 or found.gain >= WORTH
    assert found.toe == "" or found.gain > 0
    assert found.tried > 0
    kept = lands_and_print(find("DIP-14"), LINE, 100)
    assert (kept.gain, kept.tried) == (0.0, 0)
    assert kept.pattern == land_pattern(find("DIP-14"))
