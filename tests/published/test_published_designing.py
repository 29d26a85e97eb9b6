"""Designed prints against what makers and stencil shops print.

Source and mark stand beside each check; see evidence/sources/printing.toml. Where a design differs from the practice,
the difference is checked as it is, and docs/designed_print.md says why.
"""

from __future__ import annotations

from functools import cache

import pytest

from landwise.assembly.scatter import scatter
from landwise.designing import Designer, Line
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part

LINE = Line(scatter(0.03, 0.05))


@cache
def design(name, foil):
    part = find(name)
    return Designer(part, land_pattern(part), LINE).design(foil)


# Atmel AT88RF1354 and Silicon Labs' land-pattern pages (verified): centre pads 50 to 80 % open, in panes, 125 µm foil.
@pytest.mark.parametrize(
    "name", ["QFN-16-3x3", "QFN-20-4x4", "QFN-32-5x5", "QFN-48-7x7", "DFN-8-2x3", "QFN-24-4x4", "QFN-14-2.5x3"]
)
def test_centre_pads_are_printed_half_to_four_fifths_in_panes(name):
    found = design(name, 125)
    assert found.designed
    pad = found.openings[-1]
    assert pad.terminal == "EP"
    assert 0.50 <= pad.coverage <= 0.80
    land = land_pattern(find(name)).lands[-1].place.shape
    # Pads up to 1.2 mm wide are printed through one opening: the smallest pad that makers still divide is 1.4 mm.
    assert (len(pad.openings) >= 4) == (min(land.length_mm, land.width_mm) > 1.2)


# The same pages: foils of 125 µm leave a standoff near the wished 50 to 75 µm. (verified: qfn-standoff-target)
def test_the_coverage_is_the_one_that_gives_the_wished_standoff():
    deposits = {
        um: print_part(
            land_pattern(find("QFN-32-5x5")),
            Foil(um),
            outline=find("QFN-32-5x5"),
            openings=design("QFN-32-5x5", um).openings,
        ).deposits[-1]
        for um in (125, 150)
    }
    for deposit in deposits.values():
        assert 49 <= deposit.solder_height_um / (1 - LINE.scatter["void_share"]) <= 75
    assert design("QFN-32-5x5", 150).openings[-1].coverage < design("QFN-32-5x5", 125).openings[-1].coverage


# Three shops' stencil rules (verified: toe-out-practice): 0.24 at 0.5 mm pitch, 0.19 at 0.4 mm, longer outward. The
# designs go further at 0.5 mm: nothing in the model asks for the paste that is left away. See the page.
@pytest.mark.parametrize(("name", "foil", "practice_mm"), [("QFP-48", 100, 0.24), ("TVSOP-14", 100, 0.19)])
def test_fine_gull_wing_rows_are_printed_narrower_than_their_lands(name, foil, practice_mm):
    found, part = design(name, foil), find(name)
    land = land_pattern(part).lands[0].place.shape.width_mm
    width = found.openings[0].openings[0].shape.width_mm
    assert width <= 0.96 * land
    assert 0.80 * practice_mm <= width <= 1.1 * practice_mm


# Common practice, no source: the diagonal five-terminal 0.8 mm body prints on foils of 100 to 120 µm.
def test_the_diagonal_body_gains_most_where_it_is_printed_on_the_usual_foil():
    diagonal, row = design("SON-5-0.8x0.8", 100), design("SON-6-1.0x1.0", 120)
    assert diagonal.designed
    assert diagonal.defects < 1e-3 < diagonal.defects_before
    # Rows of 0.35 mm on 120 µm stay above what a line holds opens to, designed or not.
    assert row.defects / 6 > 100e-6


# ST, two data sheets of tiny leadless parts (verified: tiny-leadless-coverage): 60 to 65 % of the footprint or more.
@pytest.mark.parametrize(("name", "foil"), [("SON-5-0.8x0.8", 100), ("SON-6-1.0x1.0", 80), ("SON-8-1.2x1.0", 100)])
def test_tiny_leadless_parts_keep_the_paste_that_makers_print(name, foil):
    for aperture in design(name, foil).openings:
        assert aperture.coverage >= 0.60
