"""PDF and PNG: pages of the drawing's size, a rule that measures right, the same bytes each time, whole files."""

from __future__ import annotations

import io

import numpy as np
import pytest

from landwise.errors import FileError, InputError
from landwise.sheets.files import write_atomic
from landwise.sheets.marks import mm_rule
from landwise.sheets.pdf import (
    svg_pdf_bytes,
    svg_size_mm,
    svg_to_pdf,
    svg_to_png,
    typst_document,
    typst_pdf,
)
from landwise.sheets.svg import Picture, Text, write_svg

MAGNIFICATION = 5.0
SVG = write_svg(
    mm_rule(10, MAGNIFICATION).moved(10, 10) + Picture((Text(10, 30, "0.50…0.65\u2009mm, Ω → µ"),)),
    (0, 0, 80, 40),
    title='A "rule" # [x]',
    description="ten millimetres at five to one",
)


def test_pdf_page_has_the_drawings_size(tmp_path):
    from pypdf import PdfReader

    path = svg_to_pdf(SVG, tmp_path / "rule.pdf")
    reader = PdfReader(path)
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert float(box.width) / 72 * 25.4 == pytest.approx(80, abs=0.01)
    assert float(box.height) / 72 * 25.4 == pytest.approx(40, abs=0.01)
    assert reader.metadata.title == 'A "rule" # [x]'
    fonts = {str(font.get_object()["/BaseFont"]) for font in reader.pages[0]["/Resources"]["/Font"].values()}
    assert fonts
    assert all("Landwise" in font for font in fonts)


def test_rule_is_true_to_scale_on_the_page(tmp_path):
    from PIL import Image

    dpi = 508  # 20 pixels a millimetre
    path = svg_to_png(SVG, tmp_path / "rule.png", dpi)
    grey = np.asarray(Image.open(path).convert("L"))
    assert grey.shape == pytest.approx((800, 1600), abs=1)
    ticks = grey[int((10 + 1.0) * 20)] < 128
    edges = np.flatnonzero(np.diff(ticks.astype(int)) == 1)
    assert (edges[-1] - edges[0]) / 20 == pytest.approx(10 * MAGNIFICATION, abs=0.06)


def test_pdf_is_the_same_each_time():
    assert svg_pdf_bytes(SVG) == svg_pdf_bytes(SVG)


def test_document_takes_data_and_drawings_without_escaping(tmp_path):
    from pypdf import PdfReader

    main = '#set page(width: 120mm, height: 80mm)\n#let d = json("data.json")\n#d.text\n#image("a.svg", width: 80mm)'
    path = typst_pdf(main, tmp_path / "d.pdf", data={"text": "#strong[not] run $x$"}, files={"a.svg": SVG.encode()})
    assert "#strong[not] run $x$" in PdfReader(path).pages[0].extract_text()


def test_a_document_that_does_not_compile_says_so():
    with pytest.raises(InputError, match="does not compile"):
        typst_document("#nothing-of-that-name()")


def test_size_must_be_in_millimetres():
    with pytest.raises(InputError, match="size in mm"):
        svg_size_mm('<svg width="100" height="50">')


def test_png_is_an_image(tmp_path):
    from PIL import Image

    path = svg_to_png(SVG, tmp_path / "x.png", 100)
    assert Image.open(io.BytesIO(path.read_bytes())).format == "PNG"


def test_write_replaces_whole_files_and_leaves_nothing_behind(tmp_path):
    path = tmp_path / "a.txt"
    write_atomic(path, b"old")
    write_atomic(path, b"new")
    assert path.read_bytes() == b"new"
    assert [file.name for file in tmp_path.iterdir()] == ["a.txt"]


def test_write_into_a_missing_folder_says_where(tmp_path):
    with pytest.raises(FileError, match="can't write the file") as caught:
        write_atomic(tmp_path / "none" / "a.txt", b"x")
    assert "none" in str(caught.value)
