"""Current at rest of gates against data sheets' limits, read as printed."""

from __future__ import annotations

from landwise.costs.quiescent import quiescent_ua


def test_limits_at_rest_are_the_data_sheets():
    # MC74HC1G08: maximum quiescent supply current 10 µA for TA ≤ 85 °C; CD74HC08 and CD74HCT08: 20 µA, −40 to 85 °C;
    # 74VHCT08A: 20 µA, −40 to 85 °C; 74LCX08: 10 µA, −40 to 85 °C.
    assert quiescent_ua("HC", True) == 10.0
    assert quiescent_ua("HC", False) == quiescent_ua("HCT", False) == quiescent_ua("VHCT", False) == 20.0
    assert quiescent_ua("LCX", False) == 10.0
    # Three singles may draw more at rest than one quad.
    assert 3 * quiescent_ua("HC", True) > quiescent_ua("HC", False)
