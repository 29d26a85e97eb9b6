"""What the workbench remembers or works ahead is what a study worked anew would give."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib

import pytest
from starlette.testclient import TestClient

from landwise.board.choice import choose_board
from landwise.disk import Disk
from landwise.errors import InputError
from landwise.judging import bench, option
from landwise.judging.stations import simulated_rates
from landwise.judging.study import run_study
from landwise.memory import Memory, forget, keep_on_disk, kept_on
from landwise.results.file import result_text
from landwise.study.file import study_from
from landwise.sweeping.cases import FAULT, NOT_VALID, Given, Worker
from landwise.sweeping.plan import Case, Source
from landwise.workbench.ahead import Neighbour
from landwise.workbench.app import make_app
from landwise.workbench.asked import asked_from, field_of, fields, study_of
from landwise.workbench.boardruns import Run, Runs
from landwise.workbench.engine import Engine, StaleError
from landwise.workbench.jobs import Job
from landwise.workbench.pages import Turns
from landwise.workbench.row import Drawn, in_row, lay_out
from whole import WHOLE

ORIGIN = "http://127.0.0.1:8037"
GATE = [
    ("number", "74LVC1G08"),
    ("present", "SOT-23-5"),
    ("options", "SC-70-5=0.03, SOT-23-5=0.02"),
    ("foils", "80 um, 100 um"),
]
# One move of every field that a study takes.
MOVES = {
    "foil": "80 um",
    "print": "as lands",
    "design": "lands",
    "reduction": "15 um",
    "print_offset": "60 um",
    "placement_offset": "90 um",
    "swing": "80 K",
    "line": "fine",
    "foils": "60 um, 100 um",
    "least_pitch": "0.6 mm",
    "inspection": "optical",
    "environment": "industrial",
    "years": "15",
    "voltage": "24 V",
    "layers": "4",
    "run": "50000",
    "max_height": "1 mm",
    "hidden_joints": "never",
    "terminals_should_be": "hidden",
    "function": "single gate",
    "terminals": "5",
    "present": "SC-70-5",
    "options": "SC-70-5=0.02, SOT-5x3-5=0.02",
    "number": "74AUP1G08",
    "power": "20 mW",
    "profile": "cabin",
    "hours": "9000 h at 55 degC, 20000 h at 25 degC",
    "switched": "700",
    "state": "existing",
    "thickest_foil": "90 um",
}


def asked(**changes):
    """The question with fields changed."""
    return study_of(asked_from({**dict(GATE), **changes}.items()))


def told(answered):
    return result_text(answered.judged)


@pytest.fixture(scope="module")
def warm():
    """An engine that has answered the question, and what a new study of it gives."""
    engine = Engine()
    engine.run(asked())
    return engine, result_text(choose_board(run_study(asked())).judged)


# Of each room that a move reaches: print, line, use, board, costs, limits, the part and what it is offered in.
FEW = [
    "foil",
    "design",
    "swing",
    "least_pitch",
    "hours",
    "layers",
    "run",
    "hidden_joints",
    "options",
    "number",
    "state",
]
TRIED = list(MOVES) if WHOLE else FEW


# Of hours and nothing else: they stand beside powered hours.
BESIDE_HOURS = {"hours_of": "air", "off": "40000 h at 15 degC", "stored": "2000 h at 25 degC"}


def test_every_field_is_moved():
    assert {one.name for one in fields()} == set(MOVES) | set(BESIDE_HOURS)


def test_hours_without_power_and_on_the_shelf_stand_beside_powered_ones(warm):
    study = asked(hours="9000 h at 55 degC", **BESIDE_HOURS)
    assert told(warm[0].run(study)) == result_text(choose_board(run_study(study)).judged)
    for name in ("off", "stored"):
        question = asked_from({**dict(GATE), name: BESIDE_HOURS[name]}.items())
        with pytest.raises(InputError) as error:
            Engine().run(study_of(question))
        assert field_of(error.value, question) == name


@pytest.mark.parametrize("name", [*TRIED, "weight.area"])
def test_a_move_on_a_warm_engine_gives_what_a_new_study_gives(warm, name):
    engine, home = warm
    study = asked(**{name: MOVES.get(name, "0.9")})
    assert told(engine.run(study)) == result_text(choose_board(run_study(study)).judged)
    # And back: what the move left behind does not show.
    engine._results.clear()
    assert told(engine.run(asked())) == home


def test_a_neighbour_fills_the_disk_that_the_asker_reads(tmp_path, monkeypatch):
    study, plain = asked(print_offset="55 um"), asked(print_offset="57 um")
    neighbour = Neighbour(tmp_path)
    neighbour.ahead([asked(foil="5 um"), study])  # the first is wrong: who asks for it will be told
    assert neighbour.idle(120)
    keep_on_disk(Disk(tmp_path))
    try:
        worked = []
        monkeypatch.setattr(bench, "simulated_rates", lambda *given: worked.append(given) or simulated_rates(*given))
        found = Engine().run(study)
        assert worked == []
        Engine().run(plain)
        assert worked
    finally:
        keep_on_disk(None)
        forget()
    assert told(found) == result_text(choose_board(run_study(study)).judged)


def test_a_known_answer_never_waits_for_other_work(warm):
    engine, home = warm
    engine.run(asked())
    with engine._work:  # somebody's question is being worked
        assert told(engine.run(asked())) == home
        with pytest.raises(StaleError):
            engine.run(asked(years="17"), lambda: False)


def test_the_row_keeps_choice_and_part_in_use_and_fits_its_room():
    from landwise.sheets.cards import candidate_of

    offered = "SO-20W, TSSOP-20, SSOP-20, QFN-20-3.5x4.5, QFN-20-2.5x4.5, DIP-20, TVSOP-20"
    question = [("number", "74LVC245"), ("present", "SO-20W"), ("options", offered), ("foil", "100 um")]
    result = Engine().run(study_of(asked_from(question))).judged
    part = result.parts[0]
    candidates = [candidate_of(option, part, result) for option in part.options]
    for room in (600, 900, 1500, 2400):
        shown = in_row(candidates, room, everything=False)
        assert any(one.is_choice for one in shown)
        assert any(one.is_present for one in shown)
        row = lay_out(shown, room, Drawn())
        assert row.width_px + row.label_px <= max(room, 4 * 134 + 116) + 0.5
        for one, wide in zip(shown, row.columns_px, strict=True):
            assert one.pattern.courtyard_mm[0] * row.magnification * 96 / 25.4 <= wide


def test_work_on_a_question_stops_when_a_newer_one_has_come():
    engine, study = Engine(), asked(foil="85 um")
    answers = iter([True, True])
    seen = []
    with pytest.raises(StaleError):
        engine.run(study, lambda: next(answers, False), lambda *progress: seen.append(progress))
    assert not engine.knows(study)
    assert [what for _, _, what in seen] == ["SC-70-5 on this foil", "SOT-23-5 on this foil"]
    assert told(engine.run(study)) == result_text(choose_board(run_study(study)).judged)
    assert engine.knows(study)


def test_only_older_questions_of_the_same_page_are_stale():
    turns = Turns()
    turns.come("a", "3")
    turns.come("a", "2")
    turns.come("b", "1")
    assert [turns.stands("a", "2"), turns.stands("a", "3"), turns.stands("b", "1"), turns.stands("", "")] == [
        False,
        True,
        True,
        True,
    ]


def test_a_sketch_shows_the_same_from_above_as_the_whole_answer(client, workspace):
    moved = "/part/row?number=74LVC1G08&present=SOT-23-5&options=SC-70-5,SOT-23-5&reduction=30+um&foil=130+um"
    whole = client.get(moved).json()["html"]
    names = re.findall(r'data-open="([^"]+)"', whole)
    ask = f"{moved}&quick=1&choice={names[0]}" + "".join(f"&row={name}" for name in names)
    with TestClient(make_app(workspace), base_url=ORIGIN) as fresh:
        sketch = fresh.get(ask).json()["sketch"]
    # The rule, then of each place its view from above and its side view, in which the part stands on its joints.
    tops = re.split(r'<g transform(?=="translate\([\d.]+ [\d.]+\)">)', sketch)[2::2]
    assert len(tops) == len(names)
    for top in tops:
        assert top in whole
    # No word on any of them before it is known what binds it.
    said = re.search(r"<desc[^>]*>([^<]*)", sketch)[1]
    assert all(name in said for name in names)
    assert not re.search("holds|marginal|fails|not known", said)
    # Worked once, the quick question gets the whole answer too.
    assert client.get(ask).json()["html"] == whole


def test_a_sketch_of_what_is_wrong_gives_the_whole_answer(client):
    answer = client.get("/part/row?number=74LVC1G08&foil=80&quick=1&row=SC-70-5")
    assert answer.status_code == 422
    assert "foil" in answer.json()["errors"]
    answer = client.get("/part/row?number=74LVC1G08&options=SC-70-5&foil=100+um&quick=1&row=../../etc/passwd")
    assert answer.status_code == 200
    assert "html" in answer.json()


def test_rubbish_is_collected_when_nobody_asks_and_never_by_itself_meanwhile():
    code = (
        "import gc, time\n"
        "from landwise.workbench import tidying\n"
        "tidying.STILL_S, tidying.LOOK_S = 0.2, 0.02\n"
        "full = []\n"
        "gc.callbacks.append(lambda phase, info: full.append(phase) if info['generation'] == 2 else None)\n"
        "own = tidying.Tidying()\n"
        "own.begin()\n"
        "full.clear()\n"
        "while gc.get_count()[2] < 15:\n"
        "    own.asked()\n"
        "    keep = [[] for _ in range(40_000)]\n"
        "busy = len(full)\n"
        "end = time.monotonic() + 20\n"
        "while not full and time.monotonic() < end: time.sleep(0.05)\n"
        "print(busy, len(full) > 0)\n"
    )
    made = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert made.stdout.split() == ["0", "True"]


@pytest.mark.usefixtures("own_disk")
def test_a_fresh_server_takes_up_what_the_command_line_left(monkeypatch):
    text = (
        '[[part]]\nrefs = ["U1"]\nterminals = 5\npackage = "SOT-23-5"\noptions = [{outline = "SOT-23-5", price = 0.02}]'
    )
    study = study_from(tomllib.loads(text))
    memory = Memory()
    first = choose_board(run_study(study, bench=bench.Bench.of(study, memory)), memory=memory)
    memory.leave(study.board_key)
    monkeypatch.setattr(option, "_judged", lambda *_: pytest.fail("judged again"))
    run = Run(Job("1", "board"), text)
    assert result_text(Runs()._work(run)) == result_text(first)
    assert result_text(Engine().whole(study)) == result_text(first)
    monkeypatch.setenv("LANDWISE_CACHE", str(kept_on().root))
    worker = Worker(Given("study", (Source("board.toml", tomllib.loads(text)),), ()))
    assert worker.work([Case(0, 0, ())])[0][1]["answer"] not in (NOT_VALID, FAULT)
