"""Bills as they are when nobody tidied them: odd headings, marks, quotes, references and spreadsheets."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from landwise.errors import FileError, InputError, LandwiseError
from landwise.fabdata import grids
from landwise.fabdata.bills import Bill, read_bill
from landwise.fabdata.parts import Recognition, recognise
from landwise.fabdata.placements import read_placements
from landwise.fabdata.references import expand


def bill(tmp_path: Path, content: str | bytes, name: str = "bill.csv") -> Bill:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_bill(path)


def found(tmp_path: Path, content: str | bytes) -> Recognition:
    return recognise(bill(tmp_path, content))


def sheet(path: Path, rows: list[list[object]], name: str = "parts") -> Path:
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet(name)
        for at, cells in enumerate(rows):
            page.write_row(at, 0, cells)
    return path


# Headings and columns


@pytest.mark.parametrize(
    "heading",
    [
        "RefDes.",
        "Reference Designator(s)",
        "Ref. Des.",
        "REFERENCE",
        "Designator (top)",
        "Ref",
        "Location",
        "Parts",
        "Part Reference",
        "Bauteil",
        "Repère",
        "Référence",
        "Referenz",
        "Circuit Ref",
    ],
)
def test_usual_spellings_of_the_reference_heading(tmp_path, heading):
    lines = bill(tmp_path, f"Qty,{heading},Value\n2,U1 U2,74HC00\n1,R1,10k\n").lines
    assert [line.references for line in lines] == [("U1", "U2"), ("R1",)]


def test_an_unknown_heading_of_the_references_is_found_by_content(tmp_path):
    read = bill(tmp_path, "Platz;Wert;Gehäuse\nU1;74HC00;SOIC-14\nR1;10k;0603\n")
    assert [line.references for line in read.lines] == [("U1",), ("R1",)]
    assert any("'Platz'" in note and "content" in note for note in read.notes)


def test_an_item_number_called_position_does_not_pass_for_references(tmp_path):
    read = bill(tmp_path, "Position;Bauteilname;Wert\n1;U1;74HC00\n2;R1, R2;10k\n3;C1;100n\n")
    assert [line.references for line in read.lines] == [("U1",), ("R1", "R2"), ("C1",)]


def test_part_and_device_columns_of_one_part_per_line(tmp_path):
    part = found(tmp_path, "Part\tValue\tDevice\tPackage\nIC1\t74HC00\t74HC00D\tSO14\nR1\t10k\tR-EU\tR0603\n").logic[0]
    assert (part.references, part.outline) == (("IC1",), "SO-14")


def test_two_columns_of_one_heading_are_both_searched(tmp_path):
    read = bill(tmp_path, "Reference,Value,Value\nU1,logic,SN74HC00D\n")
    assert recognise(read).logic[0].number == "00"


def test_cells_beyond_the_last_column_are_kept_and_noted(tmp_path):
    read = bill(tmp_path, "Reference,Value,Package\nU1,gate, quad, SN74HC00N\nR1,10k,0603\n")
    assert recognise(read).logic[0].number == "00"
    assert any("row 2" in note for note in read.notes)


def test_text_in_columns_of_fixed_width_with_empty_cells(tmp_path):
    rows = ["Qty  RefDes  Value     Package"]
    rows += [
        f"1    {ref:<6}  {value:<8}  {package}"
        for ref, value, package in (
            ("U1", "74HC00", "SOIC-14"),
            ("U2", "", "SOIC-14"),
            ("U3", "74HC08", "TSSOP-14"),
            ("R1", "10k", "0603"),
        )
    ]
    read = bill(tmp_path, "\n".join(rows))
    assert read.lines[1].text("footprint") == "SOIC-14"
    assert [part.number for part in recognise(read).logic] == ["00", "08"]


def test_a_bill_without_any_heading(tmp_path):
    read = bill(tmp_path, "U1,1,74HC00,SOIC-14\nU2,1,74HC08,SOIC-14\nR1,1,10k,0603\n")
    assert [part.number for part in recognise(read).logic] == ["00", "08"]
    assert any("no header" in note for note in read.notes)


# Quotes, lines and numbers of rows


def test_a_quote_never_closed_loses_no_line(tmp_path):
    text = 'Reference,Value,Package\nU1,"74HC00,SOIC-14\n' + "".join(f"R{n},10k,0603\n" for n in range(1, 60))
    read = bill(tmp_path, text)
    assert len(read.lines) == 60
    assert recognise(read).logic[0].outline == "SO-14"


def test_inch_marks_inside_quoted_text(tmp_path):
    read = bill(tmp_path, 'Reference,Description,Value\nU1,"0.3"" row, drilled",74HC00N\nH1,4-40 x 1/4" screw,-\n')
    assert [line.references for line in read.lines] == [("U1",), ("H1",)]


def test_rows_are_named_by_their_line_in_the_file(tmp_path):
    read = bill(tmp_path, 'Board\n\nReference,Qty,Value\n"U1,\nU2",3,74HC00\nU3,2,74HC08\n')
    assert [line.row for line in read.lines] == [4, 6]
    assert [problem.split(":")[0] for problem in read.problems] == ["row 4", "row 6"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_ending(tmp_path, end):
    assert len(bill(tmp_path, f"Reference,Value{end}U1,74HC00{end}R1,10k{end}".encode()).lines) == 2


def test_references_wrapped_over_rows_belong_to_the_row_before(tmp_path):
    read = bill(tmp_path, "Qty;Reference;Value\n3;U1,U2,;74HC00\n;U3;\n1;R1;10k\n")
    assert [line.references for line in read.lines] == [("U1", "U2", "U3"), ("R1",)]
    assert not read.problems


# References


@pytest.mark.parametrize(
    ("cell", "references"),
    [
        ("R1~R3", "R1 R2 R3"),
        ("R1 bis R3", "R1 R2 R3"),
        ("U1..U3", "U1 U2 U3"),
        ("U1/U2", "U1 U2"),
        ("U1&U2", "U1 U2"),
        ("U1、U2", "U1 U2"),
        ("U1;U2|U3", "U1 U2 U3"),
        ("'U1'", "U1"),
        ("U3-U1", "U3-U1"),
        ("C1-C3, C3-C4", "C1 C2 C3 C4"),
        ("", ""),
        ("LED+", "LED+"),
        ("3", ""),
        ("U9-10", "U9 U10"),
    ],
)
def test_cells_of_references(cell, references):
    assert expand(cell) == tuple(references.split())


def test_a_cell_that_stands_for_a_million_references_is_refused(tmp_path):
    cell = (
        " ".join(f"R{n}-R{n + 1999}" for n in range(0, 90_000, 2000))
        + " "
        + " ".join(f"C{n}-C{n + 1999}" for n in range(0, 90_000, 2000))
    )
    with pytest.raises(InputError, match="too many references") as caught:
        bill(tmp_path, f'Reference,Value\nU1,74HC00\n"{cell}",10k\n')
    assert "row 3" in str(caught.value)


def test_units_of_one_package_are_counted_once(tmp_path):
    part = found(tmp_path, 'Reference,Value,Package\n"U1A,U1B,U1C,U1D",74HC00,SOIC-14\n').logic[0]
    assert part.references == ("U1",)
    assert any(guess.field == "refs" for guess in part.guesses)


# Fitted or not


@pytest.mark.parametrize(
    ("heading", "mark", "fitted"),
    [
        ("DNP", "", True),
        ("DNP", "0", True),
        ("DNP", "No", True),
        ("DNP", "false", True),
        ("DNP", "1", False),
        ("DNP", "X", False),
        ("DNP", "Yes", False),
        ("DNP", "DNP", False),
        ("Fitted", "Yes", True),
        ("Fitted", "1", True),
        ("Fitted", "No", False),
        ("Fitted", "0", False),
        ("Fitted", "not fitted", False),
        ("Bestückt", "nein", False),
        ("Bestückt", "ja", True),
        ("Bestückung", "nicht bestückt", False),
        ("Do Not Populate", "true", False),
        ("Mount", "No", False),
        ("Assembly Info", "NF", False),
        ("Assembly Info", "NF(U1)", False),
        ("Assembly Info", "NF(U2)", True),
    ],
)
def test_marks_of_parts_left_out(tmp_path, heading, mark, fitted):
    part = found(tmp_path, f"Reference,Value,{heading}\nU1,74HC00,{mark}\nR1,10k,\n").logic[0]
    assert part.fitted is fitted


def test_nanofarads_are_no_mark_of_parts_left_out(tmp_path):
    lines = bill(tmp_path, "Reference,Value\nC1,100 nF\nC2,NF\nU1,74HC00 (DNP)\nU2,74HC00 do not populate\n").lines
    assert [bool(line.not_fitted) for line in lines] == [False, True, True, True]


@pytest.mark.parametrize(
    ("text", "price"),
    [("0.12", 0.12), ("0,12 €", 0.12), ("$1,234.50", 1234.5), ("1.234,50", 1234.5), ("EUR 3", 3.0), ("n/a", None)],
)
def test_prices(tmp_path, text, price):
    assert bill(tmp_path, f'Reference,Value,Unit Price\nU1,74HC00,"{text}"\n').lines[0].price == price


# What a line is


@pytest.mark.parametrize(
    ("line", "number", "terminals"),
    [
        ("D3,SN74LS245N", "245", 20),
        ("DD1,74HC00", "00", 14),
        ("X1,74HC4060D", "4060", 16),
        ("U1,74xx245", "245", 20),
        ("U1,74HC/HCT138", "138", 16),
        ("U1,74 LS 04", "04", 14),
        ("U1,4017", "4017", 16),
        ("IC1,4093BE", "4093", 14),
        ("U1,CD40106BE", "40106", 14),
        ("U1,HEF4013BT", "4013", 14),
        ("U1,MC14538BDR2G", "4538", 16),
        ("U1,NC7SZ08P5X", "1G08", 5),
        ("U1,NC7WZ17P6X", "2G17", 6),
        ("U1,TC7SH04FU", "1G04", 5),
        ("U1,NL17SZ125DFT2G", "1G125", 5),
        ("U1,74VHC1GT08", "1G08", 5),
        ("U1,SN74LV1T34DBVR", "1G34", 5),
        ("U1,TXB0108PWR", "TXB0108", 20),
        ("U1,SN74CBTLV3257PW", "3257", 16),
        ("U1,QS3VH257PAG8", "QS3VH257", 16),
        ("U1,74LVC8T245BQ", "8T245", 24),
        ("U1,7407", "07", 14),
        ("U1,74AUP2G3404GW", "2G3404", 6),
        ("U1,SN74AVC32T245GKER", "32T245", 96),
    ],
)
def test_numbers_under_many_makers_spellings(tmp_path, line, number, terminals):
    part = found(tmp_path, f"Reference,Value\n{line}\nR1,10k\n").logic[0]
    assert (part.number, part.terminals) == (number, terminals)


@pytest.mark.parametrize(
    "line",
    [
        "R1,74LVC00",
        "U1,LM7805",
        "U1,TP4056",
        "U1,TC4056A",
        "U1,NE555",
        "U1,SN75176",
        "U1,MAX4051",
        "J1,Adapter for 74HC00",
        "U1,STM32F407",
        "Q1,2N7000",
        "D1,1N5400",
        "X1,7.4 MHz",
    ],
)
def test_what_is_no_logic(tmp_path, line):
    assert not found(tmp_path, f"Reference,Value\n{line}\nC9,1u\n").logic


@pytest.mark.parametrize(
    "line", ["U1,SOIC-14,,", "U1,,74HCxyz,", "U1,,,LOGIC IC", "U1,,ABC123,74ALVC99999 driver", "U1,,,bus switch thing"]
)
def test_what_may_be_logic_is_listed_as_unread(tmp_path, line):
    result = found(tmp_path, f"Reference,Package,Value,Description\n{line}\nR1,0603,10k,\n")
    assert result.logic or [unread.references for unread in result.unread] == [("U1",)]
    assert not any(part.kind == "other IC" for part in result.parts)


def test_logic_without_a_reference_is_listed_as_unread(tmp_path):
    result = found(tmp_path, "Reference,Value,Package\nU1,74HC00,SOIC-14\n,74HC595 (spare),SOIC-16\n,M3 screw,\n")
    assert [(unread.row, "no reference" in unread.reason) for unread in result.unread] == [(3, True)]


def test_a_name_in_place_of_a_reference_is_told_by_its_package(tmp_path):
    text = "Reference,Value,Package\nCURRENT,ACS712,SOIC-8\nPULL_A,3.3k,R0603\nU1,74HC00,SOIC-14\n"
    assert [part.kind for part in found(tmp_path, text).parts] == ["other IC", "passive", "logic"]


def test_every_reference_of_a_bill_is_in_some_part(tmp_path):
    text = "Reference,Value\nU1,74HC00\nZZTOP,?\nFID1,\nX9,thing\nSW1,push\nMOD1,module\n"
    assert {ref for part in found(tmp_path, text).parts for ref in part.references} == {
        "U1",
        "ZZTOP",
        "FID1",
        "X9",
        "SW1",
        "MOD1",
    }


# Files that can't or must not be read


def test_too_many_rows_are_refused_not_cut(tmp_path, monkeypatch):
    monkeypatch.setattr(grids, "MOST_ROWS", 50)
    with pytest.raises(FileError, match="too many rows"):
        bill(tmp_path, "Reference,Value\n" + "".join(f"R{n},10k\n" for n in range(80)))
    path = sheet(tmp_path / "long.xlsx", [["Reference", "Value"], *([f"R{n}", "10k"] for n in range(80))])
    with pytest.raises(FileError, match="too many rows"):
        read_bill(path)


def test_a_size_limit_that_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(grids, "LARGEST_BYTES", 1000)
    with pytest.raises(FileError, match="too large"):
        bill(tmp_path, "Reference,Value\n" + "R1,10k\n" * 300)


def test_a_stray_cell_far_out_does_not_fill_the_memory(tmp_path):
    path = tmp_path / "far.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet()
        page.write_row(0, 0, ["Reference", "Value"])
        page.write(1_048_575, 16_383, "x")
    with pytest.raises(FileError, match="too large to read"):
        read_bill(path)


def test_an_archive_that_unpacks_to_too_much(tmp_path, monkeypatch):
    monkeypatch.setattr(grids, "MOST_UNPACKED_BYTES", 10_000)
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 100_000)
    with pytest.raises(FileError, match="too large"):
        read_bill(path)


def test_a_zip_that_is_no_spreadsheet(tmp_path):
    path = tmp_path / "bill.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readme.txt", "hello")
    with pytest.raises(FileError, match="not a readable spreadsheet"):
        read_bill(path)


def test_a_spreadsheet_whose_sheets_are_empty(tmp_path):
    with pytest.raises(FileError, match="no filled sheet"):
        read_bill(sheet(tmp_path / "empty.xlsx", []))


def test_numbers_in_a_spreadsheet_stay_as_written(tmp_path):
    path = sheet(
        tmp_path / "n.xlsx",
        [["Reference", "Qty", "Value", "Package"], ["U1", 1.0, 7400, "SOIC-14"], ["R1", 1, 0.5, "0402"]],
    )
    lines = read_bill(path).lines
    assert [line.text("value") for line in lines] == ["7400", "0.5"]
    assert lines[1].text("footprint") == "0402"


def test_the_encoding_is_said_where_it_is_not_utf_8(tmp_path):
    assert any("cp1252" in note for note in bill(tmp_path, "Bauteil;Wert\nU1;74HC00 für\n".encode("latin-1")).notes)
    assert any("UTF-16" in note for note in bill(tmp_path, "Reference\tValue\nU1\t74HC00\n".encode("utf-16")).notes)


HEALTH = [HealthCheck.function_scoped_fixture]


@settings(max_examples=60, deadline=None, suppress_health_check=HEALTH)
@given(flips=st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), max_size=12), cut=st.integers(0, 10_000))
def test_broken_spreadsheets_raise_nothing_but_our_own_errors(tmp_path, flips, cut):
    path = sheet(tmp_path / "s.xlsx", [["Reference", "Value"], ["U1", "74HC00"], ["R1", 10]])
    raw = bytearray(path.read_bytes())
    for at, value in flips:
        raw[at % len(raw)] = value
    path.write_bytes(bytes(raw[: len(raw) - cut % 200 if cut % 3 == 0 else len(raw)]))
    try:
        recognise(read_bill(path))
    except LandwiseError:
        return


# Words a mutation is likelier to turn into something that is half understood.
PIECES = st.sampled_from(
    [
        "Reference",
        "Value",
        "Qty",
        "U1",
        "R1-R9",
        "74HC00",
        "SOIC-14",
        "74",
        "4017",
        "TXS0104",
        "quad 2-input",
        "NAND",
        "U1A",
        '"',
        ",",
        ";",
        "\t",
        "\n",
        "  ",
        "DNP",
        "-",
        "0402",
        "P0.65mm",
        "octal",
        "8ch",
        "IC GATE NAND 4CH 9-INP",
        "x",
        "\x00",
        "ß",
        "1e9",
        "QFN-0",
        "SOT23",
    ]
)


@settings(max_examples=200, deadline=None, suppress_health_check=HEALTH)
@given(pieces=st.lists(PIECES, max_size=60))
def test_jumbled_bills_and_placements_raise_nothing_but_our_own_errors(tmp_path, pieces):
    path = tmp_path / "jumble.csv"
    path.write_text("".join(pieces), encoding="utf-8")
    for read in (lambda: recognise(read_bill(path)), lambda: read_placements(path)):
        try:
            read()
        except LandwiseError:
            continue


# Placement files


def placed(tmp_path: Path, text: str):
    path = tmp_path / "places.txt"
    path.write_text(text, encoding="utf-8")
    return read_placements(path)


def test_placements_of_words_under_a_heading_with_long_names(tmp_path):
    text = (
        "Designator Footprint     Mid X    Mid Y    Ref X    Ref Y TB      Rotation Comment\n\n"
        "U1         SO14         10.5mm    5.0mm   10.5mm    5.0mm  T         90.00 74HC00, quad gate\n"
        "U2         A_VERY_LONG_FOOTPRINT_NAME     12.5mm      5.0mm    12.5mm    5.0mm  B        270.00 74HC08\n"
    )
    places = placed(tmp_path, text).by_reference
    assert [(p.x_mm, p.rotation_deg, p.side, p.value) for p in places.values()] == [
        (10.5, 90.0, "top", "74HC00, quad gate"),
        (12.5, 270.0, "bottom", "74HC08"),
    ]


@pytest.mark.parametrize(
    ("text", "x_mm", "says"),
    [
        ("Ref,X(mil),Y(mil),Rot\nU1,1000,0,0\n", 25.4, "as the file says"),
        ("Ref,PosX_in,PosY_in,Rot\nU1,1,0,0\n", 25.4, "as the file says"),
        ("Ref,Center-X(mm),Center-Y(mm),Rot\nU1,1,0,0\n", 1.0, "as the file says"),
        ("Ref,X,Y,Rot\nU1,1mil,0mil,0\n", 0.0254, "as written"),
        ("UNITS = MILS\nU1 100 20 90 SO14\n", 2.54, "as the file says"),
        ("Ref;X;Y;Rot\nU1;12,5;1,0;0\n", 12.5, "guess"),
    ],
)
def test_units_of_placements(tmp_path, text, x_mm, says):
    places = placed(tmp_path, text)
    assert places.by_reference["U1"].x_mm == pytest.approx(x_mm)
    assert any(says in note for note in places.notes)


def test_what_a_placement_file_leaves_open_is_noted(tmp_path):
    places = placed(tmp_path, "Ref,X,Y,Rot,Side\nU1,1,1,0,top\nU1,2,2,0,top\nU2,?,1,0,top\nU3,3,3,askew,left\n")
    assert places.by_reference["U1"].x_mm == 1.0
    notes = " ".join(places.notes)
    assert "placed twice" in notes
    assert "row 4" in notes
    assert "no rotation" in notes
    assert "left" in notes


def test_a_header_written_as_a_comment_is_a_header(tmp_path):
    text = (
        "### Positions ###\n## Unit = mm\n"
        "# Ref   Val      Package      PosX    PosY     Rot  Side\n"
        "U1      74HC00   SOIC-14     12.00   20.50   90.00  top\n"
        "U2      74HC04   SOIC-14     32.00   20.50    0.00  bottom\n"
    )
    (tmp_path / "positions.pos").write_text(text)
    read = read_placements(tmp_path / "positions.pos").by_reference
    assert (read["U1"].x_mm, read["U1"].rotation_deg, read["U2"].side) == (12.0, 90.0, "bottom")


def test_a_placement_file_without_coordinates(tmp_path):
    with pytest.raises(InputError):
        placed(tmp_path, "Ref,Value,Package\nU1,74HC00,SO14\n")
