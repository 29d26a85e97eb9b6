"""Floor life, bake and hanging parts."""

from __future__ import annotations

import pytest

from landwise.errors import InputError, ValidityError
from landwise.judging.study import run_study
from landwise.service.moisture import (
    BAKES,
    FLOOR_LIFE_S,
    HANG_MG_MM2,
    bake,
    classification_temperature,
    floor_life,
    hang,
)
from landwise.study.file import study_from


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
        bake("3", 4.6)


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


def figure_of(level, **line):
    part = {
        "refs": ["U1"],
        "package": "SO-14",
        "options": [{"outline": "SO-14"}],
        "moisture_level": level,
        "locked": True,
    }
    return run_study(study_from({"part": [part], "line": line})).parts[0].present.figures["floor-life"]


def test_a_floor_life_is_held_against_the_lines_time_out_of_the_bag():
    assert figure_of("3").verdict == "holds"
    assert figure_of("5").verdict == "fails"
    assert figure_of("5", exposure="24 h").verdict == "holds"
    assert figure_of("").verdict == "not known"
    assert figure_of("1").verdict == "holds"


def test_the_bake_is_told_with_the_floor_life():
    assert "bake 27 h at 125 °C" in figure_of("3").why


def test_a_hot_oven_is_too_hot_for_a_large_body():
    part = {"refs": ["U1"], "package": "SO-20W", "options": [{"outline": "SO-20W"}], "locked": True}
    cool, hot = (
        run_study(study_from({"part": [part], "line": {"peak": peak}})).parts[0].present.figures["reflow-peak"]
        for peak in ("240 degC", "265 degC")
    )
    assert (cool.verdict, hot.verdict) == ("holds", "fails")


def test_hanging_counts_only_where_parts_sit_on_both_sides():
    part = {"refs": ["U1"], "package": "BGA-121-0.8", "options": [{"outline": "BGA-121-0.8"}], "locked": True}
    single, double = (
        run_study(study_from({"part": [part], "board": {"sides": sides}})).parts[0].present.figures["hang"]
        for sides in (1, 2)
    )
    assert single.verdict == "holds"
    assert double.value == single.value
    assert "one side only" in single.why
    assert "one side only" not in double.why
