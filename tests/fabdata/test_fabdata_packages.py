"""Package texts and generic numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.fabdata import packageoutlines
from landwise.fabdata.functionwords import read_words
from landwise.fabdata.ordercodes import read_order_code
from landwise.fabdata.packageoutlines import outline_for
from landwise.fabdata.packages import read_package
from landwise.fabdata.partnumbers import read_number
from landwise.fabdata.placements import read_placements
from landwise.outlines import catalogue
from landwise.outlines.patterns import terminals


@pytest.mark.parametrize(
    ("text", "outline"),
    [
        ("SOIC-14", "SO-14"),
        ("14-SOIC", "SO-14"),
        ("SO14", "SO-14"),
        ("SOP-14", "SO-14"),
        ("SOIC-20W", "SO-20W"),
        ("SOIC-16W_7.5x10.3mm_P1.27mm", "SO-16W"),
        ("14-DIP", "DIP-14"),
        ("PDIP14", "DIP-14"),
        ("DIP-20, 300 mil socket", "DIP-20"),
        ("TSSOP20 4.4mm 0.65", "TSSOP-20"),
        ("Package_SO:TSSOP-16_4.4x5mm_P0.65mm", "TSSOP-16"),
        ("SOIC127P600X175-14N", "SO-14"),
        ("SOP65P640X120-14N", "TSSOP-14"),
        ("SOT-23-5", "SOT-23-5"),
        ("SOT23-6", "SOT-23-6"),
        ("SOT-353", "SC-70-5"),
        ("SC70-6", "SC-70-6"),
        ("SOT363", "SC-70-6"),
        ("SOT-563", "SOT-5x3-6"),
        ("SOT-553", "SOT-5x3-5"),
        ("US8", "VSSOP-8"),
        ("8-MSOP", "MSOP-8"),
        ("VSSOP-8_2.3x2mm_P0.5mm", "VSSOP-8"),
        ("DHVQFN-20", "QFN-20-2.5x4.5"),
        ("QFN-24-1EP_4x4mm_P0.5mm_EP2.7x2.7mm", "QFN-24-4x4"),
        ("R-PVQFN-N24", "QFN-24-2.5x5.5"),
        ("PDSO-G14", "SO-14"),
        ("LQFP-48_7x7mm_P0.5mm", "QFP-48"),
        ("BGA-121_9.0x9.0mm_Layout11x11_P0.8mm", "BGA-121-0.8"),
        ("SSOP-20", "SSOP-20"),
        ("TVSOP-24", "TVSOP-24"),
    ],
)
def test_package_texts(text, outline):
    reading = read_package(text)
    assert reading is not None
    found, _ = outline_for(reading)
    assert found is not None
    assert found.name == outline


@pytest.mark.parametrize(
    ("text", "terminals", "outline"),
    [
        ('16-SOIC (0.295", 7.50mm Width)', None, "SO-16W"),
        ('14-SOIC (0.154", 3.90mm Width)', None, "SO-14"),
        ('8-VFSOP (0.091", 2.30mm Width)', None, "VSSOP-8"),
        ('8-TSSOP, 8-MSOP (0.118", 3.00mm Width)', None, "MSOP-8"),
        ("5-TSSOP, SC-70-5, SOT-353", None, "SC-70-5"),
        ("SOT402-1", None, "TSSOP-14"),
        ("SOT163-1", None, "SO-20W"),
        ("SOT764-1", None, "QFN-20-2.5x4.5"),
        ("SOT-886", None, "SON-6-1.45x1.0"),
        ("SOT891", None, "SON-6-1.0x1.0"),
        ("PW0014A", None, "TSSOP-14"),
        ("DBV0005A", None, "SOT-23-5"),
        ("USV", None, "SC-70-5"),
        ("DIP", 14, "DIP-14"),
        ("SOIC", 16, "SO-16"),
        ("SOIC wide", 16, "SO-16W"),
        ("TSSOP", 20, "TSSOP-20"),
        ("SOT-5X3", 6, "SOT-5x3-6"),
    ],
)
def test_package_texts_of_lists_codes_and_bare_styles(text, terminals, outline):
    reading = read_package(text)
    assert reading is not None
    found, _ = outline_for(reading, terminals)
    assert found is not None
    assert found.name == outline


@pytest.mark.parametrize("text", ["0402", "C_0603_1608Metric", "R0805"])
def test_chips_are_chips(text):
    assert read_package(text).style == "chip"


def test_unknown_texts_are_none():
    assert read_package("something else") is None


@pytest.mark.parametrize(
    ("text", "family", "number", "suffix"),
    [
        ("SN74LVC1G08DCKR", "LVC", "1G08", "DCKR"),
        ("74F573", "F", "573", ""),
        ("MC74HC595ADR2G", "HC", "595", "ADR2G"),
        ("74AVC1T45GW", "AVC", "1T45", "GW"),
        ("CD74HCT4051E", "HCT", "4051", "E"),
        ("SN74ALVC164245DL", "ALVC", "164245", "DL"),
        ("74ls00n", "LS", "00", "N"),
        ("74hc00 soic14", "HC", "00", ""),
        ("7400", "TTL", "00", ""),
        ("54LS04J", "LS", "04", "J"),
        ("CD4017BE", "CD", "4017", "BE"),
        ("SN74AHCT1G125DBVR", "AHCT", "1G125", "DBVR"),
    ],
)
def test_generic_numbers(text, family, number, suffix):
    reading = read_number(text)
    assert (reading.family, reading.number, reading.suffix) == (family, number, suffix)


@pytest.mark.parametrize(
    "text", ["RC0402FR-074K7L", "7447779002", "749022016", "MMBT3904", "TPS73101DBV", "10k", "Molex_KK-254"]
)
def test_what_is_no_logic_number(text):
    assert read_number(text) is None


@pytest.mark.parametrize(
    ("suffix", "style"),
    [
        ("DCKR", "SC-70"),
        ("APWR", "TSSOP"),
        ("DBVR", "SOT-23"),
        ("DRLR", "SOT-5x3"),
        ("N", "DIP"),
        ("ADR2G", "SO"),
        ("DGVR", "TVSOP"),
    ],
)
def test_order_codes(suffix, style):
    assert read_order_code(suffix).style == style


@pytest.mark.parametrize(
    ("words", "terminals"),
    [
        ("quad 2-input NAND", 14),
        ("hex inverter", 14),
        ("octal bus transceiver", 20),
        ("dual buffer", 6),
        ("triple 3-input NOR gate", 14),
        ("single 2-input exclusive-OR gate", 5),
        ("16-bit transceiver", 48),
    ],
)
def test_functions_in_words(words, terminals):
    assert read_words(words).function.terminals == terminals


def test_placements_in_mil_mm_and_without_a_header(tmp_path):
    path = tmp_path / "p.csv"
    path.write_text("Ref,PosX,PosY,Rot,Side\nU1,1000mil,500mil,90,bottom\n")
    assert read_placements(path).by_reference["U1"].x_mm == pytest.approx(25.4)
    path.write_text("U1 2452.1 945.0 0 SO14\nU2 12.5 945.0 0 SO14\n")
    bare = read_placements(path)
    assert bare.by_reference["U1"].x_mm == pytest.approx(2452.1 * 0.0254)
    assert any("guess" in note for note in bare.notes)


def test_two_placement_files_are_joined_and_show_what_the_bill_lacks(tmp_path):
    from landwise.fabdata.bills import read_bill
    from landwise.fabdata.parts import recognise
    from landwise.fabdata.placements import joined

    for name, line in (("top", "U1,74HC00,SOIC-14,1,1,0,top"), ("bottom", "U2,74HC08,TSSOP-14,2,2,0,bottom")):
        (tmp_path / name).write_text(f"Ref,Val,Package,PosX,PosY,Rot,Side\n{line}\n")
    (tmp_path / "bill.csv").write_text("Reference,Value\nU1,74HC00\n")
    both = joined([read_placements(tmp_path / name) for name in ("top", "bottom")])
    found = recognise(read_bill(tmp_path / "bill.csv"), both)
    assert {part.references[0]: part.outline for part in found.logic} == {"U1": "SO-14", "U2": "TSSOP-14"}
    assert "not in the bill" in found.logic[1].guesses[0].reason
    assert any("U2" in note for note in found.notes)


@pytest.mark.parametrize("name", ["TSSOP-14", "TSSOP-20", "TSSOP-24", "TSSOP-56", "SO-14", "SO-16"])
def test_a_body_made_longer_or_shorter_is_the_one_of_the_catalogue(name, monkeypatch):
    """The catalogue's own outline (from makers' drawings) against the one made of its neighbour's."""
    own = catalogue()[name]
    rest = {key: one for key, one in catalogue().items() if key != name}
    monkeypatch.setattr(packageoutlines, "catalogue", lambda: rest)
    reading = replace(read_package(name), pitch_mm=own.pitch_mm)
    made = packageoutlines.of_other_length(reading, own.terminals)
    assert made is not None
    for mine, its in zip(terminals(made), terminals(own), strict=True):
        # Feet of one registered table differ from maker to maker by some hundredths.
        assert (mine.x_mm, mine.y_mm) == pytest.approx((its.x_mm, its.y_mm), abs=0.05)
        assert (mine.length_mm, mine.width_mm) == pytest.approx((its.length_mm, its.width_mm), abs=0.06)
