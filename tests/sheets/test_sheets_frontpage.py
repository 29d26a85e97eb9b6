"""The report: few pages, nothing that overprints in PDF or browser, no formula from a bill in the spreadsheet."""

from __future__ import annotations

import io
import re
import runpy
import shutil
import zipfile
from dataclasses import replace
from html import unescape
from pathlib import Path
from types import SimpleNamespace

import pytest
from pypdf import PdfReader

from landwise.board.choice import choose_board
from landwise.judging.study import run_study
from landwise.results.told import asked
from landwise.sheets.cards import card_of
from landwise.sheets.frontpage import MOST_DECISIONS, decisions_of, front_data, gain_svg, trays_of, what_to_change
from landwise.sheets.pdf import typst_document
from landwise.sheets.report import _printed, annex_html, annex_pdf, html_text, pdf_bytes
from landwise.sheets.workbook import workbook
from landwise.study.file import study_from

# The look at boxes is shared with `make overlaps`, which takes every board.
BOXES = SimpleNamespace(**runpy.run_path(str(Path(__file__).parents[2] / "benchmarks" / "overlaps.py")))
GATE = {"refs": ["U1", "U2"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SOT-23-5"}
QUAD = {"refs": ["U3"], "number": "00", "family": "HC", "terminals": 14, "package": "DIP-14"}
OFFERED = ("SOT-23-5", "SC-70-5", "SOT-5x3-5"), ("DIP-14", "SO-14", "TSSOP-14")
PARTS = [
    {**part, "options": [{"outline": name} for name in names]}
    for part, names in zip((GATE, QUAD), OFFERED, strict=True)
]
LINE = {"foils": ["100 um"], "foil": "100 um"}
LONG = "a board with a name that somebody wrote without ever thinking of the paper that it must be printed on"


@pytest.fixture(scope="module")
def small():
    return choose_board(run_study(study_from({"part": PARTS, "line": LINE, "board": {"name": LONG}})))


@pytest.fixture(scope="module")
def large(small):
    """37 part numbers, each of another function, most of them moved."""
    moved = next(part for part in small.parts if part.chosen is not part.present)
    parts = [
        replace(moved, part=moved.part.model_copy(update={"refs": [f"U{100 + n}"], "function": f"function {n}"}))
        for n in range(37)
    ]
    return replace(small, judged=replace(small.judged, parts=tuple(parts)))


def drawn(result):
    """A card for each part; parts that differ in their reference alone get the first one's drawing."""
    first = [card_of(part, result.judged, prefix=f"card{number}_") for number, part in enumerate(result.parts[:2])]
    return first + [first[0].replace("card0_", f"card{n}_") for n in range(2, len(result.parts))]


@pytest.fixture(scope="module")
def printed(small, large):
    """Both reports as PDF."""
    return {name: PdfReader(io.BytesIO(pdf_bytes(one, drawn(one)))).pages for name, one in (("s", small), ("l", large))}


def boxes(page):
    """Text runs of a PDF page: text, left, baseline, size in points, in the page's own frame."""
    found = []

    def visit(text, cm, tm, _font, size):
        if text.strip():
            x = cm[0] * tm[4] + cm[2] * tm[5] + cm[4]
            y = cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
            scale = abs(cm[3] * tm[3] - cm[1] * tm[2]) or 1.0
            found.append((text.strip(), x, y, size * scale))

    page.extract_text(visitor_text=visit)
    return found


def test_what_moves_has_a_page_and_what_stays_has_a_line(small):
    found = decisions_of(small)
    told = [number for one in found.decisions for number in one.numbers]
    assert sorted([*told, *found.stays]) == list(range(len(small.parts)))
    quad = next(number for number, part in enumerate(small.parts) if part.part.refs == ["U3"])
    assert quad in told
    assert "U3 from DIP-14 to" in what_to_change(small)


def test_the_two_trays_hold_the_same_places(small):
    today, after = trays_of(small)
    assert {item.label for item in today.items} == {item.label for item in after.items} == {"U1", "U2", "U3"}
    assert after.share == pytest.approx(small.after.area_mm2 / small.before.area_mm2)
    assert "Board area of the parts" in gain_svg(small)


def test_a_small_board_takes_8_pages_and_one_of_37_parts_16(large, printed):
    assert len(printed["s"]) <= 8
    told = decisions_of(large)
    assert len(told.decisions) == MOST_DECISIONS
    assert len(told.further) == 37 - MOST_DECISIONS
    assert len(printed["l"]) <= 16
    # Nobody is lost between the pages and the lines.
    said = " ".join([one["name"] for one in front_data(large)["decisions"]] + front_data(large)["stays"])
    assert all(f"U{100 + n}" in said for n in range(37))
    assert "and 33 more" in what_to_change(large)


def test_page_one_of_the_print_asks_what_is_open_and_holds_no_table_that_was_asked_for(small):
    """Scenarios, such as somebody asks for, begin the second page; what the study leaves open stays on the first."""
    told = _printed(small, drawn(small))
    told["data"]["scenarios"] = {
        "says": "weighed so",
        "heads": ["scenario", "its own best", "cost", "regret"],
        "rows": [["large order", "U3 in TSSOP-14", "1.2", "0.1"]],
        "unit": "in units of nothing",
    }
    first, second, *_ = PdfReader(io.BytesIO(typst_document(**told))).pages
    texts = [" ".join(page.extract_text().split()) for page in (first, second)]
    assert ["regret" in text for text in texts] == [False, True]
    assert asked(small)
    assert all(question[1:] in texts[0] for question in asked(small))
    assert asked(small)[0][1:] in unescape(re.sub("<[^>]*>", "", html_text(small, drawn(small))))


def test_parts_alike_share_a_page(small):
    moved = next(part for part in small.parts if part.chosen is not part.present)
    twins = [replace(moved, part=moved.part.model_copy(update={"refs": [f"U{n}"]})) for n in (7, 8)]
    result = replace(small, judged=replace(small.judged, parts=tuple(twins)))
    assert [one.numbers for one in decisions_of(result).decisions] == [(0, 1)]


@pytest.mark.parametrize("name", ["s", "l"])
def test_no_text_of_the_pdf_lies_on_another_or_off_the_page(name, printed):
    # Pages of cards are drawings, tested as such; the front, the first card and the last page hold all else.
    pages = list(printed[name])
    for number, page in enumerate([*pages[:2], pages[-1]], start=1):
        runs = boxes(page)
        assert runs, number
        right, top = float(page.mediabox.width), float(page.mediabox.height)
        for text, x, y, _ in runs:
            assert 0 <= x <= right, (number, text)
            assert -1 <= y <= top, (number, text)
        starts = [(round(x, 1), round(y, 1)) for _, x, y, _ in runs]
        assert len(starts) == len(set(starts)), number


@pytest.mark.skipif(BOXES.CHROMIUM is None, reason="needs chromium")
def test_no_text_of_the_page_lies_on_another_or_off_the_screen(large, small, browser, tmp_path):
    (tmp_path / "annex.html").write_text(annex_html(small, drawn(small)), encoding="utf-8")
    for name, result in (("small", small), ("large", large)):
        (tmp_path / f"{name}.html").write_text(html_text(result, drawn(result)), encoding="utf-8")
    at = "<p style='position: absolute; top: {}px'>{}</p>"
    bad = at.format(0, "one") + at.format(4, "two") + "<div style='width: 99em'>wide</div>"
    (tmp_path / "bad.html").write_text(bad, encoding="utf-8")
    for name in ("small", "large", "annex"):
        # What 37 parts add to a page is more of the same: its narrowest and its widest are enough.
        widths = BOXES.WIDTHS_PX if name != "large" else (BOXES.WIDTHS_PX[0], BOXES.WIDTHS_PX[-1])
        found = BOXES.page_overlaps(browser, tmp_path / f"{name}.html", widths)
        assert not found, (name, len(found), found[:3])
    # The bad page is as bad at a width that it comes to from another.
    assert len(BOXES.page_overlaps(browser, tmp_path / "bad.html", (1920, 390))) == 3


@pytest.mark.skipif(BOXES.CHROMIUM is None, reason="needs chromium")
def test_a_trade_word_of_the_annex_opens_its_definition_at_the_word_by_keyboard(small, browser, tmp_path):
    (tmp_path / "annex.html").write_text(annex_html(small, drawn(small)), encoding="utf-8")
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto((tmp_path / "annex.html").as_uri())
    word, said = page.locator("[popovertarget=w-courtyard]"), page.locator("#w-courtyard")
    assert not said.is_visible()
    word.focus()
    page.keyboard.press("Enter")
    assert said.is_visible()
    at, box = word.bounding_box(), said.bounding_box()
    near = min(abs(box["y"] - at["y"] - at["height"]), abs(at["y"] - box["y"] - box["height"]))
    inside = box["x"] >= 0 and box["x"] + box["width"] <= 390
    page.keyboard.press("Escape")
    assert not said.is_visible()
    page.close()
    assert near < 12
    assert inside


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext, which gives the boxes of words")
def test_no_word_of_the_annex_in_print_lies_on_another(small, tmp_path):
    (tmp_path / "annex.pdf").write_bytes(annex_pdf(small, drawn(small)))
    pages = PdfReader(tmp_path / "annex.pdf").pages
    text = "\n".join(page.extract_text() for page in pages)
    # Four of the board, life and service; a page and a half for each part; four of rates, sources and words.
    assert len(pages) <= 4 + 2 * len(small.parts) + 4
    # Each part changes, so that its card stands in the report and only its page is named here.
    assert text.count("its page in report.pdf") == len(decisions_of(small).decisions)
    assert "area ratio: area of an aperture" in text
    assert BOXES.print_overlaps(tmp_path / "annex.pdf") == []
    page = "#set page(width: 60pt, height: 60pt, margin: 5pt)"
    bad = f"{page}\n#place[one]\n#place(dx: 4pt)[two]\n#place(dx: 48pt, dy: 30pt)[far]"
    (tmp_path / "bad.pdf").write_bytes(typst_document(bad, data={}, files={}))
    assert len(BOXES.print_overlaps(tmp_path / "bad.pdf")) == 2


def test_the_spreadsheet_holds_no_formula_from_a_bill(small):
    nasty = '=HYPERLINK("http://x","y")'
    parts = [replace(p, part=p.part.model_copy(update={"function": nasty, "number": "+1+1"})) for p in small.parts]
    made = workbook(replace(small, judged=replace(small.judged, parts=tuple(parts))))
    book = zipfile.ZipFile(io.BytesIO(made))
    sheets = [name for name in book.namelist() if name.startswith("xl/worksheets/sheet")]
    assert len(sheets) >= 6
    assert not any(b"<f>" in book.read(name) or b"hyperlink" in book.read(name) for name in sheets)
    assert nasty.replace('"', "&quot;") in book.read("xl/sharedStrings.xml").decode() or (
        nasty in book.read("xl/sharedStrings.xml").decode()
    )
    assert workbook(small) == workbook(small)
