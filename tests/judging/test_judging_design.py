"""Designed prints on the bench: used by default, switched off by a word, left aside for a stated reduction."""

from __future__ import annotations

import pytest

from landwise.fabdata.partfilms import part_films
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.outlines import find
from landwise.study.file import study_from

PART = {
    "refs": ["U1"],
    "function": "2-input gate",
    "terminals": 5,
    "options": [{"outline": "SON-5-0.8x0.8"}, {"outline": "SC-70-5"}],
}


def study(**line):
    return study_from(
        {"line": {"foils": ["100 um"], **line}, "want": {"hidden_joints": "any"}, "part": [PART]}, file="t"
    )


def test_openings_are_designed_by_default_and_switched_off_by_a_word():
    name = "SON-5-0.8x0.8"
    designed, plain, reduced = (
        Bench.of(study(**line)).geometry(find(name)) for line in ({}, {"print": "as lands"}, {"reduction": "10 um"})
    )
    assert designed.design.designed
    assert designed.printed.apertures == designed.design.openings
    assert plain.design is None
    assert reduced.design is None
    assert plain.printed.apertures != designed.printed.apertures
    assert designed.rates.defects.value < 0.2 * plain.rates.defects.value
    assert designed.printed.verdict != "fails"


def test_a_designed_print_says_what_it_changes_wherever_its_opening_is_explained():
    result = run_study(study())
    option = next(one for one in result.parts[0].options if one.name == "SON-5-0.8x0.8")
    trail = option.figures["opening"].trail
    assert any("openings designed for 100 µm" in step.says for step in trail)
    beside = next(one for one in result.parts[0].options if one.name == "SC-70-5")
    assert not any("middle opening" in step.says for step in beside.figures["opening"].trail)
    plain = next(one for one in run_study(study(print="as lands")).parts[0].options if one.name == "SON-5-0.8x0.8")
    assert any("as asked" in step.says for step in plain.figures["opening"].trail)


def test_paste_films_hold_the_designed_openings():
    geometry = Bench.of(study()).geometry(find("SON-5-0.8x0.8"))
    plain = Bench.of(study(print="as lands")).geometry(find("SON-5-0.8x0.8"))
    assert part_films(geometry.pattern, geometry.printed)["paste"] != part_films(plain.pattern, plain.printed)["paste"]


def test_a_print_that_is_none_is_refused():
    with pytest.raises(Exception, match="print"):
        study(print="as pads")


def test_the_window_map_shows_the_design_beside_the_lands_and_the_makers_print():
    from landwise.sheets.pictures import prints_beside, window_svg

    part = {**PART, "terminals": 6, "options": [{"outline": "SON-6-1.0x1.0"}]}
    asked = {"line": {"foils": ["90 um"], "least_pitch": "0.3 mm"}, "want": {"hidden_joints": "any"}, "part": [part]}
    result = run_study(study_from(asked, file="t"))
    option = result.parts[0].options[0]
    assert prints_beside(option, 100.0) == [("maker's", 90, pytest.approx(0.01))]
    drawn = window_svg(option, result, "w")
    assert "maker" in drawn
    assert ("as large as the lands" in drawn) == option.geometry.design.designed
