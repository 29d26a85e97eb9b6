"""Panels whose film draws every board by itself: one image is reviewed, all copies are corrected.

What is found is held against the review of the single board; areas against pygerber's raster of the whole film.
The panel of five boards is a real one, beside the project.
"""

from __future__ import annotations

import os
from itertools import product
from pathlib import Path

import numpy as np
import pytest
import shapely
from tests.review.boards import grown
from tests.review.test_review_panels import LINE, lands, raster_mm2

from landwise.errors import LandwiseError
from landwise.fabdata.gerber import Drawn, read_gerber, write_gerber
from landwise.fabdata.gerber.apertures import standard
from landwise.review.copies import copies_of
from landwise.review.filmsout import films, writable
from landwise.review.jobs import read_board
from landwise.review.reviews import Asked, review

REAL = Path(__file__).parents[3] / "shared" / "boards"
STEP = (21.3, 13.7)
PLACES = [(i * STEP[0], j * STEP[1]) for i in range(4) for j in range(3) if (i, j) != (3, 2)]
ATTRIBUTES = {"b.gtp": ("Paste", "Top"), "b.gtl": ("Copper", "L1", "Top"), "b.gts": ("Soldermask", "Top")}


def at(shapes, dx, dy):
    return [shapely.affinity.translate(one, dx, dy) for one in shapes]


def drawn_panel(folder, places=PLACES, extra=(), without=(), copper_without=()):
    """Films that draw an invented board at every place; `without` are openings left out, counted over the panel."""
    folder.mkdir(exist_ok=True)
    every = [one for dx, dy in places for one in at(lands(), dx, dy)]
    paste = [one for k, one in enumerate(every) if k not in without] + list(extra)
    copper = [one for k, one in enumerate(every) if k not in copper_without]
    for name, shapes in (("b.gtp", paste), ("b.gtl", copper), ("b.gts", grown(every, 0.05))):
        (folder / name).write_bytes(write_gerber(shapes, {".FileFunction": ATTRIBUTES[name]}))
    return folder


MARKS = [shapely.Point(x, -6.0).buffer(0.5) for x in (-5.0, 40.0, 90.0)]


def test_a_drawn_panel_is_reviewed_as_one_board(tmp_path):
    alone = review(read_board(drawn_panel(tmp_path / "one", PLACES[:1]), {}).board, LINE)
    read = read_board(drawn_panel(tmp_path / "many", extra=MARKS), {})
    found = review(read.board, LINE)
    one, many = alone.sides[0], found.sides[0]
    assert (many.array.columns, many.array.rows, many.array.empty, many.array.boards) == (4, 3, 1, 11)
    assert (many.array.pitch_x_mm, many.array.pitch_y_mm) == pytest.approx(STEP, abs=1e-5)
    assert many.boards == 1
    assert len(many.given.paste) == len(one.given.paste)
    assert [f.says for f in many.findings] == [f.says for f in one.findings]
    assert [p.what for p in many.proposals] == [p.what for p in one.proposals]
    assert many.choice.best.defects == pytest.approx(one.choice.best.defects)
    assert "3 openings outside of it" in " ".join(found.notes)
    assert read_board(tmp_path / "many", {}, once=False).films["top"].array is None


def test_a_correction_stands_on_every_drawn_copy(tmp_path):
    read = read_board(drawn_panel(tmp_path / "many", extra=MARKS), {})
    found = writable(review(read.board, LINE, Asked(apply="all")), read)
    side = found.sides[0]
    assert side.written
    [made] = films(found, read).values()
    again = read_gerber(made, "again.gtp").pads
    expected = 11 * side.after.area_mm2.sum() + sum(one.area for one in MARKS)
    assert again.area_mm2.sum() == pytest.approx(expected, rel=1e-6)
    edge = float(shapely.length(again.polygon).sum())
    assert raster_mm2(made, 50) == pytest.approx(expected, abs=edge * 0.02)
    # Every place holds what the image does: all that was changed and all that was not.
    want = shapely.union_all(side.after.polygon)
    whole = shapely.union_all(again.polygon)
    low = np.array(want.bounds[:2])
    for dx, dy in np.array(PLACES) - np.array(PLACES[0]):
        cell = shapely.box(*(low - 1 + (dx, dy)), *(np.array(want.bounds[2:]) + 1 + (dx, dy)))
        its = shapely.affinity.translate(shapely.intersection(whole, cell), -dx, -dy)
        assert shapely.symmetric_difference(its, want).area < 1e-4 * want.area


@pytest.mark.parametrize(
    "odd",
    [
        {"without": range(3 * 32, 3 * 32 + 8)},
        {"copper_without": (2 * 32 + 5,)},
        {"places": [(0, 0), (21.3, 0), (39, 3)]},
    ],
    ids=["one board lacks openings", "copper of one board differs", "no constant step"],
)
def test_boards_that_differ_are_all_reviewed(tmp_path, odd):
    assert len(lands()) == 32
    read = read_board(drawn_panel(tmp_path / "many", **odd), {})
    assert read.films["top"].array is None
    boards = len(odd.get("places", PLACES))
    assert len(read.films["top"].pads) == boards * 32 - len(odd.get("without", ()))


def test_one_board_with_channels_alike_is_no_panel(tmp_path):
    """An outline about all of it, or a placement file that names parts all over, tells one board."""
    folder = drawn_panel(tmp_path / "edge")
    edge = shapely.box(-5, -5, 85, 45).exterior.buffer(0.05)
    (folder / "b.gko").write_bytes(write_gerber([edge], {".FileFunction": ("Profile", "NP")}))
    assert read_board(folder, {}).films["top"].array is None
    each = [shapely.box(dx - 3, dy - 3, dx + 17, dy + 9).exterior.buffer(0.05) for dx, dy in PLACES]
    (folder / "b.gko").write_bytes(write_gerber(each, {".FileFunction": ("Profile", "NP")}))
    assert read_board(folder, {}).films["top"].array.boards == 11
    rows = [f"U{k},{4 + dx},{4 + dy},0,top,QFN\n" for k, (dx, dy) in enumerate(PLACES)]
    (folder / "places.csv").write_text("Ref,PosX,PosY,Rot,Side,Package\n" + "".join(rows))
    assert read_board(folder, {}).films["top"].array is None
    (folder / "places.csv").write_text("Ref,PosX,PosY,Rot,Side,Package\n" + rows[0])
    assert read_board(folder, {}).films["top"].array.boards == 11


@pytest.mark.parametrize("seed", range(6))
def test_grids_of_random_boards_are_recognised(tmp_path, seed):
    """Random boards, some turned by 90°, on random grids; coordinates rounded as inches with four decimals."""
    rng = np.random.default_rng(seed)
    board = [
        shapely.box(x, y, x + w, y + h)
        for x, y, w, h in zip(*rng.uniform(0, 30, (2, 14)), *rng.uniform(0.3, 2.0, (2, 14)), strict=True)
    ]
    columns, rows = int(rng.integers(2, 6)), int(rng.integers(1, 5))
    pitch = 33 + rng.uniform(0, 8, 2)
    step = 0.00254
    every = [
        shapely.transform(one, lambda xy: np.round((xy + (i, j) * pitch) / step) * step)  # noqa: B023
        for i in range(columns)
        for j in range(rows)
        for one in board
    ]
    (tmp_path / "b.gtp").write_bytes(write_gerber(every, {".FileFunction": ("Paste", "Top")}))
    film = read_board(tmp_path, {}).films["top"]
    alone = read_gerber(write_gerber(board, {".FileFunction": ("Paste", "Top")}), "one.gtp").pads
    assert (film.array.columns, film.array.rows, film.array.empty) == (columns, rows, 0)
    assert len(film.pads) == len(alone)


def test_real_films_of_one_board_are_no_panels():
    """Boards beside the project; only the one that is delivered as a panel of five is taken for one."""
    folders = sorted(REAL.glob("*")) if REAL.exists() else []
    if not os.environ.get("LANDWISE_WHOLE"):  # all of them are part of `make whole`
        folders = [folder for folder in folders if folder.name in ("fpga-feather-panel", "neo6502")]
    for folder in folders:
        try:
            films_of = read_board(folder, {}).films
        except LandwiseError:
            continue
        boards = {film.array.boards if film.array else 1 for film in films_of.values() if len(film.pads)}
        assert boards == ({5} if folder.name == "fpga-feather-panel" else {1}), folder.name


def test_rows_of_leads_that_nearly_reach_the_next_board_don_t_set_the_pitch():
    """A lead 25 mm on is one of the next board's row, four leads lower: most recur there, all recur at 27 mm."""
    lead, pad, ball = standard("R", [1.4, 0.28]), standard("R", [0.5, 0.6]), standard("C", [0.28])
    board = [(lead, 10 + s * 3.75, 10 + (k - 11.5) * 0.5) for s in (-1, 1) for k in range(24)]
    board += [(pad, 2.0 + 2.1 * k, 20.0 + 0.3 * (k % 3)) for k in range(8)] + [(ball, 24.0, 16.0), (ball, 24.5, 16.0)]
    places = [(32.0 * i, 27.0 * j) for i in range(2) for j in range(9)]
    film = [
        Drawn(shapes, x + dx, y + dy, True, 10, 1, (k,))
        for k, ((dx, dy), (shapes, x, y)) in enumerate(product(places, board))
    ]
    copies, image, rest = copies_of(film)
    assert (copies.array.columns, copies.array.rows) == (2, 9)
    assert (copies.array.pitch_x_mm, copies.array.pitch_y_mm) == pytest.approx((32.0, 27.0))
    assert len(image) == len(board)
    assert rest == []
