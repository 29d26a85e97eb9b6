"""What else ends a part's life: classes that warn, and what nobody stated is not known."""

from __future__ import annotations

import math

import pytest

from landwise.errors import InputError
from landwise.judging.ends import end_figures
from landwise.judging.study import run_study
from landwise.service.qualification import TESTS
from landwise.study.file import study_from

KEYS = ("whiskers", "corrosion", "handling", "rework", "storage", "charge", "die-hours")


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
        ({"hours": [{"temperature": "40 °C", "hours": "9000 h"}]}, "die-hours", "holds"),
        ({"hours": [{"temperature": "110 °C", "hours": "9000 h"}]}, "die-hours", "marginal"),
        ({"sealed": 6, "open_days": 20}, "storage", "holds"),
        ({"sealed": 20}, "storage", "marginal"),
        ({"sealed": 40, "open_days": 10}, "storage", "not known"),
        ({"sealed": 40, "open_days": 10, "retested": True}, "storage", "holds"),
    ],
)
def test_stated_ends_are_judged(use, key, verdict):
    assert figures(**use)[key].verdict == verdict


def test_hours_of_the_air_want_the_parts_own_rise():
    """The field's worth by hand: Arrhenius with 0.7 eV at the junction, air and rise added (JEP122 form)."""
    air = {"hours": [{"temperature": "70 °C", "hours": "10000 h"}], "hours_of": "air", "ambient": "60 °C"}
    unknown = figures({"terminals": 8, "options": [{"outline": "DFN-8-2x2"}]}, **air)  # no sheet prints its resistance
    assert unknown["junction-temperature"].value is None
    assert (unknown["die-hours"].verdict, "isn't known" in unknown["die-hours"].why) == ("not known", True)
    found = figures({"power": "200 mW"}, **air)
    rise = found["junction-temperature"].value - 60
    assert rise > 5
    factor = math.exp(0.7 / 8.617333262e-5 * (1 / (70 + rise + 273.15) - 1 / (125 + 273.15)))
    assert f"{10000 / factor:.0f} h at 125 °C" in found["die-hours"].why


def test_hours_are_stated_once():
    with pytest.raises(InputError, match="stated twice"):
        figures(profile="cabin", hours=[{"temperature": "40 °C", "hours": "9000 h"}])


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


def test_every_term_of_the_hours_is_told_and_they_add_up():
    """A sum by hand: Arrhenius' factors of 0.7 eV at 85, 40 and 25 °C against 125 °C (JEP122 form)."""
    use = {
        "hours": [{"temperature": "85 °C", "hours": "2000 h"}, {"temperature": "40 °C", "hours": "10000 h"}],
        "off": [{"temperature": "25 °C", "hours": "14000 h"}],
        "stored": [{"temperature": "25 °C", "hours": "500 h"}],
        "years": 3,
    }
    found = figures(**use)["die-hours"]

    def worth(hours, at_c):
        return hours * math.exp(-0.7 / 8.617333262e-5 * (1 / (at_c + 273.15) - 1 / 398.15))

    by_hand = worth(2000, 85) + worth(10000, 40) + worth(14500, 25)
    assert f"worth {by_hand:.0f} h at 125 °C" in found.why
    told = [step.says for step in found.trail]
    assert sum("without power at 25 °C" in text or "on the shelf at 25 °C" in text for text in told) == 2
    assert f"{by_hand / 1000:.2g} of the usual plan's 1000 h" in told[-1]
    # 3 years hold 26,298 h: all but 298 of them are stated, on or off; half of them stated is told.
    assert "stated neither" not in found.why
    assert "16298 of the 26298 h" in figures(**{**use, "off": [], "hours": use["hours"][1:]})["die-hours"].why


def test_hours_without_power_stand_beside_powered_ones():
    with pytest.raises(InputError, match="stand alone"):
        figures(off=[{"temperature": "25 °C", "hours": "100 h"}])


def test_more_hours_than_the_years_hold_are_asked_about():
    from landwise.judging.lifetime import asked_of

    rows = {"hours": [{"temperature": "40 °C", "hours": "20000 h"}], "years": 3, "environment": "telecom"}
    fits = study_from({"use": {**rows, "off": [{"temperature": "20 °C", "hours": "6000 h"}]}}, file="x")
    over = study_from({"use": {**rows, "off": [{"temperature": "20 °C", "hours": "9000 h"}]}}, file="x")
    assert not any("more hours" in text for text in asked_of(fits.content))
    assert any("more hours" in text for text in asked_of(over.content))
