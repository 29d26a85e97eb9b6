"""Courtyards."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.errors import InputError
from landwise.lands import LandRules, land_pattern
from landwise.lands.courtyard import courtyard, courtyard_form, courtyard_size
from landwise.outlines import Range, find


def test_the_larger_of_lands_and_body_counts():
    assert courtyard_size(4.0, 3.0, 0.25) == pytest.approx(4.5)
    assert courtyard_size(3.0, 4.0, 0.25) == pytest.approx(4.5)


@pytest.mark.parametrize("sizes", [(0.0, 3.0, 0.25), (3.0, -1.0, 0.25), (3.0, 3.0, -0.1), (float("nan"), 3.0, 0.1)])
def test_impossible_sizes_are_refused(sizes):
    with pytest.raises(InputError, match="positive sizes"):
        courtyard_size(*sizes)


def test_small_bodies_are_spaced_like_small_chips():
    assert courtyard_form(find("SON-6-1.0x1.0")) == "small chip"
    assert courtyard_form(find("SO-14")) == "gull-wing"
    assert courtyard_form(find("WLP-5-0.5")) == "small chip"
    tiny = replace(find("SO-14"), body_length_mm=Range(1.9, 2.0, 2.1), body_width_mm=Range(1.0, 1.2, 1.3))
    assert courtyard_form(tiny) == "small chip"
    assert courtyard_form(find("BGA-20-0.65")) == "ball grid"
    assert courtyard_form(find("DIP-8")) == "drilled"


def test_a_pattern_off_the_middle_is_boxed_around_the_body():
    outline = find("SO-14")
    pattern = land_pattern(outline)
    left = [land for land in pattern.lands if land.place.x_mm < 0]
    assert courtyard(outline, left, "nominal", LandRules(), []) == pattern.courtyard_mm
    assert pattern.courtyard_area_mm2 == pytest.approx(pattern.courtyard_mm[0] * pattern.courtyard_mm[1])


def test_courtyards_round_up():
    exact = land_pattern(find("SO-14"), rules=LandRules(rounding="none")).courtyard_mm
    coarse = land_pattern(find("SO-14"), rules=LandRules(rounding="coarse")).courtyard_mm
    assert all(c >= e - 1e-9 for c, e in zip(coarse, exact, strict=True))
    assert coarse[0] / 0.05 == pytest.approx(round(coarse[0] / 0.05))
