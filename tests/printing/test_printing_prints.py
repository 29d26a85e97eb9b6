"""Deposits, foil windows and what a part asks of the line, on hand-made lands."""

from __future__ import annotations

import pytest

from landwise.errors import InputError
from landwise.lands.model import Land, LandPattern
from landwise.outlines import find
from landwise.printing import (
    ApertureRules,
    Foil,
    Stencils,
    area_ratio,
    failing_area_ratio,
    foil_window,
    holding_area_ratio,
    line_demand,
    paste_metal_fraction,
    print_part,
    step_keep_out,
    transfer,
)
from landwise.printing.deposits import fill_verdict
from landwise.shapes import Placed, circle, rectangle

FOILS = (60.0, 80.0, 100.0, 120.0, 150.0)


def test_volumes_by_hand(two_rows):
    printed = print_part(two_rows(0.6, 0.17, 0.35), Foil(100), "T4")
    deposit = printed.deposits[0]
    full = 0.6 * 0.17 * 0.1
    band = transfer(area_ratio(rectangle(0.6, 0.17), 100))
    assert deposit.transfer == band
    assert deposit.paste_mm3 == pytest.approx(full * band.mean)
    assert (deposit.paste_low_mm3, deposit.paste_high_mm3) == pytest.approx((full * band.low, full * band.high))
    assert deposit.paste_sd_mm3 == pytest.approx(full * band.sd)
    assert deposit.solder_mm3 == pytest.approx(deposit.paste_mm3 * paste_metal_fraction("T4"))
    assert deposit.wet_height_um == pytest.approx(100 * band.mean)
    # 1:1: the solder's thickness is the wet height's metal share.
    assert deposit.solder_height_um == pytest.approx(deposit.wet_height_um * paste_metal_fraction("T4"))
    assert deposit.aspect_ratio == pytest.approx(1.7)
    assert printed.least_aperture_gap_mm == pytest.approx(0.18)


def test_alloy_and_powder_change_the_solder(two_rows):
    pattern = two_rows(0.6, 0.25, 0.5)
    volumes = {
        (powder, alloy): print_part(pattern, Foil(100), powder, alloy=alloy).deposits[0].solder_mm3
        for powder in ("T3", "T4")
        for alloy in ("sac305", "sn63pb37")
    }
    assert volumes["T4", "sn63pb37"] < volumes["T4", "sac305"]
    assert len(set(volumes.values())) == 4


def test_the_weakest_land_speaks(two_rows):
    printed = print_part(two_rows(0.5, 0.15, 0.3, pad=rectangle(2.0, 2.0)), Foil(100))
    assert printed.verdict == "fails"
    assert printed.least_area_ratio == pytest.approx(area_ratio(rectangle(0.5, 0.15), 100))
    assert "terminal 1 has the least area ratio, 0.58 on 100 µm" in printed.why
    assert printed.deposits[-1].verdict == "holds"


def test_powder_alone_can_fail_a_print(two_rows):
    # 0.15 mm is less than four of type 4's largest particles: release holds on 60 µm, the powder does not pass.
    printed = print_part(two_rows(0.5, 0.15, 0.3), Foil(60))
    assert printed.deposits[0].verdict == "holds"
    assert printed.deposits[0].powder_verdict == "fails"
    assert printed.verdict == "fails"
    assert print_part(two_rows(0.5, 0.15, 0.3), Foil(60), "T5").verdict == "holds"


def test_hopeless_openings_are_reported_not_refused(two_rows):
    printed = print_part(two_rows(0.3, 0.08, 0.3), Foil(200))
    deposit = printed.deposits[0]
    assert deposit.area_ratio < 0.30
    assert deposit.verdict == "fails"
    assert (deposit.paste_low_mm3, deposit.transfer.usual_low) == (0.0, 0.0)
    assert "may keep all its paste" in printed.why


def test_window_edges_are_where_the_verdict_changes(two_rows):
    pattern = two_rows(0.55, 0.19, 0.4)
    window = foil_window(pattern, FOILS)
    slender = area_ratio(rectangle(0.55, 0.19), 1.0)
    assert window.thickest_works_um == pytest.approx(slender / failing_area_ratio())
    assert window.thickest_holds_um == pytest.approx(slender / holding_area_ratio())
    for um, word in window.verdicts:
        assert word == (
            "holds" if um <= window.thickest_holds_um else "marginal" if um <= window.thickest_works_um else "fails"
        )
    assert {word for _, word in window.verdicts} == {"holds", "marginal", "fails"}
    assert window.thinnest_works_um is None


def test_window_agrees_with_the_print(two_rows):
    pattern = two_rows(0.55, 0.19, 0.4, pad=rectangle(2.0, 2.0))
    for um, word in foil_window(pattern, FOILS, "nano-coated", "T5").verdicts:
        deposits = print_part(pattern, Foil(um, "nano-coated"), "T5").deposits
        assert word == min(deposits, key=lambda d: d.area_ratio).verdict


def test_better_technology_and_finer_powder_open_the_window(two_rows):
    pattern = two_rows(0.5, 0.15, 0.3)
    works = [
        foil_window(pattern, (), technology, powder).thickest_works_um
        for technology, powder in (("etched", "T4"), ("laser-cut", "T4"), ("laser-cut", "T5"), ("electroformed", "T5"))
    ]
    assert works == sorted(works)
    assert len(set(works)) == 4


def test_thin_end_comes_from_the_family(two_rows):
    """Three quarters of the coplanarity limit (100 µm of bent leads, 50 µm of small leadless bodies, recalled)."""
    pattern = two_rows(0.6, 0.2, 0.5)
    assert foil_window(pattern, FOILS, outline=find("SO-14")).thinnest_works_um == pytest.approx(75.0)
    assert foil_window(pattern, FOILS, outline=find("SON-6-1.0x1.0")).thinnest_works_um == pytest.approx(37.5)
    assert foil_window(pattern, FOILS, outline=find("WLP-5-0.5")).thinnest_works_um is None


@pytest.mark.parametrize(
    ("lands", "options", "kind", "foil"),
    [
        ((0.6, 0.17, 0.35), {"steps_allowed": False}, "none", 100.0),
        ((0.5, 0.15, 0.30), {"steps_allowed": False}, "thinner foil", 80.0),
        ((0.5, 0.15, 0.30), {"steps_allowed": True}, "step-down zone", 80.0),
        ((0.5, 0.15, 0.30), {"steps_allowed": True, "foils": (100.0, 120.0)}, "better foil technology", 100.0),
        (
            (0.5, 0.15, 0.30),
            {"steps_allowed": True, "foils": (100.0, 120.0), "technologies": ()},
            "not printable",
            None,
        ),
        ((0.4, 0.10, 0.25), {"steps_allowed": False, "foils": (80.0, 100.0)}, "better foil technology", 80.0),
        ((0.2, 0.06, 0.20), {"steps_allowed": True, "foils": (80.0, 100.0)}, "not printable", None),
    ],
)
def test_demands(two_rows, lands, options, kind, foil):
    options = dict(options)
    foils = options.pop("foils", FOILS)
    demand = line_demand(two_rows(*lands), Stencils(Foil(100), "T4", foils, **options))
    assert (demand.kind, demand.foil_um) == (kind, foil)
    if kind == "step-down zone":
        assert demand.keep_out_mm == pytest.approx(0.72)
        assert demand.keep_out_thick_mm == 0.65
        assert "0.72 mm clear" in demand.says
    else:
        assert demand.keep_out_mm == demand.keep_out_thick_mm == 0.0


def test_deep_steps_and_coarse_powder_are_said(two_rows):
    deep = line_demand(two_rows(0.5, 0.13, 0.30), Stencils(Foil(150), "T4", (80.0, 150.0), steps_allowed=True))
    assert deep.kind == "step-down zone"
    assert "deeper than the 50 µm" in deep.says
    assert deep.powder_needed == "T5"
    assert "T4 powder does not pass its 130 µm opening, T5 does" in deep.says
    fine = line_demand(two_rows(0.6, 0.25, 0.5), Stencils(Foil(100), "T4", FOILS, steps_allowed=True))
    assert fine.powder_needed is None


def test_keep_out_needs_a_step():
    with pytest.raises(InputError, match="positive depth"):
        step_keep_out(0.0)


def drilled():
    lands = []
    for k in range(4):
        at = Placed(circle(1.4), (1 if k > 1 else -1) * 15.0, (k % 2 - 0.5) * 10.0, 0.0)
        lands.append(Land(str(k + 1), at, at, at, hole_mm=0.8))
    return LandPattern("by hand", "goals", "nominal", tuple(lands), (10, 10), 1.0, 0.1)


def test_drilled_parts_print_nothing_unless_asked():
    printed = print_part(drilled(), Foil(100))
    assert (printed.apertures, printed.deposits, printed.verdict) == ((), (), "holds")
    assert foil_window(drilled(), FOILS).verdicts[0] == (60.0, "holds")
    assert line_demand(drilled(), Stencils(Foil(100), "T4", FOILS, steps_allowed=False)).kind == "none"


def test_paste_in_hole_is_judged_by_its_fill():
    rules, outline = ApertureRules(drilled="paste-in-hole"), find("DIP-8")
    roomy = print_part(drilled(), Foil(150), rules=rules, outline=outline)
    assert roomy.deposits[0].fill is not None
    # The overprint is drawn for a full transfer, of which an ordinary line prints 95 % at least.
    assert roomy.deposits[0].fill == pytest.approx(0.95)
    assert roomy.deposits[0].verdict == "marginal"
    assert "95% of the paste its hole needs" in roomy.why
    words = dict(foil_window(drilled(), FOILS, rules=rules, outline=outline).verdicts)
    assert words[150.0] == "marginal"


@pytest.mark.parametrize(("fill", "word"), [(1.0, "holds"), (0.999, "marginal"), (0.75, "marginal"), (0.749, "fails")])
def test_fill(fill, word):
    assert fill_verdict(fill) == word


@pytest.mark.parametrize("wrong", [10, 500, float("nan")])
def test_no_such_foil(wrong):
    with pytest.raises(InputError, match="no such foil"):
        Foil(wrong)


def test_no_such_technology():
    with pytest.raises(InputError, match="unknown foil technology"):
        Foil(100, "cast")
