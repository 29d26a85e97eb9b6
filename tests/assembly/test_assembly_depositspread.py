"""A line's measured spread of deposits: joined with the shipped range, used near its data, nowhere else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from invented_lines import InventedLine, deposits
from landwise.assembly.calibration import fit_print
from landwise.assembly.depositspread import DepositSpread, Measured, deposit_spread, shipped_spread
from landwise.assembly.drawn import drawn_rates
from landwise.assembly.geometry import Deposited
from landwise.assembly.heard import taken
from landwise.assembly.knowledge import default_knowledge
from landwise.assembly.partmodel import moved
from landwise.assembly.scatter import Z90, scatter
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


def test_mean_transfer_enters_class_by_class():
    """High below 0.60 and low above it on one line: neither is spread over the other."""
    classes = (
        Measured(0.50, 0.10, 0.12, 0.14, mean=(0.70, 0.74, 0.78)),
        Measured(0.85, 0.05, 0.06, 0.07, mean=(0.80, 0.83, 0.86)),
    )
    found = deposit_spread(classes)
    line = scatter(0.03, 0.05, transfer=[-0.2, 0.0, 0.2], spread=found)
    for one in classes:
        band = {name: float(edge[0]) for name, edge in transfer_arrays(np.array([one.area_ratio])).items()}
        deposit = Deposited(band["mean"], band["low"], band["high"], 0.1, 1.0, 1.0, 1.0, 0.0, one.area_ratio)
        for draw, mean in zip((-Z90, 0.0, Z90), one.mean, strict=True):
            at = line.drawn({"transfer": draw})
            worked = band["mean"] * float(moved(deposit, at.place(one.area_ratio)))
            assert worked == pytest.approx(
                mean, abs=0.012
            )  # the band's halves are unlike: ends by the side of its middle
    assert line.place(0.70) == pytest.approx(0.0)  # far from both the line's one place stands
    assert line.drawn({"transfer": 1.0}).place(0.70) == pytest.approx(line.transfer_spread)


def test_the_interval_of_a_measured_spread_is_drawn():
    narrow, wide = (deposit_spread([Measured(0.5, 0.2 / by, 0.2, 0.2 * by)]) for by in (1.001, 1.5))
    cv = shipped_spread(0.5)
    lines = [scatter(0.03, 0.05, spread=one).drawn({"deposits": np.array([-Z90, 0.0, Z90])}) for one in (narrow, wide)]
    assert lines[0].deposit_cv(cv, 0.5) == pytest.approx([0.2] * 3, rel=0.01)
    assert lines[1].deposit_cv(cv, 0.5) == pytest.approx([0.2 / 1.5, 0.2, 0.2 * 1.5], rel=1e-3)
    assert lines[1].deposit_cv(cv, 0.9) == pytest.approx([cv] * 3)  # the shipped spread is not drawn


def test_drawing_it_widens_a_rate_and_leaves_other_lines_as_they_were(model):
    """On the shipped draws: they were conditioned on counts, and stay as they are beside the measured interval."""
    plain = model("SON-6-1.0x1.0")
    scores = default_knowledge().scores[:50]
    shipped = [drawn_rates(plain, scores, 32, deposits=one) for one in (None, default_knowledge().deposits[:50])]
    assert shipped[0] == shipped[1]
    ratio = min(joint.deposit.area_ratio for joint in plain.geometry.joints)
    cv = shipped_spread(ratio)
    ranges = []
    for by in (1.001, 1.6):
        spread = deposit_spread([Measured(ratio, cv / by, cv, cv * by)])
        own = plain.with_scatter(replace(plain.scatter, spread=spread))
        opens = drawn_rates(own, scores, 32, deposits=default_knowledge().deposits[:50])["opens"]
        ranges.append(np.log(opens + 1e-9).std())
    assert ranges[1] > 1.05 * ranges[0]
    known = default_knowledge()
    after = taken(known, "heard", np.array([3, 3, 0]))  # a line's own counts keep each draw's place in it
    assert after.deposits.tolist() == known.deposits[[3, 3, 0]].tolist()


@pytest.mark.parametrize("wrong", [(0.0, 0.5, 0.6), (0.6, 0.5, 0.7)])
def test_a_mean_that_is_none_is_refused(wrong):
    with pytest.raises(InputError, match="not a measured transfer"):
        Measured(0.5, 0.1, 0.2, 0.3, mean=wrong)
