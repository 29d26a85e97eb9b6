"""The process window and its map."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.assembly.scatter import scatter
from landwise.assembly.window import Grid, Window, process_window
from landwise.errors import InputError
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.sheets.clashes import lines_through_texts, texts_clash
from landwise.sheets.windowmap import INSIDE, window_chart, window_picture


def window(name, **more):
    outline = find(name)
    return process_window(outline, land_pattern(outline), scatter(0.03, 0.05), grid=Grid(**more))


def test_thin_foils_open_and_thick_ones_bridge():
    found = window("TSSOP-14")
    assert (np.diff(found.bridges, axis=1) >= 0).all()
    assert (np.diff(found.opens, axis=1) <= 0).all()
    assert (np.diff(found.bridges, axis=0) <= 0).all()
    assert (np.diff(found.opens, axis=0) >= 0).all()
    assert found.inside.any()
    assert not found.inside.all()


def test_a_stricter_target_leaves_a_smaller_window():
    wide, narrow = window("TSSOP-14", target=1000.0), window("TSSOP-14", target=10.0)
    assert (wide.inside | ~narrow.inside).all()
    assert wide.inside.sum() > narrow.inside.sum()


def test_nothing_kept_says_what_comes_nearest():
    found = window("SON-5-0.8x0.8", target=0.01)
    assert "no foil" in found.says
    assert "nearest" in found.says


def test_drilled_parts_have_no_window():
    assert window("DIP-14") is None


@pytest.mark.parametrize("more", [{"target": 0.0}, {"foils_um": ()}])
def test_empty_grids_and_targets_are_refused(more):
    with pytest.raises(InputError):
        window("TSSOP-14", **more)


@pytest.mark.parametrize("name", ["TSSOP-14", "QFN-16-2.5x3.5", "SON-6-1.0x1.0", "WLP-5-0.5"])
def test_the_map_has_no_clash_and_marks_the_study(name):
    found = window(name)
    picture = window_picture(found, here=(100.0, 0.0))
    assert texts_clash(picture) == []
    assert [text for text in lines_through_texts(picture) if text != INSIDE] == []
    assert f"{found.target:g}" in window_chart(found, name=name)


def test_the_windows_name_gives_way_to_that_of_a_print():
    good = Window((80.0, 100.0, 120.0), (0.0, 0.02, 0.04), np.full((3, 3), 1.0), np.full((3, 3), 1.0), 100.0)
    free = next(mark for mark in window_picture(good).marks if getattr(mark, "text", "") == INSIDE)
    for cut in (0.0, 0.02, 0.04):
        picture = window_picture(good, here=(95.0, 0.01), beside=[("as large as the lands", 92.0, cut)])
        assert texts_clash(picture) == []
        assert any(getattr(mark, "text", "") == INSIDE for mark in picture.marks)
    assert free.anchor == "middle"


def test_a_map_without_a_window_carries_no_name_for_it():
    bad = Window((80.0, 100.0), (0.0, 0.02), np.full((2, 2), 1e4), np.full((2, 2), 1e4), 100.0)
    assert INSIDE not in window_chart(bad)
