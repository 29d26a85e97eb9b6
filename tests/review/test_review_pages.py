"""The printed report: what an assembler acts on stands on one page, and no column of a table is squeezed to a word."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from landwise.assembly.lines import preset
from landwise.review.reviews import Asked, review
from landwise.sheets.reviewcontent import content_of, pictured
from landwise.sheets.reviewreport import _causes_svg, _drawings, _pdf

from .boards import board, side
from .test_review_designs import fine_board

REASON = "designed for 120 µm: 4.5 sigma of the line's scatter to the nearest bridge or open"


@pytest.fixture(scope="module")
def result():
    """Fine pitch that a design would serve better, one row of it printed aside."""
    lands, paste = fine_board((0.0, 90.0))
    return review(board(side(lands, [*paste[3:], paste[2].buffer(0.08)])), preset("ordinary"), Asked(foils_um=(100,)))


@pytest.fixture(scope="module")
def pages(result):
    """The report of a board with eight causes that all have long words, and ten questions."""
    drawings = [_drawings(one, result, 0) for one in result.sides]
    content = content_of(result, [[finding for finding, _ in drawn.details] for drawn in drawings])
    shown, content["compared"] = _causes_svg(result), []
    words = (
        "one land runs into copper along 69 % of its edge, the other along 0 %: the first melts later and may stand up"
    )
    content["causes"] = [{**content["causes"][0], "says": words, "parts": "R201, R204, R3, R401, R405 and 12 more"}] * 8
    content["ask"] = [{"whom": "designer", "asks": [f"{k}: {words}?" for k in range(9)]}]
    content["ask"] += [{"whom": whom, "asks": [f"{words}?"]} for whom in ("stencil maker", "assembler")]
    long = "45 µm narrower, 5 µm longer at the toe, 50 µm shorter at the heel, corners rounded, centre pad 55 % open"
    told = {"state": "ask", "what": long, "reason": REASON, "effect": "openings of 11.237 mm² in all, area ratio 2.33"}
    more = {"package": "DFN-8-1EP_2x3mm_P0.5mm", "parts": "U5", "asked": words, "openings": 60, "defects": "1 → 0.0038"}
    content["sides"][0]["proposals"] = [{**told, **more}] * 3
    content["sides"][0]["changes"] = [{**told, "component": "U13", "aperture": "513, 514, 515, 516 and 4 more"}] * 9
    read = PdfReader(io.BytesIO(_pdf(content, drawings, shown)))
    return [page.extract_text() for page in read.pages]


def test_what_to_act_on_stands_on_the_first_page(pages):
    assert "The causes" in pages[0]
    assert "Ask the assembler" in pages[0]
    assert pages[1].lstrip().startswith("Top side")


def test_a_reason_runs_along_its_line_and_not_down_the_page(pages):
    lines = [line for page in pages for line in page.splitlines()]
    said = [line for line in lines if "designed for" in line]
    assert len(said) == 12
    assert all(line.count(" ") >= 3 for line in said)
    assert len(pages) <= 8


def test_no_opening_is_pictured_twice_on_the_first_page(result):
    shown = [cause.worst.apertures or (cause.worst.component,) for cause in pictured(result)]
    assert shown
    assert len(set(shown)) == len(shown)
