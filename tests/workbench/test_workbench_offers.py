"""Offers and prices pasted or dropped as a table: shown as read, then taken as the command line takes them."""

from __future__ import annotations

import io
import json
import re
import tomllib

import pytest
import xlsxwriter

from landwise.cli import main
from landwise.workbench.boardoffers import LARGEST_TABLE, MOST_TAKEN, read_table, taken

from .browsers import MARKS
from .test_workbench_boards_page import STUDY, bring

# Invented order codes' prices; the codes are spelled as makers spell theirs.
OFFERS = """Hersteller-Nr.;Hersteller;Bestand;1;100;1.000
SN74HC595PWR;Invented;1200;0,21;0,12;0,05
SN74HC595DR;Invented;300;0,20;0,11;0,09
SN74LVC1G08DCKR;Invented;;0,06;0,04;0,02
BC847;Invented;9;0,02;;
SN74HC595;Invented;9;0,02;;
"""
PRICES = """Ref;Package;Price @ 1;Price @ 1000
U3;SOIC-16;0.2;0.08
U2;SC-70-5;0.03;0.021
U9;SO-16;1;1
U3;SO-99;1;1
U3;TSSOP-16;-;
"""
WAIT_MS = 60_000


def run(*words):
    with pytest.raises(SystemExit, match="0"):
        main([str(word) for word in words])


def test_parts_of_one_number_and_family_stand_both_with_its_offers():
    twice = STUDY + '\n[[part]]\nrefs = ["U7"]\nnumber = "595"\nfamily = "HC"\nterminals = 16\npackage = "TSSOP-16"\n'
    other = twice + '\n[[part]]\nrefs = ["U8"]\nnumber = "595"\nfamily = "LVC"\nterminals = 16\npackage = "SO-16"\n'
    open_ = other + '\n[[part]]\nrefs = ["U9"]\nnumber = "595"\nterminals = 16\npackage = "SO-16"\n'
    made = read_table(open_, OFFERS.replace("Hersteller-Nr.", "Herstellernummer"), "seller.csv")
    assert [row.parts for row in made.rows] == ["U3 U7 U9", "U3 U7 U9", "U1 U2"]


def test_offers_are_read_as_the_command_reads_them(tmp_path):
    made = read_table(STUDY, OFFERS.replace("Hersteller-Nr.", "Herstellernummer"), "seller.csv")
    assert made.errors == {}
    assert [(row.parts, row.package, row.prices) for row in made.rows] == [
        ("U3", "TSSOP-16", "1: 0.21 / 100: 0.12 / 1000: 0.05"),
        ("U3", "SO-16", "1: 0.2 / 100: 0.11 / 1000: 0.09"),
        ("U1 U2", "SC-70-5", "1: 0.06 / 100: 0.04 / 1000: 0.02"),
    ]
    assert [(row, code) for row, code, _ in made.left] == [(4, "BC847"), (5, "SN74HC595")]
    text, did = taken(STUDY, made)
    assert did == "3 offers taken from seller.csv"
    (tmp_path / "seller.csv").write_text(made.text)
    (tmp_path / "board.toml").write_text(STUDY)
    run("offers", tmp_path / "seller.csv", "--study", tmp_path / "board.toml", "-o", tmp_path / "offers.toml", "-y")
    assert tomllib.loads(text)["offer"] == tomllib.loads((tmp_path / "offers.toml").read_text())["offer"]
    # Taken once more, each stands in the place of the one before; what was typed elsewhere stays as it was.
    again, _ = taken(text, read_table(text, made.text, "seller.csv"))
    assert again == text
    assert text.startswith("# a comment of mine")


def test_prices_by_reference_go_to_the_parts_packages():
    made = read_table(STUDY, PRICES, "prices.csv")
    assert made.by_part
    assert [why for _, _, why in made.left] == [
        "no such reference on the board",
        "no such package in the catalogue",
        "no price that can be read",
    ]
    text, did = taken(STUDY, made)
    assert did == "2 prices taken from prices.csv"
    parts = tomllib.loads(text)["part"]
    assert parts[0]["options"][2] == {"outline": "SC-70-5", "prices": {"1": 0.03, "1000": 0.021}}
    assert parts[1]["options"][0] == {"outline": "SO-16", "prices": {"1": 0.2, "1000": 0.08}}
    assert parts[1]["options"][1:] == tomllib.loads(STUDY)["part"][1]["options"][1:]


@pytest.mark.parametrize(
    ("text", "field", "says"),
    [
        ("", "table", "first row names its columns"),
        ("one\ntwo", "table", "No row of headings"),
        ("Price;Stock\n1;2", "column.order_code", "holds the order codes"),
        ("Ref;Price;Package\n" * (LARGEST_TABLE // 15), "table", "too long"),
        ("Ref;Price\nU3;1", "column.package", "holds the packages"),
    ],
)
def test_what_cannot_be_read_is_said_at_its_field_in_words_of_the_page(text, field, says):
    made = read_table(STUDY, text, "table.csv")
    assert says in made.errors[field]
    assert "--column" not in str(made.errors)
    with pytest.raises(Exception, match="nothing in this table"):
        taken(STUDY, made)


def test_a_column_taken_wrongly_is_put_right():
    text = "Code,Package,Old price,Unit price\nSN74HC595PWR,,9,0.05\n"
    made = read_table(STUDY, text, "table.csv")
    assert "order codes" in made.errors["column.order_code"]
    own = {one.field: one.heading for one in made.columns} | {"order_code": "Code", "price": "Old price"}
    made = read_table(STUDY, text, "table.csv", own)
    assert [row.prices for row in made.rows] == ["1: 9"]
    assert "--column order_code=Code" in made.commands[0]
    own["price"] = "Unit price"
    assert [row.prices for row in read_table(STUDY, text, "table.csv", own).rows] == ["1: 0.05"]


def test_more_than_can_be_taken_is_refused():
    rows = "\n".join(f"SN74HC595PWR,maker {n},0.05" for n in range(MOST_TAKEN + 1))
    made = read_table(STUDY, f"MPN,Maker,Price\n{rows}", "table.csv")
    assert made.count == MOST_TAKEN + 1
    with pytest.raises(Exception, match="too many rows"):
        taken(STUDY, made)


def test_a_spreadsheet_comes_in_as_a_file(client):
    place = bring(client)
    into = io.BytesIO()
    with xlsxwriter.Workbook(into) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["MPN", "Maker", "Price"])
        sheet.write_row(1, 0, ["SN74HC595PWR", "two\nlines", 0.05])
    answer = client.post(f"{place}/offers", data={"do": "look"}, files={"file": ("../seller.xlsx", into.getvalue())})
    assert answer.status_code == 200
    assert "Take 1 offer" in answer.text
    assert 'value="seller.csv"' in answer.text
    bad = client.post(f"{place}/offers", data={"do": "look"}, files={"file": ("x.xlsx", b"PK\x03\x04 no sheet")})
    assert bad.status_code == 422
    assert re.search(r'id="e-table"[^>]*>[^<]+<', bad.text)


def test_nothing_is_kept_of_a_version_that_stands_no_more(client):
    place = bring(client)
    data = {"do": "take", "tag": '"old"', "table": PRICES, "called": "prices.csv"}
    assert client.post(f"{place}/offers", data=data).status_code == 412
    assert client.get(place).headers["etag"] == client.get(f"{place}/offers").headers["etag"]


def test_a_board_is_renamed_with_its_versions_at_the_same_address(client):
    place = bring(client)
    tag = client.get(place).headers["etag"]
    rename = {"do": "rename", "tag": tag, "name": "the other board"}
    answer = client.post(f"{place}/versions", data=rename)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{place}/versions")
    assert "<h1>the other board</h1>" in client.get(place).text
    assert ">the other board</a>" in client.get("/boards").text
    text = client.get(f"{place}/files/board.toml").text
    assert tomllib.loads(text) == {**tomllib.loads(STUDY), "board": {"name": "the other board"}}
    assert "Name: small board → the other board" in client.get(f"{place}/versions").text
    assert client.post(f"{place}/versions", data={**rename, "name": "a third"}).status_code == 412
    new = client.get(place).headers["etag"]
    assert client.post(f"{place}/versions", data={**rename, "tag": new, "name": " "}).status_code == 422


@pytest.mark.parametrize("_", [pytest.param("chromium", marks=MARKS)])
def test_a_pasted_table_gives_the_command_lines_answer(browser, served, tmp_path, _):
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(WAIT_MS)
    (tmp_path / "board.toml").write_text(STUDY)
    page.goto(f"{served}/boards")
    page.set_input_files("#study", str(tmp_path / "board.toml"))
    page.click("text=Open it")
    page.click("nav >> text=Offers")
    page.fill("#table", OFFERS)
    page.click("text=Read the table")
    # The heading is none that is known: the page asks for it beside its field.
    assert "order codes" in page.locator("[data-field='column.order_code'] .error").text_content()
    page.select_option("[id='f-column.order_code']", "Hersteller-Nr.")
    page.click("text=Read it again")
    assert page.locator("[aria-label='What the table gives'] tbody tr").count() == 3
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    command = page.locator("pre.command").text_content()
    page.click("text=Take 3 offers")
    page.wait_for_selector("text=Take out")
    page.click("text=Choose for this board")
    page.wait_for_selector("#result[data-over=yes][data-shows=all]")
    here = page.url.split("?")[0]
    told = json.loads(page.evaluate("place => fetch(place).then(one => one.text())", f"{here}/files/result.json"))
    page.close()
    # The commands as the page shows them.
    first = command.splitlines()[0].split()
    assert first[:2] == ["landwise", "offers"]
    (tmp_path / "pasted.csv").write_text(OFFERS)
    where = {
        "pasted.csv": tmp_path / "pasted.csv",
        "board.toml": tmp_path / "board.toml",
        "offers.toml": tmp_path / "offers.toml",
    }
    run(*(where.get(word, word) for word in first[1:]), "-y")
    (tmp_path / "board.toml").write_text(f'offers = ["offers.toml"]\n{STUDY}')
    run("study", tmp_path / "board.toml", "-o", tmp_path / "out", "--no-drawings")
    by_command = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["choice"] == by_command["choice"]
    assert told["choice"]["options"]["U3"] == "TSSOP-16"
