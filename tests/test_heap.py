"""What is freed between two stages goes back to the system."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from landwise.heap import MANY, _trim, give_back

STATUS = Path("/proc/self/status")  # proc(5), from memory: VmRSS in kB


def resident_mb():
    return int(STATUS.read_text().split("VmRSS:")[1].split()[0]) / 1024


def test_little_work_asks_nothing_of_the_system(monkeypatch):
    monkeypatch.setattr("landwise.heap._trim", lambda: pytest.fail("asked"))
    assert give_back(MANY - 1) is False


def test_where_the_library_has_no_way_nothing_is_done(monkeypatch):
    monkeypatch.setattr("landwise.heap._trim", lambda: None)
    assert give_back(MANY) is False


@pytest.mark.skipif(not STATUS.exists() or _trim() is None, reason="the C library hands memory back by itself")
def test_memory_between_kept_pieces_is_handed_back():
    assert sys.platform == "linux"
    pieces = [bytearray(3000) for _ in range(20_000)]  # as large as a disc of 128 corners, below any mapping of its own
    kept = pieces[::200]
    del pieces
    before = resident_mb()
    assert give_back(MANY)
    assert before - resident_mb() > 20
    assert len(kept) == 100
