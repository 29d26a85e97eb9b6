"""Heat in the board: closed forms of fins, rings and discs, and the balance of energy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import i0, k1

from landwise.errors import InputError, ValidityError
from landwise.service.board_heat import (
    COPPER_W_MK,
    HeatBoard,
    Source,
    board_heat,
    slab_spreading,
    stack,
    via_resistance,
)
from landwise.service.heat import copper_spreading

# Two faces 1 µm apart act as one sheet.
SHEET = HeatBoard(100, 100, (35.0, 35.0), (0.001,), 10.0, 10.0, laminate_w_mk=1.0)


def test_a_heated_strip_at_one_edge_follows_the_fins_cosh() -> None:
    board = replace(SHEET, length_mm=120, width_mm=10)
    field = board_heat(board, (Source(0.5, 5, 1, 10, 1.0),), 240)
    m = math.sqrt(20.0 / (COPPER_W_MK * 70e-6))
    x = field.x_mm[5:] * 1e-3
    exact = np.cosh(m * (0.120 - x))
    got = field.top_k[2, 5:]
    assert got / got[0] == pytest.approx(exact / exact[0], rel=2e-3)


def test_the_ring_from_the_formula_book_and_the_board_agree() -> None:
    # A disc source of 5 mm on a wide sheet: its rim is the root of an annular fin, less what the disc itself loses.
    board = replace(SHEET, length_mm=100, width_mm=100)
    discs = tuple(
        Source(50 + i * 0.5, 50 + j * 0.5, 0.5, 0.5, 1.0)
        for i in range(-10, 11)
        for j in range(-10, 11)
        if math.hypot(i, j) * 0.5 <= 5.0
    )
    field = board_heat(board, tuple(replace(s, power_w=1 / len(discs)) for s in discs), 200)
    rim = np.mean([field.at(50 + 5 * math.cos(a), 50 + 5 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 24)])
    own = 20.0 * math.pi * 5e-3**2 * rim  # what the disc gives to the air itself
    ring = copper_spreading(5.0, 100 / math.sqrt(math.pi), 70.0, 20.0)
    assert rim == pytest.approx(ring * (1 - own), rel=0.02)


def test_a_uniform_disc_on_a_wide_sheet_has_the_exact_middle() -> None:
    # θ(0) = q/h·(1 − m·r·K1(m·r)·I0(0)), a disc of even flux on an infinite cooled sheet (modified Bessel equation).
    board = replace(SHEET, length_mm=240, width_mm=240)
    radius, step = 6.0, 1.2
    discs = tuple(
        Source(120 + i * step, 120 + j * step, step, step, 1.0)
        for i in range(-5, 6)
        for j in range(-5, 6)
        if math.hypot(i, j) * step <= radius
    )
    area = len(discs) * step**2 * 1e-6
    field = board_heat(board, tuple(replace(s, power_w=1 / len(discs)) for s in discs), 200)
    m = math.sqrt(20.0 / (COPPER_W_MK * 70e-6))
    r = math.sqrt(area / math.pi)
    exact = (1 / area) / 20.0 * (1 - m * r * k1(m * r) * i0(0.0))
    assert field.at(120, 120) == pytest.approx(exact, rel=0.02)


@settings(max_examples=25, deadline=None)
@given(
    power=st.floats(0.01, 5),
    x=st.floats(10, 80),
    y=st.floats(10, 40),
    shares=st.tuples(*[st.floats(0, 1)] * 4),
    films=st.tuples(st.floats(1, 40), st.floats(1, 40)),
    vias=st.integers(0, 40),
)
def test_what_goes_in_comes_out(power, x, y, shares, films, vias) -> None:  # type: ignore[no-untyped-def]
    copper, gaps = stack(4, 35.0, shares, 1.6)
    board = HeatBoard(90, 50, copper, gaps, *films)
    field = board_heat(board, (Source(x, y, 5, 4, power, vias), Source(45, 25, 3, 3, 0.2)), 30)
    assert field.lost_w == pytest.approx(power + 0.2, rel=1e-9)
    assert field.rise_k.min() > 0


def test_the_mesh_hardly_matters_at_the_usual_size() -> None:
    copper, gaps = stack(4, 35.0, (0.3, 0.9, 0.9, 0.3), 1.6)
    board, source = HeatBoard(90, 60, copper, gaps), Source(30, 30, 5, 6, 0.5)
    coarse, fine = (board_heat(board, (source,), n).under(source) for n in (48, 160))
    assert coarse == pytest.approx(fine, rel=0.05)


def test_copper_vias_and_air_each_cool_the_part() -> None:
    copper, gaps = stack(2, 35.0, (0.3,), 1.6)
    board, source = HeatBoard(90, 60, copper, gaps), Source(30, 30, 5, 6, 0.5)
    base = board_heat(board, (source,)).under(source)
    assert board_heat(replace(board, copper_um=(30.0, 30.0)), (source,)).under(source) < base
    assert board_heat(board, (replace(source, vias=9),)).under(source) < base
    assert board_heat(replace(board, film_bottom=20.0), (source,)).under(source) < base


def test_vias_couple_the_faces_as_their_resistances_in_parallel() -> None:
    # Copper so thick that each face has one temperature; laminate that lets nothing through.
    board = HeatBoard(20, 20, (1e6, 1e6), (1.6,), 0.0, 50.0, laminate_w_mk=1e-9)
    each = via_resistance(0.3, 25, 1.6)
    source = Source(10, 10, 20, 20, 1.0, vias=4, via_k_w=each)
    field = board_heat(board, (source,), 8)
    assert field.rise_k[0].mean() - field.rise_k[1].mean() == pytest.approx(each / 4, rel=1e-3)


def test_sources_off_the_board_and_boards_without_air_are_refused() -> None:
    with pytest.raises(InputError):
        board_heat(SHEET, (Source(1, 50, 5, 5, 1.0),))
    with pytest.raises(InputError):
        board_heat(replace(SHEET, film_top=0.0, film_bottom=0.0), ())
    with pytest.raises(InputError):
        stack(4, 35, (0.5, 0.5), 1.6)
    with pytest.raises(ValidityError):
        board_heat(SHEET, (), 1000)


def test_the_slab_is_the_integral_of_its_slices() -> None:
    depth = np.linspace(0, 1.5e-3, 20001)
    side = 2e-3 + 2 * depth * math.tan(math.radians(30))
    slices = np.trapezoid(1 / (0.3 * side * 2e-3 * side / 2e-3), depth)
    assert slab_spreading(2.0, 1.5, 0.3, 30.0) == pytest.approx(float(slices), rel=1e-6)
