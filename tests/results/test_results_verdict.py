"""No green word over what fails: an option's worst binding verdict, worked here apart, against every place it is told.

And one ranking: a part stands as it does in `compare` when the other parts of its board are held.
"""

from __future__ import annotations

import csv
import io
import itertools
import tomllib
from pathlib import Path

import pytest

from invented_parts import LITTLE_GATE
from landwise.board.choice import choose_board, rank_each
from landwise.board.result import board_result
from landwise.cli.terminal import board_table, options_table
from landwise.fabdata.bills import read_bill
from landwise.fabdata.parts import recognise
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.file import options_csv, result_data
from landwise.sheets.cards import candidate_of
from landwise.sheets.reportdata import content_of
from landwise.sheets.workbook import sheets_of
from landwise.study.file import study_from
from landwise.study.start import study_text

BOARDS = Path(__file__).resolve().parents[2].parent / "shared" / "boards"
GATE = LITTLE_GATE | {
    "options": [{"outline": name, "price": 0.05} for name in ("SOT-23-5", "SC-70-5", "SON-6-1.0x1.0", "WLP-5-0.5")]
}
REGISTER = {
    "refs": ["U3"],
    "number": "595",
    "family": "HC",
    "terminals": 16,
    "package": "DIP-16",
    "options": [{"outline": name, "price": 0.1} for name in ("DIP-16", "SO-16", "TSSOP-16")],
}
# Each breaks one kind of limit, or leaves it not shown, for some of the options.
STUDIES = {
    "plain": {},
    "a life that some are not shown to hold": {"want": {"limits": {"life": "12 years"}}},
    "loads that some fail": {"use": {"environment": "under-hood", "years": 20}},
    "hot and high": {"use": {"voltage": "60 V", "environment": "industrial"}},
    "any figure of the study's own": {"want": {"limits": {"pull": "20 N", "bounce": "0.1 V", "area-ratio": 0.9}}},
    "shown at a confidence": {"want": {"limits": {"bridging": 1e-6}, "sure": 0.95}},
    "what may be bought": {"want": {"most_price_spread": 0.01}},
    "a foil thinner than leads are uneven": {"line": {"foils": ["70 um"], "foil": "70 um"}},
}
MEMORY = Memory()


def judged(**tables):
    one = study_from({"part": [GATE, REGISTER], **tables})
    return run_study(one, bench=Bench.of(one, MEMORY))


def may_be_green(option, content) -> bool:
    """The definition, apart from the project's own: nothing fails, and what binds is held over all of its interval."""
    if option.rejections or option.geometry.printed.verdict != "holds":
        return False
    for key, figure in option.figures.items():
        if figure.verdict == "fails":
            return False
        low = figure.value if figure.low is None else figure.low
        high = figure.value if figure.high is None else figure.high
        if key in ("life", "test-life", "clearance", "bridging", "junction-temperature", "vibration", "shock"):
            if figure.verdict == "marginal":
                return False
            if figure.limit is not None and figure.value is not None:
                if figure.better == "less" and high > figure.limit:
                    return False
                if figure.better == "more" and low < figure.limit:
                    return False
            if key in ("life", "test-life") and figure.limit is not None and figure.value is None:
                return figure.verdict == "holds"
    return not [key for key in content.want.limits if key in option.unshown]


def told(result) -> dict[tuple[str, str], set[str]]:
    """Every verdict of every option, as each output words it, by part and outline."""
    found: dict[tuple[str, str], set[str]] = {}
    for part in result.parts:
        table = options_table(part, limit=99)
        for name, word in zip(table.columns[1].cells, table.columns[4].cells, strict=False):
            found.setdefault((part.part.refs[0], str(name)), set()).add(str(word).split(maxsplit=1)[1])
        for option in part.options:
            word = candidate_of(option, part, result.judged).verdict
            found.setdefault((part.part.refs[0], option.name), set()).add(word)
    for row in csv.DictReader(io.StringIO(options_csv(result))):
        found[row["refs"].split()[0], row["outline"]].add(row["verdict"])
    for part in result_data(result)["parts"]:
        for option in part["options"]:
            found[part["refs"][0], option["outline"]].add(option["verdict"])
    return found


def require_true(result) -> int:
    """How many options fall short, after no output was found to hide it."""
    words, short = told(result), 0
    for part in result.parts:
        for option in part.options:
            seen = words[part.part.refs[0], option.name]
            assert len(seen) == 1, (option.name, seen)
            if not may_be_green(option, result.content):
                short += 1
                assert seen != {"holds"}, (part.name, option.name)
    chosen = {part.name: part.chosen.name for part in result.parts if part.chosen}
    for sheet in sheets_of(result):
        for row in sheet.rows if "verdict" in sheet.heads and "choice" in sheet.heads else ():
            cells = dict(zip(sheet.heads, row, strict=True))
            part = next(one for one in result.parts if ", ".join(one.part.refs) == row[0])
            if part.chosen and not may_be_green(part.chosen, result.content):
                assert cells["verdict"] != "holds"
    shown = ["".join(text for text, _ in line) for line in board_table(board_result(result)).lines(200)]
    for line, part in zip(shown[1:], result.parts, strict=True):
        if part.chosen and not may_be_green(part.chosen, result.content):
            assert "holds" not in line, chosen
    content_of(result)  # its own words are those of the tables above
    return short


@pytest.mark.parametrize("name", STUDIES)
def test_no_green_word_stands_over_what_fails_or_is_not_shown(name):
    short = require_true(board_result(judged(**STUDIES[name])))
    assert short >= (0 if name == "plain" else 1)


def test_a_limit_of_the_study_that_is_not_shown_is_said_at_the_option():
    result = judged(want={"limits": {"life": "12 years"}})
    options = [option for part in result.parts for option in part.options]
    states = {bool(option.unshown) for option in options if not option.rejections}
    assert True in states
    for part in result.parts:
        table = options_table(part, limit=99)
        for name, tail in zip(table.columns[1].cells, table.columns[-1].cells, strict=False):
            option = next(one for one in part.options if one.name == str(name))
            assert not option.unshown or option.rejections or "not shown: life" in str(tail)


@pytest.mark.skipif(not BOARDS.is_dir(), reason="../shared is not here")
@pytest.mark.parametrize("bill", ["retro-dip/bom.csv"])
def test_real_bills_tell_the_truth(bill):
    one = study_from(
        tomllib.loads(study_text(recognise(read_bill(BOARDS / bill)), bill=bill, placement=None, board="board"))
    )
    require_true(board_result(run_study(one, bench=Bench.of(one, MEMORY))))


def standing(result, ref):
    part = result.part(ref)
    return dict(part.standing.more), dict(part.standing.wins)


def test_a_part_stands_on_its_board_as_it_does_alone_with_the_others_held():
    line = {"foils": ["100 um"]}
    whole = choose_board(judged(line=line), memory=MEMORY)
    names = {part.part.refs[0]: part.chosen.name for part in whole.parts}
    for mine, other in itertools.permutations((GATE, REGISTER)):
        ref, held = mine["refs"][0], other["refs"][0]
        locked = {**other, "package": names[held], "locked": True}
        one = study_from({"part": [mine, locked], "line": line})
        alone = choose_board(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY)
        more, wins = standing(alone, ref)
        assert more == pytest.approx(standing(whole, ref)[0], rel=1e-9, abs=1e-12)
        assert list(more) == list(standing(whole, ref)[0])
        assert wins == pytest.approx(standing(whole, ref)[1], abs=1e-12)
    # Each part by itself holds the others at today's packages: the same where those are what the board takes.
    today = [{**part, "package": names[part["refs"][0]]} for part in (GATE, REGISTER)]
    one = study_from({"part": today, "line": line})
    each = rank_each(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY)
    for ref in names:
        assert standing(each, ref)[0] == pytest.approx(standing(whole, ref)[0], rel=1e-9, abs=1e-12)
