"""Rates, yields and their intervals against plain counting on all shipped lines, by a path of its own."""

from __future__ import annotations

import pytest
from assembly_counted import LINES, LOOSE, Case, apart

ASSEMBLIES = 20_000  # benchmarks/counted.py takes a million
SEEN = 15 / ASSEMBLIES  # rates below come too seldom to be told from a normal number


@pytest.fixture(scope="module")
def compared():
    """Every part on every line: bridges, opens and bad parts, both ways."""
    return {(part, line): apart(Case(part, line), ASSEMBLIES, asked=0.02) for part in LOOSE for line in LINES}


@pytest.mark.parametrize("part", LOOSE)
def test_bridges_opens_and_yield_are_those_of_plain_counting_on_every_line(compared, part):
    told = [(line, what, *found) for line in LINES for what, found in compared[part, line].items()]
    seen = [one for one in told if one[4] >= SEEN]
    # Of nine comparisons few may fall out because a line does that too seldom: each kind is seen at least twice.
    for what in ("bridges", "opens", "bad parts"):
        assert sum(one[1] == what for one in seen) >= 2
    for line, what, errors, ours, counted in told:
        # 45 comparisons, and an error known from 16 repetitions: of so many numbers of Student's t with 15 degrees of
        # freedom one in 20 tries has one beyond 4.
        assert abs(errors) < 4.0 if counted >= SEEN else ours < 2 * SEEN, (line, what, ours, counted)


def test_intervals_hold_the_count_as_often_as_they_say(compared):
    # 1.645 standard errors of both together are a 90 % interval; the three kinds on one line hang together, so that 45
    # comparisons scatter as fewer would: 80 % is two standard errors of some thirty below.
    errors = [errors for one in compared.values() for errors, _, counted in one.values() if counted >= SEEN]
    assert len(errors) > 35
    assert sum(abs(one) < 1.645 for one in errors) >= 0.8 * len(errors)


def test_a_wrong_term_would_be_seen():
    # The comparison can fail: with a fifth less slump counted than the rates are worked with, bridges are far apart.
    case = Case("TSSOP-14", "ordinary")

    class Less(Case):
        @property
        def terms(self):
            return {**super().terms, "slump_share": 0.8 * super().terms["slump_share"]}

    assert abs(apart(Less(case.part, case.line), ASSEMBLIES)["bridges"][0]) > 10
