"""The commands that show what everything rests on."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from landwise.cli import main
from landwise.errors import InputError
from landwise.evidence import all_sources
from landwise.evidence import checks as listed
from landwise.evidence.checks import all_checks


def run(*arguments):
    with pytest.raises(SystemExit) as end:
        main(list(arguments))
    return end.value.code


def test_only_checks_against_the_outside_are_counted(capsys):
    assert run("checks", "--json") == 0
    rows = json.loads(capsys.readouterr().out)
    assert {row["kind"] for row in rows} == {"outside"}
    assert all(row["verdict"] == "holds" and row["mark"] != "from memory" for row in rows)
    assert run("checks", "--all", "--json") == 0
    assert len(json.loads(capsys.readouterr().out)) == len(all_checks()) > len(rows)


def test_no_outside_check_calls_itself_computed_by_us():
    # What a general-purpose library computes is outside; what we compute from a source's constants is not.
    own = [c.says for c in all_checks() if c.kind == "outside" and "computed" in c.says and "library" not in c.says]
    assert own == []


def test_a_check_that_deviates_ends_with_1(monkeypatch, capsys):
    wrong = [replace(check, expected=check.expected * 1.5) for check in all_checks() if check.kind == "outside"][:1]
    monkeypatch.setattr(listed, "all_checks", lambda: tuple(wrong))
    assert run("checks") == 1
    assert "1 checks against the outside, 1 of them deviate" in capsys.readouterr().out


def test_a_check_of_no_known_kind_is_refused():
    with pytest.raises(InputError, match="unknown kind"):
        replace(all_checks()[0], kind="snapshot")


def test_sources_with_their_marks_and_what_rests_on_them(capsys):
    assert run("sources", "--json") == 0
    rows = {row["key"]: row for row in json.loads(capsys.readouterr().out)}
    assert set(rows) == set(all_sources())
    assert "leadless-cycles" in {name for row in rows.values() for name in row["rests_on_it"].get("formulas", ())}
    assert run("sources", "--mark", "from memory") == 0
    assert "verified]" not in capsys.readouterr().out
    assert run("sources", "--mark", "hearsay") == 2
    assert run("sources", "no-such-key") == 2
