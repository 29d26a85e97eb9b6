"""Robustness of the whole-board choice, each number against listing every board or against a fine scan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.choosing.test_choosing_board import everything, random_problem

from landwise.choosing.optimum import solve
from landwise.choosing.optimum.flips import flip_of, price_flips, print_flip, rate_flips
from landwise.choosing.optimum.front import Axis
from landwise.choosing.optimum.market import Input, Market, Prices, Term
from landwise.choosing.optimum.robust import _choices, robustness
from landwise.errors import InputError
from whole import WHOLE


def solvable(first: int, last: int, step: int):
    """Small instances that have a board at all, with generators of their own."""
    for seed in range(first, last, step):
        problem = random_problem(seed)
        best = solve(problem)
        if best.found:
            yield seed, problem, best, np.random.default_rng(seed)


def market_for(problem, rng, *, breaks=()):
    """Three rates, two of them multiplied and shared out over a run, and a price for every option."""
    shape, nothing, none = problem.cost.shape, np.zeros((1, 1, 1)), np.zeros(problem.decisions)
    terms = (
        Term({"area": 1}, rng.uniform(0, 0.6, shape), none),
        Term({"area": 1, "layer": 1}, rng.uniform(0, 0.8, shape), none),
        Term({"foil": 1, "run": -1}, nothing, rng.uniform(0, 1.5, problem.decisions)),
    )
    inputs = (
        Input("area", 1.0, 0.5, 2.0),
        Input("layer", 0.4, 0.2, 0.9),
        Input("foil", 1.0, 0.3, 3.0),
        Input("run", 1.0, 0.5, 2.0),
    )
    tables = [rng.uniform(0.1, 1.0, shape[1:]) for _ in range(len(breaks) + 1)]
    return Market(inputs, terms, Prices(tuple(tables), rng.uniform(0, 0.4, shape[1:]), tuple(breaks)))


def repriced(problem, market, values, stretch):
    """The problem at other values, term by term as money is defined."""
    today = {one.name: one.value for one in market.inputs}
    cost, shared = problem.cost.copy(), problem.shared_cost.copy()
    for term in market.terms:
        factors = [np.prod([v[name] ** power for name, power in term.powers.items()]) for v in (values, today)]
        cost = cost + (factors[0] - factors[1]) * term.load
        shared = shared + (factors[0] - factors[1]) * term.shared
    now = market.stretch(today["run"])
    return replace(problem, cost=cost + market.prices.cost[stretch] - market.prices.cost[now], shared_cost=shared)


def test_every_draw_is_chosen_as_if_all_boards_were_listed():
    searched = 0
    for seed, problem, best, rng in solvable(0, 100, 3):
        market = market_for(problem, rng)
        lean_needed = rng.uniform(-1.5, 0.5, problem.cost.shape)
        lean = rng.uniform(-1, 1, 12)
        moves = list(market.draw(problem, 12, 1, 10**6))
        assert len(moves) == 1
        chosen = list(_choices(problem, best, iter(moves), lean_needed, lean, (), None))
        for n, (choice, decision, own) in enumerate(chosen):
            searched += own
            moved = replace(
                problem, cost=problem.cost + moves[0][0][n], shared_cost=problem.shared_cost + moves[0][1][n]
            )
            left = [
                value
                for value, d, picked in everything(moved)
                if all(lean_needed[d, p, k] <= lean[n] for p, k in enumerate(picked))
            ]
            if not left:
                assert decision < 0, seed
                continue
            assert moved.holds(decision, choice), seed
            assert moved.value(decision, choice) == pytest.approx(min(left), abs=1e-7), seed
    assert searched > 50


def test_every_draw_of_weights_is_chosen_as_if_all_boards_were_listed():
    for seed, whole, _, rng in solvable(0, 100, 5):
        # Charges weigh by the axis that they are on, which is tested with the trade-off.
        rows = tuple(replace(row, charged=None) for row in whole.rows)
        problem = replace(whole, rows=rows, charges=(), charged=None)
        best = solve(problem)
        market = market_for(problem, rng)
        axes = [
            (Axis("cost", problem.cost, problem.shared_cost), 1.5),
            (Axis("area", rng.uniform(0, 3, problem.cost.shape), np.zeros(problem.decisions)), 4.0),
        ]
        weights = rng.dirichlet([1, 1], 10)
        moves = list(market.draw(problem, 10, 2, 10**6))
        for n, (choice, decision, _) in enumerate(
            _choices(problem, best, iter(moves), None, np.zeros(10), axes, weights)
        ):
            moved = replace(
                problem,
                cost=weights[n, 0] / 1.5 * (problem.cost + moves[0][0][n]) + weights[n, 1] / 4.0 * axes[1][0].use,
                shared_cost=weights[n, 0] / 1.5 * (problem.shared_cost + moves[0][1][n]),
            )
            assert moved.value(decision, choice) == pytest.approx(min(v for v, _, _ in everything(moved)), abs=1e-7), (
                seed
            )


def test_draws_stay_within_their_ranges_and_cost_what_the_terms_say():
    seed, problem, _, rng = next(solvable(2, 60, 1))
    market = market_for(problem, rng, breaks=(0.8, 1.3))
    exact = replace(market, prices=replace(market.prices, spread=np.zeros(problem.exists.shape)))
    ((moved, shared, _),) = exact.draw(problem, 300, 5, 10**9)
    values = market.values(5, 300).T
    seen = set()
    for n in range(300):
        point = {one.name: column[n] for one, column in zip(market.inputs, values, strict=True)}
        stretch = sum(point["run"] >= start for start in (0.8, 1.3))
        seen.add(stretch)
        expected = repriced(problem, market, point, stretch)
        assert problem.cost + moved[n] == pytest.approx(expected.cost), seed
        assert problem.shared_cost + shared[n] == pytest.approx(expected.shared_cost)
    assert seen == {0, 1, 2}
    ((spread, _, _),) = market.draw(problem, 300, 5, 10**9)
    most = market.prices.spread * np.max(market.prices.cost, axis=0)
    off = np.abs(spread - moved).max(axis=(0, 1))
    assert (off <= most + 1e-12).all()
    assert off.max() > 0.8 * most.max()


def test_draws_do_not_depend_on_the_size_of_a_block():
    _, problem, _, rng = next(solvable(4, 60, 1))
    market = market_for(problem, rng, breaks=(0.9,))
    whole = list(market.draw(problem, 20, 3, 10**9))
    pieces = list(market.draw(problem, 20, 3, 3 * problem.cost.size))
    assert len(whole) == 1
    assert len(pieces) == 7
    assert np.concatenate([moved for moved, *_ in pieces]) == pytest.approx(whole[0][0])
    assert np.concatenate([shared for _, shared, _ in pieces]) == pytest.approx(whole[0][1])


def test_shares_of_wins_add_up_and_stopping_keeps_what_was_drawn():
    for seed, problem, best, rng in solvable(1, 60, 9):
        found = robustness(problem, best, market_for(problem, rng), draws=60)
        assert found.draws == 60
        assert found.wins.sum(axis=1) == pytest.approx(1 - found.impossible / 60), seed
        assert found.decisions.sum() == pytest.approx(1 - found.impossible / 60)
        assert found.confidence <= found.wins[range(problem.parts), best.choice].min() + 1e-12
        stopped = robustness(problem, best, market_for(problem, rng), draws=60, stop=lambda: True)
        assert stopped.draws == 1


def test_a_share_of_wins_is_the_share_of_the_range_in_closed_form():
    # Two options at equal prices ±20 %: each is the cheaper in half of all draws. At 1.0 against 1.1 the dearer
    # wins where u/1.0 > v/1.1: with u, v uniform, a triangle of half-width 0.2·2.1 and offset 0.1 over a box of
    # 0.4 × 0.44.
    from landwise.choosing.optimum import Problem

    problem = Problem(np.array([[[1.0, 1.1]]]), np.zeros(1), np.ones((1, 2), bool), np.array([[0, 1]]))
    market = Market((), (), Prices((np.array([[1.0, 1.1]]),), np.full((1, 2), 0.2)))
    found = robustness(problem, solve(problem), market, draws=40_000)
    expected = 0.5 * (1.2 - 0.88) ** 2 / (0.4 * 0.44)
    assert found.wins[0, 1] == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("breaks", [(), (0.6, 1.7)], ids=["flat prices", "price breaks"])
def test_flips_are_where_a_fine_scan_finds_them(breaks):
    seen = dict.fromkeys(("area", "layer", "foil", "run"), 0)
    for seed, problem, best, rng in solvable(1, 400 if WHOLE else 120, 5):
        if seed % 3 == 0:  # whole numbers tie, so the scan can't tell the boards apart
            continue
        market = market_for(problem, rng, breaks=breaks)
        today = {one.name: one.value for one in market.inputs}
        listed = list(everything(problem))
        for one in market.inputs:
            flip = flip_of(problem, best, market, one)
            first = np.inf
            for value in one.value * np.exp(np.linspace(np.log(0.1), np.log(10), 81)):
                moved = repriced(
                    problem, market, today | {one.name: value}, market.stretch(value if one.name == "run" else 1.0)
                )
                values = [(moved.value(d, choice), choice) for _, d, choice in listed]
                least = min(values)[0]
                if all(choice != best.choice for value_, choice in values if value_ < least + 1e-9):
                    first = min(first, max(value / one.value, one.value / value))
            if flip is None:
                assert first == np.inf, (seed, one.name)
                continue
            seen[one.name] += 1
            step = 10 ** (1 / 40)
            assert flip.factor <= first * 1.0001, (seed, one.name)
            assert first <= flip.factor * step * 1.0001 or flip.factor * step > 10, (seed, one.name)
            for side in (0.9999, 1.0001):
                place = one.value + (flip.at - one.value) * side
                moved = repriced(
                    problem, market, today | {one.name: place}, market.stretch(place if one.name == "run" else 1.0)
                )
                here = min(everything(moved))[0]
                mine = min(moved.value(d, c) for _, d, c in listed if c == best.choice)
                assert (mine <= here + 1e-7) == (side < 1) or abs(mine - here) < 2e-4, (seed, one.name)
    assert all(count > 2 for count in seen.values()), seen


def test_a_price_flips_the_choice_exactly_where_it_says():
    seen = 0
    for seed, problem, best, rng in solvable(1, 300, 2):
        if seed % 3 == 0:
            continue
        market = market_for(problem, rng)
        counts = [int(rng.integers(1, 4)) for _ in range(problem.parts)]
        for flip in price_flips(problem, best, market, counts):
            seen += 1
            change = (flip.at - flip.now) * counts[flip.part]
            for side, wins in ((0.999, True), (1.001, False)):
                cost = problem.cost.copy()
                cost[:, flip.part, flip.option] += change * side
                moved = replace(problem, cost=cost)
                here = min(everything(moved))[0]
                mine = min(moved.value(d, c) for _, d, c in everything(problem) if c == best.choice)
                assert (mine <= here + 1e-9) == wins, seed
            at = replace(problem, cost=problem.cost.copy())
            at.cost[:, flip.part, flip.option] += change
            assert at.value(flip.to.decision, flip.to.choice) == pytest.approx(min(everything(at))[0], abs=1e-7)
    assert seen > 25


def test_no_price_nearer_than_the_flip_moves_a_part():
    for seed, problem, best, rng in solvable(1, 60, 2):
        if seed % 3 == 0:
            continue
        market = market_for(problem, rng)
        flips = {flip.part: flip for flip in price_flips(problem, best, market, [1] * problem.parts)}
        for p, flip in flips.items():
            assert type(flip.now) is type(flip.at) is float  # as it is read back where it was kept
            for k in np.flatnonzero(problem.exists[p]):
                price = market.prices.cost[0][p, k]
                for factor in (1 / flip.factor, flip.factor):
                    cost = problem.cost.copy()
                    cost[:, p, k] += price * (1 + 0.99 * (factor - 1)) - price
                    moved = replace(problem, cost=cost)
                    mine = min(moved.value(d, c) for _, d, c in everything(problem) if c[p] == best.choice[p])
                    assert mine <= min(everything(moved))[0] + 1e-7, seed


def test_the_print_that_gives_way_first_is_named():
    seen = 0
    for seed, problem, best, rng in solvable(1, 260, 2):
        needed = rng.uniform(-1.6, 0, problem.cost.shape)
        flip = print_flip(problem, best, needed)
        weakest = max(needed[best.decision, p, k] for p, k in enumerate(best.choice))
        if weakest <= -1:
            assert flip is None
            continue
        left = [
            (value, choice)
            for value, d, choice in everything(problem)
            if all(needed[d, p, k] < weakest - 1e-12 for p, k in enumerate(choice))
        ]
        if flip is None:  # no board is left, or the same options win under another foil
            assert not left or min(left)[1] == best.choice, seed
            continue
        seen += 1
        assert flip.at == pytest.approx(weakest)
        assert problem.value(flip.to.decision, flip.to.choice) == pytest.approx(min(left)[0], abs=1e-7)
    assert seen > 5


def test_nearest_flips_come_first_and_wrong_markets_are_refused():
    _, problem, best, rng = next(solvable(1, 60, 1))
    flips = rate_flips(problem, best, market_for(problem, rng))
    assert [flip.factor for flip in flips] == sorted(flip.factor for flip in flips)
    with pytest.raises(InputError, match="out of order"):
        Input("rate", 1.0, 2.0, 3.0)
    with pytest.raises(InputError, match="isn't there"):
        Market((), (Term({"rate": 1}, np.zeros((1, 1, 1)), np.zeros(1)),))
    both = Market(
        (Input("a", 1.0, 1.0, 1.0),),
        (Term({"a": 1}, np.zeros((1, 1, 1)), np.zeros(1)), Term({"a": -1}, np.zeros((1, 1, 1)), np.zeros(1))),
    )
    with pytest.raises(InputError, match="two ways"):
        both.power("a")
