"""Ctrl-C as a user presses it: a real signal, at several places of a command's work.

Once to a process of its own, where the search is far from its end; elsewhere to the command in the test's own process,
which hears the same signal by the same handler and needs not be started.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from landwise.cli import main

FILES = {
    "reply.txt",
    "report.html",
    "report.pdf",
    "annex.html",
    "annex.pdf",
    "tables.xlsx",
    "result.json",
    "options.csv",
    "result.schema.json",
    "landwise.schema.json",
}

# The child says "ready" when it is where the signal shall find it.
HARD = """
import sys
from dataclasses import replace
import numpy as np
from landwise.board import choice as boardchoice
from landwise.choosing.optimum import Row
from landwise.cli import main

real = boardchoice.board_model

def hard(result, **more):
    # The study's own parts with random costs under six tight limits: far beyond a minute to prove.
    model = real(result, **more)
    rng, shape = np.random.default_rng(0), model.problem.cost.shape
    uses = [rng.integers(10, 100, (1, *shape[1:])).astype(float) for _ in range(6)]
    rows = tuple(Row(f"limit {n}", use, float(np.quantile(use[0], 0.4, axis=1).sum())) for n, use in enumerate(uses))
    problem = replace(model.problem, cost=200 - sum(uses) / 6 + rng.uniform(0, 10, shape), rows=rows, bans=())
    print("ready", file=sys.stderr, flush=True)
    return replace(model, problem=problem)

boardchoice.board_model = hard
main(sys.argv[1:])
"""


def interrupted(child: str, study: Path, folder: Path, pause: float) -> tuple[int, str]:
    """Exit code and standard error of a study in a process of its own that gets the signal once it is ready."""
    # A shell that starts a job in the background has it ignore the signal; a child must be able to hear it.
    process = subprocess.Popen(
        [sys.executable, "-c", child, "study", str(study), "-o", str(folder), "--no-drawings"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    assert process.stderr is not None
    try:
        said = process.stderr.readline()
        assert said == "ready\n", said + process.stderr.read()
        time.sleep(pause)
        process.send_signal(signal.SIGINT)
        _, rest = process.communicate(timeout=600)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
        process.stderr.close()
    return process.returncode, rest


class Pressed:
    """A command in the test's own process that gets the signal when it comes to a function, as at its first call."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.monkeypatch, self.capsys = monkeypatch, capsys
        self.heard = False

    def at(self, place: str, *, until_stopped: bool = False) -> Pressed:
        """The signal comes when this function is first called; it may then go on until it is told to stop."""
        room, _, name = place.rpartition(".")
        real = getattr(importlib.import_module(room), name)

        def slow(*args: object, **more: Any) -> object:  # whatever the function takes
            if not self.heard:
                self.heard = True
                signal.raise_signal(signal.SIGINT)
            while until_stopped and not more["stop"]():
                pass
            return real(*args, **more)

        self.monkeypatch.setattr(place, slow)
        return self

    def ends(self, *words: str) -> tuple[int, str]:
        """Exit code and standard error of the command."""
        before = signal.signal(signal.SIGINT, signal.default_int_handler)
        self.capsys.readouterr()
        try:
            with pytest.raises(SystemExit) as ended:
                main(list(words))
        finally:
            signal.signal(signal.SIGINT, before)
        assert self.heard
        return int(ended.value.code or 0), self.capsys.readouterr().err

    def study(self, study: Path, folder: Path) -> tuple[int, str]:
        """The same of a study without drawings."""
        return self.ends("study", str(study), "-o", str(folder), "--no-drawings")


@pytest.fixture
def pressed(monkeypatch, capsys):
    return Pressed(monkeypatch, capsys)


def gates(folder: Path, count: int) -> Path:
    """A study of gates with five options each."""
    offers = ", ".join(
        f'{{ outline = "{name}", price = 0.03 }}'
        for name in ("SOT-23-5", "SC-70-5", "SOT-5x3-5", "SON-6-1.45x1.0", "SON-6-1.0x1.0")
    )
    parts = "".join(
        f'[[part]]\nrefs = ["U{n}"]\nnumber = "1G08"\nfamily = "LVC"\nterminals = 5\npackage = "SOT-23-5"\n'
        f"options = [{offers}]\n"
        for n in range(count)
    )
    study = folder / "gates.toml"
    study.write_text("landwise = 1\n[line]\nsteps_allowed = false\nfoils = ['100 um']\nprint = 'as lands'\n" + parts)
    return study


MANY = 16


@pytest.fixture
def many_gates(tmp_path):
    return gates(tmp_path, MANY)


@pytest.fixture
def few_gates(tmp_path):
    return gates(tmp_path, 3)


def test_a_signal_during_the_search_gives_the_best_found_with_its_gap(many_gates, tmp_path):
    folder = tmp_path / "out"
    code, said = interrupted(HARD, many_gates, folder, pause=1.5)
    assert code == 130
    assert "best found so far, at most" in said
    assert {path.name for path in folder.iterdir()} == FILES
    choice = json.loads((folder / "result.json").read_text())["choice"]
    assert choice["status"] == "stopped"
    assert len(choice["options"]) == MANY
    assert 0 < choice["gap"] < 0.2
    assert choice["bound"] < choice["value"]
    assert choice["value"] - choice["bound"] == pytest.approx(choice["gap"] * choice["value"])
    assert "Best found when stopped" in (folder / "report.html").read_text()


def test_a_signal_while_explaining_keeps_the_proven_choice(few_gates, tmp_path, pressed, monkeypatch):
    # Reasons of the same numbers that another test left on disk are not taken.
    monkeypatch.setattr("landwise.board.reasons.known", lambda work, *_: work())
    code, said = pressed.at("landwise.board.reasons.front", until_stopped=True).study(few_gates, tmp_path / "out")
    assert code == 130
    assert "the choice itself is proven" in said
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES
    choice = json.loads((tmp_path / "out" / "result.json").read_text())["choice"]
    assert choice["status"] == "optimal"
    assert choice["steps"]
    assert choice["left_out"] == ["the trade-off", "how firm the choice is"]
    assert choice["points"] == []


def test_a_signal_while_judging_keeps_what_was_judged(few_gates, tmp_path, pressed):
    code, said = pressed.at("landwise.judging.study.judge_part").study(few_gates, tmp_path / "out")
    assert code == 130
    assert "stopped while judging" in said
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["choice"]["status"] == "optimal"
    assert len(told["choice"]["options"]) == 3
    # The first part was judged; the others stay as they are.
    assert [len(part["options"]) for part in told["parts"]] == [5, 1, 1]
    assert any("stopped while judging" in note for note in told["notes"])


def test_a_signal_while_drawing_keeps_the_answer_without_pictures(few_gates, tmp_path, pressed):
    code, said = pressed.at("landwise.sheets.report.html_text").study(few_gates, tmp_path / "out")
    assert code == 130
    assert "stopped while drawing" in said
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"result.json", "options.csv", "reply.txt"}
    assert json.loads((tmp_path / "out" / "result.json").read_text())["choice"]["status"] == "optimal"


def test_a_time_limit_reaches_judging_and_ends_well(few_gates, tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["study", str(few_gates), "-o", str(tmp_path / "out"), "--no-drawings", "--seconds", "0.001"])
    assert ended.value.code == 0
    assert "out of time while judging" in capsys.readouterr().err
    assert (tmp_path / "out" / "report.html").is_file()


def test_a_signal_while_judging_under_shared_decisions_keeps_the_line_of_today(few_gates, tmp_path, pressed):
    code, said = pressed.at("landwise.board.judged._judged").study(few_gates, tmp_path / "out")
    assert code == 130
    assert "stopped while judging" in said
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["choice"]["status"] == "optimal"
    assert len(told["choice"]["options"]) == 3
    assert len(told["choice"]["decisions"]) == 1


CASES = """
[want]
choose_for = "regret"
[[scenario]]
name = "as planned"
[[scenario]]
name = "the large order"
run = 100000
"""


def test_a_signal_while_judging_a_scenario_keeps_the_choice_by_expected_cost(few_gates, tmp_path, pressed):
    few_gates.write_text(few_gates.read_text() + CASES)
    code, _ = pressed.at("landwise.board.scenarios.run_study").study(few_gates, tmp_path / "out")
    assert code == 130
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["choice"]["status"] == "optimal"
    assert len(told["choice"]["options"]) == 3
    assert told["scenarios"] is None
    assert any("stopped before" in note for note in told["notes"])


def test_a_signal_while_weighing_regret_keeps_the_best_found_and_does_not_call_it_proven(few_gates, tmp_path, pressed):
    few_gates.write_text(few_gates.read_text() + CASES)
    code, _ = pressed.at("landwise.board.scenarios.least_regret", until_stopped=True).study(few_gates, tmp_path / "out")
    assert code == 130
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert len(told["choice"]["options"]) == 3
    assert told["scenarios"]["taken"]
    assert not told["scenarios"]["proven"]
    assert "best found" in told["scenarios"]["says"]


def test_a_family_stopped_while_judging_keeps_the_best_of_what_was_judged(tmp_path, pressed):
    paths = []
    for n, count in enumerate((3, 2)):
        (tmp_path / str(n)).mkdir()
        paths.append(str(gates(tmp_path / str(n), count)))
    pressed.at("landwise.judging.study.judge_part")
    code, said = pressed.ends("family", *paths, "-o", str(tmp_path / "out"))
    assert code == 130
    assert "best found so far" in said
    told = json.loads((tmp_path / "out" / "family.json").read_text())
    assert told["status"] == "stopped"
    assert told["halted"] == paths
    # Nothing was left out: what was not judged stays in the package in use.
    assert [len(board["parts"]) for board in told["boards"]] == [3, 2]
    assert all(part["together"] == "SOT-23-5" for board in told["boards"] for part in board["parts"][1:])
    assert "Stopped while judging" in (tmp_path / "out" / "family.html").read_text()
