"""Steps that many figures go back to stand in a result once, whoever made them."""

from __future__ import annotations

from landwise.evidence.figures import figure
from landwise.evidence.trails import as_given, earlier, stated, worked
from landwise.results.trails import figures_data


def table(value, place="board.thickness"):
    """A table's step, made anew at every call, behind one of another key."""
    field = worked("thickness", as_given, {"value": stated(value, place, "mm")}, unit="mm", key="field")
    return worked("the board", as_given, {"value": earlier(field)}, unit="mm", key="board")


def of(key, step):
    last = worked("a half of it", half, {"whole": earlier(step)}, unit="mm")
    return figure(last, key=key, title=key, better="less", verdict="holds", why="", trail=(last,))


def half(whole):
    return whole / 2


def places(told):
    return [one["trail"][0]["given"]["whole"]["place"] for one in told]


def test_steps_made_twice_stand_once_as_one_made_once():
    once = table(1.6)
    shared = figures_data([of("one", once), of("two", once)])
    assert figures_data([of("one", table(1.6)), of("two", table(1.6))]) == shared
    assert places(shared[0]) == ["board", "board"]
    assert list(shared[1]) == ["board", "field"]


def test_steps_of_one_key_that_differ_anywhere_behind_them_stand_apart():
    for other in (table(1.0), table(1.6, place="board.core")):
        told, steps = figures_data([of("one", table(1.6)), of("two", other)])
        first, second = places(told)
        assert first != second
        assert len(steps) == 4
        assert steps[first]["given"]["value"]["place"] != steps[second]["given"]["value"]["place"]
