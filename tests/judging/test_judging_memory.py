"""A memory changes how soon a result is there, never the result: compared byte for byte with results worked anew."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib import resources

import pytest

from landwise.board.choice import choose_board
from landwise.board.reasons import Explainer
from landwise.disk import Disk
from landwise.judging import figures, option
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import MOST_KEPT, MOST_RECALLED, Memory, keep_on_disk, kept_on
from landwise.outlines import catalogue
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
# Each foil more is all of it once more, and a print that is designed takes longest: two changes ask for one.
FOILS = {"foils": ["100 um"], "foil": "100 um", "print": "as lands"}
CHANGES = [
    {},
    {"want": {"max_height": "1 mm"}},
    {"want": {"max_area": 40.0}},
    {"want": {"least_gap": "0.25 mm"}},
    {"want": {"hidden_joints": "any"}},
    {"want": {"hidden_joints": "never", "terminals": "exposed", "probe_access": True}},
    {"want": {"weights": {"cost": 0.7}, "objective": "value"}},
    {"want": {"limits": {"gap": 0.2}, "board_limits": {"area": 200.0}}},
    {"line": {"foils": ["80 um"], "foil": "80 um"}},
    {"line": {**FOILS, "print": "designed"}},
    {"line": {**FOILS, "reduction": "20 um", "inspection": ["optical", "x-ray"]}},
    {"use": {"voltage": "24 V", "ambient": "40 degC"}},
    {"board": {"layers": 4, "track": "0.1 mm", "space": "0.1 mm"}},
    {"board": {"xray_anyway": True}},
    {"costs": {"run": 50, "rates": {"board_area": 0.2}}},
    {"part": [{**GATE, "options": [*GATE["options"][:2], {"outline": "WLP-5-0.5", "price": 0.02}]}, LATCH]},
    {"part": [{**GATE, "price": 0.05, "options": "any", "alternates": ["SOT-23-5", "SOT-5x3-5"]}, LATCH]},
    {},
]


@pytest.fixture
def left_on_disk(tmp_path):
    """A folder of this test alone."""
    catalogue()  # read by now: it is kept for all boards together
    before, made = kept_on(), Disk(tmp_path / "cache")
    keep_on_disk(made)
    yield made
    keep_on_disk(before)


@pytest.fixture
def marked_reasons(monkeypatch):
    """In place of the reasons for a choice the mark of all numbers they read: it tells more of these than they do."""
    monkeypatch.setattr(
        Explainer, "explained", lambda self, choice, _: replace(choice, left_out=(self._content(choice),))
    )


def board(change):
    return {"line": FOILS, "part": [GATE, LATCH], **change}


SHAKEN = {"random": [["10 Hz", "0.02 g2/Hz"], ["500 Hz", "0.02 g2/Hz"]], "vibrated": "500 h", "shock": "50 g"}


def moved_price(to, own=0.05):
    """A board that is shaken, so that figures and the cost go back to its table, with other prices.

    The latch states the price of the package in use as its own, and none for its options.
    """
    gate = {**GATE, "options": [{**one, **to} for one in GATE["options"]]}
    latch = {**LATCH, "price": own, "options": [{"outline": one["outline"]} for one in LATCH["options"]]}
    return board({"part": [gate, latch], "use": SHAKEN})


def chosen(data, memory):
    study = study_from(data)
    return choose_board(run_study(study, bench=Bench.of(study, memory)), memory=memory)


@cache
def anew(number):
    """The result of a change, worked without any memory; its reasons are marked, in each test that asks for it."""
    return result_text(chosen(board(CHANGES[number]), None))


@pytest.mark.usefixtures("marked_reasons")
def test_a_memory_changes_no_byte_of_a_result():
    memory = Memory()
    for number, change in enumerate(CHANGES):
        assert result_text(chosen(board(change), memory)) == anew(number), change


@pytest.mark.usefixtures("marked_reasons")
def test_what_a_run_leaves_on_disk_changes_no_byte_of_the_next(left_on_disk):
    for number, change in enumerate(CHANGES):
        study = study_from(board(change))
        memory = Memory.left_by(study.board_key)
        assert bool(memory._recalled) == (number > 0)
        assert result_text(chosen(board(change), memory)) == anew(number), change
        memory.leave(study.board_key)
        assert len(list(left_on_disk.root.rglob("*.graph"))) == 1


@pytest.mark.parametrize(
    ("to", "own"),
    [
        ({"price": 0.02, "price_spread": 0.5}, 0.05),
        ({"price": None, "prices": {"1": 0.5, "1000": 0.01}}, 0.08),
        ({"price": None}, None),
        ({}, 0.08),
    ],
)
def test_a_moved_price_works_no_figure_again_but_the_cost(left_on_disk, monkeypatch, to, own):
    """What it says of money is that of a run without a memory; a price that is taken away is guessed."""
    alone = result_text(chosen(moved_price(to, own), None))
    before = moved_price({})
    first = study_from(before)
    memory = Memory()
    chosen(before, memory)
    memory.leave(first.board_key)
    monkeypatch.setattr(figures, "_all", lambda *_: pytest.fail("worked again"))
    monkeypatch.setattr(left_on_disk, "write_graph", lambda *_: pytest.fail("written again"))
    left = Memory.left_by(first.board_key)
    assert study_from(moved_price(to, own)).board_key == first.board_key
    assert result_text(chosen(moved_price(to, own), left)) == alone
    left.leave(first.board_key)


def test_the_next_run_judges_nothing_again_and_writes_nothing(left_on_disk, monkeypatch):
    for limit, judges in (({}, True), ({"limits": {"gap": 0.01}}, False), ({"board_limits": {"area": 500.0}}, False)):
        study = study_from(board({"want": limit}))
        memory = Memory.left_by(study.board_key)
        if not judges:
            monkeypatch.setattr(option, "_judged", lambda *_: pytest.fail("judged again"))
            monkeypatch.setattr(left_on_disk, "write_graph", lambda *_: pytest.fail("written again"))
        assert choose_board(run_study(study, bench=Bench.of(study, memory)), memory=memory).choice.best.found
        memory.leave(study.board_key)


def test_a_run_leaves_what_it_needed_and_no_more(left_on_disk):
    def run(*keys):
        memory = Memory.left_by("board")
        found = [memory.recalled(key, None, lambda key=key: f"made for {key}") for key in keys]
        memory.leave("board")
        return found

    run("one", "two")
    run("two", "three")
    left = Memory.left_by("board")
    assert left.recalled("two", None, lambda: "anew") == "made for two"
    assert left.recalled("three", None, lambda: "anew") == "made for three"
    assert left.recalled("one", None, lambda: "anew") == "anew"
    (path,) = left_on_disk.root.rglob("*.graph")
    path.write_bytes(b"damaged")
    assert Memory.left_by("board").recalled("two", None, lambda: "anew") == "anew"


def test_what_was_made_from_what_lay_there_is_not_written_again(left_on_disk, monkeypatch):
    def run(wish, dear):
        memory = Memory.left_by("board")
        found = memory.recalled(wish, None, lambda: (wish, memory.recalled(dear, None, lambda: f"{dear}, dearly made")))
        memory.leave("board")
        return found

    run("low", "figures")
    with monkeypatch.context() as patched:
        patched.setattr(left_on_disk, "write_graph", lambda *_: pytest.fail("written again"))
        assert run("high", "figures") == ("high", "figures, dearly made")
    run("high", "other figures")
    left = Memory.left_by("board")
    assert left.recalled("other figures", None, lambda: "anew") == "other figures, dearly made"
    assert left.recalled("high", None, lambda: "anew") == ("high", "other figures, dearly made")


def test_too_many_for_the_disk_are_not_left(left_on_disk):
    memory = Memory()
    for number in range(MOST_KEPT + 1):
        memory.recalled(number, None, lambda: "x")
    memory.leave("board")
    assert not list(left_on_disk.root.rglob("*.graph"))


def test_without_a_disk_nothing_is_left():
    keep_on_disk(None)
    memory = Memory()
    memory.recalled("one", None, lambda: "made")
    memory.leave("board")
    assert Memory.left_by("board").recalled("one", None, lambda: "anew") == "anew"


def test_prices_and_numbers_of_a_part_are_not_taken_from_another():
    memory = Memory()
    for part in (
        GATE,
        {**GATE, "options": "any"},
        {**GATE, "family": "HC", "number": "1G00"},
        {**GATE, "locked": True},
    ):
        data = {"line": FOILS, "part": [part]}
        assert result_text(chosen(data, memory)) == result_text(chosen(data, None))


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
    study = study_from(board({}))
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
    result = choose_board(run_study(study_from(board({"want": limit}))), early=handed.append)
    assert handed[0].choice.best.status == "infeasible"
    assert result.choice.conflict == ("board-area",)


@pytest.mark.usefixtures("marked_reasons")
def test_who_answers_to_many_boards_takes_up_what_each_run_left(left_on_disk, monkeypatch):
    study = study_from(board({}))
    memory = Memory()
    choose_board(run_study(study, bench=Bench.of(study, memory)), memory=memory)
    memory.leave(study.board_key)
    server = Memory()
    chosen({"part": [GATE], "line": {"foil": "80 um"}}, server)  # knows other prints of one of its packages
    expected = anew(0)
    monkeypatch.setattr(option, "_judged", lambda *_: pytest.fail("judged again"))
    for _ in range(2):
        server.take_up(study.board_key)
        assert result_text(chosen(board({}), server)) == expected
        monkeypatch.setattr(left_on_disk, "read_graph", lambda *_: pytest.fail("read again"))
