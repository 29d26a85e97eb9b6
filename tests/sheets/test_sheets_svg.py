"""The SVG writer: well-formed, repeatable, true to size, ids that don't clash, and checks that can fail."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from landwise.sheets.clashes import lines_through_texts, texts_clash
from landwise.sheets.look import DARK, LIGHT, THIN, Stroke
from landwise.sheets.svg import Area, Disc, Picture, Text, line, points, rectangle, write_svg

PICTURE = Picture(
    (
        rectangle((0, 0, 10, 5), "hatch/ink", THIN),
        Disc(5, 5, 2, "ochre"),
        Text(1, 4, '5 < 6 & "7"', upright=True),
        Area((((0.0, 0.0, 0.0), (1.0, 0.0, 0.5), (1.0, 1.0, -0.5)),), "cross/plum"),
        line([(0, 0), (3, 4)], Stroke("brick", 0.25, (1, 0.5))),
    )
)


def written(**options):
    settings = {"title": "A <title>", "description": "what & why", "prefix": "a", **options}
    return write_svg(PICTURE, (0, 0, 20, 10), **settings)


def test_document_is_well_formed_and_named():
    root = ElementTree.fromstring(written())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("20mm", "10mm", "0 0 20 10")
    found = {child.tag.split("}")[1]: child for child in root}
    assert found["title"].text == "A <title>"
    assert found["desc"].text == "what & why"
    assert root.get("aria-labelledby") == "a-title a-desc"
    assert [e.text for e in root.iter("{http://www.w3.org/2000/svg}text")] == ['5 < 6 & "7"']


def test_same_picture_same_text():
    assert written() == written()


def test_ids_are_unique_across_documents_of_one_page():
    page = written() + written(prefix="b")
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids)) == 2 * (2 + 2)
    for used in re.findall(r"url\(#([^)]+)\)", page):
        assert used in ids


def test_dark_sheets_paint_their_ground_and_light_ones_only_when_asked():
    assert DARK["paper"] in written(theme=DARK)
    assert LIGHT["paper"] not in written()
    assert LIGHT["paper"] in written(paper=True)


def test_moving_a_picture_moves_its_box():
    box = PICTURE.box
    moved = PICTURE.moved(3, -2).box
    assert moved == pytest.approx((box[0] + 3, box[1] - 2, box[2] + 3, box[3] - 2))


def test_clashing_texts_are_found():
    near = Picture((Text(0, 0, "one"), Text(2, 0.5, "two")))
    assert texts_clash(near) == [("one", "two")]
    assert texts_clash(Picture((Text(0, 0, "one"), Text(20, 0, "two")))) == []


def test_a_line_through_a_text_is_found_unless_hidden():
    text = Text(0, 0, "struck")
    through = line([(-5, -1), (50, -1)], THIN)
    assert lines_through_texts(Picture((through, text))) == ["struck"]
    assert lines_through_texts(Picture((line([(-5, 3), (50, 3)], THIN), text))) == []
    assert lines_through_texts(Picture((line([(3, -50), (3, 50)], THIN), text))) == ["struck"]
    cover = rectangle((-2, -5, 30, 5), "body")
    assert lines_through_texts(Picture((through, cover, text))) == []
    assert lines_through_texts(Picture((cover, through, text))) == ["struck"]


def test_text_box_follows_its_anchor():
    width = Text(0, 0, "anchor").width
    assert Text(0, 0, "anchor", anchor="middle").box[0] == pytest.approx(-width / 2)
    assert Text(0, 0, "anchor", anchor="end").box[2] == pytest.approx(0)
    upright = Text(0, 0, "anchor", anchor="middle", upright=True).box
    assert upright[3] - upright[1] == pytest.approx(width)


def test_points_are_written_in_tenths_of_a_micron():
    svg = write_svg(Picture((points([(0.123456, 0), (1, 0), (1, 1)]),)), (0, 0, 2, 2), title="t", description="d")
    assert "M0.1235 0L1 0L1 1Z" in svg
