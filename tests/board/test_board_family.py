"""Several boards from one stock: against listing both boards' choices, and what is told of it."""

from __future__ import annotations

import csv
import io
import itertools
import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from landwise.board.family import choose_family
from landwise.cli import app
from landwise.errors import InputError
from landwise.memory import Memory
from landwise.results.family import breaks_even, family_data, family_text, hangs_say, moves, stock_csv, totals_say
from landwise.study.file import ScenarioTable, study_from

GATE = {"function": "2-input AND gate", "number": "1G08", "family": "LVC", "terminals": 5}
LINE = {"preset": "ordinary", "foils": ["100 um"], "foil": "100 um"}


def board(name, run, prices, **more):
    options = [{"outline": outline, "price": price} for outline, price in prices.items()]
    return study_from(
        {
            "board": {"name": name},
            "line": LINE,
            "costs": {"run": run, "rates": {"outline": 60.0}},
            "part": [{"refs": ["U1"], "options": options, **GATE, **more}],
        }
    )


@pytest.fixture(scope="module")
def memory():
    return Memory()


@pytest.fixture(scope="module")
def pair(memory):
    boards = {
        "large": board("large", 20_000, {"SOT-23-5": 0.030, "SC-70-5": 0.060}),
        "small": board("small", 1_000, {"SOT-23-5": 0.046, "SC-70-5": 0.030}),
    }
    return choose_family(boards, memory=memory)


def test_the_small_board_takes_what_the_large_one_has(pair):
    assert pair.together.status == "optimal"
    assert moves(pair) == [("small", ["U1"], "SC-70-5", "SOT-23-5")]
    assert pair.used(alone=False) == ("SOT-23-5",)


def test_the_family_is_the_cheapest_of_all_pairs_of_packages(pair):
    one, other = pair.members
    costs = {}
    for mine, its in itertools.product(range(2), range(2)):
        names = {one.model.names[0][mine], other.model.names[0][its]}
        own = [
            min(
                member.run * (problem.cost[d, 0, k] + problem.shared_cost[d])
                for d in range(problem.decisions)
                if problem.holds(d, (k,))
            )
            for member, problem, k in (
                (one, one.model.problem, mine),
                (other, other.model.problem, its),
            )
        ]
        costs[mine, its] = sum(own) + 60.0 * len(names)
    assert pair.value == pytest.approx(min(costs.values()))


def test_the_totals_add_up_and_the_break_even_is_where_both_choices_cost_the_same(pair):
    apart = sum(one.run * one.cost_alone for one in pair.members) + 2 * 60.0
    assert pair.apart == pytest.approx(apart)
    assert pair.shared == pytest.approx(apart)  # two different outlines: nothing is shared yet
    even = breaks_even(pair)
    dearer = sum(one.run * (one.cost - one.cost_alone) for one in pair.members)
    assert even == pytest.approx(dearer)
    assert 0 < even < 60
    assert f"below {even:.3g}" in hangs_say(pair)
    assert "1 outline fewer" in " ".join(totals_say(pair))


def test_stock_and_data_say_the_same(pair):
    rows = list(csv.DictReader(io.StringIO(stock_csv(pair))))
    assert [(row["outline"], row["number"], int(row["pieces"])) for row in rows] == [("SOT-23-5", "74LVC1G08", 21_000)]
    data = json.loads(family_text(pair))
    assert data == json.loads(json.dumps(family_data(pair)))
    assert data["boards"][1]["parts"][0]["together"] == "SOT-23-5"


def test_an_outline_that_an_existing_board_carries_costs_the_others_nothing(memory):
    boards = {
        "old": study_from(
            {
                "board": {"name": "old", "state": "existing"},
                "line": LINE,
                "part": [{"refs": ["U1"], "package": "SC-70-5", "options": [{"outline": "SC-70-5"}], **GATE}],
            }
        ),
        "new": board("new", 1_000, {"SOT-23-5": 0.030, "SC-70-5": 0.030}),
    }
    found = choose_family(boards, memory=memory)
    assert found.outlines["SC-70-5"] == 0
    assert found.members[1].outlines(found.members[1].together) == ("SC-70-5",)


def test_price_breaks_count_the_pieces_of_all_boards(memory):
    def with_breaks(name, run):
        prices = {"1": 0.20, "5000": 0.03}
        return study_from(
            {
                "board": {"name": name},
                "line": LINE,
                "costs": {"run": run},
                "part": [
                    {
                        "refs": ["U1"],
                        "options": [{"outline": "SC-70-5", "prices": prices}, {"outline": "SOT-23-5", "price": 0.1}],
                        **GATE,
                    }
                ],
            }
        )

    found = choose_family({"a": with_breaks("a", 3000), "b": with_breaks("b", 3000)}, memory=memory)
    assert [one.outlines(one.alone)[0] for one in found.members] == ["SOT-23-5", "SOT-23-5"]
    assert [one.outlines(one.together)[0] for one in found.members] == ["SC-70-5", "SC-70-5"]


def test_what_is_no_family_is_refused_in_words(memory):
    one = board("one", 100, {"SOT-23-5": 0.03})
    with pytest.raises(InputError, match="two boards or more"):
        choose_family({"one": one}, memory=memory)
    other = study_from({"costs": {"unit": "EUR"}, "part": [{"refs": ["U1"], **GATE}]})
    with pytest.raises(InputError, match="one money"):
        choose_family({"one": one, "other": other}, memory=memory)


def test_the_command_writes_page_data_and_stock(tmp_path):
    for name, run in (("a", 2000), ("b", 500)):
        (tmp_path / f"{name}.toml").write_text(
            f'[board]\nname = "{name}"\n[line]\npreset = "ordinary"\nfoils = ["100 um"]\nfoil = "100 um"\n'
            f"[costs]\nrun = {run}\n"
            '[[part]]\nrefs = ["U1"]\nfunction = "2-input AND gate"\nnumber = "1G08"\nfamily = "LVC"\nterminals = 5\n'
            'options = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.031 }]\n'
        )
    out = tmp_path / "out"
    ran = CliRunner().invoke(app, ["family", str(tmp_path / "a.toml"), str(tmp_path / "b.toml"), "-o", str(out)])
    assert ran.exit_code == 0, ran.output
    assert "Proven: no other choice" in ran.output
    assert {path.name for path in out.iterdir()} == {"family.html", "family.json", "stock.csv"}
    page = (out / "family.html").read_text()
    assert "<script" not in page
    assert "SC-70-5" in page
    assert "Results support a decision" in page


def test_groupings_and_scenarios_of_a_study_are_told_to_be_left_out(memory):
    one = board("one", 2000, {"SOT-23-5": 0.03, "SC-70-5": 0.031})
    content = one.content.model_copy(
        update={
            "want": one.content.want.model_copy(update={"regroup_within": 5.0, "choose_for": "regret"}),
            "scenario": [ScenarioTable(name="as it is"), ScenarioTable(name="large", run=50_000)],
        }
    )
    wished = replace(one, content=content)
    other = board("two", 500, {"SOT-23-5": 0.03, "SC-70-5": 0.031})
    found = choose_family({"one": wished, "two": other}, memory=memory)
    plain = choose_family({"one": one, "two": other}, memory=memory)
    assert found.value == plain.value
    assert [line.split(":")[0] for line in found.told if "landwise study" in line][:2] == ["one", "one"]
    assert any("[[scenario]]" in line for line in found.told)
    assert any("[[regroup]]" in line for line in found.told)
