"""The driver of `make mutants` changes one number at a time; what its last run left unnoticed has a reason."""

from __future__ import annotations

import difflib
import json
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
import mutate  # noqa: E402

ROWS = [json.loads(line) for line in (HERE / "results.jsonl").read_text(encoding="utf-8").splitlines()]


@pytest.mark.parametrize("room", mutate.ROOMS)
def test_a_mutant_changes_one_number_of_one_line(room):
    found = mutate.mutants(room)
    assert len(found) > 50
    assert len({one.key for one in found}) == len(found)
    for one in mutate.sample(found, 15):
        before = (mutate.SOURCE / one.file).read_text(encoding="utf-8")
        lines = [line for line in difflib.ndiff(before.split("\n"), one.text().split("\n")) if line[0] in "+-"]
        assert [line[0] for line in lines] == ["-", "+"], one.key


def test_what_the_last_run_left_unnoticed_has_a_reason():
    assert len(ROWS) > 100
    assert {row["room"] for row in ROWS} == set(mutate.ROOMS)
    assert [row["key"] for row in ROWS if not row["noticed"] and mutate.reason_of(row["key"]) is None] == []


def test_the_page_is_that_of_the_last_run():
    assert (mutate.ROOT / "docs" / "mutants.md").read_text(encoding="utf-8") == mutate.page(ROWS)
