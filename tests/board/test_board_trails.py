"""Figures under the board's shared decision: worked again from their trails, which say what the board decided."""

from __future__ import annotations

import pytest

from landwise.board.choice import choose_board
from landwise.evidence.trails import Origin, ends, numbers, replay
from landwise.judging.study import run_study
from landwise.study.file import study_from


def offered(*names):
    return [{"outline": name, "price": 0.05} for name in names]


STUDY = {
    "board": {"length": "60 mm", "width": "40 mm", "classes": [{"name": "fine", "layers": 4, "rate": 1.4}]},
    "line": {
        "foils": ["100 um", "125 um"],
        "powders": ["T5"],
        "rates": [{"family": "gull-wing dual", "bridge": 20, "open": 10}],
    },
    "part": [
        {"refs": ["U1"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SOT-23-5"}
        | {"options": offered("SOT-23-5", "SON-6-1.0x1.0")},
        {"refs": ["U2"], "number": "74HC00", "family": "HC", "terminals": 14, "package": "SO-14"}
        | {"options": offered("SO-14")},
    ],
}


@pytest.fixture(scope="module")
def chosen():
    return choose_board(run_study(study_from(STUDY)), reasons=False)


def test_the_chosen_boards_figures_are_what_their_trails_give(chosen):
    known = {}
    for part in chosen.parts:
        for one in part.chosen.figures.values():
            if one.value is not None:
                low, value, high = numbers(replay(one.gives, known))
                assert value == one.value, (part.name, one.key)
                assert one.low is None or (low, high) == (one.low, one.high), (part.name, one.key)


def test_what_the_board_decided_is_no_default_and_not_stated(chosen):
    model, best = chosen.choice.model, chosen.choice.best
    decided = {}
    for d, decision in enumerate(model.decisions):
        option = model.judged[d, 0, best.choice[0]]
        for given in ends(option.figures["area-ratio"].trail):
            if given.place.endswith(".foil"):
                decided[decision.foil_um, option.geometry.printed.foil.thickness_um] = given
    today = model.decisions[0].foil_um
    assert {given.origin for (_, um), given in decided.items() if um != today} == {Origin.CHOSEN}
    assert {given.origin for (_, um), given in decided.items() if um == today} == {Origin.DEFAULT}
