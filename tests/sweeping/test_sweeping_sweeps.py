"""Sweeps: finished cases are kept through anything, and a cluster gives the same table as this machine."""

from __future__ import annotations

import csv
import json
import multiprocessing
import os
import subprocess
import sys
import time

import pytest

from landwise.errors import FileError, InputError, LandwiseError
from landwise.sweeping.axes import read_axis
from landwise.sweeping.changes import chosen_of, influence, move_says, moves_of
from landwise.sweeping.journal import NAME, Journal
from landwise.sweeping.plan import Source, study_plan
from landwise.sweeping.sweeps import run_sweep

GATE = {
    "refs": ["U1"],
    "terminals": 5,
    "package": "SOT-23-5",
    "number": "1G08",
    "family": "LVC",
    "options": [{"outline": "SOT-23-5", "price": 0.03}, {"outline": "SC-70-5", "price": 0.03}],
}
STUDY = {"part": [GATE], "line": {"foil": "100 um", "foils": ["100 um"], "print": "as lands"}}


def plan_of(*varied, data=None, name="one gate", **how):
    return study_plan([Source(name, data or STUDY)], [read_axis(text) for text in varied], **how)


def table(folder):
    return (folder / "table.csv").read_bytes()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("line.foil", "not an input with its values"),
        ("=1", "not an input with its values"),
        ("line.foil=80 um..80 um/3", "not a range"),
        ("line.foil=80 um..3 V/3", "both ends of a range need one unit"),
        ("line.foil=80 um..150 um/1", "not a count"),
        ("costs.run=0..100/3 log", "not a range"),
        ("costs.run=1,,2", "a value is missing"),
        ("costs.run=1,1", "a value stands twice"),
        ("line..foil=80 um", "not the path"),
        ("foil=80 um", "not the path"),
        ("line.foils=[80 um", "not a value"),
    ],
)
def test_a_wrong_axis_is_refused_in_one_sentence(text, says):
    with pytest.raises(InputError, match=says):
        read_axis(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("line.foyl=80 um", "unknown field"),
        ("line.foil=80 V", "unit of voltage"),
        ("part[U9].price=1", "no such item"),
        ("part[U1].options[SO-14].price=1", "no such item"),
        ("board.name.x=1", "no such input"),
        ("line.foil=80 um..150 um", "needs a count"),
    ],
)
def test_a_value_that_no_study_takes_is_refused_before_any_case_is_worked(text, says):
    with pytest.raises(LandwiseError, match=says):
        plan_of(text, data={**STUDY, "board": {"name": "b"}})


def test_units_meet_and_whole_numbers_stay_whole():
    mixed = read_axis("line.foil=80 um..0.12 mm/3")
    assert [value.says for value in mixed.values] == ["80 um", "100 um", "120 um"]
    assert [value.stated for value in read_axis("costs.run=1..3/7").values] == [1, 2, 3]


def test_spread_points_grow_without_moving_and_keep_to_their_ranges():
    ranges = ("line.foil=80 um..150 um", "costs.run=100..10000 log", "board.layers=2,4")
    few, many = (plan_of(*ranges, points=count) for count in (8, 16))
    assert [few.key(few.case(n)) for n in range(8)] == [many.key(many.case(n)) for n in range(8)]
    values = [many.case(n).values for n in range(16)]
    assert all(80 <= foil.number <= 150 and 100 <= run.number <= 10_000 for foil, run, _ in values)
    # Sobol points of a power of two fall equally often into each half of every axis (Sobol 1967).
    assert [layers.stated for *_, layers in values].count(2) == 8
    assert sum(run.number < 1000 for _, run, _ in values) == 8


def test_cases_that_share_geometry_travel_together():
    plan = plan_of("line.foil=80 um,100 um,120 um", "costs.run=1,2,3,4")
    batches = list(plan.batches(range(12), 50))
    assert sorted(n for batch in batches for n in batch) == list(range(12))
    assert [len({plan.case(n).values[0].says for n in batch}) for batch in batches] == [1, 1, 1]


def test_a_stopped_sweep_goes_on_where_it_was_and_ends_with_the_same_bytes(tmp_path):
    plan = plan_of("costs.run=100,1000,5000", "part[U1].options[SC-70-5].price=0.03,0.3")
    whole, torn = tmp_path / "whole", tmp_path / "torn"
    run_sweep(plan, whole)
    done = []
    first = run_sweep(plan, torn, stop=lambda: len(done) > 3, progress=lambda *told: done.append(told))
    assert first.stopped
    assert 0 < first.worked < 6
    with (torn / NAME).open("ab") as file:  # cut off in the middle of a line, and a line of noise before
        file.write(b'\x00\xff noise\n{"k":"0123')
    again = run_sweep(plan, torn)
    assert again.before == first.worked
    assert again.worked == 6 - first.worked
    assert table(torn) == table(whole)
    assert (torn / "table.parquet").read_bytes() == (whole / "table.parquet").read_bytes()
    wider = plan_of("costs.run=100,1000,5000,9000", "part[U1].options[SC-70-5].price=0.03,0.3")
    assert run_sweep(wider, torn).worked == 2


def test_a_process_that_dies_takes_no_case_with_it_and_any_number_of_cores_gives_the_same_bytes(tmp_path):
    plan = plan_of("costs.run=100,1000,5000,9000")
    run_sweep(plan, tmp_path / "one")
    killed = []

    def kill(done, *_):
        if done == 1 and not killed:
            killed.append(multiprocessing.active_children()[0])
            killed[0].kill()

    swept = run_sweep(plan, tmp_path / "two", jobs=2, progress=kill)
    assert killed
    assert swept.answers == {"equal": 4} or sum(swept.answers.values()) == 4
    assert table(tmp_path / "two") == table(tmp_path / "one")


def test_two_runs_never_write_in_one_folder(tmp_path):
    with Journal(tmp_path), pytest.raises(FileError, match="another run writes in this folder"):
        Journal(tmp_path)


def test_the_index_finds_every_case_however_it_was_folded(tmp_path, monkeypatch):
    monkeypatch.setattr("landwise.sweeping.journal.FOLDED_AT", 7)
    keys = [bytes([n]) * 8 + bytes([n % 2]) * 8 for n in range(50)] + [bytes(8) + b"\x05" * 8]  # two share their head
    with Journal(tmp_path) as journal:
        for n, key in enumerate(keys):
            journal.add(key, {"n": n})
        journal.add(keys[3], {"n": "newer"})
        wanted = [{"n": "newer" if n == 3 else n} for n in range(len(keys))]
        assert [journal.row(key) for key in keys] == wanted
    with Journal(tmp_path) as journal:
        assert [journal.row(key) for key in keys] == wanted


def test_a_full_disk_ends_in_one_sentence_and_loses_nothing(tmp_path, monkeypatch):
    with Journal(tmp_path) as journal:
        journal.add(b"a" * 16, {"cost": 1.0})
        real = os.write
        monkeypatch.setattr(os, "write", lambda file, data: real(file, data[: len(data) // 2]))
        with pytest.raises(FileError, match="those before are kept"):
            journal.add(b"b" * 16, {"cost": 2.0})
    monkeypatch.undo()
    with Journal(tmp_path) as journal:
        assert journal.row(b"a" * 16) == {"cost": 1.0}
        assert b"b" * 16 not in journal
        journal.add(b"b" * 16, {"cost": 2.0})
        assert journal.row(b"b" * 16) == {"cost": 2.0}


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="can't write in the folder"):
        Journal(tmp_path / "file")


def test_references_that_look_like_formulas_are_safe_in_the_table_and_letters_of_any_script_stay(tmp_path):
    for ref in ("=1+1", "Ж٣"):
        data = {**STUDY, "part": [{**GATE, "refs": [ref]}]}
        run_sweep(plan_of("costs.run=100", data=data, name="@board"), tmp_path)
        with (tmp_path / "table.csv").open(encoding="utf-8", newline="") as file:
            head, row = csv.reader(file)
        assert row[1] == "'@board"
        assert ("'" + ref if ref.startswith("=") else ref) in head


def test_a_study_whose_case_fails_tells_it_in_its_row(tmp_path):
    swept = run_sweep(plan_of("costs.run=1,2", data={"board": {"name": "empty"}}), tmp_path)
    assert swept.answers == {"not valid": 2}
    assert b"the study has no parts" in table(tmp_path)


def choice_map(plan, folder, rule):
    """A journal whose choices follow a rule of ours, known beforehand."""
    with Journal(folder) as journal:
        for number in range(len(plan)):
            case = plan.case(number)
            row = {"answer": "decided", "U1": rule(*case.values), "U1 answer": "decided"}
            journal.add(plan.key(case), row)
        chosen = chosen_of(plan, journal, 0)
    return influence(plan, chosen), [move_says(plan, move) for move in moves_of(plan, chosen)], chosen


def test_where_the_choice_changes_is_where_it_was_made_to_change(tmp_path):
    plan = plan_of("line.foil=80 um..120 um/5", "costs.run=100,1000,10000")
    told, moves, _ = choice_map(plan, tmp_path, lambda foil, _: "A" if foil.number < 105 else "B")
    assert told == (3 / 12, 0.0)
    assert moves == ["U1 goes from A to B between line.foil 100 um and 110 um, in 3 of 3 such pairs"]


def test_an_input_that_changes_nothing_is_named(tmp_path):
    data = {**STUDY, "part": [{**GATE, "options": [{"outline": "SOT-23-5", "price": 0.03, "lead_weeks": 3}]}]}
    swept = run_sweep(plan_of("part[U1].options[SOT-23-5].lead_weeks=1,2", "costs.run=100,200", data=data), tmp_path)
    assert swept.found[0].idle == ("part[U1].options[SOT-23-5].lead_weeks",)


def test_spread_points_name_the_input_that_separates_the_choices(tmp_path):
    plan = plan_of("line.foil=80 um..120 um", "costs.run=100..10000 log", points=64)
    told, moves, _ = choice_map(plan, tmp_path, lambda _, run: "A" if run.number < 1000 else "B")
    assert told[1] == pytest.approx(1.0)
    assert told[0] < 0.2
    assert moves == []


def begun(module, *arguments):
    return subprocess.Popen([sys.executable, "-m", module, *arguments], stderr=subprocess.DEVNULL)


@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_gives_the_local_table(tmp_path):
    pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    told = tmp_path / "scheduler.json"
    made = [
        begun(
            *("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"),
            *("--scheduler-file", str(told)),
        )
    ]
    try:
        while not told.exists():
            assert made[0].poll() is None
            time.sleep(0.05)
        made += [
            begun(
                *("distributed.cli.dask_worker", "--scheduler-file", str(told), "--nthreads", "1", "--no-nanny"),
                *("--no-dashboard", "--local-directory", str(tmp_path / f"worker{n}")),
            )
            for n in (1, 2)
        ]
        address = json.loads(told.read_text())["address"]
        plan = plan_of("costs.run=100..20000/10", "part[U1].options[SC-70-5].price=0.03,0.3")
        killed = []

        def kill(done, whole, _):
            if done >= whole // 2 and not killed:
                killed.append(made[1])
                killed[0].kill()

        swept = run_sweep(plan, tmp_path / "cluster", on=address, progress=kill)
    finally:
        for one in reversed(made):
            one.kill()
        for one in made:
            one.wait()
    assert killed
    assert not swept.stopped
    run_sweep(plan, tmp_path / "local")
    assert table(tmp_path / "cluster") == table(tmp_path / "local")


def test_no_scheduler_is_one_sentence(tmp_path):
    pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    with pytest.raises(FileError, match="no scheduler answers"):
        run_sweep(plan_of("costs.run=1,2"), tmp_path, on="nothing://here")
