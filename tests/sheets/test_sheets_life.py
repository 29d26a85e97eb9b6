"""The life page: what it says, its curve, and the way towards qualification."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.errors import InputError, UnknownNameError
from landwise.judging.study import run_study
from landwise.service.qualification import TESTS, bearing_on, grade
from landwise.sheets.clashes import texts_clash
from landwise.sheets.lifechart import Curve, life_chart, life_picture
from landwise.sheets.lifepage import SERVICE, life_page, life_svg, service_says
from landwise.study.file import study_from

YEARS = np.geomspace(0.1, 100, 40)


def curve(scale, label="after"):
    shares = [1 - np.exp(-((YEARS / s) ** 3)) for s in (scale, 3 * scale, scale / 3)]
    return Curve(label, *shares)


def study(**use):
    parts = [
        {
            "refs": ["U1", "U2"],
            "terminals": 14,
            "family": "HC",
            "function": "quad gate",
            "package": "DIP-14",
            "options": [{"outline": "SO-14"}, {"outline": "DIP-14"}],
        },
        {
            "refs": ["U3"],
            "terminals": 5,
            "family": "LVC",
            "package": "WLP-5-0.5",
            "options": [{"outline": "WLP-5-0.5"}],
            "locked": True,
        },
    ]
    return run_study(study_from({"part": parts, "use": use, "want": {"hidden_joints": "any"}}))


def test_the_page_tells_the_share_failed_and_leaves_out_drilled_parts():
    page = life_page(study())
    assert "After 3 years" in page["says"]
    assert "1 % is accepted" in page["says"]
    assert [row[0] for row in page["rows"]] == ["U1 +1", "U3"]
    assert life_svg(study()).startswith("<svg")


def test_the_page_tells_what_the_years_are_worth_in_the_chamber_by_each_set():
    says = life_page(study())["chamber"]
    assert "by snpb" in says
    assert "by sac-2005-recalled" in says
    assert "csp-2007 left out" in says


def test_a_harsher_place_shows_in_the_page():
    assert "under the hood" in life_page(study(environment="under-hood"))["says"]


def test_only_drilled_parts_give_no_page():
    part = {"refs": ["U1"], "terminals": 14, "package": "DIP-14", "options": [{"outline": "DIP-14"}]}
    assert life_page(run_study(study_from({"part": [part]}))) is None


def test_ball_shear_bears_on_grids_only_and_cavity_tests_on_none_of_ours():
    rows = {row[0].split(" (")[0]: row for row in life_page(study())["qualification"]}
    assert "ball shear" in rows
    assert not any("cavity" in name for name in rows)
    assert "ball shear" not in {test.name for test in bearing_on("gull-wing dual")}


def test_every_row_says_what_only_a_test_shows():
    assert all(test.only_test for test in TESTS)


def test_a_hot_ambient_is_told_beside_the_grade():
    assert "hotter than the grade" in life_page(study(grade="commercial", ambient="85 degC"))["grade"]
    assert "−40" not in life_page(study(grade="commercial"))["grade"]
    with pytest.raises(UnknownNameError):
        grade("lunar")


def test_the_curve_stays_within_its_frame_and_names_both_boards():
    picture = life_picture(YEARS, [curve(20), curve(10, "today")], 5, 0.001)
    x1, y1, x2, y2 = picture.box
    assert min(x1, y1) >= 0
    assert x2 <= 174
    assert y2 <= 90
    assert {"after", "today"} <= {text.text for text in picture.texts}


def test_a_curve_below_the_chart_is_not_drawn_over_its_edge():
    svg = life_chart(YEARS, [curve(1e6)], 5, 0.001, prefix="x")
    assert svg.startswith("<svg")


def test_a_chart_needs_curves():
    with pytest.raises(InputError):
        life_picture(YEARS, [], 5, 0.001)


def test_a_part_tells_its_driving_figure_first():
    hard = study(environment="under-hood").parts[1].chosen
    lines = service_says(hard)
    worst = [key for key in SERVICE if key in hard.figures and hard.figures[key].verdict == "marginal"]
    assert any(lines[0].lower().startswith(hard.figures[key].title.lower()) for key in worst)
    assert lines[0].endswith(".")
    assert any(line.startswith("Holds: ") for line in lines)


def test_what_is_not_known_never_drives():
    for result in study().parts:
        first = service_says(result.chosen)[0]
        assert ", not known." not in first


@pytest.mark.parametrize("scale", [0.3, 3, 20, 90])
def test_no_words_of_the_curve_lie_over_others(scale):
    picture = life_picture(YEARS, [curve(scale), curve(0.6 * scale, "today")], 5, 0.001)
    assert texts_clash(picture) == []


def test_a_level_that_nobody_measured_is_no_headline():
    """Copper-like leads under the hood: no share of boards is told, and no middle of a life in the table."""
    page = life_page(study(environment="under-hood"))
    assert "not shown" in page["says"]
    assert "interval" in page["says"]
    assert "After 5 years" not in page["says"]
    told = [row[2] for row in page["rows"]]
    assert any(cell["text"].startswith("computed at least") for cell in told if cell["verdict"]["word"] == "not known")
    mild = life_page(study())
    assert "After 3 years" in mild["says"]


def test_what_is_worth_a_number_is_the_end_that_must_hold():
    from landwise.evidence.figures import figure
    from landwise.evidence.trails import drawn, taken
    from landwise.sheets.lifepage import _short

    def told(low, value, high, limit, measured):
        step = taken("x", drawn((low, value, high), "x", ("landwise-rule",), "years"))
        return _short(figure(step, key="life", title="life", better="more", limit=limit, measured=measured))

    assert told(12.3, 800.0, 4000.0, 12.0, False) == "computed at least 12"
    assert told(1500.0, 9000.0, 40000.0, 10.0, True) == "more than 1\u2009000"
    assert told(4.0, 34.0, 206.0, 10.0, True) == "30 (4…200)"


def test_cycles_of_own_heat_are_told_not_to_be_converted():
    part = {"refs": ["U1"], "terminals": 20, "power": "0.2 W", "options": [{"outline": "TSSOP-20"}]}
    told = [
        life_page(run_study(study_from({"part": [part], "use": use})))["chamber"] for use in ({}, {"switched": 1000})
    ]
    assert ["own heat" in text for text in told] == [False, True]
