"""Rates: the method for rare defects against plain simulation, and what they must obey."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from landwise.assembly import mechanisms as m
from landwise.assembly.partrates import OwnRate, exactly, own_rate, part_rates
from landwise.assembly.rare import rates
from landwise.assembly.rates import MECHANISMS, Counts, simulate, simulate_one_by_one
from landwise.errors import InputError
from landwise.outlines import catalogue, find

# Parts whose rates lie between 1e-2 and 1e-5, where counting reaches.
COUNTABLE = [
    ("SON-5-0.8x0.8", 100.0, "bridges"),
    ("SON-5-0.8x0.8", 100.0, "opens"),
    ("TVSOP-14", 80.0, "bridges"),
    ("TSSOP-14", 60.0, "opens"),
    ("TSSOP-14", 80.0, "bridges"),
    ("QFN-16-2.5x3.5", 150.0, "opens"),
]


@pytest.mark.parametrize(("name", "foil", "mechanism"), COUNTABLE)
def test_rare_method_agrees_with_counting(model, name, foil, mechanism):
    part = model(name, foil)
    counted = simulate(part, 300_000, seed=11).rate(mechanism)
    worked = getattr(rates(part, boards=2048, parts=4), mechanism)
    assert 3e-6 < worked.value < 3e-2
    # 90 % intervals of both, widened to what six comparisons at once ask for.
    slack = 1.5
    assert worked.low - slack * (counted.high - counted.value) <= counted.value
    assert counted.value <= worked.high + slack * (counted.value - counted.low)


def test_a_rate_of_one_in_ten_million_comes_with_an_interval_that_more_samples_confirm(model):
    part = model("TSSOP-14", 80.0)
    quick, slow = rates(part, boards=4096, parts=4).opens, rates(part, boards=8192, parts=4, seed=2).opens
    assert 1e-8 < quick.value < 1e-6
    assert max(quick.low, slow.low) < min(quick.high, slow.high)
    assert quick.high - quick.low < 0.5 * quick.value


def test_the_loop_over_assemblies_counts_the_same_rates(model):
    part = model("SON-5-0.8x0.8", 150.0)
    slow, fast = simulate_one_by_one(part, 3000, seed=2), simulate(part, 100_000, seed=2)
    for mechanism in ("bridges", "opens", "bad parts"):
        found, expected = slow.rate(mechanism), fast.rate(mechanism)
        assert found.low - 0.02 < expected.value < found.high + 0.02


@pytest.mark.parametrize("cores", [1, 2, 5])
def test_same_seed_gives_the_same_counts_on_any_number_of_cores(model, cores):
    part = model("TVSOP-14", 100.0)
    assert simulate(part, 60_000, seed=4, cores=cores) == simulate(part, 60_000, seed=4, cores=3)


def test_another_seed_gives_other_counts(model):
    part = model("TVSOP-14", 100.0)
    assert simulate(part, 60_000, seed=4) != simulate(part, 60_000, seed=5)


@pytest.mark.parametrize("name", ["TSSOP-14", "QFN-16-2.5x3.5", "WLP-5-0.5", "SOT-23-5"])
def test_bridges_grow_with_the_foil_s_offset_and_fall_with_the_gap(model, with_gap, name):
    near = rates(model(name, 100.0, 0.03)).bridges.value
    far = rates(model(name, 100.0, 0.20)).bridges.value
    apart = rates(with_gap(model(name, 100.0, 0.03), 0.05)).bridges.value
    assert apart <= near <= far
    assert far > 0


def test_bridges_grow_with_placement_offset_and_with_slump(model):
    rest = rates(model("TVSOP-14", 80.0)).bridges.value
    assert rates(model("TVSOP-14", 80.0, 0.03, 0.15)).bridges.value > rest
    assert rates(model("TVSOP-14", 80.0, own=(("slump_share", 0.5),))).bridges.value > rest


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(volume=st.floats(0.2, 2.0), remaining=st.floats(20, 120), foil=st.floats(50, 200))
def test_squeezed_paste_keeps_its_volume(model, volume, remaining, foil):
    joint = model("TSSOP-14").joints[0]
    strip = float(m.squeezed_mm(joint, foil, np.array(remaining), np.array(volume)))
    wet = float(m.wet_um(joint, foil, np.array(volume)))
    area = joint.pressed_mm2 + joint.pressed_edge_mm * strip + np.pi * strip**2
    assert area * min(remaining, wet) == pytest.approx(joint.pressed_mm2 * wet, rel=1e-9)


def test_thinner_paste_opens_more_uneven_leads(model):
    thick, thin = (rates(model("TSSOP-14", um)).opens.value for um in (80.0, 60.0))
    assert thin > 100 * thick


def test_a_worse_coplanarity_opens_more(model):
    rest = rates(model("TSSOP-14", 80.0)).opens.value
    assert rates(model("TSSOP-14", 80.0, own=(("coplanarity_share", 0.8),))).opens.value > 5 * rest


def test_too_much_centre_paste_floats_a_part(model):
    part = model("QFN-16-2.5x3.5")
    assert rates(part).floated.value < 1e-9
    high = replace(part, seat_um=6 * part.seat_um)
    assert rates(high).floated.value == pytest.approx(simulate(high, 50_000).rate("floated").value, rel=0.05)
    assert rates(high).floated.value > 0.01


def test_wide_scatter_of_placement_skews_a_part(model):
    part = model("TVSOP-14", 100.0, 0.03, 0.25)
    counted = simulate(part, 100_000, seed=3).rate("skewed")
    worked = rates(part, boards=512, parts=4).skewed
    assert 1e-3 < worked.value < 0.5
    assert max(counted.low, worked.low) < min(counted.high, worked.high)


def test_first_pass_yield_is_that_of_counting_and_better_than_defects_suggest(model):
    part = model("TVSOP-14", 100.0)
    found = rates(part, boards=4096, parts=4)
    counted = simulate(part, 300_000, seed=5).rate("bad parts")
    assert 1 - found.first_pass.value == pytest.approx(counted.value, rel=0.15)
    assert 1 - found.first_pass.value < found.defects.value


def test_ranges_hold_the_value_and_never_exceed_the_opportunities(model):
    for name in ("SO-14", "TVSOP-14", "SON-5-0.8x0.8", "WLP-5-0.5"):
        for foil in (80.0, 150.0):
            found = part_rates(model(name, foil))
            for rate, most in ((found.bridges, found.worked.pairs), (found.opens, found.worked.joints)):
                assert 0 <= rate.low <= rate.value <= rate.high <= max(most, rate.value)
            assert 0 <= found.first_pass.low <= found.first_pass.value <= found.first_pass.high <= 1


def test_a_user_s_own_rates_replace_the_worked_ones(model):
    own = OwnRate("gull-wing dual", 20.0, 30.0, 0.6, 0.7)
    assert own_rate(find("TSSOP-14"), [own]) is own
    assert own_rate(find("TVSOP-14"), [own]) is None
    found = part_rates(model("TSSOP-14"), own)
    assert found.bridges == exactly(20.0 * 14 / 1e6)
    assert found.opens == exactly(30.0 * 14 / 1e6)


@pytest.mark.parametrize(("family", "bridge"), [("no such", 10.0), ("gull-wing dual", -1.0), ("gull-wing dual", 2e6)])
def test_own_rates_that_make_no_sense_are_refused(family, bridge):
    with pytest.raises(InputError):
        OwnRate(family, bridge, 0.0)


def test_an_interval_of_nothing_counted_still_reaches_up():
    nothing = Counts(1_000_000, dict.fromkeys(MECHANISMS, 0)).rate("opens")
    assert nothing.low == nothing.value == 0
    # Poisson: no event in n trials, 95 % bound -ln(0.05) = 2.9957.
    assert nothing.high == pytest.approx(2.9957e-6, rel=1e-4)


@pytest.mark.parametrize("count", [0, 2**40])
def test_numbers_of_assemblies_that_make_no_sense_are_refused(model, count):
    with pytest.raises(InputError):
        simulate(model("TSSOP-14"), count)


@pytest.mark.parametrize("foil", [25.0, 100.0, 300.0])
def test_every_outline_of_the_catalogue_is_worked_under_any_foil(model, foil):
    for name, outline in catalogue().items():
        part = model(name, foil)
        assert (part is None) == outline.drilled
        if part is not None:
            found = rates(part, boards=16, parts=1, replicates=2)
            assert 0 <= found.defects.value < 3 * (found.joints + found.pairs)
            assert 0 <= found.first_pass.value <= 1
