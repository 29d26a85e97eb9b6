"""The cost of one board."""

from __future__ import annotations

import pytest

from landwise.costs.board import assembly_loads, part_cost, price_at
from landwise.costs.loads import Line, Load, money
from landwise.costs.prices import Price
from landwise.costs.rates import Rate, default_rates, rates_with
from landwise.costs.yields import sigma_level, yield_from_dpmo
from landwise.errors import InputError, UnknownNameError, ValidityError

QUOTED = Price(0.1, 0.1, 0.1, "stated")


def cost(layers=2, run=1000, price=QUOTED, area=100.0, holes=0, more=()):
    return part_cost((*assembly_loads(area, holes, layers), *more), default_rates(), run, price)


def items(found):
    lines = {}
    for item in found.items:
        lines[item.line] = lines.get(item.line, 0.0) + item.value
    return lines


def test_every_default_rate_is_an_assumption_with_a_reason_and_a_range():
    for rate in default_rates().values():
        assert rate.assumed
        assert rate.reason
        # What a failure in the field costs nobody can guess: it counts nothing until it is stated.
        assert rate.low < rate.value < rate.high or (rate.name, rate.value, rate.high) == ("field_failure", 0, 0)


def test_own_rates_are_exact_and_no_longer_assumed():
    rates = rates_with({"placement": 0.03})
    assert (rates["placement"].value, rates["placement"].low, rates["placement"].assumed) == (0.03, 0.03, False)
    with pytest.raises(UnknownNameError):
        rates_with({"gold": 1})
    with pytest.raises(InputError):
        rates_with({"placement": -1})
    with pytest.raises(InputError):
        Rate("x", 1, 2, 3, "", "", "", "")


def test_lines_by_hand():
    found = items(cost(layers=4))
    assert found[Line.PART] == 0.1
    assert found[Line.ATTRITION] == pytest.approx(0.1 * 0.01)
    assert found[Line.AREA] == pytest.approx(0.06 * 1.0 * (1 + 0.35 * 2))
    assert found[Line.PLACEMENT] == 0.025


def test_drilled_parts_are_inserted_not_placed():
    found = items(cost(holes=14))
    assert found[Line.INSERTION] == 0.10
    assert found[Line.HOLES] == pytest.approx(14 * 0.004)
    assert Line.PLACEMENT not in found


def test_holes_soldered_by_hand_are_paid_one_by_one():
    """Three seconds with the iron at 60 an hour are 0.05 a hole, by hand arithmetic."""
    process, by_hand = (assembly_loads(50.0, 14, 2, by_hand=one) for one in (False, True))
    more = [load for load in by_hand if load not in process]
    assert [(load.line, load.rates, load.units) for load in more] == [(Line.HOLES, ("hand_joint",), 14.0)]
    assert money(tuple(more), default_rates(), 1000) == pytest.approx(14 * 3 * 60 / 3600)


def test_what_is_paid_once_a_run_is_spread_over_it():
    step = Load(Line.STEP, ("foil", "step_zone"), 1.0, per_run=True)
    small, large = (items(cost(run=run, more=(step,)))[Line.STEP] for run in (100, 1000))
    assert small == pytest.approx(10 * large) == pytest.approx(180 * 0.6 / 100)
    assert money((step.times(3),), default_rates(), 100) == pytest.approx(3 * small)


def test_a_guessed_price_stands_at_its_mean_and_is_told_as_a_guess():
    guessed = cost(price=Price(0.1, 0.05, 0.2, "prior"))
    assert not guessed.price_known
    # Mean of a log-normal number whose 90 % interval is a factor of two either way: exp(s²/2), s = ln 2 / 1.645.
    assert items(guessed)[Line.PART] == pytest.approx(0.1 * 1.0928, rel=1e-3)
    assert guessed.low < guessed.total < guessed.high
    assert Line.PART not in items(cost(price=None))


def test_rates_in_other_money_are_scaled_and_shares_are_not():
    yen = rates_with({"placement": 4.0}, scale=150.0)
    assert yen["xray"].value == pytest.approx(450.0)
    assert yen["attrition"].value == default_rates()["attrition"].value
    assert (yen["placement"].value, yen["placement"].assumed) == (4.0, False)


@pytest.mark.parametrize(("quantity", "price"), [(1, 0.2), (99, 0.2), (100, 0.12), (10**6, 0.08)])
def test_price_breaks(quantity, price):
    assert price_at({1: 0.2, 100: 0.12, 1000: 0.08}, quantity) == price


def test_bad_costs_are_refused():
    with pytest.raises(InputError):
        price_at({100: 0.1}, 50)
    with pytest.raises(InputError):
        cost(layers=0)
    with pytest.raises(InputError):
        cost(run=0)
    with pytest.raises(InputError):
        yield_from_dpmo([1], [1, 2])
    with pytest.raises(ValidityError):
        sigma_level(0)
