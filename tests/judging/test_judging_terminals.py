"""No package is proposed that has fewer terminals than its function connects."""

from __future__ import annotations

import pytest

from landwise.fabdata.functions import functions, least_terminals
from landwise.judging.limits import LimitKey
from landwise.judging.results import OptionResult
from landwise.judging.study import run_study
from landwise.outlines import catalogue, find
from landwise.outlines.choice import proposals
from landwise.outlines.supply import Asked, package_names, sighted
from landwise.study.file import study_from


def judged(number: str, terminals: int, *outlines: str) -> dict[str, OptionResult]:
    part = {
        "refs": ["U1"],
        "number": number,
        "family": "LVC",
        "terminals": terminals,
        "options": [{"outline": name, "price": 0.1} for name in outlines],
    }
    return {one.name: one for one in run_study(study_from({"part": [part]})).parts[0].options}


def limits(option: OptionResult) -> set[str]:
    return {str(why.limit) for why in option.rejections}


def test_two_gates_of_six_terminals_do_not_go_into_five() -> None:
    """Two inputs, two outputs, supply and ground: six by counting."""
    found = judged("2G17", 6, "SC-70-5", "SC-70-6")
    assert limits(found["SC-70-5"]) == {LimitKey.TERMINALS}
    assert "5 terminals, the function connects 6" in found["SC-70-5"].rejections[0].says
    assert LimitKey.TERMINALS not in limits(found["SC-70-6"])


@pytest.mark.parametrize(
    ("number", "fits"),
    # An inverter has an input, an output, supply and ground; a gate of two inputs one terminal more: by counting.
    [("1G04", True), ("1G34", True), ("1G08", False), ("1G125", False)],
)
def test_a_single_gate_goes_into_four_balls_where_one_of_its_five_terminals_is_open(number: str, fits: bool) -> None:
    found = judged(number, 5, "WLP-4-0.5", "SC-70-5")
    assert (LimitKey.TERMINALS not in limits(found["WLP-4-0.5"])) is fits
    assert LimitKey.TERMINALS not in limits(found["SC-70-5"])


def test_another_count_stated_by_the_study_stands() -> None:
    found = judged("2G17", 5, "SC-70-5", "SC-70-6")
    assert all(LimitKey.TERMINALS not in limits(one) for one in found.values())


def test_nothing_proposed_or_sighted_is_too_small() -> None:
    """Over every function of the table and every sighting, by the packages' own counts."""
    named = {name: find(one) for one in catalogue() for name in package_names(find(one))}
    for (family, number), one in sighted().items():
        least = least_terminals(number, family, one.terminals)
        small = [name for name in one.packages if name in named and named[name].terminals < least]
        assert not small, (family, number, small)
    for number, function in functions().items():
        least = least_terminals(number, "", function.terminals)
        asked = Asked(number, "", function.terminals, True, least)
        assert all(outline.terminals >= least for outline in proposals(function.terminals, asked=asked))
        assert function.connected in (0, function.terminals - 1)
