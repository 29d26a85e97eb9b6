"""The finite-element plate: closed forms, published benchmark values, and what must hold for any board."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.errors import InputError, ValidityError
from landwise.service.plate import Plate, plate_modes
from landwise.service.vibration import plate_frequency

SQUARE = Plate(100, 100, 1.0, 20000, 0.3, 20000)
CORNERS = ((0, 0), (0, 100), (100, 0), (100, 100))


def parameters(plate: Plate, count: int = 6, cells: int = 20) -> list[float]:
    """ω·a²·√(ρ/D) of a plate 100 mm long."""
    per_area = plate.mass_mg / (plate.length_mm * plate.width_mm)
    factor = 0.01 * math.sqrt(per_area / plate.stiffness_n_m)
    return [2 * math.pi * f * factor for f in plate_modes(plate, count, cells).frequency_hz]


def test_an_all_supported_plate_has_the_exact_frequencies_of_its_sines() -> None:
    for width in (100.0, 60.0, 37.0):
        plate = replace(SQUARE, width_mm=width, edges="SSSS")
        exact = sorted(math.pi**2 * (m**2 + n**2 * (100 / width) ** 2) for m in range(1, 6) for n in range(1, 6))[:4]
        assert parameters(plate, 4) == pytest.approx(exact, rel=2e-4)


def test_the_handbooks_formula_and_the_elements_agree_where_the_formula_is_exact() -> None:
    for edges in ("SSSS", "SFSF"):
        plate = Plate(152.4, 101.6, 2.54, 13789.5, 0.0, 400000, edges)
        told = plate_frequency(152.4, 101.6, 2.54, 13789.5, 0.0, 400000, edges)
        assert plate_modes(plate).frequency_hz[0] == pytest.approx(told, rel=1e-4)


def test_frequencies_fall_towards_the_exact_ones_as_the_fourth_power_of_the_cell() -> None:
    exact = 2 * math.pi**2
    errors = [parameters(replace(SQUARE, edges="SSSS"), 1, n)[0] / exact - 1 for n in (4, 8, 16)]
    assert errors[0] > errors[1] > errors[2] > 0
    assert errors[0] / errors[1] == pytest.approx(16, rel=0.1)


def test_a_lumped_mass_in_the_middle_acts_as_a_mass_on_a_spring() -> None:
    # An edge-supported square under a central force bends by 0.01160·P·a²/D (Timoshenko, plates and shells, recalled).
    plate = replace(SQUARE, edges="SSSS", lumps=((50, 50, 20e6),))  # a thousand times the plate
    spring = plate.stiffness_n_m / (0.01160 * 0.01)
    assert plate_modes(plate, 1, 40).frequency_hz[0] == pytest.approx(
        math.sqrt(spring / 20.0) / (2 * math.pi), rel=5e-3
    )


def test_lumps_spread_evenly_act_like_spread_mass() -> None:
    lumps = tuple((2.5 + 5 * i, 2.5 + 5 * j, 50.0) for i in range(20) for j in range(20))
    loaded = plate_modes(replace(SQUARE, edges="SSSS", lumps=lumps), 2).frequency_hz
    even = plate_modes(replace(SQUARE, edges="SSSS", mass_mg=40000), 2).frequency_hz
    assert loaded == pytest.approx(even, rel=2e-3)


def test_screws_that_hold_are_stiffer_than_screws_that_pin() -> None:
    screws = ((5.0, 5.0), (5.0, 95.0), (95.0, 5.0), (95.0, 95.0))
    pinned = plate_modes(replace(SQUARE, supports=screws)).frequency_hz[0]
    held = plate_modes(replace(SQUARE, supports=screws, screws_hold=True)).frequency_hz[0]
    assert held > 1.1 * pinned


def test_a_loose_board_is_shown_without_its_rigid_motions() -> None:
    for supports in ((), ((50.0, 50.0),), ((0.0, 50.0), (100.0, 50.0))):
        assert plate_modes(replace(SQUARE, supports=supports)).frequency_hz.min() > 10


@pytest.mark.parametrize("edges", ["SSSS", "XFFF", "SFSX", "XXSX"])
@settings(max_examples=2, deadline=None)
@given(thickness=st.floats(0.6, 2.4), factor=st.floats(1.1, 2.0))
def test_frequency_grows_with_thickness_and_falls_with_mass_and_size(
    thickness: float, factor: float, edges: str
) -> None:
    plate = Plate(100, 70, thickness, 20000, 0.15, 30000, edges)
    base = plate_modes(plate, 3, 8).frequency_hz
    # At one mass frequency goes as h^1.5; with mass as −½; with both sides, at one mass per area, as −2.
    assert plate_modes(replace(plate, thickness_mm=thickness * factor), 3, 8).frequency_hz == pytest.approx(
        base * factor**1.5, rel=1e-6
    )
    assert plate_modes(replace(plate, mass_mg=30000 * factor), 3, 8).frequency_hz == pytest.approx(
        base / math.sqrt(factor), rel=1e-6
    )
    wider = replace(plate, length_mm=100 * factor, width_mm=70 * factor, mass_mg=30000 * factor**2)
    assert plate_modes(wider, 3, 8).frequency_hz == pytest.approx(base / factor**2, rel=1e-6)


def test_shapes_are_read_between_the_lines_of_the_mesh() -> None:
    modes = plate_modes(replace(SQUARE, edges="SSSS"))
    shape = np.abs(modes.shape[0])
    for x, y in ((50, 50), (25, 50), (25, 25), (10, 80)):
        exact = math.sin(math.pi * x / 100) * math.sin(math.pi * y / 100)
        assert modes.at(shape, x, y) == pytest.approx(exact, abs=0.01)


def test_the_middle_of_a_supported_plate_has_the_strain_of_its_sine() -> None:
    plate = replace(SQUARE, edges="SSSS")
    modes = plate_modes(plate, 1, 40)
    # κ = (π/a)² in each direction at the middle; ε = κ·h/2
    assert modes.at(modes.strain_per_mm[0], 50, 50) == pytest.approx((math.pi / 100) ** 2 / 2, rel=5e-3)


def test_the_sine_of_a_supported_plate_is_driven_by_sixteen_over_pi_squared() -> None:
    modes = plate_modes(replace(SQUARE, edges="SSSS"))
    assert abs(modes.participation[0]) == pytest.approx(16 / math.pi**2, rel=1e-2)


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"edges": "ABCD"}, InputError),
        ({"edges": "SS"}, InputError),
        ({"length_mm": 0.0}, InputError),
        ({"poisson": 0.5}, ValidityError),
        ({"thickness_mm": 11.0}, ValidityError),
        ({"supports": ((120.0, 5.0),)}, InputError),
    ],
)
def test_boards_outside_the_theory_are_refused(change: dict[str, object], kind: type[Exception]) -> None:
    with pytest.raises(kind):
        plate_modes(replace(SQUARE, **change))  # type: ignore[arg-type]
