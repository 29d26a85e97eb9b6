"""Values, weights and the firmness of a ranking."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from landwise.choosing import CRITERIA, RankInput, RateRange, rank, weights_with
from landwise.choosing.values import between, ratio_to_best, values_of
from landwise.errors import InputError, UnknownNameError

RATES = {"board_area": RateRange(0.06, 0.03, 0.15), "placement": RateRange(0.025, 0.015, 0.075)}


def option(name, area=10.0, price=0.1, transfer=0.9, gap=0.3, seen=1.0, reach=1.0):
    figures = {
        "area": area,
        "transfer": transfer,
        "gap": gap,
        "seen": seen,
        "reach": reach,
        "test-life": 1e5,
        "push": 50.0,
    }
    return RankInput(
        name, figures, transfer - 0.05, transfer + 0.05, price, {"board_area": area / 100, "placement": 1.0}
    )


def ranked(*options, weights=None, **more):
    return rank(options, weights_with(weights or {}), RATES, **more)


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


def test_the_better_option_wins_and_dominates():
    result = ranked(option("small", area=5.0), option("large", area=20.0))
    assert result.order == ("small", "large")
    assert result.dominated_by == {"large": "small"}
    assert result.support == {"small": 1.0, "large": 0.0}
    assert result.confidence["small"] == 1.0
    assert result.flips == ()


def test_support_and_confidence_are_shares():
    result = ranked(option("small", area=4.0, transfer=0.7), option("large", area=12.0, transfer=0.95))
    for shares in (result.support, result.confidence):
        assert sum(shares.values()) == pytest.approx(1)
    assert 0 < result.support["small"] < 1


def test_same_seed_same_result_whatever_else_ran():
    options = (option("small", area=4.0, transfer=0.7), option("large", area=12.0, transfer=0.95))
    np.random.default_rng().random(1000)
    assert ranked(*options).support == ranked(*options).support
    assert ranked(*options, seed=1).support != ranked(*options, seed=2).support


def test_support_agrees_with_counting_the_same_weights_one_by_one():
    options = (option("small", area=4.0, transfer=0.7), option("large", area=12.0, transfer=0.95))
    result = ranked(*options, draws=500, seed=7)
    weights = np.random.Generator(np.random.SFC64(7)).dirichlet(np.ones(len(CRITERIA)), size=500)
    table = np.array([list(result.values[name].values()) for name in ("small", "large")])
    wins = sum(int(np.argmax(table @ row) == 0) for row in weights) / 500
    assert result.support["small"] == pytest.approx(wins)


def test_a_weight_flip_really_flips():
    options = (option("small", area=4.0, transfer=0.72), option("large", area=12.0, transfer=0.95))
    result = ranked(*options)
    flip = next(f for f in result.flips if f.what.startswith("weight of"))
    name = flip.what.removeprefix("weight of ")
    before = weights_with({})
    rest = {key: value * (1 - flip.at) / (1 - before[name]) for key, value in before.items() if key != name}
    again = rank(options, {name: flip.at, **rest}, RATES)
    assert again.order[0] == flip.to != result.order[0]


def test_flips_are_sorted_by_how_little_they_take():
    result = ranked(
        option("small", area=4.0, transfer=0.72),
        option("large", area=12.0, transfer=0.95),
        option("middle", area=8.0, transfer=0.8),
    )
    factors = [flip.factor for flip in result.flips]
    assert factors == sorted(factors)


def test_break_even_prices_turn_the_order():
    options = [option("small", area=4.0, transfer=0.72), option("large", area=12.0, transfer=0.95)]
    result = ranked(*options)
    first, second = result.order
    change = result.break_even[second]
    assert change is not None
    assert change < 0
    for nudge, winner in ((1.001, second), (0.999, first)):
        moved = [
            RankInput(**{**vars(o), "price": o.price + (change * nudge if o.name == second else 0)}) for o in options
        ]
        assert ranked(*moved).order[0] == winner
    rise = result.break_even[first]
    assert rise is not None
    moved = [RankInput(**{**vars(o), "price": o.price + (rise * 1.001 if o.name == first else 0)}) for o in options]
    assert ranked(*moved).order[0] == second


def test_one_option_wins_alone_and_none_is_refused():
    assert ranked(option("only")).support == {"only": 1.0}
    with pytest.raises(InputError, match="nothing to rank"):
        ranked()


def test_a_load_without_a_rate_is_refused():
    odd = RankInput("odd", option("x").figures, 0.8, 0.9, 0.1, {"gold": 1.0})
    with pytest.raises(InputError, match="no rate"):
        ranked(odd)
