"""What else ends a part's life: classes that warn, and what nobody stated is not known."""

from __future__ import annotations

import pytest

from landwise.judging.ends import end_figures
from landwise.judging.study import run_study
from landwise.service.qualification import TESTS
from landwise.study.file import study_from

KEYS = ("whiskers", "corrosion", "handling", "rework", "charge", "die-hours")


def figures(part=None, **use):
    text = {
        "part": [{"refs": ["U1"], "terminals": 16, "options": [{"outline": "TSSOP-16"}], **(part or {})}],
        "use": use,
    }
    return run_study(study_from(text, file="x")).parts[0].options[0].figures


def test_what_nobody_stated_is_not_known_and_fails_nothing():
    found = figures()
    assert {found[key].verdict for key in KEYS} == {"not known", "holds"}
    assert found["rework"].verdict == "holds"
    assert all(found[key].why for key in KEYS)


@pytest.mark.parametrize(
    ("use", "key", "verdict"),
    [
        ({"finish": "nickel-palladium-gold"}, "whiskers", "holds"),
        ({"finish": "matte tin"}, "whiskers", "marginal"),
        ({"finish": "matte tin", "product_class": "3"}, "whiskers", "fails"),
        ({"gas": "G1"}, "corrosion", "holds"),
        ({"gas": "G2"}, "corrosion", "marginal"),
        ({"gas": "GX"}, "corrosion", "not known"),
        ({"handling": 400}, "handling", "holds"),
        ({"handling": 900}, "handling", "marginal"),
        ({"reworks": 1}, "rework", "marginal"),
        ({"reworks": 2}, "rework", "fails"),
        ({"profile": "maker-automotive"}, "die-hours", "marginal"),
        ({"profile": "cabin"}, "die-hours", "holds"),
    ],
)
def test_stated_ends_are_judged(use, key, verdict):
    assert figures(**use)[key].verdict == verdict


@pytest.mark.parametrize(
    ("part", "verdict"),
    [
        ({"hbm": "2 kV", "cdm": "1 kV"}, "holds"),
        ({"hbm": "200 V"}, "marginal"),
        ({"latch_up": 50}, "marginal"),
        ({}, "not known"),
    ],
)
def test_classes_come_from_the_data_sheet(part, verdict):
    assert figures(part)["charge"].verdict == verdict


def test_the_qualification_view_names_a_test_for_each():
    named = {key for test in TESTS for key in test.figures}
    assert {"whiskers", "corrosion", "handling", "charge", "die-hours"} <= named
    assert end_figures is not None
