"""How many packages: the choice over groupings against boards built one by one, and what forbids a grouping."""

from __future__ import annotations

import json
from functools import cache

import pytest

from landwise.board.choice import choose_board
from landwise.board.totals import board_figures
from landwise.board.ways import gate_sets
from landwise.cli import main
from landwise.cli.terminal import console, print_grouping
from landwise.costs.rates import default_rates
from landwise.errors import InputError
from landwise.evidence.trails import numbers, replay
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.results.file import result_data, result_text
from landwise.results.resultjson import ResultJson
from landwise.sheets.report import html_text
from landwise.study.file import study_from
from landwise.study.question import study_data

SINGLE = [{"outline": "SOT-23-5", "price": 0.05}, {"outline": "SC-70-5", "price": 0.052}]
DUAL = [{"outline": "VSSOP-8", "price": 0.08}]
QUAD = [{"outline": "TSSOP-14", "price": 0.12}, {"outline": "SO-14", "price": 0.11}]
KINDS = [
    {"number": "1G08", "units": 1, "options": SINGLE},
    {"number": "2G08", "units": 2, "options": DUAL},
    {"number": "08", "units": 4, "options": QUAD},
]
LINE = {"foils": ["120 um"], "foil": "120 um", "print": "as lands", "inspection": ["optical"]}
OTHER = {
    "refs": ["U9"],
    "number": "32",
    "family": "LVC",
    "terminals": 14,
    "package": "TSSOP-14",
    "options": [{"outline": "TSSOP-14", "price": 0.1}],
}


def gate(ref: str, **more):
    part = {"refs": [ref], "number": "1G08", "family": "LVC", "package": "SOT-23-5", "options": SINGLE}
    return {**part, "terminals": 5, **more}


def study(*parts, regroup=None, **tables):
    refs = [part["refs"][0] for part in parts if part["refs"] != ["U9"]]
    marked = [{"refs": refs, "kinds": KINDS}] if regroup is None else regroup
    return study_from({"part": list(parts), "regroup": marked, "line": LINE, **tables})


@cache
def three(price: float = 0.05, board: str = "{}", costs: str = "{}", quad: float = 0.12):
    single = [{"outline": "SOT-23-5", "price": price}, {"outline": "SC-70-5", "price": price + 0.002}]
    gates = [gate(f"U{n}", options=single) for n in (1, 2, 3)]
    kinds = [{**KINDS[0], "options": single}, KINDS[1], {**KINDS[2], "options": [{**QUAD[0], "price": quad}, QUAD[1]]}]
    if quad > 0.12:
        kinds[2]["options"] = kinds[2]["options"][:1]
    made = study(
        *gates,
        OTHER,
        regroup=[{"refs": ["U1", "U2", "U3"], "kinds": kinds}],
        board=json.loads(board),
        costs=json.loads(costs),
    )
    return choose_board(run_study(made))


def plain_cost(parts) -> float:
    """The best board of these parts, nothing regrouped."""
    return choose_board(run_study(study_from({"part": parts, "line": LINE}))).choice.searched.value


def test_a_regrouped_boards_totals_are_what_their_trails_give_and_its_cost_the_searchs():
    result = three()
    assert not result.regrouped.sets[0].chosen.way.today
    figures, known = board_figures(result.choice, result.parts), {}
    for one in figures:
        low, value, high = numbers(replay(one.gives, known))
        assert value == one.value, one.key
        assert one.low is None or (low, high) == (one.low, one.high), one.key
    value = {one.key: one.value for one in figures}
    assert value["cost"] == pytest.approx(result.regrouped.cost, rel=1e-12)
    lines = [amount for key, amount in value.items() if key.startswith("cost-")]
    assert sum(lines) == pytest.approx(value["cost"], rel=1e-12)


def test_every_way_costs_what_its_board_costs_when_built_by_itself():
    result = three()
    rates = {name: rate.value for name, rate in default_rates().items()}
    per_capacitor = rates["decoupling"] + rates["placement"] + rates["board_area"] * 0.02  # 2 mm² of courtyard
    dual = {"refs": ["D1"], "number": "2G08", "family": "LVC", "terminals": 8, "options": DUAL}
    quad = {"refs": ["Q1"], "number": "08", "family": "LVC", "terminals": 14, "options": QUAD}
    boards = {
        # packages: the parts, capacitors, unused gates, nets that move
        "3 × 1G08": ([{**gate("U1"), "refs": ["U1", "U2", "U3"]}], 3, 0, 0),
        "1 × 2G08 + 1 × 1G08": ([dual, gate("U3")], 2, 0, 3),
        "2 × 2G08": ([{**dual, "refs": ["D1", "D2"]}], 2, 1, 3),
        "1 × 08": ([quad], 1, 1, 6),
    }
    answer = result.regrouped.sets[0]
    assert {one.way.says for one in answer.ways} == set(boards)
    expected = {}
    for one in answer.ways:
        parts, capacitors, unused, nets = boards[one.way.says]
        beside = capacitors * per_capacitor + unused * 2 * rates["tie_off"] + nets * rates["net_moved"]
        expected[one.way.says] = plain_cost([*parts, OTHER]) + beside
        assert one.cost == pytest.approx(expected[one.way.says], abs=1e-9), one.way.says
        assert (one.way.unused, one.way.nets_moved) == (unused, nets)
    assert result.regrouped.cost == pytest.approx(min(expected.values()))
    assert result.regrouped.bound == pytest.approx(min(expected.values()))
    assert result.regrouped.kept == pytest.approx(expected["3 × 1G08"])
    # The board that the study then explains is that of the way taken, at the same cost.
    assert result.choice.cost == pytest.approx(answer.chosen.cost)
    assert sum(answer.chosen.lines.values()) == pytest.approx(answer.chosen.cost)


def test_prices_move_the_answer_from_one_quad_to_three_singles():
    quad, singles = three(0.05), three(0.005, quad=0.4)
    assert quad.regrouped.sets[0].ways[0].way.says == "1 × 08"
    assert singles.regrouped.sets[0].ways[0].way.says == "3 × 1G08"
    assert [part.part.number for part in quad.parts] == ["08", "32"]
    assert [part.part.number for part in singles.parts] == ["1G08", "1G08", "1G08", "32"]


def test_a_changed_board_costs_its_change_only_where_it_exists():
    exists = three(0.05, '{"state": "existing"}', '{"run": 100}')
    assert exists.regrouped.sets[0].chosen.way.today
    moved = next(one for one in exists.regrouped.sets[0].ways if one.way.says == "1 × 08")
    assert moved.lines["change"] == pytest.approx(default_rates()["change"].value / 100)


def test_tracks_cost_board_where_places_are_known_and_a_stated_price_counts_instead():
    places = {"U1": 0.0, "U2": 10.0, "U3": 30.0}
    parts = [gate(ref, at={ref: [f"{5 + x} mm", "5 mm"]}) for ref, x in places.items()]
    sets, _ = gate_sets(Bench.of(study(*parts)))
    quad = next(way for way in sets[0].ways if way.says == "1 × 08")
    assert quad.track_mm == pytest.approx(3 * (10 + 20))  # three nets of each gate, to the gate in the middle
    assert quad.parts[0].refs == ["U2"]
    pair = next(way for way in sets[0].ways if way.says == "1 × 2G08 + 1 × 1G08")
    assert pair.track_mm == pytest.approx(3 * 10)  # the two nearest share
    room = [load for load in quad.beside[0] if load.line == "tracks"]
    assert sum(load.units for load in room) == pytest.approx(90 * (0.15 + 0.15) / 2 / 100)  # cm², two layers
    stated = study(*parts, costs={"rates": {"net_moved": 0.01}})
    again = next(way for way in gate_sets(Bench.of(stated))[0][0].ways if way.says == "1 × 08")
    assert [load.units for load in again.beside[0] if load.rates == ("net_moved",)] == [6.0]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"supply": "5 V"}, "another supply"),
        ({"timing": "clock"}, "another timing group"),
        ({"family": "HC"}, "another family"),
        ({"locked": True}, "it is locked"),
        ({"group": "a"}, "tied to its group"),
    ],
)
def test_what_must_not_share_a_package_never_does(more, says):
    sets, told = gate_sets(Bench.of(study(gate("U1"), gate("U2"), gate("U3", **more))))
    assert all("U3" not in one.refs for one in sets if "U1" in one.refs)
    assert any(says in line for line in told)


def test_parts_that_stay_apart_and_timing_groups_bound_the_ways():
    apart, told = gate_sets(Bench.of(study(gate("U1"), gate("U2"), gate("U3", apart=["U1"]))))
    assert "1 × 08" not in {way.says for way in apart[0].ways}
    assert any("must stay apart" in line for line in told)
    timed, _ = gate_sets(Bench.of(study(*(gate(f"U{n}", timing="clock") for n in (1, 2, 3)))))
    assert {way.says for way in timed[0].ways} == {"3 × 1G08", "1 × 08"}
    with pytest.raises(InputError, match="no such reference"):
        gate_sets(Bench.of(study(gate("U1", apart=["U77"]), gate("U2"))))


def test_a_quad_with_gates_to_spare_may_be_split_and_near_places_mark_themselves():
    quad = {"refs": ["U4"], "number": "08", "family": "LVC", "terminals": 14, "package": "TSSOP-14", "gates": 2}
    sets, _ = gate_sets(Bench.of(study(quad, regroup=[{"refs": ["U4"]}])))
    ways = {way.says: way for way in sets[0].ways}
    assert set(ways) == {"1 × 08", "1 × 2G08", "2 × 1G08"}
    assert ways["1 × 08"].unused == 2
    assert ways["2 × 1G08"].parts[0].refs == ["U4", "U4-2"]
    places = {"U1": 5, "U2": 12, "U3": 80}
    parts = [gate(ref, at={ref: [f"{x} mm", "5 mm"]}) for ref, x in places.items()]
    near, _ = gate_sets(Bench.of(study(*parts, regroup=[], want={"regroup_within": "15 mm"})))
    assert [one.refs for one in near] == [("U1", "U2")]


def test_power_goes_with_the_gates():
    parts = [gate(f"U{n}", power=f"{n} mW") for n in (1, 2, 3)]
    sets, _ = gate_sets(Bench.of(study(*parts)))
    quad = next(way for way in sets[0].ways if way.says == "1 × 08")
    assert quad.parts[0].power == pytest.approx(0.006)


def test_result_schema_and_words_carry_every_way():
    data = ResultJson.model_validate(result_data(three())).grouping
    assert data.value <= data.kept
    one = data.sets[0]
    assert one.ways[one.chosen].packages == {"08": 1}
    assert [way.more for way in one.ways] == sorted(way.more for way in one.ways)
    assert "decoupling capacitors" in one.decides or "placement" in one.decides
    assert result_data(choose_board(run_study(study_from({"part": [OTHER], "line": LINE}))))["grouping"] is None


def test_compare_asks_for_so_many_gates_and_prints_every_way(capsys):
    asked = study_data({"function": "2-input AND", "gates": 3, "net_cost": 0.004, "run": 500})
    assert [(part["number"], part["refs"]) for part in asked["part"]] == [("1G08", ["gate 1", "gate 2", "gate 3"])]
    assert asked["costs"] == {"run": 500, "rates": {"net_moved": 0.004}}
    ways = {way.says for way in gate_sets(Bench.of(study_from(asked)))[0][0].ways}
    assert ways == {"3 × 1G08", "1 × 2G08 + 1 × 1G08", "2 × 2G08", "1 × 08"}
    quads = study_data({"number": "74LVC08", "gates": 6})["part"]
    assert [(part["refs"], part.get("gates")) for part in quads] == [(["gate 1"], None), (["gate 2"], 2)]
    with pytest.raises(InputError, match="one gate and of several"):
        study_data({"function": "shift register", "gates": 3})
    print_grouping(console(), three())
    said = capsys.readouterr().out
    for words in ("How many packages", "1 × 08", "3 × 1G08", "1 × 2G08", "what decides", "tie every unused input"):
        assert words in said


def test_report_and_explain_tell_the_trade(tmp_path, capsys):
    page = html_text(three(), ["", ""])
    assert "How many packages" in page
    assert "What decides, against" in page
    file = tmp_path / "result.json"
    file.write_text(result_text(three()))
    with pytest.raises(SystemExit) as end:
        main(["explain", str(file), "grouping"])
    assert end.value.code in (0, None)
    said = capsys.readouterr().out
    assert "→ 1 × 08" in said
    assert "tie-off" in said


def test_failures_in_the_field_are_weighed_in_all_ways_or_in_none():
    """Nothing anchors the life of a drilled quad: the ways then differ by what they differ by without failures."""
    kinds = [
        {"number": "1G08", "units": 1, "options": [{"outline": "SC-70-5", "price": 0.04}]},
        {
            "number": "08",
            "units": 4,
            "options": [{"outline": "SO-14", "price": 0.11}, {"outline": "DIP-14", "price": 0.1}],
        },
    ]
    part = {"refs": ["U1", "U2", "U3"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SC-70-5"}
    part["options"] = kinds[0]["options"]

    def costs(failure):
        data = {"part": [part], "regroup": [{"refs": part["refs"], "kinds": kinds}], "line": {"foil": "100 um"}}
        data |= {"want": {"supply": "any"}, "costs": {"rates": {"field_failure": failure}}}
        found = choose_board(run_study(study_from(data)), reasons=False).regrouped
        return [way.cost for way in found.sets[0].ways], found.told

    with_failures, told = costs(5.0)
    without, silent = costs(0.0)
    assert with_failures == pytest.approx(without, rel=1e-9)
    assert "without failures in the field" in told[0]
    assert silent == ()
