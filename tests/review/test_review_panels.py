"""Panels: a film that repeats its board is reviewed once, corrected for all copies; a panel built is read back.

Areas of repeated films are checked against a raster by pygerber, which works steps and repeats by itself.
"""

from __future__ import annotations

import io
import warnings

import numpy as np
import pytest
import shapely
from tests.review.boards import box, chip, quad

from landwise.assembly.lines import preset
from landwise.errors import LandwiseError
from landwise.fabdata.gerber import read_gerber, repeated, write_gerber
from landwise.review.filmsout import films, writable
from landwise.review.jobs import read_board
from landwise.review.panels import arranged, panel_film
from landwise.review.reviews import Asked, review
from landwise.sheets.reviewcontent import content_of, panel

LINE = preset("ordinary")
PASTE = {".FileFunction": ("Paste", "Top")}


def lands():
    shapes = quad(4, 4, 6, 0.5, 4.0, 0.8, 0.28)
    for x in (10, 12, 14):
        shapes += chip(x, 2, 1.0, 0.5, 0.6)
    return [*shapes, box(4, 4, 2.7, 2.7), box(12, 7, 1.5, 1.5)]


def board_folder(path, steps=None, copper_steps=None, rim=False, paste=None):
    """Films of one small board, invented here; `steps` puts paste into a repeat of so many columns and rows."""
    path.mkdir(exist_ok=True)
    shapes = lands()
    films_of = {
        "b.gtp": (paste or shapes, PASTE),
        "b.gtl": (shapes, {".FileFunction": ("Copper", "L1", "Top")}),
        "b.gts": ([one.buffer(0.05, join_style="mitre") for one in shapes], {".FileFunction": ("Soldermask", "Top")}),
    }
    for name, (its, attributes) in films_of.items():
        data = write_gerber(its, attributes)
        how = steps if name == "b.gtp" else copper_steps
        if how:
            data = repeated(read_gerber(data, name), *how)
        if rim and name == "b.gtp":
            data = data.replace(b"M02*", b"%ADD900C,1.0*%\nD900*\nX-4000000Y-4000000D03*\nM02*")
        (path / name).write_bytes(data)
    return path


STEPS = (3, 2, (20.0, 12.0))


def raster_mm2(data, per_mm=100):
    into = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from PIL import Image
        from pygerber.gerberx3.api.v2 import GerberFile, ImageFormatEnum

        GerberFile.from_str(data.decode()).parse().render_raster(into, dpmm=per_mm, image_format=ImageFormatEnum.PNG)
    pixels = np.asarray(Image.open(io.BytesIO(into.getvalue())).convert("RGB")).astype(np.int16)
    return float((np.abs(pixels - (40, 143, 40)).sum(axis=-1) < 20).sum()) / per_mm**2


@pytest.mark.parametrize("copper_steps", [STEPS, None], ids=["copper repeats too", "copper of one board"])
def test_a_repeated_film_is_reviewed_as_one_board(tmp_path, copper_steps):
    alone = review(read_board(board_folder(tmp_path / "one"), {}).board, LINE)
    read = read_board(board_folder(tmp_path / "panel", STEPS, copper_steps, rim=True), {})
    found = review(read.board, LINE)
    one, many = alone.sides[0], found.sides[0]
    assert (many.array.columns, many.array.rows, many.boards) == (3, 2, 1)
    assert len(many.given.paste) == len(one.given.paste)
    assert [f.says for f in many.findings] == [f.says for f in one.findings]
    assert [p.what for p in many.proposals] == [p.what for p in one.proposals]
    assert many.choice.best.defects == pytest.approx(one.choice.best.defects)
    assert "1 openings outside of it" in " ".join(found.notes)
    assert "3 × 2 boards" in panel(found)
    assert panel(alone) == ""
    assert content_of(found, [[]])["panel"] == panel(found)


def test_copper_drawn_copy_by_copy_is_cut_to_the_image(tmp_path):
    folder = board_folder(tmp_path / "panel", STEPS)
    every = [shapely.affinity.translate(one, 20 * i, 12 * j) for i in range(3) for j in range(2) for one in lands()]
    (folder / "b.gtl").write_bytes(write_gerber(every, {".FileFunction": ("Copper", "L1", "Top")}))
    wider = [one.buffer(0.05, join_style="mitre") for one in every]
    (folder / "b.gts").write_bytes(write_gerber(wider, {".FileFunction": ("Soldermask", "Top")}))
    found = review(read_board(folder, {}).board, LINE)
    assert len(found.sides[0].given.lands) == len(lands())
    assert not [f for f in found.findings if f.key == "missing"]


def test_a_correction_stands_on_every_copy(tmp_path):
    read = read_board(board_folder(tmp_path / "panel", STEPS, STEPS, rim=True), {})
    found = writable(review(read.board, LINE, Asked(apply="all")), read)
    assert found.sides[0].written
    [made] = films(found, read).values()
    again = read_gerber(made, "again.gtp")
    assert again.pads.area_mm2.sum() == pytest.approx(6 * found.sides[0].after.area_mm2.sum() + np.pi / 4, rel=1e-6)
    edge = float(shapely.length(again.pads.polygon).sum())
    assert raster_mm2(made) == pytest.approx(float(again.pads.area_mm2.sum()), abs=edge * 0.01)
    # What stands after the repeat is drawn as before: the mark on the rim keeps its place and size.
    alone = read_gerber(made, "again.gtp", copies=False).pads
    rim = np.flatnonzero((alone.x_mm < -3) & (alone.y_mm < -3))
    assert len(rim) == 1
    assert alone.area_mm2[rim[0]] == pytest.approx(np.pi / 4)


def test_copies_that_reach_into_each_other_are_written_out(tmp_path):
    read = read_board(board_folder(tmp_path / "panel", (2, 1, (7.0, 0.0))), {})
    assert read.films["top"].array is None
    assert len(read.films["top"].pads) > len(lands())


def test_a_built_panel_is_the_film_repeated_and_is_read_back(tmp_path):
    folder = board_folder(tmp_path / "one")
    read = read_board(folder, {})
    found = review(read.board, LINE)
    array, _ = arranged(found.sides[0].after.polygon, None, "4x3 gap 2")
    made = panel_film(read.films["top"], found.sides[0], array, None)
    pads = read_gerber(made, "panel.gtp").pads
    assert len(pads) == 12 * len(lands())
    edge = float(shapely.length(pads.polygon).sum())
    assert raster_mm2(made, 50) == pytest.approx(12 * sum(one.area for one in lands()), abs=edge * 0.02)
    (folder / "b.gtp").write_bytes(made)
    again = review(read_board(folder, {}).board, LINE)
    assert again.sides[0].array.boards == 12
    assert again.sides[0].array.pitch_x_mm == pytest.approx(array.pitch_x_mm, abs=1e-5)
    assert [f.says for f in again.findings] == [f.says for f in found.findings]
    assert len(made) < 2 * len(read.films["top"].layer.data)


def test_a_film_with_a_label_is_built_as_outlines(tmp_path):
    label = b"%ADD77C,0.1*%\nD77*\nX30000000Y0D02*\nX31000000Y1000000D01*\nX32000000Y0D01*\nM02*"
    folder = board_folder(tmp_path / "one")
    (folder / "b.gtp").write_bytes((folder / "b.gtp").read_bytes().replace(b"M02*", label))
    read = read_board(folder, {})
    found = review(read.board, LINE)
    array, _ = arranged(found.sides[0].after.polygon, None, "2x2")
    pads = read_gerber(panel_film(read.films["top"], found.sides[0], array, None), "panel.gtp").pads
    assert len(pads) == 4 * len(lands())


def test_a_film_that_repeats_cannot_be_repeated_again():
    data = repeated(read_gerber(write_gerber(lands(), PASTE), "a.gtp"), *STEPS)
    with pytest.raises(LandwiseError, match="repeat or a block"):
        repeated(read_gerber(data, "a.gtp"), 2, 2, (99.0, 99.0))
