"""Ten situations of our own with the packages that an experienced engineer accepts: common practice, no source."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from landwise.board.choice import choose_board
from landwise.cli import main
from landwise.judging.study import run_study
from landwise.study.file import study_from
from whole import WHOLE

CASES = tomllib.loads((Path(__file__).with_name("situations.toml")).read_text(encoding="utf-8"))["case"]
TRIED = CASES if WHOLE else CASES[::5]  # all of them are part of `make whole`


def chosen(case, capsys):
    """The package of the first part, as the command or the study gives it."""
    if "study" in case:
        return choose_board(run_study(study_from(tomllib.loads(case["study"]))), reasons=False).parts[0].chosen.name
    with pytest.raises(SystemExit) as ended:
        main(["compare", *case["args"], "--json"])
    assert ended.value.code == 0
    return json.loads(capsys.readouterr().out)["parts"][0]["chosen"]


def accepted(name, case):
    return name.startswith(tuple(case["good"])) and not name.startswith(tuple(case.get("bad", ["-"])))


@pytest.mark.parametrize("case", TRIED, ids=[case["name"] for case in TRIED])
def test_the_choice_is_one_that_an_engineer_signs(case, capsys):
    assert case["why"]
    name = chosen(case, capsys)
    assert accepted(name, case), f"{name}; accepted: {', '.join(case['good'])}, because {case['why']}"


THEMED = [case for case in CASES if "without" in case]


@pytest.mark.parametrize("case", THEMED, ids=[case["name"] for case in THEMED])
def test_what_a_case_is_about_is_what_moves_its_choice(case, capsys):
    """With the wish the study takes what an engineer signs, and without that one line it takes another package."""
    assert accepted(chosen(case, capsys), case)
    calm = case | {"study": case["study"].replace(case["without"]["take"], "")}
    assert calm["study"] != case["study"]
    assert accepted(chosen(calm, capsys), case["without"])


def test_the_cases_tell_good_from_bad():
    assert len(CASES) == 10
    for case in CASES:
        assert not accepted("none", case)
        assert not any(accepted(name, case) for name in case.get("bad", []))
