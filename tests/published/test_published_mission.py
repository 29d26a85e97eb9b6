"""Missions, device tests, shelf, whiskers and air against published numbers; each names its source and its mark."""

from __future__ import annotations

import math

import pytest

from landwise.errors import InputError, UnknownNameError, ValidityError
from landwise.service import atmosphere, device, moisture, shelf, whiskers
from landwise.service.environments import ENVIRONMENTS, Cycles, environment
from landwise.service.lives import life
from landwise.service.materials import BOARD_PPM_K
from landwise.service.mission import (
    MISSIONS,
    PLACE_TOP_C,
    Mission,
    Stated,
    contradictions,
    environment_of_mission,
    mission,
)

# --- missions ---


def test_shares_sum_to_one_and_hours_are_positive():
    for found in MISSIONS.values():
        assert sum(share for _, share in found.histogram) == pytest.approx(1)
    with pytest.raises(InputError):
        Mission("x", "x", 10, ((25.0, 0.9),), "junction")
    with pytest.raises(InputError):
        Mission("x", "x", 0, ((25.0, 1.0),), "junction")
    with pytest.raises(UnknownNameError):
        mission("moon")


# AEC-Q100 appendix 7, worked example (from memory).
def test_hot_hours_of_the_automotive_example():
    assert device.heat_factor(87.0) == pytest.approx(8.6, abs=0.05)
    found = device.hot_hours(mission("automotive-average"))
    assert found.worth == pytest.approx(1393, abs=2)
    assert not found.covered


def test_package_cycles_of_the_automotive_example():
    assert 54_750 / device.package_cycle_factor(76.0, 205.0) == pytest.approx(1034, abs=1)


def test_damp_hours_of_the_automotive_example():
    assert 131_400 / device.damp_factor(32.0, 74.0) == pytest.approx(960, rel=0.003)


@pytest.mark.parametrize("energy", [0.3, 0.5, 0.7, 1.0])
def test_arrhenius_of_equal_temperatures_is_one_and_grows_with_energy(energy):
    assert device.heat_factor(125.0, 125.0, energy) == pytest.approx(1)
    assert device.heat_factor(55.0, 125.0, energy) == pytest.approx(
        math.exp(energy / 8.617333e-5 * (1 / 328.15 - 1 / 398.15)), rel=1e-5
    )


def test_hours_of_the_air_say_nothing_of_the_die():
    with pytest.raises(InputError, match="die"):
        device.hot_hours(mission("cabin"))
    assert (
        device.hot_hours(mission("cabin").at_junction(20)).worth
        > device.hot_hours(mission("cabin").at_junction(0)).worth
    )
    for bad in (lambda: device.heat_factor(25, 125, 0.0), lambda: device.damp_factor(25, 0)):
        with pytest.raises(InputError):
            bad()


def test_a_parts_own_heat_strains_its_joints_as_the_handbook_writes_it():
    # MIL-HDBK-217F notice 2 section 16.2 (form from memory): |αs·ΔT − αcc·(ΔT + Trise)|.
    from landwise.service.attachment import Attachment
    from landwise.service.bands import Band
    from landwise.service.thermal_cycling import leadless_strain

    joint = Attachment("leadless", 20, 18.796, Band.exact(0.127), Band.exact(7.0))
    place = ENVIRONMENTS["consumer"]
    line = Cycles(21.0, 720.0, 262.0, 60.0, 10.0)
    found = life(joint, type(place)("x", "x", (line,), 1, 0.5), Band.exact(15.0), ("snpb",))
    apart = 15 * 21 - 7 * (21 + 10)
    assert found.strain == pytest.approx(leadless_strain(18.796, apart / 21, 21, 0.127))
    assert life(joint, type(place)("x", "x", (Cycles(21.0, 720.0, 262.0, 60.0),), 1, 0.5), BOARD_PPM_K).strain > 0


def test_switching_adds_damage():
    from landwise.service.attachment import Attachment
    from landwise.service.bands import Band

    joint = Attachment("leadless", 20, 5.0, Band.exact(0.08), Band.exact(9.0))
    still = environment_of_mission(mission("cabin"), environment("consumer"))
    busy = environment_of_mission(mission("cabin"), environment("consumer"), rise_k=40.0, per_year=5000)
    assert life(joint, busy, BOARD_PPM_K).median_years < life(joint, still, BOARD_PPM_K).median_years
    with pytest.raises(InputError):
        environment_of_mission(mission("cabin"), environment("consumer"), rise_k=-1.0)


# --- contradictions ---
def test_a_damp_place_kept_as_an_indoor_one_is_asked_about():
    assert contradictions(Stated("consumer", True, air="humid")) == ("indoors-but-damp",)
    assert contradictions(Stated("telecom", False, air="humid")) == ()
    assert contradictions(Stated("consumer", True)) == ()
    with pytest.raises(UnknownNameError):
        contradictions(Stated("greenhouse", False))


def test_air_grade_hours_and_limits_that_exclude_each_other_are_asked_about():
    asked = contradictions(Stated("consumer", True, "dry", 85.0, 70.0, 105.0, mission("maker-automotive"), 1.0))
    assert asked == ("air-hotter-than-place", "grade-below-air", "hours-exceed-years", "junction-over-limit")
    assert set(PLACE_TOP_C) == set(ENVIRONMENTS)


# --- whiskers ---
def test_class_2_products_take_whiskers_of_45_um():
    # A maker's qualification report after JESD201 (verified): class 2, 45 µm at most, 26 µm found.
    assert whiskers.LENGTHS_UM["2"] == 45
    assert whiskers.whiskers(0.089, "matte tin", "2").meets
    assert not whiskers.whiskers(0.091, "matte tin", "2").meets


@pytest.mark.parametrize("finish", whiskers.FINISHES)
def test_finishes_are_ranked_and_critical_products_take_no_pure_tin(finish):
    order = ("none", "low", "some", "high")
    base = whiskers.whiskers(0.3, finish, "2")
    assert order.index(whiskers.whiskers(0.05, finish, "2").risk) >= order.index(base.risk)
    assert order.index(whiskers.whiskers(0.3, finish, "2", coated=True).risk) <= order.index(base.risk)
    if whiskers.FINISHES[finish]:
        assert whiskers.whiskers(0.3, finish, "3").risk == "high"
    else:
        assert base.risk == "none"


def test_alloy_42_grows_more_and_an_unknown_finish_is_not_known():
    # SMT Magazine July 2014 page 52 (verified): alloy 42 coupons grew far denser whiskers than copper ones.
    with_nickel = whiskers.whiskers(0.3, "matte tin on nickel", "2")
    assert (with_nickel.risk, whiskers.whiskers(0.3, "matte tin on nickel", "2", alloy_42=True).risk) == ("low", "some")
    assert whiskers.whiskers(0.3, "", "2").risk == "not known"
    with pytest.raises(InputError):
        whiskers.whiskers(0.3, "matte tin", "9")


# --- air ---


def test_air_beyond_mild_is_for_a_test_to_show_and_never_fails():
    for name in ("", *atmosphere.SAYS):
        for coated in (False, True):
            for silver in (False, True):
                assert atmosphere.corrosion(name, coated=coated, silver=silver).verdict != "fails"
    assert atmosphere.corrosion("G2", silver=True).verdict == "not known"
    with pytest.raises(InputError):
        atmosphere.corrosion("G9")


# --- shelf ---
def test_a_part_takes_three_passes():
    # A maker's data sheets after J-STD-020 (verified): at most three.
    assert shelf.MOST_PASSES == 3
    assert [shelf.passes(1, n).verdict for n in (0, 1, 2)] == ["holds", "marginal", "fails"]
    assert shelf.passes(2, 0, second_of_two=True).seen == 1
    with pytest.raises(InputError):
        shelf.passes(3, 0)


def test_a_bag_keeps_a_year_and_open_leads_four_months():
    # J-STD-033D as a supplier quotes it (second-hand): a year; TechNet 11 December 2001 (verified): 120 days.
    assert shelf.storage(12, 120) == "holds"
    assert shelf.storage(12.1, 0) == "marginal"
    assert shelf.storage(1, 121) == "not known"
    with pytest.raises(InputError):
        shelf.storage(-1, 0)


def test_the_flex_test_strains_a_board_by_two_thousandths():
    # AEC-Q200-005 (from memory): 2 mm over 90 mm; three-point beam identity.
    load, inertia, modulus = 1.0, 50 * 1.6**3 / 12, 20000.0
    deflection = load * 90**3 / (48 * modulus * inertia)
    strain = load * 90 / 4 * 0.8 / (modulus * inertia)
    assert shelf.flex_strain(deflection, 90, 1.6) == pytest.approx(strain)


@pytest.mark.parametrize(
    ("volts", "kind", "name"),
    [
        (0, "hbm", "0Z"),
        (249, "hbm", "0B"),
        (250, "hbm", "1A"),
        (1999, "hbm", "1C"),
        (2000, "hbm", "2"),
        (8000, "hbm", "3B"),
        (124, "cdm", "C0a"),
        (500, "cdm", "C2a"),
        (1000, "cdm", "C3"),
    ],
)
def test_electrostatic_classes_begin_where_the_standards_begin_them(volts, kind, name):
    # JS-001 and JS-002 (from memory).
    assert shelf.esd_class(volts, kind) == name


def test_what_a_sheet_does_not_say_is_not_known():
    assert shelf.esd_verdict(None, "cdm") == "not known"
    assert shelf.latch_up_verdict(None, True) == "not known"
    assert (shelf.HANDLING_HBM_V, shelf.HANDLING_CDM_V) == (500, 250)


# --- moisture ---


@pytest.mark.parametrize("level", ["2", "2a", "3", "4", "5", "5a"])
@pytest.mark.parametrize("thick", [2.01, 3.0, 4.5])
def test_thick_bodies_bake_two_days(level, thick):
    # J-STD-033 table 4-1, rows of 2.0 to 4.5 mm (from memory).
    found = moisture.bake(level, thick)
    assert (found.at_125_s / 3600, found.at_90_s / 86400, found.at_40_s / 86400) == (48, 10, 79)
    with pytest.raises(ValidityError):
        moisture.bake(level, 4.6)


def test_a_worse_floor_shortens_the_life_and_a_better_one_never_lengthens_it():
    assert moisture.floor_life_at("3", 30, 60) == moisture.floor_life("3")
    assert moisture.floor_life_at("3", 20, 40) == moisture.floor_life("3")
    assert moisture.floor_life_at("3", 30, 90) == pytest.approx(moisture.floor_life("3") * (60 / 90) ** 2)
    assert moisture.floor_life_at("1", 40, 90) is None
    with pytest.raises(InputError):
        moisture.floor_life_at("3", 30, 0)


@pytest.mark.parametrize(
    ("coat", "thin_um", "thick_um"),
    [("acrylic", 30, 130), ("epoxy", 30, 130), ("urethane", 30, 130), ("silicone", 50, 210), ("vapour", 10, 50)],
)
def test_coats_are_as_thick_as_their_types(coat, thin_um, thick_um):
    # IPC-CC-830's types AR, ER, UR, SR and XY (from memory).
    from landwise.service.contamination import COATS

    assert COATS[coat] == (pytest.approx(thin_um / 1000), pytest.approx(thick_um / 1000))


# --- Miner's sum ---
def test_miners_sum_is_that_of_the_textbook():
    # Miner 1945 as textbooks print it: D = Σ nᵢ/Nᵢ, failure at D = 1. Example worked by hand: 365 cycles a year of
    # which N₁ break half, 700 of which N₂ do; with N from the fatigue law of each cycle alone.
    from landwise.service.attachment import Attachment
    from landwise.service.bands import Band

    joint = Attachment("leadless", 20, 5.0, Band.exact(0.08), Band.exact(9.0))
    slow, quick = Cycles(40.0, 360.0, 365.0, 55.0), Cycles(20.0, 60.0, 700.0, 60.0)

    def alone(swing_k, mean_c, dwell_min):
        # Engelmaier's law as IPC-D-279 prints it, typed anew: ε = 0.325, c of temperature and half-cycle dwell.
        exponent = -0.442 - 6e-4 * mean_c + 1.74e-2 * math.log(1 + 360 / dwell_min)
        strain = 5.0 * (15.0 - 9.0) * 1e-6 * swing_k / 0.08
        return 0.5 * (2 * 0.325 / strain) ** (-1 / exponent)

    n1, n2 = alone(40.0, 35.0, 360.0), alone(20.0, 50.0, 60.0)
    found = life(joint, type(environment("consumer"))("x", "x", (slow, quick), 1, 0.5), Band.exact(15.0), ("snpb",))
    assert 1 / found.median_years == pytest.approx(365 / n1 + 700 / n2)
    assert found.damage == pytest.approx(((365 / n1) / (365 / n1 + 700 / n2), (700 / n2) / (365 / n1 + 700 / n2)))


# MIL-HDBK-217F notice 2, section 16.2 (form from memory): |αs·ΔT − αcc·(ΔT + Trise)|; with the board still, αcc·Trise.
def test_own_heat_on_a_still_board_strains_by_the_parts_expansion_alone():
    from landwise.service.attachment import Attachment
    from landwise.service.bands import Band
    from landwise.service.mission import OwnHeat, with_own_heat
    from landwise.service.thermal_cycling import leadless_strain

    joint = Attachment("leadless", 20, 5.0, Band.exact(0.08), Band.exact(9.0))
    place = with_own_heat(environment("consumer"), OwnHeat(0.0, 40.0, 20_000.0), 60.0)
    found = life(joint, place, Band.exact(15.0), ("snpb",))
    assert found.damage[1] > 0.5
    assert found.strain == pytest.approx(leadless_strain(5.0, 9.0, 40.0, 0.08), rel=0.01)
    assert place.cycles[1].dwell_min == pytest.approx(8766 * 60 / 40_000)


def test_what_is_unsure_of_the_heat_widens_the_life_both_ways_and_moves_no_other():
    from landwise.service.attachment import Attachment
    from landwise.service.bands import Band
    from landwise.service.mission import OwnHeat, with_own_heat

    joint = Attachment("leadless", 20, 5.0, Band.exact(0.08), Band.exact(9.0))
    home = environment("consumer")
    sure, unsure = (
        life(joint, with_own_heat(home, OwnHeat(5.0, 40.0, 20_000.0, factor), 60.0), BOARD_PPM_K).years_to(0.01)
        for factor in (1.0, 2.0)
    )
    assert unsure.value == sure.value
    assert unsure.low < sure.low
    assert unsure.high > sure.high
    with pytest.raises(InputError):
        OwnHeat(-1.0, 0.0, 10.0).cycle(20.0)


def test_hours_off_and_stored_add_to_those_of_the_die():
    base = mission("maker-automotive")
    more = Mission(base.name, base.source, base.hours, base.histogram, base.where, (), ((25.0, 1e4),), ((40.0, 1e5),))
    terms = device.hot_terms(more)
    assert [t.kind for t in terms] == ["powered"] * 6 + ["off", "stored"]
    assert device.hot_hours(more).worth == pytest.approx(
        device.hot_hours(base).worth + 1e5 / device.heat_factor(40.0) + 1e4 / device.heat_factor(25.0)
    )
    assert (more.off_h, more.storage_h) == (1e5, 1e4)
    with pytest.raises(InputError):
        Mission("x", "x", 10, ((25.0, 1.0),), "junction", off=((20.0, -1.0),))
