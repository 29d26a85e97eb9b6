"""The report of a review: pictures, page and files, on a made-up board."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.review.building import openings
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviews import Asked, review
from landwise.sheets.clashes import texts_clash
from landwise.sheets.look import LIGHT
from landwise.sheets.reviewboard import View, board_picture, detail_picture, worst_findings
from landwise.sheets.reviewreport import write_review
from landwise.sheets.svg import Many, Writer


def made_up(name="a <b> & c"):
    """Fine slots, a full centre pad, a stray opening: something of every level."""
    lands = [shapely.box(x, y, x + 0.16, y + 0.55) for x in np.arange(8) * 0.4 for y in (0, 2.6)]
    lands += [shapely.box(x, 8, x + 0.6, 10) for x in np.arange(8) * 1.27]
    lands += [shapely.box(x, 14, x + 0.6, 16) for x in np.arange(8) * 1.27]
    paste = [*lands, shapely.box(20, 2, 21, 3)]
    mask = [land.buffer(0.05, join_style="mitre") for land in lands]
    one = SideInput("top", openings(paste), openings(lands), openings(mask))
    return review(
        BoardInput(name, (one,), outline=shapely.box(-3, -3, 24, 19)), preset("ordinary"), Asked(foils_um=(100, 120))
    )


def test_many_polygons_write_the_same_outline_as_one_by_one():
    mark = Many(np.array([[0, 0], [1, 0], [1, 1.5], [5, 5], [6, 5], [6, 6]], float), np.array([0, 3]), "brick")
    assert re.search(r'd="([^"]*)"', mark.write(Writer(LIGHT, "x")))[1] == "M0 0l1 0l0 1.5zM5 5l1 0l0 1z"
    assert mark.box == (0, 0, 6, 6)
    assert mark.moved(1, 2).box == (1, 2, 7, 8)


def test_paper_runs_down_and_holes_are_kept():
    view = View(10.0, 20.0, 2.0)
    assert view.at(np.array([[11.0, 18.0]])).tolist() == [[2.0, 4.0]]
    ring = shapely.Point(12, 18).buffer(1).difference(shapely.Point(12, 18).buffer(0.5))
    [mark] = view.many(np.array([ring], dtype=object), "sea")
    assert len(mark.starts) == 2


def test_board_picture_names_what_fails_without_clashes():
    result = made_up()
    picture, scale = board_picture(result.sides[0], result.board.outline)
    said = [text.text for text in picture.texts]
    assert texts_clash(picture) == []
    assert scale >= 1
    assert any("fails" in text for text in said)
    assert picture.width < 180


def test_every_detail_shows_a_scale_that_fits_and_the_right_size():
    side = made_up().sides[0]
    worst = worst_findings(side)
    assert worst
    assert worst[0].level == "fails"
    changes = {change.aperture: change for change in side.changes}
    release = next(f for f in worst if f.key == "release")
    picture, scale = detail_picture(side, release, changes)
    assert {"0.16", "0.55"} <= {text.text for text in picture.texts}
    assert picture.width < 75
    assert scale > 10


def test_every_file_is_written_and_the_page_is_sealed(tmp_path: Path):
    written = write_review(made_up(), tmp_path / "out", {"paste-top.gbr": b"G04 none*\n"})
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == sorted(written.names)
    page = (tmp_path / "out" / "report.html").read_text()
    assert "a &lt;b&gt; &amp; c" in page
    assert "a <b>" not in page
    assert not re.findall(r'(?:src|href)="(?!#)', page)
    assert (tmp_path / "out" / "report.pdf").read_bytes().startswith(b"%PDF")
    assert json.loads((tmp_path / "out" / "review.json").read_text())["verdict"] == "fails"


def test_the_first_page_shows_the_first_causes_enlarged_and_says_what_is_at_stake():
    from landwise.sheets.reviewcontent import MOST_PICTURED, content_of, pictured
    from landwise.sheets.reviewreport import review_files

    result = made_up()
    shown = pictured(result)
    assert 0 < len(shown) <= MOST_PICTURED
    assert all(cause.worst.apertures or cause.key == "missing" for cause in shown)
    first = review_files(result)["report.html"].decode().split("<h2", 1)[0]
    assert first.count("<figure>") == len(shown)
    assert first.count("<svg") >= len(shown)
    told = content_of(result, [[] for _ in result.sides])
    assert told["stake"].split(".")[0] in first
    assert all(f"Ask the {one['whom']}" in first for one in told["ask"])
    # A place of the first cause is drawn, not just any.
    assert shown[0].worst.says.split(":")[0][:20] in first.replace("&#39;", "'")


def test_the_same_board_gives_the_same_files(tmp_path: Path):
    for name in ("one", "two"):
        write_review(made_up(), tmp_path / name)
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


@pytest.mark.skipif(sys.platform == "win32", reason="folders can't be made read-only there")
def test_a_failed_write_leaves_no_half_report(tmp_path: Path, monkeypatch):
    import landwise.sheets.reviewreport as module

    monkeypatch.setattr(module, "_pdf", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_review(made_up(), tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []
