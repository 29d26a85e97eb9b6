"""The cost of one board."""

from __future__ import annotations

import pytest

from landwise.costs.board import PartDemands, Rate, default_rates, part_cost, price_at, rates_with
from landwise.costs.yields import sigma_level, yield_from_dpmo
from landwise.errors import InputError, UnknownNameError, ValidityError


def cost(layers=2, run=1000, price=0.1, **demands):
    base = {"area_mm2": 100.0, "joints_optical": 10, "joints_hidden": 0, "holes": 0}
    return part_cost(PartDemands(**{**base, **demands}), default_rates(), layers=layers, run=run, price=price)


def items(found):
    return {item.title: item.value for item in found.items}


def test_every_default_rate_is_an_assumption_with_a_reason_and_a_range():
    for rate in default_rates().values():
        assert rate.assumed
        assert rate.reason
        assert rate.low < rate.value < rate.high


def test_own_rates_are_exact_and_no_longer_assumed():
    rates = rates_with({"placement": 0.03})
    assert (rates["placement"].value, rates["placement"].low, rates["placement"].assumed) == (0.03, 0.03, False)
    with pytest.raises(UnknownNameError):
        rates_with({"gold": 1})
    with pytest.raises(InputError):
        rates_with({"placement": -1})
    with pytest.raises(InputError):
        Rate("x", 1, 2, 3, "", "", "", "")


def test_items_by_hand():
    found = items(cost(layers=4))
    assert found["part"] == 0.1
    assert found["board area"] == pytest.approx(0.06 * 1.0 * (1 + 0.35 * 2))
    assert found["placement"] == 0.025
    assert found["optical inspection"] == pytest.approx(0.02)


def test_drilled_parts_are_inserted_not_placed():
    found = items(cost(holes=14))
    assert found["insertion"] == 0.10
    assert found["holes"] == pytest.approx(14 * 0.004)
    assert "placement" not in found


def test_foil_charges_spread_over_the_run():
    small, large = (items(cost(run=run, step_zone=True))["stepped foil"] for run in (100, 1000))
    assert small == pytest.approx(10 * large)
    assert items(cost(better_foil=True))["better foil"] == pytest.approx(180 * 0.75 / 1000)


def test_hidden_joints_cost_an_x_ray_and_an_unknown_price_is_left_out():
    assert items(cost(joints_hidden=1))["X-ray of the board"] == 0.8
    unknown = cost(price=None)
    assert not unknown.price_known
    assert "part" not in items(unknown)
    assert unknown.low < unknown.total < unknown.high


@pytest.mark.parametrize(("quantity", "price"), [(1, 0.2), (99, 0.2), (100, 0.12), (10**6, 0.08)])
def test_price_breaks(quantity, price):
    assert price_at({1: 0.2, 100: 0.12, 1000: 0.08}, quantity) == price


def test_bad_costs_are_refused():
    with pytest.raises(InputError):
        price_at({100: 0.1}, 50)
    with pytest.raises(InputError):
        cost(layers=0)
    with pytest.raises(InputError):
        yield_from_dpmo([1], [1, 2])
    with pytest.raises(ValidityError):
        sigma_level(0)
