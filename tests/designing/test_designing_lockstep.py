"""Prints designed on several foils side by side are, bit for bit, those designed on each foil alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from landwise.assembly.scatter import scatter
from landwise.designing import Designer, Line
from landwise.designing.curves import wall_curve
from landwise.designing.lockstep import Rated, alone, together
from landwise.lands import land_pattern
from landwise.outlines import find

LINE = Line(scatter(0.03, 0.05))
FINE = Line(scatter(0.02, 0.03), "nano-coated", "T5")
FOILS_UM = (150.0, 80.0, 100.0)


def designer(name, line=LINE):
    """With lands of its own, so that nothing is known of them yet."""
    part = find(name)
    return Designer(part, replace(land_pattern(part)), line)


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("TVSOP-14", LINE),  # leads
        ("SON-6-1.0x1.0", FINE),  # rests on its paste
        ("QFN-16-3x3", FINE),  # floats on its pad
        ("WLP-5-0.4", LINE),  # balls, held widely on one of the foils
        ("SON-5-0.8x0.8", LINE),  # a terminal in the middle
        ("DIP-14", LINE),  # drilled
    ],
)
def test_together_is_as_alone(name, line):
    each = [designer(name, line).design(foil_um) for foil_um in FOILS_UM]
    assert designer(name, line).designs(FOILS_UM) == each  # every margin and every rate of them too
    assert [one.foil.thickness_um for one in each] == list(FOILS_UM)


def test_a_foil_that_has_nothing_to_search_drops_out():
    found = designer("WLP-5-0.4").designs((80.0, 150.0))
    assert [one.reason for one in found] == ["wide enough", "designed"]


def test_each_is_answered_for_its_own_foil_curves_and_designs():
    ours = designer("QFN-16-3x3")
    cases = [ours.case(foil_um) for foil_um in FOILS_UM]
    rows = [np.linspace(*case.bounds, 3 + k) for k, case in enumerate(cases)]  # as many as are filled up to the most

    def asking(k):
        case = cases[k]
        pastes = (wall_curve,) if k == 1 else case.pastes
        return (yield Rated(case.foil_um, case.balance, rows[k], tuple(zip(pastes, case.centres, strict=False))))

    both = together(ours.frame, LINE, [asking(k) for k in range(3)])
    for k, (table, rates) in enumerate(both):
        own, expected = alone(ours.frame, LINE, asking(k))
        assert rates.margin.shape == (1 if k == 1 else 3, 3 + k)
        assert np.array_equal(rates.defects, expected.defects)
        assert np.array_equal(rates.seat_um, expected.seat_um)
        for number, ratio in expected.ratio.items():
            assert np.array_equal(rates.ratio[number], ratio)
            assert np.array_equal(rates.metal[number], expected.metal[number])
            assert np.array_equal(table.sizes[number].narrow, own.sizes[number].narrow)
        for pair, other in zip(table.pairs, own.pairs, strict=True):
            assert np.array_equal(pair.gap, other.gap)
    # The foils differ, so a swapped answer would show.
    assert not np.array_equal(both[0][1].margin[:, :3], both[2][1].margin[:, :3])


def test_searches_that_ask_for_nothing_end_in_their_order():
    def ends(value):
        return value
        yield

    assert together(None, LINE, [ends(k) for k in range(3)]) == [0, 1, 2]
    assert together(None, LINE, []) == []
