"""Work beside: its result is the same, its fault is raised where it is fetched."""

from __future__ import annotations

import threading

import pytest

from landwise.sheets.beside import beside


def test_the_other_goes_on_meanwhile():
    told = threading.Event()
    waiting = beside(lambda: told.wait(30))  # would never end if it had to end before the next line
    told.set()
    assert waiting.result()


def test_a_fault_is_raised_where_the_result_is_fetched():
    broken = beside(lambda: 1 // 0)
    with pytest.raises(ZeroDivisionError):
        broken.result()
