"""Constants of statistics, quadrature and units against reference libraries and their definitions."""

from __future__ import annotations

import math
import tomllib
from importlib import resources

import numpy as np
import pytest
from scipy import constants
from scipy.stats import norm, qmc, t

from landwise.assembly import crossed, depositspread, knowledge, rare, ratios, scatter
from landwise.assembly.sobol import MOST_DIMENSIONS, Sobol
from landwise.costs import board, prices
from landwise.joints import gullwing

THOUSANDTH = 1e-3


# SciPy's own table of Joe and Kuo's numbers; it lists the points in Gray-code order, as sets the first 2^k are one.
@pytest.mark.parametrize("power", [6, 10])
def test_plain_sobol_points_are_those_of_the_reference_library(power):
    ours = Sobol(MOST_DIMENSIONS, None).block(0, 2**power).T
    theirs = qmc.Sobol(MOST_DIMENSIONS, scramble=False).random(2**power)
    assert {tuple(row) for row in ours} == {tuple(row) for row in theirs}


# Abramowitz and Stegun, table 26.1, as the library works it.
def test_quantiles_of_the_normal_spread():
    assert pytest.approx(norm.ppf(0.95), rel=THOUSANDTH) == ratios.Z90
    assert pytest.approx(norm.ppf(0.95), rel=THOUSANDTH) == scatter.Z90
    assert pytest.approx(norm.ppf(0.95), rel=THOUSANDTH) == prices.TO_FIVE
    assert pytest.approx(norm.ppf(0.90) - norm.ppf(0.10), rel=THOUSANDTH) == prices.TEN_TO_NINETY
    assert pytest.approx(1 / norm.ppf(0.75), rel=THOUSANDTH) == crossed.MAD_TO_SD


def test_quantile_of_student_s_spread_for_the_replicates():
    assert pytest.approx(t.ppf(0.95, rare.REPLICATES - 1), rel=THOUSANDTH) == rare.T90


def test_three_sigma_is_what_a_range_of_99_7_per_cent_means():
    assert 2 * norm.cdf(scatter.SIGMAS) - 1 == pytest.approx(0.9973, abs=1e-4)


def test_gauss_points_are_those_of_the_reference_library():
    points, weights = np.polynomial.legendre.leggauss(5)
    ours = np.array(gullwing.GAUSS, dtype=float).reshape(-1, 2)
    assert np.allclose(sorted(ours[:, 0]), sorted(points), atol=1e-9)
    assert np.allclose(sorted(ours[:, 1]), sorted(weights), atol=1e-9)


def test_units():
    assert (constants.centi / constants.milli) ** 2 == board.MM2_PER_CM2
    assert pytest.approx(constants.mega) == knowledge.PER_MILLION


# Spreads of independent causes add by their squares; 0.65 and 0.83 are fitted in docs/defect_levels.md.
def test_a_line_s_spread_is_that_of_its_two_causes():
    assert pytest.approx(math.hypot(0.65, 0.83), abs=0.01) == knowledge.LINE_SPREAD
    assert knowledge.CLASS_SPREAD == 0.83


def test_what_the_spread_of_deposits_takes_from_the_prior_stands_there():
    text = resources.files("landwise.printing").joinpath("transfer_prior.toml").read_text(encoding="utf-8")
    prior = tomllib.loads(text)
    assert prior["spread"][-1]["area_ratio"] == depositspread.SETTLED
    assert prior["usual"][-1]["area_ratio"] == depositspread.WIDEST
