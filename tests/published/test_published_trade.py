"""Facts of the trade that must come out of the computation. `common practice, no source` unless a source is named."""

from __future__ import annotations

import re

import pytest

from landwise.assembly.lines import preset
from landwise.evidence import evaluate
from landwise.fabdata.functions import functions
from landwise.fabdata.partnumbers import read_number
from landwise.judging.study import run_study
from landwise.lands import land_pattern
from landwise.outlines import catalogue, find, terminals
from landwise.outlines.choice import fits
from landwise.printing import AREA_RATIO_LIMIT, Foil, area_ratio, foil_window, print_part, transfer
from landwise.printing.transfer import release_verdict
from landwise.shapes import rectangle
from landwise.study.file import study_from

LIMIT = AREA_RATIO_LIMIT["laser-cut"][0]
# Typical 1:1 leadless lands: 0.35 mm pitch as printed in Texas Instruments DSF0006A (verified); 0.30 mm pitch as the
# same house rule (terminal + 0.20) gives it for a 0.32 × 0.15 terminal.
LAND_035, LAND_030 = rectangle(0.60, 0.17), rectangle(0.52, 0.15)


@pytest.mark.parametrize(
    ("land", "foil", "passes"),
    [(LAND_030, 80, True), (LAND_030, 100, False), (LAND_035, 100, True), (LAND_035, 120, False)],
)
def test_area_ratio_limit_reproduces_the_pitches_of_the_foil_rule(land, foil, passes):
    # Common practice, no source: below about 0.35 mm pitch an 80 µm foil is called for. The area ratio puts the
    # change at the same pitches, by too little paste, where the trade says too much.
    assert (area_ratio(land, foil) >= LIMIT) is passes
    verdict = release_verdict(transfer(area_ratio(land, foil)))
    assert (verdict != "fails") is passes


def test_the_catalogue_bodies_of_0_3_and_0_35_mm_pitch_follow_the_rule():
    by_pitch = {0.30: "SON-6-0.9x1.0", 0.35: "SON-8-1.35x1.0"}
    for pitch, name in by_pitch.items():
        outline = find(name)
        window = dict(foil_window(land_pattern(outline), [80, 100, 120], outline=outline).verdicts)
        assert window[80] != "fails"
        assert (window[100] == "fails") is (pitch < 0.35)
        assert window[120] == "fails"


def test_0_8_mm_body_keeps_half_a_millimetre_and_needs_no_thinner_foil():
    # Common practice, no source.
    outline = find("SON-5-0.8x0.8")
    corners = [t for t in terminals(outline) if t.side != "centre"]
    apart = {round(abs(a.y_mm - b.y_mm), 3) for a in corners for b in corners if a.side == b.side and a is not b}
    assert apart == {0.48}
    printed = print_part(land_pattern(outline), Foil(100), outline=outline)
    assert printed.verdict != "fails"
    assert min(d.area_ratio for d in printed.deposits if d.terminal != "3") >= LIMIT


def test_too_little_is_why_the_thick_foil_fails_and_volume_is_not_too_much():
    outline = find("SON-6-0.9x1.0")
    thick = print_part(land_pattern(outline), Foil(120), outline=outline)
    thin = print_part(land_pattern(outline), Foil(80), outline=outline)
    share = [p.deposits[0].transfer.mean for p in (thick, thin)]
    assert share[0] < 0.6 < share[1]
    # Full release through 120 µm would leave half as much again; the lost transfer takes most of it back.
    assert thick.deposits[0].paste_mm3 < 1.25 * thin.deposits[0].paste_mm3


def test_least_pitch_of_an_ordinary_line():
    assert preset("ordinary").least_pitch_mm == 0.4


def test_a_finer_body_is_out_on_an_ordinary_line_and_in_on_a_fine_one():
    part = {"refs": ["U1"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SOT-23-5"}
    part["options"] = [{"outline": "SON-6-0.9x1.0"}]

    def option(line):
        result = run_study(study_from({"line": {"preset": line}, "part": [part]}))
        return next(o for o in result.parts[0].options if o.name == "SON-6-0.9x1.0")

    assert "least-pitch" in {r.limit for r in option("ordinary").rejections}
    assert option("fine").feasible


@pytest.mark.parametrize(
    ("names", "pitch"),
    [
        ("C?DIP-.*", 2.54),
        ("SO-.*", 1.27),
        ("PLCC-.*", 1.27),
        ("TSSOP-(8|14|16|20|24|28)", 0.65),
        ("TSSOP-(48|56)", 0.5),
        ("SSOP-(48|56)", 0.635),
        ("QSOP-.*", 0.635),
        ("TVSOP-.*", 0.4),
        ("SOT-23-(THIN-)?[356]", 0.95),
        ("SOT-23-(THIN-)?8", 0.65),
        ("SC-70-.*", 0.65),
        ("SOT-5x3-.*", 0.5),
    ],
)
def test_pitches_of_the_families(names, pitch):
    # Common practice, no source; also in JEDEC MS-001, MS-012/013, MO-153, MO-194, MO-178, MO-203, MO-293.
    found = [o for o in catalogue().values() if re.fullmatch(names, o.name)]
    assert found
    assert {o.pitch_mm for o in found} == {pitch}


def test_a_five_terminal_part_suits_one_two_input_gate():
    assert functions()["1G08"].terminals == 5 == 2 + 1 + 2
    assert fits(find("SOT-23-5"), 5)
    assert not fits(find("SOT-23-3"), 5)


# References F.1: pins by function (Texas Instruments data sheets and data book; verified unless said).
@pytest.mark.parametrize(
    ("number", "count"),
    [
        ("1G08", 5),  # SCES217
        ("1G175", 6),  # SCES560
        ("2G125", 8),  # SN74LVC2G125
        ("3G04", 8),  # pin list
        ("00", 14),  # HCT00
        ("04", 14),  # LVC04A
        ("138", 16),  # AHCT138Q
        ("4020", 16),  # MC74HC4020A
        ("4040", 16),  # HC4040
        ("541", 20),
        ("240", 20),
        ("245", 20),
        ("16244", 48),  # SCYA007, abstract
        ("32244", 96),  # SCYA007, abstract
        ("164", 14),  # from memory
        ("595", 16),  # from memory
        ("827", 24),  # from memory: 10-bit bus driver
    ],
)
def test_terminals_by_function(number, count):
    assert functions()[number].terminals == count


def test_gates_follow_the_count_rule():
    # Count rule for gates: Σ(inputs + outputs) + 2 supplies (computed; confirmed by quad NAND 14, hex inverter 14).
    assert functions()["00"].terminals == 4 * 3 + 2
    assert functions()["04"].terminals == 6 * 2 + 2
    assert functions()["541"].terminals == 8 * 2 + 2 + 2


def test_generic_numbers_carry_their_family():
    assert [read_number(t).family for t in ("SN74LVC1G08DCKR", "74F573", "MC74HC595ADR2G")] == ["LVC", "F", "HC"]


def test_optical_inspection_sees_gull_wings_and_not_what_lies_under_a_body():
    # itecheservices.com, tradeaiders.com (verified): optical inspection sees surface joints only.
    from landwise.access.inspection import sights

    assert sights(find("TSSOP-14")).seen_share == 1.0
    assert sights(find("BGA-121-0.8")).not_at_all > 0
    assert sights(find("QFN-24-4x4")).not_at_all == 1


def test_test_lands_cost_more_area_than_a_small_body_saves():
    # References B.3 (computed): 14 nets at the 1.905 mm grid take 51 mm², 2.3 times a TSSOP-14 body.
    from landwise.access.probing import probe_access

    outline = find("TSSOP-14")
    area = probe_access(outline, land_pattern(outline)).area_mm2
    assert area == pytest.approx(51, abs=0.5)
    assert area / outline.body_area_mm2 == pytest.approx(2.3, abs=0.05)


def test_step_keep_out_examples():
    # Ginzinger, citing IPC-7525B (verified): 50 µm → 1.8 mm, 80 µm → 2.9 mm.
    assert evaluate("step-keep-out", {"step": "50 um"}).outputs["keep_out"] == pytest.approx(1.8)
    assert evaluate("step-keep-out", {"step": "80 um"}).outputs["keep_out"] == pytest.approx(2.9, abs=0.05)
