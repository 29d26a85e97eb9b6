"""Odd dialects of a paste inspection's export: each gives the table of the plain one. All rows are invented."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.errors import FileError, InputError
from landwise.fabdata.inspection import read_inspection

PANELS = ("A17", "A18", "A19")
PADS = tuple(range(1, 13))


def volume(panel, pad):
    return 88.0 + 3 * (hash_of(panel, pad) % 7) - pad / 10


def hash_of(panel, pad):
    return int(panel[1:]) * 31 + pad * 17


def cells(panel, pad):
    """Pad, volume in per cent, height in µm, area in per cent, offsets in mm, verdict."""
    value = volume(panel, pad)
    return [str(pad), f"{value:.2f}", f"{1.1 * value:.1f}", f"{value + 5:.1f}", f"{0.001 * pad:.4f}", "-0.0030", "PASS"]


NAMES = ["PadID", "Vol(%)", "H um", "Area[%]", "OffsetX(mm)", "OffsetY(mm)", "Result"]
PLAIN = "\n".join([",".join(["Barcode", *NAMES]), *(",".join([p, *cells(p, d)]) for p in PANELS for d in PADS)]) + "\n"


def blocks(delimiter=",", named="Barcode"):
    lines = []
    for panel in PANELS:
        lines += [f"{named}{delimiter}{panel}", delimiter.join(NAMES)]
        lines += [delimiter.join(cells(panel, pad)) for pad in PADS] + [""]
    return "\n".join(lines)


def european():
    head = ";".join(["Barcode", *NAMES])
    rows = [";".join([p, *cells(p, d)]).replace(".", ",") for p in PANELS for d in PADS]
    return "\n".join([head, *rows])


def two_lines():
    head = "\t".join(["Barcode", "PadID", "Volume", "Height", "Area", "OffsetX", "OffsetY", "Result"])
    units = "\t".join(["", "", "%", "um", "%", "mm", "mm", ""])
    return "\n".join([head, units, *("\t".join([p, *cells(p, d)]) for p in PANELS for d in PADS)])


def mils():
    def row(panel, pad):
        one = cells(panel, pad)
        return [panel, *one[:4], *(f"{float(value) / 0.0254:.6f}" for value in one[4:6]), one[6]]

    names = [name.replace("(mm)", " (mil)") for name in NAMES]
    return "\n".join([",".join(["Barcode", *names]), *(",".join(row(p, d)) for p in PANELS for d in PADS)])


def again():
    head, *rows = PLAIN.splitlines()
    return "\n".join([head, *rows[:12], head, *rows[12:24], head, *rows[24:]])


def preamble():
    return "Inspection report\nRecipe: X1\nOperator,,\n\n" + PLAIN


DIALECTS = {
    "byte order mark": (PLAIN.encode("utf-8-sig"), ""),
    "UTF-16": (PLAIN.encode("utf-16"), "utf-16"),
    "UTF-16 without a mark": (PLAIN.encode("utf-16-le"), "utf-16-le"),
    "Western Windows": (PLAIN.replace("H um", "H [µm]").encode("cp1252"), "cp1252"),
    "semicolons and decimal commas": (european().encode(), ""),
    "tabs and units below": (two_lines().encode(), "units are taken from the line below"),
    "offsets in mil": (mils().encode(), ""),
    "header again": (again().encode(), "2 more times"),
    "lines above": (preamble().encode(), "above the header"),
    "a block a panel": (blocks().encode(), "3 blocks"),
    "blocks by semicolons": (blocks(";", "Panel ID").encode(), "3 blocks"),
}


@pytest.fixture(scope="module")
def plain_table(tmp_path_factory):
    path = tmp_path_factory.mktemp("plain") / "export.csv"
    path.write_text(PLAIN, encoding="utf-8")
    return read_inspection(path, foil_um=100)


def same(one, other):
    assert len(one) == len(other) == 36
    assert dict(one.left_out) == dict(other.left_out)
    for name in ("panel", "place"):
        codes = [np.unique(getattr(each, name), return_inverse=True)[1] for each in (one, other)]
        np.testing.assert_array_equal(*codes)
    assert set(one.values) == set(other.values) == {"volume", "height", "area", "offset_x", "offset_y"}
    for name, values in one.values.items():
        np.testing.assert_allclose(values, other.values[name], rtol=1e-5, err_msg=name)


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_plain_table_and_says_what_it_met(tmp_path, plain_table, dialect):
    content, said = DIALECTS[dialect]
    path = tmp_path / "export.csv"
    path.write_bytes(content)
    found = read_inspection(path, foil_um=100)
    same(found, plain_table)
    assert (said in " ".join(found.notes)) if said else (found.notes == plain_table.notes)
    assert float(found.values["volume"][0]) == pytest.approx(volume("A17", 1) / 100, abs=1e-4)
    assert float(found.values["offset_x"][1]) == pytest.approx(2.0, rel=1e-4)  # 0.002 mm, in um


@pytest.mark.parametrize("named", ["Barcode", "Panel ID"])
def test_a_header_far_down_a_plain_file_is_named_for_what_it_is(tmp_path, named):
    """Only the first lines are looked at for odd layouts; further down a header is left out under its own name."""
    head = ",".join([named, *NAMES])
    rows = [
        f"B{panel:02d},{pad},{volume('A17', pad) + panel / 8:.3f},95,98,0,0,PASS" for panel in range(12) for pad in PADS
    ]
    broken = "B00,6,no paste,95,98,0,0,FAIL"
    (tmp_path / "plain.csv").write_text("\n".join([head, *rows[:5], broken, *rows[6:]]))
    (tmp_path / "again.csv").write_text(
        "\n".join([head, *rows[:5], broken, *rows[6:90], head, *rows[90:120], head, *rows[120:]])
    )
    one, other = (read_inspection(tmp_path / f"{name}.csv", foil_um=100) for name in ("plain", "again"))
    np.testing.assert_array_equal(one.values["volume"], other.values["volume"])
    assert len(one) == 143
    assert one.left_out == {"no number for the volume": 1}
    assert other.left_out == {"the header again": 2, "no number for the volume": 1}
    assert other.rows == one.rows + 2


def test_a_folder_holds_a_file_for_each_board(tmp_path, plain_table):
    for panel in PANELS:
        rows = [",".join(NAMES), *(",".join(cells(panel, pad)) for pad in PADS)]
        (tmp_path / f"{panel}.csv").write_text("\n".join(rows))
    (tmp_path / "A20.csv").write_text("PadID,Other,Vol(%)\n1,2,90\n")
    (tmp_path / "readme.txt").write_text("no export at all\n")
    found = read_inspection(tmp_path, foil_um=100)
    same(found, plain_table)
    told = " ".join(found.notes)
    assert "5 files" in told
    assert "A20.csv (other columns)" in told
    assert "readme.txt" in told


def test_words_for_a_measure_are_counted_not_swallowed(tmp_path):
    lines = PLAIN.splitlines()
    lines[3] = lines[3].replace("PASS", "NG").replace(lines[3].split(",")[2], "NG")
    path = tmp_path / "export.csv"
    path.write_text("\n".join(lines))
    found = read_inspection(path, foil_um=100)
    assert found.left_out == {"no number for the volume": 1}
    assert "Result" in found.columns.passed


def test_a_folder_without_an_export_and_a_file_without_a_header_say_so(tmp_path):
    with pytest.raises(FileError, match="no export in this folder"):
        read_inspection(tmp_path)
    (tmp_path / "a.csv").write_text("nothing,of,it\n1,2,3\n")
    with pytest.raises(InputError, match="no header of a paste inspection"):
        read_inspection(tmp_path)


def test_a_unit_that_is_none_is_refused_and_named(tmp_path):
    path = tmp_path / "export.csv"
    for content in (PLAIN, preamble()):  # the second is laid out anew, and the error still names the export
        path.write_text(content.replace("OffsetX(mm)", "OffsetX(ell)"))
        with pytest.raises(InputError, match="unknown unit") as error:
            read_inspection(path, foil_um=100)
        assert error.value.file == "export.csv"


OTHER_TONGUES = {
    "german": (
        ";",
        "Nutzen-Nr.;Bauteil;Pin;Fläche (%);Volumen (%);Versatz X (µm);Versatz Y (µm);Pos X (mm)"
        ";Öffnung X (mm);Öffnung Y (mm)",
        "cp1252",
    ),
    "french": (
        "\t",
        "Panneau\tComposant\tBroche\tSurface (%)\tVolume (%)\tDécalage X (µm)\tDécalage Y (µm)\tX (mm)"
        "\tLongueur ouverture (mm)\tLargeur ouverture (mm)",
        "utf-8",
    ),
}


@pytest.mark.parametrize("tongue", OTHER_TONGUES)
def test_headings_of_other_tongues_with_decimal_commas_are_known(tongue, tmp_path):
    """Headings of our own invention in the trade's words."""
    mark, header, coding = OTHER_TONGUES[tongue]
    rows = [
        mark.join((f"N{panel}", "R1", str(pin), "98,5", f"{90 + pin},25", "12,5", "-8,0", "3,25", "0,30", "0,25"))
        for panel in range(3)
        for pin in (1, 2)
    ]
    path = tmp_path / "export.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding=coding)
    found = read_inspection(path, foil_um=100)
    assert found.values["volume"] == pytest.approx([0.9125, 0.9225] * 3)
    assert found.values["offset_x"] == pytest.approx([12.5] * 6)
    assert found.values["area_ratio"] == pytest.approx([0.3 * 0.25 / (2 * 0.55 * 0.1)] * 6)


def test_rows_of_two_boards_in_one_file_are_told(tmp_path):
    rows = [
        f"{board},P{n},R{k},1,{90 + k + panel_off}"
        for n in range(5)
        for board, panel_off in (("A", 0), ("B", 9))
        for k in range(4)
    ]
    path = tmp_path / "mixed.csv"
    path.write_text("\n".join(["Product,PanelID,Component,Pin,Volume(%)", *rows]) + "\n")
    notes = " ".join(read_inspection(path, foil_um=100).notes)
    assert "rows of two boards?" in notes
