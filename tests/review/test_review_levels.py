"""Levels of a review are a study's: packages that a file names by their outline, others by the land formula.

The outside is the house's catalogue (dimensions from makers' drawings) and a study of the same lands and openings.
Both are estimated by drawing, with random numbers seeded by the part's content to the last digit; two estimates of the
same part differ by up to a fifth, so equality is held on the outline and the lands, the level within that noise.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from shapely.affinity import translate

from landwise.assembly.lines import preset
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import part_rates
from landwise.fabdata.packageoutlines import of_other_length
from landwise.fabdata.packages import read_package
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.review.catalogued import read_named
from landwise.review.families import Spot
from landwise.review.levels import spots_of
from landwise.review.reviews import Asked, review
from landwise.shapes import rectangle

from .boards import board, side

LINE = preset("ordinary")
# Gull wings of 1.27, 0.65, 0.5 and 0.4 mm pitch, flat leadless quads, small-outline leadless.
PACKAGES = ("SO-14", "TSSOP-14", "TSSOP-48", "TVSOP-14", "QFN-16-2.5x3.5", "QFN-16-3x3", "DFN-8-2x2")
BRIDGING = ("TSSOP-14", "TSSOP-48", "TVSOP-14", "QFN-16-2.5x3.5", "DFN-8-2x2")
FOIL_UM = 150.0
NOISE = 0.25  # twice the usual distance of two estimates of one part
FACTOR = 3.0


@cache
def printed_on(name):
    part = find(name)
    pattern = land_pattern(part)
    return part, pattern, print_part(pattern, Foil(FOIL_UM, LINE.technology), outline=part)


@cache
def studied(name):
    """What a study says: bridges, and with opens and skews all defects that a film can change."""
    part, pattern, printed = printed_on(name)
    draws = part_rates(part_model(part, pattern, printed, LINE.scatter)).draws()
    return float(draws["bridges"].mean()), float(sum(draws[key] for key in ("bridges", "opens", "moved")).mean())


def reviewed(name, package):
    """Expected defects of one of four alike parts, drawn with the house's lands and print."""
    _, pattern, printed = printed_on(name)
    lands = [land.place.geometry() for land in pattern.lands]
    paste = [one.geometry() for aperture in printed.apertures for one in aperture.openings]
    lands, paste = ([translate(one, 30.0 * k) for k in range(4) for one in its] for its in (lands, paste))
    placed = tuple((f"U{k + 1}", 30.0 * k, 0.0, 0.0, package) for k in range(4)) if package else ()
    found = review(board(replace(side(lands, paste), placements=placed)), LINE, Asked(foils_um=(FOIL_UM,))).sides[0]
    assert {part.package for part in found.given.parts} == {package}
    return found.choice.best.defects / 4


def lands_of(pattern):
    """The lands as a review of a film with this pattern has them: kind, spots, those in the middle, pitch."""
    found = review(board(side([land.place.geometry() for land in pattern.lands])), LINE, Asked(foils_um=(100.0,)))
    given = found.sides[0].given
    [whole] = given.parts
    spots = spots_of(whole, given.lands, given.frames)
    return whole.kind, spots, [whole.lands.index(k) for k in whole.centre], whole.pitch_mm


@cache
def drawn(name):
    return lands_of(land_pattern(find(name)))


def read(name, package):
    return read_named(*drawn(name), package)


def places(pattern):
    return np.array(sorted((round(one.place.x_mm, 5) + 0.0, round(one.place.y_mm, 5) + 0.0) for one in pattern.lands))


@pytest.mark.parametrize("name", PACKAGES)
def test_a_named_package_has_its_outline_and_the_level_of_its_study(name):
    found = reviewed(name, name)
    part, pattern, _ = printed_on(name)
    its = read(name, name)
    assert its.outline == part
    np.testing.assert_allclose(places(its.pattern), places(pattern), atol=1e-5)
    assert found == pytest.approx(studied(name)[1], rel=NOISE, abs=1e-7)


@pytest.mark.parametrize("name", PACKAGES)
def test_without_a_name_the_land_formula_gives_the_terminal_width_within_15_per_cent(name):
    outline = read(name, "").outline
    assert outline.name != name
    assert outline.terminal_width_mm.nom == pytest.approx(find(name).terminal_width_mm.nom, rel=0.15)


@pytest.mark.parametrize("name", BRIDGING)
def test_without_a_name_bridges_are_a_study_s_within_a_factor_of_three(name):
    bridges, _ = studied(name)
    found = reviewed(name, "")
    assert bridges / FACTOR < found < FACTOR * bridges


@pytest.mark.parametrize(
    ("lands", "package"),
    [
        ("TSSOP-14", "SOIC-14"),  # another pitch
        ("TSSOP-14", "TSSOP-16"),  # another count
        ("SO-8", "TSSOP-8"),
        ("TSSOP-14", "SSOP-14"),  # tips off their lands
        ("TSSOP-14", "QFN-14"),
        ("TSSOP-14", "part of ours"),
    ],
)
def test_a_name_whose_terminals_do_not_lie_on_the_lands_lends_nothing(lands, package):
    named, plain = read(lands, package), read(lands, "")
    assert named.outline == plain.outline
    assert named.outline.mark == "assumption"


def test_an_exposed_pad_of_another_size_is_taken_from_its_land():
    pattern = land_pattern(find("QFN-16-3x3"))
    lands = tuple(
        replace(land, place=land.place.with_shape(rectangle(1.1, 1.1))) if land.terminal == "EP" else land
        for land in pattern.lands
    )
    outline = read_named(*lands_of(replace(pattern, lands=lands)), "QFN-16-3x3").outline
    assert outline.name == "QFN-16-3x3"
    assert outline.exposed_length_mm.nom == pytest.approx(1.1)
    assert outline.terminal_width_mm == find("QFN-16-3x3").terminal_width_mm


def test_a_name_tells_leads_from_flush_terminals_where_short_lands_do_not():
    assert read("SC-70-6", "").outline.family == "leadless dual"
    assert read("SC-70-6", "SC70-6").outline == find("SC-70-6")


def test_leads_of_a_body_with_a_pad_below_are_known_where_the_catalogue_has_only_plain_ones():
    """Twenty-eight leads and a pad: neither is in the catalogue; the leads are those of its other thin bodies."""
    plain = of_other_length(read_package("TSSOP-28_4.4x9.7mm_P0.65mm"), 28)
    assert plain is not None
    kind, spots, _, pitch = lands_of(land_pattern(plain))
    along_x = abs(spots[0].x_mm - spots[1].x_mm) > abs(spots[0].y_mm - spots[1].y_mm)
    pad = Spot(0.0, 0.0, 5.2, 2.6, 0.0 if along_x else 90.0, 5.2 * 2.6)  # longer along the rows
    named = read_named(kind, [*spots, pad], (len(spots),), pitch, "HTSSOP-28-1EP_4.4x9.7mm_P0.65mm")
    assert named is not None
    assert named.outline.terminal_width_mm == find("TSSOP-24").terminal_width_mm
    assert named.outline.foot_mm == find("TSSOP-24").foot_mm
    assert (named.outline.exposed_length_mm.nom, named.outline.exposed_width_mm.nom) == (5.2, 2.6)
    assert named.terminal_of[-1] == "EP"


@pytest.mark.parametrize(("name", "fits"), [("SSOP-20", True), ("TSSOP-20", False)])
def test_lands_that_reach_far_beyond_a_terminal_are_held_against_its_name(name, fits):
    """The thin body's terminals lie on the lands of the wide one, which end a millimetre further out."""
    kind, spots, centre, pitch = lands_of(land_pattern(find("SSOP-20")))
    named = read_named(kind, spots, centre, pitch, name)
    assert named is not None
    assert (named.outline.name == name) is fits
