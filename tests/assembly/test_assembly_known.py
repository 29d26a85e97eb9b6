"""What is known of rates: draws, their common numbers, other causes, the terms a rate hangs on, and ratios."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from landwise.assembly.drawn import POINTS, drawn_rates, names, prior_scores, scatter_at
from landwise.assembly.knowledge import (
    CLASS_SPREAD,
    LINE_SPREAD,
    MECHANISMS,
    Knowledge,
    Others,
    default_knowledge,
    joint_class,
    standing,
)
from landwise.assembly.leftout import LeftOut, at_rate, left_out
from landwise.assembly.partmodel import part_at
from landwise.assembly.partrates import OwnRate, exactly, own_rate, part_rates
from landwise.assembly.rare import rates
from landwise.assembly.ratios import rate_ratio
from landwise.assembly.scatter import default_terms, scatter
from landwise.errors import InputError
from landwise.outlines import find


def test_every_term_with_a_range_is_drawn():
    moving = {name for name, term in default_terms().items() if term.high > term.low}
    assert set(names()) == moving | {"transfer"}
    assert len(names()) == len(set(names()))


def test_draws_fill_each_term_s_own_range():
    line = scatter_at(scatter(0.03, 0.05), prior_scores(400))
    for name, term in default_terms().items():
        values = np.broadcast_to(line[name], (400, 1))
        assert np.mean(values < term.low) == pytest.approx(0.05, abs=0.01)
        # `overhang` has no upper half: its value is its high end.
        assert np.mean(values > term.high) == pytest.approx(0.05 if term.high > term.value else 0.0, abs=0.01)


def test_a_stated_term_does_not_move():
    line = scatter_at(scatter(0.03, 0.05, {"lead_film": "5 um"}), prior_scores(50))
    assert np.ptp(line["lead_film"]) == 0
    assert np.ptp(line["tear_factor"]) > 0


@pytest.mark.parametrize("row", range(0, 60, 6))
def test_a_draw_is_the_part_on_that_line(model, row):
    # Worked for all draws at once, and on its own with the method for one line.
    part = model("TVSOP-14")
    scores = default_knowledge().scores
    together = drawn_rates(part, scores, 4 * POINTS)
    line = part.scatter.drawn({name: float(scores[row, k]) for k, name in enumerate(names())}).settled()
    alone = rates(part_at(part.geometry, line), asked=0.05)
    for name in ("bridges", "opens"):
        if getattr(alone, name).value > 1e-5:
            assert together[name][row] == pytest.approx(getattr(alone, name).value, rel=0.5)


def test_noise_is_no_part_of_a_range(model):
    # With eight times the points the quantiles stay where they are, within a fifth of the logarithm's spread.
    for name, mechanism in (("TVSOP-14", "bridges"), ("TSSOP-14", "bridges"), ("QFN-16-2.5x3.5", "opens")):
        part, scores = model(name), default_knowledge().scores
        few, many = (np.log(drawn_rates(part, scores, points)[mechanism] + 1e-7) for points in (POINTS, 8 * POINTS))
        spread = many.std()
        for share in (0.5, 0.95):
            assert abs(np.quantile(few, share) - np.quantile(many, share)) < 0.2 * spread
        assert (few - many).std() < 0.35 * spread


def test_terms_move_the_rates_they_should(model):
    hanging = {name: dict(part_rates(model(name)).hangs_on) for name in ("TVSOP-14", "TSSOP-14")}
    assert {one.term for one in hanging["TVSOP-14"]["bridges"]} & {"remaining_share", "remaining_spread", "slump_share"}
    thin = dict(part_rates(model("TSSOP-14", 80.0)).hangs_on)["opens"]
    assert {one.term for one in thin} & {"lead_film", "tear_factor", "coplanarity_share"}
    assert all(0 <= one.share <= 1 for rows in hanging["TVSOP-14"].values() for one in rows)


def test_one_line_that_states_everything_has_narrow_modelled_rates(model):
    own = tuple(
        (name, f"{term.value} {term.unit}".strip()) for name, term in default_terms().items() if term.unit != "um/mm"
    )
    stated = drawn_rates(model("TVSOP-14", own=own), default_knowledge().scores)["bridges"]
    free = drawn_rates(model("TVSOP-14"), default_knowledge().scores)["bridges"]
    assert np.log(stated + 1e-7).std() < 0.3 * np.log(free + 1e-7).std()


def test_draws_are_common_and_in_order(model):
    found = part_rates(model("TSSOP-14"))
    every, some = found.draws(), found.draws(20)
    assert set(every) == set(MECHANISMS)
    for name in MECHANISMS:
        assert every[name].shape == (200,)
        assert np.array_equal(every[name][:20], some[name])
        assert (every[name] >= 0).all()
    assert found.defects.value == pytest.approx(sum(every.values()).mean())
    assert part_rates(model("TSSOP-14")) == found


@pytest.mark.parametrize("number", [0, 201])
def test_draws_that_are_not_there_are_refused(model, number):
    with pytest.raises(InputError, match="draws"):
        part_rates(model("TSSOP-14")).draws(number)


def test_no_part_is_better_than_its_other_causes(model):
    for name in ("SO-14", "WLP-5-0.5"):
        found = part_rates(model(name))
        assert found.other.value > 1e-5
        assert found.defects.low >= found.other.low
        assert found.first_pass.value <= 1 - 0.9 * found.other.value


def test_other_causes_grow_with_joints_and_are_none_of_the_geometry(model):
    thick, thin = part_rates(model("TSSOP-14", 150.0)), part_rates(model("TSSOP-14", 60.0))
    assert thick.other == thin.other
    assert part_rates(model("QFP-64")).other.value > part_rates(model("TSSOP-8")).other.value


def test_classes_without_counts_are_wider(model):
    lead, ball = part_rates(model("SO-14")), part_rates(model("WLP-5-0.5"))
    assert lead.anchored
    assert not ball.anchored
    assert np.log(ball.draws()["other"]).std() > np.log(lead.draws()["other"]).std()


@pytest.mark.parametrize(
    ("name", "rate", "ways"),
    [
        ("SO-14", "opens", {LeftOut.NON_WET, LeftOut.BENT_LEAD}),
        ("QFN-16-3x3", "opens", {LeftOut.NON_WET, LeftOut.CUT_FLANK}),
        ("QFN-16-3x3", "moved", set()),
        ("SON-6-1.0x1.0", "moved", {LeftOut.TOMBSTONE}),
        ("WLP-5-0.5", "opens", {LeftOut.NON_WET, LeftOut.HEAD_IN_PILLOW}),
        ("WLP-5-0.5", "bridges", {LeftOut.SMEAR}),
    ],
)
def test_what_no_mechanism_works_stands_at_its_rate(name, rate, ways):
    found = left_out(joint_class(find(name).family), find(name).family)
    assert set(found[rate]) == ways
    assert ways <= set(at_rate(found, "defects"))


def test_a_counted_rate_leaves_nothing_out(model):
    found = part_rates(model("SON-6-1.0x1.0"), OwnRate("leadless dual", 10.0, 20.0))
    assert not found.not_modelled("bridges")
    assert not found.not_modelled("opens")
    assert found.not_modelled("moved") == (LeftOut.TOMBSTONE,)


def test_what_a_line_counts_holds_every_cause(model):
    found = part_rates(model("QFN-16-3x3"))
    by, counted = found.draws(), {name: np.array(values) for name, values in found.counted}
    assert np.all(counted["bridge"] > by["bridges"])
    assert np.all(counted["open"] > by["opens"])
    # Bridges, opens, moved parts and other causes of whole parts make all defects: no cause is in two of them.
    whole = by["bridges"] + by["opens"] + by["moved"] + by["other"]
    assert np.all(counted["bridge"] + counted["open"] + by["moved"] < whole)


@pytest.mark.parametrize(
    ("family", "kind"), [("ball grid", "ball"), ("flat-lead dual", "lead"), ("leadless quad", "leadless")]
)
def test_classes_of_joints(family, kind):
    assert joint_class(family) == kind


def test_a_line_s_own_levels_take_the_place_of_the_shipped_ones(model):
    # What a later calibration needs: its own levels per class, factors per mechanism, scores and spread.
    known = default_knowledge()
    none = np.zeros(known.draws)
    level = Others(none, np.full(known.draws, 5.0), none)
    own = Knowledge(
        name="a line",
        scores=known.scores,
        line=none,
        others={"lead": level, "leadless": level, "ball": level},
        spread=none,
        factors={("lead", "bridges"): np.full(known.draws, 0.5)},
        anchored=("lead", "leadless", "ball"),
    )
    found = part_rates(model("TSSOP-14"), knowledge=own)
    assert found.other.value == pytest.approx(14 * 5e-6)
    whole = part_rates(model("TSSOP-14"), knowledge=replace(own, factors={}))
    assert found.draws()["bridges"] == pytest.approx(0.5 * whole.draws()["bridges"])
    assert own.key != known.key


def test_the_line_s_own_level_goes_with_no_rate_of_packages_that_it_was_not_dealt_out_by(model):
    """Independent of the terms by what it is: the mean of a product is the product of the means."""
    known = default_knowledge()
    level = np.exp(known.line)
    assert np.sort(known.line) == pytest.approx(LINE_SPREAD * np.sort(standing("line", known.draws)), abs=1e-4)
    for name, foil in (("TSSOP-14", 100.0), ("TVSOP-14", 100.0), ("QFN-16-2.5x3.5", 100.0), ("QFP-48", 120.0)):
        found = drawn_rates(model(name, foil), known.scores)["bridges"]
        assert np.mean(found * level) == pytest.approx(found.mean() * level.mean(), rel=0.15), name


def test_draws_need_a_score_for_every_term():
    known = default_knowledge()
    with pytest.raises(InputError, match="score"):
        replace(known, scores=known.scores[:, :3])


def test_a_ratio_of_two_prints_is_narrower_than_the_rates(model):
    thick, thin = part_rates(model("TSSOP-14", 125.0)), part_rates(model("TSSOP-14", 100.0))
    found = rate_ratio(thick, thin, "bridges")
    assert 1 < found.low < found.value < found.high
    assert found.value == pytest.approx(1 / rate_ratio(thin, thick, "bridges").value)
    widths = [np.log(one.draws()["bridges"] + 1e-12).std() for one in (thick, thin)]
    assert np.log(found.high / found.low) / 3.29 < max(widths)


def test_a_ratio_between_packages_holds_what_packages_differ_by(model):
    # Two packages of other causes alone: the line drops out, the packages' own spread stays.
    found = rate_ratio(part_rates(model("SO-14")), part_rates(model("SO-16")), "other")
    spread = np.log(found.high / found.low) / 3.29
    assert 0.3 < spread < LINE_SPREAD
    assert rate_ratio(part_rates(model("SO-14")), part_rates(model("SO-14")), "other") == exactly(1.0)


def test_ratios_that_make_no_sense_are_refused(model):
    one = part_rates(model("SO-14"))
    with pytest.raises(InputError):
        rate_ratio(one, one, "voids")


def test_a_user_s_own_rates_replace_the_worked_ones(model):
    own = OwnRate("gull-wing dual", 20.0, 30.0, 0.6, 0.7)
    assert own_rate(find("TSSOP-14"), [own]) is own
    assert own_rate(find("TVSOP-14"), [own]) is None
    found = part_rates(model("TSSOP-14"), own)
    assert found.bridges.value == pytest.approx(20.0 * 14 / 1e6)
    assert found.opens.low == pytest.approx(30.0 * 14 / 1e6)
    # What a line counts as bridge or open holds all its causes: only those of whole parts are left.
    assert found.other.value < part_rates(model("TSSOP-14")).other.value


@pytest.mark.parametrize(("family", "bridge"), [("no such", 10.0), ("gull-wing dual", -1.0), ("gull-wing dual", 2e6)])
def test_own_rates_that_make_no_sense_are_refused(family, bridge):
    with pytest.raises(InputError):
        OwnRate(family, bridge, 0.0)


def test_ranges_hold_the_value_and_never_exceed_the_opportunities(model):
    for name in ("SO-14", "TVSOP-14", "SON-5-0.8x0.8", "WLP-5-0.5"):
        for foil in (80.0, 150.0):
            found = part_rates(model(name, foil))
            for rate, most in ((found.bridges, found.worked.pairs), (found.opens, found.worked.joints + 1)):
                assert 0 <= rate.low <= rate.value <= rate.high <= most
            assert 0 <= found.first_pass.low <= found.first_pass.value <= found.first_pass.high <= 1


def test_numbers_by_name_are_standard_and_differ():
    one, other = standing("one", 200), standing("other", 200)
    assert stats.kstest(one, "norm").pvalue > 0.99
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.25
    assert CLASS_SPREAD < LINE_SPREAD
