"""The example board from a fresh clone: its fabrication files are fresh, and start, study and review go through."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import numpy as np
import pytest
import tomlkit

from landwise.cli import main
from landwise.fabdata.gerber import read_gerber
from whole import WHOLE

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "logger"
FABRICATION = EXAMPLE / "fabrication"
SCRIPT = EXAMPLE / "make_fabrication.py"
# What the script says that it planted, as lines of its own description.
PLANTED = re.findall(
    r"^    ([a-z-]+) +\S.*?\b((?:U|R|C|FD)\d+)\b",
    ast.get_docstring(ast.parse(SCRIPT.read_text(encoding="utf-8"))),
    re.M,
)


def run(*words):
    """A command in this process; its exit code."""
    try:
        main([str(word) for word in words])
    except SystemExit as end:
        return end.code
    return 0


def test_the_fabrication_files_are_what_the_script_makes():
    made = subprocess.run([sys.executable, str(SCRIPT), "--check"], capture_output=True, text=True, check=False)
    assert (made.returncode, made.stdout) == (0, "fresh\n"), made.stderr


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory):
    out = tmp_path_factory.mktemp("review")
    packed = out / "logger.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for path in sorted(FABRICATION.iterdir()):
            archive.write(path, path.name)
    assert run("review", FABRICATION, "-o", out / "folder", "--apply", "all") == 1  # it holds what fails
    assert run("review", packed, "-o", out / "zip", "--apply", "all") == 1
    return out


def test_the_review_finds_every_fault_that_was_planted_and_no_other_part_fails(reviewed):
    assert len(PLANTED) == 6
    data = json.loads((reviewed / "folder" / "review.json").read_text(encoding="utf-8"))
    found = {(one["key"], one["component"]): one["level"] for one in data["sides"][0]["findings"]}
    assert set(PLANTED) <= set(found)
    assert {part for (_, part), level in found.items() if level == "fails"} <= {part for _, part in PLANTED}


def test_a_zip_gives_the_same_review_as_its_folder(reviewed):
    folder, packed = (
        json.loads((reviewed / name / "review.json").read_text(encoding="utf-8")) for name in ("folder", "zip")
    )
    assert folder["sides"] == packed["sides"]


def test_the_corrected_paste_leaves_the_fiducial_bare_and_breaks_up_the_centre_pad(reviewed):
    changes = (reviewed / "folder" / "changes.csv").read_text(encoding="utf-8")
    assert "fiducial" in changes
    assert "U11" in changes
    pads = read_gerber((reviewed / "folder" / "paste-top.gbr").read_bytes(), "paste-top.gbr").pads
    assert np.hypot(pads.x_mm - 80, pads.y_mm - 56.5).min() > 5  # where FD2 lies
    module = np.hypot(pads.x_mm - 68, pads.y_mm - 11) < 3
    assert module.sum() > 1
    assert 0.4 < pads.area_mm2[module].sum() / 36 < 0.8


@pytest.mark.slow
def test_from_the_bill_and_the_placement_to_a_report(tmp_path, capsys):
    study = tmp_path / "board.toml"
    placed = FABRICATION / "logger-placement.csv"
    assert run("start", "--bom", EXAMPLE / "bom.csv", "--placement", placed, "-o", study) == 0
    own = tomllib.loads((EXAMPLE / "board.toml").read_text(encoding="utf-8"))
    started = tomllib.loads(study.read_text(encoding="utf-8"))
    packages = {tuple(part["refs"]): (part["terminals"], part["package"]) for part in own["part"]}
    assert {tuple(part["refs"]): (part["terminals"], part["package"]) for part in started["part"]} == packages
    if not WHOLE:  # two of its parts on one foil are enough to see the way through
        few = tomlkit.parse(study.read_text(encoding="utf-8"))
        few["part"] = [part for part in few["part"] if set(part["refs"]) & {"U1", "U8"}]
        few["line"] |= {"foils": ["100 um"], "foil": "100 um"}
        study.write_text(tomlkit.dumps(few), encoding="utf-8")
    assert run("study", study, "-o", tmp_path / "out") == 0
    assert {"report.html", "report.pdf", "result.json", "options.csv", "lands"} <= {
        path.name for path in (tmp_path / "out").iterdir()
    }
    assert run("explain", tmp_path / "out" / "result.json", "U8", "transfer") == 0
    assert "area ratio" in capsys.readouterr().out
