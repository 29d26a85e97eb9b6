"""`compare` and `study` tell the same: every option of every part, on boards that somebody built and on our examples.

An option's figures are those of the question about it alone; what the board pays more for it, the other parts held, is
what a study tells in which nothing but this part is open. Both to rounding, not to a share: nothing is drawn between.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from landwise.board.choice import choose_board
from landwise.fabdata.bills import read_bill
from landwise.fabdata.parts import recognise
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import study_from
from landwise.study.question import study_data
from landwise.study.start import study_text
from whole import WHOLE

HERE = Path(__file__).resolve().parents[2]
BOARDS = HERE.parent / "shared" / "boards"
# Every board is part of `make whole`.
BILLS = ("oc-debug/bom_mount.csv", "retro-dip/bom.csv", "bbai/BeagleBone-AI_bom.csv", "limesdr/bom.csv")[
    : 4 if WHOLE else 1
]
BILLS_OF_ONE = (
    "interface-probe-c1/bom.csv",
    "fpga-feather/OrangeCrab-r0.2-bom.csv",
    "neo6502/Neo6502_Rev_B1_BOM.csv",
)[: 3 if WHOLE else 1]
SAME = {"rel": 1e-9, "abs": 1e-12}
MEMORY = Memory()


def started(bill):
    text = study_text(recognise(read_bill(BOARDS / bill)), bill=bill, placement=None, board="board")
    return on_one_foil(tomllib.loads(text))


def example(name):
    return on_one_foil(tomllib.loads((HERE / "examples" / name / "board.toml").read_text(encoding="utf-8")))


def on_one_foil(data):
    """A stated foil leaves the plans of inspection open, and saves designing every print for every foil."""
    return {**data, "line": {**data["line"], "foil": "100 um"}}


def chosen(data):
    one = study_from(data)
    return choose_board(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY, reasons=False)


def asked(part, data):
    """What somebody types who asks for one part of the board alone."""
    board, costs = data.get("board", {}), data.get("costs", {})
    # Gates carry a family between 74 and their digits, or a maker's own, which says itself that it holds one gate; what
    # a maker numbers itself stands as it is.
    number, family = part["number"], part.get("family", "")
    if number[0].isdigit():
        number = family + number.removeprefix("1G") if family[2:3].isdigit() else "74" + family + number
    return {
        "number": number,
        "terminals": part["terminals"],
        "present": part.get("package", ""),
        "voltage": data.get("use", {}).get("voltage"),
        "layers": board.get("layers"),
        "foil": data["line"].get("foil"),
        "run": costs.get("run"),
    }


def require_one_ranking(data):
    """The board's ranking of each part is that of a study in which the others are locked to what the board takes."""
    whole = chosen(data)
    parts = [part for part in whole.parts if part.chosen is not None and part.standing is not None]
    taken = {part.part.refs[0]: part.chosen.name for part in parts}
    ranked = 0
    for part in parts:
        ref = part.part.refs[0]
        held = [
            one
            if one["refs"][0] == ref or one["refs"][0] not in taken
            # What an existing board carries decides what changes: only the choice is locked, by its one option.
            else {**one, "options": _only(one, taken[one["refs"][0]])}
            for one in data["part"]
        ]
        alone = chosen({**data, "part": held}).part(ref)
        assert dict(alone.standing.more) == pytest.approx(dict(part.standing.more), **SAME), ref
        assert list(alone.standing.order) == list(part.standing.order)
        assert alone.chosen.name == part.chosen.name
        ranked += len(part.standing.more)
    return ranked


def _only(part, name):
    rows = part.get("options")
    if isinstance(rows, list):
        return [row for row in rows if row["outline"] == name]
    return [{"outline": name}]


def require_same_figures(data):
    """Every figure of every option is that of `compare` for the part alone; returns how many options were compared."""
    one = study_from(data)
    whole = run_study(one, bench=Bench.of(one, MEMORY))
    seen = 0
    for table, part in zip(data["part"], whole.parts, strict=True):
        alone = study_from(study_data(asked(table, data)))
        options = {option.name: option for option in run_study(alone, bench=Bench.of(alone, MEMORY)).parts[0].options}
        for option in part.options:
            other = options.get(option.name)
            assert other is not None, (part.name, option.name)
            mine = {key: (figure.value, figure.low, figure.high) for key, figure in option.figures.items()}
            assert {key: (f.value, f.low, f.high) for key, f in other.figures.items()} == mine, (part.name, option.name)
            seen += 1
    return seen


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
@pytest.mark.parametrize("bill", BILLS)
def test_real_boards_rank_a_part_as_a_study_of_it_alone(bill):
    assert require_one_ranking(started(bill)) >= 2


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
@pytest.mark.parametrize("bill", BILLS + BILLS_OF_ONE)
def test_compare_tells_the_figures_of_every_option_of_a_real_board(bill):
    assert require_same_figures(started(bill)) >= 2


@pytest.mark.parametrize("name", ["logger", "valves"])
def test_our_examples_rank_a_part_as_a_study_of_it_alone(name):
    assert require_one_ranking(example(name)) >= 6
