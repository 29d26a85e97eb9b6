"""The board-design standard's spacing table between its cells, which are in proving/cases/service.toml."""

from __future__ import annotations

from itertools import pairwise

import pytest

from landwise.proving.tables import tables
from landwise.service.clearance import CONDITIONS, HAZARD_V, judge_spacing, spacing

TABLE = {(place, volts): value for place, volts, value in tables()["spacing"]["rows"]}
AT_1000_V = {place: value for place, _, value in tables()["spacing-slopes"]["rows"]}


@pytest.mark.parametrize("place", AT_1000_V)
def test_a_cell_ends_where_the_next_begins(place):
    # IPC-2221B table 6-1 (second-hand): up to and with each voltage, then the next cell; the slope from 500 V on.
    ends = [volts for one, volts in TABLE if one == place]
    for volts, following in pairwise(ends):
        assert spacing(volts + 0.1, place) == TABLE[place, following]
    slope = (AT_1000_V[place] - TABLE[place, 500]) / 500
    assert spacing(500.1, place) == pytest.approx(TABLE[place, 500] + 0.1 * slope)
    assert set(CONDITIONS) == set(AT_1000_V)


@pytest.mark.parametrize(("volts", "hazardous"), [(5, False), (42.4, False), (42.5, True), (325, True)])
def test_touch_voltage(volts, hazardous):
    # 42.4 V peak in dry conditions (from memory, standards for information equipment).
    assert judge_spacing(volts, 20.0).hazardous is hazardous
    assert HAZARD_V == 42.4
