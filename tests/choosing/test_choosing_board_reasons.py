"""Conflicts, prices, steps and the trade-off, each against listing everything."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.choosing.test_choosing_board import everything, random_problem

from landwise.choosing.optimum import Row, solve
from landwise.choosing.optimum.conflicts import conflict
from landwise.choosing.optimum.explain import (
    limit_prices,
    migration,
    part_price,
    relaxations,
    rivals,
    runner_up,
)
from landwise.choosing.optimum.front import Axis, front
from landwise.choosing.optimum.model import Solution


def test_conflicts_are_minimal():
    seen = 0
    for seed in range(160):
        problem = random_problem(seed)
        if any(True for _ in everything(problem)):
            assert conflict(problem) == ()
            continue
        names = conflict(problem)
        others = set(problem.limits) - set(names)
        bare = problem.without(others)
        assert next(everything(bare), None) is None, seed
        for name in names:
            assert next(everything(bare.without([name])), None) is not None, (seed, name)
        seen += bool(names)
    assert seen > 20


def test_relaxed_limits_make_the_board_possible_and_a_little_less_does_not():
    seen = 0
    for seed in range(160):
        problem = random_problem(seed)
        if any(True for _ in everything(problem)):
            continue
        for relaxed in relaxations(problem, conflict(problem)):
            assert relaxed.helps == everything_without(problem, relaxed.name), seed
            if not relaxed.helps:
                assert relaxed.needed is None
                continue
            rows = [row for row in problem.rows if row.name == relaxed.name]
            if not rows:
                continue
            seen += 1
            others = problem.without([relaxed.name])
            enough = others.with_rows(replace(rows[0], limit=relaxed.needed + 1e-6))
            short = others.with_rows(replace(rows[0], limit=relaxed.needed - 1e-4))
            assert next(everything(enough), None) is not None, seed
            assert next(everything(short), None) is None, seed
    assert seen > 10


def test_without_time_a_choice_met_without_a_search_gives_a_change_that_is_enough():
    kinds = {"sum": 0, "ban": 0, "other": 0}
    for seed in range(200):
        problem = random_problem(seed)
        if any(True for _ in everything(problem)):
            continue
        names = conflict(problem)
        settled = {one.name: one for one in relaxations(problem, names)}
        for one in relaxations(problem, names, seconds=0.0):
            if one.needed is None:
                continue
            least = settled[one.name].needed  # only what helps alone has a change
            assert one.needed >= least - 1e-6, seed
            assert one.least is None or one.least <= least + 1e-6, seed
            others = problem.without([one.name])
            rows = [row for row in problem.rows if row.name == one.name]
            if rows:
                kinds["sum"] += 1
                enough = others.with_rows(replace(rows[0], limit=one.needed + 1e-6))
                assert next(everything(enough), None) is not None, seed
            elif one.unit == "options":
                kinds["ban"] += 1
                assert len(one.parts) == one.needed, seed
                bans = [ban for ban in problem.bans if ban.name == one.name]
                masks = [np.array(np.broadcast_to(ban.mask, problem.cost.shape)) for ban in bans]
                for mask in masks:
                    mask[:, list(one.parts)] = False
                freed = [replace(ban, mask=mask) for ban, mask in zip(bans, masks, strict=True)]
                enough = replace(others, bans=(*others.bans, *freed))
                assert next(everything(enough), None) is not None, seed
            else:
                kinds["other"] += 1
    assert all(count > 2 for count in kinds.values()), kinds


def everything_without(problem, name) -> bool:
    """Whether some choice keeps all limits but one."""
    return next(everything(problem.without([name])), None) is not None


def test_without_time_and_without_such_a_choice_no_change_is_told(monkeypatch):
    monkeypatch.setattr("landwise.choosing.optimum.feasible.Together.choice", lambda *_: None)
    monkeypatch.setattr("landwise.choosing.optimum.explain._each_alone", lambda _: (float("-inf"), None))
    seen = 0
    for seed in range(60):
        problem = random_problem(seed)
        names = conflict(problem)
        told = relaxations(problem, names, seconds=0.0)
        assert [(one.name, one.needed) for one in told] == [(name, None) for name in names], seed
        assert all(one.helps or not everything_without(problem, one.name) for one in told), seed
        seen += sum(one.helps for one in told)
    assert seen > 10


def test_outlines_and_groups_are_relaxed_no_further_than_needed():
    from landwise.choosing.optimum.model import GROUPS, OUTLINES

    seen = dict.fromkeys((OUTLINES, GROUPS), 0)
    for seed in range(400):
        problem = random_problem(seed)
        if any(True for _ in everything(problem)):
            continue
        for relaxed in relaxations(problem, conflict(problem)):
            if not relaxed.helps:
                continue
            if relaxed.name == OUTLINES:
                seen[OUTLINES] += 1
                most = int(relaxed.needed)
                assert next(everything(replace(problem, most_outlines=most)), None) is not None, seed
                assert next(everything(replace(problem, most_outlines=most - 1)), None) is None, seed
            elif relaxed.name == GROUPS:
                seen[GROUPS] += 1
                left = tuple(group for group in problem.groups if not set(group) <= set(relaxed.parts))
                assert next(everything(replace(problem, groups=left)), None) is not None, seed
    assert all(count > 2 for count in seen.values()), seen


def test_runner_up_is_the_second_of_the_list():
    for seed in range(0, 120, 3):
        problem = random_problem(seed)
        best = solve(problem)
        others = [value for value, _, choice in everything(problem) if choice != best.choice]
        if not best.found or not others:
            continue
        second = runner_up(problem, best)
        assert second.choice != best.choice
        assert second.value == pytest.approx(min(others), abs=1e-7), seed


def test_other_shared_decisions_are_the_best_under_them():
    for seed in range(0, 120, 3):
        problem = random_problem(seed)
        best = solve(problem)
        if not best.found:
            continue
        told = {rival.decision: rival for rival in rivals(problem, best)}
        assert set(told) == set(range(problem.decisions)) - {best.decision}
        for d, rival in told.items():
            under = [value for value, decision, _ in everything(problem) if decision == d]
            assert rival.more == pytest.approx(min(under, default=np.inf) - best.value, abs=1e-7), (seed, d)
            for p in rival.kept_out:
                assert not problem.allowed[d, p].any()


def test_known_choices_change_nothing_but_the_work():
    for seed in range(0, 160, 3):
        problem = random_problem(seed)
        plain = solve(problem)
        if not plain.found:
            continue
        some = next(everything(problem))
        known = [
            Solution("optimal", some[2], some[1], some[0], 0.0),
            Solution("optimal", (0,) * problem.parts, 0, 0, 0),
        ]
        warm = solve(problem, known=known)
        assert warm.status == "optimal"
        assert warm.value == pytest.approx(plain.value, abs=1e-9), seed
        assert warm.bound == pytest.approx(plain.bound, abs=1e-7), seed
        assert problem.holds(warm.decision, warm.choice)


def test_price_of_a_limit_is_what_its_absence_saves():
    for seed in range(0, 90, 3):
        problem = random_problem(seed)
        best = solve(problem)
        if not best.found:
            continue
        prices = {price.name: price.saved for price in limit_prices(problem, best)}
        for name in problem.limits:
            free = min(value for value, _, _ in everything(problem.without([name])))
            assert prices.get(name, 0.0) == pytest.approx(best.value - free, abs=1e-7), (seed, name)


def test_a_part_that_alone_holds_the_foil_is_priced():
    # Ten parts cost 1 on the thick and 2 on the thin foil; the last prints only on the thin one.
    from landwise.choosing.optimum import Ban, Problem

    cost = np.ones((2, 11, 1))
    cost[1, :10] = 2.0
    mask = np.zeros((2, 11, 1), dtype=bool)
    mask[0, 10] = True
    problem = Problem(cost, np.zeros(2), np.ones((11, 1), bool), np.arange(11)[:, None], bans=(Ban("foil", mask),))
    best = solve(problem)
    assert best.decision == 1
    assert part_price(problem, best, 10).saved == pytest.approx(10.0)
    assert part_price(problem, best, 10).freed.decision == 0
    assert part_price(problem, best, 0).saved == pytest.approx(1.0)


def test_steps_from_today_are_the_best_of_their_size():
    for seed in range(0, 90, 3):
        problem = random_problem(seed)
        best = solve(problem)
        if not best.found:
            continue
        present = [0] * problem.parts
        steps = migration(problem, present, today=problem.value(0, present))
        assert steps[-1].found.value == pytest.approx(best.value, abs=1e-7)
        for step in steps:
            reachable = [v for v, _, choice in everything(problem) if sum(k != 0 for k in choice) <= step.changes]
            assert step.found.value == pytest.approx(min(reachable), abs=1e-7), seed


def axes_of(problem, seed, count):
    rng = np.random.default_rng(seed + 10_000)
    whole = seed % 3 == 0
    found = [Axis("cost", problem.cost, problem.shared_cost, charged=problem.charged)]
    for name in ("area", "risk")[: count - 1]:
        use = rng.integers(0, 5, problem.cost.shape).astype(float) if whole else rng.uniform(0, 3, problem.cost.shape)
        found.append(Axis(name, use, np.zeros(problem.decisions)))
    return found


def once_of(problem, axis, choice):
    if axis.charged is None:
        return 0.0
    return sum(
        due
        for due, charge in zip(axis.charged, problem.charges, strict=True)
        if any(charge.mask[p, k] for p, k in enumerate(choice))
    )


@pytest.mark.parametrize("count", [2, 3])
def test_the_trade_off_is_the_pareto_set_of_the_list(count):
    seen = 0
    for seed in range(60 if count == 2 else 24):
        problem = random_problem(seed)
        axes = axes_of(problem, seed, count)
        listed = [
            tuple(
                sum(axis.use[d, p, k] for p, k in enumerate(choice)) + axis.shared[d] + once_of(problem, axis, choice)
                for axis in axes
            )
            for _, d, choice in everything(problem)
        ]
        points = np.array(sorted(set(listed))).reshape(-1, count)
        best = [
            row
            for row in points
            if not any((other <= row + 1e-9).all() and (other < row - 1e-7).any() for other in points)
        ]
        found, complete = front(problem, axes)
        assert complete
        rounded = {tuple(np.round(point.values, 6)) for point in found}
        assert rounded == {tuple(np.round(row, 6)) for row in best}, seed
        seen += len(best) > 2
    assert seen > 5


def test_spaced_points_lie_on_the_trade_off():
    rng = np.random.default_rng(3)
    problem = replace(random_problem(2), rows=(), bans=(), groups=(), most_outlines=None, charges=(), charged=None)
    problem = replace(
        problem,
        cost=rng.uniform(0, 1, (3, 6, 4)),
        shared_cost=np.zeros(3),
        exists=np.ones((6, 4), bool),
        outline=np.arange(24).reshape(6, 4),
    )
    axes = axes_of(problem, 1, 2)
    every, _ = front(problem, axes)
    some, complete = front(problem, axes, points=8)
    assert not complete
    known = {tuple(np.round(point.values, 6)) for point in every}
    assert {tuple(np.round(point.values, 6)) for point in some} <= known
    assert len(some) >= 5
    assert problem.with_rows(Row("none", np.zeros((1, 1, 1)), 1.0)).limits == ("none",)
