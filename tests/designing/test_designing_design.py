"""Designs: better than the lands, the same from anywhere, honest where they gain nothing."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from landwise.assembly.partmodel import part_model
from landwise.assembly.rates import simulate
from landwise.assembly.scatter import scatter
from landwise.designing import Changes, Designer, Line
from landwise.designing.case import scored
from landwise.designing.design import usual_rows
from landwise.designing.guard import Held
from landwise.designing.overprint import beyond_courtyard_mm
from landwise.designing.search import finished, searched
from landwise.designing.why import reasons_of
from landwise.designing.words import binding_words, buys_words, change_words, reason_words
from landwise.joints.mounted import mounted
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import ApertureRules, Foil, apertures, print_part
from landwise.shapes import least_gap_mm

LINE = Line(scatter(0.03, 0.05))
MARGINAL = [  # leadless outlines that hold their target no better than marginally, one to one, on the foil beside them
    ("SON-5-0.8x0.8", 100),
    ("SON-6-1.0x1.0", 120),
    ("SON-6-1.45x1.0", 120),
    ("QFN-16-3x3", 120),
    ("SON-8-1.2x1.0", 100),
]


@cache
def designer(name):
    part = find(name)
    return Designer(part, land_pattern(part), LINE)


@cache
def design(name, foil):
    return designer(name).design(foil)


def counted(name, foil, openings, seed, assemblies=40_000):
    part = find(name)
    printed = print_part(land_pattern(part), Foil(foil), outline=part, openings=openings)
    found = simulate(part_model(part, land_pattern(part), printed, LINE.scatter), assemblies, seed=seed, cores=1)
    return sum(found.rate(key).value for key in ("bridges", "opens", "floated", "tilted"))


@pytest.mark.parametrize(("name", "foil"), MARGINAL)
def test_designs_fail_less_often_by_plain_simulation(name, foil):
    found, part = design(name, foil), find(name)
    assert found.designed
    lands = apertures(land_pattern(part), ApertureRules(), part, foil_um=foil)
    before, after = counted(name, foil, lands, 71), counted(name, foil, found.openings, 72)
    assert before > 1e-3 or found.defects_before < 1e-3
    assert after < 0.5 * before
    # The exact model's level lies within what so few failures can tell.
    assert after < max(4 * found.defects, 5e-4)


@pytest.mark.parametrize(("name", "foil"), [*MARGINAL, ("QFP-48", 100), ("TVSOP-14", 100), ("SO-14", 125)])
def test_a_design_is_never_worse(name, foil):
    found = design(name, foil)
    assert found.defects is None or found.defects <= found.defects_before
    if found.designed:
        after, before = found.margins, found.margins_before
        assert after.middle > before.middle
        assert after.low > before.low - 0.05
        assert after.high > before.high - 0.05
        assert found.multiple() > before.middle / 3.73


@pytest.mark.parametrize(("name", "foil"), [("QFP-48", 100), ("QFN-16-3x3", 120), ("SON-6-1.45x1.0", 120)])
def test_the_same_design_from_several_starts(name, foil):
    case = designer(name).case(foil)
    low, high = case.bounds
    starts = [usual_rows(case), [case.base], [low + 0.8 * (high - low)]]
    scores, widths = [], []
    for rows in starts:
        made = case.alone(finished(case, case.alone(searched(case, rows))))
        result = case.alone(scored(case, made[None], case.centres_of_row(made)))
        scores.append(float(result.margins[:, 0].mean()))
        widths.append(made[0])
    assert np.ptp(scores) < 0.15
    assert np.ptp(widths) <= 0.03


def test_a_print_that_holds_is_left_as_it_is():
    found = design("SO-14", 125)
    assert found.reason == "wide enough"
    assert found.openings == apertures(land_pattern(find("SO-14")), ApertureRules(), find("SO-14"))
    assert "one and a half" in reason_words(found)


def test_what_is_drilled_has_no_design():
    assert designer("DIP-14").design(125).reason == "nothing printed"


def test_overprints_of_drilled_leads_stay_inside_the_courtyard_and_clear_of_each_other():
    part, rules = find("DIP-14"), ApertureRules(drilled="paste-in-hole")
    lands = land_pattern(part)
    made = Designer(part, lands, LINE, rules).design(150)
    assert made.reason == "overprinted"
    assert beyond_courtyard_mm(made.openings, lands) <= 1e-9
    assert beyond_courtyard_mm(apertures(lands, rules, part, foil_um=150), lands) > 1.0
    assert least_gap_mm([one for aperture in made.openings for one in aperture.openings]) >= 0.5 - 1e-9
    fill = print_part(lands, Foil(150), outline=part, openings=made.openings).deposits[0].fill
    assert 0.3 < fill < 1.0
    thick = Designer(part, lands, LINE, rules).design(300).openings[0]
    assert thick.area_mm2 * 0.3 > made.openings[0].area_mm2 * 0.15


def test_limits_of_the_foil_are_kept():
    found = design("TVSOP-14", 100)
    printed = print_part(land_pattern(find("TVSOP-14")), Foil(100), outline=find("TVSOP-14"), openings=found.openings)
    assert all(one.shape.width_mm >= 0.190 - 1e-9 for aperture in found.openings for one in aperture.openings)
    assert least_gap_mm([one for aperture in found.openings for one in aperture.openings]) >= 0.10
    assert printed.least_area_ratio >= 0.66
    assert mounted(find("TVSOP-14"), land_pattern(find("TVSOP-14")), printed).lead.class_low >= 2


def test_joints_that_lose_a_class_or_their_height_are_refused():
    before = Held(classes=(3, 3, 3), leadless_mm=0.040, balls_mm=0.20)
    assert before.kept_by(Held(classes=(3, 2, 2), leadless_mm=0.035, balls_mm=0.195))
    assert not before.kept_by(Held(classes=(3, 3, 1), leadless_mm=0.040, balls_mm=0.20))
    assert not before.kept_by(Held(classes=(3, 3, 3), leadless_mm=0.025, balls_mm=0.20))
    assert not before.kept_by(Held(classes=(3, 3, 3), leadless_mm=0.040, balls_mm=0.18))
    assert Held(leadless_mm=0.06, on_pad=True).kept_by(Held(leadless_mm=0.05, on_pad=True))
    assert not Held(leadless_mm=0.06, on_pad=True).kept_by(Held(leadless_mm=0.04, on_pad=True))


def test_reasons_name_what_binds_and_what_stands_beside():
    found = reasons_of(designer("TVSOP-14"), design("TVSOP-14", 100))
    assert {one.key for one in found.binds} >= {"bridge", "powder"}
    assert found.binds[0].other
    by = {one.kind: one.margin for one in found.beside}
    assert by["designed"] > by["one to one"]
    assert "maker's" not in by
    assert found.buys.thinner_foil > 0
    assert "190" in " ".join(binding_words(one) for one in found.binds)
    assert "thinner foil" in buys_words(found.buys)


def test_the_makers_print_stands_beside_where_it_is_known():
    found = reasons_of(designer("SON-6-1.0x1.0"), design("SON-6-1.0x1.0", 100))
    assert "maker's" in {one.kind for one in found.beside}


def test_changes_in_words():
    assert change_words(Changes()) == "as the lands"
    assert change_words(Changes(corner=0.5, coverage=0.6), pad=True) == "inner corners cut, centre pad 60 % open"
