"""Grouping and options chosen together, against listing every grouping with every board, written separately here."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from landwise.choosing.optimum import Ban, Charge, Problem, Row, solve
from landwise.choosing.optimum.ways import composed, undominated
from landwise.errors import InputError


def random_case(seed: int) -> tuple[Problem, tuple[tuple[tuple[int, ...], ...], ...]]:
    """Fixed parts and one or two sets with two or three ways; integers make ties, tight limits make it impossible."""
    rng = np.random.default_rng(1000 + seed)
    fixed, sets, number = int(rng.integers(0, 3)), [], 0
    number = fixed
    for _ in range(rng.integers(1, 3)):
        ways = []
        for _ in range(rng.integers(2, 4)):
            size = int(rng.integers(1, 4))
            ways.append(tuple(range(number, number + size)))
            number += size
        sets.append(tuple(ways))
    decisions, width = int(rng.integers(1, 4)), int(rng.integers(1, 4))
    shape = (decisions, number, width)
    whole = seed % 3 == 0
    cost = rng.integers(0, 4, shape).astype(float) if whole else rng.uniform(-0.1, 1, shape)
    exists = rng.random(shape[1:]) < 0.85
    exists[:, 0] = True
    outline = np.array([rng.permutation(5)[:width] for _ in range(number)])
    charges = tuple(Charge(f"charge {n}", rng.random(shape[1:]) < 0.4) for n in range(rng.integers(0, 4)))
    due = rng.uniform(0, 0.6, len(charges))
    rows = []
    for n in range(rng.integers(0, 3)):
        use = rng.integers(0, 5, shape).astype(float) if whole else rng.uniform(0, 1, shape)
        once = rng.uniform(0, 0.4, len(charges)) if n == 0 and charges else None
        shared = rng.uniform(0, 0.3, decisions) if n == 1 else None
        rows.append(
            Row(f"row {n}", use, float(rng.uniform(0.2, 0.7) * use.max(axis=(0, 2)).sum() / 2), shared, "", once)
        )
    bans = tuple(Ban(f"ban {n}", rng.random(shape) < 0.12) for n in range(rng.integers(0, 3)))
    groups = ((0, 1),) if fixed > 1 and seed % 4 == 1 else ()
    most = int(rng.integers(2, 5)) if seed % 2 else None
    shared_cost = rng.uniform(0, 0.5, decisions)
    made = Problem(cost, shared_cost, exists, outline, tuple(rows), bans, groups, most, charges, due)
    return made, tuple(sets)


def best_by_listing(problem: Problem, sets, held: dict[int, int] | None = None) -> tuple[float, tuple[int, ...]] | None:
    """The least cost over every grouping, decision and option, by the definition."""
    member = {p for ways in sets for way in ways for p in way}
    best = None
    for ways in itertools.product(*(range(len(some)) for some in sets)):
        if any(ways[one] != way for one, way in (held or {}).items()):
            continue
        there = [p for p in range(problem.parts) if p not in member]
        there += [p for some, w in zip(sets, ways, strict=True) for p in some[w]]
        for d in range(problem.decisions):
            for picked in itertools.product(range(problem.cost.shape[2]), repeat=len(there)):
                board = dict(zip(there, picked, strict=True))
                cost = price(problem, d, board)
                if cost is not None and (best is None or cost < best[0] - 1e-12):
                    best = (cost, ways)
    return best


def price(problem: Problem, d: int, board: dict[int, int]) -> float | None:
    if not all(problem.exists[p, k] for p, k in board.items()):
        return None
    if any(ban.mask[d, p, k] for ban in problem.bans for p, k in board.items()):
        return None
    opened = [any(charge.mask[p, k] for p, k in board.items()) for charge in problem.charges]
    for row in problem.rows:
        used = sum(row.use[d, p, k] for p, k in board.items())
        used += 0.0 if row.shared is None else row.shared[d]
        if row.charged is not None:
            used += sum(once for once, due in zip(row.charged, opened, strict=True) if due)
        if used > row.limit + 1e-9 * max(1.0, row.limit):
            return None
    names = {p: problem.outline[p, k] for p, k in board.items()}
    if any(len({names[p] for p in group}) > 1 for group in problem.groups):
        return None
    if problem.most_outlines is not None and len(set(names.values())) > problem.most_outlines:
        return None
    paid = sum(once for once, due in zip(problem.due, opened, strict=True) if due)
    return float(sum(problem.cost[d, p, k] for p, k in board.items()) + problem.shared_cost[d] + paid)


@pytest.mark.parametrize("block", range(4))
def test_grouping_and_options_together_agree_with_listing_everything(block):
    kinds, impossible = set(), 0
    for seed in range(block * 60, block * 60 + 60):
        problem, sets = random_case(seed)
        best = best_by_listing(problem, sets)
        made = composed(problem, sets)
        found = solve(made.problem)
        if best is None:
            assert found.status == "infeasible", seed
            impossible += 1
            continue
        assert found.status == "optimal", seed
        assert found.value == pytest.approx(best[0], abs=1e-7), seed
        assert found.bound <= best[0] + 1e-7, seed
        # What it stands for is a board of the whole, and costs what was said.
        assert price(problem, found.decision, made.options(found)) == pytest.approx(found.value, abs=1e-7), seed
        kinds.add(made.ways(found)[0])
    assert impossible < 50
    assert len(kinds) > 1  # not always the same way


def test_a_way_that_is_held_gives_the_best_board_of_that_way():
    seen = 0
    for seed in range(40):
        problem, sets = random_case(seed)
        made = composed(problem, sets)
        for way in range(len(sets[0])):
            best, found = best_by_listing(problem, sets, {0: way}), solve(made.held({0: way}))
            assert (best is None) == (not found.found)
            if best is not None:
                seen += 1
                assert found.value == pytest.approx(best[0], abs=1e-7)
                assert made.ways(found)[0] == way
    assert seen > 20


def test_what_is_dropped_is_never_needed_and_what_brings_a_charge_stays():
    cost = np.array([[[1.0, 1.2, 0.9]]])
    exists = np.ones((1, 3), dtype=bool)
    dear = Charge("dear", np.array([[False, False, True]]))
    plain = Problem(cost, np.zeros(1), exists, np.array([[0, 1, 2]]), charges=(dear,), charged=np.array([5.0]))
    # The second costs more and needs nothing less: out. The third is cheapest where its charge is paid anyway: stays.
    assert undominated(plain, 0) == [0, 2]


def test_a_part_stands_in_one_way_and_is_tied_to_no_other():
    problem, _ = random_case(2)
    with pytest.raises(InputError, match="two ways"):
        composed(problem, [((0,), (0,))])
    tied = Problem(np.ones((1, 3, 1)), np.zeros(1), np.ones((3, 1), bool), np.zeros((3, 1), int), groups=((0, 1),))
    with pytest.raises(InputError, match="tied"):
        composed(tied, [((0,), (2,))])
