"""Two halves worked at once give what they give one after the other, whatever becomes of the copy."""

from __future__ import annotations

import os
import signal
import threading
from functools import partial

import pytest

from landwise import atonce
from landwise.atonce import both, can_copy

COPIES = pytest.mark.skipif(not can_copy(), reason="this system, or this test process, makes no copies")


@COPIES
def test_the_other_half_is_worked_in_a_copy():
    here, there = both(os.getpid, lambda: (os.getpid(), b"x" * 3_000_000))
    assert here == os.getpid()
    assert there[0] != here
    assert len(there[1]) == 3_000_000


def test_without_a_copy_both_are_worked_here():
    assert both(os.getpid, os.getpid, copy=False) == (os.getpid(), os.getpid())


def test_beside_other_threads_nothing_is_copied():
    held = threading.Event()
    other = threading.Thread(target=held.wait)
    other.start()
    try:
        assert both(os.getpid, os.getpid) == (os.getpid(), os.getpid())
    finally:
        held.set()
        other.join()


@COPIES
def test_a_copy_that_is_ended_leaves_its_half_to_the_first():
    first = os.getpid()

    def ends() -> int:
        if os.getpid() != first:
            os.kill(os.getpid(), signal.SIGKILL)
        return first

    assert both(lambda: "here", ends) == ("here", first)


@COPIES
def test_a_copy_that_never_answers_is_given_up(monkeypatch):
    monkeypatch.setattr(atonce, "PATIENCE_S", 0.05)
    first = os.getpid()
    assert both(lambda: "here", lambda: first if os.getpid() == first else signal.pause()) == ("here", first)


def _fails(said: str) -> None:
    raise ValueError(said)


def test_a_fault_of_either_half_is_raised_here():
    with pytest.raises(ValueError, match="of the copy"):
        both(lambda: 1, partial(_fails, "of the copy"))
    with pytest.raises(ValueError, match="of this half"):
        both(partial(_fails, "of this half"), lambda: 1)


@COPIES
def test_no_copy_outlives_a_stop():
    def stopped() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        both(stopped, signal.pause)
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)
