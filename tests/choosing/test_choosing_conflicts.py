"""The smallest set of limits that conflict: against listing every choice, and on boards too large for that."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from tests.choosing.test_choosing_board import everything, random_problem

from landwise.choosing.optimum import Ban, Problem, Row, solve
from landwise.choosing.optimum.conflicts import conflict
from landwise.choosing.optimum.explain import relaxations
from landwise.choosing.optimum.feasible import Together


def can_be_kept(problem, names):
    """By listing."""
    bare = problem.without(set(problem.limits) - set(names))
    return next(everything(bare), None) is not None


def crowded(seed):
    """A small board with five limits on sums, so that conflicts of several limits are met, some rows tied."""
    rng = np.random.default_rng(seed)
    shape = (2, 3, 3)
    uses = rng.uniform(-0.1, 1, (5, *shape)) if seed % 3 else rng.integers(0, 4, (5, *shape)).astype(float)
    rows = tuple(
        Row(f"row {n}", use, float(rng.uniform(0.3, 0.5) * use.max(axis=(0, 2)).sum()), tied=n == 4 and seed % 4 == 0)
        for n, use in enumerate(uses)
    )
    bans = (Ban("ban", rng.random(shape) < 0.2),)
    exists = np.ones(shape[1:], dtype=bool)
    return Problem(np.zeros(shape), np.zeros(2), exists, np.arange(9).reshape(3, 3), rows, bans)


@pytest.mark.parametrize(("board", "seeds"), [(random_problem, range(160)), (crowded, range(40))])
def test_no_smaller_set_of_limits_conflicts(board, seeds):
    sizes = []
    for seed in seeds:
        problem = board(seed)
        names = conflict(problem)
        if can_be_kept(problem, problem.limits):
            assert names == (), seed
            continue
        if any(row.tied for row in problem.rows) and not can_be_kept(problem, ()):
            continue  # no limit that could be lifted is to blame
        assert not can_be_kept(problem, names), seed
        for size in range(len(names)):
            for fewer in combinations(problem.limits, size):
                assert can_be_kept(problem, fewer), (seed, fewer)
        sizes.append(len(names))
    assert {1, 2} <= set(sizes)
    assert len(sizes) > 15


def test_listed_boards_meet_conflicts_of_three_limits():
    assert any(len(conflict(crowded(seed))) >= 3 for seed in range(40))


def large(seed, tight, *, share=0.97):
    """A board whose limits of numbers `tight` come to a little less than can be met together, the others to plenty."""
    rng = np.random.default_rng(seed)
    shape = (4, 60, 8)
    banned = rng.random(shape) < 0.1
    banned[:, :, 0] = False
    uses = [rng.lognormal(1.0, 0.5, (1, *shape[1:])) * rng.uniform(1, 1.02, (shape[0], 1, 1)) for _ in range(5)]
    # One choice that does well in all tight sums at once: what it comes to is nearly the least for them together.
    together = np.where(banned, np.inf, sum(uses[n] / uses[n].mean() for n in tight))
    d = int(together.min(axis=2).sum(axis=1).argmin())
    pick = together[d].argmin(axis=1)
    at = np.arange(shape[1])
    rows = tuple(
        Row(f"row {n}", use, (share if n in tight else 4.0) * float(use[d, at, pick].sum()))
        for n, use in enumerate(uses)
    )
    outline = np.zeros(shape[1:], dtype=np.int64)
    return Problem(np.zeros(shape), np.zeros(4), np.ones(shape[1:], bool), outline, rows, (Ban("foil", banned),))


@pytest.mark.parametrize("tight", [(0,), (1, 3), (0, 2, 4), (0, 1, 2, 3)])
def test_a_large_board_needs_no_search_to_name_its_conflict(tight):
    problem = large(1, tight)
    names = conflict(problem)
    assert set(names) - {"foil"} == {f"row {n}" for n in tight}
    bare = problem.without(set(problem.limits) - set(names))
    assert not solve(bare).found
    assert all(solve(bare.without([name])).found for name in names)
    limits = Together(problem)
    assert not limits.possible(problem.limits)
    assert all(limits.possible(set(names) - {name}) for name in names)
    assert limits.searches == 0


def test_what_is_kept_can_be_kept():
    problem = large(3, (0, 1), share=1.01)
    limits = Together(problem)
    assert limits.possible(["row 0"])
    assert limits.kept
    assert all(solve(problem.without(set(problem.limits) - kept)).found for kept in limits.kept)


def test_what_is_paid_once_counts_in_a_limit():
    # Alone the options fit the limit; what is needed once with them does not.
    problem = next(
        random_problem(seed) for seed in range(0, 400, 5) if random_problem(seed).rows and random_problem(seed).charges
    )
    row = problem.rows[0]
    assert row.charged is not None
    heavy = replace(row, charged=np.full(len(problem.charges), 1e3), limit=1e2)
    every = tuple(replace(charge, mask=np.ones_like(charge.mask)) for charge in problem.charges)
    problem = replace(problem, rows=(heavy,), bans=(), groups=(), most_outlines=None, charges=every)
    assert conflict(problem) == (heavy.name,)


def test_a_change_that_is_not_settled_in_time_tells_what_can_not_do():
    problem = large(1, (0, 2))
    names = conflict(problem)
    settled = {one.name: one for one in relaxations(problem, names)}
    assert set(settled) == set(names)
    for one in settled.values():
        assert one.needed == pytest.approx(one.least, rel=1e-5)
    for one in relaxations(problem, names, seconds=0.0):
        assert one.least <= settled[one.name].needed * (1 + 1e-6)
        assert one.needed >= settled[one.name].least * (1 - 1e-6)
