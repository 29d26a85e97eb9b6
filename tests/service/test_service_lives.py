"""Life in temperature cycles: limiting cases, monotony, and the refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landwise.board.choice import choose_board
from landwise.errors import InputError, UnknownNameError, ValidityError
from landwise.joints.mounted import mounted
from landwise.joints.standing import ball_stand
from landwise.judging.study import run_study
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.service.attachment import Attachment, attachment
from landwise.service.bands import Band, interval, scores
from landwise.service.environments import ENVIRONMENTS, Cycles, Environment, environment
from landwise.service.lives import LEAST_MISMATCH_PPM_K, board_failed, life
from landwise.service.materials import BOARD_PPM_K, Layer, package_expansion, stack_expansion
from landwise.service.thermal_cycling import fatigue_exponent, leadless_strain, median_cycles
from landwise.service.underfill import shear_relief
from landwise.study.file import study_from

BALL = Attachment("ball", 5, 0.56, Band(0.14, 0.15, 0.16), Band(2.6, 2.6, 2.8))
LEADED = Attachment(
    "leaded", 14, 4.6, Band(0.03, 0.05, 0.07), Band(11, 12.5, 14), Band(30, 60, 80), Band(0.18, 0.22, 0.26)
)
TEST = Environment("chamber", "0/100 °C", (Cycles(100, 10, 8766, 100),), 1, 0.5)


def attached(name, foil_um=100):
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(foil_um), outline=outline)
    return attachment(outline, pattern, printed, ball_stand(outline, pattern, printed))


def test_one_kind_of_cycle_gives_the_plain_formulas():
    found = life(BALL, TEST, BOARD_PPM_K, ("snpb",))
    strain = leadless_strain(0.56, 15 - 2.6, 100, 0.15, 1.25)
    cycles = median_cycles(strain, fatigue_exponent(50, 10))
    assert found.strain == pytest.approx(strain)
    assert found.median_years == pytest.approx(cycles / 8766)
    assert found.years_to(0.5).value == pytest.approx(found.median_years)


def test_two_kinds_of_cycle_add_their_damage():
    mild, hard = Cycles(40, 60, 300, 60), Cycles(80, 60, 100, 85)
    alone = [life(BALL, Environment("x", "x", (line,), 1, 0.01), BOARD_PPM_K).median_years for line in (mild, hard)]
    both = life(BALL, Environment("x", "x", (mild, hard), 1, 0.01), BOARD_PPM_K)
    assert 1 / both.median_years == pytest.approx(1 / alone[0] + 1 / alone[1])
    assert sum(both.damage) == pytest.approx(1)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.3, 5), st.floats(0.05, 0.4), st.floats(20, 150))
def test_life_falls_with_distance_and_swing_and_rises_with_height(dnp, height, swing):
    place = Environment("x", "x", (Cycles(swing, 15, 365, 100),), 1, 0.01)
    wider = Environment("x", "x", (Cycles(swing * 1.2, 15, 365, 100 + swing * 0.1),), 1, 0.01)
    base = replace(BALL, dnp_mm=dnp, height_mm=Band(0.9 * height, height, 1.1 * height))
    years = life(base, place, BOARD_PPM_K).median_years
    assert life(replace(base, dnp_mm=1.3 * dnp), place, BOARD_PPM_K).median_years < years
    assert life(base, wider, BOARD_PPM_K).median_years < years
    assert life(replace(base, height_mm=base.height_mm.times(1.3)), place, BOARD_PPM_K).median_years > years


def test_a_softer_lead_lives_longer():
    softer = replace(LEADED, stiffness_n_mm=LEADED.stiffness_n_mm.times(0.5))
    assert life(softer, TEST, BOARD_PPM_K).median_years > 2 * life(LEADED, TEST, BOARD_PPM_K).median_years


def test_a_stiff_lead_strains_solder_no_more_than_no_lead():
    stiff = replace(LEADED, stiffness_n_mm=Band.exact(1e5))
    bare = replace(LEADED, kind="leadless", stiffness_n_mm=None, area_mm2=None)
    assert life(stiff, TEST, BOARD_PPM_K).strain == pytest.approx(life(bare, TEST, BOARD_PPM_K).strain)
    assert life(LEADED, TEST, BOARD_PPM_K).strain < life(bare, TEST, BOARD_PPM_K).strain


def test_a_mismatch_near_zero_is_not_taken_for_endless_life():
    matched = life(replace(BALL, expansion_ppm_k=Band.exact(15.0)), TEST, Band.exact(15.0))
    small = life(replace(BALL, expansion_ppm_k=Band.exact(15.0 - LEAST_MISMATCH_PPM_K)), TEST, Band.exact(15.0))
    assert matched.median_years == pytest.approx(small.median_years)


def test_the_value_lies_within_its_interval_and_the_interval_follows_the_share():
    found = life(attached("WLP-5-0.5"), environment("under-hood"), BOARD_PPM_K)
    early, late = found.years_to(0.001), found.years_to(0.5)
    for band in (early, late):
        assert band.low < band.value < band.high
    assert early.value < late.value
    assert early.low < late.low
    assert found.failed(late.value).value == pytest.approx(0.5)


def test_the_interval_agrees_with_plain_random_draws():
    z = np.random.default_rng(1).standard_normal((7, 20000))
    found = life(BALL, TEST, BOARD_PPM_K, ("snpb",))
    mismatch = np.maximum(np.abs(BOARD_PPM_K.at(z[0]) - BALL.expansion_ppm_k.at(z[1])), 2.0)
    strain = np.clip(BALL.factor.at(z[3]), 0.5, 1.5) * 0.56 * mismatch * 1e-4 / BALL.height_mm.at(z[2])
    cycles = 0.5 * (0.65 / strain) ** (-1 / fatigue_exponent(50, 10)) * 3 ** (z[4] / 1.6448536)
    shape = np.maximum(BALL.shape.at(z[6]), 1)
    years = cycles / 8766 * (math.log(0.99) / math.log(0.5)) ** (1 / shape)
    low, high = interval(years)
    band = found.years_to(0.01)
    assert (band.low, band.high) == (pytest.approx(low, rel=0.06), pytest.approx(high, rel=0.06))


def test_parts_compete_and_a_single_part_is_its_own_board():
    one = life(BALL, environment("under-hood"), BOARD_PPM_K)
    years = np.array([1.0, 5.0, 20.0])
    value, low, high = board_failed([(one, 1)], years)
    assert value == pytest.approx([one.failed(t).value for t in years])
    assert np.all(low <= value)
    assert np.all(value <= high)
    many = board_failed([(one, 3)], years)[0]
    assert many == pytest.approx(1 - (1 - value) ** 3)


@pytest.mark.parametrize("dwell", [0.5, 0.99])
def test_quick_cycles_are_refused(dwell):
    place = Environment("x", "x", (Cycles(100, dwell, 365, 100),), 1, 0.01)
    with pytest.raises(ValidityError, match="too quick for creep"):
        life(BALL, place, BOARD_PPM_K)


def test_too_hot_a_cycle_is_refused():
    with pytest.raises(ValidityError, match="outside the tested temperatures"):
        life(BALL, Environment("x", "x", (Cycles(20, 60, 365, 200),), 1, 0.01), BOARD_PPM_K)


def test_a_year_has_no_room_for_more_hours_than_it_has():
    with pytest.raises(InputError, match="no room"):
        Environment("x", "x", (Cycles(40, 720, 800, 60),), 1, 0.01)


def test_unknown_names_are_refused():
    with pytest.raises(UnknownNameError):
        environment("moon")
    with pytest.raises(InputError, match="fatigue constants"):
        life(BALL, TEST, BOARD_PPM_K, ("sac-of-nobody",))


def test_recalled_constants_are_no_default():
    from landwise.service.lives import DEFAULT_SETS
    from landwise.service.thermal_cycling import FATIGUE_SETS

    assert not any("memory" in FATIGUE_SETS[name].source or "recalled" in name for name in DEFAULT_SETS)


def test_drilled_parts_are_not_judged_by_the_surface_joint_methods():
    with pytest.raises(ValidityError, match="plated hole"):
        attached("DIP-14")


def test_a_thicker_foil_makes_leadless_joints_higher():
    assert attached("QFN-48-7x7", 150).height_mm.value > attached("QFN-48-7x7", 100).height_mm.value


def test_every_row_of_the_table_gives_every_kind_a_life():
    for place in ENVIRONMENTS.values():
        for name in ("WLP-5-0.5", "QFN-16-3x3", "SO-14", "BGA-56-0.65"):
            if any(line.dwell_min >= 1 for line in place.cycles):
                band = life(attached(name), place, BOARD_PPM_K).years_to(place.failures)
                assert 0 < band.low < band.high < math.inf


def test_a_stack_lies_between_its_layers_and_one_layer_is_itself():
    assert stack_expansion([Layer(1, 20, 14)]) == 14
    assert 10 < stack_expansion([Layer(0.2, 121, 16.3), Layer(0.6, 20, 10)]) < 16.3
    with pytest.raises(InputError):
        stack_expansion([])


def test_more_mould_and_larger_dice_pull_a_package_away_from_its_frame():
    large, small = package_expansion(find("QFN-64-9x9")), package_expansion(find("SON-6-1.0x1.0"))
    assert small.value < large.value < 16.3


def test_scores_are_the_same_every_time_and_fill_evenly():
    z = scores(5)
    assert z is scores(5)
    assert np.all(np.abs(z.std(axis=1) - 1) < 0.05)
    assert np.abs(np.corrcoef(z) - np.eye(5)).max() < 0.05


DIE, BOARD = (150.0, 0.35), (25.8, 1.6)


def test_a_bond_without_stiffness_takes_nothing_off_and_a_wide_body_is_held():
    assert shear_relief(2.0, 0.16, 1e-9, DIE, BOARD) == pytest.approx(1)
    # An endless joint slips by 1/β whatever its length: relief falls as one over the length.
    assert shear_relief(200, 0.16, 2.0, DIE, BOARD) == pytest.approx(2 * shear_relief(400, 0.16, 2.0, DIE, BOARD))
    assert shear_relief(5, 0.16, 2.0, DIE, BOARD) < shear_relief(1, 0.16, 2.0, DIE, BOARD)
    with pytest.raises(InputError):
        shear_relief(1, 0.0, 2.0, DIE, BOARD)


def test_an_underfill_lengthens_the_life_of_a_wide_grid_more_than_of_a_tiny_one():
    gains = []
    for name in ("WLP-5-0.5", "WLP-30-0.4"):
        outline = find(name)
        pattern = land_pattern(outline)
        printed = print_part(pattern, Foil(100), outline=outline)
        stand = ball_stand(outline, pattern, printed)
        bare, filled = (attachment(outline, pattern, printed, stand, underfill=fill) for fill in (False, True))
        gains.append(life(filled, TEST, BOARD_PPM_K).median_years / life(bare, TEST, BOARD_PPM_K).median_years)
    assert 1 < gains[0] < gains[1]


def test_leadless_strain_follows_the_standoff_the_part_settles_at():
    outline = find("QFN-16-3x3")
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    flat = mounted(outline, pattern, printed).leadless
    joint = attachment(outline, pattern, printed, None, flat)
    assert joint.height_mm.value == flat.height_mm
    floating = replace(flat, rest=replace(flat.rest, state="open"))
    with pytest.raises(ValidityError, match="floats"):
        attachment(outline, pattern, printed, None, floating)


def test_a_study_with_an_unknown_environment_is_told_where():
    study = study_from({"part": [{"refs": ["U1"], "package": "SO-14"}], "use": {"environment": "moon"}})
    with pytest.raises(UnknownNameError) as caught:
        run_study(study)
    assert "use, environment" in str(caught.value)
    assert "under-hood" in str(caught.value)


def test_a_study_states_its_own_cycles_years_and_failures():
    cycles = [{"swing": "80 K", "dwell": "30 min", "per_year": 3000, "top": "105 degC"}]
    part = {"refs": ["U1"], "package": "QFN-48-7x7", "options": [{"outline": "QFN-48-7x7"}], "locked": True}
    mild = run_study(study_from({"part": [part]})).parts[0].present.figures["life"]
    use = {"cycles": cycles, "years": 8, "failures": 0.001}
    hard = run_study(study_from({"part": [part], "use": use})).parts[0].present.figures["life"]
    assert (mild.limit, hard.limit) == (3, 8)
    assert hard.value < mild.value / 20
    assert hard.verdict == "fails"


def test_every_figure_of_the_room_can_be_limited_whatever_the_family():
    options = [{"outline": name} for name in ("DIP-14", "SO-14", "TSSOP-14", "QFN-14-2.5x3")]
    part = {"refs": ["U1"], "terminals": 14, "family": "HC", "package": "SO-14", "options": options}
    limits = {"life": 1.0, "test-life": 100, "push": "5 N", "pull": "20 N", "hang": 46.5}
    result = run_study(study_from({"part": [part], "want": {"limits": limits}}))
    for option in result.parts[0].options:
        for key in limits:
            assert option.figures[key].better in ("more", "less"), (option.name, key)
    chosen = choose_board(result)
    assert chosen.choice is not None
    assert chosen.parts[0].chosen.name != "DIP-14"


@pytest.mark.parametrize("use", [{"years": 0}, {"failures": 0}, {"failures": 1}, {"years": -1}])
def test_no_years_and_no_failures_are_refused(use):
    study = study_from({"part": [{"refs": ["U1"], "package": "SO-14"}], "use": use})
    with pytest.raises(InputError, match="positive"):
        run_study(study)
