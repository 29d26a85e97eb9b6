"""Floor life, bake and hanging parts."""

from __future__ import annotations

import pytest

from landwise.errors import InputError, ValidityError
from landwise.service.moisture import (
    BAKES,
    FLOOR_LIFE_S,
    HANG_MG_MM2,
    bake,
    classification_temperature,
    floor_life,
    hang,
)


def test_levels_2a_and_5a_are_not_skipped():
    # A public list leaves them out.
    assert {"2a", "5a"} <= set(FLOOR_LIFE_S)
    assert all({"2a", "5a"} <= set(rows) for rows in BAKES.values())


def test_floor_life_shortens_with_the_level():
    times = [FLOOR_LIFE_S[level] for level in ("2", "2a", "3", "4", "5", "5a")]
    assert times == sorted(times, reverse=True)


def test_level_6_has_no_floor_life_of_its_own():
    with pytest.raises(InputError, match="label"):
        floor_life("6")


def test_thicker_bodies_bake_longer_and_the_thickest_are_refused():
    assert bake("3", 1.8).at_125_s > bake("3", 1.2).at_125_s
    with pytest.raises(ValidityError):
        bake("3", 2.5)


def test_the_column_of_large_volumes_is_not_dropped():
    # A public copy of the table lacks it.
    assert classification_temperature(2.0, 1000) == 250
    assert classification_temperature(2.0, 3000) == 245


def test_a_part_at_the_rule_hangs_by_30_grams_a_square_inch():
    assert pytest.approx(46.5, abs=0.05) == HANG_MG_MM2
    assert hang(46.4, 1.0, 100.0).holds
    assert not hang(46.6, 1.0, 100.0).holds


def test_the_rule_by_outline_is_the_stricter_one_for_large_areas():
    found = hang(100.0, 9.0, 12.0)
    assert found.holds
    assert not found.safe


def test_hanging_needs_positive_sizes():
    with pytest.raises(InputError):
        hang(1.0, 0.0, 1.0)
