"""Scrambled points: against the reference library, and whoever asks for them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from landwise.assembly.sobol import MOST_DIMENSIONS, Sobol, normal_block
from landwise.errors import InputError


def test_plain_points_are_those_of_the_reference_library():
    # SciPy lists them in Gray-code order; as sets the first 2^k points are the same.
    ours = Sobol(MOST_DIMENSIONS, None).block(0, 1024).T
    theirs = qmc.Sobol(MOST_DIMENSIONS, scramble=False).random(1024)
    assert {tuple(row) for row in ours} == {tuple(row) for row in theirs}


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_scrambled_points_still_fill_every_interval_once(seed):
    points = Sobol(8, seed).block(0, 256)
    for row in points:
        assert sorted((row * 256).astype(int)) == list(range(256))


def test_scrambled_points_have_a_discrepancy_like_the_library_s():
    ours = qmc.discrepancy(Sobol(6, 5).block(0, 512).T)
    theirs = qmc.discrepancy(qmc.Sobol(6, scramble=True, rng=5).random(512))
    plain = qmc.discrepancy(np.random.default_rng(5).random((512, 6)))
    assert ours < 2 * theirs < plain


def test_a_block_is_the_same_whether_taken_alone_or_within_a_larger_one():
    sequence = Sobol(5, 9)
    assert np.array_equal(sequence.block(0, 64)[:, 32:48], sequence.block(32, 16))


def test_normal_numbers_are_finite_and_standard():
    numbers = normal_block(Sobol(4, 1), 0, 8192)
    assert np.isfinite(numbers).all()
    assert np.allclose(numbers.mean(axis=1), 0, atol=1e-3)
    assert np.allclose(numbers.std(axis=1), 1, atol=5e-3)


@pytest.mark.parametrize("count", [0, 3, 100])
def test_blocks_that_are_no_power_of_two_are_refused(count):
    with pytest.raises(InputError):
        Sobol(2, 1).block(0, count)


def test_too_many_dimensions_are_refused():
    with pytest.raises(InputError, match="1 to 16"):
        Sobol(17, 1)
