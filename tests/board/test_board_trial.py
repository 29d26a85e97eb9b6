"""The trial that settles a choice: proposed where it pays, with forms that are read back. The board is invented."""

from __future__ import annotations

import tomllib

import pytest

from landwise.board.choice import choose_board
from landwise.board.trial import SIZES, proposals, zero_failures
from landwise.errors import InputError
from landwise.fabdata.defectcounts import read_defects
from landwise.judging.study import run_study
from landwise.sheets.trialsheet import counts_form, cycling_form, sheet_text, trial_files
from landwise.study.file import study_from

PART = {
    "refs": ["U1", "U2"],
    "number": "00",
    "family": "LVC",
    "terminals": 14,
    "options": [
        {"outline": "TSSOP-14", "price": 0.10},
        {"outline": "QFN-14-2.5x3", "price": 0.085},
        {"outline": "SO-14", "price": 0.12},
    ],
}


def chosen(run):
    board = {"board": {"name": "trial board (invented)"}, "line": {"inspection": ["optical", "x-ray"]}}
    return choose_board(run_study(study_from({**board, "costs": {"run": run}, "part": [PART]}))).choice


@pytest.fixture(scope="module")
def many():
    return chosen(1_000_000)


@pytest.fixture(scope="module")
def proposal(many):
    (found,) = proposals(many, "U2")
    return found


def test_a_trial_is_worth_its_price_only_on_many_boards(proposal):
    assert proposal.part == "U1"
    assert set(proposal.rivals) <= {"QFN-14-2.5x3", "TSSOP-14", "SO-14"}
    assert proposal.chosen is not None
    price = proposal.prices[SIZES.index(proposal.chosen.size)]
    assert proposal.chosen.gain - price > proposal.chosen.error
    (few,) = proposals(chosen(200), "U1")
    assert few.chosen is None


def test_no_size_is_worth_more_than_knowing_everything(proposal):
    assert all(one.gain <= proposal.everything + 2 * one.error for one in proposal.trials)


def test_the_sheet_says_what_to_build_and_when_to_stop(many, proposal):
    files = trial_files([proposal], many)
    sheet = files["trial.md"].decode()
    assert f"**Build {proposal.chosen.size} of each of" in sheet
    assert "Count, and stop" in sheet
    assert {"U1/copper.gbr", "U1/mask.gbr", "U1/outline.gbr", "U1/placement.csv", "U1/counts.csv"} <= set(files)
    assert sum(name.startswith("U1/paste-") for name in files) == 2
    (few,) = proposals(chosen(200), "U1")
    assert "Not worth building" in sheet_text([few], {"U1": _Any()}, many)


class _Any:
    """A coupon that nobody draws."""

    size_mm = (1.0, 1.0)
    spots = ()
    chains = ()


def test_the_form_is_refused_while_empty_and_read_once_filled(tmp_path, proposal):
    path = tmp_path / "counts.csv"
    path.write_text(counts_form(proposal))
    with pytest.raises(InputError, match="not a count"):
        read_defects(path)
    path.write_text(counts_form(proposal).replace(",,", ",2,70000"))
    counted, left = read_defects(path)
    assert {one.package for one in counted} == set(proposal.rivals)
    assert not left


def test_the_form_of_a_cycling_test_is_a_table_of_the_study(proposal):
    text = cycling_form(proposal.lives)
    assert proposal.lives
    filled = text.replace("samples = 0", "samples = 30").replace("cycles = 0 ", "cycles = 1500 ")
    study = study_from({"use": tomllib.loads("[use]\n" + filled)["use"], "part": [PART]})
    assert study.content.use.tests[0].samples == 30


def test_a_success_run_has_the_textbook_sizes():
    """22 parts for 90 % at 90 %, 45 for 95 % at 90 %, 230 for 99 % at 90 % (success-run theorem, from memory)."""
    assert [zero_failures(1 - r, 0.9) for r in (0.9, 0.95, 0.99)] == [22, 45, 230]
    assert zero_failures(0.01, 0.9, multiple=2.0, slope=2.0) == 58
    with pytest.raises(InputError):
        zero_failures(0.0, 0.9)


def test_a_part_that_is_not_chosen_is_named(many):
    with pytest.raises(InputError, match="no such part"):
        proposals(many, "U9")
