"""Prints, judgements and pictures worked ahead by several processes: found when they are asked for, the same bytes."""

from __future__ import annotations

import pytest

from landwise.board import ahead
from landwise.board.choice import choose_board
from landwise.board.model import board_bench
from landwise.designing.design import Designer
from landwise.judging import bench
from landwise.judging import option as judging
from landwise.judging.study import run_study
from landwise.memory import Memory, forget, keep_on_disk
from landwise.results.file import result_text
from landwise.sheets import pictures
from landwise.sheets.ahead import pictures_begun
from landwise.sheets.cards import card_of
from landwise.sheets.pictures import window_svg
from landwise.study.file import study_from

pytestmark = pytest.mark.usefixtures("own_disk")

GATE = {
    "refs": ["U1"],
    "terminals": 5,
    "package": "SOT-23-5",
    "options": [{"outline": "SOT-23-5"}, {"outline": "SC-70-5"}],
}
ASKED = {"line": {"foils": ["100 um", "125 um"]}, "part": [GATE]}


def whole(study, memory=None):
    return choose_board(run_study(study, bench=board_bench(study, memory)), memory=memory, reasons=False)


def waiting_of(study):
    setups = ahead.setups_ahead(study)
    return ahead.waiting_of(setups, [outline for outline, _ in ahead.wanted_by(study, setups.bench).values()])


@pytest.fixture
def worth_it(monkeypatch):
    monkeypatch.setattr(ahead, "WORTH", 1)
    monkeypatch.setattr(ahead, "EACH", 1)


@pytest.mark.usefixtures("worth_it")
def test_what_was_worked_ahead_is_not_worked_again(monkeypatch):
    study, told, memory = study_from(ASKED), [], Memory()
    waiting = waiting_of(study)
    asked = [(outline.name, [decision.foil_um for decision in decisions]) for outline, decisions in waiting]
    assert asked == [("SOT-23-5", [100.0, 125.0]), ("SC-70-5", [100.0, 125.0])]
    with ahead.helpers_for(study, 2) as helpers:
        done = ahead.work_ahead(study, helpers, memory, tell=lambda *said: told.append(said))
        assert done == len(waiting) == len(told)
        assert waiting_of(study) == ()
        with monkeypatch.context() as patched:
            patched.setattr(Designer, "designs", lambda *_: pytest.fail("designed again"))
            patched.setattr(judging, "_judged", lambda *_: pytest.fail("judged again"))
            found = whole(study, memory)
        begun = pictures_begun(found, helpers)
        assert len([one.result() for one in begun]) == 2
    with monkeypatch.context() as patched:
        patched.setattr(pictures, "process_window", lambda *_: pytest.fail("mapped again"))
        patched.setattr(bench, "reasons_of", lambda *_: pytest.fail("asked again"))
        drawn = shown(found)
    keep_on_disk(None)
    forget()
    again = whole(study)
    assert result_text(again) == result_text(found)
    assert shown(again) == drawn


def shown(result):
    (part,) = result.parts
    return card_of(part, result.judged), window_svg(part.chosen, result.judged, "window")


@pytest.mark.parametrize(
    ("asked", "jobs"),
    [
        (ASKED, 1),
        (ASKED, 2),  # too few to be worth it
        ({**ASKED, "line": {"print": "as lands"}}, 2),
        ({"part": [{**GATE, "package": "no such package"}]}, 2),  # said by the judging
    ],
)
def test_nothing_is_worked_ahead(asked, jobs):
    study = study_from(asked)
    with ahead.helpers_for(study, jobs) as helpers:
        assert ahead.work_ahead(study, helpers, Memory()) == 0
        assert not helpers.there


@pytest.mark.usefixtures("worth_it")
def test_without_a_disk_nothing_is_worked_ahead():
    keep_on_disk(None)
    study = study_from(ASKED)
    with ahead.helpers_for(study, 2) as helpers:
        assert ahead.work_ahead(study, helpers, Memory()) == 0
        assert not helpers.there


def test_designed_lands_wait_until_they_are_known():
    study = study_from({**ASKED, "board": {"design": "lands", "state": "new"}})
    waiting = waiting_of(study)
    assert waiting
    whole(study)
    assert waiting_of(study) == ()
