"""What the parts of a bill that nobody studies bring to the board anyway: drilled soldering, a print, sockets."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from landwise.fabdata.bills import read_bill
from landwise.fabdata.parts import recognise
from landwise.study.file import FORMAT, study_from
from landwise.study.start import study_text

HEAD = "Reference,Value,Footprint,Description,DNP\n"
GATE = "U1,74HC00N,DIP-14_W7.62mm,,\n"


def board(rows: str, folder: Path, gate: str = GATE) -> dict:
    """The board of the study that begins from a bill, and its first part."""
    path = folder / "bill.csv"
    path.write_text(HEAD + gate + rows, encoding="utf-8")
    text = study_text(recognise(read_bill(path)), bill="bill.csv", placement=None, board="b")
    data = tomllib.loads(text)
    study_from({"landwise": FORMAT, **data})
    return {**data["board"], "part": data["part"][0]}


@pytest.mark.parametrize(
    ("rows", "drilled", "printed"),
    [
        # Common practice, no source: what these packages and words mean on a board.
        ("", None, None),
        ("R1,10k,,through hole,\nC1,100n,,5 mm lead spacing,\n", True, False),
        ("R1,10k,,axial,\nC1,100n,C_0603_1608Metric,,\n", True, None),
        ("R1,10k,,,\nR2,10k,,,\nR3,10k,,,\nJ1,Conn_01x04,PinHeader_1x04_P2.54mm_Vertical,,\n", True, None),
        ("R1,10k,,,\nJ1,Conn_01x04,PinHeader_1x04_P2.54mm_Vertical_SMD,,\n", None, None),
        ("R1,10k,,axial,\nU2,FE2010A,,a controller,\n", True, False),
        ("R1,10k,,axial,\nU2,XY1000,SOIC-8_3.9x4.9mm_P1.27mm,,\n", True, None),
        ("R1,10k,,axial,DNP\nC1,100n,,,\n", None, None),
        ("J1,DE9,,,\n", True, None),
    ],
)
def test_what_the_bill_tells_of_other_processes(
    rows: str, drilled: bool | None, printed: bool | None, tmp_path: Path
) -> None:
    found = board(rows, tmp_path)
    assert found.get("drilled_anyway") is drilled
    assert found.get("printed_anyway") is printed


def test_logic_that_is_printed_today_shows_that_the_board_is(tmp_path: Path) -> None:
    rows = "R1,10k,,axial,\n"
    assert board(rows, tmp_path).get("printed_anyway") is False
    assert "printed_anyway" not in board(rows, tmp_path, "U1,74HC00,SOIC-14_3.9x8.7mm_P1.27mm,,\n")


def test_a_socket_in_the_bill_marks_the_part_that_stands_in_it(tmp_path: Path) -> None:
    assert board('U1,,,"DIP-14, 300 mil socket",\n', tmp_path)["part"]["socketed"] is True
    assert "socketed" not in board("R1,10k,,,\n", tmp_path)["part"]
