"""The board on its panel, from the study to what it says: money in steps, room where the outline is fixed.

Worked by hand on one part: today's SO-16, and a TSSOP-16 that saves 69.07 mm² on two places, dearer by 0.005 each.
"""

from __future__ import annotations

import math

import pytest

from landwise.board.choice import choose_board, rank_each
from landwise.board.panelled import panelled
from landwise.board.sizes import ROOM
from landwise.board.totals import board_figures
from landwise.errors import InputError
from landwise.evidence.trails import behind, replay
from landwise.judging.limits import LimitKey
from landwise.judging.notes import NoteKey
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.choice import choice_data, panel_line
from landwise.results.choicejson import ChoiceJson
from landwise.results.choicewords import choice_lines
from landwise.study.file import study_from

MEMORY = Memory()
PANEL = {"length": "200 mm", "width": "130 mm", "border": "5 mm", "gap": "2 mm", "price": 20.0}


def data_of(run=2000, **board):
    """A board of 40 × 30 mm on a panel of 190 × 120 mm inside the border: 12 of it, and 16 at 28.5 mm of width."""
    options = [{"outline": "SO-16", "price": 0.10}, {"outline": "TSSOP-16", "price": 0.105}]
    part = {"refs": ["U1", "U2"], "number": "595", "family": "HC", "terminals": 16, "package": "SO-16"}
    whole = {"length": "40 mm", "width": "30 mm", "may_shrink": True, "shrinks": "width", "panel": PANEL} | board
    line = {"foil": "120 um", "print": "as lands"}
    costs = {"run": run, "unit": "EUR", "rates": {"outline": 0.0}}
    return {"part": [part | {"options": options}], "board": whole, "line": line, "costs": costs}


def chosen(**more):
    return choose_board(run_study(study_from(data_of(**more))), memory=MEMORY, reasons=False)


@pytest.fixture(scope="module")
def shrunk():
    return chosen()


def test_a_dearer_package_pays_where_it_brings_a_row_more(shrunk):
    # 20/12 = 1.67 a board at 30 mm, 20/16 = 1.25 at 28.5 mm; the packages cost 2 × 0.005 more, and their defects 0.1.
    found, problem = panelled(shrunk.choice), shrunk.choice.model.problem
    assert shrunk.parts[0].chosen.name == "TSSOP-16"
    assert ROOM in [row.name for row in problem.rows]
    assert ROOM not in problem.limits  # what a size means is no limit that could be lifted
    assert (found.today.images, found.chosen.images) == (12, 16)
    assert found.money == pytest.approx(20 * math.ceil(2000 / 16) / 2000)
    assert found.today_money == pytest.approx(20 * math.ceil(2000 / 12) / 2000)
    areas = {option.name: option.area_mm2 for option in shrunk.parts[0].options}
    assert found.saved_mm2 == pytest.approx(2 * (areas["SO-16"] - areas["TSSOP-16"]))
    assert found.chosen.width_mm == pytest.approx(30 - found.saved_mm2 / 40)
    assert shrunk.choice.today - shrunk.choice.cost > 0


def test_what_it_says_is_money_with_the_size_and_the_step(shrunk):
    said = panel_line(shrunk.choice)
    assert said.startswith("69.1 mm² saved: the board shrinks from 40 × 30 to 40 × 28.27 mm, 16 boards a panel instead")
    assert "0.42 EUR a board less" in said
    told = ChoiceJson.model_validate(choice_data(shrunk.choice))
    assert told.panel.images == 16
    assert told.decision.endswith("16 boards a panel")


def test_the_panel_is_a_line_of_the_cost_whose_trail_goes_back_to_the_panel(shrunk):
    figures = {one.key: one for one in board_figures(shrunk.choice, shrunk.parts)}
    line = figures["cost-panel"]
    assert line.value == pytest.approx(1.25)
    assert figures["cost"].value == pytest.approx(shrunk.choice.cost, rel=1e-9)
    names = {step.name_of_function.rpartition(".")[2] for step in behind(line.trail)}
    assert {"images_on", "panels_a_board", "panel_loads", "panel_area"} <= names
    assert replay(line.trail[-1]) == pytest.approx((1.25,) * 3)
    assert "cost-area" not in figures


def test_on_a_fixed_outline_area_is_room_and_the_step_is_told():
    found = chosen(may_shrink=False)
    assert found.parts[0].chosen.name == "SO-16"
    told = panelled(found.choice)
    assert told.fixed
    assert told.following.images == 16
    assert told.following.more_mm2 == pytest.approx(40 * 1.5)
    assert panel_line(found.choice).endswith(
        "if the outline could be 40 × 28.5 mm (60 mm² less) 16 a panel, 0.42 EUR a board less"
    )


def test_of_few_boards_one_panel_is_bought_either_way():
    # Five boards: one panel at 12 as at 16, so that the dearer package brings nothing.
    found = chosen(run=5)
    assert found.parts[0].chosen.name == "SO-16"
    assert panelled(found.choice).following is None


def test_of_either_side_the_one_that_brings_more_gives_way():
    # Turned, 30 mm along 190 lie six times (190) and 38.67 mm across 120 three times: 18, for 40 mm² less.
    found = panelled(chosen(shrinks="either").choice)
    assert found.chosen.images == 18
    assert found.chosen.width_mm == 30
    assert found.chosen.length_mm < 38.667


def test_a_panel_without_a_price_is_paid_by_its_area():
    plain = {key: value for key, value in PANEL.items() if key != "price"}
    found = panelled(chosen(panel=plain).choice)
    rate = 0.06  # per cm², the shipped rate
    assert found.today_money == pytest.approx(rate * 20 * 13 * math.ceil(2000 / 12) / 2000)


@pytest.mark.parametrize(
    ("board", "says"),
    [
        ({"length": "40 mm", "panel": PANEL}, "boards on a panel can't be counted"),
        ({"length": "400 mm", "width": "30 mm", "panel": PANEL}, "the panel holds no board"),
        ({"length": "40 mm", "width": "30 mm", "panel": PANEL | {"gap": "-1 mm"}}, "gap"),
        ({"length": "40 mm", "width": "30 mm", "panel": PANEL, "classes": [{"name": "fine"}]}, "panel_price"),
    ],
)
def test_a_panel_that_makes_no_sense_is_refused_with_its_place(board, says):
    with pytest.raises(InputError, match=says):
        study_from({"board": board, "part": []})


def test_packages_that_no_panel_holds_are_a_limit_that_is_named():
    part = {"refs": ["U1"], "terminals": 16, "number": "595", "family": "HC", "package": "TSSOP-16"}
    part["options"] = [{"outline": "TSSOP-16", "price": 5.0}, {"outline": "SO-16", "price": 0.01}]
    small = {"length": "20 mm", "width": "10 mm", "may_shrink": True, "shrinks": "width"}
    small["panel"] = {"length": "21 mm", "width": "11 mm", "border": "0 mm", "price": 1.0}
    data = {"part": [part], "board": small, "line": {"foil": "100 um"}}
    found = choose_board(run_study(study_from(data)), memory=MEMORY)
    assert found.parts[0].chosen.name == "TSSOP-16"
    model = found.choice.model
    prices = {model.limits[price.name].key: price.saved for price in found.choice.limits}
    assert prices[LimitKey.PANEL] == pytest.approx(5.0, abs=1.0)  # the cheap package stands on no board of the panel
    said = choice_lines(ChoiceJson.model_validate(choice_data(found.choice)))
    assert any("the largest board that the panel holds" in line for line in said)


def test_each_part_by_itself_counts_what_it_saves_of_the_panel():
    judged = run_study(study_from(data_of()))
    ranked = rank_each(judged, memory=MEMORY)
    alone = {option.name: option for option in ranked.parts[0].options}
    assert ranked.parts[0].chosen.name == "TSSOP-16"
    assert ranked.choice is None
    fixed = rank_each(run_study(study_from(data_of(may_shrink=False))), memory=MEMORY)
    assert fixed.parts[0].chosen.name == "SO-16"  # room alone does not pay for it
    assert set(alone) == {"SO-16", "TSSOP-16"}


def test_a_study_that_is_stopped_keeps_a_board_on_the_panel_with_its_gap():
    stopped = choose_board(run_study(study_from(data_of())), memory=MEMORY, reasons=False, stop=lambda: True)
    choice = stopped.choice
    assert stopped.notes[0].key is NoteKey.STOPPED_EARLY
    assert choice.best.found
    assert choice.model.problem.holds(choice.best.decision, choice.best.choice)
    assert choice.best.bound <= choice.best.value
    assert "boards a panel" in panel_line(choice)
