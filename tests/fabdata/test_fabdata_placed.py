"""Placement checks and paste films beside an inspection. All rows are invented, the film is the example's own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from landwise.errors import InputError
from landwise.fabdata.inspection import read_inspection
from landwise.fabdata.inspectionplaces import Apertures, overlay
from landwise.fabdata.placementchecks import read_placement_checks
from landwise.review.jobs import read_board

FILMS = Path(__file__).parents[2] / "examples" / "logger" / "fabrication"
FOIL_UM = 100.0


@pytest.fixture(scope="module")
def film():
    paste = read_board(FILMS, {}).board.sides[0].paste
    return Apertures(paste.x_mm, paste.y_mm, paste.area_mm2, paste.wall_mm)


def turned(film, quarter, shift, rng):
    angle = np.pi / 2 * quarter
    x = film.x_mm * np.cos(angle) - film.y_mm * np.sin(angle) + shift[0] + 0.03 * rng.standard_normal(len(film.x_mm))
    y = film.x_mm * np.sin(angle) + film.y_mm * np.cos(angle) + shift[1] + 0.03 * rng.standard_normal(len(film.x_mm))
    return x, y


@pytest.mark.parametrize("quarter", range(4))
def test_a_board_that_went_through_turned_and_shifted_is_laid_on_its_film(film, quarter):
    rng = np.random.default_rng(quarter)
    x, y = turned(film, quarter, (213.4, -17.9), rng)
    order = rng.permutation(len(x))
    found = overlay(x[order], y[order], film)
    assert found.turn_deg == 90 * quarter
    assert found.shift_mm == pytest.approx((213.4, -17.9), abs=0.03)
    assert np.mean(found.opening == order) > 0.97


def test_another_boards_film_is_refused(film):
    rng = np.random.default_rng(1)
    with pytest.raises(InputError, match="don't lie on the openings"):
        overlay(rng.uniform(0, 80, 300), rng.uniform(0, 60, 300), film)


def test_absolute_volumes_take_their_apertures_from_the_film(tmp_path, film):
    rng = np.random.default_rng(5)
    share = 0.8 + 0.05 * rng.standard_normal((12, len(film.x_mm)))
    x, y = turned(film, 1, (100.0, 50.0), rng)
    rows = ["Board,PadID,PosX(mm),PosY(mm),Volume(um3),OffsetX(%)"]
    for board in range(12):
        volume = share[board] * film.area_mm2 * FOIL_UM * 1e6
        rows += [f"B{board},{k},{x[k]:.4f},{y[k]:.4f},{volume[k]:.0f},1.0" for k in range(len(x))]
    path = tmp_path / "absolute.csv"
    path.write_text("\n".join(rows))
    with pytest.raises(InputError, match="absolute volumes need the apertures"):
        read_inspection(path, foil_um=FOIL_UM)
    read = read_inspection(path, foil_um=FOIL_UM, apertures=film)
    np.testing.assert_allclose(read.values["volume"], share.ravel(), rtol=1e-4)
    ratio = film.area_mm2 / (film.wall_mm * FOIL_UM / 1000)
    np.testing.assert_allclose(read.values["area_ratio"], np.tile(ratio, 12), rtol=1e-6)
    assert any("turned by 90°" in note for note in read.notes)
    assert any("offset_x is in per cent of a size" in note for note in read.notes)


def checks(tmp_path, header, rows):
    path = tmp_path / "placed.csv"
    path.write_text("\n".join([header, *rows]))
    return path


def test_placement_checks_in_any_unit_give_millimetres(tmp_path):
    rows = [f"B{k // 4};U{k % 4};{0.4 * k:.1f};-1,5;0.2" for k in range(40)]
    path = checks(tmp_path, "Panel;RefDes;dX [mil];dY [mil];Rotation [mrad]", rows)
    read = read_placement_checks(path)
    np.testing.assert_allclose(read.dx_mm, 0.4 * np.arange(40) * 0.0254)
    np.testing.assert_allclose(read.dy_mm, -1.5 * 0.0254)
    np.testing.assert_allclose(read.turn_deg, 0.2e-3 * 180 / np.pi)
    assert len(np.unique(read.board)) == 10
    assert len(np.unique(read.part)) == 4
    renamed = checks(tmp_path, "Panel;RefDes;far;dY [mil];Rotation [mrad]", rows)
    again = read_placement_checks(renamed, {"placed_x": "far [mil]"})
    np.testing.assert_allclose(again.dx_mm, read.dx_mm)
    assert again.columns["placed_x"] == "far [mil]"


def test_a_unit_is_never_guessed_and_fallen_parts_are_left_out(tmp_path):
    rows = [f"B{k // 4},{0.01 * (k % 7)},0.02" for k in range(40)]
    with pytest.raises(InputError, match="the unit is not known"):
        read_placement_checks(checks(tmp_path, "Board,dx,dy", rows))
    rows[3], rows[9] = "B0,7.5,0.0", "B2,none,0.0"
    read = read_placement_checks(checks(tmp_path, "Board,dx(mm),dy(mm)", rows))
    assert len(read.dx_mm) == 38
    assert len(read.notes) == 2
    # Without a column of parts the order on the board tells them apart: the fallen one keeps its number.
    assert read.part.tolist()[:6] == [0, 1, 2, 0, 1, 2]
    with pytest.raises(InputError, match="no column placed_board"):
        read_placement_checks(checks(tmp_path, "dx(mm),dy(mm)", ["0,0"]))
