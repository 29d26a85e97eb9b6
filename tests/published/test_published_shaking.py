"""Plates, beams and pulses against exact solutions and tables. Each check names its source and how far it was read."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.sparse import csr_matrix, identity, kron
from scipy.sparse.linalg import spsolve

from landwise.errors import InputError
from landwise.service.plate import Plate, plate_modes
from landwise.service.pulses import SHAPES, pulse_of, response_spectrum
from landwise.service.shaking import HANDLING_LIMIT, Shaking, handling, shaken_board, sine_field
from landwise.service.vibration import GRAVITY_MM_S2, half_sine_velocity, shock_amplification

PLATE = Plate(100, 100, 1.0, 20000, 0.3, 20000, "SSSS")


def coefficient(plate: Plate) -> float:
    """Greatest sag under a steady g, over q·a⁴/D with a the shorter side."""
    sag = np.abs(sine_field(plate_modes(plate, 20, 20), 1.0, 0.0)).max() / 1000
    load = plate.mass_mg * 1e-6 / (plate.length_mm * plate.width_mm * 1e-6) * GRAVITY_MM_S2 / 1000
    return float(sag * plate.stiffness_n_m / (load * (min(plate.length_mm, plate.width_mm) / 1000) ** 4))


def navier(ratio: float) -> float:
    """The supported plate's middle by its exact double series (Timoshenko, article 30)."""
    total = 0.0
    for m in range(1, 80, 2):
        for n in range(1, 80, 2):
            sign = math.sin(m * math.pi / 2) * math.sin(n * math.pi / 2)
            total += sign / (m * n * (m**2 / ratio**2 + n**2) ** 2)
    return 16 / math.pi**6 * total


@pytest.mark.parametrize(
    ("ratio", "printed"),
    [(1.0, 0.00406), (1.2, 0.00564), (1.4, 0.00705), (1.6, 0.00830), (1.8, 0.00931), (2.0, 0.01013)],
)
def test_supported_plates_sag_as_timoshenkos_table(ratio, printed):
    # Timoshenko and Woinowsky-Krieger, table 8 (from memory), and the exact series beside it.
    assert navier(ratio) == pytest.approx(printed, rel=6e-3)
    assert coefficient(replace(PLATE, length_mm=100 * ratio, mass_mg=20000 * ratio)) == pytest.approx(printed, rel=0.01)


def differences(cells: int) -> float:
    """The held square plate by finite differences of the fourth order operator: another method altogether."""
    n, h = cells - 1, 1.0 / cells
    second = (np.diag(-2.0 * np.ones(n)) + np.diag(np.ones(n - 1), 1) + np.diag(np.ones(n - 1), -1)) / h**2
    fourth = second @ second
    # Held ends: the mirror node outside equals the one inside.
    fourth[0, 0] += 2.0 / h**4
    fourth[-1, -1] += 2.0 / h**4
    one, two, eye = csr_matrix(fourth), csr_matrix(second), identity(n)
    whole = kron(one, eye) + kron(eye, one) + 2 * kron(two, two)
    return float(np.abs(spsolve(whole.tocsr(), np.ones(n * n))).max())


def test_a_held_plate_agrees_with_finite_differences():
    coarse, fine = differences(20), differences(40)
    limit = fine + (fine - coarse) / 3  # Richardson, second order
    assert limit == pytest.approx(0.001265, rel=0.01)
    assert coefficient(replace(PLATE, edges="XXXX")) == pytest.approx(limit, rel=0.01)


BEAM = Plate(200, 20, 1.0, 20000, 0.0, 8000, "SFSF")


def test_a_beam_sags_by_five_over_384():
    sag = np.abs(sine_field(plate_modes(BEAM, 20, 30), 1.0, 0.0)).max() / 1000
    load = 8000e-6 / 0.2 * GRAVITY_MM_S2 / 1000  # N/m
    stiffness = 20000e6 * 0.02 * 0.001**3 / 12
    assert sag == pytest.approx(5 / 384 * load * 0.2**4 / stiffness, rel=0.005)


@pytest.mark.parametrize("share", [0.3, 0.7, 1.6, 2.5])
def test_a_beam_on_shaking_supports_moves_as_the_exact_one(share):
    # z = (a/ω²)·[½(cos λ(x − L/2)/cos(λL/2) + cosh λ(x − L/2)/cosh(λL/2)) − 1], λ⁴ = μω²/EI: exact.
    modes = plate_modes(BEAM, 20, 30)
    frequency = share * float(modes.frequency_hz[0])
    omega = 2 * math.pi * frequency
    per_length, stiffness = 8000e-6 / 0.2, 20000e6 * 0.02 * 0.001**3 / 12
    wave = (per_length * omega**2 / stiffness) ** 0.25
    half = 0.1
    exact = (GRAVITY_MM_S2 / omega**2) * (0.5 * (1 / math.cos(wave * half) + 1 / math.cosh(wave * half)) - 1)
    field = sine_field(modes, 1.0, frequency)
    middle = modes.at(field, 100.0, 10.0)
    assert abs(middle) == pytest.approx(abs(exact), rel=0.02)


def test_a_damped_mode_swings_by_q_at_its_frequency():
    modes = plate_modes(PLATE, 1)
    first = float(modes.frequency_hz[0])
    alone = GRAVITY_MM_S2 / (2 * math.pi * first) ** 2
    swing = np.abs(sine_field(modes, 1.0, first, q=10.0)).max()
    assert swing == pytest.approx(10 * alone * abs(float(modes.participation[0])), rel=1e-6)


def test_a_slow_shock_bends_a_board_as_its_weight_would():
    # A pulse far slower than the board is a steady acceleration (identity): the sum of the modes' squares is the static
    # plate within the 3 % that higher modes carry, and the strain that of its moments within the same.
    plate = replace(PLATE, thickness_mm=2.0)
    answer = shaken_board(plate, Shaking(shock_g=10.0, shock_s=0.2))
    load = plate.mass_mg * 1e-6 / 0.01 * 10 * GRAVITY_MM_S2 / 1000
    exact = 0.00406 * load * 0.1**4 / plate.stiffness_n_m
    assert answer.shock_mm.max() / 1000 == pytest.approx(exact, rel=0.04)
    # Moments at the middle 0.0479·q·a² for Poisson 0.3 (Timoshenko table 8, from memory): ε = 6M(1 − ν)/(E·h²).
    strain = 6 * 0.0479 * load * 0.1**2 * 0.7 / (plate.modulus_mpa * 1e6 * 0.002**2)
    middle = answer.modes.at(answer.strain, 50, 50)
    assert 1.0 < middle / strain < 1.2


def test_screws_that_hold_converge_as_the_mesh_gets_finer():
    corners = tuple((x, y) for x in (6.0, 94.0) for y in (6.0, 94.0))
    held = replace(PLATE, edges="FFFF", supports=corners, screws_hold=True)
    first = [float(plate_modes(held, 1, cells).frequency_hz[0]) for cells in (12, 24, 48)]
    assert abs(first[2] - first[1]) < abs(first[1] - first[0]) + 1e-9
    assert first[1] == pytest.approx(first[2], rel=0.02)
    small = float(plate_modes(replace(held, head_mm=1.5), 1, 24).frequency_hz[0])
    assert small < first[1]


# --- pulses ---


@pytest.mark.parametrize("product", [0.1, 0.3, 0.5, 0.8, 1.0, 1.5, 2.5, 4.0])
def test_the_half_sines_spectrum_is_its_closed_form(product):
    # Closed form of the equation of motion (computed); 1.77 near 0.8 (from memory).
    found = response_spectrum(pulse_of("half-sine", 100.0, 0.01), [product / 0.01])[0]
    assert found == pytest.approx(100 * shock_amplification(product / 0.01, 0.01), rel=5e-3)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("q", [math.inf, 10.0])
def test_spectra_agree_with_integration_of_the_equation_of_motion(shape, q):
    pulse = pulse_of(shape, 50.0, 0.011)
    times, levels = (np.array([corner[axis] for corner in pulse]) for axis in (0, 1))
    for frequency in (40.0, 120.0):
        omega, damping = 2 * math.pi * frequency, 0.0 if math.isinf(q) else 1 / (2 * q)

        def motion(t, z, omega=omega, damping=damping):
            base = float(np.interp(t, times, levels, left=0.0, right=0.0))
            return [z[1], -(omega**2) * z[0] - 2 * damping * omega * z[1] - base]

        end = times[-1] + 1 / frequency
        solved = solve_ivp(motion, (0, end), [0.0, 0.0], max_step=1 / frequency / 200, rtol=1e-7, atol=1e-12)
        absolute = omega**2 * solved.y[0] + 2 * damping * omega * solved.y[1]
        assert response_spectrum(pulse, [frequency], q)[0] == pytest.approx(np.abs(absolute).max(), rel=0.02)


@pytest.mark.parametrize("shape", SHAPES)
def test_short_pulses_are_felt_by_their_velocity_and_long_ones_by_their_peak(shape):
    # Identities: ω·Δv for a spring far slower than the pulse, the peak for one far quicker (twice it where it rises at
    # once: no classical pulse does so but the measured one below).
    pulse = pulse_of(shape, 100.0, 1e-3)
    times, levels = (np.array([corner[axis] for corner in pulse]) for axis in (0, 1))
    velocity = float(np.trapezoid(levels, times))
    assert response_spectrum(pulse, [10.0])[0] == pytest.approx(2 * math.pi * 10 * velocity, rel=5e-3)
    assert response_spectrum(pulse, [60000.0])[0] == pytest.approx(100, rel=0.03)


def test_a_step_doubles():
    step = ((0.0, 100.0), (1.0, 100.0))
    assert response_spectrum(step, [50.0])[0] == pytest.approx(200, rel=5e-3)


@pytest.mark.parametrize(
    ("peak", "milliseconds", "velocity", "drop"),
    [
        (2900, 0.3, 543.2, 150.4),
        (2000, 0.4, 499.4, 127.2),
        (1500, 0.5, 468.2, 111.8),
        (900, 0.7, 393.3, 78.9),
        (500, 1.0, 312.2, 49.7),
        (340, 1.2, 254.7, 33.1),
        (200, 1.5, 187.3, 17.9),
        (100, 2.0, 124.9, 7.9),
    ],
)
def test_the_drop_pulses_have_their_velocities(peak, milliseconds, velocity, drop):
    # JESD22-B110's conditions (letters from memory), velocity change [cm/s] and equivalent drop [cm] computed from
    # them.
    found = half_sine_velocity(peak, milliseconds * 1e-3)
    assert found[0] == pytest.approx(velocity, abs=0.06)
    assert found[1] == pytest.approx(drop, abs=0.06)
    corners = pulse_of("half-sine", peak, milliseconds * 1e-3)
    area = float(np.trapezoid([level for _, level in corners], [time for time, _ in corners]))
    assert area * 980.665 == pytest.approx(velocity, rel=1e-3)


def test_a_measured_pulse_takes_the_place_of_a_classical_one():
    pulse = pulse_of("half-sine", 40.0, 0.011)
    classical = shaken_board(PLATE, Shaking(shock_g=40.0, shock_s=0.011))
    measured = shaken_board(PLATE, Shaking(measured=pulse))
    assert np.allclose(measured.shock_mm, classical.shock_mm, rtol=5e-3)
    sharp = shaken_board(PLATE, Shaking(shock_g=40.0, shock_s=0.011, shape="trapezoid"))
    assert sharp.shock_mm.max() > classical.shock_mm.max()


def test_handling_strain_is_held_to_what_is_published_and_never_fails():
    # A maker keeps boards within ±500 µε (docs.amd.com XAPP1377, verified).
    assert HANDLING_LIMIT == 500e-6
    assert handling(500e-6, 1.6).verdict == "holds"
    assert handling(5000e-6, 1.6).verdict == "marginal"
    assert handling(600e-6, 5.0).guideline is None
    with pytest.raises(InputError):
        handling(-1e-6, 1.6)


@pytest.mark.parametrize("bad", [((0.0, 1.0),), ((0.0, 1.0), (0.0, 2.0)), ((0.0, 1.0), (-1.0, 2.0))])
def test_a_pulse_that_is_none_is_refused(bad):
    with pytest.raises(InputError):
        response_spectrum(bad, [100.0])
    with pytest.raises(InputError):
        pulse_of("square", 1.0, 1.0)
