"""Prints designed ahead by several processes: found by the judging, and no byte of a result depends on it."""

from __future__ import annotations

import pytest

from landwise.board import ahead
from landwise.board.choice import choose_board
from landwise.designing.design import Designer
from landwise.judging.study import run_study
from landwise.memory import forget, keep_on_disk
from landwise.results.file import result_text
from landwise.study.file import study_from

pytestmark = pytest.mark.usefixtures("own_disk")

GATE = {
    "refs": ["U1"],
    "terminals": 5,
    "package": "SOT-23-5",
    "options": [{"outline": "SOT-23-5"}, {"outline": "SC-70-5"}],
}
ASKED = {"line": {"foils": ["100 um", "125 um"]}, "part": [GATE]}


def whole(study):
    return result_text(choose_board(run_study(study), reasons=False))


def test_what_was_worked_ahead_is_not_designed_again(monkeypatch):
    monkeypatch.setattr(ahead, "WORTH", 1)
    monkeypatch.setattr(ahead, "EACH", 1)
    study, told = study_from(ASKED), []
    waiting = ahead.waiting_of(study)
    asked = [(outline.name, [decision.foil_um for decision in decisions]) for outline, decisions in waiting]
    assert asked == [("SOT-23-5", [100.0, 125.0]), ("SC-70-5", [100.0, 125.0])]
    assert ahead.work_ahead(study, jobs=2, tell=lambda *said: told.append(said)) == len(waiting) == len(told)
    assert ahead.waiting_of(study) == ()
    with monkeypatch.context() as patched:
        patched.setattr(Designer, "designs", lambda *_: pytest.fail("designed again"))
        found = whole(study)
    keep_on_disk(None)
    forget()
    assert whole(study) == found


@pytest.mark.parametrize(
    ("asked", "jobs"),
    [
        (ASKED, 1),
        (ASKED, 2),  # too few to be worth it
        ({**ASKED, "line": {"print": "as lands"}}, 2),
        ({"part": [{**GATE, "package": "no such package"}]}, 2),  # said by the judging
    ],
)
def test_nothing_is_worked_ahead(asked, jobs, monkeypatch):
    monkeypatch.setattr(ahead, "shared_out", lambda *_: pytest.fail("processes started"))
    assert ahead.work_ahead(study_from(asked), jobs=jobs) == 0


def test_without_a_disk_nothing_is_worked_ahead(monkeypatch):
    keep_on_disk(None)
    monkeypatch.setattr(ahead, "WORTH", 1)
    monkeypatch.setattr(ahead, "shared_out", lambda *_: pytest.fail("processes started"))
    assert ahead.work_ahead(study_from(ASKED), jobs=2) == 0


def test_designed_lands_wait_until_they_are_known():
    study = study_from({**ASKED, "board": {"design": "lands", "state": "new"}})
    waiting = ahead.waiting_of(study)
    assert waiting
    whole(study)
    assert ahead.waiting_of(study) == ()
