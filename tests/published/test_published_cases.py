"""Every published case of the package, worked: the same list that `landwise checks` and the workbench show."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from landwise.errors import InputError
from landwise.evidence import all_sources
from landwise.proving import all_cases, tally, work
from landwise.proving.tables import NOT_OUTSIDE, cases_of, tables

BY_TABLE = defaultdict(list)
for one in all_cases():
    BY_TABLE[one.table].append(one)


@pytest.mark.parametrize("table", BY_TABLE)
def test_cases_hold(table):
    # Source and mark stand in the case itself; a case that is known not to hold says why, and must not hold.
    wrong = [
        (dict(one.case.inputs), one.computed, one.case.low, one.case.high)
        for one in map(work, BY_TABLE[table])
        if (one.verdict == "holds") is bool(one.case.known)
    ]
    assert wrong == []


def test_enough_comes_from_outside():
    # 250 checks of 80 sources at least; the catalogue's rows against drawings are counted apart.
    outside = [case for case in all_cases() if case.kind == "outside"]
    counted = [case for case in outside if case.sort != "catalogue row"]
    assert sum(case.sort == "worked" for case in counted) >= 500
    assert len(counted) >= 800
    assert len({case.source for case in counted}) >= 130
    assert sum(bool(case.known) for case in outside) == 1


def test_no_check_from_outside_rests_on_what_was_recalled_or_worked_by_us():
    sources = all_sources()
    for case in all_cases():
        if case.kind == "outside":
            assert case.says
            assert case.mark not in NOT_OUTSIDE or sources[case.source].kind == "library"
            # A source read less well than its rows can't lend them its mark.
            weaker = ("verified", "second-hand").index(case.mark) if case.mark in ("verified", "second-hand") else 0
            assert weaker >= (0 if sources[case.source].mark != "second-hand" else 1)


def test_a_wrong_number_would_show():
    case = next(one for one in all_cases() if one.table == "torsion")
    wrong = replace(case, expected=case.expected * 1.5, low=case.low * 1.5, high=case.high * 1.5)
    assert work(wrong).verdict == "fails"
    word = next(one for one in all_cases() if one.table == "best-rectangles")
    assert work(replace(word, expected="does not fit")).verdict == "fails"
    bound = next(one for one in all_cases() if one.table == "fatigue-bounds")
    far = work(replace(bound, low=1e12))
    assert far.verdict == "fails"
    assert far.deviation < 0
    assert tally([work(wrong), work(case)], "outside", "worked") == tally([work(case), work(wrong)], "outside")


@pytest.mark.parametrize("change", [{"kind": "snapshot"}, {"mark": "hearsay"}, {"sort": "x"}, {"source": ""}])
def test_a_case_of_no_known_kind_is_refused(change):
    with pytest.raises(InputError):
        replace(next(one for one in all_cases() if one.table == "torsion"), **change)


def test_memory_is_never_outside():
    case = next(one for one in all_cases() if one.kind == "outside")
    with pytest.raises(InputError, match="no check against the outside"):
        replace(case, mark="from memory")


def test_a_row_that_does_not_fit_its_columns_is_refused():
    table = {**tables()["torsion"], "rows": [[1.0, 0.141]]}
    with pytest.raises(InputError, match="does not fit its columns"):
        list(cases_of(table, "joints.toml"))
