"""What the system denies or does in its own way: rights, the locale's decimal comma; and a board of 100,000 parts."""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

import pytest

from landwise.cli import main
from landwise.study.file import read_study

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "logger"
BILL = "Reference,Qty,Value,Package\nU1,1,74LVC1G08,SOT-23-5\n"
QUOTE = "Manufacturer Part Number,Package,Price,Stock\nSN74LVC1G08DBVR,SOT-23-5,0.031,9000\n"
STUDY = (
    'landwise = 1\n[board]\nname = "one gate"\n[line]\npreset = "ordinary"\nfoils = ["100 um"]\nfoil = "100 um"\n'
    '[[part]]\nrefs = ["U1"]\nnumber = "1G08"\nfamily = "LVC"\nterminals = 5\npackage = "SOT-23-5"\n'
    'options = [{ outline = "SOT-23-5", price = 0.03 }]\n'
)


class Head(ctypes.Structure):
    """What asks the system for a process's capabilities: capset(2), version 3."""

    _fields_ = (("version", ctypes.c_uint32), ("pid", ctypes.c_int))


class Sets(ctypes.Structure):
    """One half of the sets."""

    _fields_ = (("effective", ctypes.c_uint32), ("permitted", ctypes.c_uint32), ("inheritable", ctypes.c_uint32))


@contextmanager
def without_override():
    """While inside, the rights of files and folders hold for the administrator, too."""
    if os.geteuid() != 0:
        yield
        return
    system, head, sets = ctypes.CDLL(None, use_errno=True), Head(0x20080522, 0), (Sets * 2)()
    assert system.capget(ctypes.byref(head), sets) == 0
    was = sets[0].effective
    sets[0].effective = was & ~(1 << 1 | 1 << 2)  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH
    assert system.capset(ctypes.byref(head), sets) == 0
    try:
        yield
    finally:
        sets[0].effective = was
        system.capset(ctypes.byref(head), sets)


@pytest.fixture
def open_folder(tmp_path):
    """A folder whose files get their rights back, so that it can be cleared."""
    yield tmp_path
    for path in tmp_path.rglob("*"):
        path.chmod(0o755)


def ended(*words):
    try:
        main([str(word) for word in words])
    except SystemExit as end:
        return end.code
    return 0


def require_one_sentence(capsys, name):
    said = capsys.readouterr().err
    lines = [line for line in said.splitlines() if line.startswith("landwise:")]
    assert len(lines) == 1, said
    assert "Traceback" not in said
    assert name in said.replace("\n", "")
    assert "internal fault" not in said


READERS = {
    "start": ("start", "--bom", "{file}", "-o", "{out}/board.toml"),
    "study": ("study", "{file}", "-o", "{out}"),
    "offers": ("offers", "{file}", "-o", "{out}/offers.toml", "--yes"),
    "review": ("review", "{file}", "-o", "{out}"),
    "calibrate": ("calibrate", "{file}", "--foil", "100 um", "-o", "{out}/line.toml", "--yes"),
    "outlines check": ("outlines", "check", "{file}"),
    "explain": ("explain", "{file}", "U1", "transfer"),
}


@pytest.mark.skipif(sys.platform != "linux", reason="the administrator's rights can't be put down there")
@pytest.mark.parametrize("name", READERS)
def test_a_file_that_may_not_be_read_is_named(open_folder, name, capsys):
    file = open_folder / "secret.csv"
    file.write_text(BILL)
    file.chmod(0o000)
    words = [word.replace("{file}", str(file)).replace("{out}", str(open_folder / "out")) for word in READERS[name]]
    with without_override():
        assert ended(*words) == 2
    require_one_sentence(capsys, "secret.csv")
    assert not (open_folder / "out").exists() or list((open_folder / "out").iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="the administrator's rights can't be put down there")
@pytest.mark.parametrize("name", ["start", "study", "offers"])
def test_a_folder_that_may_not_be_written_is_named_and_left_as_it_was(open_folder, name, capsys):
    given = open_folder / "given.csv"
    given.write_text({"study": STUDY, "offers": QUOTE}.get(name, BILL))
    out = open_folder / "out"
    out.mkdir()
    (out / "kept.txt").write_text("as it was")
    out.chmod(0o555)
    words = [word.replace("{file}", str(given)).replace("{out}", str(out)) for word in READERS[name]]
    with without_override():
        assert ended(*words) == 2
    require_one_sentence(capsys, str(out))
    assert [path.name for path in out.iterdir()] == ["kept.txt"]


COMMA = """
import locale, sys
locale.setlocale(locale.LC_ALL, "")
assert locale.localeconv()["decimal_point"] == ","
from landwise.cli import main
main(sys.argv[1:])
"""


@pytest.fixture(scope="module")
def comma_locale(tmp_path_factory):
    """Where a locale with a decimal comma lies, made for this run; empty where the system can't make one."""
    folder = tmp_path_factory.mktemp("locales")
    maker = shutil.which("localedef")
    if maker is None:
        return None
    subprocess.run([maker, "-i", "de_DE", "-f", "UTF-8", str(folder / "de_DE.UTF-8")], capture_output=True, check=False)
    return folder if (folder / "de_DE.UTF-8").is_dir() else None


def test_a_decimal_comma_of_the_locale_changes_no_answer(comma_locale, tmp_path):
    if comma_locale is None:
        assert shutil.which("localedef") is None or sys.platform != "linux"  # no such locale can be made here
        return
    (tmp_path / "board.toml").write_text(STUDY)
    environment = os.environ | {"LOCPATH": str(comma_locale), "LC_ALL": "de_DE.UTF-8"}
    code = [sys.executable, "-c", COMMA, "study", str(tmp_path / "board.toml"), "--json"]
    done = subprocess.run(code, capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 0, done.stderr[-500:]
    plain = [sys.executable, "-m", "landwise", "study", str(tmp_path / "board.toml"), "--json"]
    usual = subprocess.run(plain, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == json.loads(usual.stdout)


def test_a_bill_of_a_hundred_thousand_parts_is_read_without_losing_one(tmp_path, capsys):
    rows = ["Reference,Qty,Value,Package"]
    for row in range(1000):
        refs = [f"{'U' if row % 10 == 0 else 'R'}{100 * row + n}" for n in range(100)]
        value = "74LVC1G08,SOT-23-5" if row % 10 == 0 else "10k,0603"
        rows.append(f'"{" ".join(refs)}",100,{value}')
    (tmp_path / "bill.csv").write_text("\n".join(rows))
    assert ended("start", "--bom", tmp_path / "bill.csv", "-o", tmp_path / "board.toml") == 0
    said = capsys.readouterr().out
    assert "10000  logic parts" in said
    assert "90000  resistors" in said
    study = read_study(tmp_path / "board.toml")
    refs = Counter(ref for part in study.content.part for ref in part.refs)
    assert len(refs) == 10_000
    assert set(refs.values()) == {1}
