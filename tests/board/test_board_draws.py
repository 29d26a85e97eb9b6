"""Joint draws of what is uncertain: common draws of a line's defect levels, and what knowing is worth by re-solving."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from landwise.board.answer import answered
from landwise.board.build import board_model
from landwise.board.draws import Unknown, draw_costs
from landwise.board.objective import best_of, objective_of
from landwise.board.rivals import rivals_of
from landwise.choosing.optimum import solve
from landwise.judging.study import run_study
from landwise.study.file import study_from

GATE = {
    "refs": ["U1", "U2"],
    "number": "1G08",
    "family": "LVC",
    "terminals": 5,
    "options": [{"outline": "SOT-23-5", "price": 0.03}, {"outline": "SON-6-1.45x1.0", "price": 0.03}],
}
OTHER = {**GATE, "refs": ["U3"], "number": "1G32", "options": [dict(row) for row in GATE["options"]]}
LINE = {"foils": ["100 um"], "foil": "100 um", "print": "as lands", "inspection": ["optical"], "steps_allowed": False}


@cache
def modelled():
    study = study_from(
        {"part": [GATE, OTHER], "line": LINE, "want": {"hidden_joints": "any"}, "costs": {"run": 100_000}}
    )
    model = board_model(run_study(study))
    return model, best_of(objective_of(model))


def test_defect_levels_are_the_common_draws_of_what_is_known_of_a_line():
    model, best = modelled()
    drawn = draw_costs(model, (best.decision,), draws=64)
    own = {key: values for key, values in drawn.own.items() if key[1].kind == "defects"}
    assert set(own) == {(p, Unknown("defects", name)) for p, names in enumerate(model.names) for name in names}
    for p, names in enumerate(model.names):
        for k, name in enumerate(names):
            rates = model.judged[best.decision, p, k].geometry.rates.draws(64)
            whole = [sum(values[row] for values in rates.values()) for row in range(64)]
            assert own[p, Unknown("defects", name)] == pytest.approx(np.array(whole) / np.mean(whole))
    first = model.names[0][0]
    assert (
        own[0, Unknown("defects", first)] == own[1, Unknown("defects", first)]
    ).all()  # one line, one package, two parts


def test_what_knowing_everything_is_worth_is_what_choosing_anew_in_every_draw_saves():
    model, best = modelled()
    assert model.problem.decisions == 1
    nothing = np.zeros((1, 1, 1))
    drawn = draw_costs(model, (best.decision,))
    answer = answered(model, best, nothing, rivals_of(model, best, nothing))
    p, others = 0, best.choice[1]
    saved = []
    shift = [
        model.problem.value(0, (k, others))
        - np.mean([value_of(model, drawn, row, (k, others)) for row in range(drawn.draws)])
        for k in range(len(model.names[0]))
    ]
    for row in range(drawn.draws):
        cost = drawn.cost[row].copy()
        cost[0, p, : len(shift)] += shift
        held = np.ones_like(model.problem.exists)
        held[1] = np.arange(held.shape[1]) == others
        there = solve(
            replace(
                model.problem,
                cost=np.where(np.isfinite(cost), cost, 0.0),
                shared_cost=drawn.shared[row],
                charged=drawn.due[row],
                exists=model.problem.exists & held,
            )
        )
        saved.append(value_of(model, drawn, row, best.choice) + shift[best.choice[0]] - there.value)
    assert min(saved) >= -1e-9
    assert answer.parts[0].everything == pytest.approx(np.mean(saved), abs=1e-9)


def value_of(model, drawn, row, choice):
    """What a board costs in one draw."""
    due = [
        paid
        for charge, paid in zip(model.problem.charges, drawn.due[row], strict=True)
        if any(charge.mask[p, k] for p, k in enumerate(choice))
    ]
    return sum(drawn.cost[row, 0, p, k] for p, k in enumerate(choice)) + drawn.shared[row, 0] + sum(due)
