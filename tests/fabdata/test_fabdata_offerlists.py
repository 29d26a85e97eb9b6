"""Lists of distributors and assemblers, all invented: columns, price breaks in every form, what may be bought."""

from __future__ import annotations

import contextlib
from datetime import date
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from landwise.errors import FileError, InputError, LandwiseError
from landwise.fabdata.offercolumns import columns_of
from landwise.fabdata.offerlists import read_offers


def offers(tmp_path: Path, content: str, own=None, **more):
    path = tmp_path / "list.csv"
    path.write_text(content)
    return read_offers(path, own, **more)


BREAKS = {1: 0.40, 100: 0.25, 1000: 0.18}


@pytest.mark.parametrize(
    "content",
    [
        "Mfr Part #,Manufacturer,1,100,1000+\nSN74HC595PWR,a,0.40,0.25,0.18\n",
        "MPN;Hersteller;Preis ab 1;Preis ab 100;Preis ab 1000\nSN74HC595PWR;a;0,40 €;0,25 €;0,18 €\n",
        "MPN,Brand,Price @ 1,Price @ 100,Price @ 1k\nSN74HC595PWR,a,$0.40,$0.25,$0.18\n",
        "MPN,Mfr,Price Break 1,Unit Price 1,Price Break 2,Unit Price 2,Price Break 3,Unit Price 3\n"
        "SN74HC595PWR,a,1,0.40,100,0.25,1000,0.18\n",
        'MPN,Mfr,Pricing\nSN74HC595PWR,a,"1-99:0.40,100-999:0.25,1000-:0.18"\n',
        "MPN,Mfr,Price\nSN74HC595PWR,a,1+: $0.40; 100+: $0.25; 1000+: $0.18\n",
        "MPN,Mfr,Qty,Unit Price\nSN74HC595PWR,a,1,0.40\nSN74HC595PWR,a,100,0.25\nSN74HC595PWR,a,1000,0.18\n",
    ],
    ids=["wide", "german", "at", "paired", "one cell", "one cell, plus", "long"],
)
def test_price_breaks_in_every_form(tmp_path, content):
    found = offers(tmp_path, content)
    assert len(found.offers) == 1
    offer = found.offers[0]
    assert dict(offer.breaks) == BREAKS
    assert (offer.outline, offer.number, offer.family, offer.maker) == ("TSSOP-16", "595", "HC", "a")


def test_everything_that_limits_what_may_be_bought(tmp_path):
    found = offers(
        tmp_path,
        "Part Number,Maker,Stock,Part Status,Last Buy Date,MOQ,Standard Package,Lead Time (days),Qualification,Price\n"
        'SN74HC14QPWRQ1,a,"12,345",Last Time Buy,2027-03-31,2000,2000,84,AEC-Q100,0.3\n'
        "SN74HC14PWR,b,In Stock: 7,Active,,1,,14 days,,0.2\n"
        "SN74HC14DR,b,0,Not For New Designs,,1,,,,0.2\n"
        "SN74HC14N,b,,Discontinued,31.12.2024,1,,,,0.2\n",
    )
    first, second, third, fourth = found.offers
    assert (first.stock, first.lifecycle, first.last_buy, first.least) == (12345, "last buy", date(2027, 3, 31), 2000)
    assert (first.reel, first.lead_weeks, first.grade) == (2000, 12.0, "automotive")
    assert (second.stock, second.lifecycle, second.lead_weeks, second.grade) == (7, "active", 2.0, "")
    assert (third.stock, third.lifecycle) == (0, "not for new designs")
    assert (fourth.lifecycle, fourth.last_buy) == ("obsolete", date(2024, 12, 31))


@pytest.mark.parametrize(
    ("code", "package", "outline"),
    [
        ("SN74LVC1G08DCKR", "", "SC-70-5"),
        ("74HC4051PW,118", "", "TSSOP-16"),
        ("74AUP1G08GX,125", "", "SON-5-0.8x0.8"),
        ("74LVC1G08SE-7", "", "SC-70-5"),
        ("MC74HC595ADTR2G", "", "TSSOP-16"),
        ("CD4017BE", "", "DIP-16"),
        ("74HC00", "14-SOIC", "SO-14"),  # no letters: the list's own column
        ("SN74HC00PWR", "14-SOIC", "TSSOP-14"),  # letters of a verified table over a loose word
    ],
)
def test_order_codes_are_read_by_their_letters(tmp_path, code, package, outline):
    found = offers(tmp_path, f'MPN,Maker,Package / Case,Price\n"{code}",a,{package},0.1\n')
    assert [offer.outline for offer in found.offers] == [outline]


def test_what_is_left_out_is_counted_by_why(tmp_path):
    found = offers(
        tmp_path,
        "MPN,Maker,Price\nSN74HC00PWR,a,0.1\nRC0402FR-0710K,b,0.001\n74HC00,c,0.1\n,d,0.1\nSN74HC00PWR,e,0.2\n",
    )
    assert len(found.offers) == 2
    assert dict(found.unread) == {
        "no logic number": 1,
        "package not in the catalogue, or not told": 1,
        "no order code": 1,
    }
    only = offers(tmp_path, "MPN,Price\nSN74HC00PWR,0.1\nSN74HC04PWR,0.1\n", wanted=lambda number, _: number == "04")
    assert [offer.number for offer in only.offers] == ["04"]


def test_a_users_own_columns_come_first(tmp_path):
    content = "Code,Part Number,Free,Price\nSN74HC00PWR,4711,77,0.1\n"
    found = offers(tmp_path, content, {"order_code": "Code", "stock": "Free"})
    assert (found.offers[0].order_code, found.offers[0].stock) == ("SN74HC00PWR", 77)
    again = offers(tmp_path, content, found.columns.table())
    assert again.offers == found.offers
    with pytest.raises(InputError, match="no such column"):
        offers(tmp_path, content, {"order_code": "Nothing"})
    with pytest.raises(InputError, match="no such field"):
        offers(tmp_path, content, {"colour": "Free"})


def test_numbered_prices_are_no_quantities():
    found = columns_of(["MPN", "Price 1", "Price 2", "Price 3"])
    assert not found.wide


def test_spreadsheets_and_preambles(tmp_path):
    path = tmp_path / "list.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("offers")
        page.write_row(0, 0, ["Invented quotation"])
        page.write_row(2, 0, ["Manufacturer Part Number", "Manufacturer", 1, 1000])
        page.write_row(3, 0, ["SN74HC595PWR", "a", 0.4, 0.18])
    found = read_offers(path)
    assert dict(found.offers[0].breaks) == {1: 0.4, 1000: 0.18}


@pytest.mark.parametrize(
    ("content", "error"),
    [("", FileError), ("only words\nand more\n", InputError), ("Price,Stock\n0.1,3\n", InputError)],
)
def test_bad_lists_say_what_is_wrong(tmp_path, content, error):
    with pytest.raises(error):
        offers(tmp_path, content)


@given(st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=6), max_size=8))
def test_jumbled_lists_raise_nothing_but_our_own_errors(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("jumbled") / "list.csv"
    path.write_text("MPN,Price,Stock\n" + "\n".join(",".join(row) for row in rows))
    with contextlib.suppress(LandwiseError):
        read_offers(path)


# Languages, currencies and habits of exports


@pytest.mark.parametrize(
    ("heads", "cells"),
    [
        (
            "Hersteller-Teilenummer;Hersteller;Gehäuse;Bestand;Mindestmenge;Stückpreis;Lieferzeit",
            "{};Ein Haus;TSSOP;1.250;10;0,45 €;16 Wochen",
        ),
        (
            "Référence fabricant;Fabricant;Boîtier;Quantité disponible;Qté min.;Prix unitaire;Délai",
            "{};Ein Haus;TSSOP;1 250;10;0,4500;16 semaines",
        ),
        (
            "Codice produttore;Produttore;Contenitore;Disponibilità;Q.tà min.;Prezzo unitario;Tempi di consegna",
            "{};Ein Haus;TSSOP;1.250;10;0,45;16 settimane",
        ),
        (
            "Número de parte del fabricante;Fabricante;Encapsulado;Existencias;Cantidad mínima;Precio unitario;Plazo",
            "{};Ein Haus;TSSOP;1.250;10;0,45;16 semanas",
        ),
        ("厂商型号,品牌,封装,库存,起订量,单价,交期", "{},Ein Haus,TSSOP,1250,10,0.45,16周"),
        ("メーカー型番,メーカー,パッケージ,在庫,最小発注数量,単価,納期", "{},Ein Haus,TSSOP,1250,10,0.45,16"),
    ],
    ids=["german", "french", "italian", "spanish", "chinese", "japanese"],
)
def test_headings_of_other_languages(tmp_path, heads, cells):
    offer = offers(tmp_path, f"{heads}\n{cells.format('SN74HC595PWR')}\n").offers[0]
    assert (offer.outline, offer.maker, offer.stock, offer.least) == ("TSSOP-16", "Ein Haus", 1250, 10)
    assert dict(offer.breaks) == {10: 0.45}
    assert offer.lead_weeks == 16


@pytest.mark.parametrize(
    "cell",
    [
        '"1+ $0.40 100+ $0.25 1,000+ $0.18"',
        '"1 - $0.40\n100 - $0.25\n1000 - $0.18"',
        '"{1: 0.40, 100: 0.25, 1000: 0.18}"',
        '"1:USD 0.40;100:USD 0.25;1.000:USD 0.18"',
        '"1: 0,40 € | 100: 0,25 € | 1.000: 0,18 €"',
        '"1 @ 0.40; 100 @ 0.25; 1,000 @ 0.18"',
    ],
)
def test_price_breaks_in_one_cell(tmp_path, cell):
    assert dict(offers(tmp_path, f"MPN,Price Breaks\nSN74HC595PWR,{cell}\n").offers[0].breaks) == BREAKS


@pytest.mark.parametrize(
    "content",
    [
        "MPN,Price per 100\nSN74HC595PWR,40.00\n",
        "MPN;Preis pro 1.000\nSN74HC595PWR;400,00\n",
        "MPN,Unit Price\nSN74HC595PWR,40.00/100\n",
        "MPN;Preis;Preiseinheit\nSN74HC595PWR;40,00;100\n",
    ],
)
def test_prices_of_many_pieces_are_divided(tmp_path, content):
    found = offers(tmp_path, content)
    assert dict(found.offers[0].breaks) == {1: pytest.approx(0.40)}
    again = offers(tmp_path, content, dict(found.columns.table().items()))
    assert dict(again.offers[0].breaks) == {1: pytest.approx(0.40)}


def test_a_price_column_for_many_pieces_is_said(tmp_path):
    found = offers(tmp_path, "MPN,Price per 100\nSN74HC595PWR,40.00\n")
    assert any("100 pieces" in note for note in found.notes)


@pytest.mark.parametrize("cell", ["on request", "auf Anfrage", "", "-", "NaN", "-0.20", "n/a", "0"])
def test_what_is_no_price_makes_no_break(tmp_path, cell):
    assert dict(offers(tmp_path, f"MPN,Unit Price,Stock\nSN74HC595PWR,{cell},5\n").offers[0].breaks) == {}


@pytest.mark.parametrize(
    ("cell", "currency"),
    [("US$0.32", "USD"), ("€ 0.32", "EUR"), ("£0.32", "GBP"), ("CHF 0.32", "CHF"), ("¥0.32", "¥, yen or yuan")],
)
def test_currency_signs_are_told(tmp_path, cell, currency):
    found = offers(tmp_path, f"MPN,Unit Price\nSN74HC595PWR,{cell}\n")
    assert dict(found.offers[0].breaks) == {1: 0.32}
    assert any(currency in note for note in found.notes)


@pytest.mark.parametrize(
    ("cell", "weeks"),
    [("12-14 weeks", 14), ("16 wks", 16), ("4 Wochen", 4), ("3 months", 13), ("10 working days", 2), ("21 days", 3)],
)
def test_lead_times(tmp_path, cell, weeks):
    assert offers(tmp_path, f"MPN,Lead Time\nSN74HC595PWR,{cell}\n").offers[0].lead_weeks == pytest.approx(weeks)


def test_control_characters_leave_the_order_code(tmp_path):
    assert offers(tmp_path, "MPN,Unit Price\nSN74HC595PWR\x00\u200b,0.3\n").offers[0].order_code == "SN74HC595PWR"
