"""What the parts of a bill that nobody studies bear of the foil."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from landwise.fabdata.bills import read_bill
from landwise.fabdata.packages import read_package
from landwise.fabdata.parts import recognise
from landwise.study.othersfoil import OthersFoil, foil_of_others, pitch_of
from landwise.study.start import study_text

HEAD = "Reference,Value,Footprint,DNP\n"
GATE = "U1,74HC00,SOIC-14_3.9x8.7mm_P1.27mm,\n"


def others(rows: str, folder: Path) -> OthersFoil:
    return foil_of_others(recognise(read_bill(written(rows, folder))))


def written(rows: str, folder: Path) -> Path:
    path = folder / "bill.csv"
    path.write_text(HEAD + GATE + rows, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("rows", "thickest_um", "who"),
    [
        ("", None, ""),
        ("U2,XY1000,QFN-56_7x7mm_P0.4mm,\n", 125.0, "U2"),
        ("U2,XY1000,QFN-56_7x7mm_P0.4mm,\nU3,XY2000,BGA-64_P0.4mm,\n", 100.0, "U3"),
        ("U2,XY1000,QFN-56_7x7mm_P0.4mm,DNP\n", None, ""),
        ("U2,XY1000,LQFP-64_10x10mm,\n", 150.0, "U2"),
        ("U2,XY1000,TSSOP-20_4.4x6.5mm_P0.65mm,\n", None, ""),
        ("R1,10k,R_0201_0603Metric,\n", 120.0, "R1"),
        ("U2,AB0201C,SOIC-8_3.9x4.9mm_P1.27mm,\n", None, ""),
    ],
)
def test_the_finest_fitted_part_that_is_no_logic_bounds_the_foil(
    rows: str, thickest_um: float | None, who: str, tmp_path: Path
) -> None:
    found = others(rows, tmp_path)
    assert found.thickest_um == thickest_um
    assert found.who.partition(" ")[0] == who


def test_a_pitch_that_nobody_tells_is_named_and_counts_nothing(tmp_path: Path) -> None:
    found = others("U2,XY1000,QFN-48,\nU3,XY2000,TSSOP-20,\n", tmp_path)
    assert found == OthersFoil(None, "", ("U2 (QFN-48)",))


@pytest.mark.parametrize(
    ("text", "pitch_mm"),
    [
        # Common practice, no source: the usual pitches of these bodies and terminals.
        ("LQFP-64_10x10mm", 0.5),
        ("LQFP-144_20x20mm", 0.5),
        ("TQFP-32_7x7mm", 0.8),
        ("TQFP-44_10x10mm", 0.8),
        ("TQFP-128_14x14mm", 0.4),
        ("QFN-56_7x7mm", 0.4),
        ("QFN-48_7x7mm", 0.5),
        ("QFN-32_5x5mm", 0.5),
        ("QFN-16_3x3mm", 0.5),
        ("QFN-18_3x4mm", None),
    ],
)
def test_pitches_follow_from_body_and_terminals(text: str, pitch_mm: float | None) -> None:
    reading = read_package(text)
    assert reading is not None
    assert pitch_of(reading) == pitch_mm


def test_a_begun_study_says_whose_foil_it_is_as_a_guess(tmp_path: Path) -> None:
    found = recognise(read_bill(written("U2,XY1000,QFN-56_7x7mm_P0.4mm,\nU3,XY2000,QFN-48,\n", tmp_path)))
    text = study_text(found, bill="bill.csv", placement=None, board="b")
    assert tomllib.loads(text)["board"]["thickest_foil"] == "125 um"
    assert "# guess: U2 (QFN-56, 0.4 mm pitch)" in text
    assert "U3 (QFN-48)" in text
