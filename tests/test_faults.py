"""Faults while files are written: each command ends in one sentence and exit code 2, and what stood there stays whole.

The faults are real ones: the system refuses to let a file grow (as a full disk does), a file stands where a folder
should, the process is killed, two runs write in one folder, a study comes from another system.
"""

from __future__ import annotations

import json
import os
import random
import resource
import signal
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from contextlib import contextmanager
from pathlib import Path

import pytest

from landwise.cli import main

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "examples" / "logger"
GATE = (
    '[[part]]\nrefs = ["U1"]\nfunction = "2-input AND gate"\nnumber = "1G08"\nfamily = "LVC"\nterminals = 5\n'
    'package = "SOT-23-5"\noptions = [{ outline = "SOT-23-5", price = 0.03 }, { outline = "SC-70-5", price = 0.031 }]\n'
)
BOARD = '[board]\nname = "{name}"\n[line]\npreset = "ordinary"\nfoils = ["100 um"]\nfoil = "100 um"\n' + GATE
OFFERS = "Manufacturer Part Number,Manufacturer,Package,Price,Stock\nSN74LVC1G08DBVR,Maker,SOT-23-5,0.031,9000\n"

GATE_ASKED = ["--number", "74LVC1G08", "--options", "SOT-23-5=0.03, SC-70-5=0.031", "--foils", "100 um"]
# Name → arguments; `{in}` is a folder with two boards and an offer, `{out}` where the command writes.
COMMANDS = {
    "start": ["start", "--bom", str(EXAMPLE / "bom.csv"), "-o", "{out}/board.toml", "--force"],
    "study": ["study", "{in}/one.toml", "-o", "{out}"],
    "compare": ["compare", *GATE_ASKED, "-o", "{out}"],
    "family": ["family", "{in}/one.toml", "{in}/two.toml", "-o", "{out}"],
    "offers": ["offers", "{in}/offers.csv", "-o", "{out}/offers.toml", "--force"],
    "review": ["review", str(EXAMPLE / "fabrication"), "-o", "{out}"],
}


@pytest.fixture
def places(tmp_path):
    given, out = tmp_path / "in", tmp_path / "out"
    given.mkdir()
    out.mkdir()
    for name in ("one", "two"):
        (given / f"{name}.toml").write_text(BOARD.replace("{name}", name))
    (given / "offers.csv").write_text(OFFERS)
    return given, out


def ended(name, given, out):
    """Exit code of a command."""
    try:
        main([part.replace("{in}", str(given)).replace("{out}", str(out)) for part in COMMANDS[name]])
    except SystemExit as end:
        return end.code
    return 0


def content(folder):
    return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@contextmanager
def no_file_above(size):
    """While inside, the system refuses to let any file grow beyond so many bytes, as a full disk would."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def one_sentence(text):
    lines = [line for line in text.splitlines() if line.startswith("landwise:")]
    return len(lines) == 1 and "Traceback" not in text


@pytest.mark.parametrize("name", COMMANDS)
def test_a_full_disk_costs_nothing_of_what_stood_there(places, name, capsys):
    given, out = places
    assert ended(name, given, out) in (0, 1)  # a review ends with 1 where it has findings
    before = content(out)
    assert before
    largest = max(len(data) for data in before.values())
    capsys.readouterr()
    with no_file_above(largest // 2):
        code = ended(name, given, out)
    assert code == 2
    assert content(out) == before
    assert one_sentence(capsys.readouterr().err)


@pytest.mark.parametrize("name", COMMANDS)
def test_a_folder_that_cannot_be_made_is_named(places, name, capsys):
    given, out = places
    (out / "file").write_text("stands in the way")
    assert ended(name, given, out / "file" / "deeper") == 2
    said = capsys.readouterr().err
    assert one_sentence(said)
    assert str(out / "file") in said.replace("\n", "")
    assert (out / "file").read_text() == "stands in the way"


def started(name, given, out):
    arguments = [part.replace("{in}", str(given)).replace("{out}", str(out)) for part in COMMANDS[name]]
    return subprocess.Popen(
        [sys.executable, "-m", "landwise", *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


@pytest.mark.slow
def test_a_run_that_is_killed_leaves_old_files_or_new_ones_and_the_next_run_works(places):
    given, out = places
    assert ended("compare", given, out) == 0
    new = content(out)
    old = {name: b"as it was: " + data for name, data in new.items()}
    for name, data in old.items():
        (out / name).write_bytes(data)
    draws = random.Random(3)
    for _ in range(2):
        run = started("compare", given, out)
        time.sleep(draws.uniform(0.5, 3.0))
        run.send_signal(signal.SIGKILL)
        run.wait()
        now = {name: data for name, data in content(out).items() if not name.name.startswith(".")}
        assert set(now) == set(old)
        assert all(data in (old[name], new[name]) for name, data in now.items())
    assert started("compare", given, out).wait() == 0
    assert {name: data for name, data in content(out).items() if not name.name.startswith(".")} == new


@pytest.mark.slow
def test_two_runs_in_one_folder_both_end_and_leave_whole_files(places):
    given, out = places
    runs = [started("compare", given, out) for _ in range(2)]
    assert [run.wait() for run in runs] == [0, 0]
    ET.parse(out / "card.svg")
    assert (out / "card.pdf").read_bytes().startswith(b"%PDF")
    assert not [path for path in out.iterdir() if path.name.startswith(".")]


def answer(path, capsys):
    capsys.readouterr()
    with pytest.raises(SystemExit) as end:
        main(["study", str(path), "--json"])
    assert end.value.code == 0
    data = json.loads(capsys.readouterr().out)
    return {key: value for key, value in data.items() if key not in ("file", "landwise_version")}


def test_line_ends_and_byte_order_mark_of_another_system_change_nothing(places, capsys):
    given, _ = places
    plain = given / "one.toml"
    before = answer(plain, capsys)
    plain.write_bytes(b"\xef\xbb\xbf" + plain.read_text().replace("\n", "\r\n").encode())
    assert answer(plain, capsys) == before


def test_references_and_names_in_any_letters_come_through(places, capsys):
    given, _ = places
    study = given / "one.toml"
    study.write_text(study.read_text().replace('"U1"', '"Д1", "芯片2"').replace('"one"', '"насос ε"'), encoding="utf-8")
    found = answer(study, capsys)
    assert found["parts"][0]["refs"] == ["Д1", "芯片2"]
    assert "насос ε" in json.dumps(found, ensure_ascii=False)


def test_a_clock_set_back_changes_no_answer(places, capsys, monkeypatch):
    given, _ = places
    before = answer(given / "one.toml", capsys)
    monkeypatch.setattr(time, "time", lambda: 0.0)
    os.utime(given / "one.toml", (4e9, 4e9))
    assert answer(given / "one.toml", capsys) == before
