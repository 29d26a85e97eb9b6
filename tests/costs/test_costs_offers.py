"""Offers: prices at the pieces bought, and what may be bought."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landwise.costs.offers import Bought, Offer, refusals, standing, unit_price
from landwise.errors import InputError


def offer(code="A1", maker="a", **more):
    return Offer(code, "SO-14", "00", "HC", more.pop("breaks", {1: 0.2, 100: 0.12, 1000: 0.08}), maker, **more)


BREAKS = st.dictionaries(st.integers(1, 10_000), st.floats(0.01, 5.0), min_size=1, max_size=5)


@given(breaks=BREAKS, pieces=st.integers(1, 20_000))
def test_more_pieces_never_cost_less_in_all(breaks, pieces):
    assert unit_price(breaks, pieces) * pieces <= unit_price(breaks, pieces + 1) * (pieces + 1) * (1 + 1e-12)


@given(breaks=BREAKS, pieces=st.integers(1, 20_000))
def test_the_price_is_that_of_the_cheapest_way_to_get_so_many(breaks, pieces):
    ways = [price * max(pieces, start) for start, price in breaks.items()]
    assert unit_price(breaks, pieces) == pytest.approx(min(ways) / pieces)


def test_the_least_order_is_paid_for():
    assert unit_price({1: 0.1}, 10, least=3000) == pytest.approx(30.0)
    assert unit_price({}, 10) is None
    with pytest.raises(InputError):
        unit_price({1: 0.1}, 0)


@pytest.mark.parametrize(
    ("more", "limits", "why"),
    [
        ({"grade": ""}, {"grade": "automotive"}, ("grade",)),
        ({"grade": "automotive"}, {"grade": "extended"}, ()),
        ({"grade": "extended"}, {"grade": "automotive"}, ("grade",)),
        ({"lifecycle": "obsolete"}, {}, ("lifecycle",)),
        ({"lifecycle": "not for new designs"}, {"active": False}, ()),
        ({"last_buy": date(2026, 3, 1)}, {"on": date(2026, 6, 1)}, ("lifecycle",)),
        ({"reel": 10_000}, {"most_reel": 3000}, ("reel",)),
        ({"lead_weeks": 30}, {"most_lead_weeks": 20}, ("lead-time",)),
        ({"lead_weeks": None}, {"most_lead_weeks": 20}, ()),
        ({"stock": 5}, {"in_stock": True}, ("stock",)),
    ],
)
def test_what_may_not_be_bought(more, limits, why):
    assert refusals(offer(**more), 100, Bought(**limits)) == why


def test_makers_of_offers_that_may_be_bought_are_counted():
    offers = [offer("A1", "a"), offer("A2", "A "), offer("B1", "b", lifecycle="obsolete"), offer("C1", "c")]
    found = standing(offers, 100, Bought())
    assert (found.makers, found.single, dict(found.refused)) == (2, False, {"lifecycle": 1})
    assert standing(offers[:2], 100, Bought()).single
    nothing = standing(offers[2:3], 100, Bought())
    assert (nothing.best, nothing.price, nothing.makers) == (None, None, 0)


def test_a_break_out_of_order_is_refused():
    with pytest.raises(InputError):
        offer(breaks={0: 0.1})
