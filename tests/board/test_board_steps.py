"""The migration list where today's board is not fully known, or breaks a limit."""

from __future__ import annotations

import itertools

import pytest

from landwise.board.choice import choose_board
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.choice import choice_data
from landwise.results.choicejson import ChoiceJson
from landwise.results.choicewords import choice_lines
from landwise.study.file import study_from

MEMORY = Memory()
LINE = {"foils": ["100 um"], "foil": "100 um"}
# Invented prices: every part saves something by a change.
WIDE = {"number": "595", "family": "HC", "terminals": 16, "package": "SO-16"}
OFFERS = [{"outline": "SO-16", "price": 0.20}, {"outline": "TSSOP-16", "price": 0.10}]


def chosen(*parts, **tables):
    one = study_from({"part": list(parts), "line": LINE, **tables})
    return choose_board(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY)


def part(ref, **more):
    return {**WIDE, "refs": [ref], "options": OFFERS, **more}


def best_with(result, changes):
    """The cheapest board of at most so many known parts changed, listed by hand."""
    model = result.choice.model
    best = float("inf")
    for choice in itertools.product(*(range(len(names)) for names in model.names)):
        moved = sum(was >= 0 and k != was for k, was in zip(choice, model.present, strict=True))
        for d in range(len(model.decisions)) if moved <= changes else ():
            if model.problem.holds(d, choice):
                best = min(best, model.problem.value(d, choice))
    return best


def test_a_part_of_unknown_package_is_at_its_best_and_no_change():
    result = chosen(part("U1"), part("U2", package="", number="594"), part("U3", number="165"))
    choice = result.choice
    assert choice.today is None
    assert choice.unknown_today == ("U2",)
    assert choice.steps[0].changes == 0
    for step in choice.steps:
        assert "U2" not in {choice.model.parts[p].part.refs[0] for p in step.changed}
        saved = best_with(result, 0) - best_with(result, step.changes)
        assert step.saved == pytest.approx(saved, abs=2 * max(one.alike for one in choice.answer.parts))
    said = choice_lines(ChoiceJson.model_validate(choice_data(choice)))
    assert any("U2 is not known" in line for line in said)


def test_a_board_that_breaks_a_limit_says_which_and_starts_with_the_fewest_changes():
    result = chosen(part("U1"), part("U2", number="165"), want={"max_height": "1.2 mm"})
    choice = result.choice
    assert choice.broken_today == ("height",)
    assert choice.steps[0].changes == 2
    told = ChoiceJson.model_validate(choice_data(choice))
    assert "today's board breaks a limit (height)" in told.steps_from
    plain = chosen(part("U1"), part("U2", number="165"))
    assert plain.choice.broken_today == ()
    assert choice_data(plain.choice)["steps_from"] == ""
