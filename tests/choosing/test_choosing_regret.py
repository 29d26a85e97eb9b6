"""The smallest worst regret against listing every board in every scenario, written separately here."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from landwise.choosing.optimum import Ban, Charge, Problem, Row, solve
from landwise.choosing.optimum.regret import Scenario, least_regret, pinned
from landwise.errors import InputError

NEAR = 1e-6


def random_scenarios(seed: int) -> list[Scenario]:
    """Two to four scenarios of one bill; each has decisions, costs, charges and limits of its own."""
    rng = np.random.default_rng(7000 + seed)
    parts, width = int(rng.integers(1, 5)), int(rng.integers(2, 5))
    exists = rng.random((parts, width)) < 0.9
    exists[:, 0] = True
    outline = np.array([rng.permutation(6)[:width] for _ in range(parts)])
    groups = ((0, 1),) if parts > 1 and seed % 5 == 1 else ()
    made = []
    for s in range(rng.integers(2, 5)):
        decisions = int(rng.integers(1, 5))
        shape = (decisions, parts, width)
        cost = rng.integers(0, 5, shape).astype(float) if seed % 3 == 0 else rng.uniform(0, 1, shape)
        charges = tuple(Charge(f"charge {n}", rng.random(shape[1:]) < 0.4) for n in range(rng.integers(0, 3)))
        rows = []
        for n in range(rng.integers(0, 3)):
            use = rng.uniform(0, 1, shape)
            once = rng.uniform(0, 0.4, len(charges)) if n == 0 and charges else None
            shared = rng.uniform(0, 0.2, decisions) if n == 1 else None
            rows.append(Row(f"row {n}", use, float(rng.uniform(0.4, 0.9) * parts), shared, "", once))
        bans = (Ban("ban", rng.random(shape) < 0.12),) if rng.random() < 0.6 else ()
        most = int(rng.integers(2, 5)) if seed % 2 else None
        kept = tuple(int(one) for one in rng.integers(0, 2, decisions)) if seed % 4 == 2 else (0,) * decisions
        problem = Problem(
            cost,
            rng.uniform(0, 0.5, decisions),
            exists,
            outline,
            tuple(rows),
            bans,
            groups,
            most,
            charges,
            rng.uniform(0, 0.6, len(charges)),
        )
        made.append(Scenario(f"scenario {s}", problem, kept))
    return made


def cost_by_definition(problem: Problem, d: int, choice: tuple[int, ...]) -> float | None:
    """What a board costs, None where it breaks a limit: summed up one by one."""
    if any(not problem.exists[p, k] for p, k in enumerate(choice)):
        return None
    if any(
        np.broadcast_to(ban.mask, problem.cost.shape)[d, p, k] for ban in problem.bans for p, k in enumerate(choice)
    ):
        return None
    paid = [any(charge.mask[p, k] for p, k in enumerate(choice)) for charge in problem.charges]
    for row in problem.rows:
        used = sum(np.broadcast_to(row.use, problem.cost.shape)[d, p, k] for p, k in enumerate(choice))
        used += 0.0 if row.shared is None else row.shared[d]
        used += 0.0 if row.charged is None else sum(u for u, due in zip(row.charged, paid, strict=True) if due)
        if used > row.limit + 1e-9:
            return None
    outlines = [problem.outline[p, k] for p, k in enumerate(choice)]
    if any(len({outlines[p] for p in group}) > 1 for group in problem.groups):
        return None
    if problem.most_outlines is not None and len(set(outlines)) > problem.most_outlines:
        return None
    own = sum(problem.cost[d, p, k] for p, k in enumerate(choice)) + problem.shared_cost[d]
    return own + sum(u for u, due in zip(problem.due, paid, strict=True) if due)


def listed(scenarios: list[Scenario]) -> tuple[float, float] | None:
    """The least worst regret and, with it, the least sum of regrets; None where no choice keeps every limit."""
    parts, width = scenarios[0].problem.exists.shape
    boards = list(itertools.product(range(width), repeat=parts))
    table = {}
    for s, one in enumerate(scenarios):
        for choice in boards:
            for d in range(one.problem.decisions):
                cost = cost_by_definition(one.problem, d, choice)
                if cost is not None:
                    key = (s, one.kept[d], choice)
                    table[key] = min(table.get(key, np.inf), cost)
    least = [min((v for (n, _, _), v in table.items() if n == s), default=None) for s in range(len(scenarios))]
    if None in least:
        return None
    best = None
    for choice in boards:
        for kept in range(2):
            costs = [table.get((s, kept, choice)) for s in range(len(scenarios))]
            if None not in costs:
                above = [cost - low for cost, low in zip(costs, least, strict=True)]
                if best is None or max(above) < best[0] - NEAR:
                    best = (max(above), sum(above))
                elif max(above) < best[0] + NEAR:
                    best = (best[0], min(best[1], sum(above)))
    return best


@pytest.mark.parametrize("block", range(8))
def test_the_worst_regret_is_the_least_of_all_boards_in_all_scenarios(block):
    met = 0
    for seed in range(block * 25, block * 25 + 25):
        scenarios = random_scenarios(seed)
        wanted, found = listed(scenarios), least_regret(scenarios)
        if wanted is None:
            assert found.status == "infeasible", seed
            continue
        met += 1
        assert found.status == "optimal", seed
        assert found.worst == pytest.approx(wanted[0], abs=NEAR), seed
        assert found.bound <= found.worst + NEAR
        assert found.worst - found.bound <= NEAR, seed
        assert sum(found.regrets) == pytest.approx(wanted[1], abs=1e-4), seed
        for one, d, cost, own in zip(scenarios, found.decisions, found.costs, found.own, strict=True):
            assert cost_by_definition(one.problem, d, found.choice) == pytest.approx(cost)
            assert own.value <= cost + NEAR
        # What is kept for all scenarios is one and the same.
        assert len({one.kept[d] for one, d in zip(scenarios, found.decisions, strict=True)}) == 1
    assert met > 10


def test_one_scenario_is_the_plain_choice_and_has_no_regret():
    one = random_scenarios(4)[0]
    alone = solve(one.problem)
    found = least_regret([Scenario("only", one.problem, one.kept)])
    assert found.worst == pytest.approx(0, abs=NEAR)
    assert found.costs[0] == pytest.approx(alone.value)


def test_a_scenario_that_nothing_fits_is_named():
    one = random_scenarios(4)[0]
    none = Problem(
        one.problem.cost,
        one.problem.shared_cost,
        one.problem.exists,
        one.problem.outline,
        rows=(Row("no room", np.ones(one.problem.cost.shape), -1.0),),
    )
    found = least_regret([Scenario("fits", one.problem, one.kept), Scenario("none fits", none, one.kept)])
    assert (found.status, found.alone) == ("infeasible", "none fits")


def test_a_stop_keeps_the_best_found_with_its_bound_and_pins_hold_the_choice():
    scenarios = random_scenarios(10)
    calls = itertools.count()
    found = least_regret(scenarios, stop=lambda: next(calls) > 40)
    assert found.status in ("stopped", "optimal")
    whole = least_regret(scenarios)
    if found.choice:
        assert found.bound <= whole.worst + NEAR <= found.worst + 2 * NEAR
    held = solve(pinned(scenarios[0].problem, whole.choice))
    assert held.choice == whole.choice


def test_scenarios_of_other_parts_are_refused():
    one, other = (random_scenarios(seed)[0] for seed in (1, 2))
    assert one.problem.exists.shape != other.problem.exists.shape
    with pytest.raises(InputError, match="scenario"):
        least_regret([one, other])
    with pytest.raises(InputError, match="at least one"):
        least_regret([])
