"""Shaken boards: the handbook's rule out of the elements, the pulse's response, and what must always hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.errors import InputError, ValidityError
from landwise.service import shaking as sh
from landwise.service.plate import Plate
from landwise.service.shaking import Shaking, allowed_mm, package_constant, shaken_board
from landwise.service.vibration import density_at, displacement_limit, least_frequency, profile_rms, shock_amplification

BOARD = Plate(152.4, 101.6, 1.5748, 13789.5, 0.12, 60000, "SSSS")


def test_the_first_mode_alone_gives_the_handbooks_limit() -> None:
    # A board at the rule's least frequency uses the part's limit just up in 20 million reversals.
    limit = displacement_limit(101.6, 25.4, 1.5748, 1.0, 1.0)
    least = least_frequency(limit, psd_g2_hz=0.1)
    tuned = replace(BOARD, mass_mg=BOARD.mass_mg * (sh.plate_modes(BOARD).frequency_hz[0] / least) ** 2)
    hours = 20e6 / least / 3600
    answer = shaken_board(tuned, Shaking(((least * 0.9, 0.1), (least * 1.1, 0.1)), hours=hours))
    use = answer.usage_mm.max() / allowed_mm(101.6, 25.4, 1.5748, 1.0)
    # The handbook takes the middle for a mass on a spring; the plate's first mode moves 16/π² as far (rel: inch
    # rounding).
    assert use == pytest.approx(16 / math.pi**2, rel=2e-2)


def test_the_position_factor_is_the_shape() -> None:
    answer = shaken_board(BOARD, Shaking(((50, 0.1), (400, 0.1)), hours=1))
    peak = answer.usage_mm.max()
    for x, y, factor in ((0.5, 0.5, 1.0), (0.5, 0.25, 0.707), (0.25, 0.25, 0.5)):
        assert answer.modes.at(answer.usage_mm, x * 152.4, y * 101.6) / peak == pytest.approx(factor, abs=0.02)


@pytest.mark.parametrize("product", [0.2, 0.5, 0.8, 1.5, 3.0, 6.0])
def test_the_pulses_response_is_that_of_the_equation_of_motion(product: float) -> None:
    frequency, duration = product * 100, 0.01
    omega, step = 2 * math.pi * frequency, duration / 20000
    x = v = peak = 0.0
    for n in range(60000):
        t = n * step
        push = math.sin(math.pi * t / duration) if t < duration else 0.0
        v += step * (-(omega**2) * x - push)
        x += step * v
        peak = max(peak, abs(omega**2 * x))
    assert shock_amplification(frequency, duration) == pytest.approx(peak, rel=2e-3)


def test_a_profiles_area_is_that_of_a_fine_sum() -> None:
    profile = ((10, 0.002), (60, 0.05), (300, 0.05), (2000, 0.001))
    f = np.geomspace(10, 2000, 20001)
    area = np.trapezoid([density_at(profile, float(x)) for x in f], f)
    assert profile_rms(profile) == pytest.approx(math.sqrt(float(area)), rel=1e-5)
    assert density_at(profile, 5) == 0.0


@settings(max_examples=20, deadline=None)
@given(hours=st.floats(0.1, 1000), factor=st.floats(1.1, 5))
def test_use_grows_with_time_and_level_and_shrinks_with_mass_taken_off(hours: float, factor: float) -> None:
    base = shaken_board(BOARD, Shaking(((20, 0.04), (2000, 0.04)), hours=hours)).usage_mm.max()
    longer = shaken_board(BOARD, Shaking(((20, 0.04), (2000, 0.04)), hours=hours * factor)).usage_mm.max()
    harder = shaken_board(BOARD, Shaking(((20, 0.04 * factor), (2000, 0.04 * factor)), hours=hours)).usage_mm.max()
    assert longer == pytest.approx(base * factor ** (1 / 6.4), rel=1e-6)
    assert harder == pytest.approx(base * math.sqrt(factor), rel=1e-6)
    lighter = shaken_board(
        replace(BOARD, mass_mg=BOARD.mass_mg / factor), Shaking(((20, 0.04), (2000, 0.04)), hours=hours)
    )
    assert lighter.usage_mm.max() < base


def test_a_level_that_ends_below_the_board_does_not_move_it() -> None:
    assert shaken_board(BOARD, Shaking(((1, 0.1), (20, 0.1)), hours=10)).usage_mm.max() == 0.0


def test_no_constant_is_passed_off_as_published_for_small_leadless_parts() -> None:
    for family in ("leadless dual", "leadless quad", "wafer-level", "flat-lead dual"):
        constant = package_constant(family)
        assert not constant.published
        assert constant.low < constant.high
    for family in ("dual in-line", "gull-wing dual", "gull-wing quad", "ball grid"):
        assert package_constant(family).published
    with pytest.raises(InputError):
        package_constant("tube")


def test_a_stiff_short_lead_is_no_beam() -> None:
    with pytest.raises(ValidityError):
        sh.lead_stress_mpa(0.001, 0.2, 0.2)
    # At one opening the stress does not depend on the lead's width, the force does.
    assert sh.lead_force_n(0.005, 1.0, 0.6, 0.15) == pytest.approx(2 * sh.lead_force_n(0.005, 1.0, 0.3, 0.15))


def test_a_board_that_hangs_loose_is_refused() -> None:
    with pytest.raises(ValidityError):
        shaken_board(replace(BOARD, edges="FFFF"), Shaking(((20, 0.04), (2000, 0.04)), hours=1))
