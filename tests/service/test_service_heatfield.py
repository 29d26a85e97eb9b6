"""One field for all junctions: energy in balance, neighbours that warm, no junction below its board."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.errors import InputError
from landwise.service.bands import Band
from landwise.service.board_heat import HeatBoard, Source, board_heat
from landwise.service.heatfield import (
    SHEET_FACTOR,
    HeatPart,
    background,
    even_source,
    junctions,
    over_board,
    share_over_board,
    sheet_spread,
)
from landwise.service.resistances import sheets


def boards(length=80.0, width=50.0):
    def of(film):
        return HeatBoard(length, width, (14.0, 28.0, 28.0, 14.0), (0.25, 1.0, 0.25), film, film)

    return of(6.0), of(10.0), of(15.0)


def part(name, x, y, power):
    return HeatPart(name, Source(x, y, 5, 5, power), Band.exact(power), Band(20, 30, 40))


@settings(max_examples=12, deadline=None)
@given(
    st.lists(st.tuples(st.floats(5, 75), st.floats(5, 45), st.floats(0, 2)), min_size=1, max_size=6), st.floats(0, 3)
)
def test_energy_is_in_balance_over_the_whole_board(places, other):
    sources = [Source(x, y, 5, 5, power) for x, y, power in places]
    field = background(boards()[1], sources, other)
    assert field.lost_w == pytest.approx(sum(s.power_w for s in sources) + other, rel=1e-9, abs=1e-9)


@settings(max_examples=12, deadline=None)
@given(
    st.lists(st.tuples(st.floats(5, 75), st.floats(5, 45), st.floats(0, 2)), min_size=1, max_size=5), st.floats(0, 3)
)
def test_a_junction_is_never_colder_than_the_board_under_it(places, other):
    found = junctions(boards(), [part(str(n), *row) for n, row in enumerate(places)], 60.0, other)
    for one in found:
        assert one.junction_c.low >= one.board_c.low >= 60.0
        assert one.junction_c.value >= one.board_c.value
        assert one.junction_c.high >= one.board_c.high


def test_neighbours_and_all_else_warm_a_part():
    alone = junctions(boards(), [part("U1", 20, 25, 0.3)], 60.0)[0]
    near = junctions(boards(), [part("U1", 20, 25, 0.3), part("U2", 28, 25, 1.0)], 60.0)[0]
    far = junctions(boards(), [part("U1", 20, 25, 0.3), part("U2", 70, 25, 1.0)], 60.0)[0]
    more = junctions(boards(), [part("U1", 20, 25, 0.3)], 60.0, 2.0)[0]
    assert alone.others_k.value == pytest.approx(0, abs=1e-9)
    assert near.junction_c.value > far.junction_c.value > alone.junction_c.value
    assert more.junction_c.value > alone.junction_c.value + 10
    assert near.others_k.low < near.others_k.value < near.others_k.high


def test_an_idle_part_is_as_warm_as_the_board_under_it():
    idle = junctions(boards(), [part("U1", 20, 25, 0.0), part("U2", 28, 25, 1.0)], 60.0)[0]
    assert idle.junction_c == idle.board_c
    assert idle.board_c.value > 65


def test_the_field_is_the_sum_of_its_sources():
    board = boards()[1]
    one, two = Source(20, 20, 5, 5, 0.4), Source(60, 30, 5, 5, 0.7)
    both = board_heat(board, (one, two)).top_k
    assert np.allclose(both, board_heat(board, (one,)).top_k + board_heat(board, (two,)).top_k)
    even = background(board, [], 1.0)
    assert np.allclose(even.top_k, even.top_k.mean())
    faces = (even.rise_k[0].mean() + even.rise_k[-1].mean()) / 2
    assert faces == pytest.approx(1.0 / (2 * 10 * 80 * 50 * 1e-6), rel=1e-9)
    assert even_source(board, 1.0).length_mm == 80


def test_a_uniform_board_of_three_watts_by_hand():
    # P/(h·A): 3 W over both faces of 80 × 50 mm at 10 W/m²K is 37.5 K on the mean of both (energy balance, by hand);
    # the heated face lies above it by half of P/A through the laminate, 0.9 K.
    found = junctions(boards(), [part("U1", 40, 25, 0.0)], 60.0, 3.0)[0]
    assert found.board_c.value == pytest.approx(97.5 + 0.9, abs=0.1)
    assert found.board_c.low == pytest.approx(60 + 25.0 + 0.9, abs=0.1)
    assert found.board_c.high == pytest.approx(60 + 62.5 + 0.9, abs=0.1)


def test_one_sheet_carries_the_spread_between_sheets():
    assert sheet_spread(100).high / sheet_spread(100).low == pytest.approx(2)
    assert pytest.approx(2) == SHEET_FACTOR**2
    band = share_over_board()
    rows = [r for s in sheets().values() for r in s.rows.values() if r.to_board is not None]
    assert all(band.low <= r.to_board / r.ja <= max(band.high, 1.0) for r in rows)
    guessed = over_board(100.0, None)
    assert guessed.low == pytest.approx(band.low * 100 / SHEET_FACTOR)
    assert over_board(100.0, 55.0).value == 55.0


@pytest.mark.parametrize("bad", [{"power_w": Band.exact(-1.0)}, {"over_board_k_w": Band(-1, 1, 2)}])
def test_negative_heat_is_refused(bad):
    with pytest.raises(InputError):
        replace(part("U1", 20, 25, 0.3), **bad)


def test_a_negative_rest_and_resistance_are_refused():
    with pytest.raises(InputError):
        background(boards()[1], [], -1.0)
    with pytest.raises(InputError):
        over_board(0.0, None)
