"""Leaded joints: creep that limits, the foot's own mismatch, what is shown and what a test of one's own changes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from landwise.errors import InputError, UnknownNameError, ValidityError
from landwise.joints.lead import lead_stiffness
from landwise.joints.leadform import lead_form
from landwise.joints.standing import ball_stand
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.outlines.model import LEAD_METALS
from landwise.printing import Foil, print_part
from landwise.service.attachment import UNKNOWN_METAL, Attachment, attachment, lead_thickness_mm, stem_of
from landwise.service.bands import Band, interval, quantiles
from landwise.service.chamber import USUAL_TEST, Chamber, cycles_wanted
from landwise.service.creep import LAWS, creep_law, crept_share, relaxed_share
from landwise.service.environments import environment
from landwise.service.lifeverdict import VERDICTS, beyond_years, life_verdict
from landwise.service.lives import life, parts_of
from landwise.service.materials import BOARD_PPM_K
from landwise.service.owntests import OwnTest, draw_weights
from landwise.service.surroundings import FILLERS, Surroundings

HOOD = environment("under-hood")


def attached(name: str, metal: str = "copper", around: Surroundings | None = None) -> Attachment:
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    joint = attachment(
        outline, pattern, printed, ball_stand(outline, pattern, printed), around=around or Surroundings()
    )
    return replace(joint, lead_metal=metal) if joint.kind == "leaded" else joint


@pytest.mark.parametrize(
    ("stated", "taken"), [("copper alloy", "copper"), ("iron-nickel 42", "alloy 42"), ("not known", UNKNOWN_METAL)]
)
def test_the_metal_that_an_outline_states_is_the_one_its_joints_are_worked_with(stated, taken):
    outline = replace(find("TSSOP-14"), lead_metal=stated)
    pattern = land_pattern(outline)
    joint = attachment(outline, pattern, print_part(pattern, Foil(100), outline=outline), None)
    assert joint.lead_metal == taken
    assert stated in LEAD_METALS


def median(joint: Attachment) -> float:
    return life(joint, HOOD, BOARD_PPM_K).median_years


# --- creep against numerical integration ---


@pytest.mark.parametrize("law", LAWS.values(), ids=lambda law: law.name)
@pytest.mark.parametrize("stress", [0.3, 1.0, 5.0, 20.0])
@pytest.mark.parametrize(("temperature", "seconds"), [(-40, 3600), (25, 600), (100, 3600), (125, 43200)])
def test_relaxation_agrees_with_numerical_integration(law, stress, temperature, seconds):
    spring = 20.0
    exact = solve_ivp(
        lambda _, left: -spring * law.rate(left, temperature), (0, seconds), [stress], "LSODA", rtol=1e-8, atol=1e-12
    )
    got = float(relaxed_share(stress, spring, temperature, seconds, law=law))
    assert got == pytest.approx(1 - exact.y[0, -1] / stress, abs=0.01)


def test_creep_grows_with_stress_temperature_time_and_margin_and_the_faster_law_is_taken():
    base = float(crept_share(0.5, 20.0, (-15, 85), 3600))
    assert base < float(crept_share(1.0, 20.0, (-15, 85), 3600))
    assert base < float(crept_share(0.5, 20.0, (-15, 110), 3600))
    assert base < float(crept_share(0.5, 20.0, (-15, 85), 7200))
    assert base < float(crept_share(0.5, 20.0, (-15, 85), 3600, margin=10.0))
    assert base == pytest.approx(
        max(sum(float(relaxed_share(0.5, 20.0, t, 3600, law=law)) for t in (-15, 85)) for law in LAWS.values())
    )
    assert float(crept_share(30.0, 20.0, (0, 125), 86400)) <= 1.0
    with pytest.raises(UnknownNameError):
        creep_law("nobody")
    with pytest.raises(InputError):
        relaxed_share(0.0, 20.0, 25, 60, law=creep_law("schubert-sac"))


# --- the order of packages ---


@pytest.mark.parametrize(
    ("leaded", "leadless"),
    [
        ("SO-14", "QFN-14-3.5x3.5"),
        ("SO-16", "QFN-16-3x3"),
        ("SO-20W", "QFN-20-3.5x4.5"),
        ("TSSOP-14", "QFN-14-3.5x3.5"),
        ("TSSOP-16", "QFN-16-3x3"),
        ("TSSOP-20", "QFN-20-3.5x4.5"),
        ("SSOP-20", "QFN-20-3.5x4.5"),
    ],
)
def test_copper_leads_outlast_leadless_quads_of_equal_terminals(leaded, leadless):
    assert life(attached(leaded), HOOD, BOARD_PPM_K).over(life(attached(leadless), HOOD, BOARD_PPM_K), 1e-3).value > 1


@pytest.mark.parametrize("name", ["SO-8", "SO-16", "TSSOP-20", "SSOP-20", "QFP-48", "SOT-23-5"])
def test_alloy_42_is_far_worse_than_copper(name):
    assert median(attached(name)) > 10 * median(attached(name, "alloy 42"))


@pytest.mark.parametrize("name", ["SO-16", "TSSOP-20", "QFN-16-3x3", "WLP-5-0.5", "BGA-56-0.65"])
def test_larger_swings_are_worse(name):
    line = HOOD.cycles[0]
    hard = replace(HOOD, cycles=(replace(line, swing_k=line.swing_k * 1.5, top_c=line.top_c + 15),))
    mild = replace(HOOD, cycles=(line,))
    joint = attached(name)
    assert life(joint, hard, BOARD_PPM_K).median_years < life(joint, mild, BOARD_PPM_K).median_years


@pytest.mark.parametrize(
    ("small", "large"), [("QFN-16-3x3", "QFN-48-7x7"), ("TSSOP-14", "TSSOP-56"), ("SO-14", "SO-16")]
)
def test_larger_bodies_of_one_style_are_worse(small, large):
    assert median(attached(large)) < median(attached(small))


def test_stiffer_leads_thicker_boards_and_mirrored_parts_are_worse_and_an_underfill_better():
    lead = attached("SO-16")
    assert median(replace(lead, stiffness_n_mm=lead.stiffness_n_mm.times(3))) < median(lead)
    quad, thick, thin = (attached("QFN-16-3x3", around=Surroundings(board_mm=t)) for t in (1.6, 3.2, 0.8))
    assert median(thick) < median(quad) < median(thin)
    assert median(attached("QFN-16-3x3", around=Surroundings(mirrored=True))) == pytest.approx(
        0.42 * median(quad), rel=0.01
    )
    assert median(attached("BGA-56-0.65", around=Surroundings(underfill=True))) > median(attached("BGA-56-0.65"))


@pytest.mark.parametrize("coat", FILLERS)
def test_a_coat_that_fills_the_gap_never_helps(coat):
    plain, filled = attached("QFN-16-3x3"), attached("QFN-16-3x3", around=Surroundings(coat=coat, fills_gap=True))
    assert median(filled) <= median(plain)


def test_voids_are_a_bound_and_casting_is_not_covered():
    band = Surroundings(board_mm=1.575, void_share=0.3).life_factor("leadless")
    assert band.low == pytest.approx(0.7**2.4)
    assert band.value == band.high == 1.0
    cast = attached("QFN-16-3x3", around=Surroundings(potting=True))
    found = life_verdict(life(cast, HOOD, BOARD_PPM_K), cast, 1e-6, 1e-3)
    assert (found.state, found.basis, found.verdict) == ("not shown", "not-covered", "not known")
    for bad in (Surroundings,):
        with pytest.raises(InputError):
            bad(void_share=1.0)
        with pytest.raises(InputError):
            bad(coat="wax")
        with pytest.raises(InputError):
            bad(board_mm=0.0)


# --- forms ---


def test_one_strip_thickness_for_all_sizes_of_a_family():
    for stem in ("SO", "SOW", "SSOP", "TSSOP", "SC-70"):
        names = [
            n
            for n in (
                "SO-8",
                "SO-14",
                "SO-16",
                "SO-20W",
                "SO-28W",
                "SSOP-20",
                "SSOP-48",
                "TSSOP-8",
                "TSSOP-56",
                "SC-70-3",
                "SC-70-6",
            )
            if stem_of(n) == stem
        ]
        assert len({lead_thickness_mm(find(n)) for n in names}) == 1
    own = replace(find("SO-16"), name="SO-16-own")
    assert lead_thickness_mm(own) == own.terminal_thickness_mm.nom


def test_the_lead_outside_the_body_expands_as_copper():
    from landwise.service.materials import package_expansion

    for name in ("SO-16", "SOT-23-5", "TSSOP-20"):
        body, whole = package_expansion(find(name)), attached(name).expansion_ppm_k
        assert body.value < whole.value < 16.3


def test_stiffness_goes_with_the_cube_of_the_thickness():
    form = lead_form(find("SO-16"))
    thin, thick = (lead_stiffness(replace(form, thickness_mm=t), end="free").radial_n_mm for t in (0.1, 0.2))
    assert thick / thin == pytest.approx(8, rel=0.1)


# --- what is shown ---


def test_a_copper_lead_never_fails_without_a_test_and_unknown_metal_is_its_makers_to_answer():
    for years in (0.01, 5.0, 1e4):
        for metal, bases in (
            ("copper", {"does-not-limit", "no-level"}),
            ("alloy 42", {"does-not-limit", "ask-maker"}),
            ("not known", {"does-not-limit", "ask-maker"}),
        ):
            joint = attached("SO-16", metal)
            found = life_verdict(life(joint, HOOD, BOARD_PPM_K), joint, years, 1e-3)
            assert found.basis in bases
            assert found.verdict != "fails"
    quad = attached("QFN-48-7x7")
    assert life_verdict(life(quad, HOOD, BOARD_PPM_K), quad, 1e4, 1e-3).verdict == "fails"


def test_every_state_has_a_verdict_and_only_a_broken_one_fails():
    assert {verdict for (state, _), verdict in VERDICTS.items() if state == "broken"} == {"fails"}
    assert "fails" not in {verdict for (state, _), verdict in VERDICTS.items() if state != "broken"}
    with pytest.raises(InputError):
        life_verdict(life(attached("SO-16"), HOOD, BOARD_PPM_K), attached("SO-16"), 0.0, 1e-3)
    assert beyond_years(Band(2000, 3000, 4000), 5) == "more than 500 years"


def test_the_interval_comes_apart_into_its_inputs():
    joint = attached("SO-16")
    parts = parts_of(joint, HOOD, BOARD_PPM_K, 1e-3)
    whole = np.diff(
        np.log10(
            [life(joint, HOOD, BOARD_PPM_K).years_to(1e-3).low, life(joint, HOOD, BOARD_PPM_K).years_to(1e-3).high]
        )
    )[0]
    assert list(parts.values()) == sorted(parts.values(), reverse=True)
    assert {"board-expansion", "creep", "height", "method-leaded", "shape", "stiffness"} <= set(parts)
    assert max(parts.values()) < whole < sum(parts.values())
    assert "creep" not in parts_of(attached("QFN-16-3x3"), HOOD, BOARD_PPM_K, 1e-3)


# --- ratios and tests of one's own ---


def test_ratios_are_known_better_than_lives():
    one, other = (life(attached(name), HOOD, BOARD_PPM_K) for name in ("TSSOP-20", "SO-20W"))
    ratio, years = one.over(other, 1e-3), one.years_to(1e-3)
    assert ratio.high / ratio.low < 0.05 * years.high / years.low
    assert one.over(one, 1e-3).value == 1
    assert ratio.value == pytest.approx(1 / other.over(one, 1e-3).value)


def test_common_draws_are_in_one_order_and_follow_the_weights():
    one = life(attached("SO-16"), HOOD, BOARD_PPM_K)
    assert one.common(1e-3).shape == (256,)
    low, high = interval(one.common(1e-3))
    band = one.years_to(1e-3)
    assert (low, high) == (pytest.approx(band.low, rel=0.5), pytest.approx(band.high, rel=0.3))
    weights = (one.draws_years > np.median(one.draws_years)).astype(float)
    assert one.weighed(weights).common(1e-3, 200).min() > one.common(1e-3, 200).min()
    with pytest.raises(InputError):
        one.common(1e-3, 5000)
    with pytest.raises(InputError):
        one.weighed(np.zeros_like(weights))


def test_weighted_quantiles_are_those_of_repeated_draws():
    draws, weights = np.array([3.0, 1.0, 2.0, 8.0]), np.array([1.0, 2.0, 3.0, 4.0])
    repeated = np.repeat(draws, weights.astype(int))
    for share in (0.05, 0.3, 0.55, 0.95):
        assert quantiles(draws, (share,), weights)[0] == np.sort(repeated)[int(np.ceil(share * 10)) - 1]


def test_a_test_of_ones_own_moves_its_family_and_lets_it_decide():
    joint = attached("SO-16")
    passed = OwnTest("SO-16", Chamber(-40, 125, 15, 24), 2000, 32, 0)
    weights, (shown,) = draw_weights([(passed, joint)], BOARD_PPM_K)
    assert shown.after.low > shown.before.low
    relative = life(attached("SO-14"), HOOD, BOARD_PPM_K)
    stranger = life(attached("WLP-5-0.5"), HOOD, BOARD_PPM_K)
    assert relative.weighed(weights).years_to(1e-3).low > 1.5 * relative.years_to(1e-3).low
    assert stranger.weighed(weights).years_to(1e-3).value == pytest.approx(stranger.years_to(1e-3).value, rel=0.3)
    tested = life(joint, HOOD, BOARD_PPM_K).weighed(weights)
    assert life_verdict(tested, joint, 1e6, 1e-3).verdict == "fails"


def test_failures_shorten_and_a_contradiction_is_said():
    joint = attached("QFN-16-3x3")
    failed = OwnTest("QFN-16-3x3", USUAL_TEST, 15000, 20, 12)
    weights, (shown,) = draw_weights([(failed, joint)], BOARD_PPM_K)
    assert shown.after.high < shown.before.high
    assert shown.after.low < 15000 < shown.after.high
    assert weights.sum() == pytest.approx(1)
    with pytest.raises(ValidityError, match="contradict"):
        draw_weights([(OwnTest("QFN-16-3x3", USUAL_TEST, 3, 5000, 4999), joint)], BOARD_PPM_K)
    for bad in ({"failures": 40}, {"cycles": 0.0}, {"samples": 0}):
        with pytest.raises(InputError):
            replace(failed, **bad)
    with pytest.raises(InputError):
        draw_weights([], BOARD_PPM_K)


# --- what a test has to hold ---


def test_under_the_hood_a_year_is_worth_880_cycles():
    # 883 by tin-lead Norris and Landzberg (computed apart from this code, twelve cycles a day of one-hour dwells).
    found = cycles_wanted(HOOD)
    assert found.worth["snpb"] / HOOD.years == pytest.approx(883, rel=0.005)
    assert (found.cycles, found.by) == (found.worth["snpb"], "snpb")
    assert cycles_wanted(environment("consumer")).cycles == 1000
    assert cycles_wanted(replace(HOOD, years=1.0)).by == "usual"
