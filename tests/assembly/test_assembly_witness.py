"""Counts held against the model: a false term is found, and no more is said than is known."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.assembly.knowledge import standing
from landwise.assembly.levels import Counted
from landwise.assembly.witness import witness

DRAWS = 200
TERMS = {name: standing(f"witness {name}", DRAWS) for name in "abc"}
RATE = 2e-5 * np.exp(0.8 * TERMS["a"] + 0.3 * TERMS["b"])


def counted(defects, joints=1_000_000):
    return Counted("gull-wing dual", "open", defects, joints)


def test_the_weighed_mean_is_that_of_plain_bayes():
    """Posterior mean over the same draws, weights as exact Poisson chances (scipy's)."""
    from scipy.stats import poisson

    found = witness(counted(60), RATE, 0 * RATE, TERMS)
    chance = poisson.pmf(60, RATE * 1e6)
    chance /= chance.sum()
    moved = float(chance @ TERMS["a"]) / float(TERMS["a"].std())
    assert dict(found.speaks)["a"] == pytest.approx(moved)
    assert moved > 1.0
    assert found.effective == pytest.approx(1 / np.square(chance).sum())


def test_a_term_that_moves_nothing_is_not_named_and_a_usual_count_says_little():
    assert "c" not in dict(witness(counted(60), RATE, 0 * RATE, TERMS).speaks)
    usual = witness(counted(1, 50_000), RATE, 0 * RATE, TERMS)
    assert usual.speaks == ()
    assert usual.over == pytest.approx(1.0, rel=0.4)


def test_the_share_that_is_modelled_follows_the_count():
    other = np.full(DRAWS, 3e-5)
    few, many = (witness(counted(defects), RATE, other, TERMS).modelled for defects in (35, 90))
    assert few < many
    assert few == pytest.approx((35 - 30) / 35, abs=0.12)


def test_a_count_outside_of_all_draws_says_nothing_of_terms():
    found = witness(counted(5000), RATE, 0 * RATE, TERMS)
    assert found.effective < 10
    assert found.modelled is None
    assert found.speaks == ()
