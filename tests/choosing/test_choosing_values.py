"""What criteria are worth, and their weights."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from landwise.choosing import CRITERIA, weights_with
from landwise.choosing.values import between, ratio_to_best, values_of
from landwise.errors import InputError, UnknownNameError


def test_default_weights_sum_to_one_and_own_ones_are_scaled():
    assert sum(weights_with({}).values()) == pytest.approx(1)
    weights = weights_with({"cost": 3.0})
    assert sum(weights.values()) == pytest.approx(1)
    assert weights["cost"] > weights_with({})["cost"]


@pytest.mark.parametrize(
    ("own", "error"),
    [({"beauty": 1}, UnknownNameError), ({"cost": -1}, InputError), (dict.fromkeys(CRITERIA, 0), InputError)],
)
def test_bad_weights_are_refused(own, error):
    with pytest.raises(error):
        weights_with(own)


def test_ratio_values_refuse_what_is_not_positive():
    with pytest.raises(InputError, match="positive"):
        ratio_to_best(np.array([0.0, 1.0]))


def test_lines_are_flat_outside():
    assert between(0.6, 0.9)(np.array([0.0, 0.6, 0.9, 2.0])).tolist() == [0, 0, 1, 1]


@given(st.lists(st.floats(0.1, 100), min_size=2, max_size=6))
def test_values_lie_between_zero_and_one_and_the_cheapest_is_best(costs):
    n = len(costs)
    figures = {
        "cost": np.array(costs),
        "area": np.ones(n),
        "transfer": np.full(n, 0.8),
        "gap": np.full(n, 0.2),
        "seen": np.ones(n),
        "reach": np.ones(n),
        "test-life": np.full(n, 1000.0),
        "push": np.full(n, 20.0),
    }
    values = values_of(figures)
    assert values.shape == (n, len(CRITERIA))
    assert values.min() >= 0
    assert values.max() <= 1
    assert np.argmin(costs) == np.argmax(values[:, list(CRITERIA).index("cost")])
