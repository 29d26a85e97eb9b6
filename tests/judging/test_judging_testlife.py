"""The chamber's target counts the cycles of a part's own heat, as its life in the field does."""

from __future__ import annotations

import pytest

from landwise.judging.life import place_of
from landwise.judging.study import run_study
from landwise.service.chamber import USUAL_CYCLES, cycles_wanted
from landwise.study.file import study_from


def target(**part):
    own = {"refs": ["U1"], "number": "595", "family": "HC", "terminals": 16, "options": [{"outline": "TSSOP-16"}]}
    data = {"part": [own | part], "use": {"environment": "consumer", "years": 10}, "line": {"foil": "100 um"}}
    return run_study(study_from(data)).parts[0].options[0].figures


def test_a_part_that_warms_itself_twenty_thousand_times_a_year_asks_for_more_cycles():
    plain, warm = target(), target(power="0.5 W", switched=20000)
    assert plain["test-life"].limit == USUAL_CYCLES
    assert warm["test-life"].limit > 2 * USUAL_CYCLES
    assert "own heat" in warm["test-life"].why
    # It is the target of the very place that the life in the field is judged for.
    assert warm["test-life"].limit == pytest.approx(cycles_wanted(place_of(warm["life"], None)).cycles)


def test_a_heat_that_nobody_knows_is_no_green_word():
    unknown = target(switched=20000)
    assert unknown["life"].verdict != "holds"
    assert unknown["test-life"].verdict != "holds"
