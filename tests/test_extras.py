"""The base installation stands by itself: every module but the server's loads, and what is missing is said once."""

from __future__ import annotations

import re
import runpy
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

from landwise.errors import ExtraError
from landwise.extras import EXTRAS, Extra

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
STUDY = """
landwise = 1
[board]
name = "one gate"
[line]
preset = "ordinary"
foils = ["100 um"]
[[part]]
refs = ["U1"]
function = "2-input gate"
terminals = 5
package = "SOT-23-5"
options = [{ outline = "SOT-23-5", price = 0.02 }]
"""

# Refuses every installed package that the base does not bring in, whether named in this project or not.
BLOCK = """
import sys
from importlib.abc import MetaPathFinder

REFUSED = frozenset({refused!r})


class Blocker(MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in REFUSED:
            raise ModuleNotFoundError(f"blocked: {{name}}", name=name)


sys.meta_path.insert(0, Blocker())
"""


@pytest.fixture(scope="module")
def weight():
    return runpy.run_path(str(ROOT / "benchmarks" / "weight.py"))


@pytest.fixture(scope="module")
def blocked(weight):
    base, _ = weight["closure"](PROJECT["dependencies"])
    refused = sorted(
        module
        for module, owners in metadata.packages_distributions().items()
        if module != "landwise" and not {weight["plain"](owner) for owner in owners} & base
    )
    assert {"pytest", *(module for extra in EXTRAS for module in extra.modules)} <= set(refused)
    assert not {"numpy", "scipy", "click"} & set(refused)
    return BLOCK.format(refused=refused)


def run(blocked, code, *args, folder=None):
    return subprocess.run(
        [sys.executable, "-c", f"{blocked}\n{code}", *args], capture_output=True, text=True, check=False, cwd=folder
    )


def command(blocked, folder, *args):
    return run(blocked, "from landwise.cli import main\nmain(sys.argv[1:])", *args, folder=folder)


def test_every_module_outside_the_workbench_loads_from_the_base_alone(blocked):
    code = """
import importlib, pkgutil, landwise
names = [m.name for m in pkgutil.walk_packages(landwise.__path__, "landwise.", onerror=lambda name: None)]
names = [name for name in names if not name.startswith(("landwise.workbench.", "landwise.__main__"))]
for name in names:
    importlib.import_module(name)
print(len(names))
"""
    done = run(blocked, code)
    assert done.returncode == 0, done.stderr[-600:]
    assert int(done.stdout) > 300


@pytest.mark.parametrize("extra", EXTRAS, ids=lambda extra: extra.name)
def test_an_extra_is_declared_with_what_its_modules_belong_to(extra, weight):
    named = set(weight["asked"](PROJECT["optional-dependencies"][extra.name]))
    owners = metadata.packages_distributions()
    for module in extra.modules:
        assert {weight["plain"](owner) for owner in owners[module]} <= named
    assert not named & set(weight["asked"](PROJECT["dependencies"]))


def test_all_extras_come_with_all():
    (line,) = PROJECT["optional-dependencies"]["all"]
    assert set(re.search(r"\[(.*)\]", line)[1].split(",")) == {extra.name for extra in EXTRAS}


def test_a_study_without_pdf_and_spreadsheets_writes_the_rest_and_says_so_once(blocked, tmp_path):
    (tmp_path / "board.toml").write_text(STUDY)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "report.pdf").write_bytes(b"an older run")
    done = command(blocked, tmp_path, "study", "board.toml", "-o", "out")
    assert done.returncode == 0, done.stderr
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"report.html", "annex.html", "result.json"} <= names
    assert not {"annex.pdf", "tables.xlsx"} & names
    said = " ".join(done.stdout.split())
    assert said.count("pip install 'landwise[pdf]'") == said.count("pip install 'landwise[spreadsheets]'") == 1
    assert "tables.xlsx, " not in said
    assert "from an earlier run, not of this one: report.pdf" in said
    assert ".pdf of both" not in said


def test_a_card_without_pdf_is_drawn_as_svg(blocked, tmp_path):
    asked = ("--function", "2-input gate", "--terminals", "5", "--present", "SOT-23-5", "--options", "SOT-23-5=0.02")
    done = command(blocked, tmp_path, "compare", *asked, "-o", "card", "--title", "Gate")
    assert done.returncode == 0, done.stderr
    assert {path.suffix for path in (tmp_path / "card").iterdir()} == {".svg", ".txt"}
    assert "landwise[pdf]" in done.stderr


def test_what_can_only_be_done_with_an_extra_ends_with_one_line(blocked, tmp_path):
    done = command(blocked, tmp_path, "serve", "--no-open")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "landwise[workbench]" in done.stderr
    (tmp_path / "bill.xlsx").write_bytes(b"PK\x03\x04 a bill")
    done = command(blocked, tmp_path, "start", "--bom", "bill.xlsx", "-o", "board.toml")
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "bill.xlsx" in done.stderr
    assert "landwise[spreadsheets]" in done.stderr
    (tmp_path / "board.toml").write_text(STUDY)
    far = ("--vary", "line.foil=100 um,120 um", "-o", "swept", "--on", "tcp://127.0.0.1:9")
    done = command(blocked, tmp_path, "sweep", "board.toml", *far)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "landwise[cluster]" in done.stderr


def test_a_missing_extra_is_named_with_its_command():
    with pytest.raises(ExtraError, match=r"^here: wishes need the extra \[none\]; expected pip install 'landwise"):
        Extra("none", "wishes", ("no_such_module",)).need("here")


def test_the_base_installation_keeps_its_weight(weight):
    base, missing = weight["closure"](PROJECT["dependencies"])
    assert not missing - {"colorama", "tzdata", "exceptiongroup", "backports-zstd"}  # other systems, older Pythons
    every = [*(weight["weight_of"](name) for name in base), weight["own_weight"]()]
    assert sum(one.files_mb for one in every) > 100
    assert sum(one.files_mb + one.bytecode_mb for one in every) <= weight["MOST_MB"]
