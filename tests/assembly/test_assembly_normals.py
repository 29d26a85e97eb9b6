"""Normal numbers from uniform ones, against the distribution itself."""

import numpy as np
import pytest
from scipy.special import ndtr

from landwise.assembly.normals import Normals


@pytest.fixture(scope="module")
def numbers():
    made, bits = Normals(3, 8192), np.random.SFC64(7)
    return np.concatenate([made.fill(bits).copy() for _ in range(160)], axis=1)


def test_shares_below_any_limit_are_those_of_the_distribution(numbers):
    """Source: the normal distribution (scipy.special.ndtr); bounds of five standard errors."""
    for limit in (-4.0, -3.0, -2.0, -1.0, -0.1, 0.0, 0.5, 1.5, 2.5, 3.5, 4.0):
        share = float(ndtr(limit))
        error = (share * (1 - share) / numbers.size) ** 0.5
        assert np.mean(numbers < limit) == pytest.approx(share, abs=5 * error)


def test_rows_and_neighbours_are_not_correlated(numbers):
    error = 5 / numbers.shape[1] ** 0.5
    assert np.abs(np.corrcoef(numbers) - np.eye(3)).max() < error
    assert abs(np.corrcoef(numbers[0, 1:], numbers[0, :-1])[0, 1]) < error
    assert abs(np.corrcoef(numbers[0] ** 2, numbers[1] ** 2)[0, 1]) < error


def test_the_same_seed_gives_the_same_numbers():
    one, other = (Normals(2, 64).fill(np.random.SFC64(3)).copy() for _ in range(2))
    assert np.array_equal(one, other)


def test_an_odd_number_is_refused():
    with pytest.raises(ValueError, match="even"):
        Normals(3, 5)
