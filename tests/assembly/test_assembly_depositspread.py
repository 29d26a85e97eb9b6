"""A line's measured spread of deposits: joined with the shipped range, used near its data, nowhere else."""

from __future__ import annotations

import numpy as np
import pytest

from invented_lines import InventedLine, deposits
from landwise.assembly.calibration import fit_print
from landwise.assembly.depositspread import DepositSpread, Measured, deposit_spread, shipped_spread
from landwise.assembly.scatter import scatter
from landwise.errors import InputError
from landwise.printing.transfer import transfer_arrays

RATIOS = (0.50, 0.55, 0.60, 0.66, 0.85)
TIMES = {0.50: 2.0, 0.55: 1.8, 0.60: 1.2, 0.66: 1.0, 0.85: 1.0}


def fitted(panels: int, seed: int = 3):
    panel, place, part, values, _ = deposits(InventedLine(times=TIMES), seed, panels=panels, ratios=RATIOS)
    return fit_print(panel, place, values, part=part)


def test_a_spread_that_rises_below_0_60_is_found_and_held_by_its_interval():
    for one in fitted(60).classes:
        true = TIMES[round(one.area_ratio, 2)] * shipped_spread(one.area_ratio)
        assert one.spread.data.low <= true * 1.05
        assert one.spread.data.high >= true * 0.95
        assert one.spread.after.value == pytest.approx(true, rel=0.2)


def test_thin_data_leave_more_of_the_shipped_spread():
    for panels, most in ((5, 1.9), (200, 2.1)):
        one = fitted(panels).classes[0]
        assert one.spread.after.value < most * one.spread.prior.value
    wide, narrow = (found.classes[0].spread.after for found in (fitted(5), fitted(200)))
    assert wide.high / wide.low > narrow.high / narrow.low


def test_area_ratios_within_a_class_are_no_spread():
    """A class from 0.50 to 0.55 whose openings differ: the mean rises by a fifth within it, the deposits do not err."""
    rng = np.random.default_rng(1)
    panel, place = np.divmod(np.arange(40 * 60), 60)
    ratio = 0.501 + 0.048 * (place % 6) / 5
    band = transfer_arrays(ratio)
    volume = band["mean"] * (1 + 0.05 * rng.standard_normal(len(panel)))
    (found,) = fit_print(panel, place, {"volume": volume, "area_ratio": ratio}).classes
    assert found.spread.data.value == pytest.approx(0.05, rel=0.05)
    assert np.std(volume) / np.mean(volume) > 0.06


def test_the_shipped_spread_stands_far_from_the_data():
    line = DepositSpread((0.50, 0.90), (2.0, 3.0))
    assert line.factor(np.array([0.30, 0.39, 0.61, 0.70, 0.79])).tolist() == pytest.approx([1.0] * 5)
    assert line.factor(0.50) == pytest.approx(2.0)
    assert line.factor(1.7) == pytest.approx(3.0)  # the shipped spread is one number above 0.80
    assert [line.reaches(at) for at in (0.45, 0.70, 1.7)] == [True, False, True]
    assert scatter(0.03, 0.05).deposit_cv(0.1, 0.5) == 0.1
    assert scatter(0.03, 0.05, spread=line).deposit_cv(0.1, 0.5) == pytest.approx(0.2)


def test_another_powder_keeps_what_the_line_adds_to_its_own_shipped_spread():
    measured = Measured(0.55, 0.08, 0.09, 0.10, powder="T5")
    found = deposit_spread([measured])
    assert found is not None
    assert found.factor(0.55) * shipped_spread(0.55, powder="T5") == pytest.approx(0.09)
    assert deposit_spread([]) is None


def test_seeds_do_not_follow_the_spread_so_that_it_moves_rates_on_the_same_numbers():
    plain, own = scatter(0.03, 0.05), scatter(0.03, 0.05, spread=DepositSpread((0.5,), (2.0,)))
    assert repr(own.seeding) == repr(plain)
    assert repr(own) != repr(plain)  # keys tell them apart
    assert "spread=None" not in repr(plain)


@pytest.mark.parametrize("wrong", [(0.2, 0.1, 0.2, 0.3), (0.5, 0.0, 0.2, 0.3), (0.5, 0.3, 0.2, 0.4)])
def test_a_spread_that_is_none_is_refused(wrong):
    with pytest.raises(InputError, match="not a measured spread"):
        Measured(*wrong)
