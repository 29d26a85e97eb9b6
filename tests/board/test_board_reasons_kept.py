"""Reasons for a choice are worked once for the same numbers, and never kept where a stop cut them short."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from landwise.board import reasons
from landwise.board.build import board_model
from landwise.board.chosen import BoardChoice
from landwise.board.objective import best_of, objective_of
from landwise.disk import encoded
from landwise.judging.study import run_study
from landwise.memory import forget
from landwise.study.file import study_from

pytestmark = pytest.mark.usefixtures("own_disk")

GATE = {
    "refs": ["U1"],
    "terminals": 5,
    "package": "SOT-23-5",
    "options": [{"outline": "SOT-23-5"}, {"outline": "SOT-353"}],
}
OTHER = {
    "refs": ["U2", "U3"],
    "terminals": 14,
    "package": "SO-14",
    "options": [{"outline": "SO-14"}, {"outline": "TSSOP-14"}],
}


@pytest.fixture(scope="module")
def asked():
    model = board_model(run_study(study_from({"part": [GATE, OTHER]})))
    aim = objective_of(model)
    return aim, BoardChoice(model, best_of(aim), aim.name, aim.unit, None, None)


def explained(asked, stop=None):
    aim, choice = asked
    return reasons.Explainer(aim, stop).explained(choice, lambda *_: None)


def told(choice):
    return encoded(tuple(getattr(choice, field.name) for field in fields(reasons.Reasons)))


def test_reasons_of_the_same_numbers_are_worked_once(asked, monkeypatch):
    first = explained(asked)
    assert first.points
    forget()  # as the next run of a command would
    monkeypatch.setattr(reasons, "front", lambda *_, **__: pytest.fail("worked again"))
    assert told(explained(asked)) == told(first)


@pytest.mark.parametrize("moved", ["cost", "risk", "price", "count"])
def test_other_numbers_are_worked_anew(asked, monkeypatch, moved):
    explained(asked)
    aim, choice = asked
    model = choice.model
    if moved == "cost":
        cost = model.problem.cost.copy()
        cost[0, 1, 1] += 1e-6
        aim = replace(aim, problem=replace(aim.problem, cost=cost))
    elif moved == "risk":
        choice = replace(choice, model=replace(model, risk=replace(model.risk, use=model.risk.use + 1e-9)))
    elif moved == "price":
        prices = replace(model.money.prices, spread=model.money.prices.spread + 0.01)
        choice = replace(choice, model=replace(model, money=replace(model.money, prices=prices)))
    else:
        first = replace(model.parts[0], part=model.parts[0].part.model_copy(update={"refs": ["U1", "U9"]}))
        choice = replace(choice, model=replace(model, parts=(first, *model.parts[1:])))
    called = []
    whole = reasons.front
    monkeypatch.setattr(reasons, "front", lambda *given, **more: called.append(1) or whole(*given, **more))
    explained((aim, choice))
    assert called


def test_reasons_that_were_cut_short_are_not_kept(asked):
    asks = iter([False] * 3)
    cut = explained(asked, lambda: next(asks, True))
    assert cut.left_out
    assert not explained(asked).left_out
