"""What must hold of every outline: geometry, and relations that a standard's family fixes for all its members."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace

import pytest

from landwise.lands import land_pattern
from landwise.outlines import GRIDS, LEADED, LEADLESS, Range, catalogue, find, terminals
from landwise.outlines.checks import problems
from landwise.outlines.patterns import occupancy, side_pitch

ALL = list(catalogue().values())
ROWS = [outline for outline in ALL if outline.family not in GRIDS]

# Largest seated height of a family [mm]: what its name promises. Sources: MS-012 1.75 (C04-057), MS-013 2.65
# (751D-04), MO-150 2.00 (C04-072), MO-153 and MO-194 1.20 (PW0016A, DGV), MO-187 1.10 (DGS0010A), MO-137 1.75
# (DBQ0016A), MS-026 1.20 and 1.60 (C04-074, PN0080A), MO-178 1.45 (DBV0006A), MO-203 1.10 (DCK0006A), thin SOT-23
# 1.10 (C04-21344), MO-220 and MO-241 1.00 (dtsheet 1661569), MS-001 5.33 (646AA), 5.3 mm SOP 2.05 (965-01).
HEIGHTS = {
    r"SO-(8|14|16)": 1.75,
    r"SO-\d+W": 2.65,
    r"SO-\d+-5\.3": 2.05,
    r"SSOP-(14|16|20|24|28|30)": 2.00,
    r"TSSOP-\d+|TVSOP-\d+": 1.20,
    r"MSOP-\d+|VSSOP-20": 1.10,
    r"QSOP-\d+": 1.75,
    r"TQFP-\d+": 1.20,
    r"QFP-(32|44|48|64|80|100-14x14)": 1.60,
    r"SOT-23-[568]": 1.45,
    r"SOT-23-THIN-\d+|SC-70-\d": 1.10,
    r"QFN-(?!16-1\.8|8-|10-|12-).*": 1.00,
    r"DIP-(8|14|16|18|20|24)": 5.33,
}
# Length of a lead past the body, (span - body) / 2 [mm], basic or reference in the standard: L1 1.04 (C04-057,
# C04-065), 1.40 (MS-013: 10.30 and 7.50), 1.25 (C04-072), 1.00 (MO-153 and MS-026: "2.00 mm footprint"), 0.95 (MO-187),
# 0.60 (MO-178: 2.80 and 1.60), 0.425 (MO-203: 2.10 and 1.25), 1.25 (5.3 mm SOP: LE 1.10 to 1.50).
LEAD_LENGTHS = {
    r"SO-(8|14|16)": 1.04,
    r"SO-\d+W": 1.40,
    r"SO-\d+-5\.3|SSOP-(14|16|20|24|28|30)": 1.25,
    r"TSSOP-\d+|TVSOP-\d+|T?QFP-\d+.*": 1.00,
    r"MSOP-\d+|VSSOP-20": 0.95,
    r"SOT-23-(THIN-)?[568]": 0.60,
    r"SC-70-\d": 0.425,
    r"QSOP-\d+": 1.04,
}


def family_value(table, name):
    return next((value for pattern, value in table.items() if re.fullmatch(pattern, name)), None)


@pytest.mark.parametrize("outline", ROWS, ids=lambda outline: outline.name)
def test_rows_stand_symmetric_and_within_the_body(outline):
    placed = [terminal for terminal in terminals(outline) if terminal.side != "centre"]
    for side, places in occupancy(outline).items():
        row = [terminal for terminal in placed if terminal.side == side]
        along = [t.y_mm if side in ("left", "right") else t.x_mm for t in row]
        if places == places[::-1]:
            assert sum(along) == pytest.approx(0, abs=1e-9)
        steps = {round(abs(a - b), 9) for a, b in itertools.pairwise(along)}
        pitch = side_pitch(outline, side)
        assert all(step / pitch == pytest.approx(round(step / pitch)) for step in steps)
        body = outline.body_length_mm if side in ("left", "right") else outline.body_width_mm
        width = outline.terminal_width_mm
        assert max(along) - min(along) + width.nom <= body.max + width.tolerance / 2 + 1e-9
    xs = [t.x_mm for t in placed if t.side in ("left", "right")]
    assert max(xs) == pytest.approx(-min(xs))


@pytest.mark.parametrize("outline", ROWS, ids=lambda outline: outline.name)
def test_terminals_keep_apart_from_each_other_and_from_the_pad(outline):
    import shapely

    boxes = []
    for t in terminals(outline):
        along = t.side in ("left", "right")
        half_x, half_y = (t.length_mm / 2, t.width_mm / 2) if along else (t.width_mm / 2, t.length_mm / 2)
        if t.side == "centre" and outline.centre_terminal:
            continue  # turned between its neighbours
        boxes.append(shapely.box(t.x_mm - half_x, t.y_mm - half_y, t.x_mm + half_x, t.y_mm + half_y))
    tree = shapely.STRtree(boxes)
    first, second = tree.query(boxes, predicate="intersects")
    assert (first == second).all()


@pytest.mark.parametrize("outline", [o for o in ALL if o.drilled], ids=lambda o: o.name)
def test_drilled_rows_stand_on_the_inch_grid(outline):
    """Rows are basic at 0.300 or 0.600 in: MS-001 issue D, cases 626 and 709; the wide body takes the wide rows."""
    spacing = outline.row_spacing_mm
    assert spacing.min == spacing.max == spacing.nom
    assert spacing.nom == (15.24 if outline.body_width_mm.nom > 9 else 7.62)
    lands = land_pattern(outline).lands
    assert max(land.place.x_mm for land in lands) == pytest.approx(spacing.nom / 2)
    assert outline.body_width_mm.max < spacing.nom


@pytest.mark.parametrize("outline", ALL, ids=lambda outline: outline.name)
def test_heights_and_lead_lengths_follow_the_family(outline):
    height = family_value(HEIGHTS, outline.name)
    if height is not None:
        assert outline.height_mm.max == pytest.approx(height)
    length = family_value(LEAD_LENGTHS, outline.name)
    if length is not None and outline.family.startswith("gull-wing"):
        assert (outline.span_mm.nom - outline.body_width_mm.nom) / 2 == pytest.approx(length, abs=0.025)
        assert outline.foot_mm.max < length + 0.25  # the foot is a part of the lead


def test_bodies_of_one_family_differ_by_their_pitches():
    """What the body stands out past its row of leads is one size in a family of molds."""
    for names in (("SO-8", "SO-14", "SO-16"), ("SO-16W", "SO-20W", "SO-24W")):
        past = [o.body_length_mm.nom - (o.terminals / 2 - 1) * o.pitch_mm for o in map(find, names)]
        assert max(past) - min(past) < 0.10


@pytest.mark.parametrize("outline", [o for o in ALL if o.family in GRIDS], ids=lambda o: o.name)
def test_a_grids_land_lies_where_its_ball_is_cut(outline):
    """Land = 2·√(d·h − h²) of the ball's diameter d and the standoff h: geometry."""
    ball, high = outline.terminal_width_mm.nom, outline.standoff_mm.nom
    assert outline.package_land_mm.nom == pytest.approx(2 * math.sqrt(ball * high - high**2), abs=0.011)
    assert len(terminals(outline)) == outline.terminals == outline.rows * outline.columns - len(outline.absent)
    rows, columns = (outline.rows - 1) * outline.pitch_mm, (outline.columns - 1) * outline.pitch_mm
    if outline.family == "wafer-level" and outline.terminals < 30:
        # Checked on the drawings of 4, 5, 6 and 8 balls: the die stands out by one size, whatever its grid.
        past = {0.5: 0.388, 0.4: 0.37, 0.35: 0.30}[outline.pitch_mm]
        assert outline.body_length_mm.nom - rows == pytest.approx(past, abs=0.011)
        assert outline.body_width_mm.nom - columns == pytest.approx(past, abs=0.011)
    # What is left out is left out evenly about the middle, but for the five balls of the smallest dies.
    balls = terminals(outline)
    if outline.terminals != 5:
        assert sum(ball.x_mm for ball in balls) == pytest.approx(0, abs=1e-9)
    assert sum(ball.y_mm for ball in balls) == pytest.approx(0, abs=1e-9)


def test_end_terminals_of_the_wide_quads_stand_three_pitches_apart():
    """Drawings RGY and SOT815-1: 1.5 mm on the 3.5 mm wide bodies, one pitch on the 2.5 mm wide ones."""
    for outline in ALL:
        if not outline.name.startswith("QFN-") or outline.start != "top":
            continue
        top = [t.x_mm for t in terminals(outline) if t.side == "top"]
        assert max(top) - min(top) == pytest.approx(1.5 if "-3.5x" in outline.name else 0.5)


def test_wettable_variants_share_the_plan_of_their_body():
    for outline in ALL:
        if outline.name.endswith("-WF"):
            plain = find(outline.name.removesuffix("-WF"))
            assert outline.wettable_flank
            assert not plain.wettable_flank
            assert [(t.number, t.x_mm, t.y_mm) for t in terminals(outline)] == [
                (t.number, t.x_mm, t.y_mm) for t in terminals(plain)
            ]


def test_number_one_stands_where_the_family_has_it():
    first = {o.name: next(t for t in terminals(o) if t.number == "1") for o in ROWS}
    for outline in ROWS:
        terminal = first[outline.name]
        if outline.family == "J-lead quad":
            assert terminal.side == "top"
            assert terminal.x_mm == pytest.approx(0)
        elif outline.start == "top":
            assert terminal.side == "top"
            assert terminal.x_mm < 0
        else:
            assert terminal.side == "left"
            assert terminal.y_mm >= 0
        numbers = [t.number for t in terminals(outline) if t.number != "EP"]
        assert numbers == [str(k) for k in range(1, outline.terminals + 1)]


@pytest.mark.parametrize(
    "change",
    [
        {"row_spacing_mm": Range(7.62, 7.87, 8.25)},
        {"body_width_mm": Range(7.0, 7.7, 8.0)},
    ],
)
def test_a_shoulder_width_taken_for_the_row_spacing_is_noticed(change):
    with pytest.raises(AssertionError):
        test_drilled_rows_stand_on_the_inch_grid(replace(find("DIP-14"), **change))


def test_what_the_drawings_say_is_spanned():
    outline = find("SC-70-6")
    narrow = replace(outline, span_mm=Range(2.0, 2.1, 2.2))
    assert [str(p) for p in problems(outline)] == []
    assert "span_mm does not span its drawings" in str(problems(narrow)[0])


def test_every_family_is_represented():
    assert {o.family for o in ALL} >= LEADED | LEADLESS | GRIDS | {"dual in-line"}
