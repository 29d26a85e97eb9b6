"""Strength of mounted parts: limiting cases, what gives first, and which package holds better."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.errors import InputError, ValidityError
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.service.strength import PUSH_LIMIT_N, peel_load, solder_shear, strength


def of(name, **more):
    outline = find(name)
    pattern = land_pattern(outline)
    return strength(outline, pattern, print_part(pattern, Foil(100), outline=outline), **more)


def test_faster_is_stronger_and_hotter_is_weaker():
    assert solder_shear(0.5).value > solder_shear(0.05).value
    assert solder_shear(0.5, 100).value < solder_shear(0.5, 20).value


@pytest.mark.parametrize(("speed", "temperature"), [(1.0, 20), (1e-4, 20), (0.5, 125), (0.5, -40), (float("nan"), 20)])
def test_outside_the_tested_speeds_and_temperatures_nothing_is_said(speed, temperature):
    with pytest.raises(ValidityError):
        solder_shear(speed, temperature)


def test_doubling_a_lead_width_doubles_its_peel_load():
    assert peel_load(0.8, 0.2, 49, 400) == pytest.approx(2 * peel_load(0.4, 0.2, 49, 400))


def test_peel_needs_positive_sizes():
    with pytest.raises(InputError):
        peel_load(0.4, 0.0, 49, 400)


def test_flush_leadless_holds_better_than_the_small_leaded_body_of_the_same_function():
    leadless, leaded = of("SON-6-1.0x1.0"), of("SC-70-6")
    assert leadless.pull_n.value > leaded.pull_n.value
    assert leadless.share > 2 * leaded.share
    assert leaded.pull_link == "peel at the heel"


def test_but_a_larger_leaded_body_holds_better_than_the_leadless_one():
    assert of("SOT-23-6").pull_n.value > of("SON-6-1.0x1.0").pull_n.value


def test_a_ball_array_is_the_weakest_of_one_function():
    names = ("SOT-23-5", "SC-70-5", "SON-5-0.8x0.8", "WLP-5-0.4")
    assert min(names, key=lambda name: of(name).push_n.value) == "WLP-5-0.4"
    assert of("WLP-4-0.35").push_n.high < PUSH_LIMIT_N


def test_leads_of_a_large_body_fold_before_their_joints_shear():
    assert of("SO-14").push_link == "leads fold"


def test_a_weak_laminate_becomes_the_first_link():
    strong, weak = of("QFN-16-3x3"), of("QFN-16-3x3", land_bond_mpa=5.0)
    assert weak.pull_link == "land"
    assert weak.pull_n.value < strong.pull_n.value
    assert weak.pull_n.value == pytest.approx(5.0 * sum_of_lands("QFN-16-3x3"))


def sum_of_lands(name):
    return sum(land.place.shape.area_mm2 for land in land_pattern(find(name)).lands)


def test_a_drilled_lead_tears_before_it_leaves_its_hole():
    found = of("DIP-14")
    assert found.pull_link == "lead"
    assert found.pull_n.value == pytest.approx(14 * 0.25 * 0.46 * 450, rel=0.02)


def test_a_taller_body_tips_over_more_easily():
    outline = find("SON-6-1.45x1.0")
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    tall = replace(outline, height_mm=replace(outline.height_mm, min=1.5, nom=1.6, max=1.7))
    assert strength(tall, pattern, printed).push_n.value < strength(outline, pattern, printed).push_n.value


@pytest.mark.parametrize("name", ["SO-8", "QFN-48-7x7", "BGA-56-0.65", "SOT-9x3-5", "DIP-8", "SOT-23-3", "WLP-4-0.35"])
def test_every_band_is_in_order_and_positive(name):
    found = of(name)
    for band in (found.pull_n, found.push_n):
        assert 0 < band.low < band.value < band.high
    assert found.area_mm2 > 0
    assert found.push_n.value <= found.pull_n.value
