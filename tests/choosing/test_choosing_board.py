"""The whole-board choice against plain enumeration of everything, written separately here."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from landwise.choosing.optimum import Ban, Charge, Problem, Row, solve
from landwise.choosing.optimum.direct import solve_directly
from landwise.choosing.optimum.model import Problem as Model
from landwise.errors import InputError


def random_problem(seed: int) -> Problem:
    """A small instance; integers make ties, tight limits make it infeasible, groups and outline limits come and go."""
    rng = np.random.default_rng(seed)
    decisions, parts, width = rng.integers(1, 5), rng.integers(1, 5), rng.integers(1, 5)
    shape = (decisions, parts, width)
    whole = seed % 3 == 0
    cost = rng.integers(0, 4, shape).astype(float) if whole else rng.uniform(-0.2, 1, shape)
    exists = rng.random(shape[1:]) < 0.85
    exists[:, 0] = True
    rows = []
    for number in range(rng.integers(0, 4)):
        use = rng.integers(0, 5, shape).astype(float) if whole else rng.uniform(0, 1, shape)
        shared = rng.uniform(0, 0.3, decisions) if number == 1 else None
        rows.append(Row(f"row {number}", use, float(rng.uniform(0.1, 0.8) * use.max(axis=(0, 2)).sum()), shared))
    bans = tuple(Ban(f"ban {n}", rng.random(shape) < 0.15) for n in range(rng.integers(0, 3)))
    outline = np.array([rng.permutation(6)[:width] for _ in range(parts)])
    groups = ((0, 1),) if parts > 1 and seed % 4 == 1 else ()
    most = int(rng.integers(1, parts + 1)) if seed % 2 else None
    charges = tuple(Charge(f"charge {n}", rng.random(shape[1:]) < 0.4) for n in range(rng.integers(0, 4)))
    due = rng.uniform(0, 0.6, len(charges))
    if rows and charges and seed % 5 == 0:
        rows[0] = replace(rows[0], charged=rng.uniform(0, 0.4, len(charges)))
    return Problem(cost, rng.uniform(0, 0.5, decisions), exists, outline, tuple(rows), bans, groups, most, charges, due)


def everything(problem: Problem):
    """Every feasible (cost, decision, choice), by the definition."""
    for d in range(problem.decisions):
        for choice in itertools.product(*(range(problem.cost.shape[2]) for _ in range(problem.parts))):
            ok = all(
                problem.exists[p, k] and not any(b.mask[d, p, k] for b in problem.bans) for p, k in enumerate(choice)
            )
            opened = [any(c.mask[p, k] for p, k in enumerate(choice)) for c in problem.charges]
            for row in problem.rows:
                used = sum(row.use[d, p, k] for p, k in enumerate(choice)) + (
                    row.shared[d] if row.shared is not None else 0
                )
                if row.charged is not None:
                    used += sum(float(once) for once, due in zip(row.charged, opened, strict=True) if due)
                ok = ok and used <= row.limit + 1e-9 * max(1, row.limit)
            names = [problem.outline[p, k] for p, k in enumerate(choice)]
            ok = ok and all(len({names[p] for p in group}) == 1 for group in problem.groups)
            ok = ok and (problem.most_outlines is None or len(set(names)) <= problem.most_outlines)
            if ok:
                paid = sum(problem.due[c] for c, due in enumerate(opened) if due)
                yield (
                    sum(problem.cost[d, p, k] for p, k in enumerate(choice)) + problem.shared_cost[d] + paid,
                    d,
                    choice,
                )


@pytest.mark.parametrize("enumerate_below", [20_000, 0], ids=["listing", "integer solver"])
@pytest.mark.parametrize("block", range(8))
def test_the_solver_agrees_with_listing_everything(block, enumerate_below):
    feasible = 0
    for seed in range(block * 40, block * 40 + 40):
        problem = random_problem(seed)
        best = min((found[0] for found in everything(problem)), default=None)
        found = solve(problem, enumerate_below=enumerate_below)
        if best is None:
            assert found.status == "infeasible", seed
            continue
        feasible += 1
        assert found.status == "optimal", seed
        assert found.value == pytest.approx(best, abs=1e-7), seed
        assert found.bound <= best + 1e-7, seed
        assert found.gap < 1e-6, seed
        assert problem.holds(found.decision, found.choice), seed
        assert problem.value(found.decision, found.choice) == pytest.approx(found.value), seed
    assert 5 < feasible < 40  # both kinds are met


def test_the_direct_model_agrees_where_it_applies():
    for seed in range(0, 80, 2):
        problem = random_problem(seed)
        if problem.groups or problem.most_outlines is not None:
            continue
        ours, direct = solve(problem), solve_directly(problem, gap=1e-9)
        assert ours.found == direct.found, seed
        if ours.found:
            assert ours.value == pytest.approx(direct.value, abs=1e-6), seed


def test_bounds_stay_below_the_optimum_of_every_decision():
    from landwise.choosing.optimum.bounds import bounds

    for seed in range(0, 120, 2):
        problem = random_problem(seed)
        rows = tuple(replace(row, charged=None) for row in problem.rows)
        problem = Model(problem.cost, problem.shared_cost, problem.exists, problem.outline, rows)
        cost = np.where(problem.allowed, problem.cost, np.inf)
        capacity = np.array(
            [r.limit - (0 if r.shared is None else r.shared) * np.ones(problem.decisions) for r in problem.rows]
        )
        found = bounds(
            cost,
            problem.shared_cost,
            [r.use for r in problem.rows],
            capacity.reshape(-1, problem.decisions),
            lambda *_: 0.0,
        )
        for value, d, _ in everything(problem):
            assert found.value[d] <= value + 1e-7, seed


def test_a_large_choice_is_proven_and_stopping_gives_the_best_so_far():
    rng = np.random.default_rng(7)
    shape = (12, 60, 10)
    area = rng.uniform(1, 10, shape[1:])
    cost = 10 / area + rng.uniform(0, 1, shape)
    row = Row("area", area[None], float(area.min(axis=1).sum() * 1.8))
    problem = Problem(cost, rng.uniform(0, 3, 12), np.ones(shape[1:], bool), np.arange(600).reshape(60, 10), (row,))
    whole = solve(problem)
    assert whole.status == "optimal"
    assert whole.gap < 1e-8
    stopped = solve(problem, stop=lambda: True)
    assert stopped.status == "stopped"
    assert stopped.found
    assert stopped.bound <= whole.value <= stopped.value
    assert 0 < stopped.gap < 0.05


def test_many_parts_of_which_few_are_open_are_listed():
    # Hundred parts with one sensible option each and three with two: the limit lets only one of the three be large.
    parts = 103
    cost = np.full((2, parts, 2), 9.0)
    cost[:, :, 0] = 1.0
    cost[:, 100:, 1] = [1.5, 1.25, 1.75]
    cost[1] += 0.01
    area = np.full((parts, 2), 1.0)
    area[100:, 0] = 3.0
    outline = np.arange(parts * 2).reshape(parts, 2)
    row = Row("area", area[None], 105.0)
    found = solve(Problem(cost, np.zeros(2), np.ones((parts, 2), bool), outline, (row,)))
    assert found.status == "optimal"
    assert found.choice[100:] == (1, 1, 0)
    assert found.value == pytest.approx(101 + 1.5 + 1.25)


def test_a_choice_without_options_is_refused():
    with pytest.raises(InputError, match="at least one of each"):
        Problem(np.zeros((0, 1, 1)), np.zeros(0), np.ones((1, 1), bool), np.zeros((1, 1), np.int64))
