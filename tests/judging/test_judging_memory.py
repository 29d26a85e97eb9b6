"""A memory changes how soon a result is there, never the result: compared byte for byte with results worked anew."""

from __future__ import annotations

from importlib import resources

import pytest

from landwise.board.choice import choose_board
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import MOST_RECALLED, Memory
from landwise.results.file import result_text
from landwise.study.file import study_from

GATE = {
    "refs": ["U1"],
    "number": "1G08",
    "family": "LVC",
    "terminals": 5,
    "package": "SOT-23-5",
    "function": "single AND",
    "options": [
        {"outline": "SOT-23-5", "price": 0.03},
        {"outline": "SOT-5x3-5", "price": 0.038},
        {"outline": "WLP-5-0.5", "price": 0.06},
    ],
}
LATCH = {
    "refs": ["U2", "U3"],
    "number": "595",
    "family": "HC",
    "terminals": 16,
    "package": "SO-16",
    "options": [{"outline": "SO-16", "price": 0.07}, {"outline": "QFN-16-2.5x3.5", "price": 0.09}],
}
CHANGES = [
    {},
    {"want": {"max_height": "1 mm"}},
    {"want": {"max_area": 40.0}},
    {"want": {"least_gap": "0.25 mm"}},
    {"want": {"hidden_joints": "any"}},
    {"want": {"hidden_joints": "never", "terminals": "exposed", "probe_access": True}},
    {"want": {"weights": {"cost": 0.7}, "objective": "value"}},
    {"want": {"limits": {"gap": 0.2}, "board_limits": {"area": 200.0}}},
    {"line": {"foil": "80 um"}},
    {"line": {"reduction": "20 um", "inspection": ["optical", "x-ray"]}},
    {"use": {"voltage": "24 V", "ambient": "40 degC"}},
    {"board": {"layers": 4, "track": "0.1 mm", "space": "0.1 mm"}},
    {"board": {"xray_anyway": True}},
    {"costs": {"run": 50, "rates": {"board_area": 0.2}}},
    {},
]


def chosen(data, memory):
    study = study_from(data)
    return choose_board(run_study(study, bench=Bench.of(study, memory)), memory=memory)


def test_a_memory_changes_no_byte_of_a_result():
    memory = Memory()
    for change in CHANGES:
        data = {"part": [GATE, LATCH], **change}
        assert result_text(chosen(data, memory)) == result_text(chosen(data, None)), change


def test_prices_and_numbers_of_a_part_are_not_taken_from_another():
    memory = Memory()
    for part in (
        GATE,
        {**GATE, "options": "any"},
        {**GATE, "family": "HC", "number": "1G00"},
        {**GATE, "locked": True},
    ):
        assert result_text(chosen({"part": [part]}, memory)) == result_text(chosen({"part": [part]}, None))


def test_own_outlines_are_never_recalled(tmp_path):
    text = resources.files("landwise.outlines").joinpath("catalogue_data", "small_outline.toml")
    assert text.is_file()
    (tmp_path / "own.toml").write_bytes(text.read_bytes())
    study = study_from({"outlines": ["own.toml"], "part": [GATE]}, folder=tmp_path)
    assert Bench.of(study, Memory()).memory is None


def test_a_memory_is_bounded():
    memory = Memory()
    for number in range(MOST_RECALLED + 50):
        memory.recalled(number, None, lambda n=number: n)
    assert len(memory._recalled) == MOST_RECALLED
    assert memory.recalled(MOST_RECALLED + 49, None, lambda: "anew") == MOST_RECALLED + 49
    assert memory.recalled(0, None, lambda: "anew") == "anew"


def test_what_follows_from_an_object_is_told_apart_by_it():
    memory = Memory()
    one, other = [1], [1]
    assert memory.recalled("key", one, lambda: "one") == "one"
    assert memory.recalled("key", other, lambda: "other") == "other"
    assert memory.recalled("key", one, lambda: "anew") == "one"


def test_the_result_is_handed_over_before_its_reasons():
    study = study_from({"part": [GATE, LATCH]})
    handed = []
    result = choose_board(run_study(study), early=handed.append)
    (early,) = handed
    assert early.choice.best == result.choice.best
    assert early.choice.left_out
    assert not early.choice.points
    assert result.choice.points
    assert [part.chosen.name for part in early.parts] == [part.chosen.name for part in result.parts]


@pytest.mark.parametrize("limit", [{"board_limits": {"area": 1.0}}])
def test_a_board_that_does_not_fit_is_handed_over_too(limit):
    handed = []
    result = choose_board(run_study(study_from({"want": limit, "part": [GATE, LATCH]})), early=handed.append)
    assert handed[0].choice.best.status == "infeasible"
    assert result.choice.conflict == ("board-area",)
