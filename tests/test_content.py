"""Marks of content: equal for equal content, unlike for whatever differs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from landwise.content import mark_of


@dataclass(frozen=True)
class Two:
    one: object
    other: object = None


@dataclass(frozen=True)
class Another:
    one: object
    other: object = None


TABLE = np.arange(12.0).reshape(3, 4)
UNLIKE = [
    TABLE,
    TABLE.T,
    TABLE.reshape(4, 3),
    TABLE.astype(np.float32),
    TABLE + np.where(TABLE == 5, 1e-15, 0.0),
    TABLE.tolist(),
    (),
    ((),),
    None,
    "",
    "None",
    0,
    0.0,
    -0.0,
    False,
    np.float64(0.0),
    float("nan"),
    ("a", "b"),
    ("a,", "b"),
    {"a": "b"},
    {"b": "a"},
    Two("a"),
    Two(None, "a"),
    Another("a"),
    Two(Two("a")),
]


def test_whatever_differs_has_another_mark():
    marks = [mark_of(one) for one in UNLIKE]
    assert len(set(marks)) == len(UNLIKE)


def test_equal_content_has_the_same_mark():
    assert mark_of(TABLE) == mark_of(TABLE.copy()) == mark_of(np.asfortranarray(TABLE))
    assert mark_of(Two((1, {"a": TABLE}))) == mark_of(replace(Two(0), one=(1, {"a": TABLE.copy()})))


@pytest.mark.parametrize("value", [object(), {1, 2}, np.array([object()]), Two])
def test_what_has_no_known_content_is_refused(value):
    with pytest.raises(TypeError):
        mark_of(value)
