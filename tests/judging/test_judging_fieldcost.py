"""What failures in the field are expected to cost: by hand from the draws of lives, or left out and said."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.board.choice import choose_board
from landwise.board.draws import Unknown, draw_costs
from landwise.board.totals import board_figures
from landwise.costs.loads import Line
from landwise.evidence.trails import replay
from landwise.judging.bench import Bench
from landwise.judging.fieldcost import life_in
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.notewords import note_says
from landwise.study.file import study_from

MEMORY = Memory()
QUADS = [{"outline": "QFN-16-3x3", "price": 0.20}, {"outline": "QFN-16-4x4", "price": 0.19}]
LEADED = {"outline": "TSSOP-16", "price": 0.9}
RATE = 4000.0
LINE = {"foils": ["120 um"], "foil": "120 um"}


def study(cost=RATE, offered=QUADS, refs=("U1", "U2"), use=None, **tables):
    part = {"refs": list(refs), "terminals": 16, "options": list(offered)}
    rates = {} if cost is None else {"field_failure": cost}
    text = {
        "part": [part],
        "want": {"hidden_joints": "any"},
        "use": {"environment": "industrial", **(use or {})},
        "line": LINE,
        "costs": {"rates": rates},
        **tables,
    }
    return study_from(text, file="x")


def judged(*args, **kwargs):
    one = study(*args, **kwargs)
    return run_study(one, bench=Bench.of(one, MEMORY))


def options(result):
    return {option.name: option for option in result.parts[0].options}


def by_hand(option, years):
    """Mean share failed over the draws: 1 − exp(−ln 2 · (t/N₅₀)^β), each draw with its own median and slope."""
    life, place, _ = life_in(option.figures["life"])
    assert place.years == years
    return float(np.mean(1 - np.exp(-np.log(2) * (years / life.draws_years) ** life.draws_shape)))


def test_what_a_part_pays_is_the_expected_share_times_the_stated_cost():
    plain, counted = options(judged(None)), options(judged())
    for name, option in counted.items():
        share = by_hand(option, 10)
        assert 0 < share < 1
        assert option.cost.total - plain[name].cost.total == pytest.approx(RATE * share)
        item = next(item for item in option.cost.items if item.line == Line.FIELD)
        assert item.value == pytest.approx(RATE * share)
        # The figure is worked again from its ends, the draws of the life among them.
        figure = option.figures["cost"]
        assert figure.value == pytest.approx(option.cost.total)
        assert replay(figure.gives)[1] == pytest.approx(figure.value)


def test_the_board_pays_for_every_place_and_the_draws_average_to_it():
    without, result = (choose_board(judged(cost), memory=MEMORY) for cost in (None, RATE))
    chosen = result.parts[0].chosen
    share = by_hand(chosen, 10)
    model, best = result.choice.model, result.choice.best
    k = model.names[0].index(chosen.name)
    same = without.choice.model
    other = same.names[0].index(chosen.name)
    more = model.problem.cost[best.decision, 0, k] - same.problem.cost[best.decision, 0, other]
    assert more == pytest.approx(2 * RATE * share, rel=1e-6)
    drawn = draw_costs(model, (best.decision,))
    level = drawn.own[0, Unknown("life", chosen.name)]
    assert level.mean() == pytest.approx(1)
    assert level.max() > 2 > 0.5 > level.min()
    totals = {one.key: one for one in board_figures(result.choice, result.parts)}
    assert totals["cost"].value == pytest.approx(result.choice.cost, rel=1e-6)
    field = totals[f"cost-{Line.FIELD.value}"]
    assert field.value == replay(field.gives)[1] == pytest.approx(2 * RATE * share)


def test_a_dear_failure_turns_the_choice_to_what_lasts():
    """The larger package is cheaper and dies sooner: from the cost that makes up the difference on, the other wins."""
    cheap, dear = (choose_board(judged(cost), memory=MEMORY).parts[0].chosen.name for cost in (None, RATE))
    found = options(judged())
    assert by_hand(found["QFN-16-4x4"], 10) > by_hand(found["QFN-16-3x3"], 10)
    assert (cheap, dear) == ("QFN-16-4x4", "QFN-16-3x3")


def test_where_nothing_anchors_one_life_none_is_counted_and_it_is_said():
    result = judged(offered=[*QUADS, LEADED], use={"environment": "under-hood"})
    part = result.parts[0]
    assert not part.counts_field
    assert all(item.line != Line.FIELD for option in part.options for item in option.cost.items)
    said = [note_says(note) for note in part.notes]
    assert any("nothing measured anchors the life of TSSOP-16" in text for text in said)
    chosen = choose_board(result, memory=MEMORY)
    assert all(item.line != Line.FIELD for item in chosen.parts[0].chosen.cost.items)


def test_a_life_that_holds_throughout_is_counted_with_the_measured_ones():
    part = judged(offered=[*QUADS, LEADED], use={"environment": "consumer"}).parts[0]
    assert part.counts_field
    shares = {o.name: next(i.value for i in o.cost.items if i.line == Line.FIELD) / RATE for o in part.options}
    assert shares["TSSOP-16"] < shares["QFN-16-3x3"]


def test_without_a_stated_cost_nothing_changes():
    """The shipped rate is nothing: no line, no draw, no note."""
    result = choose_board(judged(None), memory=MEMORY)
    assert not result.parts[0].counts_field
    assert all(item.line != Line.FIELD for option in result.parts[0].options for item in option.cost.items)
    assert not any("field" in note.key for note in result.parts[0].notes)
    assert "field_failure" not in {one.name for one in result.choice.model.money.inputs}
