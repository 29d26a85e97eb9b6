"""The three kinds of answer: for each part, for the board, and what is asked for together."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from landwise.board.alike import proposed_ahead
from landwise.board.answer import BoardAnswer
from landwise.board.choice import choose_board
from landwise.board.draws import draw_costs
from landwise.board.result import BoardResult
from landwise.board.rivals import drawn_rivals, rivals_of
from landwise.judging.study import run_study
from landwise.results.answer import board_sure, decided_word, hangs_on, sure_line
from landwise.results.verdict import verdict_of
from landwise.study.file import study_from


def named(*names: str) -> dict[str, object]:
    """A few packages, with prices that are guessed; what the catalogue holds beside them asks the same again."""
    return {"options": [{"outline": name} for name in names]}


PARTS = (
    {"refs": ["U1", "U2"], "terminals": 16, "package": "SO-16", "number": "595", "family": "HC"}
    | named("SO-16", "TSSOP-16", "SSOP-16"),
    {"refs": ["U3"], "terminals": 5, "package": "SOT-23-5", "number": "1G08", "family": "LVC"}
    | named("SOT-23-5", "SC-70-5", "SOT-5x3-5", "SON-6-0.9x1.0"),
)  # the last one is too fine for the line: a limit leaves it out
LINE = {"foil": "100 um", "print": "as lands"}  # no design of a print is asked about here


@cache
def chosen(worth: float | None = None, run: int = 1000) -> BoardResult:
    want = {} if worth is None else {"worth_deciding": worth}
    return choose_board(run_study(study_from({"part": list(PARTS), "want": want, "costs": {"run": run}, "line": LINE})))


def answer(result: BoardResult) -> BoardAnswer:
    assert result.choice is not None
    assert result.choice.answer is not None
    return result.choice.answer


def test_a_board_is_not_decided_where_only_all_parts_together_are_worth_asking_about() -> None:
    first = answer(chosen())
    most = max(one.everything for one in first.parts)
    assert first.everything == pytest.approx(sum(one.everything for one in first.parts))
    assert first.everything > most
    result = chosen((most + first.everything) / 2)
    found = answer(result)
    assert all(one.kind != "not decided" for one in found.parts)
    assert found.kind == "not decided"
    assert found.only_together
    assert "for all together it pays to ask" in board_sure(result)
    assert hangs_on(result)[0].startswith("the prices of these parts: quotes for them would save about")
    above = answer(chosen(first.everything * 1.01))
    assert above.kind != "not decided"
    assert not above.only_together


def test_all_prices_of_a_part_are_one_question_and_worth_what_knowing_them_brings() -> None:
    """Against the draws themselves: with the price of each draw known and all else at its mean."""
    result = chosen()
    model, best = result.choice.model, result.choice.best  # type: ignore[union-attr]
    nothing = np.zeros((1, 1, 1))
    compared = rivals_of(model, best, nothing, proposed_ahead(model, best))
    drawn = draw_costs(model, compared.near(best))
    for p, one in enumerate(answer(result).parts):
        rivals = drawn_rivals(model, best, compared, drawn, p, nothing)
        inside = [k for k in range(rivals.shape[1]) if np.isfinite(rivals[:, k]).all()]
        gain = 0.0
        for row in range(drawn.draws):
            known = [rivals[:, k].mean() - drawn.bought[:, p, k].mean() + drawn.bought[row, p, k] for k in inside]
            gain += (min(rivals[:, k].mean() for k in inside) - min(known)) / drawn.draws
        asked = {worth.input.kind: worth.saves for worth in one.inputs}
        if "prices" in asked:
            assert asked["prices"] == pytest.approx(min(gain, one.everything), rel=1e-6)
            assert asked["prices"] >= max(worth.saves for worth in one.inputs)
    assert any(worth.input.kind == "prices" for one in answer(result).parts for worth in one.inputs)


def test_what_is_the_cheaper_one_in_half_of_the_draws_is_an_equal_and_today_stays() -> None:
    """At 100 boards the SO-16 is dearer on average by rare draws alone: no reason to change it."""
    result = chosen(run=100)
    part = answer(result).parts[0]
    if part.kind == "decided":
        assert part.ahead >= 0.5
    else:
        assert part.kind == "equal"
        assert "SO-16" in part.options
        assert part.options[0] == "SO-16"
        kept = result.part("U1").chosen
        assert kept is not None
        assert kept.name == "SO-16"


def test_a_narrow_decision_says_so_and_equals_say_what_tells_them_apart() -> None:
    for run in (100, 1000):
        result = chosen(run=run)
        for one in answer(result).parts:
            part = result.part(one.part)
            said = sure_line(one, part, "EUR")
            assert (decided_word(one) == "decided, narrowly") == bool(one.rival and one.ahead < 2 / 3)
            if one.kind == "equal":
                assert all(f"{name} (" in said for name in one.options)
                assert "mm pitch" in said


def test_nothing_is_asked_about_an_option_that_can_not_be_taken() -> None:
    """Left out for its supply or by a limit: who finds out about it learns of no option that is on the table."""
    for result in (chosen(), study_with_hidden_joints()):
        model = result.choice.model  # type: ignore[union-attr]
        drawn = draw_costs(model, tuple(range(model.problem.decisions)))
        allowed = model.problem.allowed[list(drawn.decisions)].any(axis=0)
        assert not all(allowed[p, : len(names)].all() for p, names in enumerate(model.names))
        asked = {(p, one.of) for p, one in drawn.own if one.of}
        assert asked
        assert all(allowed[p, model.names[p].index(name)] for p, name in asked)


def test_an_option_is_shown_as_it_is_where_it_is_compared() -> None:
    """A leadless part that optical inspection alone can't see is compared with X-ray of a sample, and says so."""
    result = study_with_hidden_joints()
    (part,) = result.parts
    assert part.standing is not None
    hidden = next(one for one in part.options if one.name == "QFN-16-2.5x3.5")
    assert hidden.feasible
    assert part.standing.under[hidden.name] == "X-ray of a sample"
    assert part.standing.more[hidden.name] > 0
    model, best = result.choice.model, result.choice.best  # type: ignore[union-attr]
    # Beside what each outline brings in, a row tells what the model charges under the decision it is compared under.
    beside = []
    for option, d in (
        (hidden, answer(result).decisions[0][model.names[0].index(hidden.name)]),
        (part.chosen, best.decision),
    ):
        assert option is not None
        beside.append(float(model.problem.cost[d, 0, model.names[0].index(option.name)]) - option.cost.total)
    assert beside[0] == pytest.approx(beside[1], rel=1e-9)
    assert verdict_of(hidden) != "fails"


@cache
def study_with_hidden_joints() -> BoardResult:
    options = [{"outline": "SO-16", "price": 0.1}, {"outline": "QFN-16-2.5x3.5", "price": 0.1}]
    options += [{"outline": "TVSOP-16", "price": 0.1}]
    part = {"refs": ["U1"], "terminals": 16, "number": "595", "family": "HC", "options": options}
    line = LINE | {"least_pitch": "0.45 mm"}  # keeps the finest out, and nothing else
    return choose_board(run_study(study_from({"part": [part], "line": line, "costs": {"run": 1000}})))
