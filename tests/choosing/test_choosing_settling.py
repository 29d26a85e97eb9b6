"""Charges settled in one tree over all decisions, against plain listing and an integer solver with the whole model."""

from __future__ import annotations

import importlib
import itertools

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array
from tests.choosing.test_choosing_board import everything, random_problem

from landwise.choosing.optimum import Charge, Problem, Row, solve
from landwise.choosing.optimum.carried import Boards, Carrier, cheapest_alike, needs_of
from landwise.choosing.optimum.opening import Opener


@pytest.fixture
def always_a_tree(monkeypatch):
    """Every choice with charges goes through the tree, however small."""
    monkeypatch.setattr(importlib.import_module("landwise.choosing.optimum.solve"), "SMALL", 0)
    monkeypatch.setattr(importlib.import_module("landwise.choosing.optimum.branch"), "LARGE", 0)


@pytest.mark.parametrize("enumerate_below", [20_000, 0], ids=["listing", "integer solver"])
@pytest.mark.usefixtures("always_a_tree")
def test_small_boards_agree_with_listing_everything(enumerate_below):
    charged = 0
    for seed in range(1000, 1240):
        problem = random_problem(seed)
        best = min((found[0] for found in everything(problem)), default=None)
        found = solve(problem, enumerate_below=enumerate_below)
        assert found.found == (best is not None), seed
        if best is None:
            continue
        charged += bool(problem.charges)
        assert found.status == "optimal", seed
        assert found.value == pytest.approx(best, abs=1e-7), seed
        assert found.bound <= best + 1e-7, seed
        assert problem.holds(found.decision, found.choice), seed
    assert charged > 60


def near_ties(parts: int, options: int, decisions: int, *, seed: int) -> Problem:
    """A board whose options nearly tie, with three limits that bind and what is paid once for each of ten outlines."""
    rng = np.random.default_rng(seed)
    level = rng.lognormal(-1.0, 0.8, (1, parts, 1))
    cost = level * (1 + rng.uniform(0, 0.15, (decisions, parts, options)))
    rows = []
    for number in range(3):
        use = rng.lognormal(1.0, 0.5, (1, parts, options))
        used = np.take_along_axis(np.broadcast_to(use, cost.shape), cost.argmin(axis=2)[:, :, None], 2).sum(axis=(1, 2))
        rows.append(Row(f"limit {number}", use, 0.92 * float(used.mean())))
    outline = rng.integers(0, 10, (parts, options))
    charges = [Charge(f"outline {n}", outline == n) for n in range(10)]
    charges.append(Charge("second process", rng.random((parts, options)) < 0.1))
    due = rng.uniform(0.1, 0.2, len(charges)) * float(level.mean())
    exists = np.ones((parts, options), bool)
    return Problem(cost, np.zeros(decisions), exists, outline, tuple(rows), charges=tuple(charges), charged=due)


def by_the_whole_model(problem: Problem, *, gap: float) -> tuple[float, float]:
    """Value and bound by SciPy: a variable for every decision, part and option, written apart from our models."""
    decisions, parts, _ = problem.cost.shape
    options = problem.cost.size
    pairs = list(itertools.product(range(decisions), range(len(problem.charges))))
    x0, z0 = decisions, decisions + options
    count = z0 + len(pairs)
    cost = np.concatenate([problem.shared_cost, problem.cost.ravel(), [problem.charged[c] for _, c in pairs]])
    entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    lower: list[float] = []
    upper: list[float] = []

    def row(columns, values, low, high):
        entries.append((np.full(len(columns), len(lower)), np.asarray(columns), np.asarray(values, dtype=float)))
        lower.append(low)
        upper.append(high)

    row(range(decisions), np.ones(decisions), 1, 1)
    x = x0 + np.arange(options).reshape(problem.cost.shape)
    for at, part in itertools.product(range(decisions), range(parts)):
        row([at, *x[at, part]], [-1, *np.ones(x.shape[2])], 0, 0)
        for n, (where, c) in enumerate(pairs):
            needs = np.flatnonzero(problem.charges[c].mask[part])
            if where == at and len(needs):
                row([z0 + n, *x[at, part, needs]], [-1, *np.ones(len(needs))], -np.inf, 0)
    for limit in problem.rows:
        row(x.ravel(), np.broadcast_to(limit.use, problem.cost.shape).ravel(), -np.inf, limit.limit)
    at, columns, values = (np.concatenate(each) for each in zip(*entries, strict=True))
    matrix = coo_array((values, (at, columns)), shape=(len(lower), count)).tocsr()
    found = milp(
        cost,
        integrality=np.ones(count),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix, lower, upper),
        options={"mip_rel_gap": gap},
    )
    return float(found.fun), float(found.mip_dual_bound)


@pytest.mark.usefixtures("always_a_tree")
def test_a_board_of_middle_size_agrees_with_the_whole_model():
    # SciPy's milp (HiGHS) on the full formulation, written here: neither bounds nor dropped options of ours.
    problem = near_ties(12, 6, 4, seed=3)
    value, bound = by_the_whole_model(problem, gap=1e-7)
    found = solve(problem)
    assert found.status == "optimal"
    assert bound - 1e-6 <= found.value <= value + 1e-6
    assert found.bound <= value + 1e-6
    assert found.value == pytest.approx(value, rel=2e-6)


def test_what_the_parts_carry_bounds_every_board_with_the_same_charges_settled():
    rng = np.random.default_rng(11)
    met = 0
    for seed in range(60):
        parts, options, charges = 3, 4, 3
        cost = rng.uniform(0, 1, (1, parts, options))
        masks = [rng.random((parts, options)) < 0.45 for _ in range(charges)]
        due = rng.uniform(0.1, 0.8, (1, charges))
        settled = rng.integers(-1, 2, (8, charges))
        carrier = Carrier(needs_of(masks), 1e3)
        start = rng.uniform(0, 0.1, (parts, carrier.width, len(settled)))
        none = np.zeros((charges, len(settled)))
        boards = Boards(np.zeros(len(settled), dtype=np.int64), settled.T, start, none, none)
        for _ in range(3):
            bounds, boards = carrier.raised(cheapest_alike(carrier.needs, cost), np.array([0.25]), due.T, boards)
        for n, ways in enumerate(settled):
            best = np.inf
            for choice in itertools.product(range(options), repeat=parts):
                needs = np.array([any(mask[p, k] for p, k in enumerate(choice)) for mask in masks])
                if not (needs & (ways == -1)).any():
                    paid = due[0][needs | (ways == 1)].sum()
                    best = min(best, 0.25 + paid + sum(cost[0, p, k] for p, k in enumerate(choice)))
            assert bounds[n] <= best + 1e-9, (seed, n)
            for charge in np.flatnonzero(ways == 0):
                # Where a charge is paid the bound lies higher by what is left of it, as the tree takes it to.
                paying = cheapest_with(cost[0], masks, due[0], ways, paid=charge) + 0.25
                assert bounds[n] + max(boards.left[charge, n], 0.0) <= paying + 1e-9, (seed, n, charge)
            met += np.isfinite(best) and bounds[n] > 0.95 * best
    assert met > 300  # and it is no idle bound: most boards come within a twentieth of it


def cheapest_with(cost, masks, due, ways, *, paid: int) -> float:
    """The cheapest choice with charges settled, and one more paid whatever is taken."""
    best = np.inf
    for choice in itertools.product(range(cost.shape[1]), repeat=len(cost)):
        needs = np.array([any(mask[p, k] for p, k in enumerate(choice)) for mask in masks])
        needs[paid] = True
        if not (needs & (ways == -1)).any():
            best = min(best, due[needs | (ways == 1)].sum() + sum(cost[p, k] for p, k in enumerate(choice)))
    return best


def test_no_single_charge_and_no_exchange_betters_the_set_found():
    rng = np.random.default_rng(5)
    cost = rng.uniform(0, 1, (12, 8))
    masks = [np.asarray(rng.integers(0, 6, (12, 8)) == n) for n in range(6)]
    due = rng.uniform(0.2, 0.6, 6)

    def value(paid):
        out = np.any([mask for mask, is_paid in zip(masks, paid, strict=True) if not is_paid] or [masks[0] & False], 0)
        return np.where(out, np.inf, cost).min(axis=1).sum() + due[list(paid)].sum()

    needs = needs_of(masks)
    opener = Opener(needs, cheapest_alike(needs, cost[None]), np.zeros(1), due[:, None], 1e3)
    found = opener.exchanged(opener.improved(np.ones((6, 1), dtype=bool), np.zeros(1, dtype=int)))
    own = found.paid[:, 0]
    assert found.value[0] == pytest.approx(value(tuple(own)))
    for paid in itertools.product([False, True], repeat=6):
        other = np.array(paid)
        if (other != own).sum() <= 1 or ((other != own).sum() == 2 and other.sum() == own.sum()):
            assert value(paid) >= found.value[0] - 1e-9
