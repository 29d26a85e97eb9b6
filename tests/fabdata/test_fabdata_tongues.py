"""Bills of other tongues and encodings: headings, remarks that leave parts out, whose number counts. All invented."""

from __future__ import annotations

import pytest

from landwise.fabdata.bills import read_bill
from landwise.fabdata.eightbit import decoded_8bit
from landwise.fabdata.offerlists import read_offers
from landwise.fabdata.parts import recognise
from landwise.fabdata.placements import read_placements
from landwise.fabdata.references import expand

GERMAN = """Stückliste Steuerung 2;;;;;;
Pos.;Menge;Bezeichner;Artikelnummer;Bezeichnung;Herstellerteilenummer;Bauform;Bemerkung
1;2;IC1, IC2;4711-00123;IC 6-fach Inverter;74HC14D,653;SO14;
2;1;IC3;4711-00138;Puffer Schmitt-Trigger;74LVC1G17GW;SOT353;nicht bestückt
3;1;IC4;4711-00139;4-fach NOR, 2 Eingänge;;SO14;
"""
FRENCH = """Repère;Quantité;Désignation;Référence fabricant;Boîtier;Valeur;Monté
U1;1;Porte ET 2 entrées;74LVC1G08GV,125;SC-74A;;oui
U4;1;Registre à décalage 8 bits;74HCT164D;SO-14;;non
U5;1;Registre à décalage 8 bits;74HCT164D;SO-14;à ne pas monter;
"""
JAPANESE = """部品記号,数量,品名,型番,メーカー,パッケージ,備考
IC1,1,ロジックIC,TC74HC04AP(F),X,DIP14,
IC16,1,ロジックIC,TC74HC4066AP(F),X,DIP14,未実装
IC17,1,インバータ 6回路,,X,SOIC14,
"""
CHINESE = """位号,数量,型号,描述,封装,厂家,备注
U1,1,"74HC595D,118",移位寄存器,SOIC-16_150mil,,
U13,1,74HC245PW,总线收发器,TSSOP-20,,不贴
U18,1,,四路2输入与非门,SOIC-14,,
"""
RUSSIAN = """Поз. обозначение;Наименование;Корпус;Количество;Примечание
DD1;74HC00D микросхема логическая;SO-14;1;
DD2;74HC04D микросхема логическая;SO-14;1;не устанавливать
"""
SPANISH = """Referencia;Cantidad;Descripción;Código fabricante;Encapsulado;Montar
U1;1;Puerta NAND;SN74HC00DR;SO-14;Sí
U3;1;Inversor Schmitt;74LVC1G14GW,125;SOT-353;No
U5;1;Puerta AND cuádruple de 2 entradas;;SOIC-14;Sí
"""
DUTCH = """Positie;Aantal;Omschrijving;Fabrikantnummer;Behuizing;Opmerking
U1;1;Viervoudige NAND poort;74HC00D;SO14;
U2;1;Schuifregister;74HC595D;SO16;niet plaatsen
"""
PORTUGUESE = """Referência;Quantidade;Descrição;Código do fabricante;Encapsulamento;Montado
U1;1;Porta NAND;SN74HC00N;DIP-14;Sim
U2;1;Inversor;74HC04D;SO-14;Não
"""
POLISH = """Oznaczenie;Ilość;Opis;Numer producenta;Obudowa;Uwagi
U1;1;Bramka NAND;74HC00D;SO-14;
U2;1;Inwerter;74HC04D;SO-14;nie montować
"""
KOREAN = """부품번호,수량,품명,제조사부품번호,패키지,비고
U1,1,인버터,74HC04D,SO-14,
U2,1,버퍼,SN74LVC1G17DCKR,SOT-353,미실장
"""
TAIWAN = """位置,數量,料號,規格,封裝,廠牌,備註
U1,1,74HC14D,反相器,SOP-14,某廠,
U2,1,74HC245PW,匯流排收發器,TSSOP-20,某廠,不上件
"""


@pytest.mark.parametrize(
    ("text", "encoding", "outlines", "left_out"),
    [
        (GERMAN, "cp1252", {"IC1": "SO-14", "IC3": "SC-70-5", "IC4": "SO-14"}, {"IC3"}),
        (FRENCH, "utf-8", {"U1": "SOT-23-5", "U4": "SO-14", "U5": "SO-14"}, {"U4", "U5"}),
        (JAPANESE, "cp932", {"IC1": "DIP-14", "IC16": "DIP-14", "IC17": "SO-14"}, {"IC16"}),
        (JAPANESE, "utf-8", {"IC1": "DIP-14", "IC16": "DIP-14", "IC17": "SO-14"}, {"IC16"}),
        (CHINESE, "gb18030", {"U1": "SO-16", "U13": "TSSOP-20", "U18": "SO-14"}, {"U13"}),
        (CHINESE, "utf-8", {"U1": "SO-16", "U13": "TSSOP-20", "U18": "SO-14"}, {"U13"}),
        (SPANISH, "cp1252", {"U1": "SO-14", "U3": "SC-70-5", "U5": "SO-14"}, {"U3"}),
        (DUTCH, "utf-8", {"U1": "SO-14", "U2": "SO-16"}, {"U2"}),
        (PORTUGUESE, "utf-8", {"U1": "DIP-14", "U2": "SO-14"}, {"U2"}),
        (POLISH, "utf-8", {"U1": "SO-14", "U2": "SO-14"}, {"U2"}),
        (KOREAN, "utf-8", {"U1": "SO-14", "U2": "SC-70-5"}, {"U2"}),
        (TAIWAN, "cp950", {"U1": "SO-14", "U2": "TSSOP-20"}, {"U2"}),
        (RUSSIAN, "cp1251", {"DD1": "SO-14", "DD2": "SO-14"}, {"DD2"}),
    ],
)
def test_a_bill_is_read_whatever_tongue_and_encoding_it_comes_in(tmp_path, text, encoding, outlines, left_out):
    path = tmp_path / "bill.csv"
    path.write_bytes(text.encode(encoding))
    bill = read_bill(path)
    found = recognise(bill)
    parts = {ref: part for part in found.logic for ref in part.references}
    assert {ref: parts[ref].outline for ref in outlines} == outlines
    assert {ref for ref, part in parts.items() if not part.fitted} == left_out
    assert found.unread == ()
    assert not any("told by their content" in note for note in bill.notes)


def test_a_makers_number_counts_before_the_houses_own(tmp_path):
    path = tmp_path / "bill.csv"
    path.write_text(
        "Index,Part Number,Manufacturer Part Number,Customer Reference\n1,X-00001-ND,SN74HC165PWR,U1\n",
        encoding="utf-8",
    )
    bill = read_bill(path)
    assert bill.columns["part_number"] == "Manufacturer Part Number"
    assert recognise(bill).logic[0].part_number == "SN74HC165PWR"
    assert bill.lines[0].extra["Part Number"] == "X-00001-ND"


def test_a_variant_column_leaves_nothing_out(tmp_path):
    """`DNP` under one variant's heading says nothing about the board that is bought."""
    path = tmp_path / "bill.csv"
    path.write_text("Refdes,MPN,Var A,Var B\nU1,74HC14D,X,DNP\n", encoding="utf-8")
    assert recognise(read_bill(path)).logic[0].fitted


def test_names_numbered_by_the_program_are_references(tmp_path):
    path = tmp_path / "bill.csv"
    path.write_text("Part,Value,Package\nU$1,74AC245,SO20W\nU$2,74HC00,SO14\n", encoding="utf-8")
    assert {ref for part in recognise(read_bill(path)).logic for ref in part.references} == {"U$1", "U$2"}


def test_letters_written_once_hold_for_the_numbers_after_them():
    """`U1, 2, 3` was read as U1 alone."""
    for cell, references in (
        ("U1,2,3", "U1 U2 U3"),
        ("U1/2/3", "U1 U2 U3"),
        ("R1-R3, 5, 7-9", "R1 R2 R3 R5 R7 R8 R9"),
        ("Ｕ１～Ｕ３", "U1 U2 U3"),
        ("U1\u2011U3", "U1 U2 U3"),
        ("U1:U3", "U1 U2 U3"),
        ("U1 à U3", "U1 U2 U3"),
        ("U1, 100nF", "U1"),
        ("P1/2", "P1/2"),
    ):
        assert expand(cell) == tuple(references.split()), cell


ALTERNATIVES = """Refdes,Qty,MPN,Description,Package,Fitted
"U1,2",2,SN74HC14DR,Hex inverter,SO-14,yes
"U1,2",2,MC74HC14ADR2G,Hex inverter,SO-14,yes
U3,1,SN74LVC1G08DBVR,AND,SOT-23-5,no
U3,1,74LVC1G08GW,AND,SC-70-5,yes
U4,1,74HC00D,NAND,SO-14,yes
U4,1,74HC08D,AND,SO-14,yes
U5,1,74HC32D,OR,SO-14,yes
U5,1,74HC32D,OR,SO-14,yes
"""


def test_rows_of_alternatives_hold_a_place_once(tmp_path):
    """A study with a place in two parts is refused, so such bills could not be begun at all."""
    path = tmp_path / "bill.csv"
    path.write_text(ALTERNATIVES, encoding="utf-8")
    found = recognise(read_bill(path))
    held = {part.references: (part.number, part.outline) for part in found.logic}
    assert held == {
        ("U1", "U2"): ("14", "SO-14"),
        ("U3",): ("1G08", "SC-70-5"),
        ("U4",): ("00", "SO-14"),
        ("U5",): ("32", "SO-14"),
    }
    assert any("MC74HC14ADR2G" in note and "another source of row 2" in note for note in found.notes)
    assert [(entry.references, entry.row) for entry in found.unread] == [(("U4",), 7)]
    assert "which of the two" in found.unread[0].reason


@pytest.mark.parametrize(
    ("text", "codec", "name"),
    [
        ("100 µF; Größe; Gehäuse; 5 °C; ±1 %", "cp1252", "Western 8-bit (cp1252)"),
        ("µ" * 40, "cp1252", "Western 8-bit (cp1252)"),
        ("Ä Ö Ü ÄÖÜ É É È À µA µF µH µs", "cp1252", "Western 8-bit (cp1252)"),
        ("référence désignation boîtier à monter", "cp1252", "Western 8-bit (cp1252)"),
        ("抵抗器 コンデンサ ロジック", "cp932", "Shift JIS"),
        ("电阻 电容 逻辑 缓冲器 移位寄存器", "gb18030", "GB 18030"),
        ("電阻 電容 邏輯閘 緩衝器 移位暫存器 位置 數量", "cp950", "Big5"),
        ("резистор конденсатор микросхема", "cp1251", "Windows 1251"),
    ],
)
def test_old_encodings_are_told_by_their_bytes(text, codec, name):
    """The bytes of JIS X 0208, GB 2312, Big5 and Windows 1251 as the language's own codecs write them."""
    assert decoded_8bit(text.encode(codec)) == (text, name)


def test_offers_and_placements_of_old_encodings_are_read_too(tmp_path):
    offers = tmp_path / "offers.csv"
    offers.write_bytes("厂商型号,品牌,封装,库存,单价\n74HC14D,某厂,SOP-14,100,0.5\n".encode("gb18030"))
    assert [offer.order_code for offer in read_offers(offers).offers] == ["74HC14D"]
    placed = tmp_path / "placed.csv"
    placed.write_bytes("位号,封装,X坐标,Y坐标,角度,层\nU1,SOP-14,10.0mm,20.0mm,90,顶层\n".encode("gb18030"))
    assert read_placements(placed).by_reference["U1"].side == "top"


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        # Headings and sides in words of other tongues; each was read with both parts on top, or not at all.
        (
            "Bauteil;Gehäuse;Position X [mm];Position Y [mm];Drehwinkel;Bestückungsseite;Wert\n"
            "U1;SO14;25,40;12,70;90,0;Oberseite;74HC14\nU2;SC70-5;50,80;19,05;0,0;Unterseite;74LVC1G08\n",
            "cp1252",
        ),
        (
            "Désignation,Composant,X (mm),Y (mm),Angle (°),Face\n"
            "U1,74HC14,25.4,12.7,90,Dessus\nU2,74LVC1G08,50.8,19.05,0,Dessous\n",
            "utf-8",
        ),
        (
            "部品番号,部品名,X座標,Y座標,角度,実装面\nU1,74HC14,25.40,12.70,90,表\nU2,74LVC1G08,50.80,19.05,0,裏\n",
            "cp932",
        ),
        (
            "位号,封装,中心坐标X(mm),中心坐标Y(mm),旋转角度,层\nU1,SO-14,25.40,12.70,90,顶层\nU2,SOT-353,50.80,19.05,0,底层\n",
            "gb18030",
        ),
        (
            "!Board: invented\n!Units: inch\nREFDES|PART|X|Y|ROT|MIRROR\n"
            "U1|74HC14|1.000|0.500|90|N\nU2|74LVC1G08|2.000|0.750|0|Y\n",
            "utf-8",
        ),
        (
            "Name\tLocation X\tLocation Y\tOrientation\tPlaced Side\tPackage\n"
            "U1\t25.4\t12.7\t90\tTOP\tSO-14\nU2\t50.8\t19.05\tR0\tBOT\tSOT-353\n",
            "utf-8",
        ),
    ],
)
def test_placements_of_other_tongues_stand_where_and_on_the_side_they_say(tmp_path, text, encoding):
    path = tmp_path / "placed.csv"
    path.write_bytes(text.encode(encoding))
    placed = read_placements(path).by_reference
    assert {
        ref: (round(one.x_mm, 2), round(one.y_mm, 2), one.rotation_deg, one.side) for ref, one in placed.items()
    } == {
        "U1": (25.4, 12.7, 90.0, "top"),
        "U2": (50.8, 19.05, 0.0, "bottom"),
    }


def read_list(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "offers.csv"
    path.write_bytes(text.encode(encoding))
    return read_offers(path)


def test_ranges_of_pieces_are_price_breaks(tmp_path):
    """Three columns of ranges were read as one break of 10,000 pieces."""
    text = (
        "Manufacturer Part Number,Inventory,Unit Price (10000+),Unit Price (1000-9999),Unit Price (1-999)\n"
        '74LVC1G17GW,"1,2M",0.031,0.042,0.11\n'
    )
    offer = read_list(tmp_path, text).offers[0]
    assert dict(offer.breaks) == {1: 0.11, 1000: 0.042, 10000: 0.031}
    assert offer.stock == 1_200_000


def test_a_price_per_hundred_is_divided_and_its_currency_told(tmp_path):
    text = (
        "Hersteller-Teilenr.;Lagerbestand;VPE;Preis/100 (EUR);Mindestbestellmenge\nSN74HC595DR;2.500;2.500;11,50;10\n"
    )
    found = read_list(tmp_path, text, "cp1252")
    assert dict(found.offers[0].breaks) == pytest.approx({10: 0.115})
    assert found.offers[0].reel == 2500
    assert any("100 pieces" in note for note in found.notes)
    assert any("EUR" in note for note in found.notes)


def test_breaks_in_pairs_of_german_columns(tmp_path):
    text = "Bestellnummer;Bestand;Staffel 1;Preis 1;Staffel 2;Preis 2\nSN74LVC08APWR;10000;1;0,25 €;100;0,12 €\n"
    assert dict(read_list(tmp_path, text).offers[0].breaks) == {1: 0.25, 100: 0.12}
