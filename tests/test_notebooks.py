"""The notebooks of the documents run from top to bottom, and are kept without what they print."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).resolve().parents[1] / "docs" / "notebooks").glob("*.ipynb"))
MOST_LINES = 20  # of one cell


def cells(path):
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def run(path):
    """Work the code cells in one namespace, as a notebook's kernel does, and give it back."""
    names = {"__name__": "__main__"}
    for number, cell in enumerate(cells(path)):
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), f"{path.name}, cell {number}", "exec"), names)
    return names


def test_there_are_notebooks():
    assert {path.stem for path in NOTEBOOKS} >= {"one_part", "own_line", "bill_to_order"}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_nothing_that_a_notebook_printed_is_kept_and_cells_are_short(path):
    data = json.loads(path.read_text(encoding="utf-8"))
    assert (data["nbformat"], data["nbformat_minor"]) == (4, 5)
    assert len({cell["id"] for cell in data["cells"]}) == len(data["cells"])
    for cell in data["cells"]:
        assert len(cell["source"]) <= MOST_LINES
        if cell["cell_type"] == "code":
            assert (cell["outputs"], cell["execution_count"]) == ([], None)
        for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", "".join(cell["source"])):
            assert (path.parent / target).exists(), target


def test_the_notebook_of_one_part_runs_and_ends_where_its_text_says(capsys):
    (path,) = (one for one in NOTEBOOKS if one.stem == "one_part")
    names = run(path)
    assert names["part"].chosen.name in {"SOT-23-5", "SC-70-5"}
    # By hand: 0.60·0.35 over 2·(0.60 + 0.35)·0.125.
    assert names["found"].outputs["area_ratio"] == pytest.approx(0.21 / 0.2375)
    said = capsys.readouterr().out
    assert len(re.findall(r"least area ratio", said)) == 3
    ratios = [float(one) for one in re.findall(r"least area ratio ([\d.]+)", said)]
    assert ratios == sorted(ratios, reverse=True)  # a thicker foil has the smaller ratio


def test_the_notebook_from_a_bill_to_an_order_orders_what_was_chosen(capsys):
    (path,) = (one for one in NOTEBOOKS if one.stem == "bill_to_order")
    names = run(path)
    assert names["done"].exit_code == 0, names["done"].output
    ordered = list(csv.DictReader((names["folder"] / "order.csv").read_text(encoding="utf-8").splitlines()))
    # By hand: two gates and one buffer a board, 1000 boards, one per cent lost.
    assert [(row["references"], row["pieces"]) for row in ordered] == [("U1 U2", "2020"), ("U3", "1010")]
    quoted = {"SOT-23-5", "SC-70-5"}
    assert {row["package"] for row in ordered} <= quoted
    assert {path.stem.rpartition("-")[2] for path in names["folder"].glob("*.gbr")} >= {"copper", "mask", "paste"}
    assert "4 offers of 2 functions" in capsys.readouterr().out


def test_the_notebook_of_an_own_line_finds_what_was_put_in(capsys):
    (path,) = (one for one in NOTEBOOKS if one.stem == "own_line")
    names = run(path)
    assert names["done"].exit_code == 0, names["done"].output
    low, high = map(float, re.findall(r"2400 \(400\) \| [\d.]+% \[([\d.]+)%, ([\d.]+)%\]", names["table"])[0])
    assert low < 85 < high  # the invented line's mean
    assert "2400 deposits used on 6 panels" in capsys.readouterr().out
