"""Ratios of defects within one part: drawn together, told against the package in use."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.assembly.ratios import rate_ratio
from landwise.board.result import board_result
from landwise.cli.terminal import under_table
from landwise.judging.ratewords import times
from landwise.judging.ratios import defects_against, reference_of
from landwise.judging.study import run_study
from landwise.results.file import result_data
from landwise.results.ratetable import rate_table
from landwise.sheets.cards import card_of
from landwise.sheets.reportdata import content_of
from landwise.study.file import study_from


@pytest.fixture(scope="module")
def result():
    part = {"refs": ["U1"], "number": "00", "family": "LVC", "package": "TSSOP-14"}
    options = [{"outline": name} for name in ("SO-14", "TSSOP-14", "TVSOP-14", "DIP-14")]
    return run_study(study_from({"part": [{**part, "options": options}]}))


def test_ratios_stand_against_the_package_in_use(result):
    part = result.parts[0]
    assert reference_of(part).name == "TSSOP-14"
    found = defects_against(part)
    assert set(found) == {"SO-14", "TVSOP-14"}  # drilled joints are not printed, and TSSOP-14 is the reference
    assert all(one.reference == "TSSOP-14" for one in found.values())
    rates = {one.name: one.geometry.rates for one in part.options}
    for name, one in found.items():
        # By hand: draw over draw, its middle; what sampling adds lies on both sides of it.
        above, below = (sum(np.array(draws) for _, draws in rates[which].by) for which in (name, "TSSOP-14"))
        assert one.ratio.value == pytest.approx(float(np.median(above / below)), rel=0.05)
        assert one.ratio.low < one.ratio.value < one.ratio.high


def test_bridges_and_opens_are_compared_as_a_line_counts_them(result):
    """Not by what is modelled alone: below the other causes of both, ratios of modelled rates say nothing."""
    part = result.parts[0]
    rates = {one.name: one.geometry.rates for one in part.options}
    found = defects_against(part)["SO-14"]
    for ratio, kind in ((found.bridges, "bridge"), (found.opens, "open")):
        above, below = (np.array(dict(rates[name].counted)[kind]) for name in ("SO-14", "TSSOP-14"))
        assert ratio.value == pytest.approx(float(np.median(above / below)), rel=0.05)
        assert ratio.low < ratio.value < ratio.high
    modelled = rate_ratio(rates["SO-14"], rates["TSSOP-14"], "opens")
    assert not 1e-3 < modelled.value < 1e3
    assert 0.1 < found.opens.value < 10


def test_every_page_says_the_same_ratio(result):
    """The table of a part: what the report, the card, the workbench and the terminal print."""
    part = result.parts[0]
    table = rate_table(part)
    assert table.head == "defects against TSSOP-14, in use"
    row, ratio = table.by_name["SO-14"], defects_against(part)["SO-14"]
    assert row.against == (times(ratio.bridges), times(ratio.opens), times(ratio.ratio))
    assert table.by_name["TSSOP-14"].against == ("×1", "×1", "×1")
    assert "DIP-14" not in table.by_name
    board = board_result(result)
    cells = next(one for one in content_of(board)["parts"][0]["rates"]["rows"] if one["name"] == "SO-14")
    assert tuple(cells["against"]) == row.against
    card = card_of(part, result)
    assert row.against[0].partition(" ")[0] in card
    assert "Defects against TSSOP-14, in use" in card.replace("\n", " ")


def test_what_is_not_modelled_stands_at_the_rate(result):
    part = result.parts[0]
    option = next(one for one in part.options if one.name == "SO-14")
    for key, way in (("bridging", "solder balls"), ("open", "bent leads"), ("yield", "bent leads")):
        figure = option.figures[key]
        assert "not modelled, in the other causes alone" in figure.why
        assert way in figure.why
    assert "bent leads" not in option.figures["bridging"].why
    assert "bent leads" in option.figures["open"].trail[-1].valid
    told = {one["outline"]: one["not_modelled"] for one in result_data(result)["parts"][0]["options"]}
    assert {"key": "bent-lead", "rate": "opens", "says": "bent leads"} in told["SO-14"]
    assert told["DIP-14"] == []
    assert any("bent leads" in line for line in under_table(part, 9))


def test_a_ratio_is_known_better_than_the_rates_it_is_of(result):
    part = result.parts[0]
    ratio = defects_against(part)["SO-14"].ratio
    rates = [one.geometry.rates.defects for one in part.options if one.name in ("SO-14", "TSSOP-14")]
    assert ratio.high / ratio.low < min(rate.high / rate.low for rate in rates)


def test_the_result_file_says_them(result):
    options = result_data(result)["parts"][0]["options"]
    told = {one["outline"]: one["defects_against"] for one in options}
    assert told["TSSOP-14"] is None
    assert told["DIP-14"] is None
    assert told["SO-14"]["reference"] == "TSSOP-14"
    for ratio in (told["SO-14"], told["SO-14"]["bridges"], told["SO-14"]["opens"]):
        assert ratio["low"] < ratio["value"] < ratio["high"]


def test_words_of_a_ratio_stop_where_they_say_nothing_more():
    from landwise.assembly.rare import Estimate

    said = {
        (4e3, 12.0, 3e5): "over 1000 times (12 or more)",
        (4e3, 2e3, 3e5): "over 1000 times",
        (4e3, 0.0004, 3e5): "over 1000 times (or anything else)",
        (0.02, 0.0004, 0.4): "×0.02 (0.4 or less)",
        (0.0002, 0.0001, 0.0004): "under 1/1000",
        (1000.0, 0.001, 1000.0): "×1000 (0.001…1000)",
    }
    assert {ends: times(Estimate(*ends)) for ends in said} == said
