"""Levels of counted defects, against integration over the prior, and over invented lines."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from landwise.assembly.levels import Counted, level, prior


def test_the_posterior_is_bayes_rule_integrated_by_another_path():
    shape, joints = prior("gull-wing dual", "open")
    rates = np.geomspace(1e-9, 1e-3, 20_001)
    dense = stats.gamma.pdf(rates, shape, scale=1 / joints) * stats.poisson.pmf(7, rates * 500_000)
    mean = integrate.trapezoid(dense * rates, rates) / integrate.trapezoid(dense, rates)
    assert level(Counted("gull-wing dual", "open", 7, 500_000)).after[0] == pytest.approx(1e6 * mean, rel=1e-4)


def test_intervals_hold_lines_of_the_prior_and_nothing_counted_leaves_it():
    rng = np.random.default_rng(4)
    shape, joints = prior("ball grid", "bridge")
    held = 0
    for _ in range(300):
        true = rng.gamma(shape) / joints
        found = level(Counted("ball grid", "bridge", int(rng.poisson(true * 1e6)), 1_000_000))
        held += found.after[1] <= 1e6 * true <= found.after[2]
    assert 0.85 <= held / 300 <= 0.95
    # Nobody counted balls: their prior is wider than that of leads.
    wide, narrow = (level(Counted(family, "open", 0, 1)).before for family in ("ball grid", "gull-wing dual"))
    assert wide[2] / wide[1] > 2 * narrow[2] / narrow[1]
    assert level(Counted("ball grid", "open", 0, 1)).after == pytest.approx(wide, rel=1e-3)
