"""Bills of materials as people export them, built here byte by byte."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from landwise.errors import FileError, InputError, LandwiseError
from landwise.fabdata.bills import read_bill
from landwise.fabdata.parts import recognise
from landwise.study.file import study_from
from landwise.study.start import study_text

PLAIN = 'Reference,Qty,Value,Package\n"U1, U2",2,74HC00,SOIC-14\nR1-R4,4,10k,0603\n'


def bill(tmp_path: Path, content: str | bytes, name: str = "bill.csv"):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_bill(path)


def logic(tmp_path, content, name="bill.csv"):
    return recognise(bill(tmp_path, content, name)).logic


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_any_delimiter(tmp_path, delimiter):
    rows = [
        ["Designator", "Quantity", "Comment", "Footprint"],
        ["U1", "1", "74HC00", "SOIC-14"],
        ["R1", "1", "10k", "0603"],
    ]
    found = logic(tmp_path, "\n".join(delimiter.join(row) for row in rows))
    assert [(p.references, p.outline) for p in found] == [(("U1",), "SO-14")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
def test_usual_encodings(tmp_path, encoding):
    text = "Reference;Qty;Value;Package\nU1;1;74HC00 für Zähler;SOIC-14\nR1;1;10k;0603\n"
    assert logic(tmp_path, text.encode(encoding))[0].terminals == 14


def test_any_column_order_and_a_preamble(tmp_path):
    text = (
        "Board: greenhouse\nDate: today\n\nPackage,Description,Part Number,Qty,RefDes\nTSSOP20 4.4mm"
        " 0.65,octal,SN74LVC245APWR,1,U9\n"
    )
    found = bill(tmp_path, text)
    assert recognise(found).logic[0].outline == "TSSOP-20"
    assert any("before the header" in note for note in found.notes)


def test_german_headers_and_decimal_comma_quantities(tmp_path):
    text = 'Bauteil;Menge;Wert;Gehäuse\nIC1;"1,00";74HCT245;SO-20W\n'
    line = bill(tmp_path, text.encode("cp1252")).lines[0]
    assert line.quantity == 1
    assert line.references == ("IC1",)


def test_quoted_newlines_and_lists_of_references(tmp_path):
    text = 'Reference,Value,Footprint\n"U1,\nU2 U3",74HC08,"14-DIP"\n'
    part = logic(tmp_path, text)[0]
    assert part.references == ("U1", "U2", "U3")
    assert part.outline == "DIP-14"


def test_ranges_of_references(tmp_path):
    text = "Reference;Value;Footprint\nU7 - U9, U12;74F573;DIP-20\nC1…C3;100n;0402\n"
    lines = bill(tmp_path, text).lines
    assert lines[0].references == ("U7", "U8", "U9", "U12")
    assert lines[1].references == ("C1", "C2", "C3")


def test_parts_listed_alone_and_grouped_are_taken_once(tmp_path):
    text = 'Item,Qty,Reference(s),Value\n,,U1,74HC00\n,,U2,74HC00\n\nItem,Qty,Reference(s),Value\n1,2,"U1, U2",74HC00\n'
    found = bill(tmp_path, text)
    assert [line.references for line in found.lines] == [("U1", "U2")]
    assert any("twice" in note for note in found.notes)


def test_a_socket_tells_the_package_of_its_part(tmp_path):
    text = (
        "Component type;Reference;Description;Quantity\nIntegrated Circuit;U7, U8;74F573 Octal Latch;2\nIC"
        " Socket;U7-U8;DIP-20, 300 mil socket;2\n"
    )
    found = recognise(bill(tmp_path, text))
    part = found.logic[0]
    assert part.outline == "DIP-20"
    assert "socket" in part.guesses[0].reason
    assert found.count()["connector"] == 2


def test_not_fitted_parts_are_kept_and_marked(tmp_path):
    text = "Reference,Value,Package,DNP\nU1,74HC00,SOIC-14,DNP\nU2,74HC00,SOIC-14,\n"
    assert [p.fitted for p in logic(tmp_path, text)] == [False, True]


def test_spreadsheet_with_the_bill_on_its_second_sheet(tmp_path):
    import xlsxwriter

    path = tmp_path / "bill.xlsx"
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet("cover").write(0, 0, "some board")
        sheet = book.add_worksheet("parts")
        for row, cells in enumerate(
            [["Reference", "Qty", "Value", "Package"], ["U1", 1, "74LVC1G08", "SOT-353"], ["R1", 1, 402, "0402"]]
        ):
            sheet.write_row(row, 0, cells)
    found = read_bill(path)
    assert recognise(found).logic[0].outline == "SC-70-5"
    assert "parts" in " ".join(found.notes)
    assert found.lines[1].text("value") == "402"


def test_quantity_that_disagrees_is_reported(tmp_path):
    found = bill(tmp_path, "Reference,Qty,Value\nU1,3,74HC00\n")
    assert any("quantity 3" in problem for problem in found.problems)


def test_lines_without_a_reference_are_reported_not_dropped(tmp_path):
    found = bill(tmp_path, "Reference,Qty,Value\nU1,1,74HC00\n,2,screw M3\n")
    assert any("screw M3" in problem for problem in found.problems)


def test_what_may_be_logic_but_was_not_understood_is_unread(tmp_path):
    found = recognise(bill(tmp_path, "Reference,Value,Description\nU1,?,some bus buffer\nU2,74HC99999,\n"))
    assert {u.references[0] for u in found.unread} == {"U1", "U2"}
    text = study_text(found, bill="bill.csv", placement=None, board="b")
    assert "Could not be read" in text


def test_functions_in_words(tmp_path):
    part = logic(tmp_path, "Reference,Description,Package\nU1,quad 2-input NAND,SOIC-14\n")[0]
    assert part.terminals == 14
    assert part.guesses[0].field == "function"


def test_study_text_is_a_readable_study(tmp_path):
    import tomllib

    found = recognise(bill(tmp_path, PLAIN + 'U3,1,"74HC595\t\x01""odd""",SOIC-16\n'))
    text = study_text(found, bill="a\nb.csv", placement=None, board='the "board"\n')
    study = study_from(tomllib.loads(text))
    assert [part.refs for part in study.content.part] == [["U1", "U2"], ["U3"]]


@pytest.mark.parametrize(
    ("content", "error", "says"),
    [
        (b"", FileError, "empty"),
        (b"\x00\x01\x02\x03PNG" * 50, FileError, "not a text file"),
        (b"PK\x03\x04 not a sheet", FileError, "not a readable spreadsheet"),
        (b"Value,Package\n74HC00,SOIC-14\n", InputError, "no header row"),
        (b"Reference,Qty\nU1,1\n", InputError, "says nothing about its parts"),
        (b"Reference,Value\n,74HC00\n", InputError, "no line of the bill names a reference"),
        (b"just some words\nand more\n", InputError, "no header row"),
    ],
)
def test_bad_bills_say_what_is_wrong(tmp_path, content, error, says):
    with pytest.raises(error, match=says) as caught:
        bill(tmp_path, content)
    assert "bill.csv" in str(caught.value)


def test_folder_missing_and_oversized_files(tmp_path):
    with pytest.raises(FileError, match="folder"):
        read_bill(tmp_path)
    with pytest.raises(FileError, match="No such file"):
        read_bill(tmp_path / "none.csv")
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.truncate(200_000_000)
    with pytest.raises(FileError, match="too large"):
        read_bill(huge)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=300), at=st.integers(0, len(PLAIN)))
def test_mutated_bills_raise_nothing_but_our_own_errors(tmp_path, data, at):
    content = PLAIN.encode()[:at] + data + PLAIN.encode()[at:]
    path = tmp_path / "mutated.csv"
    path.write_bytes(content)
    try:
        found = recognise(read_bill(path))
    except LandwiseError:
        return
    import tomllib

    study_from(tomllib.loads(study_text(found, bill="x", placement=None, board="x")))


def test_rows_of_one_part_at_other_places_become_one_part(tmp_path):
    text = "Reference,Value,Footprint\nU1,74LVC1G08,SOT-23-5\nU2,74HC595,SO-16\nU3,74LVC1G08,SOT-23-5\n"
    found = recognise(bill(tmp_path, text + "U4,74LVC1G08,SC-70-5\n"))
    assert [part.references for part in found.logic] == [("U1", "U3"), ("U2",), ("U4",)]
    assert [(part.row, part.more_rows) for part in found.logic] == [(2, (4,)), (3, ()), (5, ())]
