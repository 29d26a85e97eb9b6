"""The print window agrees with the verdicts it is made of, foil by foil and reduction by reduction."""

from __future__ import annotations

import pytest

from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import foil_window
from landwise.printing.apertures import ApertureRules
from landwise.printing.window import print_window
from landwise.sheets.clashes import texts_clash
from landwise.sheets.windowchart import window_picture

REDUCTIONS = (0.0, 10.0, 20.0, 30.0, 40.0)


@pytest.mark.parametrize("name", ["TSSOP-48", "QFN-20-2.5x4.5", "SOT-5x3-5", "SON-6-1.0x1.0"])
def test_limits_are_where_verdicts_change(name):
    outline = find(name)
    pattern = land_pattern(outline)
    window = print_window(pattern, REDUCTIONS, outline=outline)
    assert window is not None
    for um, holds, works in zip(window.reductions_um, window.holds_um, window.works_um, strict=True):
        rules = ApertureRules(reduction_mm=um / 1000)
        foils = (holds * 0.999, holds * 1.001, works * 0.999, works * 1.001)
        told = [v for _, v in foil_window(pattern, foils, rules=rules, outline=outline).verdicts]
        assert told == ["holds", "marginal", "marginal", "fails"]


def test_smaller_apertures_want_thinner_foils():
    outline = find("TSSOP-48")
    window = print_window(land_pattern(outline), REDUCTIONS, outline=outline)
    assert window is not None
    assert window.moved
    assert list(window.holds_um) == sorted(window.holds_um, reverse=True)


def test_what_a_maker_prints_is_not_moved_and_what_is_not_printed_has_no_window():
    outline = find("WLP-5-0.5")
    window = print_window(land_pattern(outline), REDUCTIONS, outline=outline)
    assert window is not None
    assert not window.moved
    drilled = find("DIP-14")
    assert print_window(land_pattern(drilled), REDUCTIONS, outline=drilled) is None


def test_reductions_that_leave_nothing_are_left_out():
    outline = find("TSSOP-48")
    window = print_window(land_pattern(outline), (0.0, 20.0, 400.0, 500.0), outline=outline)
    assert window is not None
    assert window.reductions_um == (0.0, 20.0)


@pytest.mark.parametrize("name", ["TSSOP-48", "QFN-20-2.5x4.5", "WLP-5-0.5", "SOT-23-5"])
def test_texts_of_the_picture_keep_apart(name):
    outline = find(name)
    window = print_window(land_pattern(outline), REDUCTIONS, outline=outline)
    assert window is not None
    assert texts_clash(window_picture(window, (80.0, 100.0, 120.0, 150.0), (0.0, 100.0))) == []
