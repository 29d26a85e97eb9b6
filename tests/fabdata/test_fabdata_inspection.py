"""Paste inspection read from text, by Arrow and from Parquet: one table. All numbers are invented."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from invented_lines import InventedLine, export
from landwise.errors import ExtraError, FileError
from landwise.fabdata import inspection
from landwise.fabdata.inspection import read_inspection
from landwise.fabdata.inspectionrows import text_pieces


@pytest.fixture(scope="module")
def rows():
    return export(InventedLine(), 3, panels=6)


def same(one, other):
    for name in ("panel", "place", "part"):
        # Codes are only names: the same rows must stand together.
        np.testing.assert_array_equal(
            np.unique(getattr(one, name), return_inverse=True)[1],
            np.unique(getattr(other, name), return_inverse=True)[1],
        )
    assert set(one.values) == set(other.values)
    for name, values in one.values.items():
        np.testing.assert_allclose(values, other.values[name], rtol=1e-6, err_msg=name)
    np.testing.assert_allclose(one.hours, other.hours)
    assert (one.rows, dict(one.left_out), one.notes) == (other.rows, dict(other.left_out), other.notes)


def spoiled(rows):
    """One row in forty spoiled as exports are: cut short, words for numbers, decimal commas, blanks, nothing at all."""
    changed = list(rows)
    for k in range(7, len(rows), 40):
        cells = rows[k].split(",")
        way = (k // 40) % 5
        if way == 0:
            changed[k] = ",".join(cells[:9])
        else:
            cells[10] = ("no print", f" {cells[10]} ", '"' + cells[10].replace(".", ",") + '"', "")[way - 1]
            changed[k] = ",".join(cells)
    return changed


def test_arrow_and_plain_text_give_one_table(tmp_path, rows, monkeypatch):
    path = tmp_path / "export.csv"
    path.write_text("\n".join(spoiled(rows)) + "\n\n")
    by_arrow = read_inspection(path, foil_um=100)
    monkeypatch.setattr(inspection, "pieces", text_pieces)
    by_text = read_inspection(path, foil_um=100)
    assert by_text.left_out["not as many cells as the header"] > 5
    assert by_text.left_out["no number for the volume"] > 10
    same(by_arrow, by_text)


def test_what_arrow_refuses_is_read_as_text_from_the_start(tmp_path, rows):
    sound = tmp_path / "sound.csv"
    sound.write_text("\n".join(rows))
    path = tmp_path / "export.csv"
    path.write_bytes("\n".join(rows).encode().replace(b",C17,", b",C17\xff,"))
    same(read_inspection(path, foil_um=100), read_inspection(sound, foil_um=100))


def test_parquet_gives_the_same_table(tmp_path, rows):
    arrow = pytest.importorskip("pyarrow.csv")
    from pyarrow import parquet

    path = tmp_path / "export.csv"
    path.write_text("\n".join(rows))
    parquet.write_table(arrow.read_csv(path), tmp_path / "export.parquet")
    same(read_inspection(tmp_path / "export.parquet", foil_um=100), read_inspection(path, foil_um=100))
    (tmp_path / "none.parquet").write_text("PanelID,Volume(%)")
    with pytest.raises(FileError, match="not a Parquet file"):
        read_inspection(tmp_path / "none.parquet")


def test_without_arrow_a_csv_is_read_and_parquet_says_what_is_missing(tmp_path, rows, monkeypatch):
    path = tmp_path / "export.csv"
    path.write_text("\n".join(rows))
    with_arrow = read_inspection(path, foil_um=100)
    monkeypatch.setitem(sys.modules, "pyarrow", None)  # as where it is not installed
    same(read_inspection(path, foil_um=100), with_arrow)
    with pytest.raises(ExtraError, match=r"landwise\[tables\]"):
        read_inspection(tmp_path / "export.parquet")


def test_a_file_without_one_whole_row_says_so_either_way(tmp_path, monkeypatch):
    """Found by the fuzz target: the fast reader gave no batch at all, and failed."""
    path = tmp_path / "short.csv"
    path.write_text("Panel,Component,Pad,Volume(%),Height(um)\n1,U1,1,99\n1,U1,2,98\n")
    said = "no whole row below the header; found 2 with too few or more cells"
    with pytest.raises(FileError, match=said):
        read_inspection(path)
    monkeypatch.setattr(inspection, "pieces", text_pieces)
    with pytest.raises(FileError, match=said):
        read_inspection(path)
