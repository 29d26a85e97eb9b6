"""Inductance, bounce, decoupling, contamination and published tables: what must always hold, and what is refused."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.errors import InputError, ValidityError
from landwise.evidence import all_formulas
from landwise.evidence.sources import all_sources
from landwise.outlines import catalogue, find
from landwise.service import electrical
from landwise.service.contamination import AIRS, COATS, coat_reach, migration
from landwise.service.families import FAMILIES, family_of
from landwise.service.filaments import Piece, inductance_matrix, shared_inductance
from landwise.service.heat import highest_power, logic_power
from landwise.service.package_inductance import package_inductance, usual_ground
from landwise.service.resistances import WARNING, best_sheet, sheets, spread_of


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(*[st.floats(-5, 5)] * 3), min_size=3, max_size=5, unique=True))
def test_a_matrix_of_bent_conductors_is_symmetric_and_stores_energy(points: list[tuple[float, float, float]]) -> None:
    if min(math.dist(a, b) for a in points for b in points if a != b) < 0.5:
        return
    path = [Piece(a, b, 0.1, 0.1) for a, b in pairwise(points)]
    far = [Piece((a[0] + 20, a[1], a[2]), (b[0] + 20, b[1], b[2]), 0.1, 0.1) for a, b in pairwise(points)]
    matrix = inductance_matrix([path, far])
    assert matrix[0, 1] == pytest.approx(matrix[1, 0], rel=1e-9)
    assert matrix[0, 0] == pytest.approx(matrix[1, 1], rel=1e-6)
    assert np.linalg.eigvalsh(matrix).min() > 0


def test_pieces_at_right_angles_do_not_couple() -> None:
    matrix = inductance_matrix([[Piece((0, 0, 0), (5, 0, 0), 0.2, 0.1)], [Piece((1, 1, 0), (1, 6, 0), 0.2, 0.1)]])
    assert matrix[0, 1] == pytest.approx(0.0, abs=1e-12)


def test_two_grounds_far_apart_halve_and_side_by_side_hardly_do() -> None:
    own, pair = 4.0, 1.0
    far = np.array([[own, 0, 0], [0, own, 0], [0, 0, own]])
    near = np.array([[own, 3.5, pair], [3.5, own, pair], [pair, pair, own]])
    assert shared_inductance(far, [0, 1], [2]) == pytest.approx(2.0)
    assert shared_inductance(near, [0, 1], [2]) == pytest.approx(3.75 - pair)
    with pytest.raises(InputError):
        shared_inductance(far, [], [1])


def test_every_outline_of_the_catalogue_has_an_inductance() -> None:
    for outline in catalogue().values():
        if outline.terminals > 30:
            continue
        found = package_inductance(outline)
        assert 0 < found.ground_low <= found.ground_high < 30, outline.name
        assert 0 < found.effective_low <= found.effective_high, outline.name


def test_smaller_packages_of_one_function_have_less_inductance() -> None:
    order = ["DIP-14", "SO-14", "TSSOP-14", "QFN-14-2.5x3"]
    found = [package_inductance(find(name)) for name in order]
    assert all(a.effective_low > b.effective_high for a, b in zip(found, found[2:], strict=False))
    assert found[0].effective_high > found[1].effective_high > found[2].effective_high > found[3].effective_high


def test_the_usual_ground_is_a_terminal_of_the_outline_or_not_known() -> None:
    for outline in catalogue().values():
        assert len(usual_ground(outline)) in (0, 1, 8)
    assert usual_ground(find("TSSOP-48"))[0] == "4"
    assert usual_ground(find("WLP-5-0.5")) == ()
    with pytest.raises(InputError):
        package_inductance(find("SO-14"), ("15",))


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 16), st.floats(0.2, 15), st.floats(10, 150), st.floats(0.5, 20))
def test_bounce_stays_below_the_swing_and_grows_with_what_drives_it(n: int, nh: float, pf: float, ns: float) -> None:
    band = electrical.bounce_band(n, (nh, nh * 1.3), pf, 5.0, (ns, 2 * ns))
    assert 0 < band.low < band.value < band.high < 5.0
    assert electrical.bounce_band(n + 1, (nh, nh * 1.3), pf, 5.0, (ns, 2 * ns)).high > band.high
    assert electrical.bounce_band(n, (nh, nh * 1.3), pf, 5.0, (ns / 2, ns)).high > band.high


def test_a_faster_family_is_faster_and_known() -> None:
    for family in FAMILIES.values():
        if family.faster:
            quick = family_of(family.faster)
            assert quick is not None
            assert quick.edge_ns[0] < family.edge_ns[0]


def test_decoupling_gets_shorter_with_the_edge_and_ends_at_the_package() -> None:
    slow, fast = (electrical.decoupling_distance(4, 2.0, 50, 5.0, t, 0.5, 0.8) for t in (6e-9, 3e-9))
    assert slow > fast
    assert electrical.decoupling_distance(8, 20.0, 50, 5.0, 1e-9, 0.3, 0.8) == 0.0
    with pytest.raises(ValidityError):
        electrical.track_plane_nh_mm(1.0, 0.2)
    with pytest.raises(ValidityError):
        electrical.track_pair_nh_mm(1.0, 0.035, 0.5)


def test_power_is_the_sum_of_its_parts_and_outputs_multiply_both_capacitances() -> None:
    one, eight = (logic_power(33, 3.3, 25e6, n, 50, static_a=1e-5) for n in (1, 8))
    assert eight.internal_w == pytest.approx(8 * one.internal_w)
    assert eight.load_w == pytest.approx(8 * one.load_w)
    assert eight.static_w == one.static_w
    assert eight.total_w == pytest.approx(eight.static_w + eight.internal_w + eight.load_w)
    with pytest.raises(ValidityError):
        highest_power(85, 85, 100)


def test_migration_is_a_class_that_worsens_with_field_and_air_and_never_a_chance() -> None:
    order = ("holds", "marginal", "not known")
    for gap in (0.05, 0.1, 0.15, 0.3, 1.0):
        rank = [order.index(migration(5.0, gap, air).verdict) for air in AIRS]
        assert rank == sorted(rank)
    for air in AIRS:
        rank = [order.index(migration(5.0, gap, air).verdict) for gap in (1.0, 0.3, 0.15, 0.1)]
        assert rank == sorted(rank)
        assert not any(word in migration(5.0, 0.15, air).says for word in ("probab", "chance", "%"))
    assert migration(5.0, 5.0, "wet").verdict != "holds"
    with pytest.raises(InputError):
        migration(5.0, 0.0, "dry")


def test_a_coat_reaches_wide_gaps_first() -> None:
    order = ("holds", "marginal", "fails")
    for coat in COATS:
        rank = [order.index(coat_reach(gap, coat, True).verdict) for gap in (500, 120, 50, 10, 0)]
        assert rank == sorted(rank)
        assert coat_reach(0, coat, False).verdict == "holds"
    with pytest.raises(InputError):
        coat_reach(50, "wax", True)


def test_every_sheets_source_is_described_and_its_outlines_are_in_the_catalogue() -> None:
    elsewhere = {"SOP-20-5.3", "QSOP-24"}  # printed by a sheet, not yet in the catalogue
    for sheet in sheets().values():
        assert sheet.source in all_sources()
        for name, row in sheet.rows.items():
            assert name in catalogue() or name in elsewhere
            assert row.ja > (row.to_board or 0)
    assert spread_of("BGA-64-0.5") is None
    assert best_sheet(["BGA-64-0.5"], 64) is None
    assert "one sheet" in WARNING


def test_the_formula_book_warns_where_it_must() -> None:
    book = all_formulas()
    assert "local codes" in book["migration-field"].cautions
    assert "no measurement" in book["package-inductance"].valid
    assert "no constant is published" in book["vibration-limit"].valid
