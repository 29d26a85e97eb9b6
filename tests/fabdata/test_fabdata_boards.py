"""Real bills of open boards, read in place from ../shared where it is there; nothing of them is kept here."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from landwise.fabdata.bills import read_bill
from landwise.fabdata.parts import recognise
from landwise.fabdata.placements import read_placements
from landwise.study.file import study_from
from landwise.study.start import study_text

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
pytestmark = pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")

BILLS = sorted(
    path.relative_to(BOARDS).as_posix()
    for path in BOARDS.glob("*/*.csv")
    if "pos" not in path.name.lower() and "pick" not in path.name.lower()
)
PLACEMENTS = {
    "buspirate7/7-REV1B.csv": "buspirate7/7-REV1B-all-pos.csv",
    "gremlin/isavideo.csv": "gremlin/isavideo-all-pos.csv",
    "limesdr/bom.csv": "limesdr/Pick Place for LimeSDR-USB_1v4.txt",
    "oc-debug/bom_mount.csv": "oc-debug/BODY CENTER.txt",
}
# Bill, references, function number, terminals, outline: read by hand from the bills, placement files, data sheets'
# package letters and, where those are silent, the lands of the films.
LOGIC = [
    ("retro-dip/bom.csv", "U7 U8 U9", "573", 20, "DIP-20"),
    ("retro-dip/bom.csv", "U10 U11", "245", 20, "DIP-20"),
    ("retro-dip/bom.csv", "U12 U13", "244", 20, "DIP-20"),
    ("retro-dip/bom.csv", "U14", "00", 14, "DIP-14"),
    (
        "interface-probe-c1/bom.csv",
        "U32 U22 U23 U24 U25 U26 U27 U28 U29 U4 U6 U9 U10 U11 U16 U17 U18",
        "1T45",
        6,
        "SOT-5x3-6",
    ),
    ("fpga-feather/OrangeCrab-r0.2-bom.csv", "U9", "4067", 24, "QFN-24-3.5x5.5"),
    ("fpga-feather-panel/OrangeCrab-bom.csv", "U9", "4067", 24, "QFN-24-3.5x5.5"),
    ("bbai/BeagleBone-AI_bom.csv", "U6", "1G08", 5, "SC-70-5"),
    ("bbai/BeagleBone-AI_bom.csv", "U46", "2G241", 8, "VSSOP-8"),
    ("bbai/BeagleBone-AI_bom.csv", "U8 U90", "1G07", 5, "SC-70-5"),
    ("bbai/BeagleBone-AI_bom.csv", "U12", "TXS0104", 14, "QFN-14-3.5x3.5"),
    ("gremlin/isavideo.csv", "U3 U4 U5", "164245", 48, "TSSOP-48"),
    ("gremlin/isavideo.csv", "U11", "125", 14, "TSSOP-14"),
    ("neo6502/Neo6502_Rev_B1_BOM.csv", "U5 U6 U7", "245", 20, "TSSOP-20"),
    ("buspirate7/7-REV1B.csv", "U2", "8T245", 24, "QFN-24-3.5x5.5"),
    ("buspirate7/7-REV1B.csv", "U301 U302 U303 U304 U305 U306 U307 U308", "1T45", 6, "SC-70-6"),
    ("buspirate7/7-REV1B.csv", "U402", "4067", 24, "TSSOP-24"),  # placed, not in the bill
    ("buspirate7/7-REV1B.csv", "U503", "245", 20, "QFN-20-2.5x4.5"),  # placed, not in the bill
    ("oc-debug/bom_mount.csv", "U2L2 U2L3", "1T45", 6, "SC-70-6"),
    ("oc-debug/bom_mount.csv", "U289 U290 U291", "1T45", 6, "SOT-5x3-6"),
    ("oc-debug/bom_mount.csv", "U3P1", "PCA9517", 8, "MSOP-8"),  # lands 4.44 mm apart on the film; the texts say SSOP8
    ("limesdr/bom.csv", "IC9", "TS3A5018", 16, "TSSOP-16"),
    ("limesdr/bom.csv", "IC21", "1G74", 8, "VSSOP-8"),
]


def recognised(name: str):
    placements = read_placements(BOARDS / PLACEMENTS[name]) if name in PLACEMENTS else None
    return recognise(read_bill(BOARDS / name), placements)


@pytest.mark.parametrize("name", BILLS)
def test_every_bill_goes_through_to_a_readable_study(name):
    found = recognised(name)
    bill = read_bill(BOARDS / name)
    kept = [ref for part in found.parts for ref in part.references]
    assert {ref for line in bill.lines for ref in line.references} <= set(kept)
    if name not in PLACEMENTS:
        assert len(kept) == sum(len(line.references) for line in bill.lines)
    text = study_text(found, bill=name, placement=None, board="board")
    study_from(tomllib.loads(text))


@pytest.mark.parametrize(("name", "references", "number", "terminals", "outline"), LOGIC)
def test_logic_parts_are_found(name, references, number, terminals, outline):
    part = next(p for p in recognised(name).logic if set(p.references) == set(references.split()))
    assert (part.number, part.terminals, part.outline) == (number, terminals, outline)


@pytest.mark.parametrize("name", BILLS)
def test_nothing_but_the_logic_of_the_table_is_taken_for_logic(name):
    expected = {frozenset(references.split()) for bill, references, *_ in LOGIC if bill == name}
    assert {frozenset(part.references) for part in recognised(name).logic} == expected


def test_placement_files_of_four_dialects():
    counts = {name: len(read_placements(BOARDS / path).by_reference) for name, path in PLACEMENTS.items()}
    assert all(count > 50 for count in counts.values())
    mils = read_placements(BOARDS / "oc-debug/BODY CENTER.txt")
    assert any("mil" in note for note in mils.notes)
    assert max(abs(p.x_mm) for p in mils.by_reference.values()) < 200


def test_a_placement_file_of_shifted_columns_keeps_sides_and_rotations():
    places = read_placements(BOARDS / PLACEMENTS["limesdr/bom.csv"]).by_reference.values()
    assert {place.side for place in places} == {"top", "bottom"}
    assert {90.0, 180.0, 270.0} <= {place.rotation_deg for place in places}
