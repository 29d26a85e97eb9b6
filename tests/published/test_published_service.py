"""Vibration, heat, signals and dirt against published numbers. Each case names its source and how far it was read."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from landwise.errors import InputError, ValidityError
from landwise.outlines import find
from landwise.service import heat, vibration
from landwise.service.board_heat import slab_spreading, via_resistance
from landwise.service.clearance import spacing
from landwise.service.electrical import mutual_inductance, wire_inductance
from landwise.service.families import LINE_LENGTHS_INCH, edge_of_line, family_of
from landwise.service.filaments import Piece, inductance_matrix, self_inductance
from landwise.service.package_inductance import package_inductance
from landwise.service.plate import Plate, plate_modes
from landwise.service.resistances import best_sheet, order_of, sheets

SQUARE = Plate(100, 100, 1.0, 20000, 0.3, 20000)


def parameters(plate: Plate, count: int) -> list[float]:
    """ω·a²·√(ρ/D) of a plate 100 mm long."""
    factor = 2 * math.pi * 0.01 * math.sqrt(plate.mass_mg / (plate.length_mm * plate.width_mm) / plate.stiffness_n_m)
    return [float(f) * factor for f in plate_modes(plate, count, 20).frequency_hz]


# --- plates ---


@pytest.mark.parametrize(
    ("edges", "printed", "tolerance"),
    [
        # Harris table at engineersedge.com 14986 (verified), times √12; printed to three figures.
        ("XXXX", 10.40, 0.03),
        ("SSSS", 5.70, 0.005),
        ("XFFF", 1.01, 0.01),
        ("XXSS", 7.80, 0.04),  # two neighbouring edges held: 27.06 after Leissa (from memory), 27.06/√12
        ("XSSS", 6.83, 0.01),
        ("XSXS", 8.37, 0.02),
        ("XXFF", 2.01, 0.015),
    ],
)
def test_squares_have_the_handbooks_frequencies(edges: str, printed: float, tolerance: float) -> None:
    got = parameters(replace(SQUARE, edges=edges), 1)[0] / math.sqrt(12)
    assert got == pytest.approx(printed, abs=tolerance)


def test_one_of_the_handbooks_forms_is_far_too_high() -> None:
    # Two neighbouring edges held, two free: 103.9 Hz printed; the elements give 91.6, as does Harris' 2.01 of a square.
    mass = 6 * 4 * 0.1 * 0.208 * 453592.37
    plate = Plate(152.4, 101.6, 2.54, 13789.5, 0.12, mass, "XFFX")
    assert plate_modes(plate, 2).frequency_hz[0] < 0.9 * 103.9


def test_the_trap_of_a_stiffness_without_its_cube_is_not_taken() -> None:
    # The notebook's prose prints D = E·h/12(1 − μ²); doubling the thickness must give eight times the stiffness.
    assert replace(SQUARE, thickness_mm=2.0).stiffness_n_m == pytest.approx(8 * SQUARE.stiffness_n_m)


# --- shaking ---


def test_the_half_sines_greatest_response_is_the_known_one() -> None:
    # 1.77 near f·τ = 0.8 (from memory); 2πf·Δv for short pulses (identity)
    peak = max(vibration.shock_amplification(f, 0.01) for f in np.linspace(50, 120, 400))
    assert peak == pytest.approx(1.77, abs=0.005)
    velocity, _ = vibration.half_sine_velocity(100, 1e-4)
    assert 100 * vibration.shock_amplification(20.0, 1e-4) == pytest.approx(
        2 * math.pi * 20 * velocity / 100 / 9.80665, rel=1e-4
    )


# --- heat ---


@pytest.mark.parametrize(
    ("outline", "printed"),
    [
        # computed on TI SCAS298O's θJA (verified): 0.18077 W at 85 °C
        ("TSSOP-20", 106.75),
        ("VSSOP-20", 108.48),
        ("QFN-20-2.5x4.5", 100.76),
        ("SSOP-20", 107.00),
        ("SO-20W", 105.75),
        ("TVSOP-20", 108.27),
        ("QFN-20-3.5x4.5", 99.98),
    ],
)
def test_an_octal_buffers_junction_by_package(outline: str, printed: float) -> None:
    power = heat.logic_power(33, 3.3, 25e6, 8, 50).total_w
    theta = sheets()["octal-541"].rows[outline].ja
    assert heat.junction_temperature(power, theta, 85.0) == pytest.approx(printed, abs=0.0055)


def test_the_regulator_examples_choose_the_package_they_print() -> None:
    # E1: 0.32 W from 70 to 125 °C → 171 K/W: SOT-23-5 of 200 out, SO-8 of 150 in. E2: 115 − 50 over 1.9152 W → 33.9
    # (verified)
    assert pytest.approx(171, abs=1.0) == (125 - 70) / 0.320
    assert heat.junction_temperature(0.320, 200, 70) > 125 > heat.junction_temperature(0.320, 150, 70)
    assert heat.highest_power(115, 50, 33.94) == pytest.approx(1.9152, rel=1e-3)
    # E1b prints 0.580 W for (5 − 1.8)·0.15: the arithmetic is wrong and must not be an oracle
    assert pytest.approx(0.480) == (5 - 1.8) * 0.15


def test_supply_counts_squared_as_the_textbook_says() -> None:
    # 5 V against 3 V: 25 to 9, 64 % saved (Mazidi appendix C, verified)
    five, three = (heat.cmos_power(30, v, 1e6, 1, 50) for v in (5.0, 3.0))
    assert 1 - three / five == pytest.approx(0.64)
    # A gate at 1 MHz and 50 pF dissipates below 10 mW (Fairchild AN-77, verified)
    assert heat.cmos_power(30, 5.0, 1e6, 1, 50) < 10e-3


def test_an_order_of_packages_does_not_cross_sheets() -> None:
    # SO-14 is worst in one sheet and better than TSSOP-14 in two (TI SCLS062F, SCLS063G, JAJSTF3U; verified)
    assert order_of(["SO-14", "TSSOP-14"], sheets()["gates-hct00"]) == ("TSSOP-14", "SO-14")
    for key in ("gates-hct08", "gates-lvc00"):
        assert order_of(["SO-14", "TSSOP-14"], sheets()[key]) == ("SO-14", "TSSOP-14")
    with pytest.raises(InputError):
        order_of(["SO-14", "QFN-14-2.5x3"], sheets()["gates-hct00"])
    with pytest.raises(ValidityError):
        order_of(["SO-14", "TSSOP-14"], sheets()["gates-ac00"])


def test_what_order_survives_in_every_sheet() -> None:
    # Wafer-level below every leaded and every small leadless part of its sheet; SOT-23 below SC-70 (TI, verified)
    for key, wafer in (("gate-1g08", "WLP-5-0.5"), ("flip-flop-1g175", "WLP-6-0.5"), ("buffer-2g125", "WLP-8-0.5")):
        assert order_of(sheets()[key].rows, sheets()[key])[0] == wafer
    for key, pins in (("gate-1g08", "5"), ("flip-flop-1g175", "6")):
        rows = sheets()[key].rows
        assert rows[f"SOT-23-{pins}"].ja < rows[f"SC-70-{pins}"].ja
    # The tiny leadless part is worst in one sheet and better than SC-70 in another: its rank is not fixed.
    tiny = "SON-6-1.45x1.0"
    assert sheets()["gate-1g08"].rows[tiny].ja > sheets()["gate-1g08"].rows["SC-70-5"].ja
    assert sheets()["flip-flop-1g175"].rows[tiny].ja < sheets()["flip-flop-1g175"].rows["SC-70-6"].ja


def test_the_sheet_for_a_comparison_covers_what_is_compared() -> None:
    found = best_sheet(["SO-20W", "TSSOP-20", "QFN-20-2.5x4.5", "TVSOP-20"], 20)
    assert found is not None
    assert found.key == "octal-541"


def test_vias_and_slabs_have_the_printed_resistances() -> None:
    # slab: Infineon reference book's formula (verified), 500.0; barrel 192.4 K/W (computed)
    assert slab_spreading(2.0, 1.5, 0.3) == pytest.approx(500.0)
    assert via_resistance(0.3, 25, 1.6) == pytest.approx(192.4, abs=0.05)


# --- signals ---


def test_pieces_and_the_formula_books_closed_forms_agree() -> None:
    assert self_inductance(Piece((0, 0, 0), (10, 0, 0), 1, 1, round=True)) == pytest.approx(
        wire_inductance(10, 1), rel=0.02
    )
    for apart in (0.65, 1.27, 2.54):
        pair = [[Piece((0, y, 0), (10, y, 0), 0.2, 0.1)] for y in (0.0, apart)]
        assert inductance_matrix(pair)[0, 1] == pytest.approx(mutual_inductance(10, apart), rel=0.03)
    # A wire cut in three is the same wire: neighbours' mutual completes it (identity).
    cut = [Piece((x, 0, 0), (x + 3, 0, 0), 0.025, 0.025, round=True) for x in (0.0, 3.0, 6.0)]
    whole = self_inductance(Piece((0, 0, 0), (9, 0, 0), 0.025, 0.025, round=True))
    assert inductance_matrix([cut])[0, 0] == pytest.approx(whole, rel=0.02)


def test_centre_terminals_of_a_dip_have_far_less_than_its_corners() -> None:
    # 3 to 4 nH against 8 to 10 (from memory), and the reason that centre-terminal parts were made (Mazidi, verified)
    corner = package_inductance(find("DIP-14"), ("7",))
    centre = package_inductance(find("DIP-14"), ("4",))
    assert corner.ground_low > 1.6 * centre.ground_high
    assert 5 < corner.ground_high < 11


def test_more_ground_terminals_mean_less_noise() -> None:
    # More supply and ground terminals, lower inductance, less noise (TI data book page 586, verified)
    one = package_inductance(find("TSSOP-48"), ("4",)).effective_high
    eight = package_inductance(find("TSSOP-48")).effective_high
    assert eight < one / 5


def test_families_edges_are_what_the_line_lengths_imply() -> None:
    # Mazidi table C-6 (verified): LS 25, S 11, F and ACT 8, AS 6, FCT 5 inch
    for letters, length in LINE_LENGTHS_INCH.items():
        family = family_of(letters)
        assert family is not None
        assert 0.95 * family.edge_ns[0] <= edge_of_line(length) <= 1.05 * family.edge_ns[1]


# --- clearance ---


def test_a_fine_land_gap_passes_bare_copper_and_not_coated_assemblies() -> None:
    # 0.3 mm pitch leaves 0.12 mm: B2 0.10 and B4 0.05 pass, A5 to A7 of 0.13 do not (IPC-2221B table 6-1, second-hand)
    gap = 0.12
    assert gap >= spacing(5, "b2")
    assert gap >= spacing(5, "b4")
    assert all(gap < spacing(5, condition) for condition in ("a5", "a6", "a7"))


def test_the_slope_above_500_v_is_added() -> None:
    # B1 at 600 V: 0.50 mm, not slope × 600 = 1.5 (IPC-2221B, second-hand; a trap of public tools)
    assert spacing(600, "b1") == pytest.approx(0.50)


def test_every_row_of_a_sheet_is_a_package_of_its_part():
    """A part has one number of terminals: the catalogue's drawings and the sheets' parts must agree on it.

    SON-6 is apart: a gate of five terminals leaves one of its lands unused.
    """
    from landwise.outlines import find
    from landwise.service.resistances import sheets

    found = {
        (key, name): (find(name).terminals, sheet.terminals)
        for key, sheet in sheets().items()
        if sheet.terminals
        for name in sheet.rows
    }
    apart = {place: both for place, both in found.items() if both[0] != both[1]}
    assert all(name.startswith("SON-6") and both == (6, 5) for (_, name), both in apart.items()), apart
