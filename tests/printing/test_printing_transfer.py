"""The band of paste transfer: its shape, its limits, its verdicts."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose

from landwise.errors import InputError, ValidityError
from landwise.printing import (
    POWDERS,
    TECHNOLOGIES,
    bounds_met,
    failing_area_ratio,
    holding_area_ratio,
    release_verdict,
    transfer,
)
from landwise.printing.model import Transfer
from landwise.printing.transfer import curve, least_area_ratio, transfer_arrays, transfer_or_none

EVERY = list(itertools.product(TECHNOLOGIES, POWDERS))


@pytest.mark.parametrize(("technology", "powder"), EVERY)
def test_a_wider_opening_never_keeps_more_and_never_scatters_more(technology, powder):
    ratios = np.linspace(0.30, 1.3, 400)
    band = transfer_arrays(ratios, technology, powder)
    for edge in ("usual_low", "usual_high", "mean"):
        assert np.all(np.diff(band[edge]) >= -1e-12), edge
    # Types 5 to 7 start so narrow that their spread may rise a little where it joins that of type 4.
    spread = band["sd"] / band["mean"]
    assert np.all(np.diff(spread) <= 5e-4)


@pytest.mark.parametrize(("technology", "powder"), EVERY)
def test_the_intervals_enclose_each_other(technology, powder):
    band = transfer_arrays(np.linspace(0.30, 1.3, 400), technology, powder)
    assert np.all(band["low"] >= 0)
    assert np.all(band["low"] <= band["usual_low"])
    assert np.all(band["usual_low"] < band["usual_high"])
    assert np.all(band["usual_high"] < band["high"])
    assert_allclose(band["mean"], (band["usual_low"] + band["usual_high"]) / 2)


def test_one_equals_many():
    ratios = np.array([0.31, 0.5, 0.66, 0.9, 2.0])
    many = transfer_arrays(ratios, "nano-coated", "T5")
    for k, ratio in enumerate(ratios):
        one = transfer(float(ratio), "nano-coated", "T5")
        for key, values in many.items():
            assert getattr(one, key) == pytest.approx(values[k])


def test_below_the_first_knot_nothing_is_known():
    with pytest.raises(ValidityError, match=r"0\.299.*at least 0\.30"):
        transfer(0.299)
    with pytest.raises(ValidityError):
        transfer_arrays(np.array([0.5, 0.1]))
    with pytest.raises(ValidityError):
        transfer(float("nan"))
    first, below = transfer(least_area_ratio()), transfer_or_none(0.1)
    assert (below.low, below.usual_low) == (0.0, 0.0)
    assert (below.usual_high, below.high) == (first.usual_high, first.high)
    assert transfer_or_none(0.5) == transfer(0.5)


def test_unknown_words_are_refused():
    with pytest.raises(InputError, match="unknown foil technology; found cast"):
        transfer(0.7, "cast")
    with pytest.raises(InputError, match="unknown powder; found T9"):
        transfer(0.7, powder="T9")


def test_spread_is_a_share_of_the_mean():
    # The middle of the prior's 7 to 10 % at 0.66 and 15 to 25 % at 0.50.
    for ratio, share in ((0.66, 0.085), (0.50, 0.20)):
        band = transfer(ratio)
        assert band.sd == pytest.approx(share * band.mean)


def test_full_aperture_holds_its_last_value():
    assert transfer(1.0) == transfer(5.0)


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [(0.80, 0.90, "holds"), (0.79, 0.90, "marginal"), (0.70, 0.80, "marginal"), (0.70, 0.79, "fails")],
)
def test_verdict_asks_the_usual_band_only(low, high, word):
    assert release_verdict(Transfer((low + high) / 2, 0.0, 2.0, low, high, 0.3)) == word


@pytest.mark.parametrize(("technology", "powder"), EVERY)
def test_verdict_changes_where_it_says(technology, powder):
    fails, holds = failing_area_ratio(technology, powder), holding_area_ratio(technology, powder)
    assert holds is not None
    assert 0.30 < fails < holds < 1.0
    words = [
        release_verdict(transfer(ratio, technology, powder))
        for ratio in (fails - 1e-6, fails + 1e-6, holds - 1e-6, holds + 1e-6)
    ]
    assert words == ["fails", "marginal", "marginal", "holds"]


def test_order_of_technologies():
    fails = [failing_area_ratio(t) for t in ("etched", "laser-cut", "laser-polished", "electroformed")]
    assert fails == sorted(fails, reverse=True)
    assert len(set(fails)) == 4


def test_a_level_never_reached_and_one_reached_from_the_start():
    prior = curve()
    assert prior.reaches(prior.usual_low, 2.0) is None
    assert prior.reaches(prior.usual_low, 0.01) == least_area_ratio()


def test_every_bound_is_judged_and_shown():
    rows = bounds_met()
    assert [row.id for row in rows] == [f"T{n}" for n in range(1, 17)]
    assert {row.id for row in rows if row.met is None} == {"T11", "T14", "T15", "T16"}
    assert all(row.band and row.says and row.printed for row in rows)


def test_a_bound_can_fail(monkeypatch):
    # The same rows against a prior that transfers less: what was met must turn.
    from landwise.printing import bounds
    from landwise.printing.transfer import transfer_arrays as honest

    def poor(ratio, technology="laser-cut", powder="T4"):
        return {key: value * 0.7 for key, value in honest(ratio, technology, powder).items()}

    monkeypatch.setattr(bounds, "transfer_arrays", poor)
    met = {row.id: row.met for row in bounds.bounds_met()}
    assert met["T2"] is False
    assert met["T7"] is False
