"""The comparison of two versions' outputs: what it lets pass, and that it sees each kind of change."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("compare_outputs.py")
_spec = importlib.util.spec_from_file_location("compare_outputs", SCRIPT)
assert _spec is not None
assert _spec.loader is not None
compare = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(compare)

OLD = {
    "one/result.json": '{"version": "1", "parts": [{"name": "U1", "cost": 0.1}], "firm": true}',
    "one/options.csv": "refs,cost\nU1,0.1\nU2,0.2\n",
    "one/lands/SO-14-paste.gbr": "%TF.GenerationSoftware,landwise,landwise,0.1.0*%\n%MOMM*%\nX1Y1D03*\nM02*\n",
    "card.svg": '<svg><text>landwise 0.1.0</text><path d="M0 0"/></svg>\n',
    "board.toml": "# comment\n[board]\nlayers = 2\n",
    "result.schema.json": "{}",
    "report.pdf": "not compared",
}
REBUILT = {
    "one/result.json": '{"parts": [{"cost": 0.1, "name": "U1", "key": "new"}], "firm": true, "version": "2"}',
    "one/options.csv": "refs,seen,cost\nU1,yes,0.1\nU2,no,0.2\n",
    "one/lands/SO-14-paste.gbr": "%TF.GenerationSoftware,landwise,landwise,9.9.9*%\n%MOMM*%\nX1Y1D03*\nM02*\n",
    "card.svg": '<svg><text>landwise 9.9.9</text><path d="M0 0"/></svg>\n',
    "board.toml": "# another comment\nboard = {layers = 2}\n",
    "result.schema.json": '{"more": 1}',
    "report.pdf": "is not compared",
    "new.csv": "a\n1\n",
}


def written(folder, files):
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_what_a_rebuild_may_add_is_no_difference(tmp_path, capsys):
    old, new = written(tmp_path / "old", OLD), written(tmp_path / "new", REBUILT)
    assert compare.main([str(old), str(new)]) == 0
    assert capsys.readouterr().out == "identical: 5 files, 1 new\n"


@pytest.mark.parametrize(
    ("name", "before", "after", "said"),
    [
        ("one/result.json", "0.1", "0.10000001", "parts[0].cost: 0.1 became 0.10000001"),
        ("one/result.json", "true", "1", "firm: true became 1"),
        ("one/result.json", '"name": "U1", ', "", 'parts[0].name: "U1" is gone'),
        ("one/result.json", '{"cost": 0.1, "name": "U1", "key": "new"}', "", "parts: 1 entries became 0"),
        ("one/options.csv", "U2,no,0.2", "U2,no,0.3", 'row 3, cost: "0.2" became "0.3"'),
        ("one/options.csv", "U2,no,0.2\n", "", "2 rows became 1"),
        ("one/options.csv", "cost", "price", "column cost is gone"),
        ("one/lands/SO-14-paste.gbr", "X1Y1", "X1Y2", 'line 2: "X1Y1D03*" became "X1Y2D03*"'),
        ("card.svg", "M0 0", "M0 1", "line 1: "),
        ("board.toml", "2", "4", "board.layers: 2 became 4"),
    ],
)
def test_each_kind_of_change_is_seen_and_told(tmp_path, capsys, name, before, after, said):
    changed = dict(REBUILT)
    if "key" not in before:
        changed[name] = changed[name].replace('"cost": 0.1, "name": "U1", "key": "new"', '"name": "U1", "cost": 0.1')
    assert before in changed[name]
    changed[name] = changed[name].replace(before, after)
    old, new = written(tmp_path / "old", OLD), written(tmp_path / "new", changed)
    assert compare.main([str(old), str(new)]) == 1
    first, last = capsys.readouterr().out.splitlines()
    assert first.startswith(f"{name}: {said}")
    assert last == "4 of 5 files identical, 1 new"


def test_a_file_that_is_no_longer_written_is_a_difference(tmp_path, capsys):
    old, new = written(tmp_path / "old", OLD), written(tmp_path / "new", REBUILT)
    (new / "card.svg").unlink()
    assert compare.main([str(old), str(new)]) == 1
    assert capsys.readouterr().out.startswith("card.svg: was not written\n")


def test_nothing_to_compare_is_an_error(tmp_path, capsys):
    assert compare.main([str(tmp_path), str(tmp_path)]) == 2
    assert "holds no file" in capsys.readouterr().err
