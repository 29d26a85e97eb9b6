"""Printing against what standards, makers and papers print.

Source and mark stand beside each check. Marks: verified (read in the source named),
second-hand, from memory, computed (our own arithmetic on marked inputs), common practice, no source.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from landwise.lands import land_pattern
from landwise.lands.model import Land, LandPattern
from landwise.outlines import find
from landwise.printing import (
    AREA_RATIO_LIMIT,
    DrilledJoint,
    Foil,
    Stencils,
    area_ratio,
    fillet_volume,
    line_demand,
    metal_fraction,
    paste_metal_fraction,
    print_part,
    release_verdict,
    slump_spacing,
    thickest_for,
    transfer,
)
from landwise.shapes import Placed, circle, rectangle

MIL = 0.0254


# --- Area and aspect ratio ---------------------------------------------------------------------------------------


def test_below_the_limit_is_a_risk_not_a_failure():
    # V4: TI recommends 0.275 square through 125 µm (0.55), laser-cut and electropolished, types 3 and 4 (verified).
    for powder in ("T3", "T4"):
        assert release_verdict(transfer(0.55, "laser-polished", powder)) == "marginal"
    assert AREA_RATIO_LIMIT["laser-cut"][0] > 0.55


# --- The foil rule of the trade ----------------------------------------------------------------------------------
# Common practice, no source: about 0.4 mm is the least pitch of an ordinary line; below about 0.35 mm pitch an 80 µm
# foil is called for; the 0.8 mm five-terminal body keeps about 0.5 mm between terminals and needs none thinner than
# 100 µm. Lands: typical published 1:1 leadless ones (TI SCES217 DSF0006A for 0.35; 0.30 is typical, from memory).
FOIL_RULE = [
    pytest.param(0.60, 0.17, 100, True, id="0.35 pitch on 100"),
    pytest.param(0.60, 0.17, 120, False, id="0.35 pitch on 120"),
    pytest.param(0.50, 0.15, 80, True, id="0.30 pitch on 80"),
    pytest.param(0.50, 0.15, 100, False, id="0.30 pitch on 100"),
]


@pytest.mark.parametrize(("length", "width", "foil", "passes"), FOIL_RULE)
def test_foil_rule_comes_out_of_the_band(length, width, foil, passes):
    verdict = release_verdict(transfer(area_ratio(rectangle(length, width), foil)))
    assert verdict == ("holds" if passes else "fails")


@pytest.mark.parametrize(("length", "width", "foil", "passes"), FOIL_RULE)
def test_foil_rule_comes_out_of_the_plain_limit(length, width, foil, passes):
    assert (area_ratio(rectangle(length, width), foil) >= AREA_RATIO_LIMIT["laser-cut"][0]) is passes


def row_of(length, width, pitch):
    places = [Placed(rectangle(length, width), (k // 3 - 0.5) * 0.9, (k % 3 - 1) * pitch, 0.0) for k in range(6)]
    lands = tuple(Land(str(k + 1), place, place, place) for k, place in enumerate(places))
    return LandPattern("typical", "published", "nominal", lands, (2.0, 1.5), pitch - width, 0.0)


def test_foil_rule_comes_out_of_the_demand():
    foils = (80.0, 100.0, 120.0)
    fine = line_demand(row_of(0.50, 0.15, 0.30), Stencils(Foil(100), "T4", foils, steps_allowed=False))
    assert (fine.kind, fine.foil_um) == ("thinner foil", 80.0)
    ordinary = line_demand(row_of(0.60, 0.17, 0.35), Stencils(Foil(100), "T4", foils, steps_allowed=False))
    assert ordinary.kind == "none"
    pulled = line_demand(row_of(0.60, 0.17, 0.35), Stencils(Foil(120), "T4", foils, steps_allowed=False))
    assert (pulled.kind, pulled.foil_um) == ("thinner foil", 100.0)
    assert line_demand(row_of(0.85, 0.20, 0.40), Stencils(Foil(120), "T4", foils, steps_allowed=False)).kind == "none"


def test_the_reason_is_too_little_not_too_much():
    # The trade says the thick foil deposits too much; the computation finds that less paste arrives through it.
    thin, thick = (print_part(row_of(0.50, 0.15, 0.30), Foil(um)).deposits[0] for um in (80, 120))
    assert thick.transfer.usual_high < 0.80 <= thin.transfer.usual_low
    assert thick.paste_mm3 < thin.paste_mm3


def test_the_small_five_terminal_body():
    outline = find("SON-5-0.8x0.8")
    assert outline.pitch_mm == pytest.approx(0.5, abs=0.05)
    pattern = land_pattern(outline)
    demand = line_demand(pattern, Stencils(Foil(100), "T4", (80.0, 100.0), steps_allowed=False), outline=outline)
    assert (demand.kind, demand.foil_um) == ("none", 100.0)
    # And by hand: corner lands 0.42 × 0.22, centre aperture 0.24 (TI DPW0005A, verified).
    assert release_verdict(transfer(area_ratio(rectangle(0.42, 0.22), 100))) == "holds"
    assert release_verdict(transfer(area_ratio(circle(0.24), 100))) == "marginal"
    assert 100 < thickest_for(circle(0.24), 0.585) < 105


# --- Published bounds of the transfer ----------------------------------------------------------------------------


def test_transfer_page_is_up_to_date():
    path = Path(__file__).parents[2] / "docs" / "make_transfer_page.py"
    spec = importlib.util.spec_from_file_location("make_transfer_page", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.main(["--check"]) == 0


# --- Window panes ------------------------------------------------------------------------------------------------


# --- Paste in hole -----------------------------------------------------------------------------------------------


def test_fillet_vector():
    # P2, computed with the same sheet's formula: hole 27, lead 18, ring 10 mil: r = 14.5, a = 13.5, 4,754 mil³ a side.
    assert fillet_volume(14.5 * MIL, 13.5 * MIL) / MIL**3 == pytest.approx(4_754, abs=0.5)
    sizes = (27 * MIL, 18 * MIL, 62 * MIL)
    bare = DrilledJoint(*sizes)
    filled = DrilledJoint(*sizes, ring_mm=10 * MIL, fillets=1)
    assert (filled.solder_mm3 - bare.solder_mm3) / MIL**3 == pytest.approx(4_754, abs=0.5)


# --- Paste -------------------------------------------------------------------------------------------------------


def test_metal_fraction_of_tin_lead():
    # Stencil sheet docstoc.com 8751401 (verified): 90 % by weight is 51.7 % by volume, paste 4.83 g/cm³.
    assert metal_fraction(0.90, 8.40) == pytest.approx(0.517, abs=0.0005)
    assert pytest.approx(4.83, abs=0.005) == 1 / (0.90 / 8.40 + 0.10 / 1.0)
    # The same sheet's "89.5 % is 48 %" is a slip: its own formula gives 50.4 % (computed).
    assert metal_fraction(0.895, 8.40) == pytest.approx(0.504, abs=0.0005)


def test_half_of_a_paste_is_metal():
    # Flux about half by volume: an Indium note and an Infineon package note (verified).
    for powder in ("T3", "T4", "T5", "T6", "T7"):
        assert paste_metal_fraction(powder) == pytest.approx(0.5, abs=0.05)


# The 100 µm pattern A-20 (from memory): met within 0.03 mm, because the spacing is made to rise with the width.
@pytest.mark.parametrize(("width", "cold", "hot"), [(0.33, 0.25, 0.30), (0.20, 0.175, 0.20)])
def test_slump_criterion_of_the_thin_pattern(width, cold, hot):
    assert slump_spacing(width, 100, hot=False) == pytest.approx(cold, abs=0.031)
    assert slump_spacing(width, 100) == pytest.approx(hot, abs=0.031)


# --- Steps -------------------------------------------------------------------------------------------------------
