"""What differs between options: what is the same for all of them is told once, and one order stands on a page."""

from __future__ import annotations

import pytest

from landwise.board.choice import choose_board
from landwise.judging.study import run_study
from landwise.sheets.differs import MOST_COMPARED, compared, differences, tells_apart
from landwise.sheets.reportdata import content_of, in_order
from landwise.study.file import study_from

GATE = {"refs": ["U1", "U2"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SOT-23-5"}
# More than are compared, and the last one too fine for the line.
NAMES = ("SOT-23-5", "SC-70-5", "SOT-5x3-5", "SON-6-1.45x1.0", "WLP-5-0.5", "SON-6-0.9x1.0")
OPTIONS = {"options": [{"outline": name} for name in NAMES]}


@pytest.fixture(scope="module")
def result():
    return choose_board(run_study(study_from({"part": [GATE | OPTIONS], "line": {"foil": "100 um"}})))


def test_every_figure_is_either_told_apart_or_the_same_for_all(result):
    part = result.parts[0]
    options = compared(part)
    assert options[0] is part.chosen
    assert 2 <= len(options) <= MOST_COMPARED
    found = differences(part)
    keys = {key for option in options for key in option.figures}
    # A cost that is nearly the same and has no limit is no verdict to share: it stands in the table of options.
    untold = 0 if tells_apart([option.figures["cost"] for option in options]) else 1
    assert len(found.rows) + found.more + sum(count for _, count, _ in found.alike) + untold == len(keys)
    # Worked again from the figures themselves: no row holds one verdict and one value throughout.
    for title, cells in found.rows:
        assert len({(cell.text, cell.word) for cell in cells}) > 1, title


def test_intervals_that_reach_into_each_other_tell_nothing_apart(result):
    figures = [option.figures["cost"] for option in compared(result.parts[0])]
    spans = [(figure.low, figure.high) for figure in figures]
    meet = max(low for low, _ in spans) <= min(high for _, high in spans)
    assert tells_apart(figures) is not meet


def test_one_order_stands_on_a_page(result):
    part = result.parts[0]
    told = content_of(result)["parts"][0]["options"]
    assert told[0]["role"] == "choice"
    assert [one["name"] for one in told] == [option.name for option in in_order(part)]
    assert told[0]["more"] == "0"
    assert not any("wins" in one or "score" in one for one in told)
    feasible = [one["feasible"] for one in told]
    assert feasible == sorted(feasible, reverse=True)


def test_an_equal_says_so_in_words_and_the_cost_has_no_verdict():
    from types import SimpleNamespace

    from landwise.sheets.reportdata import more_text

    a, b, c = (SimpleNamespace(name=name) for name in "abc")
    part = SimpleNamespace(standing=SimpleNamespace(more={"a": 0.01, "b": 0.0072, "c": 0.05}), chosen=a)
    assert [more_text(one, part, ("a", "b")) for one in (a, b, c)] == ["0", "equal, 0.0028 less", "+0.04"]
