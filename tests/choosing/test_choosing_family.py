"""Boards chosen together, against listing every choice of every board."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from landwise.choosing.optimum.family import Family, solve_family
from landwise.choosing.optimum.model import Ban, Charge, Problem, Row
from landwise.choosing.optimum.solve import solve
from landwise.errors import InputError

OUTLINES = 5


def random_family(seed, boards=3):
    rng = np.random.default_rng(seed)
    problems, places = [], []
    for _ in range(boards):
        decisions, parts, options = 2, int(rng.integers(2, 4)), 3
        outline = np.array([rng.choice(OUTLINES, options, replace=False) for _ in range(parts)])
        stocked = int(rng.integers(-1, OUTLINES))  # one outline that this board has in any case
        names = [one for one in range(OUTLINES) if (outline == one).any() and one != stocked]
        charges = tuple(Charge(f"outline {one}", outline == one) for one in names)
        own = Charge("process", rng.random((parts, options)) < 0.3)
        cost = np.round(rng.random((decisions, parts, options)), 2)
        problems.append(
            Problem(
                cost,
                np.round(rng.random(decisions) * 0.2, 2),
                np.ones((parts, options), bool),
                outline,
                rows=(Row("area", np.round(rng.random((1, parts, options)), 2), 0.7 * parts),),
                bans=(Ban("foil", rng.random((decisions, parts, options)) < 0.1),),
                charges=(*charges, own),
                charged=np.array([0.3] * len(charges) + [0.2]),
            )
        )
        places.append(tuple(names.index(one) if one in names else -1 for one in range(OUTLINES)))
    counts = tuple(float(n) for n in rng.choice([1, 2, 5, 10], boards))
    once = tuple(np.round(rng.random(OUTLINES) * 3, 2))
    return Family(tuple(problems), counts, once, tuple(places))


def listed(family):
    """The least cost over every choice of every board, written apart from the model."""
    each = []
    for problem, count, places in zip(family.problems, family.boards, family.places, strict=True):
        found = {}
        for d in range(problem.cost.shape[0]):
            for choice in itertools.product(range(problem.cost.shape[2]), repeat=problem.cost.shape[1]):
                if any(problem.bans[0].mask[d, p, k] for p, k in enumerate(choice)):
                    continue
                if sum(problem.rows[0].use[0, p, k] for p, k in enumerate(choice)) > problem.rows[0].limit + 1e-9:
                    continue
                own = problem.shared_cost[d] + sum(problem.cost[d, p, k] for p, k in enumerate(choice))
                if any(problem.charges[-1].mask[p, k] for p, k in enumerate(choice)):
                    own += problem.charged[-1]
                used = frozenset(
                    int(problem.outline[p, k]) for p, k in enumerate(choice) if places[problem.outline[p, k]] >= 0
                )
                found[used] = min(found.get(used, np.inf), count * own)
        each.append(found)
    best = np.inf
    for picks in itertools.product(*(found.items() for found in each)):
        shared = frozenset().union(*(used for used, _ in picks))
        best = min(best, sum(own for _, own in picks) + sum(family.once[one] for one in shared))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_the_cheapest_family_is_that_of_a_plain_listing(seed):
    family = random_family(seed)
    found, least = solve_family(family), listed(family)
    if not np.isfinite(least):
        assert found.status == "infeasible"
        return
    assert found.status == "optimal"
    assert found.value == pytest.approx(least, rel=1e-9)
    assert found.bound == pytest.approx(least, rel=1e-6)
    assert family.value(found.choices) == pytest.approx(found.value)
    for problem, one in zip(family.problems, found.choices, strict=True):
        assert problem.holds(one.decision, one.choice)


def test_one_board_is_its_own_family():
    problem = random_family(3).problems[0]
    names = range(len(problem.charges) - 1)
    family = Family((problem,), (4.0,), tuple(4.0 * problem.charged[n] for n in names), (tuple(names),))
    assert solve_family(family).value == pytest.approx(4.0 * solve(problem).value)


def test_together_is_never_dearer_than_each_alone_and_never_cheaper_than_each_without_the_shared():
    for seed in range(40, 50):
        family = random_family(seed)
        alone = [solve(replace(problem, charged=problem.due)) for problem in family.problems]
        free = [solve(family.problem(b, np.zeros(OUTLINES), frozenset())) for b in range(3)]
        found = solve_family(family)
        if found.status == "infeasible":
            assert not all(one.found for one in alone)
            continue
        assert found.value <= family.value(alone) + 1e-9
        least = sum(count * one.value for count, one in zip(family.boards, free, strict=True))
        assert found.value >= least - 1e-9


def test_stopped_at_once_it_says_so_and_keeps_what_it_has():
    found = solve_family(random_family(1), stop=lambda: True)
    assert found.status == "stopped"
    assert found.bound <= found.value


def test_a_family_that_is_none_is_refused():
    with pytest.raises(InputError, match="number of boards"):
        Family((), (), (), ())
    with pytest.raises(InputError, match="above nothing"):
        replace(random_family(1), boards=(0.0, 1.0, 1.0))
