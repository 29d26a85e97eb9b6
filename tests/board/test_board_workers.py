"""Work shared between processes: every piece once, by whoever is free."""

from __future__ import annotations

import operator

from landwise.board.workers import Helpers


def test_every_piece_is_worked_once_and_this_process_takes_its_share():
    # What the helper holds is told from what this process holds by its sign. It has pieces at hand that this process
    # can't take back, however long it takes to start.
    with Helpers(int, "-3", 1) as helpers:
        found = dict(helpers.shared_out(operator.mul, range(1, 40), 3, lambda: False))
    assert set(found) == set(range(1, 40))
    assert all(abs(outcome) == 3 * piece for piece, outcome in found.items())
    assert {outcome > 0 for outcome in found.values()} == {True, False}


def test_a_stop_leaves_the_rest():
    done = []
    with Helpers(int, "2", 1) as helpers:
        for piece, _ in helpers.shared_out(operator.mul, range(20), 2, lambda: len(done) >= 3):
            done.append(piece)
    assert 3 <= len(done) < 20


def test_none_is_started_before_it_is_asked():
    with Helpers(int, "2", 3) as helpers:
        helpers.at_most(1)
        assert (helpers.there, helpers.count) == (False, 1)
        assert helpers.begin(operator.mul, 4).result() == 8
        assert helpers.there
