"""Every note and every limit has its words, and each word stands for one key."""

from __future__ import annotations

import numpy as np

from landwise.choosing.optimum.model import GROUPS, OUTLINES
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.notes import Note, NoteKey
from landwise.quantities import significant
from landwise.results.limitwords import limit_says
from landwise.results.notewords import note_says, notes_say


def test_every_note_is_said_and_no_two_alike():
    said = notes_say([Note(key=key, of="a thing", names=("U1",), number=2.0, says=f"as {key}") for key in NoteKey])
    assert all(said)
    assert len(set(said)) == len(NoteKey)


def test_every_limit_is_said_and_no_two_alike():
    said = [limit_says(Limit(key, "U1")) for key in LimitKey]
    assert all(said)
    assert len(set(said)) == len(LimitKey)


def test_the_search_names_its_own_limits_by_the_keys_that_have_words():
    assert {OUTLINES, GROUPS} == {LimitKey.MOST_OUTLINES, LimitKey.SAME_OUTLINE}


def test_a_limit_on_a_figure_is_said_by_the_figures_key():
    assert limit_says("transfer") == "transfer"
    assert limit_says(Limit(LimitKey.BOARD_SUM, "pull")) == "pull of the board"


def test_a_note_names_a_few_and_counts_the_rest():
    note = Note(key=NoteKey.NOT_SEEN, of="1G08", names=tuple("abcdef"))
    assert "a, b, c, d and 2 more" in note_says(note)


def test_a_number_reads_the_same_whether_numpy_or_python_holds_it():
    for value in (0.1515, 2.675, 1234.5, 0.0):
        assert significant(np.float64(value)) == significant(value)
