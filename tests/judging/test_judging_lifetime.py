"""Lives and cautions as the study has them: what is shown, what binds, what is asked, what own tests change."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.errors import LandwiseError
from landwise.evidence.figures import Figure
from landwise.judging.bench import Bench
from landwise.judging.lifetime import asked_of, judged_life, life_of, own_tests
from landwise.judging.study import run_study
from landwise.outlines import find
from landwise.results.file import result_data
from landwise.results.told import board_cautions, must_tell
from landwise.results.verdict import verdict_of
from landwise.sheets.cards import card_of
from landwise.study.file import study_from

PART = {"refs": ["U1"], "terminals": 16, "options": [{"outline": "TSSOP-16"}, {"outline": "SO-16"}]}


def study(**use):
    return study_from({"part": [PART], "use": use}, file="x")


def bench(**use):
    return Bench.of(study(**use))


def test_mains_across_fine_leads_is_told_in_headline_table_and_card_and_never_under_a_good_word():
    result = run_study(study(voltage="325 V"))
    for option in result.parts[0].options:
        assert verdict_of(option) == "fails"
        assert [c.key for c in must_tell(option, result.content)] == ["touch-voltage", "clearance"]
    said = " ".join(board_cautions(result.parts, result.content))
    assert "IEC 62368-1" in said
    assert "licensed" in said
    data = result_data(result)
    assert data["cautions"] == list(board_cautions(result.parts, result.content))
    assert data["parts"][0]["options"][0]["cautions"][0]["binds"]
    assert "gap against voltage" in card_of(result.parts[0], result)
    locked = run_study(
        study_from({"part": [{**PART, "package": "SO-16", "locked": True}], "use": {"voltage": "325 V"}})
    )
    assert "CAUTION" in card_of(locked.parts[0], locked)


def test_five_volts_on_the_same_part_bind_nothing():
    result = run_study(study())
    assert board_cautions(result.parts, result.content) == ()
    assert verdict_of(result.parts[0].options[0]) == "holds"


def test_no_copper_leaded_part_fails_by_its_life_and_a_test_of_ones_own_lets_it():
    content = bench(environment="under-hood", years=1e6)
    found = judged_life(content.geometry(find("SO-16")), content.content)
    assert (found.state, found.verdict.basis) == ("not shown", "ask-maker")
    quad = judged_life(content.geometry(find("QFN-16-3x3")), content.content)
    assert quad.state == "broken"
    assert quad.years.shape == found.years.shape == (256,)
    assert found.wanted.by == "snpb"


def test_options_share_the_order_of_their_draws():
    own = bench(environment="under-hood")
    so, tssop = (judged_life(own.geometry(find(name)), own.content).years for name in ("SO-16", "TSSOP-16"))
    assert np.corrcoef(np.log(so), np.log(tssop))[0, 1] > 0.8


def test_a_test_of_ones_own_narrows_its_kind_and_no_other():
    test = {
        "package": "QFN-16-3x3",
        "cycles": 12000,
        "samples": 30,
        "failures": 10,
        "low": "0 degC",
        "high": "100 degC",
    }
    own, bare = bench(tests=[test]), bench()
    outline = find("QFN-20-3.5x4.5")
    with_test = life_of(own.geometry(outline), own.content)[1].years_to(0.01)
    without = life_of(bare.geometry(outline), bare.content)[1].years_to(0.01)
    assert with_test.high / with_test.low < without.high / without.low
    lead = find("SO-16")
    assert life_of(own.geometry(lead), own.content)[1].weights is None
    (shown,) = own_tests(own.content).shown
    assert shown.before.low < shown.after.low < shown.after.high < shown.before.high
    bad = bench(tests=[{**test, "cycles": 2, "samples": 3000, "failures": 3000}])
    with pytest.raises(LandwiseError, match="contradict"):
        own_tests(bad.content)


def test_what_contradicts_itself_and_what_is_assumed_is_asked():
    assert asked_of(study(environment="telecom").content) == ()
    damp = " ".join(asked_of(study(air="humid").content))
    assert "assumed" in damp
    assert "heated room" in damp
    assert any("hotter" in q for q in asked_of(study(environment="consumer", ambient="90 degC").content))


def test_surroundings_reach_the_life():
    plain, mirrored, cast = (bench(**use) for use in ({}, {"mirrored": True}, {"potting": True}))
    outline = find("QFN-16-3x3")
    base, half = (life_of(b.geometry(outline), b.content)[1].median_years for b in (plain, mirrored))
    assert half == pytest.approx(0.42 * base, rel=0.02)
    assert judged_life(cast.geometry(outline), cast.content).verdict.basis == "not-covered"


def test_a_figure_of_the_safety_list_under_a_good_print_still_fails():
    result = run_study(study(environment="under-hood"))
    option = result.parts[0].options[0]
    short = Figure(key="life", title="life", value=None, unit="years", verdict="fails")
    from dataclasses import replace

    assert verdict_of(replace(option, figures={**option.figures, "life": short})) == "fails"


def test_a_stated_voltage_that_a_gap_cannot_stand_takes_the_package_out_and_a_coat_lets_it_in():
    """At 48 V the table (IPC-2221B, table 6-1) wants 0.6 mm of bare copper, 0.13 mm under a coat that covers it."""
    bare, coated, assumed = (
        run_study(study(**use)).parts[0] for use in ({"voltage": "48 V"}, {"voltage": "48 V", "coat": "acrylic"}, {})
    )
    fine = next(o for o in bare.options if o.name == "TSSOP-16")
    assert [why.limit for why in fine.rejections] == ["clearance"]
    assert "under a coat ([use] coat) 0.13 mm" in fine.rejections[0].says
    assert bare.chosen is not None
    assert bare.chosen.name == "SO-16"
    for part in (coated, assumed):
        assert not next(o for o in part.options if o.name == "TSSOP-16").rejections
