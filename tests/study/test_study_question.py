"""One question about one part: what is typed reaches the study."""

from __future__ import annotations

import pytest

from landwise.board.choice import choose_board
from landwise.errors import InputError
from landwise.judging.study import run_study
from landwise.study.file import study_from
from landwise.study.question import limit, study_data


def test_on_an_existing_board_another_package_costs_a_change() -> None:
    """The same question of a board that exists and of one that is drawn: the change is what every other option pays."""
    asked = {
        "number": "74HC14",
        "present": "SO-14",
        "options": None,
        "offered": "SO-14=0.10, TSSOP-14=0.05",
        "run": 100,
    }
    costs = {}
    for state in ("new", "existing"):
        data = study_data({**asked, "state": state})
        assert data["board"]["state"] == state
        result = choose_board(run_study(study_from(data)), reasons=False)
        answer = result.choice.answer if result.choice else None
        assert answer is not None
        costs[state] = answer.standings[0].more, result.parts[0].chosen
    assert costs["existing"][1].name == "SO-14"
    assert costs["new"][1].name == "TSSOP-14"
    assert costs["existing"][0]["TSSOP-14"] > 0 > -costs["new"][0]["SO-14"]


def test_what_others_bear_of_the_foil_reaches_the_board() -> None:
    assert study_data({"number": "74HC14", "thickest_foil": "125 um"})["board"]["thickest_foil"] == "125 um"


def test_board_air_coat_supply_and_limits_reach_the_study() -> None:
    asked = {
        "number": "74HC14",
        "thickness": "0.8 mm",
        "drilled_anyway": True,
        "air": "humid",
        "coat": "acrylic",
        "supply": "seen",
        "limits": dict([limit("life=12 years"), limit("height = 1.2 mm"), limit("bridging=1e-6")]),
    }
    content = study_from(study_data(asked)).content
    assert (content.board.thickness, content.board.drilled_anyway) == (0.8, True)
    assert (content.use.air, content.use.coat) == ("humid", "acrylic")
    assert content.want.supply == "seen"
    assert content.want.limits == {"life": "12 years", "height": "1.2 mm", "bridging": 1e-6}


@pytest.mark.parametrize("text", ["life", "=3", "life="])
def test_a_limit_without_name_or_value_says_what_is_expected(text: str) -> None:
    with pytest.raises(InputError, match=r"not a limit.*NAME=VALUE"):
        limit(text)
