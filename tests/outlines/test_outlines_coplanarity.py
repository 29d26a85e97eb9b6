"""Coplanarity limits: what drawings that can be read allow, and that every stage asks in one place."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.joints.mounted import mounted
from landwise.lands import land_pattern
from landwise.outlines import LEADED, LEADLESS, find
from landwise.outlines.catalogue import catalogue
from landwise.outlines.coplanarity import coplanarity_limit_mm, usual_coplanarity_mm
from landwise.printing import Foil, foil_window, print_part

# Read in makers' drawings, November 2026: family, pitch, longest side of the body, limit. [mm]
DRAWN = [
    ("gull-wing dual", 0.65, 3.0, 0.10),  # package drawing SOT505-1, 18 February 2003: y
    ("gull-wing dual", 0.65, 3.0, 0.10),  # STMicroelectronics DocID6512 rev 12, table 23, TSSOP8: CP
    ("gull-wing quad", 0.65, 28.0, 0.10),  # SMSC FDC37C932, figure 42, 160-terminal QFP: note 1
    ("gull-wing dual", 0.50, 12.8, 0.08),  # Linear Technology 05-08-1887 rev A, 48-lead SSOP: note 5
    ("leadless quad", 0.65, 5.0, 0.08),  # Intersil L20.5x5C rev 0: profile of the seating plane
    ("leadless quad", 0.50, 7.0, 0.08),  # Intersil L44.7x7A rev 1: profile of the seating plane
    ("leadless quad", 0.50, 3.0, 0.08),  # Vishay 5898, QFN-12 3 x 3: profile of the seating plane
]


@pytest.mark.parametrize(("family", "pitch", "longest", "limit"), DRAWN)
def test_usual_limits_are_those_of_drawings_read(family, pitch, longest, limit):
    assert usual_coplanarity_mm(family, pitch, longest) == limit


def test_printing_joints_and_drawing_ask_one_limit_of_every_outline():
    pasted = [one for one in catalogue().values() if one.family in LEADED | LEADLESS]
    assert len(pasted) > 100
    for outline in pasted:
        window = foil_window(land_pattern(outline), (), outline=outline)
        assert window.thinnest_works_um == pytest.approx(750 * coplanarity_limit_mm(outline)), outline.name


def test_a_drawing_s_own_limit_reaches_the_foil_and_the_joint():
    outline = replace(find("TSSOP-48"), coplanarity_mm=0.06)
    pattern = land_pattern(outline)
    assert foil_window(pattern, (), outline=outline).thinnest_works_um == pytest.approx(45.0)
    assert mounted(outline, pattern, print_part(pattern, Foil(100), outline=outline)).rise_mm == 0.06
