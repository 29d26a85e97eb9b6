"""Trials pay where they were proposed: played on lines that the proposal never saw."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import gamma, nbinom

from landwise.choosing.optimum.knowing import worth_knowing
from landwise.choosing.optimum.sampling import best_size, taken_after, worth_sampling
from landwise.errors import InputError


def lines(count, seed):
    """Invented lines: three packages whose defects nobody knows within a factor of thirty, and what they cost."""
    rng = np.random.default_rng(seed)
    rates = np.array([2e-4, 8e-4, 5e-4]) * np.exp(np.array([0.5, 1.2, 1.0]) * rng.standard_normal((count, 3)))
    pieces = 20_000
    cost = np.array([0.30, 0.26, 0.27]) * pieces + 12.0 * rates * pieces
    return cost, rates


def test_a_trial_that_was_proposed_pays_on_lines_it_never_saw():
    """200 simulated lines: the mean cost of building, counting and choosing lies below that of choosing now."""
    cost, rates = lines(400, 1)
    sizes = (200, 500, 1000, 2000, 5000, 10_000)
    prices = [50 + 0.03 * size for size in sizes]
    chosen = best_size(worth_sampling(cost, rates, sizes), prices)
    assert chosen is not None
    fresh_cost, fresh_rates = lines(200, 2)
    counts = np.random.default_rng(3).poisson(fresh_rates * chosen.size)
    taken = taken_after(cost, rates * chosen.size, counts)
    after = fresh_cost[np.arange(200), taken] + prices[sizes.index(chosen.size)]
    now = fresh_cost[:, cost.mean(axis=0).argmin()]
    saved = now - after
    assert saved.mean() > 0
    assert saved.mean() == pytest.approx(chosen.gain - prices[sizes.index(chosen.size)], abs=3 * saved.std() / 200**0.5)


def test_no_trial_is_proposed_where_it_costs_more_than_it_tells():
    cost, rates = lines(400, 1)
    sizes = (200, 1000, 5000)
    assert best_size(worth_sampling(cost, rates, sizes), [5000.0] * 3) is None


def test_a_gamma_prior_gives_the_textbook_value():
    """One rival of known cost, one whose rate has a gamma prior: after k counts in n parts the posterior mean is
    (shape + k) / (scale⁻¹ + n), counts are negative binomial, and the value follows by summing (conjugate analysis,
    Raiffa & Schlaifer 1961, from memory; worked here with scipy's distributions)."""
    shape, mean, pieces, each, draws = 1.5, 1e-3, 1000, 10.0, 2000
    rates = gamma.ppf((np.arange(draws) + 0.5) / draws, shape, scale=mean / shape)[:, None]
    cost = np.column_stack([np.full(draws, mean * pieces * each), rates[:, 0] * pieces * each])
    cost = np.random.default_rng(1).permutation(np.column_stack([cost, rates]))
    cost, rates = cost[:, :2], cost[:, 2:]
    for size in (300, 3000):
        k = np.arange(400)
        chance = nbinom.pmf(k, shape, (shape / mean) / (shape / mean + size))
        after = (shape + k) / (shape / mean + size) * pieces * each
        exact = mean * pieces * each - chance @ np.minimum(after, mean * pieces * each)
        (trial,) = worth_sampling(cost, rates, (size,))
        assert trial.gain == pytest.approx(exact, abs=3 * trial.error)
        assert trial.error < 0.1 * exact


def test_counting_is_never_worth_more_than_knowing():
    cost, rates = lines(300, 5)
    everything = worth_knowing(cost, {}).everything
    trials = worth_sampling(cost, rates, (100, 1000, 10_000, 1_000_000))
    assert all(one.gain <= everything + 2 * one.error for one in trials)
    assert trials[0].gain < trials[2].gain + 2 * trials[2].error


def test_what_cannot_be_played_is_refused():
    cost, rates = lines(50, 1)
    with pytest.raises(InputError, match="another length"):
        worth_sampling(cost, rates[:-1], (10,))
    with pytest.raises(InputError, match="no rival"):
        worth_sampling(np.full((50, 2), np.inf), rates, (10,))
