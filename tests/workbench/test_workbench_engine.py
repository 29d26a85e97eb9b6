"""What the workbench remembers or works ahead is what a study worked anew would give."""

from __future__ import annotations

import re
import threading

import pytest
from starlette.testclient import TestClient

from landwise.board.choice import rank_each
from landwise.judging.study import run_study
from landwise.results.file import result_text
from landwise.workbench.app import make_app
from landwise.workbench.asked import asked_from, fields, study_of
from landwise.workbench.engine import Engine, StaleError
from landwise.workbench.pages import Turns
from landwise.workbench.row import Drawn, in_row, lay_out

ORIGIN = "http://127.0.0.1:8037"
GATE = [("number", "74LVC1G08"), ("present", "SOT-23-5")]
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
    "options": "SC-70-5=0.03, SOT-23-5=0.02",
    "number": "74AUP1G08",
}


@pytest.fixture(scope="module")
def warm():
    """An engine that has answered the question and every move before."""
    engine = Engine()
    engine.run(study_of(asked_from(GATE)))
    return engine


@pytest.mark.parametrize("name", [one.name for one in fields()] + ["weight.area"])
def test_a_move_on_a_warm_engine_gives_what_a_new_study_gives(warm, name):
    moved = [*GATE, (name, MOVES.get(name, "0.9"))]
    study = study_of(asked_from(moved))
    assert result_text(warm.run(study)) == result_text(rank_each(run_study(study)))
    # And back: what the move left behind does not show.
    home = study_of(asked_from(GATE))
    assert result_text(warm.run(home)) == result_text(rank_each(run_study(home)))


def test_foresight_fills_the_memory_and_gives_way():
    engine = Engine(foresight=True)
    studies = [study_of(asked_from([*GATE, ("foil", f"{um} um")])) for um in (85, 95)]
    done = threading.Event()

    def plan():
        for study in studies:
            yield lambda study=study: study
        done.set()

    engine.ahead(plan())
    between = engine.run(study_of(asked_from([*GATE, ("foil", "120 um")])))
    assert between.line.foil_um == 120
    assert done.wait(60)
    for study in studies:
        assert study.content.model_dump_json() in engine._results
        assert result_text(engine.run(study)) == result_text(rank_each(run_study(study)))


def test_a_plan_with_a_fault_in_it_does_not_stop_the_rest():
    engine = Engine(foresight=True)
    good = study_of(asked_from([*GATE, ("foil", "85 um")]))
    done = threading.Event()

    def plan():
        yield lambda: study_of(asked_from([*GATE, ("foil", "5 um")]))
        yield lambda: study_of(asked_from([*GATE, ("foil", "nothing")]))
        yield lambda: good
        done.set()

    engine.ahead(plan())
    assert done.wait(60)
    assert good.content.model_dump_json() in engine._results


def test_the_row_keeps_choice_and_part_in_use_and_fits_its_room():
    from landwise.sheets.cards import candidate_of

    result = Engine().run(study_of(asked_from([("number", "74LVC245"), ("present", "SO-20W")])))
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
    engine = Engine()
    study = study_of(asked_from([*GATE, ("foil", "85 um")]))
    answers = iter([True, True, False])
    with pytest.raises(StaleError):
        engine.run(study, lambda: next(answers))
    assert not engine.knows(study)
    assert result_text(engine.run(study)) == result_text(rank_each(run_study(study)))
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
    moved = "/part/row?number=74LVC1G08&present=SOT-23-5&reduction=30+um&foil=130+um"
    whole = client.get(moved).json()["html"]
    names = re.findall(r'data-open="([^"]+)"', whole)
    ask = f"{moved}&quick=1&choice={names[0]}" + "".join(f"&row={name}" for name in names)
    with TestClient(make_app(workspace), base_url=ORIGIN) as fresh:
        sketch = fresh.get(ask).json()["sketch"]
    tops = sketch.split("<g transform")[1::2]
    assert len(tops) == len(names)
    for top in tops:
        assert top in whole
    # Worked once, the quick question gets the whole answer too.
    assert client.get(ask).json()["html"] == whole


def test_a_sketch_of_what_is_wrong_gives_the_whole_answer(client):
    answer = client.get("/part/row?number=74LVC1G08&foil=80&quick=1&row=SC-70-5")
    assert answer.status_code == 422
    assert "foil" in answer.json()["errors"]
    answer = client.get("/part/row?number=74LVC1G08&quick=1&row=../../etc/passwd")
    assert answer.status_code == 200
    assert "html" in answer.json()
