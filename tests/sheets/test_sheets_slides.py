"""Slides: 16:9, the drawing whole on the page under the title, greys as light as the colours."""

from __future__ import annotations

import io
import re
import struct
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from landwise.sheets.look import luminance
from landwise.sheets.slides import SLIDE_MM, Pack, in_grey, slide_files, slide_svg

TALL = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="400mm" viewBox="0 0 50 400">'
    '<rect width="50" height="400" fill="#1d7874"/></svg>'
)


@pytest.mark.parametrize("title", ["", "Half & <half>", "a title that goes on " * 12])
def test_the_drawing_lies_whole_on_the_page_below_the_title(title):
    page = ElementTree.fromstring(slide_svg(TALL, title))
    inner = page.find("{http://www.w3.org/2000/svg}svg")
    x, y, wide, tall = (float(inner.get(key)) for key in ("x", "y", "width", "height"))
    assert wide / tall == pytest.approx(50 / 400, rel=1e-2)
    assert x > 0
    assert x + wide < SLIDE_MM[0]
    assert y + tall < SLIDE_MM[1]
    said = page.find("{http://www.w3.org/2000/svg}text")
    assert (said is None) == (not title)
    if title:
        assert float(said.get("y")) < y


def test_three_forms_of_16_to_9():
    files = slide_files({"card": TALL}, Pack("Which gate?", grey=True))
    assert sorted(files) == ["card.pdf", "card.png", "card.svg"]
    box = PdfReader(io.BytesIO(files["card.pdf"])).pages[0].mediabox
    assert float(box.width) / float(box.height) == pytest.approx(16 / 9, rel=1e-3)
    # Width and height stand at byte 16 of a PNG, four bytes each (PNG specification, W3C, section 11.2.2).
    assert struct.unpack(">II", files["card.png"][16:24]) == (1920, 1080)


def test_grey_is_as_light_as_the_colour():
    for colour in ("#1d7874", "#a63d2f", "#c98a2b", "#000000"):
        grey = re.search("#[0-9a-f]{6}", in_grey(colour))[0]
        assert grey[1:3] == grey[3:5] == grey[5:7]
        assert luminance(grey) == pytest.approx(luminance(colour), abs=0.005)
