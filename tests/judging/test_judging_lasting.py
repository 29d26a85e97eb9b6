"""Lives as limits: a stated place or years, a confidence, a test of one's own, obeyed wherever an option is judged."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import lognorm, norm

from landwise.board.choice import choose_board
from landwise.cli import main
from landwise.evidence.figures import figure
from landwise.evidence.trails import drawn, taken
from landwise.judging.bench import Bench
from landwise.judging.lifetime import life_of
from landwise.judging.study import run_study
from landwise.judging.wanted import confidence_in, state_of
from landwise.memory import Memory
from landwise.outlines import find
from landwise.results.told import must_tell
from landwise.results.verdict import verdict_of
from landwise.study.file import study_from

MEMORY = Memory()
OFFERED = [{"outline": "QFN-16-3x3", "price": 0.02}, {"outline": "TSSOP-16", "price": 0.9}]
HOOD = {"environment": "under-hood", "years": 3000}
LINE = {"foils": ["100 um"], "foil": "100 um"}
TEST = {"package": "TSSOP-16", "samples": 32, "low": "-40 degC", "high": "125 degC"}


def study(want=None, use=None, **tables):
    part = {"refs": ["U1"], "terminals": 16, "options": OFFERED}
    # Hidden joints are asked for, so that nothing but the life stands against the leadless part.
    wishes = {"hidden_joints": "any", **(want or {})}
    return study_from({"part": [part], "want": wishes, "use": use or {}, "line": LINE, **tables}, file="x")


def judged(*args, **kwargs):
    one = study(*args, **kwargs)
    return run_study(one, bench=Bench.of(one, MEMORY))


def options(result):
    return {option.name: option for option in result.parts[0].options}


def number(low, value, high, better="more", measured=True):
    step = taken("x", drawn((low, value, high), "x", ("landwise-rule",), "years"))
    return figure(step, key="life", title="life", better=better, measured=measured)


# --- confidence ---
@pytest.mark.parametrize("bound", [7.0, 10.0, 11.5])
def test_an_even_interval_is_that_of_a_normal_number(bound):
    # scipy's normal distribution whose 90 % interval is 8 to 12.
    sd = 2 / norm.ppf(0.95)
    assert confidence_in(number(8, 10, 12), bound) == pytest.approx(norm.sf(bound, 10, sd), abs=1e-4)
    assert confidence_in(number(8, 10, 12, "less"), bound) == pytest.approx(norm.cdf(bound, 10, sd), abs=1e-4)


@pytest.mark.parametrize("bound", [0.5, 3.0, 30.0, 200.0])
def test_an_interval_even_in_its_logarithm_is_that_of_a_lognormal_number(bound):
    # scipy's lognormal distribution whose 90 % interval is 1 to 900, median 30.
    sigma = np.log(30) / norm.ppf(0.95)
    assert confidence_in(number(1, 30, 900), bound) == pytest.approx(lognorm.sf(bound, sigma, scale=30), abs=1e-4)


@pytest.mark.parametrize("name", ["QFN-16-3x3", "QFN-20-3.5x4.5", "BGA-96-0.8"])
@pytest.mark.parametrize("years", [2.0, 10.0, 100.0])
def test_the_confidence_is_about_the_share_of_draws_that_last(name, years):
    """Against counting the draws themselves; a normal about the middle of the interval misses by up to a half.

    Kinds of joint whose level is measured: of the others all of the interval is wanted anyway.
    """
    bench = Bench.of(study(use={"environment": "under-hood"}), MEMORY)
    found = life_of(bench.geometry(find(name)), bench.content)[1]
    band = found.years_to(0.001)
    counted = float((found.common(0.001, 1024) >= years).mean())
    assert confidence_in(number(band.low, band.value, band.high), years) == pytest.approx(counted, abs=0.12)


def test_a_point_is_held_or_not():
    assert [confidence_in(number(5, 5, 5), bound) for bound in (4.0, 5.0, 6.0)] == [1, 1, 0]


def test_what_nobody_measured_is_held_by_all_of_its_interval_or_not_shown_and_never_broken():
    short, middle, long = ((1, 2, 3), (1, 20, 300), (50, 60, 70))
    for ends, told, unmeasured in (
        (short, "broken", "not shown"),
        (middle, *2 * ("not shown",)),
        (long, *2 * ("held",)),
    ):
        assert state_of(number(*ends), 10.0) == told
        assert state_of(number(*ends, measured=False), 10.0) == unmeasured
    # At a confidence that its interval would give, no level that nobody measured is shown.
    assert (state_of(number(1, 20, 300), 10.0, 0.6), state_of(number(1, 20, 300, measured=False), 10.0, 0.6)) == (
        "held",
        "broken",
    )


# --- one verdict everywhere ---
def test_a_life_that_fails_where_the_study_says_it_lives_is_a_broken_limit():
    found = options(judged(use=HOOD))
    quad, leaded = found["QFN-16-3x3"], found["TSSOP-16"]
    assert (quad.figures["life"].verdict, [r.limit for r in quad.rejections]) == ("fails", ["life"])
    assert (verdict_of(quad), leaded.rejections) == ("fails", ())
    assert leaded.figures["life"].verdict == "not known"
    assert "3000 years" in quad.rejections[0].says


def test_a_life_that_fails_where_it_was_assumed_to_live_is_told_and_rules_nothing_out():
    quad = options(judged())["QFN-16-3x3"]
    from dataclasses import replace

    from landwise.judging.option import _lasting

    failed = replace(quad.figures["life"], verdict="fails")
    assumed, stated = (Bench.of(study(use=use), MEMORY) for use in ({}, {"environment": "consumer"}))
    assert _lasting({"life": failed}, assumed) == []
    assert [r.limit for r in _lasting({"life": failed}, stated)] == ["life"]
    assert [c.key for c in must_tell(replace(quad, figures={**quad.figures, "life": failed}), assumed.content)] == [
        "life"
    ]


@pytest.mark.parametrize("how", ["study", "regret", "each", "wish"])
def test_the_choice_obeys_it_in_every_way_of_choosing(how):
    """The cheaper part fails by its life: whatever chooses takes the other, and says why."""
    want = {"choose_for": "regret"} if how == "regret" else {"limits": {"life": "3000 years"}} if how == "wish" else {}
    use = {"environment": "under-hood"} if how == "wish" else HOOD
    tables = {"scenario": [{"name": "few", "run": 100}, {"name": "many", "run": 10000}]} if how == "regret" else {}
    result = judged(want, use, **tables)
    if how != "each":
        result = choose_board(result, memory=MEMORY)
    assert result.parts[0].chosen.name == "TSSOP-16"
    assert {r.limit for r in options(result)["QFN-16-3x3"].rejections} == {"life"}
    mild = choose_board(judged(want if how == "regret" else {}, {"environment": "consumer"}, **tables), memory=MEMORY)
    assert mild.parts[0].chosen.name == "QFN-16-3x3"


def test_compare_obeys_it_too(capsys):
    flags = ["compare", "--function", "octal buffer", "--options", "QFN-16-3x3=0.02, TSSOP-16=0.9", "--terminals", "16"]
    with pytest.raises(SystemExit) as ended:
        main([*flags, "--environment", "under-hood", "--years", "3000", "--hidden-joints", "any"])
    assert ended.value.code == 0
    said = capsys.readouterr().out
    assert "wanted 3000 years" in said


def test_years_at_a_confidence_ask_for_what_is_shown():
    """What is held half the time is no longer enough; leads that nobody tested show nothing until a test is stated."""
    quad, hood = "QFN-16-3x3", {"environment": "under-hood", "years": 3}
    assert options(judged(use=hood))[quad].rejections == ()
    life = options(judged(use=hood))[quad].figures["life"]
    half = confidence_in(life, 3.0)
    assert 0.1 < half < 0.9
    asked = [options(judged({"sure": sure}, hood))[quad].rejections for sure in (half - 0.02, half + 0.02)]
    assert [len(found) for found in asked] == [0, 1]
    assert "at a confidence" in asked[1][0].says
    leaded = options(judged({"sure": 0.8}, hood))["TSSOP-16"]
    assert [r.limit for r in leaded.rejections] == ["life"]
    tested = options(judged({"sure": 0.8}, {**hood, "tests": [{**TEST, "cycles": 20000, "failures": 0}]}))["TSSOP-16"]
    if tested.figures["life"].measured:
        assert confidence_in(tested.figures["life"], 3.0) > confidence_in(leaded.figures["life"], 3.0)


def test_a_test_of_ones_own_decides_where_formulas_may_not():
    """Copper leads never fail by formula; with a metal stated and a bad test they do, and the choice follows."""
    from dataclasses import replace

    from landwise.judging.lifetime import environment_of, joint_of
    from landwise.service.lifeverdict import life_verdict

    bad = [{**TEST, "cycles": 1500, "failures": 16}]
    bench = Bench.of(study(use={"environment": "under-hood", "years": 300, "tests": bad}), MEMORY)
    joint, found = life_of(bench.geometry(find("TSSOP-16")), bench.content)
    copper = replace(joint, lead_metal="copper")
    place = environment_of(bench.content.use)
    assert found.weights is not None
    assert joint_of(bench.geometry(find("TSSOP-16")), bench.content) == joint
    assert life_verdict(found, copper, place.years, place.failures).measured
    assert life_verdict(found, copper, place.years, place.failures).state == "broken"
    untested = life_of(bench.geometry(find("SO-16")), bench.content)[1]
    assert untested.weights is not None  # its kind learns from it too


def test_page_one_terminal_and_reply_say_whose_life_nothing_shows():
    from landwise.cli.boardlines import board_lines
    from landwise.results.answer import reply
    from landwise.results.told import unshown_lives
    from landwise.sheets.frontpage import front_data

    stated = choose_board(judged(use=HOOD), memory=MEMORY)
    said = unshown_lives(stated.parts, stated.content)
    assert "U1 in TSSOP-16" in said
    assert "IPC-9701" in said
    assert said in front_data(stated)["hangs"]
    assert any("not shown: U1 in TSSOP-16" in line.plain for line in board_lines(stated))
    assert "not shown: U1 in TSSOP-16" in reply(stated)
    # Where nobody stated the place nothing is told of it, and where lives hold neither.
    assert unshown_lives(judged().parts, judged().content) == ""
    mild = judged(use={"environment": "consumer"})
    assert unshown_lives(mild.parts, mild.content) == ""


def test_own_cycles_state_the_place_so_that_the_assumed_one_contradicts_nothing():
    from landwise.judging.lifetime import asked_of

    cycles = [{"swing": "45 K", "dwell": "2 h", "per_year": 700, "top": "80 degC"}]
    use = {"ambient": "70 degC", "air": "humid"}
    assert len(asked_of(study(use=use).content)) == 3
    assert asked_of(study(use={**use, "cycles": cycles}).content) == ()
    assert len(asked_of(study(use={**use, "cycles": cycles, "environment": "consumer"}).content)) == 2
