"""Numbers that no outside source holds, typed a second time beside where they come from.

This is no check against the outside. A *reason* test works a number out of what its own reason says; a *typed twice*
test holds a recalled or assumed number against a second typing, so that a slip of the hand can't pass unseen. docs/
mutants.md counts what only these notice apart. Who changes such a number on purpose changes it here, too, and gives
the new reason.
"""

from __future__ import annotations

import math
import tomllib
from importlib import import_module, resources

import pytest

from landwise.assembly import anchors
from landwise.costs import prices
from landwise.joints import acceptance, alloys, lead, leadform, settling
from landwise.lands import balls, courtyard, holes, rows, rules
from landwise.outlines import coplanarity
from landwise.printing import foils, paste, release
from landwise.printing import holes as paste_in_hole

# The rooms' own names for these modules are taken by functions.
bridging, transfer = (import_module(f"landwise.printing.{name}") for name in ("bridging", "transfer"))


def data(file):
    folder, name = file.split("/")
    return tomllib.loads(resources.files(f"landwise.{folder}").joinpath(name).read_text(encoding="utf-8"))


# Money, as worked from each rate's reason: least, usual, most.
MINUTE = 60 / 60  # a technician or engineer at an order of magnitude of 60 an hour
RATES_BY_REASON = {
    "layer_factor": (None, (1.7 - 1) / 2, None),  # four layers cost about 1.7 times two
    "placement": (0.015, (0.015 + 0.035) / 2, 0.075),  # 0.015 to 0.035 at 1000 boards, 0.04 to 0.075 at 100
    "insertion": (2 * 0.025, 4 * 0.025, 12 * 0.025),  # several times a machine placement
    "hand_joint": (None, 3 / 60 * MINUTE, None),  # three seconds
    "foil": (100, None, 250),
    "better_foil": (1.5 - 1, (1.5 + 2) / 2 - 1, 2 - 1),  # 1.5 to 2 times a laser-cut foil
    "step_zone": (0.30, None, 1.00),
    "xray": (1, (1 + 5) / 2, None),
    "optical": (0.1 / 150, (0.1 + 0.5) / 2 / 150, None),  # 0.1 to 0.5 a board of 150 joints
    "side_view": (0.1 / 150, (0.1 + 0.5) / 2 / 150, None),  # as much as from above
    "rework_hidden": (10, None, 100),
    "in_circuit_setup": (None, None, 15000),
    "late": (None, None, None),
    "outline": (None, 60 * MINUTE, None),  # an hour of an engineer
    "second_process_setup": (None, 60 * MINUTE, None),  # an hour of a technician
    "printing_setup": (None, 60 * MINUTE, None),  # an hour of a technician
    "printing": (None, None, 1.0),  # as a second side
    "finding_out": (None, 4 * 60 * MINUTE, None),  # half a day
    "second_side": (None, None, 1.0),
    "attrition": (0.003, None, 0.03),  # a few in a thousand to a few in a hundred
}
RATES = {
    "board_area": (0.03, 0.06, 0.15),
    "layer_factor": (0.2, 0.35, 0.6),
    "placement": (0.015, 0.025, 0.075),
    "insertion": (0.05, 0.1, 0.3),
    "drilled_joint": (0.001, 0.004, 0.01),
    "hand_joint": (0.02, 0.05, 0.12),
    "foil": (100, 180, 250),
    "better_foil": (0.5, 0.75, 1.0),
    "step_zone": (0.3, 0.6, 1.0),
    "xray": (1, 3, 6),
    "xray_setup": (15, 40, 120),
    "optical": (0.0007, 0.002, 0.004),
    "finer_powder": (0.003, 0.01, 0.03),
    "rework": (2, 5, 15),
    "rework_hidden": (10, 25, 100),
    "side_view": (0.0007, 0.002, 0.006),
    "paste_inspection": (0.02, 0.05, 0.15),
    "in_circuit": (0.1, 0.25, 0.8),
    "in_circuit_setup": (1000, 3000, 15000),
    "reprint": (0.2, 0.5, 2),
    "late": (3, 10, 40),
    "escape": (15, 60, 500),
    "field_failure": (0, 0, 0),
    "scrap": (0.01, 0.03, 0.1),
    "board_value": (5, 20, 100),
    "attrition": (0.003, 0.01, 0.03),
    "outline": (20, 60, 250),
    "feeder": (2, 6, 20),
    "change": (80, 300, 1500),
    "second_process": (0.08, 0.25, 0.8),
    "second_process_setup": (20, 60, 300),
    "printing": (0.1, 0.3, 1),
    "printing_setup": (20, 60, 300),
    "second_side": (0.1, 0.3, 1),
    "finding_out": (60, 240, 800),
    "decoupling": (0.002, 0.006, 0.03),
    "tie_off": (0.0001, 0.0005, 0.003),
    "net_moved": (0.0003, 0.002, 0.01),
}


def three(row):
    return row["low"], row["value"], row["high"]


@pytest.mark.parametrize("name", [name for name, worked in RATES_BY_REASON.items() if any(worked)])
def test_reason_a_rate_is_what_its_reason_works_out_to(name):
    for ours, worked in zip(three(data("costs/rates.toml")[name]), RATES_BY_REASON[name], strict=True):
        assert worked is None or ours == pytest.approx(worked, rel=0.06)  # rounded to one or two digits


def test_typed_twice_rates():
    assert {name: three(row) for name, row in data("costs/rates.toml").items()} == RATES


def test_typed_twice_price_levels():
    levels = {count: (one.base, one.median, one.low, one.high) for count, one in prices.LEVELS.items()}
    assert levels == {
        6: ("SOT-23", 0.10, 0.04, 0.30),
        8: ("VSSOP", 0.25, 0.12, 0.70),
        14: ("TSSOP", 0.30, 0.12, 1.60),
        48: ("TSSOP", 1.70, 0.60, 5.00),
    }
    assert (prices.PRIOR_PAIRS, prices.PIECES_OF_RATIOS, prices.SMALL_LOT_SLOPE) == (8.0, 1000, 0.2)


SCATTER = {
    "slump_share": (0.25, 0.333, 0.45),
    "slump_between": (0.2, 0.3, 0.4),
    "slump_within": (0.1, 0.2, 0.3),
    "volume_common": (0.3, 0.5, 0.7),
    "print_stretch": (4, 8, 15),
    "placement_turn": (0.05, 0.1, 0.2),
    "remaining_share": (0.6, 0.7, 0.85),
    "remaining_spread": (0.04, 0.08, 0.12),
    "edge": (3, 5, 8),
    "coplanarity_share": (0.4, 0.5, 0.65),
    "flush_coplanarity_share": (0.22, 0.3, 0.45),
    "warpage": (0.5, 1, 3),
    "lead_film": (3, 10, 20),
    "tear_factor": (1.5, 2, 2.8),
    "least_paste": (0.05, 0.12, 0.25),
    "float_spread": (0.06, 0.12, 0.2),
    "void_share": (0.2, 0.3, 0.4),
    "mask_angle": (125, 140, 155),
    "take_back_spread": (0.2, 0.3, 0.4),
    "overhang": (0.25, 0.5, 0.5),
    "self_centring": (0.3, 0.5, 0.8),
    "tilt": (2, 3, 5),
}


def test_reason_the_slump_criterion_lies_three_standard_deviations_above_the_middle():
    terms = data("assembly/scatter.toml")
    middle, between, within = (terms[n]["value"] for n in ("slump_share", "slump_between", "slump_within"))
    assert math.log(1 / middle) / math.hypot(between, within) == pytest.approx(3, abs=0.06)


def test_reason_the_worst_squeeze_lies_two_and_a_half_standard_deviations_away():
    terms = data("assembly/scatter.toml")
    share, spread = terms["remaining_share"]["value"], terms["remaining_spread"]["value"]
    assert (share - bridging.REMAINING_SHARE) / spread == pytest.approx(2.5)


def test_reason_a_copper_edge_has_a_third_of_half_its_tolerance():
    # ±20 % of 0.15 mm is the width's tolerance: three standard deviations of two edges.
    assert data("assembly/scatter.toml")["edge"]["value"] == pytest.approx(0.20 * 150 / 2 / 3)


# Gas in the solder of measured centre pads: 20 to 40 % (qfn-standoff-measured); overhang allowed: half of the width in
# classes 1 and 2, a quarter in class 3 (gull-wing-acceptance).
def test_reason_ranges_are_those_that_their_sources_name():
    terms = data("assembly/scatter.toml")
    assert three(terms["void_share"]) == (0.20, pytest.approx((0.20 + 0.40) / 2), 0.40)
    assert three(terms["overhang"]) == (1 / 4, 1 / 2, 1 / 2)


def test_typed_twice_terms_of_scatter():
    assert {name: three(row) for name, row in data("assembly/scatter.toml").items()} == SCATTER


def test_typed_twice_the_counted_line():
    # Boards inspected, and of each group: parts a board, joints and gaps of a part, parts bridged, bad otherwise.
    assert anchors.BOARDS == 22040
    rows_of = [(a.per_board, a.joints, a.gaps, a.bridges, a.rest) for a in anchors.ANCHORS]
    assert rows_of == [(1, 48, 44, 4, 5), (7, 6, 4, 1, 28), (4, 6.5, 4.5, 0, 4), (3, 8, 6, 5, 11)]


# The 48-lead part has four rows of twelve leads; a six-pin part two rows of three; 5 to 8 pins stand for 5 and 8.
def test_reason_gaps_lie_between_the_leads_of_a_row():
    by_name = {one.name: one for one in anchors.ANCHORS}
    assert by_name["48 leads"].gaps == 48 - 4
    assert by_name["six pins"].gaps == 6 - 2
    assert by_name["5 to 8 pins"].joints == (5 + 8) / 2
    assert by_name["5 to 8 pins"].gaps == (5 + 8) / 2 - 2
    assert by_name["chip arrays"].gaps == 8 - 2


PRIOR = {
    "usual": [
        (0.30, [0.08, 0.20]),
        (0.40, [0.35, 0.45]),
        (0.50, [0.55, 0.70]),
        (0.55, [0.65, 0.75]),
        (0.60, [0.72, 0.82]),
        (0.66, [0.80, 0.88]),
        (0.75, [0.88, 0.94]),
        (1.00, [0.95, 1.05]),
    ],
    "laboratories": [(0.30, 0.10), (0.50, 0.11), (0.80, 0.03)],
    "spread": [
        (0.30, [0.35, 0.60]),
        (0.40, [0.30, 0.40]),
        (0.50, [0.15, 0.25]),
        (0.60, [0.10, 0.13]),
        (0.66, [0.07, 0.10]),
        (0.80, [0.04, 0.06]),
    ],
}
# Shift at small and at settled area ratios, factor on the spread.
FOILS = {
    "laser-cut": ([0, 0], [0, 0], 1),
    "laser-polished": ([0.02, 0.06], [0, 0.02], 0.95),
    "electroformed": ([0.08, 0.20], [0, 0.05], 0.8),
    "nano-coated": ([0.08, 0.20], [0, 0.05], 0.8),
    "etched": ([-0.20, -0.10], [-0.12, -0.04], 1.3),
}


def test_typed_twice_the_transfer_prior():
    prior = data("printing/transfer_prior.toml")
    for name, key in (("usual", "band"), ("laboratories", "each_way"), ("spread", "cv")):
        assert [(row["area_ratio"], row[key]) for row in prior[name]] == PRIOR[name]
    foils_of = {name: (row["fine"], row["settled"], row["cv_factor"]) for name, row in prior["technology"].items()}
    assert foils_of == FOILS
    shifts = {name: (row["fine"], row["settled"]) for name, row in prior["powder"].items()}
    assert shifts["T3"] == ([-0.06, 0.0], [0.0, 0.0])
    assert shifts["T4"] == ([0.0, 0.0], [0.0, 0.0])
    assert shifts["T5"] == ([0.03, 0.08], [0.0, 0.0])
    assert shifts["T6"] == ([0.0, 0.10], [0.0, 0.0])


# Holtzer and others 2017 print process capabilities of 1.23, 1.82 and 3.48: spreads as 2.8 to 1.9 to 1.
@pytest.mark.parametrize(("powder", "factor"), [("T3", 2.8 / 1.9), ("T4", 1), ("T5", 1 / 1.9), ("T6", 1 / 1.9)])
def test_reason_a_powder_s_spread_is_that_of_the_printed_capabilities(powder, factor):
    assert data("printing/transfer_prior.toml")["powder"][powder]["cv_factor"] == pytest.approx(factor, abs=1e-3)


# What each statement's own words give: area ratios, then the numbers that the band is held to.
STATEMENTS = {
    "T1": ([], [0.30, 0.05, 0.50, 0.60]),  # 5 to 60 % from 0.30 to 0.50
    "T2": ([0.50], [0.80]),
    "T3": ([0.30, 0.40, 0.50], [0.15 + 0.05]),  # the best beats the second by 15 %, that the third by 5 %
    "T4": ([0.40, 0.50], [0.10, 0.24]),
    "T5": ([0.79], [0.14 / 2.89]),  # 2.89 ± 0.14
    "T6": ([0.210 / 4 / 0.100], [2.8 / 1.9, 1 / 1.9]),  # a square of 0.210 mm on 100 µm
    "T7": ([0.50], [0.80]),
    "T8": ([0.69], [0.10]),
    "T9": ([0.69, 0.62], [0.10]),
    "T10": ([0.50], [0.10]),
    "T12": ([0.46, 0.46 * 100 / 75], []),  # on 100 µm, then on 75
    "T13": ([1.0], [0.20 / 3 / 1.33]),  # capability 1.33 within ±20 %
}


def test_reason_each_published_statement_is_held_to_the_numbers_of_its_words():
    found = {row["id"]: row for row in data("printing/transfer_bounds.toml")["bound"] if "untested" not in row}
    assert STATEMENTS.keys() <= found.keys()
    for name, (ratios, numbers) in STATEMENTS.items():
        row = found[name]
        ours = [row["value"]] if "value" in row else [*row.get("gain", []), *row.get("ratio", [])]
        ours += [one for point in row.get("points", []) for one in point]
        assert row.get("area_ratio", []) == pytest.approx(ratios, rel=2e-3), name
        assert ours == pytest.approx(numbers, rel=0.04), name


def test_typed_twice_paste():
    assert paste.LARGEST_PARTICLE_UM == {"T3": 45, "T4": 38, "T5": 25, "T6": 15, "T7": 11}
    assert paste.METAL_LOAD == {"T3": 0.90, "T4": 0.895, "T5": 0.883, "T6": 0.883, "T7": 0.883}
    assert (paste.BALLS_ACROSS, paste.MEASURED_SHARE, paste.ROBUST_SHARE) == (5, 1 / 3, 0.75)
    assert [row[:4] for row in paste.SLUMP_ROWS] == [
        (0.63, 0.2, 0.56, 0.63),
        (0.33, 0.2, 0.25, 0.30),
        (0.33, 0.1, 0.25, 0.30),
        (0.20, 0.1, 0.175, 0.20),
    ]


def test_typed_twice_foils_and_release():
    limits = {name: limit for name, (limit, _) in release.AREA_RATIO_LIMIT.items()}
    assert limits == {
        "etched": 0.9,
        "laser-cut": 0.66,
        "laser-polished": 0.6,
        "nano-coated": 0.55,
        "electroformed": 0.5,
    }
    assert (release.ASPECT_LIMIT, transfer.PASS_LEVEL) == (1.5, 0.8)
    assert (coplanarity.USUAL_MM, coplanarity.FINE_MM, coplanarity.TINY_MM) == (0.1, 0.08, 0.05)
    assert (coplanarity.FINE_PITCH_MM, coplanarity.TINY_BODY_MM, coplanarity.COARSE_GRID_MM) == (0.5, 1.6, 0.8)
    assert pytest.approx(900 / 25) == foils.KEEP_OUT_PER_STEP  # 0.9 mm for each 25 µm
    assert (foils.THICK_KEEP_OUT_MM, foils.DEEPEST_STEP_UM) == (0.65, 50)
    assert (bridging.REMAINING_SHARE, bridging.NEAR_MM) == (0.5, 1.5)
    assert (paste_in_hole.CLEAR_MM, paste_in_hole.ENOUGH_FILL) == (0.5, 0.75)


# Nominal ball: land, and its range.
BALLS = {
    0.75: (0.55, 0.50, 0.60),
    0.60: (0.45, 0.40, 0.50),
    0.55: (0.40, 0.35, 0.45),
    0.50: (0.40, 0.35, 0.45),
    0.45: (0.35, 0.30, 0.40),
    0.40: (0.30, 0.25, 0.35),
    0.35: (0.30, 0.25, 0.35),
    0.30: (0.25, 0.20, 0.25),
    0.25: (0.20, 0.17, 0.20),
    0.20: (0.17, 0.14, 0.20),
    0.15: (0.13, 0.10, 0.15),
}


def test_typed_twice_lands():
    found = {row.ball_mm: (row.land_mm, row.low_mm, row.high_mm) for row in balls.ball_table()}
    assert found == BALLS
    assert balls.GROWTH == {"most": 0.15, "nominal": 0.10, "least": 0.05}
    assert holes.HOLE_OVER_LEAD_MM == {"most": 0.25, "nominal": 0.20, "least": 0.15}
    assert holes.ALLOWANCE_MM == {"most": 0.6, "nominal": 0.5, "least": 0.4}
    assert (holes.RING_MM, holes.DRILL_STEP_MM) == (0.05, 0.05)
    assert (courtyard.SMALL_BODY_MM, rows.LARGEST_CORNER, balls.REACH_MM) == (2.0, 0.75, 0.025)
    assert rules.STEP_MM == {"none": 0.0, "fine": 0.01, "coarse": 0.05}
    assert rules.STEP_MM["fine"] == rows.STEP_MM
    chips = data("lands/goals.toml")
    assert chips["chip"]["heel_mm"] == chips["small chip"]["heel_mm"] == [-0.05, -0.05, -0.05]
    assert chips["ball grid"]["courtyard_mm"] == [2.0, 1.0, 0.5]
    assert chips["wafer-level"]["courtyard_mm"] == chips["drilled"]["courtyard_mm"] == [0.5, 0.25, 0.1]


def test_typed_twice_joints():
    assert acceptance.HEEL_SHARE == {1: 0.0, 2: 0.5, 3: 1.0}
    assert acceptance.END_SHARE == {1: 0.5, 2: 0.5, 3: 0.75}
    assert acceptance.OVERHANG_SHARE == {1: 0.5, 2: 0.5, 3: 0.25}
    assert (acceptance.LONG_FOOT, acceptance.REMAIN_MM) == (3.0, 0.5)
    of_alloy = {
        name: (one.tension_n_m, one.tension_low, one.tension_high, one.density_g_cm3)
        for name, one in alloys.ALLOYS.items()
    }
    assert of_alloy == {"sn63pb37": (0.49, 0.42, 0.53, 8.4), "sac305": (0.5, 0.45, 0.57, 7.38)}
    assert (lead.MODULUS_GPA, lead.POISSON) == (121.0, 0.34)
    assert (leadform.SHOULDER_SHARE, leadform.LEAST_RUN_MM) == (0.42, 0.02)
    assert (settling.OPEN_VIAS_SHARE, settling.TARGET_UM) == (0.55, (50.0, 75.0))
