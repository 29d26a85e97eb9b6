"""Statements about answers: a limit shown at a confidence, and a tie on an existing board."""

from __future__ import annotations

import json

import pytest
from scipy.stats import norm

from landwise.board.choice import choose_board
from landwise.cli import main
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import study_from

MEMORY = Memory()


def compared(capsys, *flags):
    with pytest.raises(SystemExit) as ended:
        main(["compare", *flags, "--json"])
    assert ended.value.code == 0
    return json.loads(capsys.readouterr().out)


def chosen(**want):
    """A cheap leadless package against a dear leaded one, held to a paste transfer of 0.9 on one foil."""
    offered = [{"outline": "QFN-14-2.5x3", "price": 0.02}, {"outline": "TSSOP-14", "price": 0.9}]
    part = {"refs": ["U1"], "number": "74HC00", "terminals": 14, "options": offered}
    wishes = {"hidden_joints": "any", "supply": "any", "limits": {"transfer": 0.9}, **want}
    one = study_from({"part": [part], "want": wishes, "line": {"foils": ["100 um"], "foil": "100 um"}}, file="x")
    return choose_board(run_study(one, bench=Bench.of(one, MEMORY)), memory=MEMORY, reasons=False)


def named(result):
    return {option.name: option for option in result.parts[0].options}


def test_a_limit_that_is_held_at_a_lower_confidence_takes_out_at_a_higher_one():
    quad, usual = "QFN-14-2.5x3", chosen()
    transfer = named(usual)[quad].figures["transfer"]
    # scipy's normal distribution whose lower 5 % stands at the interval's low end
    held = norm.sf(0.9, transfer.value, (transfer.value - transfer.low) / norm.ppf(0.95))
    assert 0.8 < held < 0.95
    assert named(usual)[quad].unshown == ("transfer",)  # a condition where no confidence is asked for
    for sure in (None, 0.5, 0.8, 0.95):
        result = usual if sure is None else chosen(sure=sure)
        out = sure is not None and sure > held
        assert result.parts[0].chosen.name == ("TSSOP-14" if out else quad)
        assert [r.limit for r in named(result)[quad].rejections] == (["transfer"] if out else [])


def test_on_an_existing_board_todays_package_wins_a_tie(capsys):
    # One price for both: what little TSSOP-14 saves does not pay for the change of a board that exists.
    flags = ["--number", "74HC00", "--present", "SO-14", "--options", "SO-14=0.10, TSSOP-14=0.10", "--run", "1000"]
    kept, fresh = (compared(capsys, *flags, "--state", state) for state in ("existing", "new"))
    assert kept["parts"][0]["chosen"] == "SO-14"
    assert kept["answer"]["parts"][0]["options"][0] == "SO-14"
    assert fresh["parts"][0]["chosen"] == "TSSOP-14"
