"""JSON text: the same characters as Python's own encoder gives."""

from __future__ import annotations

import json

import numpy as np
import pytest

from landwise.results.jsontext import json_text

VALUES = [
    None,
    True,
    False,
    0,
    -7,
    10**30,
    0.1,
    -0.0,
    1e16,
    1e-7,
    5e-324,
    np.float64(2.5),
    "",
    'quoted "µ" \\ \n \t \x01 \u2028 \U0001f600',
    [],
    (),
    {},
    [[]],
    [{}, []],
    {"a": {"b": [1, (2.5, None)], "c": {}}, "µ": [True, {"d": []}]},
]


@pytest.mark.parametrize("value", [*VALUES, VALUES])
def test_the_characters_are_those_of_pythons_own_encoder(value):
    assert json_text(value) == json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), [1, -float("inf")]])
def test_what_json_has_no_word_for_is_refused(value):
    with pytest.raises(ValueError, match="no word"):
        json_text(value)


@pytest.mark.parametrize("value", [object(), {1: 2}, {"a": {1, 2}}, np.int64(3)])
def test_what_json_does_not_know_is_refused(value):
    with pytest.raises(TypeError):
        json_text(value)
