"""The commands that show what everything rests on."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from landwise import proving
from landwise.cli import main
from landwise.evidence import all_sources


def run(*arguments):
    with pytest.raises(SystemExit) as end:
        main(list(arguments))
    return end.value.code


def test_only_checks_against_the_outside_are_counted(capsys):
    assert run("checks", "fill", "--json") == 0
    rows = json.loads(capsys.readouterr().out)
    assert rows
    assert {row["kind"] for row in rows} == {"outside"}
    assert all(row["verdict"] == "holds" and row["mark"] != "from memory" and row["source"] for row in rows)
    assert run("checks", "fill", "--all", "--json") == 0
    assert len(json.loads(capsys.readouterr().out)) > len(rows)
    assert run("checks", "paste-in-hole", "powder-openings", "--all") == 2
    assert run("checks", "powder-openings") == 2
    assert run("checks", "powder-openings", "--all") == 0
    assert "0 checks against the outside from 0 sources" in capsys.readouterr().out


def test_a_check_says_expected_computed_deviation_source_mark_and_kind(capsys):
    assert run("checks", "carrier-profile") == 0
    out = capsys.readouterr().out
    for said in (
        "expected 1.14694",
        "computed 1.1",
        "deviation",
        "outside, worked, second-hand",
        "Random profile area",
    ):
        assert said in " ".join(out.replace("\u2009", " ").split()), said
    assert "1 check against the outside from 1 source, none deviates" in out


def test_catalogue_rows_are_counted_apart(capsys):
    assert run("checks", "SO-8:") == 0
    out = capsys.readouterr().out
    assert "\n0 checks against the outside from 0 sources, none deviates" in out
    assert "apart from them 1" in out


def test_a_known_deviation_is_shown_and_counted_and_ends_with_0(capsys):
    assert run("checks", "transfer-bounds", "--deviating") == 0
    out = capsys.readouterr().out
    assert "known: " in out
    assert "1 deviates" in out
    assert out.count("expected") == 1


def test_a_check_that_deviates_ends_with_1(monkeypatch, capsys):
    first = next(case for case in proving.all_cases() if case.table == "torsion")
    wrong = replace(first, expected=first.expected * 1.5, low=first.low * 1.5, high=first.high * 1.5)
    monkeypatch.setattr(proving, "all_cases", lambda: (wrong,))
    assert run("checks") == 1
    assert "1 check against the outside from 1 source, 1 deviates" in capsys.readouterr().out


def test_every_source_says_what_rests_on_it():
    # What nothing rests on is a leftover: it goes, or what uses it says so.
    rests = proving.resting()
    idle = [key for key in all_sources() if not any(rests.get(key, {}).values())]
    assert idle == []


def test_sources_with_their_marks_and_what_rests_on_them(capsys):
    assert run("sources", "--json") == 0
    rows = {row["key"]: row for row in json.loads(capsys.readouterr().out)}
    assert set(rows) == set(all_sources())
    assert "leadless-cycles" in {name for row in rows.values() for name in row["rests_on_it"].get("formulas", ())}
    assert run("sources", "--mark", "from memory") == 0
    assert "verified]" not in capsys.readouterr().out
    assert run("sources", "--mark", "hearsay") == 2
    assert run("sources", "no-such-key") == 2
