"""Views and the land-pattern sheet: to scale, complete, nothing over anything, for every outline shipped."""

from __future__ import annotations

from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest

from landwise.errors import InputError, UnknownNameError
from landwise.lands.pattern import land_pattern
from landwise.outlines import FAMILIES, catalogue, find
from landwise.printing import print_part
from landwise.printing.model import Foil
from landwise.shapes import Placed, oblong, rounded
from landwise.sheets.clashes import lines_through_texts, texts_clash
from landwise.sheets.dimensions import Dimensioned
from landwise.sheets.drawings import SolderProfile, print_section, section_of, side_view, top_view
from landwise.sheets.landsheet import A4, land_drawing, land_picture
from landwise.sheets.landtable import land_rows, mask_text
from landwise.sheets.marks import mm_rule, mm_text
from landwise.sheets.plan import placed
from landwise.sheets.section import _mound, weakest
from landwise.sheets.svg import Area, Disc, Picture, rectangle
from whole import of_each_family

ONE_OF_EACH = {outline.family: name for name, outline in reversed(catalogue().items())}


@cache
def part(name, foil_um=100.0):
    outline = find(name)
    pattern = land_pattern(outline)
    return outline, pattern, print_part(pattern, Foil(foil_um), outline=outline)


def test_every_family_has_an_example():
    assert set(ONE_OF_EACH) == set(FAMILIES)


@pytest.mark.parametrize("name", [one.name for one in of_each_family(catalogue().values(), 3)])
def test_land_sheet_of_every_outline_is_clean(name):
    picture = land_picture(*part(name))
    assert texts_clash(picture) == []
    assert lines_through_texts(picture) == []
    x1, y1, x2, y2 = picture.box
    assert x1 >= 8
    assert y1 >= 8
    assert x2 <= A4[0] - 8
    assert y2 <= A4[1] - 8


@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_draws_with_and_without_a_print(family):
    outline, pattern, printed = part(ONE_OF_EACH[family])
    svg = land_drawing(outline, pattern, printed, prefix="x")
    assert svg == land_drawing(outline, pattern, printed, prefix="x")
    root = ElementTree.fromstring(svg)
    assert root.get("width") == "297mm"
    words = " ".join(root.itertext())
    assert outline.name in words
    assert "solder: schematic" in words
    picture = land_picture(outline, pattern)
    assert texts_clash(picture) == []
    assert "aperture" not in {text.text for text in picture.texts}


@pytest.mark.parametrize("family", FAMILIES)
def test_lands_are_drawn_where_and_as_large_as_they_are(family):
    outline, pattern, _ = part(ONE_OF_EACH[family])
    m = 7.0
    drawn = top_view(outline, pattern, magnification=m, layers=("land",)).marks
    assert len(drawn) == len(pattern.lands)
    for mark, land in zip(drawn, pattern.lands, strict=True):
        x1, y1, x2, y2 = (land.place if land.mask_defined else land.copper).box
        assert mark.box == pytest.approx((x1 * m, -y2 * m, x2 * m, -y1 * m), abs=1e-3 * m)


def test_body_and_courtyard_measure_right():
    outline, pattern, _ = part("SO-14")
    body = top_view(outline, pattern, magnification=4, layers=("body",)).box
    assert body[2] - body[0] == pytest.approx(4 * outline.body_width_mm.nom)
    assert body[3] - body[1] == pytest.approx(4 * outline.body_length_mm.nom)
    court = top_view(outline, pattern, magnification=4, layers=("courtyard",)).box
    assert court[2] - court[0] == pytest.approx(4 * pattern.courtyard_mm[0])


def test_first_terminal_is_marked_in_its_corner():
    # Numbers run counterclockwise from the top left (IEC 61188-7, orientation A; from memory).
    for name in ("SO-14", "SOT-23-5", "QFN-16-3x3", "QFP-32", "DIP-14", "BGA-64-0.5", "QFN-20-2.5x4.5"):
        outline, pattern, _ = part(name)
        box = top_view(outline, pattern, magnification=5, layers=("first",)).box
        assert box[0] == pytest.approx(-outline.body_width_mm.nom / 2 * 5)
        assert box[1] == pytest.approx(-outline.body_length_mm.nom / 2 * 5)


def test_lead_tips_reach_the_span():
    outline, pattern, _ = part("SO-14")
    box = top_view(outline, pattern, magnification=6, layers=("terminal",)).box
    assert box[2] - box[0] == pytest.approx(6 * outline.span_mm.nom)
    side = side_view(outline, pattern, magnification=6)
    leads = [m for m in side.picture.marks if isinstance(m, Area) and m.fill == "metal"]
    assert max(m.box[2] for m in leads) == pytest.approx(3 * outline.span_mm.nom, rel=1e-6)


@pytest.mark.parametrize("family", FAMILIES)
def test_side_view_heights_are_the_outlines(family):
    outline, pattern, printed = part(ONE_OF_EACH[family])
    for given in (None, printed):
        view = side_view(outline, pattern, given, magnification=9)
        assert view.seat - view.top == pytest.approx(9 * outline.height_mm.nom)
        assert view.seat - view.underside == pytest.approx(9 * outline.standoff_mm.nom)
        assert view.picture.box[1] == pytest.approx(view.top, abs=1e-6)
        assert view.schematic


def test_drilled_leads_end_where_the_outline_says():
    outline, pattern, _ = part("DIP-14")
    view = side_view(outline, pattern, magnification=5)
    assert view.bottom == pytest.approx(5 * outline.foot_mm.nom)


def test_computed_solder_replaces_the_schematic():
    outline, pattern, printed = part("WLP-4-0.5")
    contour = ((-0.35, 0.0), (-0.15, 0.0), (-0.15, 0.2), (-0.35, 0.2))
    view = side_view(outline, pattern, printed, magnification=10, solder=SolderProfile((contour,), 0.02))
    assert not view.schematic
    solder = [m for m in view.picture.marks if isinstance(m, Area) and m.fill == "solder"]
    assert [m.box for m in solder] == [pytest.approx((-3.5, -2.0, -1.5, 0.0))]
    sheet = land_picture(outline, pattern, printed, solder=SolderProfile((contour,), 0.02))
    assert not any("schematic, not to scale" in text.text for text in sheet.texts)


@pytest.mark.parametrize("magnification", [0.5, 1, 2.5, 5, 10, 40])
def test_rule_measures_right(magnification):
    rule = mm_rule(10, magnification)
    base = rule.marks[0].box
    assert base[2] - base[0] == pytest.approx(10 * magnification)
    numbers = {text.text: text.x for text in rule.texts}
    assert numbers["0"] == 0
    assert all(x == pytest.approx(float(text) * magnification) for text, x in numbers.items())
    assert texts_clash(rule) == []


def test_section_shows_the_foil_and_the_volume():
    outline, pattern, printed = part("TSSOP-14", 120.0)
    terminal = weakest(printed)
    aperture = next(a for a in printed.apertures if a.terminal == terminal)
    deposit = next(d for d in printed.deposits if d.terminal == terminal)
    land = next(one for one in pattern.lands if one.terminal == terminal)
    picture = print_section(aperture, deposit, printed.foil, land, magnification=50)
    foil = [m for m in picture.marks if isinstance(m, Area) and m.fill == "hatch/ink"]
    assert {round(m.box[3] - m.box[1], 6) for m in foil} == {6.0}  # 120 µm at 50:1
    opening = aperture.openings[0].shape
    assert foil[1].box[0] - foil[0].box[2] == pytest.approx(50 * min(opening.length_mm, opening.width_mm))
    assert texts_clash(section_of(pattern, printed, magnification=50)) == []
    assert outline.name == pattern.outline


@pytest.mark.parametrize(("half", "height"), [(10.0, 4.0), (5.0, 0.4), (2.0, 6.0)])
def test_deposit_area_is_width_times_height(half, height):
    x, y = _mound(half, height).T
    # Shoelace formula; the arcs are chords of a sixteenth turn, so the last half per cent is theirs.
    area = abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    assert area == pytest.approx(2 * half * height, rel=5e-3)


def test_section_needs_a_printed_terminal():
    _, pattern, printed = part("SO-14")
    with pytest.raises(UnknownNameError, match="no such printed terminal"):
        section_of(pattern, printed, "99", magnification=20)
    _, drilled, unprinted = part("DIP-14")
    with pytest.raises(InputError, match="nothing is printed"):
        section_of(drilled, unprinted, magnification=20)


def test_table_lists_every_land_or_runs_that_hold_them_all():
    _, pattern, printed = part("SO-14")
    rows = land_rows(pattern, printed)
    assert [row.terminal for row in rows] == [land.terminal for land in pattern.lands]
    _, many, print_many = part("QFP-100")
    runs = [row.terminal for row in land_rows(many, print_many, explicit=False)]
    assert runs == ["1…25", "26…50", "51…75", "76…100"]
    _, grid, _ = part("BGA-96-0.8")
    assert [row.terminal for row in land_rows(grid, None, explicit=False)][:2] == ["A1…A6", "B1…B6"]
    _, drilled, _ = part("DIP-14")
    assert [row.terminal for row in land_rows(drilled, None, explicit=False)] == ["1", "2…7", "8…14"]
    assert "from the copper" in mask_text(pattern)


def test_dimension_figures_are_the_lengths_drawn():
    view = Dimensioned(Picture((rectangle((0, 0, 40, 20)),)))
    view.above.add(0, 40, 0, mm_text(4))
    view.above.add(10, 14, 0, mm_text(0.4))
    view.left.add(0, 20, 0, mm_text(2))
    view.right.add(8, 9, 40, mm_text(0.1))
    picture = view.picture()
    assert {text.text for text in picture.texts} == {"4.00", "0.40", "2.00", "0.10"}
    assert texts_clash(picture) == []
    assert lines_through_texts(picture) == []


def test_equal_dimensions_are_drawn_once():
    view = Dimensioned(Picture((rectangle((0, 0, 40, 20)),)))
    view.above.add(0, 40, 0, "4.00")
    view.above.add(40, 0, 0, "4.00")
    assert len(view.above.wanted) == 1


def test_round_lands_stay_round():
    outline, pattern, _ = part("WLP-4-0.5")
    drawn = top_view(outline, pattern, magnification=20, layers=("land",)).marks
    assert all(isinstance(mark, Disc) for mark in drawn)


def _flat(area):
    """Corners of a run with its quarter arcs as chords, by the SVG rule for the smaller arc."""
    found = []
    for x, y, radius in area.runs[0]:
        if radius and found:
            (x0, y0), r = found[-1], abs(radius)
            middle, half = np.array([(x0 + x) / 2, (y0 + y) / 2]), np.hypot(x - x0, y - y0) / 2
            across = np.array([-(y - y0), x - x0]) / (2 * half)
            # On paper (y down) a clockwise arc has its centre to the right of the way, seen along it.
            centre = middle + np.sign(radius) * across * np.sqrt(max(r**2 - half**2, 0))
            start, end = (np.arctan2(*(np.array(p) - centre)[::-1]) for p in ((x0, y0), (x, y)))
            turn = (end - start + np.pi) % (2 * np.pi) - np.pi
            found += [
                tuple(centre + r * np.array([np.cos(a), np.sin(a)])) for a in start + turn * np.linspace(0, 1, 33)
            ]
        found.append((x, y))
    return np.array(found)


@pytest.mark.parametrize("shape", [rounded(1.5, 0.6, 0.1), rounded(0.6, 1.5, 0.3), oblong(1.2, 0.4), oblong(0.4, 1.2)])
@pytest.mark.parametrize("angle", [0.0, 90.0, 180.0, 30.0])
def test_round_corners_turn_outward_and_keep_the_area(shape, angle):
    drawn = placed(Placed(shape, 2.0, 1.0, angle), 10)
    x, y = _flat(drawn).T
    area = abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    assert area == pytest.approx(100 * shape.area_mm2, rel=2e-3)
    assert (x.mean(), y.mean()) == pytest.approx((20, -10), abs=0.5)
