"""Present outlines, functions in words and placements: rows as bills have them, all invented, and what is in them."""

from __future__ import annotations

from pathlib import Path

import pytest

from landwise.fabdata.bills import read_bill
from landwise.fabdata.functions import is_little
from landwise.fabdata.ordercodes import grade_of, read_order_code
from landwise.fabdata.packageoutlines import outline_for
from landwise.fabdata.packages import read_package
from landwise.fabdata.partnumbers import read_number, written_number
from landwise.fabdata.parts import RecognisedPart, recognise
from landwise.fabdata.placements import read_placements


def only(tmp_path: Path, line: str, header: str = "Reference,Part Number,Description,Footprint") -> RecognisedPart:
    path = tmp_path / "bill.csv"
    path.write_text(f"{header}\n{line}\nR1,10k,resistor,0402\n")
    found = recognise(read_bill(path))
    assert found.logic, found.unread or [(part.kind, part.part_number) for part in found.parts]
    return found.logic[0]


# Package texts


@pytest.mark.parametrize(
    ("text", "terminals", "outline"),
    [
        # The name of a land pattern in a CAD library: "SSOP" of 4.4 mm body and 0.65 mm pitch is the thin body's land.
        ("SSOP-20_4.4x6.5mm", None, "TSSOP-20"),
        ("Package_SO:SSOP-20_4.4x6.5mm_P0.65mm", None, "TSSOP-20"),
        ("SSOP-20_5.3x7.2mm_P0.65mm", None, "SSOP-20"),
        ("SSOP-16_3.9x4.9mm_P0.635mm", None, "QSOP-16"),
        # The land-pattern standard's names: pitch, body or span, height, terminals, the last two optional.
        ("VQFN50P400X350", 16, "QFN-16-3.5x4"),
        ("QFN50P400X350X100-17N", 16, "QFN-16-3.5x4"),
        ("QFN50P250X300X100-15", 14, "QFN-14-2.5x3"),
        ("SSOP64P600X175", 16, "QSOP-16"),
        ("SSOP64P600X175-16N", None, "QSOP-16"),
        ("SOP65P640X120", 16, "TSSOP-16"),
        ("SOP40P640X120-16N", None, "TVSOP-16"),
        ("SOIC127P1030X265-20N", None, "SO-20W"),
        # A drawing's letters as a word of a footprint's name.
        ("Texas_RGY_R-PVQFN-N24_EP2.05x3.1mm", None, "QFN-24-3.5x5.5"),
        ("RGY0014A", None, "QFN-14-3.5x3.5"),
    ],
)
def test_names_of_footprints(text, terminals, outline):
    found, assumed = outline_for(read_package(text), terminals)
    assert found is not None
    assert (found.name, assumed) == (outline, "")


@pytest.mark.parametrize(
    "text", ["SOP-14 5.3mm", "SOIC-8_208mil", "SOP-16 209 mil", "SO-14 5.3x10.2mm", "SOIC127P780X200-14N"]
)
def test_the_medium_wide_body_is_no_narrow_one(text):
    reading = read_package(text)
    assert reading.style == "SO 5.3"
    found, _ = outline_for(reading)
    assert found is None or abs(found.body_width_mm.nom - 5.3) < 0.2


@pytest.mark.parametrize("text", ["QFN-24_2x2mm_P0.4mm", "QFN-16 12x12 mm"])
def test_a_body_far_from_every_known_one_is_none_of_them(text):
    assert outline_for(read_package(text)) == (None, "")


# Order codes


@pytest.mark.parametrize(
    ("line", "outline"),
    [
        ('U1,SN74LVC573ARGYR,"IC, octal latch, 20-QFN, SMD",', "QFN-20-3.5x4.5"),  # letters over a vague text
        ("U1,SN74LVC573ADBQR,octal latch,", "QSOP-20"),
        ("U1,SN74LVC2G17DCKR,,", "SC-70-6"),  # no description
        ("U1,74HC4051D,,", "SO-16"),
        ("U1,74HC4051PW-Q100,,", "TSSOP-16"),
        ("U1,SN74HC14QPWRG4Q1,,", "TSSOP-14"),
        ("U1,CD4093BPWR,,", "TSSOP-14"),
        ("U1,CD4049UBE,,", "DIP-16"),
        ("U1,74AHC1G14SE-7,,", "SC-70-5"),
        ("U1,TC7WH74FU,,", "SSOP-8"),
        ("U1,TC7SH08FU,,", "SC-70-5"),
        ("U1,74HCT86T14-13,,", "TSSOP-14"),
        ("U1,SN74LVC1G08DCKR,,Package_TO_SOT_SMD:SOT-23-5", "SOT-23-5"),  # what is on the board stands
        ('U1,TXS0104ERGYR,"4-bit translator, 14-QFN",SMD', "QFN-14-3.5x3.5"),
    ],
)
def test_letters_tell_the_outline_where_the_text_is_vague(tmp_path, line, outline):
    part = only(tmp_path, line)
    assert part.outline == outline
    if "Package_" in line or "translator" not in line:
        assert part.terminals


def test_a_guess_is_always_marked_as_one(tmp_path):
    for line in ("U1,SN74LVC573ARGYR,,", "U1,74HC00,14-pin QFN,", "U1,SN74LVC1G08DCKR,,SOT-23-5", "U1,74HC00,,"):
        part = only(tmp_path, line)
        assert any(guess.field == "package" for guess in part.guesses), line
    conflict = only(tmp_path, "U1,SN74LVC1G08DCKR,,SOT-23-5")
    assert "SC-70-5" in conflict.guesses[0].reason
    assert not only(tmp_path, "U1,SN74HC00PWR,,TSSOP-14_4.4x5mm_P0.65mm").guesses


def test_letters_belong_to_houses():
    # Toshiba TC7S04F/FU data sheet (verified): F is SOT-23-5, FU SC-70-5; FU of eight terminals from memory.
    assert read_order_code("FU", 5, "h5").style == "SC-70"
    assert read_order_code("FU", 8, "h5").style == "SSOP-8"
    assert read_order_code("FT", 14, "h5").style == "TSSOP"
    assert read_order_code("F", 14, "h5").style == "SO 5.3"


@pytest.mark.parametrize(
    ("code", "grade"),
    [
        ("SN74HC14QPWRQ1", "automotive"),
        ("74LVC1G08GW-Q100,125", "automotive"),
        ("SN74LVC1G08MDCKREP", "extended"),
        ("SN54HC00J", "military"),
        ("SN74HC14PWR", ""),
    ],
)
def test_grades_of_order_codes(code, grade):
    assert grade_of(code) == grade


def test_wide_functions_are_no_little_ones():
    assert not read_number("SN74AVC32T245GKER").little
    assert not is_little("32T245")
    assert read_number("SN74AVC2T45DCUR").little
    assert written_number("AVC", "32T245") == "74AVC32T245"


# Logic known by words or by names of its own


@pytest.mark.parametrize(
    ("line", "terminals", "by_words"),
    [
        ("U1,XYZ123PW,IC V-LEVEL XLATR 8BIT 20-TSSOP,", 20, True),
        ("U1,XYZ123PW,IC TRNSLTR BIDIRECTIONAL 14TSSOP,", 14, True),
        ("U1,XYZ123PW,Quad Analog Switch TSSOP-16,", 16, True),
        ("U1,XYZ123PW,IC SWITCH QUAD SPDT 16TSSOP,", 16, True),
        ("U1,XYZ123,I2C bus extender SOIC-8,", 8, True),
        ("U1,PCA9517ADP,,", 8, False),
        ("U1,TCA9406DCUR,,", 8, False),
        ("U1,TMUX4053PWR,,", 16, False),
        ("U1,MC14490DWG,,", 16, False),
        ("U1,TS3A5018PWR,,", 16, False),
    ],
)
def test_switches_extenders_and_translators_are_logic(tmp_path, line, terminals, by_words):
    part = only(tmp_path, line)
    assert part.terminals == terminals
    assert any(guess.field == "function" for guess in part.guesses) is by_words


@pytest.mark.parametrize(
    "line",
    [
        "U1,RFS1323,RF switch SPDT 6 GHz SOT-363,",
        "U1,USW3102,IC USB3.0 switch 32TQFN,",
        "U1,LSW22918,load switch SPST SOT-23-6,",
        "SW1,TS01,tactile switch SPST,",
    ],
)
def test_other_switches_are_not(tmp_path, line):
    path = tmp_path / "bill.csv"
    path.write_text(f"Reference,Part Number,Description,Footprint\n{line}\nR1,10k,resistor,0402\n")
    assert not recognise(read_bill(path)).logic


def test_a_category_of_switches_does_not_hide_an_analog_one(tmp_path):
    part = only(tmp_path, "U1,TS3A5018PWR,quad SPDT,Analog Switches", "Reference,Part Number,Description,Category")
    assert part.outline == "TSSOP-16"


# Placement files

DIALECTS = {
    "comment-header.pos": """### Positions, invented ###
## Unit = mm, Angle = deg.
# Ref     Val       Package                PosX       PosY       Rot  Side
C1        100n      C_0402_1005Metric      131.0000   -77.0000   0.0  top
U1        74HC00    SOIC-14_3.9x8.7mm_P1.27mm  100.0   -50.0   90.0  bottom
U2        quad and gate    TSSOP-14   100.5 -51.0 180.0 bottom
## End
""",
    "comment-header.csv": """# Ref,Val,Package,PosX,PosY,Rot,Side
C1,100n,C_0402,131,-77,0,t
U1,74HC00,SOIC-14,100,-50,90,b
U2,74HC04,TSSOP-14,100.5,-51,180,m
""",
    "blanks.txt": """Designator X Y Rotation Layer Footprint Value
C1 131mm -77mm 0 t C_0402 100n
U1 100mm -50mm 90 m SOIC-14 74HC00
U2 100.5mm -51mm 180 bottom TSSOP-14 74HC04
""",
    "bare.txt": """C1 131 -77 0 top C_0402
U1 100 -50 90 b SOIC-14
U2 100.5 -51 180 m TSSOP-14
""",
    "mirrored.txt": """C1 131 -77 R0 100n C_0402
U1 100 -50 MR90 74HC00 SOIC-14
U2 100.5 -51 MR180 74HC04 TSSOP-14
""",
}


@pytest.mark.parametrize("name", DIALECTS)
def test_dialects_of_placement_files(tmp_path, name):
    path = tmp_path / name
    path.write_text(DIALECTS[name])
    places = read_placements(path).by_reference
    assert {ref: (p.x_mm, p.y_mm, p.rotation_deg, p.side) for ref, p in places.items()} == {
        "C1": (131.0, -77.0, 0.0, "top"),
        "U1": (100.0, -50.0, 90.0, "bottom"),
        "U2": (100.5, -51.0, 180.0, "bottom"),
    }
    assert read_package(places["U1"].package).terminals == 14


@pytest.mark.parametrize(
    ("mark", "side"), [("B.Cu", "bottom"), ("F.Cu", "top"), ("Bestückungsseite", "top"), ("Lötseite", "bottom")]
)
def test_words_for_sides(tmp_path, mark, side):
    path = tmp_path / "p.csv"
    path.write_text(f"Ref;X;Y;Rot;Side\nU1;1,5;2,5;90;{mark}\n")
    assert read_placements(path).by_reference["U1"].side == side
