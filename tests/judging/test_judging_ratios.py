"""Ratios of defects within one part: drawn together, told against the package in use."""

from __future__ import annotations

import numpy as np
import pytest

from landwise.judging.ratewords import times
from landwise.judging.ratios import defects_against, reference_of
from landwise.judging.study import run_study
from landwise.results.file import result_data
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
    assert told["SO-14"]["low"] < told["SO-14"]["value"] < told["SO-14"]["high"]


def test_words_of_a_ratio_stop_where_they_say_nothing_more():
    from landwise.assembly.rare import Estimate

    assert times(Estimate(4e3, 0.0004, 3e5)) == "×>1000 (<0.001…>1000)"
