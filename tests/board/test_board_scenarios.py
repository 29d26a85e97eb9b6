"""One choice weighed over scenarios: its regrets against boards of each scenario chosen by themselves."""

from __future__ import annotations

import json

import pytest

from invented_parts import LITTLE_GATE
from landwise.board.choice import choose_board
from landwise.board.scenarios import study_in
from landwise.cli import main
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.file import result_text
from landwise.sheets.reportdata import content_of
from landwise.sheets.workbook import sheets_of
from landwise.study.file import study_from

OUTLINES = ("SOT-23-5", "SC-70-5", "SOT-5x3-5")
GATE = LITTLE_GATE | {"options": [{"outline": name, "price": 0.05} for name in OUTLINES]}
# Invented prices: each outer package is cheap in one case and dear in the other, the one between never far off.
SCENARIOS = [
    {"name": "first is cheap", "prices": {"U1": {"SOT-23-5": 0.02, "SC-70-5": 0.05, "SOT-5x3-5": 0.30}}},
    {"name": "last is cheap", "run": 20000, "prices": {"U1": {"SOT-23-5": 0.30, "SC-70-5": 0.08, "SOT-5x3-5": 0.04}}},
]
LINE = {"foils": ["100 um"], "foil": "100 um"}
MEMORY = Memory()


def study(want=None, scenarios=SCENARIOS, part=GATE, **tables):
    return study_from({"part": [part], "line": LINE, "want": want or {}, "scenario": scenarios, **tables})


def chosen(one):
    return choose_board(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY)


@pytest.fixture(scope="module")
def robust():
    return chosen(study({"choose_for": "regret"}))


def test_regrets_are_those_of_boards_chosen_one_by_one(robust):
    plain, found = study(), robust.scenarios
    costs = {}
    for table in plain.content.scenario:
        one = study_in(plain, table)
        for name in OUTLINES:
            part = one.content.part[0]
            options = [option for option in part.options if option.outline == name]
            alone = one.content.model_copy(
                update={"part": [part.model_copy(update={"options": options, "package": ""})]}
            )
            kept = chosen(type(one)(alone, one.file, one.folder))
            costs[table.name, name] = kept.choice.cost if kept.parts[0].chosen.name == name else None
    least = {table.name: min(costs[table.name, name] for name in OUTLINES) for table in plain.content.scenario}
    worst = {name: max(costs[at, name] - least[at] for at in least) for name in OUTLINES}
    assert found.proven
    assert found.worst == pytest.approx(min(worst.values()), abs=1e-9)
    assert found.robust["U1"] == min(worst, key=worst.get)
    for row in found.rows:
        assert row.own_cost == pytest.approx(least[row.name])
        assert row.cost == pytest.approx(costs[row.name, found.robust["U1"]])
        assert row.expected == pytest.approx(costs[row.name, found.expected["U1"]] - least[row.name])
    # The board that is shown is that choice, and it costs what it gives up more than the cheapest on average.
    assert robust.parts[0].chosen.name == found.robust["U1"]
    assert found.gives_up == pytest.approx(robust.choice.cost - chosen(study(scenarios=[])).choice.cost)


def test_without_the_wish_the_board_is_the_cheapest_on_average_and_scenarios_stand_beside_it(robust):
    beside = chosen(study())
    assert not beside.scenarios.taken
    assert beside.parts[0].chosen.name == beside.scenarios.expected["U1"]
    assert beside.scenarios.robust == robust.scenarios.robust
    assert beside.choice.answer is not None


def test_result_report_and_sheet_carry_every_scenario(robust, tmp_path, capsys):
    data = json.loads(result_text(robust))["scenarios"]
    assert [row["name"] for row in data["rows"]] == [one["name"] for one in SCENARIOS]
    assert max(row["regret"] for row in data["rows"]) == data["worst"]
    sheet = next(one for one in sheets_of(robust) if one.name == "scenarios")
    assert [row[0] for row in sheet.rows] == [one["name"] for one in SCENARIOS]
    page = content_of(robust)["scenarios"]
    assert len(page["rows"]) == 2
    assert "smallest worst regret" in page["says"].lower()
    file = tmp_path / "board.toml"
    file.write_text(
        'want.choose_for = "regret"\n[line]\nfoils = ["100 um"]\nfoil = "100 um"\n'
        '[[scenario]]\nname = "as planned"\n[[scenario]]\nname = "many"\nrun = 100000\n'
        '[[part]]\nrefs = ["U1"]\nnumber = "1G08"\nfamily = "LVC"\nterminals = 5\npackage = "SOT-23-5"\n'
        'options = [{ outline = "SOT-23-5", price = 0.05 }, { outline = "SC-70-5", price = 0.05 }]\n'
    )
    with pytest.raises(SystemExit) as ended:
        main(["study", str(file), "-o", str(tmp_path / "out"), "--no-drawings"])
    assert ended.value.code in (0, None)
    said = capsys.readouterr().out
    assert "as planned" in said
    assert "many" in said
    assert "regret" in said
    assert "Scenarios" in (tmp_path / "out" / "report.html").read_text()


@pytest.mark.parametrize(
    ("want", "scenarios", "tables", "says"),
    [
        ({"choose_for": "regret"}, [], {}, "weighed over scenarios"),
        ({"choose_for": "regret"}, SCENARIOS[:1], {}, "weighed over scenarios"),
        ({}, [SCENARIOS[0], SCENARIOS[0]], {}, "one name"),
        ({"objective": ["area", "cost"]}, SCENARIOS, {}, "in money"),
        ({"regroup_within": "5 mm"}, SCENARIOS, {}, "not groupings"),
        ({}, [{"name": "a", "prices": {"U9": {"SC-70-5": 1.0}}}], {}, "no such part"),
        ({}, [{"name": "a", "prices": {"U1": {"SO-14": 1.0}}}], {}, "does not name this option"),
        ({}, [{"name": "a", "line": "best"}], {}, "no such line"),
        ({}, [{"name": "a", "line": "nowhere.toml"}], {}, "No such file"),
        ({}, [{"name": "a", "rates": {"charm": 1.0}}], {}, "rate"),
    ],
)
def test_what_scenarios_cannot_serve_is_refused_by_name(want, scenarios, tables, says):
    with pytest.raises(LandwiseError, match=says) as caught:
        chosen(study(want, scenarios, **tables))
    assert caught.value.file == "study"


def test_prices_of_a_scenario_need_options_that_the_part_names():
    part = {key: value for key, value in GATE.items() if key != "options"}
    with pytest.raises(InputError, match="no prices of its own"):
        study_in(study(part=part), study().content.scenario[0])


def test_a_scenario_that_nothing_fits_is_told_and_stops_nothing(tmp_path):
    (tmp_path / "coarse.toml").write_text('[line]\nleast_pitch = "1 mm"\n')
    data = {
        "part": [GATE],
        "line": LINE,
        "scenario": [{"name": "as planned"}, {"name": "coarse", "line": "coarse.toml"}],
    }
    made = chosen(study_from(data, folder=tmp_path))
    assert made.scenarios is None
    assert made.parts[0].chosen is not None
    assert any("in scenario coarse no" in note.says for note in made.notes)
