"""What is said of the least change that makes a board possible."""

from __future__ import annotations

import pytest

from landwise.results.choicejson import RelaxedJson
from landwise.results.choicewords import relaxed_sentence


def said(needed, least=None):
    return relaxed_sentence(RelaxedJson(name="area", needed=needed, least=least, limit=100.0, unit="mm2", parts=[]))


@pytest.mark.parametrize(
    ("needed", "told"), [(123.44, "123.5"), (123.4, "123.4"), (3000.1, "3001"), (0.0, "0"), (-12.341, "-12.34")]
)
def test_the_limit_that_is_told_is_enough(needed, told):
    assert said(needed) == f"possible if 'area' allows {told} mm2 (now 100)"


def test_what_can_not_do_is_told_where_the_least_is_not_settled():
    assert said(123.44, 123.4399) == said(123.44)
    assert said(123.44, 121.0) == "possible if 'area' allows 123.5 mm2 (now 100; less than 121 can't do)"


def test_what_was_not_settled_is_said():
    assert said(None, 100.0) == "the least change of 'area' was not settled in the time"
    assert said(123.44, 100.0) == "possible if 'area' allows 123.5 mm2 (now 100; less may do)"
    alone = RelaxedJson(name="area", needed=None, helps=False, limit=None, unit="", parts=[])
    assert relaxed_sentence(alone) == "no change of 'area' alone is enough: other limits conflict as well"


@pytest.mark.parametrize(("least", "more"), [(1.2, ""), (2.0, ""), (1.0, "; fewer may do")])
def test_fewer_parts_may_do_where_their_number_is_not_settled(least, more):
    one = RelaxedJson(name="foil", needed=2.0, least=least, limit=None, unit="options", parts=["U1", "U2"])
    assert relaxed_sentence(one) == f"possible if U1, U2 may break 'foil'{more}"
