"""A part's own heat as cycles: rises from power and resistance, damage added by Miner, and what isn't known said."""

from __future__ import annotations

import pytest

from landwise.errors import InputError
from landwise.judging.life import place_of
from landwise.judging.ownheat import own_heat, place_with
from landwise.judging.study import run_study
from landwise.outlines import find
from landwise.service.heatfield import over_board
from landwise.service.resistances import best_sheet
from landwise.sheets.lifepage import life_page
from landwise.study.file import study_from


def study(power="0.3 W", board=None, part=None, **use):
    table = {"refs": ["U1"], "terminals": 16, "power": power, "options": [{"outline": "TSSOP-16"}], **(part or {})}
    return study_from({"part": [table], "use": use, "board": board or {}}, file="x")


def figures(*args, **kwargs):
    return run_study(study(*args, **kwargs)).parts[0].options[0].figures


def test_the_rises_are_power_times_the_sheets_resistances():
    """Hand-worked from the data sheet's row: over the board θJB or ψJB times power, the board the rest of θJA."""
    found = own_heat(study(switched=2000).content, "U1", find("TSSOP-16"), ())
    row = best_sheet(["TSSOP-16"], 16).rows["TSSOP-16"]
    over = over_board(row.ja, row.to_board).value
    assert found.over_k == pytest.approx(0.3 * over)
    assert found.board_k + found.over_k == pytest.approx(0.3 * row.ja)
    cooler = own_heat(study("0.1 W", switched=2000).content, "U1", find("TSSOP-16"), ())
    assert (cooler.over_k, cooler.board_k) == (pytest.approx(found.over_k / 3), pytest.approx(found.board_k / 3))


def test_damage_of_own_heat_adds_to_that_of_the_place():
    """Miner's sum by hand from the lives of each kind of cycle alone."""
    from landwise.judging.lifetime import board_expansion, joint_of
    from landwise.service.environments import Environment
    from landwise.service.lives import life

    result = run_study(study(switched=2000))
    option = result.parts[0].options[0]
    place = place_of(option.figures["life"], result.content)
    joint, board = joint_of(option.geometry, result.content), board_expansion(result.content)
    alone = [life(joint, Environment("x", "x", (line,), 3, 0.01), board).median_years for line in place.cycles]
    together = life(joint, place, board).median_years
    assert len(alone) == 2
    assert 1 / together == pytest.approx(sum(1 / each for each in alone))
    terms = next(step for step in option.figures["life"].trail if "Miner" in step.says)
    assert (len(terms.inputs), terms.value) == (2, pytest.approx(1 / together))
    assert any("of its own" in name and "2000 a year" in text for name, text in terms.inputs.items())


def test_more_switching_and_more_power_shorten_the_life():
    quad = {"terminals": 20, "options": [{"outline": "QFN-20-2.5x4.5"}]}
    cases = (("0.1 W", 500), ("0.3 W", 500), ("0.3 W", 5000))
    years = [figures(power, part=quad, switched=often)["life"].value for power, often in cases]
    assert years[0] > years[1] > years[2]
    # Leads, whose solder creeps in proportion to the time on, tire more by few long times than by many short ones.
    long, short = (figures("0.3 W", switched=often)["life"].value for often in (500, 5000))
    assert long < short
    assert figures("0 W", switched=2000)["life"].value == pytest.approx(figures()["life"].value, rel=0.01)


def test_a_part_of_its_own_load_is_switched_without_the_others():
    """The product switched, all others warm the board too; a load of its own warms its own board alone."""
    board = {"length": "80 mm", "width": "50 mm", "other_power": "1 W"}
    whole = own_heat(study(board=board, switched=2000).content, "U1", find("TSSOP-16"), ())
    alone = own_heat(study(board=board, part={"switched": 2000}).content, "U1", find("TSSOP-16"), ())
    assert whole.board_k > alone.board_k + 5
    assert (whole.over_k, whole.per_year) == (alone.over_k, alone.per_year)


def test_what_nobody_stated_never_holds():
    without = study_from(
        {"part": [{"refs": ["U1"], "terminals": 16, "options": [{"outline": "TSSOP-16"}]}], "use": {"switched": 2000}},
        file="x",
    )
    figure = run_study(without).parts[0].options[0].figures["life"]
    assert (figure.verdict, "state its power" in figure.why) == ("not known", True)
    no_sheet = figures(part={"options": [{"outline": "QFN-16-3x3"}]}, switched=2000)["life"]
    assert (no_sheet.verdict, "no sheet" in no_sheet.why) == ("not known", True)
    assert figures()["life"].verdict == "holds"


def test_switching_faster_than_the_method_reaches_is_refused_not_stretched():
    figure = figures(switched=300_000)["life"]
    assert (figure.value, figure.verdict) == (None, "not known")
    with pytest.raises(InputError, match="negative"):
        study(switched=-1)


def test_the_page_takes_the_life_with_its_own_heat():
    result = run_study(study(switched=5000))
    page = life_page(result)
    assert "own heat" in page["decomposed"]
    assert place_with(result.content, None).cycles == place_of(figures()["life"], result.content).cycles
