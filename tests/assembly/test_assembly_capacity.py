"""What two joints take back: analytic identities and limits of the closed forms."""

from __future__ import annotations

import math

import pytest

from landwise.assembly.capacity import ball_capacity, land_hold, take_back_area
from landwise.assembly.partmodel import held_mm3
from landwise.errors import InputError


def surface(chord, area):
    # Length of a flat parabolic arc of that area: c + 6 A² / c³.
    return chord + 6 * area**2 / chord**3


@pytest.mark.parametrize(("width", "gap"), [(0.2, 0.1), (0.3, 0.3), (0.45, 0.2)])
def test_at_the_limit_two_caps_and_one_have_the_same_energy(width, gap):
    area = take_back_area(width, gap, 140)
    apart = 2 * surface(width, area)
    joined = surface(2 * width + gap, 2 * area) - gap * math.cos(math.radians(140))
    assert apart == pytest.approx(joined, rel=1e-12)


def test_more_is_taken_back_across_a_wider_gap_and_less_on_a_mask_that_wets_better():
    assert take_back_area(0.3, 0.3) > take_back_area(0.3, 0.2)
    assert take_back_area(0.3, 0.2, 120) < take_back_area(0.3, 0.2, 150)


def test_the_form_scales_with_the_square_of_all_lengths():
    assert take_back_area(0.6, 0.4) == pytest.approx(4 * take_back_area(0.3, 0.2))


def test_a_half_circle_of_solder_around_a_cylinder_by_pappus():
    # Bulge of half the height: a half disc of radius ρ turned about the axis, its centroid at r + 4ρ/3π.
    r, height = 0.15, 0.2
    rho = height / 2
    pappus = 2 * math.pi * (r + 4 * rho / (3 * math.pi)) * math.pi * rho**2 / 2
    assert ball_capacity(r, height, 1.0) == pytest.approx(math.pi * r**2 * height + pappus, rel=1e-7)


def test_half_a_bulge_agrees_with_a_numerical_sum():
    r, height, bulge = 0.15, 0.2, 0.04
    arc = (bulge**2 + (height / 2) ** 2) / (2 * bulge)
    steps = 20_000
    total = 0.0
    for k in range(steps):
        z = -height / 2 + (k + 0.5) * height / steps
        total += math.pi * (r + math.sqrt(arc**2 - z**2) - (arc - bulge)) ** 2 * height / steps
    assert ball_capacity(r, height, 2 * bulge) == pytest.approx(total, rel=1e-6)


def test_a_lead_takes_room_away():
    bare = held_mm3(land_hold(0.3, 0.2, 0.45, 0.12), 140.0)
    assert held_mm3(land_hold(0.3, 0.2, 0.45, 0.12, lead_mm=(0.2, 0.05)), 140.0) > bare
    assert held_mm3(land_hold(0.3, 0.2, 0.45, 0.12, lead_mm=(0.2, 0.25)), 140.0) == pytest.approx(bare)


@pytest.mark.parametrize("angle", [100.0, 125.0, 155.0])
def test_what_is_kept_of_a_land_gives_the_same_area_at_any_angle(angle):
    # No lead and twice the land bare: bare length × the area that two long lands take back.
    assert held_mm3(land_hold(0.3, 0.2, 0.45, 0.15), angle) == pytest.approx(take_back_area(0.3, 0.2, angle))


@pytest.mark.parametrize("sizes", [(0, 0.2, 140), (0.3, 0, 140), (0.3, 0.2, 80)])
def test_sizes_outside_the_form_are_refused(sizes):
    with pytest.raises(InputError):
        take_back_area(*sizes)
