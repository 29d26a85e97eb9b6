"""The board-design standard's spacing table, every cell (IPC-2221B table 6-1, second-hand); 42.4 V from memory."""

from __future__ import annotations

import pytest

from landwise.service.clearance import CONDITIONS, HAZARD_V, judge_spacing, spacing

UPPER_V = (15, 30, 50, 100, 150, 170, 250, 300, 500)
TABLE = {
    "b1": (0.05, 0.05, 0.1, 0.1, 0.2, 0.2, 0.2, 0.2, 0.25),
    "b2": (0.1, 0.1, 0.6, 0.6, 0.6, 1.25, 1.25, 1.25, 2.5),
    "b3": (0.1, 0.1, 0.6, 1.5, 3.2, 3.2, 6.4, 12.5, 12.5),
    "b4": (0.05, 0.05, 0.13, 0.13, 0.4, 0.4, 0.4, 0.4, 0.8),
    "a5": (0.13, 0.13, 0.13, 0.13, 0.4, 0.4, 0.4, 0.4, 0.8),
    "a6": (0.13, 0.25, 0.4, 0.5, 0.8, 0.8, 0.8, 0.8, 1.5),
    "a7": (0.13, 0.13, 0.13, 0.13, 0.4, 0.4, 0.4, 0.8, 0.8),
}
PER_VOLT = {"b1": 0.0025, "b2": 0.005, "b3": 0.025, "b4": 0.00305, "a5": 0.00305, "a6": 0.00305, "a7": 0.00305}
CELLS = [(name, volts, value) for name, row in TABLE.items() for volts, value in zip(UPPER_V, row, strict=True)]


@pytest.mark.parametrize(("name", "volts", "value"), CELLS)
def test_every_cell_and_the_end_of_its_row(name, volts, value):
    assert spacing(volts, name) == value
    following = UPPER_V[UPPER_V.index(volts) + 1] if volts < 500 else None
    after = TABLE[name][UPPER_V.index(following)] if following else round(value + 0.1 * PER_VOLT[name], 9)
    assert spacing(volts + 0.1, name) == pytest.approx(after)


@pytest.mark.parametrize("name", TABLE)
def test_slopes_start_at_500_volts(name):
    assert spacing(1000, name) == pytest.approx(TABLE[name][-1] + 500 * PER_VOLT[name])
    assert set(CONDITIONS) == set(TABLE)


@pytest.mark.parametrize(("volts", "hazardous"), [(5, False), (42.4, False), (42.5, True), (325, True)])
def test_touch_voltage(volts, hazardous):
    # 42.4 V peak in dry conditions (from memory, standards for information equipment).
    assert judge_spacing(volts, 20.0).hazardous is hazardous
    assert HAZARD_V == 42.4
