"""What knowing is worth, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from landwise.choosing.optimum.knowing import worth_knowing
from landwise.errors import InputError


def loss(mean: float, sd: float) -> float:
    """Unit normal linear loss: E max(0, -D) for D normal. Raiffa & Schlaifer 1961, from memory; derived by parts."""
    return sd * norm.pdf(mean / sd) - mean * norm.cdf(-mean / sd)


def two_rivals(draws: int, seed: int = 1):
    rng = np.random.default_rng(seed)
    one, other, idle = rng.normal(size=(3, draws))
    cost = np.stack([np.zeros(draws), 0.3 + 0.8 * one + 0.6 * other], axis=1)
    return worth_knowing(cost, {"one": one, "other": other, "idle": idle})


def test_two_normal_rivals_in_closed_form():
    known = two_rivals(40_000)
    assert known.best == 0
    assert known.everything == pytest.approx(loss(0.3, 1.0), rel=0.03)
    assert known.one["one"] == pytest.approx(loss(0.3, 0.8), rel=0.06)
    assert known.one["other"] == pytest.approx(loss(0.3, 0.6), rel=0.08)
    assert known.one["idle"] < 0.002
    assert list(known.one) == ["one", "other", "idle"]


def test_few_draws_give_the_same_order_and_no_worth_to_noise_on_average():
    idle = [two_rivals(200, seed).one["idle"] for seed in range(40)]
    assert np.mean(idle) < 0.02
    assert all(next(iter(two_rivals(200, seed).one)) != "idle" for seed in range(40))


def test_a_rival_that_is_out_is_never_best_and_never_within():
    cost = np.array([[1.0, np.inf, 2.0], [1.5, np.inf, 1.0]])
    known = worth_knowing(cost, {})
    assert known.mean[1] == np.inf
    assert known.within(10.0) == (0, 2)
    assert known.wins.tolist() == [0.5, 0.0, 0.5]
    with pytest.raises(InputError, match="no rival"):
        worth_knowing(np.full((3, 2), np.inf), {})


def test_an_input_that_moves_all_rivals_alike_is_worth_nothing():
    level = np.linspace(1.0, 2.0, 500)
    known = worth_knowing(np.stack([level, level + 0.1], axis=1), {"level": level})
    assert known.everything == 0.0
    assert known.one["level"] == 0.0
    assert known.within(0.05) == (0,)
