"""What is told first: a foil that all parts share, and that nobody named, is asked about."""

from __future__ import annotations

import re

import pytest

from landwise.board.choice import choose_board
from landwise.cli.boardlines import board_lines
from landwise.cli.terminal import totals_lines
from landwise.judging.study import run_study
from landwise.results.answer import reply
from landwise.results.choicewords import gain_sentence
from landwise.results.told import asked, foils_counted
from landwise.sheets.frontpage import sentences
from landwise.sheets.reportdata import content_of, totals_rows
from landwise.study.file import study_from

# Its 48 uneven leads want a thicker foil than the line's usual one, by more than is worth deciding.
WIDE = {"refs": ["U1"], "terminals": 48, "package": "TSSOP-48", "options": [{"outline": "TSSOP-48", "price": 0.1}]}


@pytest.fixture(scope="module")
def free():
    return choose_board(run_study(study_from({"part": [WIDE]})))


def test_a_foil_that_nobody_named_is_asked_about_and_stands_beside_both_totals(free):
    today, proposed = foils_counted(free)
    assert proposed > today
    assert any(f"{proposed:g} µm foil" in line and "every part of the board" in line for line in asked(free))
    lines = [line.plain for line in board_lines(free)]
    assert "  no package changes: every part stays as it is" in lines
    assert any(f"({today:g} µm foil) →" in line and f"({proposed:g} µm foil) units" in line for line in lines)
    assert f"through a {today:g} µm foil" in dict(sentences(free))["What it gains"]
    assert gain_sentence(free.choice, ["U1"]).startswith(f"no package but {proposed:g} µm foil")


def test_a_stated_foil_is_the_board_s_and_nothing_is_asked():
    result = choose_board(run_study(study_from({"part": [WIDE], "line": {"foil": "100 um"}})))
    assert foils_counted(result) is None
    assert not any("foil" in line for line in asked(result))


def test_where_the_finest_other_part_is_known_no_thicker_foil_is_asked_about():
    """What the others bear is stated, and holds: there is nothing left to ask of the foil."""
    bears = {"part": [WIDE], "board": {"thickest_foil": "150 um"}}
    result = choose_board(run_study(study_from(bears)), reasons=False)
    assert foils_counted(result) is not None
    assert not any("foil" in line for line in asked(result))


def test_a_thinner_foil_is_asked_about_for_the_largest_joints():
    fine = {"refs": ["U1"], "terminals": 5, "options": [{"outline": "WLP-5-0.4", "price": 0.1}]}
    want = {"worth_deciding": 0.001, "hidden_joints": "any", "supply": "any"}
    content = {"part": [fine], "want": want, "line": {"foils": ["80 um", "100 um"]}}
    result = choose_board(run_study(study_from(content)), reasons=False)
    today, proposed = foils_counted(result)
    assert proposed < today
    assert "less paste" in asked(result)[0]
    assert "connectors" in asked(result)[0]


DRILLED = {
    "refs": ["U1", "U2"],
    "number": "00",
    "family": "HC",
    "terminals": 14,
    "package": "DIP-14",
    "options": [{"outline": "DIP-14", "price": 0.5}, {"outline": "SO-14", "price": 0.1}],
}


def board_of(**board):
    study = study_from({"part": [DRILLED | board.pop("part", {})], "board": board, "line": {"foil": "100 um"}})
    return choose_board(run_study(study), reasons=False)


def test_a_board_whose_parts_are_all_drilled_is_asked_whether_anything_is_printed():
    assert "is anything else on the board printed?" in asked(board_of())[0]
    assert "nothing else on the board printed" in asked(board_of(printed_anyway=False))[0]
    for told in (board_of(printed_anyway=True), board_of(part={"package": "SO-14"}), board_of(part={"locked": True})):
        assert not any("printed" in line for line in asked(told))


def test_a_print_for_these_parts_alone_is_paid_and_may_keep_them_drilled():
    """By hand: 0.30 a board, and 60 of set-up and 180 of foil over the run's 1,000 boards."""
    anyway, alone = board_of(), board_of(printed_anyway=False)
    assert [board.parts[0].chosen.name for board in (anyway, alone)] == ["SO-14", "SO-14"]
    assert alone.choice.cost - anyway.choice.cost == pytest.approx(0.30 + (60 + 180) / 1000)
    close = {"options": [{"outline": "DIP-14", "price": 0.25}, {"outline": "SO-14", "price": 0.2}]}
    taken = [board_of(printed_anyway=told, drilled_anyway=True, part=close) for told in (True, False)]
    assert [board.parts[0].chosen.name for board in taken] == ["SO-14", "DIP-14"]


def test_parts_in_sockets_are_asked_about_where_their_package_changes():
    assert any("stay exchangeable (U1 +1)" in line for line in asked(board_of(part={"socketed": True})))
    assert "please tell me: must parts that stand in sockets" in reply(board_of(part={"socketed": True}))
    assert not any("exchangeable" in line for line in asked(board_of()))
    assert not any("exchangeable" in line for line in asked(board_of(part={"socketed": True, "locked": True})))


def damp(**use) -> list[str]:
    part = {"refs": ["U1"], "terminals": 14, "options": [{"outline": "TSSOP-14", "price": 0.1}]}
    study = study_from({"part": [part], "line": {"foils": ["100 um"]}, "use": {"environment": "industrial", **use}})
    return [line for line in asked(choose_board(run_study(study), reasons=False)) if "bare board" in line]


def test_water_on_a_bare_board_is_asked_about_with_the_field_that_no_test_covers():
    """The gap between lands is 0.2 mm, so 10 V are 50 V/mm: twice what fluxes are tested at (recalled)."""
    (wet,) = damp(air="wet", voltage="10 V")
    assert "coated?" in wet
    assert "U1 in TSSOP-14 at 50 V/mm" in wet
    (damp_air,) = damp(air="humid", voltage="10 V")
    assert "cleanliness test" in damp_air
    assert damp(air="humid") == []  # no voltage is stated: an assumed one raises nothing
    assert damp(air="wet", coat="acrylic") == damp(voltage="10 V") == []


def test_today_s_hidden_joints_are_counted_and_told_with_the_inspection_that_judges_them():
    options = [{"outline": "QFN-14-3.5x3.5", "price": 0.5}, {"outline": "SO-14", "price": 0.1}]
    part = DRILLED | {"package": "QFN-14-3.5x3.5", "options": options}
    line = {"foil": "100 um", "print": "as lands", "inspection": ["optical", "x-ray"]}
    result = choose_board(run_study(study_from({"part": [part], "line": line})), reasons=False)
    assert result.parts[0].chosen.name == "SO-14"
    told = {name: (was, after) for name, was, after in totals_rows(result.before, result.after, "units")}
    assert told["joints under bodies"] == ("2", "0")  # the pads in the middle of both
    assert told["foil and inspection"] == ("100 µm foil, X-ray of a sample", "100 µm foil, no X-ray")
    assert any(line.endswith("100 µm foil, X-ray of a sample → 100 µm foil, no X-ray") for line in lines_of(result))


def lines_of(result):
    return list(totals_lines(result.before, result.after, "units"))


# --- a wish for the terminals ---

# A needle reaches a lead beside its body, and no ball under one (common practice, no source).
LEADS_OR_BALLS = {
    "refs": ["U1"],
    "terminals": 5,
    "package": "SC-70-5",
    "options": [
        {"outline": "SC-70-5", "price": 0.05},
        {"outline": "WLP-5-0.5", "price": 0.2},
        {"outline": "WLP-5-0.4", "price": 0.3},
    ],
}
ONE_FOIL = {"foils": ["100 um"], "foil": "100 um"}


def wishing(wish: str, *, part: dict | None = None, line: dict | None = None):
    content = {"part": [part or LEADS_OR_BALLS], "want": {"terminals": wish}, "line": line or ONE_FOIL}
    return choose_board(run_study(study_from(content)))


@pytest.fixture(scope="module")
def hidden():
    return wishing("hidden")


def test_a_wish_that_another_option_meets_is_asked_about_with_what_that_costs(hidden):
    part = hidden.parts[0]
    assert part.chosen.name == "SC-70-5"
    more = part.standing.more["WLP-5-0.5"] - part.standing.more["SC-70-5"]
    line = asked(hidden)[0]
    assert line.startswith("terminals wanted hidden: U1 in SC-70-5 does not meet it, WLP-5-0.5 meets it for ")
    assert float(re.search(r"for (\S+) units a board more", line).group(1)) == pytest.approx(more, rel=5e-3)
    assert line.endswith(f"with {part.standing.under['WLP-5-0.5']}")  # its balls want a look that the leads do not
    assert "X-ray" in line


def test_a_wish_not_met_is_told_on_terminal_page_one_and_reply(hidden):
    line = asked(hidden)[0]
    assert any(f"asked: {line}" in one.plain for one in board_lines(hidden))
    assert content_of(hidden)["asked"][0] == line
    assert line in reply(hidden)
    assert line in reply(hidden, "U1")


@pytest.mark.parametrize("wish", ["either", "exposed"])
def test_of_a_wish_that_is_met_nothing_is_asked(wish):
    assert not any("terminals wanted" in line for line in asked(wishing(wish)))


def test_of_a_locked_part_no_wish_is_asked():
    locked = wishing("hidden", part={**LEADS_OR_BALLS, "locked": True})
    assert not any("terminals wanted" in line for line in asked(locked))


def test_a_wish_that_only_an_option_left_out_meets_says_so():
    """This line looks from above only, and no ball under a body is seen from there."""
    unmet = asked(wishing("hidden", line={**ONE_FOIL, "inspection": ["optical"]}))[0]
    assert "nor does any other that can be taken: WLP-5-0.4, WLP-5-0.5 would (see why left out)" in unmet
