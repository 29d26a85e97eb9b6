"""The commands over many cases, as they are typed."""

from __future__ import annotations

import csv
import json
import shutil

import pytest

from landwise.cli import main
from landwise.fabdata.tabletext import safe_cell

STUDY = """
[line]
foil = "100 um"
print = "as lands"
[[part]]
refs = ["U1"]
terminals = 5
package = "SOT-23-5"
number = "1G08"
family = "LVC"
options = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.03 }]
"""


def run(*arguments):
    with pytest.raises(SystemExit) as end:
        main([str(one) for one in arguments])
    return end.value.code


def rows(folder):
    with (folder / "table.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_many_studies_with_inputs_varied(tmp_path, capsys):
    for name, line in (
        ("a", ""),
        ("b", "\ufeff"),
        ("c", ""),
    ):  # one begins with a byte-order mark, one ends lines twice
        text = STUDY.replace("\n", "\r\n") if name == "c" else STUDY
        (tmp_path / f"{name}.toml").write_bytes((line + text).encode())
    out = tmp_path / "out"
    studies = sorted(tmp_path.glob("*.toml"))
    assert run("sweep", *studies, "--vary", "costs.run=100,1000", "-o", out, "-j", 1) == 0
    assert "6 of 6 cases finished" in capsys.readouterr().out
    found = rows(out)
    assert [row["costs.run"] for row in found] == ["100.0", "1000.0"] * 3
    told = [{key: value for key, value in row.items() if key not in ("case", "study")} for row in found]
    assert told[0:2] == told[2:4] == told[4:6]
    assert json.loads((out / "sweep.json").read_text())["cases"] == 6
    assert run("sweep", *studies, "--vary", "costs.run=100,1000", "-o", out, "-j", 1) == 0
    assert "6 by an earlier run" in capsys.readouterr().out


def test_a_part_that_moves_is_drawn_and_said(tmp_path, capsys):
    study = tmp_path / "board.toml"
    study.write_text(STUDY)
    price = "part[U1].options[SC-70-5].price=0.001,5"
    assert run("sweep", study, "--vary", price, "--vary", "costs.run=100,1000", "-o", tmp_path / "out", "-j", 1) == 0
    said = capsys.readouterr().out
    assert "U1 goes from SC-70-5 to SOT-23-5 between part[U1].options[SC-70-5].price 0.001 and 5" in said
    drawing = (tmp_path / "out" / "map-1-U1.svg").read_text()
    assert "SC-70-5" in drawing
    assert "costs.run" in drawing
    page = (tmp_path / "out" / "sweep.html").read_text()
    assert "<svg" in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")


def test_wrong_words_end_with_2(tmp_path, capsys):
    study = tmp_path / "board.toml"
    study.write_text(STUDY)
    assert run("sweep", study, "--vary", "line.foyl=1 um", "-o", tmp_path / "out") == 2
    assert "unknown field" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_many_reviews(tmp_path, capsys):
    boards = tmp_path / "boards"
    (boards / "no board").mkdir(parents=True)
    (boards / "no board" / "x.txt").write_text("nothing")
    source = "examples/logger/fabrication"
    shutil.copytree(source, boards / "one")
    shutil.make_archive(str(boards / "two"), "zip", source)
    assert run("review", "--many", boards, "-o", tmp_path / "out", "-j", 1) == 2
    one, bad, two = (
        next(row for row in rows(tmp_path / "out") if row["review"] == n) for n in ("one", "no board", "two.zip")
    )
    assert (one["answer"], one["fails"]) == (two["answer"], two["fails"]) == ("fails", one["fails"])
    assert bad["answer"] == "not valid"
    assert "no paste layer" in bad["message"]
    capsys.readouterr()
    shutil.rmtree(boards / "no board")
    assert run("review", "--many", boards, "-o", tmp_path / "out", "-j", 1) == 1
    assert "2 by an earlier run" in capsys.readouterr().out
    assert run("review", "--many", boards, "--apply", "all", "-o", tmp_path / "out") == 2


@pytest.mark.parametrize("cell", ["=cmd|' /C calc'!A0", "+1+2", "-1+2", "@SUM(1)", "\t=1", " =1", "＝1"])
def test_no_cell_is_run_by_a_spreadsheet(cell):
    # The list of leading characters is OWASP's page "CSV Injection".
    assert str(safe_cell(cell)).startswith("'")


@pytest.mark.parametrize("cell", ["-3", "+1e-3", "-.5", "U1", "", "Ж-1", 5, -2.5, None])
def test_numbers_and_plain_texts_stay(cell):
    assert safe_cell(cell) == cell
