"""Rates in words."""

from __future__ import annotations

import pytest

from landwise.assembly.drawn import names
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import OwnRate, part_rates
from landwise.assembly.rare import Estimate
from landwise.assembly.scatter import scatter
from landwise.judging.ratewords import NONE, SHORT, hangs_on, level, not_modelled, per_million, sampled, told
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part


def rated(name, own=None):
    part = find(name)
    lands = land_pattern(part)
    return part_rates(part_model(part, lands, print_part(lands, Foil(100), outline=part), scatter(0.03, 0.05)), own)


def test_every_drawn_term_has_a_name():
    assert set(SHORT) == set(names())


def test_below_the_floor_no_number_is_printed():
    assert per_million(Estimate(1e-13, 0.0, 4e-10)) == NONE
    assert per_million(Estimate(5e-6, 0.0, 2e-5)) == f"5 ({NONE}…20)"
    found = rated("SO-14")
    assert NONE in sampled(found.worked.bridges, found.worked)
    assert "e-1" not in per_million(found.bridges)


def test_the_terms_a_rate_hangs_on_are_named():
    found = rated("TVSOP-14")
    assert "paste left under a pressed terminal" in hangs_on(found, "bridges")
    assert hangs_on(found, "bridges").count("%") == 3
    assert "±" in sampled(found.worked.bridges, found.worked)


@pytest.mark.parametrize(("name", "says"), [("SO-14", "published line"), ("WLP-5-0.5", "no measured anchor")])
def test_how_well_a_level_is_known(name, says):
    found = rated(name)
    assert says in level(found)
    assert told(found, "defects").startswith(level(found))
    assert ("head-in-pillow" in not_modelled(found)) == (name == "WLP-5-0.5")


def test_an_own_rate_is_the_line_s_own():
    assert "your own line" in level(rated("SO-14", OwnRate("gull-wing dual", 1.0, 2.0)))
