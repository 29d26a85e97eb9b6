"""What a unit of each weighed criterion counts, in words: the figure is what the choice pays for one more of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from landwise.board.choice import choose_board
from landwise.board.objective import objective_of
from landwise.choosing.optimum.solve import solve
from landwise.choosing.values import CRITERIA
from landwise.cli import main
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.quantities import significant
from landwise.results.weighed import counts_say, weighed_says
from landwise.sheets.boardpage import board_page
from landwise.sheets.report import annex_html
from landwise.study.file import study_from

MEMORY = Memory()
OFFERED = [{"outline": "TSSOP-14", "price": 0.11}, {"outline": "SO-14", "price": 0.10}]


def chosen(**want):
    part = {"refs": ["U1", "U2"], "number": "74HC00", "terminals": 14, "options": OFFERED}
    line = {"foils": ["100 um"], "foil": "100 um"}
    one = study_from({"part": [part], "want": want, "line": line}, file="x")
    return choose_board(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY, reasons=False)


@pytest.fixture(scope="module")
def weighed():
    return chosen(weights={"area": 0.3, "gap": 0.1})


def board(model, names):
    """Where a board of these options stands in the model, under the first shared decision."""
    wanted = {(p, k) for (d, p, k), option in model.judged.items() if d == 0 and option.name in names}
    return tuple(k for _, k in sorted(wanted))


def test_one_mm2_more_costs_what_is_told(weighed):
    choice, model = weighed.choice, weighed.choice.model
    grown = replace(model, area=replace(model.area, use=model.area.use + 1.0))  # one part number, so 1 mm² of board
    before, after = (solve(objective_of(one, choice.counts).problem).value for one in (model, grown))
    assert after - before == pytest.approx(choice.counts["area"], rel=1e-9)
    assert f"1 mm² of board area counts {significant(after - before)} units a board" in weighed_says(weighed)


def test_two_packages_stand_apart_by_cost_and_what_is_told(weighed):
    # Areas and gaps of the options' own figures, not of the model's sums; two pieces of the part.
    model, counts = weighed.choice.model, weighed.choice.counts
    aim = objective_of(model, counts)
    options = {option.name: option for option in weighed.parts[0].options}
    small, large = (board(model, {name}) for name in ("TSSOP-14", "SO-14"))
    paid = [problem.value(0, large) - problem.value(0, small) for problem in (aim.problem, model.problem)]
    room = 2 * (options["SO-14"].area_mm2 - options["TSSOP-14"].area_mm2)
    # The rule of the gap's value in docs/choosing.md: 0 at 0.10 mm, 1 at 0.30 mm.
    worth = {name: min(1.0, (options[name].figures["gap"].value - 0.1) / 0.2) for name in ("TSSOP-14", "SO-14")}
    gaps = 2 * (worth["TSSOP-14"] - worth["SO-14"])
    assert room > 10
    assert gaps < -0.5
    assert paid[0] - paid[1] == pytest.approx(counts["area"] * room + counts["gap"] * gaps, rel=1e-9)


def test_all_of_the_smallest_board_counts_its_share_of_the_cheapest(weighed):
    """What docs/choosing.md says of a weight w beside c for cost: w/c of the cheapest board, by trying every board."""
    model = weighed.choice.model
    every = [(d, (k,)) for d, _, k in model.judged]
    cheapest = min(model.problem.value(*one) for one in every)
    use = np.broadcast_to(model.area.use, model.problem.cost.shape)
    smallest = min(use[d, 0, k] + model.area.shared[d] for d, (k,) in every)
    assert weighed.choice.counts["area"] == pytest.approx(0.3 / 0.6 * cheapest / smallest, rel=1e-9)
    assert weighed.choice.counts["gap"] == pytest.approx(0.1 / 0.6 * cheapest / 2, rel=1e-9)


def test_stated_weights_stand_first_and_defaults_only_where_they_count():
    usual, mixed = chosen(objective="value"), chosen(objective="value", weights={"gap": 0.4})
    assert weighed_says(chosen()) == ""  # cost stands in the place of every default
    assert set(usual.choice.counts) == set(CRITERIA) - {"cost"}
    said = weighed_says(usual)
    assert said == counts_say(usual.choice.counts, (), "units")
    first, rest = weighed_says(mixed).split("; ")
    assert CRITERIA["gap"].title in first
    assert CRITERIA["gap"].title not in rest
    assert all(one.title in rest for name, one in CRITERIA.items() if name not in ("cost", "gap"))


def test_the_report_and_the_annex_tell_it(weighed):
    said = weighed_says(weighed)
    assert board_page(weighed)["counts"] == said
    assert f"{said[0].upper()}{said[1:]}." in annex_html(weighed, [""])


def test_compare_tells_it_where_a_weight_is_stated(capsys):
    told = []
    for flags in ([], ["--weight", "area=0.3"]):
        with pytest.raises(SystemExit) as ended:
            main(["compare", "--number", "74HC00", "--options", "TSSOP-14=0.11, SO-14=0.10", *flags])
        assert ended.value.code == 0
        told.append("1 mm² of board area counts" in " ".join(capsys.readouterr().out.split()))
    assert told == [False, True]
