"""What an option that is out is told by: a limit that no shared decision lifts, before one that another would."""

from __future__ import annotations

import pytest

from landwise.board.choice import choose_board, rank_each
from landwise.board.lasting import lasting_first, lasting_of
from landwise.cli.terminal import left_out_lines
from landwise.judging.limits import Limit, LimitKey
from landwise.judging.study import run_study
from landwise.study.file import study_from


def judged(*parts: dict, **tables):
    return run_study(study_from({"part": list(parts), **tables}))


def told_by(result, outline: str, part: int = 0) -> list[str]:
    """The limits that an option is out by, the one that is told first."""
    option = next(one for one in result.parts[part].options if one.name == outline)
    return [why.limit for why in option.rejections]


# The gap between lands at 0.5 mm pitch is too small for 60 V: uncoated outer conductors want 0.6 mm from 51 to 100 V
# (IPC-2221, table 6-1, column B2, as in the book of sources). The joints of a quad flat body show in X-ray alone.
MUX = {"refs": ["U1"], "terminals": 16, "package": "SO-16", "options": [{"outline": "SO-16", "price": 0.2}]}
MUX["options"].append({"outline": "QFN-16-2.5x3.5", "price": 0.2})
# Its balls want a thinner foil, and nothing on this line looks under a body.
TWO = {"refs": ["U1"], "terminals": 6, "package": "SC-70-6", "options": [{"outline": "SC-70-6", "price": 0.05}]}
TWO["options"].append({"outline": "WLP-6-0.4", "price": 0.05})
BOTH_FOILS = {"foils": ["80 um", "100 um"]}
CASES = {
    "voltage, and X-ray at hand": ((MUX,), {"use": {"voltage": "60 V"}}, "QFN-16-2.5x3.5", "clearance"),
    "no look under a body": ((TWO,), {"line": {**BOTH_FOILS, "inspection": ["optical"]}}, "WLP-6-0.4", "hidden-joints"),
}


@pytest.mark.parametrize("choose", [choose_board, rank_each])
@pytest.mark.parametrize("name", CASES)
def test_what_no_decision_lifts_is_told_first(name, choose):
    parts, tables, outline, first = CASES[name]
    result = choose(judged(*parts, **tables))
    told = told_by(result, outline)
    assert len(told) > 1  # another decision would lift the other
    assert told[0] == first
    option = next(one for one in result.parts[0].options if one.name == outline)
    assert f"{outline}: {option.rejections[0].says}" in list(left_out_lines(result.parts[0]))


def test_where_no_board_can_be_chosen_it_is_told_first_too():
    """Of a part that nothing fits the sentence that names what comes nearest begins with it as well."""
    _, tables, outline, first = CASES["no look under a body"]
    ball = {**TWO, "package": outline, "options": [TWO["options"][1]]}
    result = choose_board(judged(ball, **tables))
    assert not result.choice.best.found
    assert told_by(result, outline)[0] == first
    assert f"{outline} comes nearest: 6 of 6 joints hidden" in result.parts[0].says
    beside = choose_board(judged(ball, {**TWO, "refs": ["U2"]}, **tables))
    assert beside.choice.best.found  # the part that nothing fits is set aside
    assert told_by(beside, outline)[0] == first


def test_limits_that_one_decision_or_another_lifts_do_not_last():
    """By hand, two decisions: the first option is free under neither, yet either of its limits is lifted by one."""
    parts = judged(MUX).parts
    foil, sight, gap = (Limit(key) for key in (LimitKey.FOIL_PRINTS, LimitKey.HIDDEN_JOINTS, LimitKey.LAND_GAP))
    breaks = {(0, 0, 0): [foil], (1, 0, 0): [sight], (0, 0, 1): [foil, gap], (1, 0, 1): [gap]}
    names = [option.name for option in parts[0].options]
    assert lasting_of(parts, breaks, {0, 1}) == {("U1", names[1]): {"land-gap"}}
    # Under the first alone the foil lasts; the option itself tells it as the foil that it wants.
    alone = lasting_of(parts, breaks, {0})
    assert alone == {("U1", names[0]): {"foil-prints", "foil"}, ("U1", names[1]): {"foil-prints", "foil", "land-gap"}}


def test_nothing_else_changes_places():
    """What lasts comes first, all else stays in the order that it was judged in; of what nothing lasts all does."""
    parts = judged(TWO, line=BOTH_FOILS, want={"limits": {"height": "0.2 mm"}}).parts  # every body is higher
    before = [why.limit for why in next(one for one in parts[0].options if one.name == "WLP-6-0.4").rejections]
    assert before[-1] == "height"
    part = lasting_first(parts[0], {("U1", "WLP-6-0.4"): frozenset({"height"})})
    after = [why.limit for why in next(one for one in part.options if one.name == "WLP-6-0.4").rejections]
    assert after == ["height", *before[:-1]]
    assert lasting_first(parts[0], {}).options == parts[0].options
