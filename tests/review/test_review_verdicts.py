"""Verdicts under a foil agree with the printing room, one aperture at a time."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from landwise.printing import Foil, slump_spacing
from landwise.printing.paste import powder_verdict
from landwise.printing.release import area_ratio
from landwise.printing.transfer import release_verdict, transfer_or_none
from landwise.review.building import openings
from landwise.review.grouping import components
from landwise.review.lands import lands_of
from landwise.review.matching import match
from landwise.review.verdicts import neighbours, slump_spacings, under_foil, word
from landwise.shapes import rectangle

from .boards import box, dual, grown


def judged(paste, lands, um=100.0, powder="T4"):
    copper = openings(lands)
    found = lands_of(openings(paste), copper, openings(grown(lands, 0.05)))
    matched = match(openings(paste), found)
    parts = components(found, "top")
    near = neighbours(openings(paste), matched)
    return under_foil(openings(paste), matched, found, parts, near, Foil(um), powder)


def test_every_aperture_agrees_with_the_single_formulas():
    sides = [(1.4, 0.35), (0.6, 0.2), (0.6, 0.17), (0.25, 0.25), (0.2, 0.12), (0.9, 0.9)]
    shapes = [box(3 * k, 0, length, width) for k, (length, width) in enumerate(sides)]
    under = judged(shapes, shapes)
    for k, (length, width) in enumerate(sides):
        ratio = area_ratio(rectangle(length, width), 100)
        band = transfer_or_none(ratio)
        assert under.area_ratio[k] == pytest.approx(ratio)
        assert under.mean[k] == pytest.approx(band.mean)
        assert under.sd[k] == pytest.approx(band.sd)
        assert word(under.release[k]) == release_verdict(band)
        assert word(under.powder_code[k]) == powder_verdict(1000 * width, "T4")
        assert under.paste_mm3[k] == pytest.approx(length * width * 0.1 * band.mean)


def test_spacing_is_the_standards_verified_row_and_goes_with_the_foil():
    # IPC-TM-650 2.4.35, pattern A-21: 0.33 mm pads under 200 µm, 0.30 mm hot.
    assert (
        slump_spacings(np.array([0.33]), 200.0)[0] == pytest.approx(slump_spacing(0.33, 200.0)) == pytest.approx(0.30)
    )
    assert slump_spacings(np.array([0.165]), 100.0)[0] == pytest.approx(0.15)


@pytest.mark.parametrize(("gap", "verdict"), [(0.20, "holds"), (0.12, "marginal"), (0.04, "fails")])
def test_prints_near_each_other_are_told(gap, verdict):
    shapes = [box(0, k * (0.25 + gap), 1.4, 0.25) for k in range(4)]
    under = judged(shapes, shapes)
    assert {word(code) for code in under.bridge} == {verdict}
    assert under.gap_mm == pytest.approx(gap)


def test_panes_of_one_land_do_not_bridge():
    land = [box(0, 0, 3, 3)]
    panes = [box(x, y, 1.4, 1.4) for x in (-0.72, 0.72) for y in (-0.72, 0.72)]
    assert not judged(panes, land).bridge.any()


def test_expected_defects_are_ordered_and_rise_as_openings_shrink():
    wide, slim = ([box(0, 0.5 * k, 0.6, w) for k in range(6)] for w in (0.24, 0.15))
    sound, poor = judged(wide, wide).defects, judged(slim, slim).defects
    assert poor[0] > 100 * max(sound[0], 1e-9)
    for middle, low, high in (sound, poor):
        assert low <= middle <= high


def test_thin_foil_fails_the_contact_of_gull_wings_but_not_of_tiny_leadless_parts():
    gull, less = dual(0, 0, 8, 0.65, 5.8, 1.4, 0.35), dual(20, 0, 4, 0.35, 0.8, 0.5, 0.2)
    under = judged(gull + less, gull + less, um=60)
    assert [word(code) for code in under.contact] == ["fails"] * 16 + ["holds"] * 8


def test_contact_asks_the_limit_of_pitch_and_size_as_for_an_outline():
    """80 µm: leads at 0.65 mm may stand 100 µm out of plane, at 0.5 mm 80; leadless 80, tiny ones 50 (recalled)."""
    coarse, fine = dual(0, 0, 8, 0.65, 5.8, 1.4, 0.35), dual(20, 0, 8, 0.5, 5.8, 1.4, 0.25)
    large, tiny = dual(40, 0, 4, 0.5, 1.9, 0.6, 0.3), dual(60, 0, 4, 0.35, 0.8, 0.5, 0.2)
    lands = coarse + fine + large + tiny
    for um, words in ((80, ("marginal", "holds", "holds", "holds")), (50, ("fails", "fails", "fails", "holds"))):
        found = judged(lands, lands, um=um).contact
        assert [word(found[at]) for at in (0, 16, 32, 40)] == list(words)


def test_short_lands_and_flooded_lands_are_told():
    lands = [box(0, 0, 1, 1), box(5, 0, 1, 1), box(10, 0, 1, 1), box(15, 0, 1, 1)]
    paste = [box(0, 0, 1, 1), box(5, 0, 1, 0.4), box(10, 0, 0.45, 0.45), box(15, 0, 1.4, 1.4)]
    assert [word(code) for code in judged(paste, lands).volume] == ["holds", "marginal", "fails", "marginal"]


def test_same_shape_gives_the_same_judgement_anywhere():
    shapes = [box(x, y, 0.5, 0.2) for x in (0, 100.123) for y in (0, -77.7)]
    under = judged(shapes, shapes)
    assert np.ptp(under.area_ratio) < 1e-9
    assert np.ptp(under.starved) < 1e-12


def test_distances_agree_with_the_outlines_own():
    generator = np.random.default_rng(9)
    shapes = [box(x, y, 0.3, 0.2) for x, y in generator.uniform(0, 4, (30, 2))]
    shapes += [shapely.Point(x, y).buffer(0.12, 32) for x, y in generator.uniform(0, 4, (30, 2))]
    shapes += [shapely.affinity.rotate(box(x, y, 0.4, 0.1), 33) for x, y in generator.uniform(0, 4, (20, 2))]
    paste = openings(shapes)
    lands = lands_of(paste, None, None)
    near = neighbours(paste, match(paste, lands))
    exact = shapely.distance(paste.polygon[near.one], paste.polygon[near.other])
    assert len(near.one) > 50
    assert np.abs(near.gap_mm - exact).max() < 3e-4  # chords of the discs
    all_pairs = [(i, j) for i in range(80) for j in range(i) if shapes[i].distance(shapes[j]) < 0.449]
    assert len(all_pairs) <= len(near.one)
