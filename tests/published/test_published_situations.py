"""Situations with the packages that an experienced engineer accepts: common practice, no source.

Fifty-seven of our own, and those that lie beside the project in `../shared`, if they do.
"""

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
TRIED = CASES if WHOLE else CASES[15::30]  # all of them are part of `make whole`
BESIDE = Path(__file__).resolve().parents[3] / "shared" / "expert_cases.toml"
NOTHING = "nothing"  # the package of a part that none fits
SETTLED = 11 / 14  # of them, as counted when this was written


def chosen(case, capsys):
    """The package of the first part, as the command or the study gives it."""
    if "study" in case:
        part = choose_board(run_study(study_from(tomllib.loads(case["study"]))), reasons=False).parts[0]
        return part.chosen.name if part.chosen else NOTHING
    with pytest.raises(SystemExit) as ended:
        main(["compare", *case["args"], "--json"])
    assert ended.value.code == 0
    return json.loads(capsys.readouterr().out)["parts"][0]["chosen"] or NOTHING


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


@pytest.mark.skipif(not BESIDE.is_file(), reason="../shared/expert_cases.toml is not here")
@pytest.mark.skipif(not WHOLE, reason="fourteen boards are judged: part of `make whole`")
def test_of_the_cases_beside_the_project_all_are_accepted_and_most_are_settled(capsys):
    """Settled: decided, or equal within what is known among packages that are all accepted."""
    cases = tomllib.loads(BESIDE.read_text(encoding="utf-8"))["case"]
    refused, settled = [], 0
    for case in cases:
        with pytest.raises(SystemExit) as ended:
            main(["compare", *case["args"], "--json"])
        assert ended.value.code == 0, case["name"]
        told = json.loads(capsys.readouterr().out)
        if not accepted(told["parts"][0]["chosen"], case):
            refused.append((case["name"], told["parts"][0]["chosen"]))
        answer = told["answer"]["parts"][0]
        settled += answer["kind"] == "decided" or (
            answer["kind"] == "equal" and all(accepted(name, case) for name in answer["options"])
        )
    assert refused == []
    assert settled >= SETTLED * len(cases)


def test_the_cases_tell_good_from_bad():
    assert len(CASES) == 57
    for case in CASES:
        assert not accepted("none", case)
        assert accepted(NOTHING, case) == (case["good"] == [NOTHING])
        assert not any(accepted(name, case) for name in case.get("bad", []))
