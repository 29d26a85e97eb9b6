"""Totals of the chosen board worked again from their trails, down to what was stated, decided, drawn or sourced."""

from __future__ import annotations

import importlib.util
import math
import sys
from functools import cache
from pathlib import Path

import pytest

from landwise.board.totals import WEAKEST, board_figures
from landwise.costs.loads import Line
from landwise.evidence.sources import all_sources
from landwise.evidence.trails import Origin, behind, ends, numbers, replay
from landwise.results.file import result_data
from landwise.results.resultjson import ResultJson
from landwise.study.file import study_from
from worked_example import worked_example

ROOT = Path(__file__).resolve().parents[2]
# The same for any study or bill, as a command; it takes real boards too.
SCRIPT = ROOT / "tests" / "rebuild" / "replay_totals.py"
_spec = importlib.util.spec_from_file_location("replay_totals", SCRIPT)
assert _spec is not None
assert _spec.loader is not None
replays = importlib.util.module_from_spec(_spec)
sys.modules["replay_totals"] = replays  # its dataclasses look their module up
_spec.loader.exec_module(replays)
# An existing board that may move into a dearer class, with a fine part that asks for a step and drilled ones beside it.
MIXED = {
    "board": {
        "length": "60 mm",
        "width": "40 mm",
        "sides": 2,
        "state": "existing",
        "may_shrink": True,
        "classes": [{"name": "fine", "layers": 4, "rate": 1.4}],
    },
    "line": {"foils": ["150 um", "80 um"], "foil": "150 um", "steps_allowed": True},
    "use": {"sine": "5 g", "vibrated": "20 h", "shock": "50 g"},
    "costs": {"run": 5000},
    "part": [
        {
            "refs": ["U1", "U2"],
            "number": "1G08",
            "family": "LVC",
            "terminals": 5,
            "package": "SOT-23-5",
            "options": [{"outline": "SOT-23-5", "price": 0.5}, {"outline": "SC-70-5", "price": 0.04}],
        },
        {
            "refs": ["U3"],
            "number": "74LVC16244",
            "family": "LVC",
            "terminals": 48,
            "package": "TSSOP-48",
            "options": [{"outline": "TSSOP-48", "price": 0.4}, {"outline": "TVSOP-48", "price": 0.2}],
        },
        {
            "refs": ["U4"],
            "number": "74HC00",
            "family": "HC",
            "terminals": 14,
            "package": "DIP-14",
            "options": [{"outline": "DIP-14", "price": 0.2}],
        },
    ],
}


@cache
def chosen_of(name):
    return worked_example().result if name == "example" else replays.chosen(study_from(MIXED))


@pytest.fixture(scope="module", params=["example", "mixed"])
def board(request):
    result = chosen_of(request.param)
    return result, {one.key: one for one in board_figures(result.choice, result.parts)}


def replayed(figures):
    known = {}
    for one in figures:
        low, value, high = numbers(replay(one.gives, known))
        assert value == one.value, one.key
        assert one.low is None or (low, high) == (one.low, one.high), one.key


def test_every_total_is_what_its_trail_gives_when_it_is_worked_again(board):
    _, figures = board
    replayed(figures.values())
    assert {"cost", "area", "defects", "first-pass", "dpmo", *WEAKEST} <= figures.keys()


def test_the_totals_are_those_of_the_search_and_of_the_table(board):
    result, figures = board
    choice, after = result.choice, result.after
    value = {key: one.value for key, one in figures.items()}
    assert value["cost"] == pytest.approx(choice.model.problem.value(choice.best.decision, choice.best.choice), 1e-12)
    assert value["cost"] == pytest.approx(after.cost, rel=1e-12)
    assert value["area"] == pytest.approx(after.area_mm2, rel=1e-12)
    assert (value["defects"], value["dpmo"]) == (after.defects, after.dpmo)
    assert (value["hidden-defects"], value["first-pass"]) == (after.hidden_defects, after.first_pass)


def test_the_cost_is_the_sum_of_its_lines_and_each_line_that_of_the_ledger(board):
    result, figures = board
    lines = {key: one.value for key, one in figures.items() if key.startswith("cost-")}
    assert sum(lines.values()) == pytest.approx(figures["cost"].value, rel=1e-12)
    model, best = result.choice.model, result.choice.best
    values = {one.name: one.value for one in model.money.inputs}
    at, opened = list(best.choice), model.problem.opened(best.choice)
    ledger = {}
    for term in model.money.terms:
        units = term.load[best.decision, range(len(at)), at].sum() + term.shared[best.decision]
        units += 0.0 if term.charged is None else term.charged @ opened
        product = math.prod(values[name] ** power for name, power in term.powers.items())
        ledger[f"cost-{term.key}"] = ledger.get(f"cost-{term.key}", 0.0) + product * units
    bought = {f"cost-{Line.PART.value}", f"cost-{Line.ATTRITION.value}"}
    assert {key: value for key, value in lines.items() if key not in bought} == pytest.approx(
        {key: float(value) for key, value in ledger.items() if value}, rel=1e-9
    )


def test_every_total_ends_at_what_is_stated_decided_drawn_or_sourced(board):
    _, figures = board
    sources, origins = all_sources(), set()
    for one in figures.values():
        for given in ends(one.trail):
            origins.add(given.origin)
            where = f"{one.key}, {given.place}"
            assert given.origin != Origin.STEP, where
            assert given.place, where
            assert given.sources or given.origin == Origin.SIMULATION, where
            assert all(key == "study" or key in sources for key in given.sources), where
            assert given.reason or given.origin != Origin.DEFAULT, where
    assert {Origin.STATED, Origin.DEFAULT, Origin.CHOSEN, Origin.DRAWING, Origin.RULE} <= origins


def test_a_board_of_mixed_parts_pays_for_what_all_share():
    result = chosen_of("mixed")
    figures = {one.key for one in board_figures(result.choice, result.parts)}
    shared = {"cost-second-process", "cost-second-side", "cost-feeder", "cost-area", "cost-change"}
    assert shared <= figures


def test_a_simulation_behind_a_total_names_seed_size_and_inputs(board):
    _, figures = board
    simulated = [step for step in behind(figures["defects"].trail) if step.key == "defects"]
    assert simulated
    assert all({"seed", "size"} <= step.inputs.keys() for step in simulated)


def test_in_the_result_every_reference_of_a_total_leads_to_a_written_step(board):
    result, figures = board
    told = ResultJson.model_validate(result_data(result))
    assert {one.key for one in told.totals} == figures.keys()
    known = {**told.total_steps, **{step.key: step for one in told.totals for step in one.trail}}
    for part in told.parts:
        for option in part.options:
            steps = {**told.steps, **option.steps} | {s.key: s for one in option.figures for s in one.trail}
            for of in {part.refs[0]: part.chosen, f"{part.refs[0]} in {option.outline}": option.outline}.items():
                if of[1] == option.outline:
                    known |= {f"{of[0]}:{key}": step for key, step in steps.items()}
    for one in told.totals:
        for step in (*one.trail, *told.total_steps.values()):
            for given in step.given.values():
                assert given.origin != "step" or given.place in known, (one.key, step.key, given.place)
                assert all(key == "study" or key in told.sources for key in given.sources)


def test_a_board_that_keeps_no_limit_has_no_totals():
    gate = MIXED["part"][0]
    result = replays.chosen(study_from({"part": [gate], "want": {"board_limits": {"area": 1.0}}}))
    assert not result.choice.best.found
    assert board_figures(result.choice, result.parts) == ()
