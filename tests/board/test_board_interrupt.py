"""Ctrl-C as a user presses it: a real signal to a real process, at several places of its work."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

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

# Each child says "ready" when it is where the signal shall find it.
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
# A function that says so and then goes on until it is told to stop.
UNTIL_STOPPED = """
import sys
import {room} as room
from landwise.cli import main

real = room.{name}

def slow(*args, **more):
    print("ready", file=sys.stderr, flush=True)
    while not more["stop"]():
        pass
    return real(*args, **more)

room.{name} = slow
main(sys.argv[1:])
"""
# A function whose first call says so and takes a second.
FIRST_WAITS = """
import sys, time
import {room} as room
from landwise.cli import main

real, first = room.{name}, True

def slow(*args, **more):
    global first
    if first:
        first = False
        print("ready", file=sys.stderr, flush=True)
        time.sleep(1)  # the signal comes meanwhile
    return real(*args, **more)

room.{name} = slow
main(sys.argv[1:])
"""
# Reasons of the same numbers that another test left on disk are not taken.
ANEW = "import landwise.board.reasons\nlandwise.board.reasons.known = lambda work, *_: work()\n"
EXPLAINING = ANEW + UNTIL_STOPPED.format(room="landwise.board.reasons", name="front")
REGRET = UNTIL_STOPPED.format(room="landwise.board.scenarios", name="least_regret")
JUDGING = FIRST_WAITS.format(room="landwise.judging.study", name="judge_part")
SHARED = FIRST_WAITS.format(room="landwise.board.judged", name="_judged")
SCENARIOS = FIRST_WAITS.format(room="landwise.board.scenarios", name="run_study")
DRAWING = """
import sys, time
from landwise.sheets import report
from landwise.cli import main

def slow(*args):
    print("ready", file=sys.stderr, flush=True)
    time.sleep(60)

report.html_text = slow
main(sys.argv[1:])
"""


def interrupted(child: str, study: Path, folder: Path, pause: float = 0.0) -> tuple[int, str]:
    """Exit code and standard error of a study that gets the signal once it is ready."""
    return signalled(child, ["study", str(study), "-o", str(folder), "--no-drawings"], pause)


def signalled(child: str, words: list[str], pause: float = 0.0) -> tuple[int, str]:
    """The same of any command."""
    # A shell that starts a job in the background has it ignore the signal; a child must be able to hear it.
    process = subprocess.Popen(
        [sys.executable, "-c", child, *words],
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
    study.write_text("landwise = 1\n[line]\nsteps_allowed = false\nfoils = ['100 um']\n" + parts)
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


def test_a_signal_while_explaining_keeps_the_proven_choice(few_gates, tmp_path):
    code, said = interrupted(EXPLAINING, few_gates, tmp_path / "out")
    assert code == 130
    assert "the choice itself is proven" in said
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES
    choice = json.loads((tmp_path / "out" / "result.json").read_text())["choice"]
    assert choice["status"] == "optimal"
    assert choice["steps"]
    assert choice["left_out"] == ["the trade-off", "how firm the choice is"]
    assert choice["points"] == []


def test_a_signal_while_judging_keeps_what_was_judged(few_gates, tmp_path):
    code, said = interrupted(JUDGING, few_gates, tmp_path / "out")
    assert code == 130
    assert "stopped while judging" in said
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["choice"]["status"] == "optimal"
    assert len(told["choice"]["options"]) == 3
    # The first part was judged; the others stay as they are.
    assert [len(part["options"]) for part in told["parts"]] == [5, 1, 1]
    assert any("stopped while judging" in note for note in told["notes"])


def test_a_signal_while_drawing_keeps_the_answer_without_pictures(few_gates, tmp_path):
    code, said = interrupted(DRAWING, few_gates, tmp_path / "out")
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


def test_a_signal_while_judging_under_shared_decisions_keeps_the_line_of_today(few_gates, tmp_path):
    code, said = interrupted(SHARED, few_gates, tmp_path / "out")
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


def test_a_signal_while_judging_a_scenario_keeps_the_choice_by_expected_cost(few_gates, tmp_path):
    few_gates.write_text(few_gates.read_text() + CASES)
    code, _ = interrupted(SCENARIOS, few_gates, tmp_path / "out")
    assert code == 130
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert told["choice"]["status"] == "optimal"
    assert len(told["choice"]["options"]) == 3
    assert told["scenarios"] is None
    assert any("stopped before" in note for note in told["notes"])


def test_a_signal_while_weighing_regret_keeps_the_best_found_and_does_not_call_it_proven(few_gates, tmp_path):
    few_gates.write_text(few_gates.read_text() + CASES)
    code, _ = interrupted(REGRET, few_gates, tmp_path / "out")
    assert code == 130
    told = json.loads((tmp_path / "out" / "result.json").read_text())
    assert len(told["choice"]["options"]) == 3
    assert told["scenarios"]["taken"]
    assert not told["scenarios"]["proven"]
    assert "best found" in told["scenarios"]["says"]


def test_a_family_stopped_while_judging_keeps_the_best_of_what_was_judged(tmp_path):
    paths = []
    for n, count in enumerate((3, 2)):
        (tmp_path / str(n)).mkdir()
        paths.append(str(gates(tmp_path / str(n), count)))
    code, said = signalled(JUDGING, ["family", *paths, "-o", str(tmp_path / "out")])
    assert code == 130
    assert "best found so far" in said
    told = json.loads((tmp_path / "out" / "family.json").read_text())
    assert told["status"] == "stopped"
    assert told["halted"] == paths
    # Nothing was left out: what was not judged stays in the package in use.
    assert [len(board["parts"]) for board in told["boards"]] == [3, 2]
    assert all(part["together"] == "SOT-23-5" for board in told["boards"] for part in board["parts"][1:])
    assert "Stopped while judging" in (tmp_path / "out" / "family.html").read_text()
