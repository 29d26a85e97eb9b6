"""A value that cannot be is refused in the words of who typed it."""

from __future__ import annotations

import pytest

from landwise.errors import InputError
from landwise.study.file import study_from

PART = {"refs": ["U1"], "terminals": 14, "options": [{"outline": "SO-14"}]}


@pytest.mark.parametrize(
    ("content", "place", "expected"),
    [
        ({"board": {"state": "old"}}, "board, state", "'new' or 'existing'"),
        ({"board": {"sides": 3}}, "board, sides", "1 or 2"),
        ({"costs": {"run": "many"}}, "costs, run", "a whole number"),
        (
            {"line": {"counts": [{"package": "SO-14", "kind": "open", "defects": -1, "joints": 5}]}},
            "defects",
            "at least 0",
        ),
    ],
)
def test_what_was_expected_is_said_in_plain_words(content: dict, place: str, expected: str) -> None:
    with pytest.raises(InputError) as refused:
        study_from({"part": [PART], **content})
    assert place in str(refused.value.place)
    assert refused.value.expected == expected
