"""The review of a stencil against what makers and standards print: the same openings, drawn and reviewed.

Marks: verified (read in the source named), computed (our own arithmetic on marked inputs).
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from landwise.assembly.lines import preset
from landwise.review.building import openings
from landwise.review.lands import lands_of
from landwise.review.matching import match
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviews import Asked, review
from landwise.review.verdicts import slump_spacings
from landwise.review.zones import zoned


def box(x, y, length, width):
    return shapely.box(x - length / 2, y - width / 2, x + length / 2, y + width / 2)


# Openings over centre pads as makers' land-pattern pages print them (verified: Silicon Labs pages of C8051F321,
# C8051F970, C8051F902, Si53154, C8051F52x, Si53019, Si7015): pad side, openings a side, opening, their pitch.
# 67 % and 50 % are printed on the pages; the others are computed from the printed sizes.
PANES = [
    (3.30, 3, 0.90, 1.10, 0.669),
    (3.65, 3, 0.90, 1.15, 0.547),
    (3.40, 3, 1.00, 1.20, 0.779),
    (2.80, 2, 1.00, 1.30, 0.510),
    (2.70, 2, 1.10, 1.30, 0.664),
    (6.10, 3, 1.45, 2.00, 0.509),
    (2.75, 2, 0.95, 1.35, 0.477),
]


@pytest.mark.parametrize(("pad", "count", "opening", "pitch", "cover"), PANES)
def test_coverage_of_centre_pads_is_the_makers(pad, count, opening, pitch, cover):
    at = (np.arange(count) - (count - 1) / 2) * pitch
    panes = [box(x, y, opening, opening) for x in at for y in at]
    land = [box(0, 0, pad, pad)]
    lands = lands_of(openings(panes), openings(land), openings([land[0].buffer(0.05)]))
    assert match(openings(panes), lands).coverage[0] == pytest.approx(cover, abs=5e-4)


@pytest.mark.parametrize(("pad", "count", "opening", "pitch"), [row[:4] for row in PANES])
def test_no_maker_s_own_centre_pad_is_called_wrong(pad, count, opening, pitch):
    places = (np.arange(int(pad / 0.5)) - (int(pad / 0.5) - 1) / 2) * 0.5
    rows = [box(side * (pad / 2 + 0.75), at, 0.8, 0.28) for side in (-1, 1) for at in places]
    rows += [box(at, side * (pad / 2 + 0.75), 0.28, 0.8) for side in (-1, 1) for at in places]
    at = (np.arange(count) - (count - 1) / 2) * pitch
    panes = [box(x, y, opening, opening) for x in at for y in at]
    lands = [*rows, box(0, 0, pad, pad)]
    mask = [land.buffer(0.05, join_style="mitre") for land in lands]
    one = SideInput("top", openings([*rows, *panes]), openings(lands), openings(mask))
    found = review(BoardInput("a maker's pattern", (one,)), preset("ordinary"), Asked(foils_um=(120,)))
    assert [part.kind for part in found.sides[0].given.parts] == ["leadless quad"]
    assert [finding.key for finding in found.findings] == []
    # The designed print of a recognised package is asked about, of a sound one too: it calls nothing wrong.
    assert {proposal.rule for proposal in found.sides[0].proposals} <= {"designed"}


# Openings, foil and area ratio (verified: Lentz 2019; Texas Instruments OPA2347; computed from Silicon Labs sizes).
RATIOS = [
    (0.152, 0.152, 127, 0.30),
    (0.178, 0.178, 127, 0.35),
    (0.254, 0.254, 127, 0.50),
    (0.275, 0.275, 125, 0.55),
    (0.20, 0.85, 125, 0.648),
    (0.30, 0.95, 125, 0.912),
]


@pytest.mark.parametrize(("length", "width", "foil", "ratio"), RATIOS)
def test_area_ratios_are_those_printed(length, width, foil, ratio):
    one = SideInput("top", openings([box(10, 10, length, width)]))
    found = review(BoardInput("one opening", (one,)), preset("ordinary"), Asked(foils_um=(foil,)))
    assert found.sides[0].given.under.area_ratio[0] == pytest.approx(ratio, abs=0.0051 if ratio < 0.6 else 5e-4)


def test_slump_spacing_is_the_standard_s():
    # IPC-TM-650 2.4.35, pattern A-21, 0.33 mm pads under 200 µm, 150 °C (verified: SMT007, uberflip 270052 page 79).
    assert slump_spacings(np.array([0.33]), 200.0)[0] == pytest.approx(0.30)


@pytest.mark.parametrize(("step_um", "keep_out_mm"), [(50, 1.8), (80, 2.9)])
def test_zones_keep_the_printed_distance_from_their_step(step_um, keep_out_mm):
    # 0.9 mm per 25 µm; 50 µm asks 1.8 mm and 80 µm 2.9 mm (verified: ginzinger.com, citing IPC-7525B).
    from landwise.printing import step_keep_out

    paste = openings([box(0, 0, 1, 0.3), *(box(30 + 2 * k, 0, 1, 1) for k in range(9))])
    taken, zones = zoned(paste, np.arange(10), np.arange(10) == 0, step_keep_out(step_um))
    assert taken.tolist() == [True] + [False] * 9
    assert shapely.distance(paste.polygon[0], zones[0].exterior) == pytest.approx(keep_out_mm, abs=0.021)


def test_fine_chips_are_not_called_starved_where_a_maker_prints_them():
    # A maker recommends 0.275 mm square under 125 µm, area ratio 0.55 (verified: TI OPA2347 page 12): a risk only
    # of the foil choice. The band says so: marginal is the most lenient word it has for a polished foil.
    one = SideInput("top", openings([box(0.4 * k, 0, 0.275, 0.275) for k in range(4)]))
    fine = preset("fine")
    found = review(BoardInput("four balls", (one,)), fine, Asked(foils_um=(125,), powder="T4"))
    assert {int(code) for code in found.sides[0].given.under.release} <= {0, 1}
